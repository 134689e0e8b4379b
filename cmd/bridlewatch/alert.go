package main

import (
	"context"
	"fmt"
	"os/user"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bridlewatch/compare/alert"
	"bridlewatch/dashboards/api"
	"bridlewatch/dashboards/plant"
)

func newAlert() *cobra.Command {
	c := &cobra.Command{
		Use:   "alert",
		Short: "List and handle alerts of a running service",
		Long: `alert lists alerts and books what people do about them. They are for
technicians: they are not alarms and replace none.

An alert is named by its ID, or by the tag of its gauge while that has only one.
Who does something is kept in the journal: the owner of the access token, or
without log-in the name given with --by, on the machine of the service only.`,
		Args: cobra.NoArgs,
	}
	c.AddCommand(newAlertList(), newAlertShow(), newAlertJournal(), newAlertLoad(), newAlertRoutes(), newAlertTest(),
		newAct("ack ALERT", "Say that you have seen an alert and see to it", alert.Acknowledge, "comment", false),
		newAct("visit ALERT", "Say what was found on a visit, so that an alert that waits for one may clear", alert.Visit, "what was found and done", true),
		newAct("comment ALERT", "Write a comment", alert.AddComment, "comment", true),
		newAct("unshelve ALERT", "End the shelf of an alert", alert.Unshelve, "comment", false),
		newAct("out-of-service ALERT", "Keep an alert quiet until it is put back", alert.OutOfService, "reason", true),
		newAct("back ALERT", "Put an alert back in service", alert.BackInto, "comment", false),
		newAssign(), newShelve())
	return c
}

// person says who does something.
type person struct {
	ask
	by  string
	why string
}

// login is the name of whoever runs the command, "" when unknown.
func login() string {
	if u, err := user.Current(); err == nil {
		return u.Username
	}
	return ""
}

func (p *person) flags(c *cobra.Command, why string, required bool) {
	p.ask.flags(c, false)
	c.Flags().StringVar(&p.by, "by", login(), "who does it; of no effect where people log in")
	c.Flags().StringVar(&p.why, "why", "", why)
	if required {
		must(c.MarkFlagRequired("why"))
	}
}

// must stops at a mistake of the program itself.
func must(err error) {
	if err != nil {
		panic(err)
	}
}

// act does one thing with one alert and prints what became of it.
func (p *person) act(c *cobra.Command, name string, do map[string]any) error {
	id, err := alertNamed(c.Context(), &p.ask, name)
	if err != nil {
		return err
	}
	do["alert"], do["by"], do["why"] = id, p.by, p.why
	a, err := post[plant.Alert](c.Context(), &p.ask, "/alert/act", do)
	if err != nil {
		return err
	}
	return answer(c, &p.ask, []plant.Alert{a}, "", printAlert)
}

// alertNamed finds the ID of an alert by its ID or the tag of its gauge.
func alertNamed(ctx context.Context, a *ask, name string) (string, error) {
	all, err := everyAlert(ctx, a)
	if err != nil {
		return "", err
	}
	var on []string
	for _, x := range all {
		if x.ID == name {
			return name, nil
		}
		if x.Gauge == name {
			on = append(on, x.ID)
		}
	}
	switch len(on) {
	case 0:
		return name, nil // cleared, perhaps: the service knows
	case 1:
		return on[0], nil
	}
	return "", withCode(exitUsage, fmt.Errorf("gauge %s has %d alerts, name one: %s", name, len(on), strings.Join(on, ", ")))
}

func everyAlert(ctx context.Context, a *ask) ([]plant.Alert, error) {
	open, err := get[[]plant.Alert](ctx, a, "/alerts")
	if err != nil {
		return nil, err
	}
	quiet, err := get[[]plant.Alert](ctx, a, "/alerts/quiet")
	return append(open, quiet...), err
}

func newAct(use, short string, verb alert.Verb, why string, required bool) *cobra.Command {
	var p person
	c := &cobra.Command{Use: use, Short: short, Args: cobra.ExactArgs(1), RunE: func(c *cobra.Command, args []string) error {
		return p.act(c, args[0], map[string]any{"do": verb})
	}}
	p.flags(c, why, required)
	return c
}

func newAssign() *cobra.Command {
	var p person
	c := &cobra.Command{Use: "assign ALERT [PERSON]", Short: "Give an alert to somebody; without a name to nobody", Args: cobra.RangeArgs(1, 2), RunE: func(c *cobra.Command, args []string) error {
		return p.act(c, args[0], map[string]any{"do": alert.Assign, "to": strings.Join(args[1:], "")})
	}}
	p.flags(c, "comment", false)
	return c
}

func newShelve() *cobra.Command {
	var p person
	var span end
	c := &cobra.Command{Use: "shelve ALERT", Short: "Keep an alert quiet for a time, with a reason", Args: cobra.ExactArgs(1), RunE: func(c *cobra.Command, args []string) error {
		do := map[string]any{"do": alert.Shelve, "until_clear": span.clear}
		now, err := plantTime(c.Context(), &p.ask)
		if err != nil {
			return err
		}
		until, err := span.at(now)
		if err != nil {
			return withCode(exitUsage, err)
		}
		if !until.IsZero() {
			do["until"] = until
		}
		return p.act(c, args[0], do)
	}}
	p.flags(c, "reason", true)
	span.flags(c, "until what raised it is over, at most 30 days")
	return c
}

// end is how long something is kept quiet.
type end struct {
	span, until string
	clear       bool
}

func (e *end) flags(c *cobra.Command, clear string) {
	c.Flags().StringVar(&e.span, "for", "", "how long, for example 8h or 3d")
	c.Flags().StringVar(&e.until, "until", "", "end, for example 2026-03-02T18:00:00+01:00")
	c.Flags().BoolVar(&e.clear, "until-clear", false, clear)
	c.MarkFlagsMutuallyExclusive("for", "until")
}

// at returns the end, zero when only until clear was asked for.
func (e *end) at(now time.Time) (time.Time, error) {
	switch {
	case e.until != "":
		t, err := time.Parse(time.RFC3339, e.until)
		if err != nil {
			return t, fmt.Errorf("--until %q: want a time such as 2026-03-02T18:00:00+01:00", e.until)
		}
		return t, nil
	case e.span != "":
		d, err := spanOf(e.span)
		return now.Add(d), err
	case e.clear:
		return time.Time{}, nil
	}
	return time.Time{}, fmt.Errorf("an end is missing: give --for, --until or --until-clear")
}

// plantTime is the time of the plant a service watches: simulated in a
// rehearsal.
func plantTime(ctx context.Context, a *ask) (time.Time, error) {
	h, err := get[api.Health](ctx, a, "/health")
	return h.Now, err
}

// spanOf reads a duration that may be in days.
func spanOf(text string) (time.Duration, error) {
	d, err := time.ParseDuration(text)
	if n, isDays := strings.CutSuffix(text, "d"); isDays {
		d, err = time.ParseDuration(n + "h")
		d *= 24
	}
	if err != nil || d <= 0 {
		return 0, fmt.Errorf("--for %q: want a duration such as 8h or 3d", text)
	}
	return d, nil
}
