package main

import (
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bridlewatch/collector"
	"bridlewatch/collector/opcua"
	"bridlewatch/compare/quantity"
	"bridlewatch/config"
)

// loadOPCUA loads a configuration and finds one of its OPC UA sources.
func loadOPCUA(file, name string) (*config.Config, *config.Source, error) {
	cfg, err := config.Load(config.LoadOptions{File: file})
	if err != nil {
		return nil, nil, err
	}
	for i := range cfg.Sources {
		if src := &cfg.Sources[i]; src.Protocol == config.OPCUA && (name == "" || src.Name == name) {
			return cfg, src, nil
		}
	}
	return nil, nil, withCode(exitUsage, fmt.Errorf("no opc ua source %q in %s", name, file))
}

func newBrowse() *cobra.Command {
	var file, output string
	var depth, limit int
	c := &cobra.Command{
		Use:   "browse SOURCE [NODE]",
		Short: "List the nodes of an OPC UA server as a configuration writes them",
		Args:  cobra.RangeArgs(1, 2),
		RunE: func(c *cobra.Command, args []string) error {
			cfg, src, err := loadOPCUA(file, args[0])
			if err != nil {
				return err
			}
			security, err := securityOf(src, cfg.Store.Dir)
			if err != nil {
				return err
			}
			node := ""
			if len(args) == 2 {
				node = args[1]
			}
			entries, cut, err := opcua.Browse(c.Context(), opcuaOptions(src, security), node, depth, limit)
			if err != nil {
				return withCode(exitUnreachable, err)
			}
			if output == "json" {
				return json.NewEncoder(c.OutOrStdout()).Encode(entries)
			}
			if cut {
				fmt.Fprintf(c.ErrOrStderr(), "cut after %d nodes; raise --limit or begin at a node\n", limit)
			}
			return printEntries(c.OutOrStdout(), entries)
		},
	}
	c.Flags().StringVar(&file, "config", "bridlewatch.yaml", "configuration file")
	c.Flags().IntVar(&depth, "depth", 3, "levels below the node")
	c.Flags().IntVar(&limit, "limit", 500, "nodes listed at most")
	outputFlag(c.Flags(), &output, "text or json")
	return c
}

func printEntries(w io.Writer, entries []opcua.Entry) error {
	for _, e := range entries {
		value := ""
		if e.Variable {
			value = fmt.Sprintf("  = %v (%s, %v)", e.Value.Value, e.Type, e.Value.Quality)
			if e.Value.Quality == quantity.Bad {
				value = "  " + e.Value.Detail
			}
		}
		if _, err := fmt.Fprintf(w, "%s%s  %s%s\n", strings.Repeat("  ", e.Depth), e.Name, e.Node, value); err != nil {
			return err
		}
	}
	return nil
}

func newTrust() *cobra.Command {
	c := &cobra.Command{
		Use:   "trust",
		Short: "Approve, withdraw and list certificates of OPC UA servers",
		Long: `A server whose certificate nobody has approved is not talked to. Compare the
thumbprint with the one the server's own engineering tool shows before you
approve it.`,
	}
	var file, source string
	c.PersistentFlags().StringVar(&file, "config", "bridlewatch.yaml", "configuration file")
	c.PersistentFlags().StringVar(&source, "source", "", "opc ua source; empty: the first")
	folder := func() (opcua.TrustFolder, error) {
		cfg, src, err := loadOPCUA(file, source)
		if err != nil {
			return opcua.TrustFolder{}, err
		}
		return trustFolder(src, cfg.Store.Dir), nil
	}
	list := &cobra.Command{Use: "list", Short: "List certificates with their end of validity", Args: cobra.NoArgs, RunE: func(c *cobra.Command, _ []string) error {
		f, err := folder()
		if err != nil {
			return err
		}
		all, err := f.List()
		if err != nil {
			return err
		}
		for _, cert := range all {
			printCertificate(c.OutOrStdout(), cert)
		}
		return nil
	}}
	c.AddCommand(list,
		moveCertificate("approve THUMBPRINT", "Trust a certificate", folder, opcua.TrustFolder.Approve),
		moveCertificate("withdraw THUMBPRINT", "Trust a certificate no more", folder, opcua.TrustFolder.Withdraw))
	return c
}

func moveCertificate(use, short string, folder func() (opcua.TrustFolder, error), move func(opcua.TrustFolder, string) (opcua.Certificate, error)) *cobra.Command {
	return &cobra.Command{Use: use, Short: short, Args: cobra.ExactArgs(1), RunE: func(c *cobra.Command, args []string) error {
		f, err := folder()
		if err != nil {
			return err
		}
		cert, err := move(f, args[0])
		if err != nil {
			return err
		}
		printCertificate(c.OutOrStdout(), cert)
		return nil
	}}
}

func printCertificate(w io.Writer, c opcua.Certificate) {
	state := "rejected"
	if c.Trusted {
		state = "trusted "
	}
	what := []string{c.Subject, c.URI, collector.Expiry(c.NotAfter, time.Now())}
	if c.Problem != "" {
		what = []string{"cannot be read: " + c.Problem}
	}
	what = slices.DeleteFunc(what, func(s string) bool { return s == "" })
	fmt.Fprintf(w, "%s  %s  %s\n", state, c.Thumbprint, strings.Join(what, ", "))
	fmt.Fprintf(w, "          SHA-1 %s\n", c.SHA1)
}
