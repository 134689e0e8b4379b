package main

import (
	"encoding/json"
	"fmt"
	"net/http"

	"github.com/spf13/cobra"

	"bridlewatch/dashboards/api"
	"bridlewatch/dashboards/grafana"
)

func newGrafana() *cobra.Command {
	var o grafana.Options
	c := &cobra.Command{
		Use:   "grafana DIRECTORY",
		Short: "Write Grafana dashboards for the central store, with their provisioning files",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			files, err := grafana.Write(args[0], o)
			if err != nil {
				return err
			}
			for _, f := range files {
				fmt.Fprintln(c.OutOrStdout(), f)
			}
			return nil
		},
	}
	c.Flags().StringVar(&o.ExternalURL, "external-url", "", "address of the pages, for links back")
	c.Flags().StringVar(&o.TimeZone, "time-zone", "", "zone of the dashboards, as Europe/Lisbon; empty: that of the browser")
	return c
}

func newOpenAPI() *cobra.Command {
	return &cobra.Command{
		Use:   "openapi",
		Short: "Print the OpenAPI document of the programming interface",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			document := api.Routes(http.NewServeMux(), api.Options{Version: programVersion()})
			enc := json.NewEncoder(c.OutOrStdout())
			enc.SetIndent("", "  ")
			return enc.Encode(document)
		},
	}
}
