package main

import (
	"fmt"

	"github.com/spf13/pflag"
)

// format is the value of an --output flag: text or json and nothing else.
type format string

func (f *format) String() string { return string(*f) }

// Type is what the help calls the value.
func (f *format) Type() string { return "string" }

// Set refuses what nothing here can write.
func (f *format) Set(s string) error {
	if s != "text" && s != "json" {
		return fmt.Errorf("%q is not known; use text or json", s)
	}
	*f = format(s)
	return nil
}

// outputFlag adds --output to a command.
func outputFlag(fl *pflag.FlagSet, to *string, usage string) {
	*to = "text"
	fl.Var((*format)(to), "output", usage)
}
