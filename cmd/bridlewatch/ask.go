package main

import (
	"bytes"
	"context"
	"crypto/tls"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/coverage"
	"bridlewatch/config"
	"bridlewatch/dashboards/api"
)

// ask is where the commands that question a service find it: a running
// service over its interface, or the data directory one has left behind.
type ask struct {
	server    string
	tokenFile string
	config    string
	data      string
	output    string
}

// flags adds the flags common to all questions. offline adds those that read
// a data directory.
func (a *ask) flags(c *cobra.Command, offline bool) {
	server := os.Getenv("BRIDLEWATCH_SERVER")
	if server == "" {
		server = "http://127.0.0.1:8080"
	}
	c.Flags().StringVar(&a.server, "server", server, "address of the running service; also $BRIDLEWATCH_SERVER")
	c.Flags().StringVar(&a.tokenFile, "token-file", os.Getenv("BRIDLEWATCH_TOKEN_FILE"), "file with an access token; also $BRIDLEWATCH_TOKEN_FILE")
	outputFlag(c.Flags(), &a.output, "text or json")
	if offline {
		c.Flags().StringVar(&a.data, "data", "", "read this data directory instead of asking a service; needs --config")
		c.Flags().StringVar(&a.config, "config", "bridlewatch.yaml", "configuration file that goes with --data")
	}
}

// get asks the service for a path of its interface.
func get[T any](ctx context.Context, a *ask, path string) (answer T, err error) {
	return call[T](ctx, a, http.MethodGet, path, nil)
}

// post asks the service to do something.
func post[T any](ctx context.Context, a *ask, path string, body any) (answer T, err error) {
	text, err := json.Marshal(body)
	if err != nil {
		return answer, fmt.Errorf("encode request: %w", err)
	}
	return call[T](ctx, a, http.MethodPost, path, bytes.NewReader(text))
}

func call[T any](ctx context.Context, a *ask, method, path string, text io.Reader) (answer T, err error) {
	req, err := http.NewRequestWithContext(ctx, method, strings.TrimSuffix(a.server, "/")+api.Prefix+path, text)
	if err != nil {
		return answer, withCode(exitUsage, fmt.Errorf("--server %q: %w", a.server, err))
	}
	if text != nil {
		req.Header.Set("Content-Type", "application/json")
	}
	if a.tokenFile != "" {
		token, err := os.ReadFile(a.tokenFile)
		if err != nil {
			return answer, fmt.Errorf("read token: %w", err)
		}
		req.Header.Set("Authorization", "Bearer "+strings.TrimSpace(string(token)))
	}
	client := http.Client{Timeout: 30 * time.Second}
	res, err := client.Do(req)
	if err != nil {
		return answer, withCode(exitUnreachable, unreached(a.server, err))
	}
	defer res.Body.Close() // read to its end below
	body, err := io.ReadAll(res.Body)
	if err != nil {
		return answer, withCode(exitUnreachable, fmt.Errorf("answer of %s: %w", a.server, err))
	}
	if res.StatusCode != http.StatusOK {
		var problem struct{ Detail, Title string }
		if json.Unmarshal(body, &problem) == nil && problem.Detail != "" {
			if res.StatusCode == http.StatusUnauthorized && a.tokenFile == "" {
				problem.Detail += " Make one with `bridlewatch token add NAME`, keep it in a file and name that with --token-file."
			}
			return answer, errors.New(problem.Detail)
		}
		return answer, fmt.Errorf("%s answered %s%s", a.server, res.Status, inWords(body))
	}
	if err := json.Unmarshal(body, &answer); err != nil {
		return answer, fmt.Errorf("%s does not speak this version of the interface: %w", a.server, err)
	}
	return answer, nil
}

// unreached says why a request had no answer. Where only the certificate is
// unknown, a service does answer.
func unreached(server string, err error) error {
	var untrusted *tls.CertificateVerificationError
	if errors.As(err, &untrusted) {
		return fmt.Errorf("the certificate of %s is not trusted here (%w); name its file in $SSL_CERT_FILE (one that the box made is certificates/pages.pem in its data directory) and a server that it was made for", server, untrusted.Err)
	}
	return fmt.Errorf("no service answers at %s (%w); start one, or name it with --server", server, err)
}

// inWords is what a server that is none of ours says, if it is a line.
func inWords(body []byte) string {
	const line = 200
	text := strings.TrimSpace(string(body))
	if text == "" || len(text) > line || strings.ContainsAny(text, "<\n") {
		return ""
	}
	return ": " + text
}

// question asks the service, or with --data the state kept in a data
// directory.
func question[T any](ctx context.Context, a *ask, tag, path string, offline func(*watch.Watch, string) []T) ([]T, error) {
	if a.data == "" {
		return get[[]T](ctx, a, "/gauges/"+url.PathEscape(tag)+path)
	}
	cfg, err := config.Load(config.LoadOptions{File: a.config, WithoutSecrets: true})
	if err != nil {
		return nil, err
	}
	w, err := watch.Revive(ctx, cfg, a.data)
	if err != nil {
		return nil, err
	}
	if _, ok := w.Gauge(tag); !ok {
		return nil, withCode(exitUsage, fmt.Errorf("no gauge %s in %s", tag, a.config))
	}
	return offline(w, tag), nil
}

// answer prints rows as JSON, or as text with one function for each row.
func answer[T any](c *cobra.Command, a *ask, rows []T, none string, row func(io.Writer, T)) error {
	w := c.OutOrStdout()
	if a.output == "json" {
		if rows == nil {
			rows = []T{}
		}
		return json.NewEncoder(w).Encode(rows)
	}
	if len(rows) == 0 {
		fmt.Fprintln(w, none)
	}
	for _, r := range rows {
		row(w, r)
	}
	return nil
}

func joinCauses(causes []cause.Cause) string {
	words := make([]string, len(causes))
	for i, c := range causes {
		words[i] = cause.Phrase(c)
	}
	return strings.Join(words, ", ")
}

func newSettle() *cobra.Command {
	var a ask
	c := &cobra.Command{
		Use:   "settle TAG",
		Short: "Print the tests that would split the causes that remain, best first",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			rows, err := question(c.Context(), &a, args[0], "/tests", (*watch.Watch).Settle)
			if err != nil {
				return err
			}
			return answer(c, &a, rows, "Nothing to settle on "+args[0]+".", printTest)
		},
	}
	a.flags(c, true)
	return c
}

func printTest(w io.Writer, t cause.Test) {
	fmt.Fprintf(w, "%s (%d min)\n", t.Name, t.Minutes)
	for i, s := range t.Steps {
		fmt.Fprintf(w, "  %d. %s\n", i+1, s)
	}
	if len(t.Tools) > 0 {
		fmt.Fprintf(w, "  Bring: %s\n", strings.Join(t.Tools, ", "))
	}
	if t.Permit != "" {
		fmt.Fprintf(w, "  Permit: %s\n", t.Permit)
	}
	for _, s := range t.Cautions {
		fmt.Fprintf(w, "  Caution: %s\n", s)
	}
	for _, o := range t.Outcomes {
		fmt.Fprintf(w, "  If %s: %s\n", o.Seen, joinCauses(o.Means))
	}
	fmt.Fprintln(w)
}

func newProven() *cobra.Command {
	var a ask
	c := &cobra.Command{
		Use:   "proven TAG",
		Short: "Print when each instrument was last proven, by elevation",
		Long: `proven lists, for each instrument and elevation, when it last moved past
together with an independent witness, and how far the two were apart. A flat
line proves nothing. What is listed may be considered by the user as evidence;
it is not a proof test, and no interval follows from it.`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			rows, err := question(c.Context(), &a, args[0], "/proven", (*watch.Watch).Proven)
			if err != nil {
				return err
			}
			if a.output != "json" {
				rows = joinNever(rows)
			}
			return answer(c, &a, rows, "Nothing has been proven on "+args[0]+" yet: no instrument moved together with an independent witness.", printProof)
		},
	}
	a.flags(c, true)
	return c
}

// joinNever makes one row of neighbouring elevations an instrument never passed.
func joinNever(rows []coverage.Proof) []coverage.Proof {
	var out []coverage.Proof
	for _, p := range rows {
		if n := len(out); n > 0 && p.At.IsZero() && p.From < p.To {
			if last := &out[n-1]; last.At.IsZero() && last.Tag == p.Tag && last.To == p.From {
				last.To = p.To
				continue
			}
		}
		out = append(out, p)
	}
	return out
}

func printProof(w io.Writer, p coverage.Proof) {
	way := p.Way()
	where := fmt.Sprintf("%5.0f to %5.0f mm", p.From.Millimetres(), p.To.Millimetres())
	if p.From == p.To { // a switch
		where = fmt.Sprintf("%-7s at %3.0f mm", way, p.From.Millimetres())
	}
	if p.At.IsZero() {
		fmt.Fprintf(w, "%-10s %s  never\n", p.Tag, where)
		return
	}
	fmt.Fprintf(w, "%-10s %s  %s %s, against %s, %+.1f mm (u %.1f mm), %s\n", p.Tag, where, p.At.Format("2006-01-02 15:04"), way, p.Witness, p.Difference.Millimetres(), p.U.Millimetres(), count(p.Passes, "pass", "passes"))
}

// count writes a number with its noun.
func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func newBlind() *cobra.Command {
	var a ask
	c := &cobra.Command{
		Use:   "blind TAG",
		Short: "Print what the instruments of a gauge cannot see",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			rows, err := question(c.Context(), &a, args[0], "/blind", (*watch.Watch).Blind)
			if err != nil {
				return err
			}
			return answer(c, &a, rows, "No blind spots are known for "+args[0]+".", printBlind)
		},
	}
	a.flags(c, true)
	return c
}

func printBlind(w io.Writer, b coverage.BlindSpot) {
	fmt.Fprintf(w, "%s\n  why      %s\n  reveals  %s\n", b.What, b.Why, b.Reveals)
	if !b.NotSince.IsZero() {
		fmt.Fprintf(w, "  not tested since %s\n", b.NotSince.Format("2006-01-02 15:04"))
	}
	if !b.Excluded.IsZero() {
		fmt.Fprintf(w, "  last excluded    %s\n", b.Excluded.Format("2006-01-02 15:04"))
	}
}
