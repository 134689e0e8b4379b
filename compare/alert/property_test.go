package alert

import (
	"encoding/json"
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/symptom"
)

// plays is a random history: findings come and go, people act, windows open,
// time passes and the service restarts.
type plays struct {
	b       Book
	now     time.Time
	open    map[string]cause.Finding
	limits  map[string]bool // findings that are limits of the user
	serial  int
	journal []Entry
}

func (p *plays) keep(e []Entry) { p.journal = append(p.journal, e...) }

func (p *plays) opened(t *rapid.T) {
	p.serial++
	f := cause.Finding{
		ID: fmt.Sprintf("f%d", p.serial), Gauge: rapid.SampledFrom([]string{"LG-1", "LG-2"}).Draw(t, "gauge"), Tier: cause.Alert,
		Cause: rapid.SampledFrom([]cause.Cause{cause.FloatStuck, cause.TransmitterZero, cause.Unknown}).Draw(t, "cause"),
		Tag:   rapid.SampledFrom([]string{"", "LI", "LT"}).Draw(t, "tag"), Symptom: rapid.SampledFrom([]symptom.Kind{symptom.FloatStill, symptom.GapStep}).Draw(t, "symptom"),
	}
	p.open[f.ID], p.limits[f.ID] = f, rapid.Bool().Draw(t, "limit")
	c := Change{What: "opened", Finding: f, Area: "unit", Limit: p.limits[f.ID]}
	p.keep(p.b.Apply(p.now, c))
	if again := p.b.Apply(p.now, c); len(again) != 0 {
		t.Fatalf("the same finding again gave %+v", again)
	}
}

func (p *plays) some(t *rapid.T) (cause.Finding, bool) {
	if len(p.open) == 0 {
		return cause.Finding{}, false
	}
	return p.open[rapid.SampledFrom(sorted(p.open)).Draw(t, "finding")], true
}

func (p *plays) renamed(t *rapid.T) {
	if f, ok := p.some(t); ok {
		f.Cause = cause.FloatHeavier
		p.open[f.ID] = f
		p.keep(p.b.Apply(p.now, Change{What: "upgraded", Finding: f, Area: "unit", Limit: p.limits[f.ID]}))
	}
}

func (p *plays) closed(t *rapid.T) {
	if f, ok := p.some(t); ok {
		delete(p.open, f.ID)
		p.keep(p.b.Apply(p.now, Change{What: "closed", Finding: f}))
	}
}

func (p *plays) acts(t *rapid.T) {
	if len(p.b.Alerts) == 0 {
		return
	}
	do := Action{
		Alert: rapid.SampledFrom(sorted(p.b.Alerts)).Draw(t, "alert"), By: "a", Why: rapid.SampledFrom([]string{"", "because"}).Draw(t, "why"),
		Verb:  rapid.SampledFrom([]Verb{Acknowledge, Visit, Assign, AddComment, Shelve, Unshelve, OutOfService, BackInto}).Draw(t, "verb"),
		Until: p.now.Add(time.Duration(rapid.IntRange(-1, 40*24).Draw(t, "hours")) * time.Hour), UntilClear: rapid.Bool().Draw(t, "until clear"),
	}
	before := p.b.N
	e, err := p.b.Act(p.now, do)
	if err != nil && p.b.N != before {
		t.Fatalf("a refused action changed the book: %v", err)
	}
	p.keep(e)
}

func (p *plays) window(t *rapid.T) {
	e, err := p.b.AddWindow(p.now, Window{Gauges: []string{rapid.SampledFrom([]string{"LG-1", "LG-2"}).Draw(t, "gauge")}, By: "a", Reason: "r",
		Until: p.now.Add(time.Duration(rapid.IntRange(1, 100).Draw(t, "hours")) * time.Hour), UntilClear: rapid.Bool().Draw(t, "until clear")})
	if err != nil {
		t.Fatal(err)
	}
	p.keep(e)
}

func (p *plays) rule(t *rapid.T) {
	p.keep(p.b.Suppress(p.now, rapid.SampledFrom([]string{"LG-1", "LG-2"}).Draw(t, "gauge"), "isolated", rapid.Bool().Draw(t, "on")))
}

func (p *plays) waits(t *rapid.T) {
	p.now = p.now.Add(time.Duration(rapid.IntRange(1, 400).Draw(t, "hours")) * time.Hour)
	p.keep(p.b.Tick(p.now))
	if again := p.b.Tick(p.now); len(again) != 0 {
		t.Fatalf("the same instant again gave %+v", again)
	}
}

// restarts stores the book, reads it again and finds the same findings open.
func (p *plays) restarts(t *rapid.T) {
	p.b = stored(t, p.b)
	for _, gauge := range []string{"LG-1", "LG-2"} {
		var open []Change
		for _, id := range sorted(p.open) {
			if p.open[id].Gauge == gauge {
				open = append(open, Change{Finding: p.open[id], Area: "unit", Limit: p.limits[id]})
			}
		}
		if e := p.b.Reconcile(p.now, gauge, open, true); len(e) != 0 {
			t.Fatalf("a restart gave %+v", e)
		}
	}
}

func stored[T any](t *rapid.T, v T) (out T) {
	text, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &out); err != nil {
		t.Fatal(err)
	}
	return out
}

// legal says what must always hold.
func (p *plays) legal(t *rapid.T) {
	holders := map[string]string{}
	for id, a := range p.b.Alerts {
		switch a.State {
		case Unacknowledged:
			must(t, a.Present() && a.Acknowledged.IsZero() && a.Returned.IsZero(), "unacknowledged", a)
		case Acknowledged:
			must(t, !a.Acknowledged.IsZero() && (a.Present() || a.Latched), "acknowledged", a)
		case Returned:
			must(t, !a.Present() && a.Acknowledged.IsZero() && !a.Returned.IsZero(), "returned", a)
		case Cleared:
			must(t, !a.Present() && !a.Acknowledged.IsZero() && !a.Latched && !a.Cleared.IsZero(), "cleared", a)
		default:
			t.Fatalf("state %q of %+v", a.State, a)
		}
		must(t, a.Raises > 0 && !a.Raised.Before(a.First), "counted", a)
		for _, f := range a.Findings {
			if other, taken := holders[f.ID]; taken {
				t.Fatalf("finding %s keeps both %s and %s present", f.ID, other, id)
			}
			holders[f.ID] = id
		}
	}
	for id := range p.open {
		if holders[id] == "" {
			t.Fatalf("open finding %s keeps no alert present", id)
		}
	}
	if len(holders) != len(p.open) {
		t.Fatalf("findings %v are open, the book holds %v", sorted(p.open), sorted(holders))
	}
}

func must(t *rapid.T, ok bool, what string, a Alert) {
	if !ok {
		t.Fatalf("%s alert must not look like this: %+v", what, a)
	}
}

// TestAnyHistory plays random histories: no state that must not be, a journal
// that replays to the same book, restarts that announce nothing, and nobody
// told of what is kept quiet.
func TestAnyHistory(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := &plays{now: noon, open: map[string]cause.Finding{}, limits: map[string]bool{}}
		t.Repeat(map[string]func(*rapid.T){
			"opened": p.opened, "renamed": p.renamed, "closed": p.closed, "acts": p.acts, "window": p.window,
			"rule": p.rule, "waits": p.waits, "restarts": p.restarts, "": p.legal,
		})
		var again Book
		for i, e := range p.journal {
			if e.N != uint64(i+1) {
				t.Fatalf("entry %d has number %d", i+1, e.N)
			}
			again.Fold(stored(t, e))
			again.Fold(e) // twice is once
			told(t, &again, e)
		}
		if d := cmp.Diff(p.b, again, cmpopts.EquateEmpty()); d != "" {
			t.Fatalf("the journal does not replay to the same book (-book +replayed):\n%s", d)
		}
	})
}

// told checks that an alert that is kept quiet is not told, but for the
// reminder that its quiet ends soon, which comes while it is quiet.
func told(t *rapid.T, b *Book, e Entry) {
	a, ok := b.Alerts[e.Alert]
	if e.Tell == "" || !ok {
		return
	}
	if e.What == EndsSoon {
		if h, quiet := b.Held(e.Time, e.Alert); !quiet || h.Reminded != e.Time {
			t.Fatalf("entry %+v reminds of %+v, which is quiet by %+v", e, a, h)
		}
		return
	}
	if h, quiet := b.Held(e.Time, e.Alert); quiet && e.What != WasReturned && e.What != WasRenamed && e.What != WasJoined {
		t.Fatalf("entry %+v tells of %+v, which is kept quiet: %+v", e, a, h)
	}
	if !slices.Contains([]What{WasRaised, WasRaisedAgain, WasJoined, WasRenamed, WasReturned, WasResumed}, e.What) {
		t.Fatalf("entry %+v tells", e)
	}
}
