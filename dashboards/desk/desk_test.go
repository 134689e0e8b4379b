package desk

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/compare/alert"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/symptom"
	"bridlewatch/dashboards/notify"
	"bridlewatch/dashboards/plant"
)

var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

// receiver keeps the messages a webhook brings.
type receiver struct {
	mu  sync.Mutex
	got []notify.Message
}

func (r *receiver) ServeHTTP(w http.ResponseWriter, req *http.Request) {
	text, _ := io.ReadAll(req.Body)
	var m notify.Message
	if json.Unmarshal(text, &m) != nil {
		w.WriteHeader(http.StatusBadRequest)
		return
	}
	r.mu.Lock()
	r.got = append(r.got, m)
	r.mu.Unlock()
}

// bench is a desk with its store, its route and a clock moved by hand.
type bench struct {
	*Desk
	t      *testing.T
	dir    string
	store  *embedded.DB
	outbox *notify.Outbox
	rec    *receiver
	server *httptest.Server
	now    time.Time
	stop   context.CancelFunc
	done   chan struct{}
}

func newBench(t *testing.T) *bench {
	b := &bench{t: t, dir: t.TempDir(), rec: &receiver{}, now: noon}
	b.server = httptest.NewServer(b.rec)
	t.Cleanup(b.server.Close)
	b.open()
	t.Cleanup(b.close)
	return b
}

func (b *bench) open() {
	b.t.Helper()
	var err error
	ctx, stop := context.WithCancel(context.Background())
	b.stop, b.done = stop, make(chan struct{})
	if b.store, err = embedded.Open(ctx, embedded.Options{Dir: b.dir}); err != nil {
		b.t.Fatal(err)
	}
	b.outbox, err = notify.Open(ctx, b.store, []notify.Setting{{Name: "ops", Kind: "webhook", URL: b.server.URL, Ended: true}}, slog.New(slog.DiscardHandler))
	if err != nil {
		b.t.Fatal(err)
	}
	b.Desk, err = Open(ctx, Options{
		Store: b.store, Outbox: b.outbox, Origin: notify.Origin{Site: "north", Box: "edge-1", ExternalURL: "https://box.example/"},
		Gauges: []Gauge{{Tag: "LG-7", Service: "drum", Area: "unit 2", Drift: 25 * quantity.Millimetre}}, Now: func() time.Time { return b.now },
	})
	if err != nil {
		b.t.Fatal(err)
	}
	done := b.done
	go func() { b.outbox.Run(ctx); close(done) }()
}

func (b *bench) close() {
	b.stop()
	<-b.done
	if err := b.store.Close(); err != nil {
		b.t.Error(err)
	}
}

func (b *bench) restart() { b.close(); b.open() }

func (b *bench) compare(open ...cause.Finding) {
	b.Compared(context.Background(), b.now, "LG-7", "failure", &gauge.Measurement{}, open)
}

// told waits until n messages have come and returns their events.
func (b *bench) told(n int) []string {
	b.t.Helper()
	var events []string
	for range 300 {
		b.rec.mu.Lock()
		events = events[:0]
		for _, m := range b.rec.got {
			events = append(events, string(m.Event))
		}
		b.rec.mu.Unlock()
		if len(events) >= n && len(b.outbox.Pending()) == 0 {
			break
		}
		time.Sleep(10 * time.Millisecond)
	}
	if len(events) != n {
		b.t.Fatalf("told %v, want %d messages", events, n)
	}
	return slices.Clone(events)
}

func stuck(id string) cause.Finding {
	return cause.Finding{ID: id, Gauge: "LG-7", Cause: cause.FloatStuck, Symptom: symptom.FloatStill, Suspect: cause.Float, Tag: "LI-7", Tier: cause.Alert,
		Sentence: "Float is probably stuck.", Evidence: []cause.Evidence{{Sentence: "Transmitter moved 184 mm."}}, Since: noon.Add(-time.Hour), Value: 0.184, Budget: 0.033}
}

func TestFromFindingToMessageAndBack(t *testing.T) {
	b := newBench(t)
	ctx := t.Context()
	b.Changed(ctx, b.now, "opened", stuck("f1"), "failure")
	b.told(1)
	m := b.rec.got[0]
	if m.Sentence != "Float is probably stuck." || m.Evidence[0] != "Transmitter moved 184 mm." || m.Link != "https://box.example/gauge/LG-7" || m.Alert != "f1" || m.Service != "drum" {
		t.Errorf("message %+v", m)
	}
	open, _ := b.Open(ctx)
	if len(open) != 1 || open[0].State != "unacknowledged" || open[0].Cause != "float stuck" {
		t.Fatalf("open %+v", open)
	}
	if _, err := b.Act(ctx, alert.Action{Verb: alert.Acknowledge, Alert: "f1", By: "technician", Why: "going there"}); err != nil {
		t.Fatal(err)
	}
	lines, err := b.Journal(ctx, noon.Add(-time.Hour), noon.Add(time.Hour), 10)
	if err != nil || len(lines) != 2 || lines[0].What != "acknowledged" || lines[0].By != "technician" || !strings.Contains(lines[0].Sentence, "going there") {
		t.Errorf("journal %+v, %v", lines, err)
	}
	a, comments, err := b.Alert(ctx, "f1")
	if err != nil || a.State != "acknowledged" || comments[0].Text != "going there" {
		t.Errorf("alert %+v %+v %v", a, comments, err)
	}
}

func TestARestartKeepsTheBookAndTellsNothing(t *testing.T) {
	b := newBench(t)
	ctx := t.Context()
	b.Changed(ctx, b.now, "opened", stuck("f1"), "failure")
	if _, err := b.AddWindow(ctx, alert.Window{ID: "w", Gauges: []string{"LG-7"}, Until: noon.Add(time.Hour), Reason: "known", By: "planner"}); err != nil {
		t.Fatal(err)
	}
	b.told(1)
	before := b.book
	for range 3 {
		b.restart()
		if d := cmp.Diff(before, b.book); d != "" {
			t.Fatalf("the book after a restart (-before +after):\n%s", d)
		}
		b.compare(stuck("f1"))
	}
	b.told(1)
}

// TestWhatWasMissedIsMadeUpFor: the detectors' state was written, the journal
// was not; and a finding that was lost with that state ends once the detectors
// have had a day to find it again.
func TestWhatWasMissedIsMadeUpFor(t *testing.T) {
	b := newBench(t)
	b.compare(stuck("f1"))
	b.told(1)
	b.restart()
	b.compare()
	if open, _ := b.Open(t.Context()); len(open) != 1 || !open[0].Returned.IsZero() {
		t.Fatalf("ended at once: %+v", open)
	}
	b.now = b.now.Add(25 * time.Hour)
	b.compare()
	if open, _ := b.Open(t.Context()); len(open) != 1 || open[0].Returned.IsZero() {
		t.Errorf("not ended after a day: %+v", open)
	}
	if got := b.told(2); got[1] != "cleared" {
		t.Errorf("told %v", got)
	}
}

// TestAMessageAKillLostIsSent: the journal was written, the outbox was not.
func TestAMessageAKillLostIsSent(t *testing.T) {
	b := newBench(t)
	b.options.Outbox = nil
	b.Changed(t.Context(), b.now, "opened", stuck("f1"), "failure")
	for range 2 {
		b.restart()
		b.told(1)
	}
}

func TestQuietUntilSomebodysWindowEnds(t *testing.T) {
	b := newBench(t)
	ctx := t.Context()
	if _, err := b.AddWindow(ctx, alert.Window{ID: "turnaround", Areas: []string{"unit 2"}, Until: noon.Add(time.Hour), Reason: "vessel open", By: "planner"}); err != nil {
		t.Fatal(err)
	}
	b.Changed(ctx, b.now, "opened", stuck("f1"), "failure")
	quiet, _ := b.Quiet(ctx)
	if len(quiet) != 1 || quiet[0].Quiet != "quiet window" || quiet[0].QuietBy != "planner" || quiet[0].Why != "vessel open" {
		t.Errorf("quiet %+v", quiet)
	}
	if w, _ := b.Windows(ctx); len(w) != 1 || !w[0].Active || w[0].Hides[0] != "LG-7: float stuck" {
		t.Errorf("windows %+v", w)
	}
	b.now = b.now.Add(50 * time.Minute)
	b.compare(stuck("f1"))
	b.told(1)
	if m := b.rec.got[0]; m.Event != notify.Ending || m.For != "planner" || m.Area != "unit 2" || m.Title() != "Quiet ends soon, for planner" ||
		m.Sentence != "The quiet window turnaround about areas unit 2 ends at 2026-03-02 13:00 +00:00. It was set by planner (vessel open). It keeps quiet now: LG-7: float stuck" {
		t.Errorf("reminder %+v", m)
	}
	if _, err := b.AddWindow(ctx, alert.Window{Causes: []string{"float-stuk"}, Until: noon.Add(2 * time.Hour), Reason: "x", By: "planner"}); err == nil || !strings.Contains(err.Error(), "float-stuk") {
		t.Errorf("a cause that is none: %v", err)
	}
	b.now = b.now.Add(70 * time.Minute)
	b.compare(stuck("f1"))
	b.told(2)
	if q := b.rec.got[1].Quiet; q != "Was quiet until 2026-03-02 13:00 +00:00 by planner: quiet window turnaround (vessel open)." {
		t.Errorf("quiet %q", q)
	}
}

func TestIsolatedChamberIsSuppressedByDesign(t *testing.T) {
	b := newBench(t)
	ctx := t.Context()
	b.Compared(ctx, b.now, "LG-7", "function check", &gauge.Measurement{Isolated: true}, nil)
	b.Changed(ctx, b.now, "opened", stuck("f1"), "failure")
	if quiet, _ := b.Quiet(ctx); len(quiet) != 1 || quiet[0].Quiet != "suppressed" || quiet[0].Why != "chamber isolated" {
		t.Errorf("quiet %+v", quiet)
	}
	b.now = b.now.Add(time.Minute)
	b.compare(stuck("f1"))
	b.told(1)
}

func TestAGaugeUnderTestIsSuppressedByDesign(t *testing.T) {
	b := newBench(t)
	under := true
	b.options.UnderTest = func(context.Context, time.Time) (map[string]bool, error) { return map[string]bool{"LG-7": under}, nil }
	b.compare()
	b.Changed(t.Context(), b.now, "opened", stuck("f1"), "failure")
	if quiet, _ := b.Quiet(t.Context()); len(quiet) != 1 || quiet[0].Why != "test in progress" {
		t.Errorf("quiet %+v", quiet)
	}
	under = false
	b.now = b.now.Add(2 * time.Minute)
	b.compare(stuck("f1"))
	b.told(1)
}

// TestDriftBecomesAnAlertAcrossRestarts feeds 60 days of a gap that grows by
// 1 mm a day from day 20 on, with a restart every ten days.
func TestDriftBecomesAnAlertAcrossRestarts(t *testing.T) {
	b := newBench(t)
	for hour := range 60 * 24 {
		b.now = noon.Add(time.Duration(hour) * time.Hour)
		if hour%240 == 239 {
			b.restart()
		}
		var m gauge.Measurement
		m.Gaps[gauge.FloatTransmitter] = gauge.Gap{Value: quantity.Length(max(0, hour-480)) / 24 * quantity.Millimetre, Budget: 0.015, OK: true}
		b.Compared(t.Context(), b.now, "LG-7", "good", &m, nil)
	}
	open, _ := b.Open(t.Context())
	if len(open) != 1 || open[0].Cause != "gap drift" || !strings.Contains(open[0].Sentence, "25 mm are allowed") {
		t.Fatalf("open %+v", open)
	}
	b.told(1)
	if days := open[0].Raised.Sub(noon).Hours() / 24; days < 28 || days > 46 {
		t.Errorf("raised on day %.0f, want before the limit of 25 mm on day 45", days)
	}
}

// TestADriftNearItsLimitIsRaisedAgain: the comparison said early that the gap
// drifts, somebody acknowledged it; weeks later the limit is near.
func TestADriftNearItsLimitIsRaisedAgain(t *testing.T) {
	b := newBench(t)
	early := stuck("c1")
	early.Cause, early.Suspect, early.Tag, early.Symptom = cause.TransmitterDrift, cause.Transmitter, "LT-7", symptom.GapDrift
	for hour := range 55 * 24 {
		b.now = noon.Add(time.Duration(hour) * time.Hour)
		var open []cause.Finding
		if hour >= 27*24 {
			open = append(open, early)
		}
		if hour == 27*24 {
			b.Changed(t.Context(), b.now, "opened", early, "out of specification")
			if _, err := b.Act(t.Context(), alert.Action{Verb: alert.Acknowledge, Alert: "c1", By: "technician"}); err != nil {
				t.Fatal(err)
			}
		}
		var m gauge.Measurement
		m.Gaps[gauge.FloatTransmitter] = gauge.Gap{Value: quantity.Length(max(0, hour-480)) / 24 * quantity.Millimetre, Budget: 0.015, OK: true}
		b.Compared(t.Context(), b.now, "LG-7", "out of specification", &m, open)
	}
	open, _ := b.Open(t.Context())
	if len(open) != 1 || open[0].State != "unacknowledged" || open[0].Cause != "transmitter drifting" || open[0].Raises != 2 || !strings.Contains(open[0].Sentence, "25 mm are allowed") {
		t.Fatalf("open %+v", open)
	}
	if got := b.told(2); got[1] != "raised" {
		t.Errorf("told %v", got)
	}
}

// TestManyAtOnce has comparison, people and pages at the desk at the same time,
// for the race detector.
func TestManyAtOnce(t *testing.T) {
	b := newBench(t)
	ctx := t.Context()
	b.Changed(ctx, b.now, "opened", stuck("f1"), "failure")
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			for range 20 {
				b.compare(stuck("f1"))
				if _, err := b.Act(ctx, alert.Action{Verb: alert.AddComment, Alert: "f1", By: "a", Why: "b"}); err != nil {
					t.Error(err)
				}
				_, _ = b.Open(ctx)
				_, _ = b.Windows(ctx)
				_, _ = b.Load(ctx, 1)
			}
		})
	}
	all.Wait()
	b.told(1)
	if _, comments, _ := b.Alert(ctx, "f1"); len(comments) != 50 {
		t.Errorf("%d comments are kept, want the newest 50", len(comments))
	}
}

func TestLoadAndRoutes(t *testing.T) {
	b := newBench(t)
	ctx := t.Context()
	b.Changed(ctx, b.now, "opened", stuck("f1"), "failure")
	b.told(1)
	b.now = b.now.Add(time.Hour)
	l, err := b.Load(ctx, 7)
	if err != nil || l.Open != 1 || len(l.Worst) != 1 || l.Worst[0].Cause != "float-stuck" {
		t.Errorf("load %+v, %v", l, err)
	}
	if err := b.Trial(ctx, "ops", "technician"); err != nil {
		t.Error(err)
	}
	if err := b.Trial(ctx, "nowhere", "technician"); err == nil || !strings.Contains(err.Error(), `no route "nowhere"`) {
		t.Errorf("trial of an unknown route: %v", err)
	}
	r, _ := b.Routes(ctx)
	if len(r) != 1 || r[0].Sent != 2 || r[0].Error != "" || r[0].Delivered.IsZero() || r[0].Kind != "webhook" {
		t.Errorf("routes %+v", r)
	}
}

func TestWindowsNameWhatIsThere(t *testing.T) {
	b := newBench(t)
	rows := []struct {
		name string
		w    alert.Window
		says string
	}{
		{"unknown gauge", alert.Window{Gauges: []string{"LG-9"}}, "there is no gauge LG-9"},
		{"unknown area", alert.Window{Areas: []string{"moon"}}, "no gauge stands"},
		{"no reason", alert.Window{Gauges: []string{"LG-7"}, By: "a"}, "reason"},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			if _, err := b.AddWindow(t.Context(), row.w); err == nil || !strings.Contains(err.Error(), row.says) {
				t.Errorf("error %v does not say %q", err, row.says)
			}
		})
	}
}

func TestStatesAreInTheStore(t *testing.T) {
	b := newBench(t)
	b.Changed(t.Context(), b.now, "opened", stuck("f1"), "failure")
	docs, err := b.store.Documents(t.Context(), store.Query{Kind: AlertKind, Latest: true})
	if err != nil || len(docs) != 1 || docs[0].ID != "f1" || docs[0].Gauge != "LG-7" {
		t.Fatalf("documents %+v, %v", docs, err)
	}
	var a alert.Alert
	if err := json.Unmarshal(docs[0].Body, &a); err != nil || a.State != alert.Unacknowledged || a.Raises != 1 {
		t.Errorf("alert %+v, %v", a, err)
	}
}

func TestTheBookIsCopiedNowAndThen(t *testing.T) {
	b := newBench(t)
	b.Changed(t.Context(), b.now, "opened", stuck("f1"), "failure")
	for range copyEvery + 10 {
		if _, err := b.Act(t.Context(), alert.Action{Verb: alert.AddComment, Alert: "f1", By: "a", Why: "still there"}); err != nil {
			t.Fatal(err)
		}
	}
	before := b.book
	b.restart()
	if d := cmp.Diff(before, b.book); d != "" || b.copied == 0 {
		t.Errorf("copied at %d; the book after a restart:\n%s", b.copied, d)
	}
}

var _ plant.Desk = (*Desk)(nil)

// failing is a store that takes nothing while it is full.
type failing struct {
	store.Store
	full bool
}

func (f *failing) Put(ctx context.Context, d store.Document) (int64, error) {
	if f.full {
		return 0, store.ErrFull
	}
	return f.Store.Put(ctx, d)
}

// TestAFullDiskLeavesNoHoleInTheJournal: people act while nothing can be
// written; once it can, everything is.
func TestAFullDiskLeavesNoHoleInTheJournal(t *testing.T) {
	b := newBench(t)
	f := &failing{Store: b.store}
	b.options.Store = f
	ctx := t.Context()
	b.Changed(ctx, b.now, "opened", stuck("f1"), "failure")
	f.full = true
	if _, err := b.Act(ctx, alert.Action{Verb: alert.Acknowledge, Alert: "f1", By: "technician"}); err != nil {
		t.Fatal(err)
	}
	if open, _ := b.Open(ctx); open[0].State != "acknowledged" {
		t.Errorf("open %+v", open)
	}
	f.full = false
	if _, err := b.Act(ctx, alert.Action{Verb: alert.AddComment, Alert: "f1", By: "technician", Why: "there"}); err != nil {
		t.Fatal(err)
	}
	before := b.book
	b.restart()
	if d := cmp.Diff(before, b.book); d != "" {
		t.Errorf("the book after a restart:\n%s", d)
	}
}

// TestWhatADiskRefusedIsWrittenByItself: nobody acts once there is room, or the
// service stops before anybody does.
func TestWhatADiskRefusedIsWrittenByItself(t *testing.T) {
	for name, later := range map[string]func(*bench) error{
		"a tick": func(b *bench) error {
			b.Compared(t.Context(), b.now.Add(time.Minute), "LG-7", "failure", &gauge.Measurement{}, []cause.Finding{stuck("f1")})
			return nil
		},
		"the end": func(b *bench) error { return b.Close(t.Context()) },
	} {
		b := newBench(t)
		f := &failing{Store: b.store, full: true}
		b.options.Store = f
		b.Changed(t.Context(), b.now, "opened", stuck("f1"), "failure")
		if name == "the end" {
			if err := later(b); !errors.Is(err, store.ErrFull) {
				t.Errorf("closed on a full disk: %v, want ErrFull", err)
			}
		}
		f.full = false
		if err := later(b); err != nil {
			t.Fatal(name, err)
		}
		if docs, err := b.store.Documents(t.Context(), store.Query{Kind: EntryKind}); err != nil || len(docs) == 0 {
			t.Errorf("%s: %d entries in the journal, error %v", name, len(docs), err)
		}
	}
}

// TestTheNewestWordsAreShown: while an alert stands its evidence goes on, and a
// cause that is found is told.
func TestTheNewestWordsAreShown(t *testing.T) {
	b := newBench(t)
	f := stuck("f1")
	f.Cause, f.Suspect = cause.Unknown, cause.Undecided
	b.Changed(t.Context(), b.now, "opened", f, "failure")
	b.Changed(t.Context(), b.now, "upgraded", stuck("f1"), "failure")
	later := stuck("f1")
	later.Sentence = "Float has not moved for 20 h."
	b.now = b.now.Add(20 * time.Hour)
	b.compare(later)
	if open, _ := b.Open(t.Context()); open[0].Sentence != later.Sentence {
		t.Errorf("shown %q", open[0].Sentence)
	}
	if got := b.told(2); got[1] != "named" {
		t.Errorf("told %v", got)
	}
}

// BenchmarkCompared is what the desk costs for each gauge and scan while
// nothing happens.
func BenchmarkCompared(b *testing.B) {
	s, err := embedded.Open(b.Context(), embedded.Options{Dir: b.TempDir()})
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	d, err := Open(b.Context(), Options{Store: s, Gauges: []Gauge{{Tag: "LG-7", Drift: 25 * quantity.Millimetre}}, Now: func() time.Time { return noon }})
	if err != nil {
		b.Fatal(err)
	}
	var m gauge.Measurement
	m.Gaps[gauge.FloatTransmitter] = gauge.Gap{Budget: 0.015, OK: true}
	b.ReportAllocs()
	for b.Loop() {
		d.Compared(b.Context(), noon, "LG-7", "good", &m, nil)
	}
}
