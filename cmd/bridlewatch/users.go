package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"bridlewatch/dashboards/access"
	"bridlewatch/dashboards/access/audit"
	"bridlewatch/dashboards/api"
)

func newUser() *cobra.Command {
	var f management
	c := &cobra.Command{
		Use:   "user",
		Short: "Add, list, change and remove the people who may log in",
		Long: `user works on the data directory, whether the service runs or not: while it runs
the running service is asked, by a key in the data directory that only its
owner can read. With --server and --token-file it asks a service elsewhere.

A password is asked for on the terminal, or read from standard input when that
is none; it is never taken from the command line. Run it under the account of the
service, or as root while the service runs. The first admin of a box:

  bridlewatch user add --role admin NAME`,
	}
	f.flags(c)
	var role, fullName string
	add := &cobra.Command{Use: "add NAME", Short: "Add a user; the password is asked for", Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			r, err := access.ParseRole(role)
			if err != nil {
				return withCode(exitUsage, err)
			}
			return f.manage(c, func(ctx context.Context, m manager) error {
				password, err := askPassword(c, args[0])
				if err != nil {
					return err
				}
				if err := m.AddUser(ctx, access.User{Name: args[0], FullName: fullName, Role: r}, password); err != nil {
					return err
				}
				return say(c, "%s may log in as %s.", args[0], r)
			})
		}}
	add.Flags().StringVar(&role, "role", string(access.Viewer), "viewer, technician, engineer or admin")
	add.Flags().StringVar(&fullName, "full-name", "", "name shown beside records")
	list := &cobra.Command{Use: "list", Short: "List who may log in", Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return f.manage(c, func(ctx context.Context, m manager) error {
				users, err := m.Users(ctx)
				if err != nil {
					return err
				}
				return answer(c, &ask{output: f.output}, users, "Nobody may log in yet; add somebody with: bridlewatch user add --role admin NAME", printUser)
			})
		}}
	setRole := &cobra.Command{Use: "role NAME ROLE", Short: "Give a user another role", Args: cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			r, err := access.ParseRole(args[1])
			if err != nil {
				return withCode(exitUsage, err)
			}
			return f.manage(c, func(ctx context.Context, m manager) error {
				if err := m.SetRole(ctx, args[0], r); err != nil {
					return err
				}
				return say(c, "%s is %s now.", args[0], r)
			})
		}}
	password := &cobra.Command{Use: "password NAME", Short: "Set the password of a user; it is asked for", Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return f.manage(c, func(ctx context.Context, m manager) error {
				password, err := askPassword(c, args[0])
				if err != nil {
					return err
				}
				if err := m.SetPassword(ctx, args[0], password); err != nil {
					return err
				}
				return say(c, "The password of %s is changed; sessions begun with the old one have ended.", args[0])
			})
		}}
	remove := &cobra.Command{Use: "remove NAME", Short: "Remove a user; what was signed with the name stays", Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return f.manage(c, func(ctx context.Context, m manager) error {
				if err := m.RemoveUser(ctx, args[0]); err != nil {
					return err
				}
				return say(c, "%s may not log in any more.", args[0])
			})
		}}
	hash := &cobra.Command{Use: "hash", Short: "Print the hash of a password, for users in the configuration", Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			password, err := askPassword(c, "")
			if err != nil {
				return err
			}
			phc, err := access.HashChecked(password)
			if err != nil {
				return err
			}
			return say(c, "%s", phc)
		}}
	c.AddCommand(add, list, setRole, password, remove, hash)
	return c
}

func newToken() *cobra.Command {
	var f management
	c := &cobra.Command{
		Use:   "token",
		Short: "Make, list and revoke the tokens programs come in with",
		Long: `token works like user: on the data directory, whether the service runs or not,
or with --server and --token-file on a service elsewhere.

A token is printed once, on standard output, and kept nowhere.`,
	}
	f.flags(c)
	var scopes, role string
	var lasts time.Duration
	add := &cobra.Command{Use: "add NAME", Short: "Make a token and print it", Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			list, err := access.ParseScopes(scopes)
			if err != nil {
				return withCode(exitUsage, err)
			}
			t := access.Token{Name: args[0], Scopes: list, Role: access.Role(role)}
			if lasts > 0 {
				t.Expires = time.Now().Add(lasts).UTC().Truncate(time.Second)
			}
			return f.manage(c, func(ctx context.Context, m manager) error {
				text, err := m.AddToken(ctx, t)
				if err != nil {
					return err
				}
				return say(c, "%s", text)
			})
		}}
	add.Flags().StringVar(&scopes, "scope", "read", "what it opens, separated by commas: read, alert, record, admin")
	add.Flags().StringVar(&role, "role", "", "what its holder may do; empty: the least that can use the scopes")
	add.Flags().DurationVar(&lasts, "for", 365*24*time.Hour, "how long it works; 0: until it is revoked")
	list := &cobra.Command{Use: "list", Short: "List the tokens, without themselves", Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return f.manage(c, func(ctx context.Context, m manager) error {
				tokens, err := m.Tokens(ctx)
				if err != nil {
					return err
				}
				return answer(c, &ask{output: f.output}, tokens, "There is no token.", printToken)
			})
		}}
	revoke := &cobra.Command{Use: "revoke NAME", Short: "End a token at once", Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return f.manage(c, func(ctx context.Context, m manager) error {
				if err := m.RevokeToken(ctx, args[0]); err != nil {
					return err
				}
				return say(c, "The token %s works no more.", args[0])
			})
		}}
	c.AddCommand(add, list, revoke)
	return c
}

func newAudit() *cobra.Command {
	var f management
	c := &cobra.Command{
		Use:   "audit",
		Short: "List and check the log of what people and programs changed",
	}
	f.flags(c)
	var limit int
	list := &cobra.Command{Use: "list", Short: "Print the newest entries, newest first", Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return f.manage(c, func(ctx context.Context, m manager) error {
				entries, err := m.Audit(ctx, limit)
				if err != nil {
					return err
				}
				return answer(c, &ask{output: f.output}, entries, "Nothing has been changed yet.", printEntry)
			})
		}}
	list.Flags().IntVar(&limit, "limit", 100, "at most so many entries")
	verify := &cobra.Command{Use: "verify", Short: "Check that no entry was changed or removed",
		Long: `verify walks the chain of hashes over all documents of the data directory and the
numbers of the log. Entries cut off at the end leave no trace inside: note the
printed count and hash elsewhere from time to time and compare.`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return f.manage(c, func(ctx context.Context, m manager) error {
				report, err := m.Verify(ctx)
				if err != nil {
					return err
				}
				return say(c, "Whole: %s", report.Words())
			})
		}}
	c.AddCommand(list, verify)
	return c
}

func say(c *cobra.Command, format string, args ...any) error {
	_, err := fmt.Fprintf(c.OutOrStdout(), format+"\n", args...)
	return err
}

func printUser(w io.Writer, u api.User) {
	from := "changed " + u.Changed.Format(time.RFC3339)
	if u.Fixed {
		from = "of the configuration"
	}
	fmt.Fprintf(w, "%-20s %-12s %s  %s\n", u.Name, u.Role, from, u.FullName)
}

func printToken(w io.Writer, t api.Token) {
	until, made := "no end", "made "+t.Made.Format(time.RFC3339)+" by "+t.By
	if !t.Expires.IsZero() {
		until = "until " + t.Expires.Format(time.RFC3339)
	}
	if t.Fixed {
		made = "of the configuration"
	}
	fmt.Fprintf(w, "%-20s %-12s %-24s %s, %s\n", t.Name, t.Role, strings.Join(t.Scopes, ", "), until, made)
}

func printEntry(w io.Writer, e audit.Entry) {
	fmt.Fprintf(w, "%5d  %s  %s (%s, %s) %s %s\n", e.Number, e.Time.Format(time.RFC3339), e.Who, e.Role, e.From, e.What, e.Subject)
	if e.Before != "" {
		fmt.Fprintf(w, "       before  %s\n", e.Before)
	}
	if e.After != "" {
		fmt.Fprintf(w, "       after   %s\n", e.After)
	}
}

// askPassword asks for a password twice without showing it, or reads one line
// of a standard input that is no terminal.
func askPassword(c *cobra.Command, name string) (string, error) {
	in := c.InOrStdin()
	if f, ok := in.(interface{ Fd() uintptr }); ok && term.IsTerminal(int(f.Fd())) {
		return askTerminal(c.ErrOrStderr(), int(f.Fd()), name)
	}
	line, err := bufio.NewReader(in).ReadString('\n')
	if err != nil && !errors.Is(err, io.EOF) {
		return "", fmt.Errorf("read password: %w", err)
	}
	if line = strings.TrimRight(line, "\r\n"); line == "" {
		return "", withCode(exitUsage, errors.New("no password on standard input"))
	}
	return line, nil
}

func askTerminal(w io.Writer, fd int, name string) (string, error) {
	var typed [2]string
	for i, words := range []string{"Password", "Again"} {
		if i == 0 && name != "" {
			words += " of " + name
		}
		fmt.Fprintf(w, "%s: ", words)
		text, err := term.ReadPassword(fd)
		fmt.Fprintln(w)
		if err != nil {
			return "", fmt.Errorf("read password: %w", err)
		}
		typed[i] = string(text)
	}
	if typed[0] != typed[1] {
		return "", withCode(exitUsage, errors.New("the two passwords differ; nothing was changed"))
	}
	return typed[0], nil
}
