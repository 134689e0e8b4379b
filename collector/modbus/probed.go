package modbus

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"text/tabwriter"
)

// WriteTo prints what was found, with the registers of each unit decoded in
// every way side by side.
func (f Found) WriteTo(w io.Writer) (int64, error) {
	var text strings.Builder
	fmt.Fprintf(&text, "%s answers in framing %s", f.Address, f.Framing)
	if f.Framing == RTU {
		fmt.Fprintf(&text, " at %d baud, parity %s", f.Baud, f.Parity)
	}
	fmt.Fprintf(&text, "; %d requests sent\n", f.Requests)
	if f.Cut {
		text.WriteString("The limit of requests ended the probe; there may be more units.\n")
	}
	for _, u := range f.Units {
		u.write(&text)
	}
	n, err := io.WriteString(w, text.String())
	return int64(n), err
}

// String is what WriteTo prints.
func (f Found) String() string {
	var text strings.Builder
	f.WriteTo(&text)
	return text.String()
}

func (u FoundUnit) write(w io.Writer) {
	fmt.Fprintf(w, "\nunit %d answered in %s\n", u.UnitID, milliseconds(u.Took))
	if u.Registers == nil {
		fmt.Fprintf(w, "  it refused the registers: %s\n", u.Refusal)
		return
	}
	table := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintf(table, "  %s\thex\tuint16\tint16", u.Table)
	for _, o := range Orders() {
		fmt.Fprintf(table, "\tfloat32 %s", o)
	}
	fmt.Fprintln(table, "\tint32 ABCD\tint32 CDAB")
	for i, word := range u.Registers {
		fmt.Fprintf(table, "  %d\t%04X\t%d\t%d", u.Register+i, word, word, int16(word))
		if i+1 < len(u.Registers) {
			for _, o := range Orders() {
				fmt.Fprintf(table, "\t%s", shortNumber(decodeWords(Float32, o, u.Registers[i:])))
			}
			fmt.Fprintf(table, "\t%.0f\t%.0f", decodeWords(Int32, ABCD, u.Registers[i:]), decodeWords(Int32, CDAB, u.Registers[i:]))
		}
		fmt.Fprintln(table)
	}
	table.Flush()
	if u.Order != "" {
		fmt.Fprintf(w, "  as 32-bit floating point numbers these registers look most like order %s; compare with the display of the device\n", u.Order)
	}
}

func shortNumber(v float64) string {
	if math.IsNaN(v) {
		return "NaN"
	}
	return strconv.FormatFloat(v, 'g', 6, 64)
}
