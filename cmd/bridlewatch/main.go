// Command bridlewatch watches level instruments that share an external
// chamber and says which of them is wrong and what would prove it.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
	_ "time/tzdata" // a bare edge box knows its zone

	"github.com/spf13/cobra"

	"bridlewatch/config"
)

// Exit codes. Scripts may rely on them; new codes may be added.
const (
	exitOK          = 0
	exitFailed      = 1
	exitUsage       = 2 // wrong words, or a configuration with errors
	exitFinding     = 3 // with --fail-on: a finding is present
	exitUnreachable = 4 // a source or server does not answer
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

// codedError is an error that chose its exit code.
type codedError struct {
	code int
	err  error
}

func (e codedError) Error() string { return e.err.Error() }
func (e codedError) Unwrap() error { return e.err }

func withCode(code int, err error) error {
	if err == nil {
		return nil
	}
	return codedError{code, err}
}

// run executes one command line and returns its exit code.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	root := newRoot()
	root.SetArgs(args)
	root.SetOut(stdout)
	root.SetErr(stderr)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return exitOK
	}
	var coded codedError
	var problems config.Errors
	switch {
	case errors.As(err, &problems):
		fmt.Fprintln(stderr, problems.Error())
		return exitUsage
	case errors.As(err, &coded):
		if msg := coded.Error(); msg != "" {
			fmt.Fprintln(stderr, "bridlewatch:", msg)
		}
		return coded.code
	}
	fmt.Fprintln(stderr, "bridlewatch:", err)
	return exitFailed
}

// commands lists every subcommand; one file each.
var commands = []func() *cobra.Command{
	newServe, newRehearse, newReplay, newTrial, newCheck, newSchema, newReference, newVisits, newReadings, newExplain, newSettle, newProven, newProve, newRecord, newBlind, newAlert, newQuiet, newLevel, newFit, newBudget, newRegisters, newGrafana, newOpenAPI, newExport, newImport, newUser, newToken, newAudit, newCertificate, newBackup, newRecompute, newFleet, newBench, newLoad, newPlan, newProbe, newBrowse, newTrust, newVersion,
}

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "bridlewatch",
		Short: "Watch float, transmitter and point switches on one external chamber",
		Long: `bridlewatch compares the float gauge, the transmitter and the point switches
that share an external level chamber, finds the one that no longer tells the
truth and says what would prove it.

It reads from plant devices and never writes to one. It is not a safety
function: it replaces neither overfill protection nor proof tests nor the
site's alarm system.`,
		SilenceUsage:  true,
		SilenceErrors: true,
	}
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return withCode(exitUsage, fmt.Errorf("%w; see %s --help", err, c.CommandPath()))
	})
	for _, c := range commands {
		root.AddCommand(c())
	}
	return root
}
