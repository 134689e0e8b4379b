package alert

import (
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/symptom"
)

var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

func stuck(id string) cause.Finding {
	return cause.Finding{ID: id, Gauge: "LG-7", Cause: cause.FloatStuck, Symptom: symptom.FloatStill, Suspect: cause.Float, Tag: "LI-7", Tier: cause.Alert,
		Sentence: "Float is probably stuck.", Since: noon.Add(-time.Hour), Evidence: []cause.Evidence{{Sentence: "Transmitter moved 184 mm.", Nats: 6}}}
}

func zero(id string) cause.Finding {
	return cause.Finding{ID: id, Gauge: "LG-8", Cause: cause.TransmitterZero, Symptom: symptom.GapBeyondBudget, Suspect: cause.Transmitter, Tag: "LT-8", Tier: cause.Alert, Sentence: "Transmitter reads 40 mm high."}
}

// script drives a book and keeps its journal.
type script struct {
	t       *testing.T
	b       Book
	now     time.Time
	journal []Entry
}

func begin(t *testing.T) *script { return &script{t: t, now: noon} }

func (s *script) wait(d time.Duration) { s.now = s.now.Add(d); s.keep(s.b.Tick(s.now)) }

func (s *script) keep(e []Entry) []Entry { s.journal = append(s.journal, e...); return e }

func (s *script) change(what string, f cause.Finding) []Entry {
	return s.keep(s.b.Apply(s.now, Change{What: what, Finding: f, Area: "unit 2", Category: "failure"}))
}

func (s *script) act(do Action) []Entry {
	s.t.Helper()
	if do.By == "" {
		do.By = "technician"
	}
	e, err := s.b.Act(s.now, do)
	if err != nil {
		s.t.Fatal(err)
	}
	return s.keep(e)
}

func (s *script) state(id string, want State) {
	s.t.Helper()
	if got := s.b.Alerts[id].State; got != want {
		s.t.Errorf("%s is %q, want %q", id, got, want)
	}
}

// told lists what people are told, oldest first.
func (s *script) told() (list []string) {
	for _, e := range s.journal {
		if e.Tell != "" {
			list = append(list, string(e.Tell)+" "+e.Alert)
		}
	}
	return list
}

func (s *script) toldIs(want ...string) {
	s.t.Helper()
	if d := cmp.Diff(want, s.told()); d != "" {
		s.t.Errorf("told (-want +got):\n%s", d)
	}
}

func TestALifeWithoutHaste(t *testing.T) {
	s := begin(t)
	s.change("opened", zero("z1"))
	s.state("z1", Unacknowledged)
	s.act(Action{Verb: Acknowledge, Alert: "z1", Why: "looking"})
	s.state("z1", Acknowledged)
	s.act(Action{Verb: Assign, Alert: "z1", To: "night shift"})
	s.change("closed", zero("z1"))
	s.state("z1", Cleared)
	a := s.b.Alerts["z1"]
	if a.By != "technician" || a.Assigned != "night shift" || a.Comments[0].Text != "looking" || len(s.b.List()) != 0 {
		t.Errorf("alert %+v", a)
	}
	s.toldIs("raised z1", "ended z1")
}

func TestReturnedBeforeAnybodyLooked(t *testing.T) {
	s := begin(t)
	s.change("opened", zero("z1"))
	s.change("closed", zero("z1"))
	s.state("z1", Returned)
	s.wait(time.Hour)
	s.change("opened", zero("z2"))
	s.state("z1", Unacknowledged)
	if a := s.b.Alerts["z1"]; a.Raises != 2 || len(s.b.Alerts) != 1 {
		t.Errorf("raised again it must count, not be a new row: %+v", s.b.Alerts)
	}
	s.toldIs("raised z1", "ended z1")
}

func TestAFloatThatFreedItselfWaitsForAVisit(t *testing.T) {
	s := begin(t)
	s.change("opened", stuck("f1"))
	s.act(Action{Verb: Acknowledge, Alert: "f1"})
	s.change("closed", stuck("f1"))
	s.state("f1", Acknowledged)
	if _, err := s.b.Act(s.now, Action{Verb: Visit, Alert: "f1", By: "technician"}); err == nil {
		t.Error("a visit without a word was taken")
	}
	s.act(Action{Verb: Visit, Alert: "f1", Why: "deposit on the float, cleaned"})
	s.state("f1", Cleared)
}

func TestWatchesAreNotAlerts(t *testing.T) {
	s := begin(t)
	f := zero("z1")
	f.Tier = cause.Watch
	if e := s.change("opened", f); e != nil || len(s.b.Alerts) != 0 {
		t.Errorf("entries %v", e)
	}
}

func TestARestartAnnouncesNothingAgain(t *testing.T) {
	s := begin(t)
	s.change("opened", stuck("f1"))
	s.keep(s.b.Reconcile(s.now, "LG-7", []Change{{Finding: stuck("f1")}}, false))
	s.change("opened", stuck("f2")) // detectors began anew and found it again
	if a := s.b.Alerts["f1"]; len(s.b.Alerts) != 1 || a.Raises != 1 || len(a.Findings) != 2 {
		t.Errorf("alerts %+v", s.b.Alerts)
	}
	s.keep(s.b.Reconcile(s.now, "LG-7", []Change{{Finding: stuck("f2")}}, true))
	s.state("f1", Unacknowledged)
	s.keep(s.b.Reconcile(s.now, "LG-7", nil, true))
	s.state("f1", Returned)
	s.toldIs("raised f1", "ended f1")
}

// TestALimitRaisesAgain: an acknowledged alert about a growing gap is raised
// again when the drift limit is near, once, and keeps the name it has.
func TestALimitRaisesAgain(t *testing.T) {
	s := begin(t)
	s.change("opened", zero("z1"))
	s.act(Action{Verb: Acknowledge, Alert: "z1"})
	limit := func(id string) Change {
		f := zero(id)
		f.Symptom, f.Cause, f.Suspect, f.Tag, f.Sentence = symptom.GapDrift, cause.Unknown, cause.Undecided, "", "The limit is reached in 12 days."
		return Change{What: "opened", Finding: f, Limit: true}
	}
	for _, id := range []string{"d1", "d2"} { // two pairs see the same drift
		s.keep(s.b.Apply(s.now, limit(id)))
	}
	s.state("z1", Unacknowledged)
	if a := s.b.Alerts["z1"]; len(s.b.Alerts) != 1 || a.Cause != cause.TransmitterZero || a.Raises != 2 || a.Sentence != "The limit is reached in 12 days." || !a.Beyond {
		t.Errorf("alert %+v", a)
	}
	s.toldIs("raised z1", "raised z1")
	for _, f := range []cause.Finding{limit("d1").Finding, zero("z1"), limit("d2").Finding} {
		s.change("closed", f)
	}
	s.state("z1", Returned)
}

// TestALimitAloneIsAnAlert: where the comparison has none, the limit makes one,
// and what the comparison finds about it later joins.
func TestALimitAloneIsAnAlert(t *testing.T) {
	s := begin(t)
	f := zero("d1")
	f.Symptom, f.Cause, f.Suspect, f.Tag = symptom.GapDrift, cause.Unknown, cause.Undecided, ""
	s.keep(s.b.Apply(s.now, Change{What: "opened", Finding: f, Limit: true}))
	s.change("opened", zero("z1"))
	if a := s.b.Alerts["d1"]; len(s.b.Alerts) != 1 || len(a.Findings) != 2 || a.Cause != cause.TransmitterZero {
		t.Errorf("alerts %+v", s.b.Alerts)
	}
	s.toldIs("raised d1", "named d1")
}

func TestShelvedIsToldWhenTheShelfEnds(t *testing.T) {
	s := begin(t)
	s.change("opened", zero("z1"))
	s.act(Action{Verb: Shelve, Alert: "z1", Why: "spare ordered", Until: s.now.Add(8 * time.Hour)})
	s.wait(6*time.Hour + 23*time.Minute)
	s.toldIs("raised z1")
	s.wait(time.Minute) // 80 % of the shelf
	s.toldIs("raised z1", "ending z1")
	if h := s.journal[len(s.journal)-1].Hold; h == nil || h.By != "technician" {
		t.Errorf("it does not say who is to be reminded: %+v", h)
	}
	s.wait(time.Hour)
	s.toldIs("raised z1", "ending z1")
	s.wait(2 * time.Hour)
	s.toldIs("raised z1", "ending z1", "resumed z1")
	last := s.journal[len(s.journal)-1]
	if h := last.Hold; h == nil || h.By != "technician" || h.Why != "spare ordered" || !h.Until.Equal(noon.Add(8*time.Hour)) {
		t.Errorf("the entry must say until when and by whom it was quiet: %+v", last)
	}
}

func TestShelvedUntilClear(t *testing.T) {
	s := begin(t)
	s.change("opened", zero("z1"))
	s.act(Action{Verb: Shelve, Alert: "z1", Why: "known", UntilClear: true})
	s.change("closed", zero("z1"))
	if a := s.b.Alerts["z1"]; a.Shelf != nil || a.State != Returned {
		t.Errorf("alert %+v", a)
	}
	s.toldIs("raised z1")
	s.change("opened", zero("z2"))
	s.state("z1", Unacknowledged)
}

func TestSuppressedByDesign(t *testing.T) {
	s := begin(t)
	s.keep(s.b.Suppress(s.now, "LG-8", "chamber isolated", true))
	if e := s.b.Suppress(s.now, "LG-8", "chamber isolated", true); e != nil {
		t.Errorf("the same rule twice gave %v", e)
	}
	s.change("opened", zero("z1"))
	s.toldIs()
	if h, ok := s.b.Held(s.now, "z1"); !ok || h.What != "suppressed" || h.Name != "chamber isolated" {
		t.Errorf("held %+v", h)
	}
	s.state("z1", Unacknowledged) // evaluated and written down all the same
	s.keep(s.b.Suppress(s.now, "LG-8", "chamber isolated", false))
	s.toldIs("resumed z1")
}

func TestOutOfServiceStaysUntilItIsPutBack(t *testing.T) {
	s := begin(t)
	s.change("opened", zero("z1"))
	s.act(Action{Verb: OutOfService, Alert: "z1", Why: "transmitter at the workshop"})
	s.act(Action{Verb: Acknowledge, Alert: "z1"})
	s.change("closed", zero("z1"))
	s.wait(60 * 24 * time.Hour)
	s.change("opened", zero("z2"))
	s.toldIs("raised z1")
	if h, ok := s.b.Held(s.now, "z1"); !ok || h.What != "out of service" || len(s.b.Alerts) != 1 {
		t.Errorf("held %+v, alerts %+v", h, s.b.Alerts)
	}
	s.act(Action{Verb: BackInto, Alert: "z1"})
	s.toldIs("raised z1", "resumed z1")
}

func TestQuietWindow(t *testing.T) {
	s := begin(t)
	e, err := s.b.AddWindow(s.now, Window{ID: "turnaround", Areas: []string{"unit 2"}, Until: s.now.Add(24 * time.Hour), Reason: "vessel open", By: "planner"})
	if err != nil {
		t.Fatal(err)
	}
	s.keep(e)
	s.change("opened", zero("z1"))
	s.toldIs()
	if ids := s.b.Hidden(s.now, "turnaround"); len(ids) != 1 || ids[0] != "z1" {
		t.Errorf("hides %v", ids)
	}
	s.wait(20 * time.Hour)
	s.toldIs("ending ")
	s.wait(time.Hour)
	s.toldIs("ending ")
	s.wait(4 * time.Hour)
	s.toldIs("ending ", "resumed z1")
	if h := s.journal[len(s.journal)-1].Hold; h.By != "planner" || h.Name != "turnaround" {
		t.Errorf("hold %+v", h)
	}
}

func TestQuietWindowEndsWhenAllIsClear(t *testing.T) {
	s := begin(t)
	e, err := s.b.AddWindow(s.now, Window{ID: "w", Gauges: []string{"LG-8"}, Until: s.now.Add(24 * time.Hour), UntilClear: true, Reason: "known", By: "planner"})
	if err != nil {
		t.Fatal(err)
	}
	s.keep(e)
	s.wait(time.Hour)
	if w := s.b.Windows["w"]; !w.Ended.IsZero() {
		t.Error("a window that has kept nothing quiet yet must wait")
	}
	s.change("opened", zero("z1"))
	s.change("closed", zero("z1"))
	s.wait(time.Minute)
	if w := s.b.Windows["w"]; w.Ended.IsZero() {
		t.Errorf("window %+v goes on", w)
	}
	s.toldIs()
}

func TestWindowsOfTheConfiguration(t *testing.T) {
	s := begin(t)
	w := Window{ID: "turnaround", Areas: []string{"unit 2"}, From: noon, Until: noon.Add(48 * time.Hour), Reason: "open", By: "configuration"}
	s.keep(s.b.Configure(s.now, []Window{w}))
	if e := s.b.Configure(s.now, []Window{w}); len(e) != 0 {
		t.Errorf("the same configuration gave %v", e)
	}
	later := w
	later.Until = noon.Add(72 * time.Hour)
	s.keep(s.b.Configure(s.now, []Window{later}))
	if got := s.b.Windows["turnaround"]; !got.Until.Equal(later.Until) {
		t.Errorf("window %+v", got)
	}
	s.keep(s.b.Configure(s.now, nil))
	if got := s.b.Windows["turnaround"]; got.Ended.IsZero() {
		t.Error("a window no longer written goes on")
	}
}

func TestRefusals(t *testing.T) {
	s := begin(t)
	s.change("opened", zero("z1"))
	s.change("opened", stuck("f1"))
	s.act(Action{Verb: Acknowledge, Alert: "f1"})
	rows := []struct {
		name string
		do   Action
		says string
	}{
		{"unknown alert", Action{Verb: Acknowledge, Alert: "x", By: "a"}, "no such alert"},
		{"nobody", Action{Verb: Acknowledge, Alert: "z1"}, "say who"},
		{"acknowledged twice", Action{Verb: Acknowledge, Alert: "f1", By: "a"}, "technician has done so"},
		{"visit while present", Action{Verb: Visit, Alert: "f1", By: "a", Why: "looked"}, "still there"},
		{"empty comment", Action{Verb: AddComment, Alert: "z1", By: "a"}, "comment is empty"},
		{"shelf without reason", Action{Verb: Shelve, Alert: "z1", By: "a", Until: noon.Add(time.Hour)}, "needs a reason"},
		{"shelf without end", Action{Verb: Shelve, Alert: "z1", By: "a", Why: "w"}, "needs an end"},
		{"shelf in the past", Action{Verb: Shelve, Alert: "z1", By: "a", Why: "w", Until: noon.Add(-time.Hour)}, "in the past"},
		{"shelf of 31 days", Action{Verb: Shelve, Alert: "z1", By: "a", Why: "w", Until: noon.Add(31 * 24 * time.Hour)}, "at most 30"},
		{"unshelve what is not", Action{Verb: Unshelve, Alert: "z1", By: "a"}, "not shelved"},
		{"out of service without reason", Action{Verb: OutOfService, Alert: "z1", By: "a"}, "needs a reason"},
		{"back without having left", Action{Verb: BackInto, Alert: "z1", By: "a"}, "in service"},
		{"no verb", Action{Verb: "burn", Alert: "z1", By: "a"}, "nothing that can be done"},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			before := s.b.N
			_, err := s.b.Act(s.now, row.do)
			if err == nil || !strings.Contains(err.Error(), row.says) {
				t.Errorf("error %v does not say %q", err, row.says)
			}
			if s.b.N != before {
				t.Error("a refused action left an entry")
			}
		})
	}
	_, err := s.b.Act(s.now, Action{Verb: Acknowledge, Alert: "f1", By: "a"})
	var wrong *StateError
	if !errors.As(err, &wrong) || wrong.State != Acknowledged || wrong.Remedy == "" {
		t.Errorf("error %v is no StateError with state and remedy", err)
	}
}

func TestWindowsThatAreRefused(t *testing.T) {
	good := Window{Gauges: []string{"LG-8"}, From: noon, Until: noon.Add(time.Hour), Reason: "r", By: "a"}
	rows := []struct {
		name  string
		spoil func(*Window)
		says  string
	}{
		{"no author", func(w *Window) { w.By = " " }, "author"},
		{"no reason", func(w *Window) { w.Reason = "" }, "reason"},
		{"no end", func(w *Window) { w.Until = time.Time{} }, "needs an end"},
		{"backwards", func(w *Window) { w.Until = noon.Add(-time.Hour) }, "before it begins"},
		{"for a year", func(w *Window) { w.Until = noon.Add(365 * 24 * time.Hour) }, "at most 180"},
		{"about everything", func(w *Window) { w.Gauges = nil }, "about everything"},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			w := good
			row.spoil(&w)
			var b Book
			if _, err := b.AddWindow(noon, w); err == nil || !strings.Contains(err.Error(), row.says) {
				t.Errorf("error %v does not say %q", err, row.says)
			}
		})
	}
}

func TestLoad(t *testing.T) {
	s := begin(t)
	for i := range 3 {
		s.change("opened", zero("z"+string(rune('1'+i))))
		s.wait(time.Hour)
		s.act(Action{Verb: Acknowledge, Alert: "z1"})
		s.change("closed", zero("z"+string(rune('1'+i))))
		s.wait(time.Hour)
	}
	s.change("opened", stuck("f1"))
	s.act(Action{Verb: Shelve, Alert: "f1", Why: "w", UntilClear: true})
	s.wait(48 * time.Hour)
	l := s.b.LoadOf(s.journal, noon.Truncate(24*time.Hour), s.now, 10)
	if l.Open != 1 || len(l.Stale) != 1 || len(l.Shelved) != 1 || len(l.Chattering) != 1 || l.Chattering[0] != "z1" {
		t.Errorf("load %+v", l)
	}
	if l.Worst[0] != (Count{"LG-8", "transmitter-zero", 3}) || l.AckMedian != 3600 {
		t.Errorf("worst %+v, acknowledged after %g s", l.Worst, l.AckMedian)
	}
	sum := 0
	for _, d := range l.Days {
		sum += d.Raised
	}
	if want := 4 / s.now.Sub(noon.Truncate(24*time.Hour)).Hours() * 24; sum != 4 || cmp.Diff(want, l.PerDay) != "" {
		t.Errorf("%d raised on all days, %g per day, want 4 and %g", sum, l.PerDay, want)
	}
}
