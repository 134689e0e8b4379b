package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"bridlewatch/collector/modbus"
	"bridlewatch/collector/poll"
)

func newProbe() *cobra.Command {
	var p modbus.Probe
	var table, framing, output string
	c := &cobra.Command{
		Use:   "probe HOST:PORT|DEVICE",
		Short: "Look carefully at a Modbus endpoint nobody has described",
		Long: `probe finds out which framing answers, which units are there and in which word
order their numbers make sense, and shows the decodings side by side. It only
reads, one request at a time with a pause in between, and stops at a limit.

A line in service belongs to its master: probe a shared serial line only with
the consent of whoever operates it.`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			p.Address, p.Table = args[0], modbus.Table(table)
			if framing != "" {
				p.Framings = []modbus.Framing{modbus.Framing(framing)}
			}
			found, err := p.Run(c.Context(), poll.System{})
			if errors.Is(err, modbus.ErrNothingFound) {
				return withCode(exitUnreachable, fmt.Errorf("%s: %w", p.Address, err))
			}
			if err != nil {
				return err
			}
			if output == "json" {
				return json.NewEncoder(c.OutOrStdout()).Encode(found)
			}
			_, err = found.WriteTo(c.OutOrStdout())
			return err
		},
	}
	f := c.Flags()
	f.StringVar(&framing, "framing", "", "tcp, rtu-over-tcp or rtu; empty: try what fits the address")
	f.IntSliceVar(&p.Bauds, "baud", nil, "baud rates to try on a serial device")
	f.IntSliceVar(&p.Units, "unit", nil, "unit ids to ask; empty: the usual ones")
	f.StringVar(&table, "table", "", "holding or input; empty: holding, then input")
	f.IntVar(&p.Register, "register", 0, "first register to look at, counted from zero")
	f.IntVar(&p.Quantity, "quantity", 8, "number of registers to look at, at most 32")
	f.DurationVar(&p.Timeout, "timeout", 300*time.Millisecond, "of one answer")
	f.DurationVar(&p.Pause, "pause", 50*time.Millisecond, "between two requests")
	f.IntVar(&p.Limit, "limit", 200, "of requests")
	outputFlag(f, &output, "text or json")
	return c
}
