package records

import (
	"context"
	"encoding/json"
	"errors"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/compare"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/record"
	"bridlewatch/dashboards/plant/planttest"
)

var zone = time.FixedZone("UTC-6", -6*3600)

// told is what the comparison was told of.
type told struct {
	mu    sync.Mutex
	works []compare.Work
}

func (t *told) post(_ string, w compare.Work) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.works = append(t.works, w)
	return nil
}

func book(t testing.TB) (*Book, *planttest.Memory, *told) {
	t.Helper()
	m, heard := planttest.NewMemory(), &told{}
	return NewBook(Options{Store: m, Plant: planttest.Varied(), Location: zone, Software: "test", Post: heard.post}), m, heard
}

func cleaned() record.Record {
	return record.Record{Kind: record.FloatCleaned, Gauge: "LG-102", Instrument: "LI-102", By: "R. Tester", Work: "Scale removed from the float."}
}

func must(t *testing.T, b *Book, r record.Record) Entry {
	t.Helper()
	e, err := b.Add(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func TestAddNumbersChainsAndTells(t *testing.T) {
	b, _, heard := book(t)
	first, second := must(t, b, cleaned()), must(t, b, record.Record{Kind: record.Inspection, Gauge: "LG-101", By: "R. Tester", Work: "Looked at it."})
	if first.Number != 1 || second.Number != 2 || second.Previous != 1 || second.PreviousHash != first.Hash {
		t.Errorf("%d, %d after %d with %s", first.Number, second.Number, second.Previous, second.PreviousHash)
	}
	if first.Site == "" || first.Configuration == "" || first.Software != "test" || first.Service == "" {
		t.Errorf("not completed: %+v", first.Record)
	}
	if _, offset := first.At.Zone(); offset != -6*3600 {
		t.Errorf("done at %s, want the offset of the plant", first.At)
	}
	if len(heard.works) != 1 || heard.works[0].Kind != compare.WorkRepaired || heard.works[0].Tag != "LI-102" {
		t.Errorf("told %+v, want one repair of LI-102", heard.works)
	}
	back, err := b.Get(t.Context(), 1)
	if err != nil || back.Hash != first.Hash || back.Work != first.Work {
		t.Errorf("%+v, %v", back, err)
	}
	if n, hash, err := b.Verify(t.Context()); n != 2 || hash != second.Hash || err != nil {
		t.Errorf("%d %s %v", n, hash, err)
	}
}

func TestAddRefuses(t *testing.T) {
	for _, c := range []struct {
		name, field string
		spoil       func(*record.Record)
	}{
		{"gauge of another plant", "gauge", func(r *record.Record) { r.Gauge = "LG-999" }},
		{"instrument of another gauge", "instrument", func(r *record.Record) { r.Instrument = "LI-101" }},
		{"correction of nothing", "corrects", func(r *record.Record) { r.Corrects = 7 }},
		{"nobody", "by", func(r *record.Record) { r.By = "" }},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, _, heard := book(t)
			r := cleaned()
			c.spoil(&r)
			_, err := b.Add(t.Context(), r)
			var p record.Problems
			if !errors.As(err, &p) || p.Of(c.field) == "" {
				t.Errorf("error %v, want one about %s", err, c.field)
			}
			if n, _, _ := b.Verify(t.Context()); n != 0 || len(heard.works) != 0 {
				t.Error("it was booked or told all the same")
			}
		})
	}
}

func TestReadOnlyBookTakesNothing(t *testing.T) {
	b, _, _ := book(t)
	b.ReadOnly = true
	if _, err := b.Add(t.Context(), cleaned()); !errors.Is(err, ErrReadOnly) {
		t.Error(err)
	}
	g, _ := b.Plant.Gauge("LG-101")
	if _, err := b.Begin(t.Context(), g, start()); !errors.Is(err, ErrReadOnly) {
		t.Error(err)
	}
}

// Numbers have no gap and no double, however many people write at once.
func TestNumbersUnderLoad(t *testing.T) {
	b, _, _ := book(t)
	var writers sync.WaitGroup
	for range 8 {
		writers.Go(func() {
			for range 10 {
				if _, err := b.Add(t.Context(), cleaned()); err != nil {
					t.Error(err)
				}
			}
		})
	}
	writers.Wait()
	if n, _, err := b.Verify(t.Context()); n != 80 || err != nil {
		t.Errorf("%d hold: %v", n, err)
	}
}

// tampered hands out a document other than the one that was stored.
type tampered struct {
	store.Store
	id string
}

func (s tampered) Documents(ctx context.Context, q store.Query) ([]store.Document, error) {
	docs, err := s.Store.Documents(ctx, q)
	for i := range docs {
		if docs[i].Kind == Kind && docs[i].ID == s.id {
			docs[i].Body = []byte(strings.Replace(string(docs[i].Body), "R. Tester", "S. Other", 1))
		}
	}
	return docs, err
}

func TestChangedRecordIsFound(t *testing.T) {
	b, m, _ := book(t)
	for range 4 {
		must(t, b, cleaned())
	}
	for i := 1; i < 4; i++ {
		b.Store = tampered{m, strconv.Itoa(i)}
		n, _, err := b.Verify(t.Context())
		if !errors.Is(err, record.ErrChain) || n != i || !strings.Contains(err.Error(), strconv.Itoa(i)+" was changed") {
			t.Errorf("record %d changed: %d hold, %v", i, n, err)
		}
	}
}

func TestListAndDue(t *testing.T) {
	b, _, _ := book(t)
	must(t, b, cleaned())
	must(t, b, verified("LG-101", planttest.Now.Add(-90*24*time.Hour)))
	must(t, b, verified("LG-101", planttest.Now.Add(-30*24*time.Hour)))
	must(t, b, verified("LG-102", planttest.Now.Add(-400*24*time.Hour)))
	for _, c := range []struct {
		name string
		f    Filter
		want []int
	}{
		{"all, newest first", Filter{}, []int{4, 3, 2, 1}},
		{"one gauge", Filter{Gauge: "LG-101"}, []int{3, 2}},
		{"one kind", Filter{Kind: record.FloatCleaned}, []int{1}},
		{"a part of a name", Filter{By: "tester"}, []int{1}},
		{"a period", Filter{From: planttest.Now.Add(-100 * 24 * time.Hour)}, []int{3, 2, 1}},
		{"the newest two", Filter{Limit: 2}, []int{4, 3}},
	} {
		t.Run(c.name, func(t *testing.T) {
			list, err := b.List(t.Context(), c.f)
			var got []int
			for _, e := range list {
				got = append(got, e.Number)
			}
			if err != nil || len(got) != len(c.want) {
				t.Fatalf("%v, want %v (%v)", got, c.want, err)
			}
			for i := range got {
				if got[i] != c.want[i] {
					t.Fatalf("%v, want %v", got, c.want)
				}
			}
		})
	}
	due, err := b.Due(t.Context())
	if err != nil || len(due) != 12 {
		t.Fatalf("%d gauges, %v", len(due), err)
	}
	if due[0].Last != nil || due[10].Gauge != "LG-102" || due[11].Gauge != "LG-101" || due[11].Last.Number != 3 {
		t.Errorf("order: %s … %s, %s", due[0].Gauge, due[10].Gauge, due[11].Gauge)
	}
}

// Where the configuration says how often, the gauges are due by that and by
// nothing else.
func TestDueByWhatTheUserHasDecided(t *testing.T) {
	plant := planttest.Varied()
	b := NewBook(Options{Store: planttest.NewMemory(), Plant: plant, Location: zone, Software: "test"})
	for _, g := range plant.Gauges() {
		days := map[string]int{"LG-101": 365, "LG-102": 30, "LG-103": 90}[g.Sheet.Tag]
		if days > 0 {
			sheet := *g.Sheet
			sheet.Limits.VerifyDays, g.Sheet = days, &sheet
			plant.Set(g)
		}
	}
	at := planttest.Now.AddDate(0, 0, -40)
	must(t, b, verified("LG-101", at))
	must(t, b, verified("LG-102", at))
	due, err := b.Due(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if due[0].Gauge != "LG-103" || due[1].Gauge != "LG-102" || due[2].Gauge != "LG-101" || due[3].Every != 0 {
		t.Errorf("order %s, %s, %s, %s", due[0].Gauge, due[1].Gauge, due[2].Gauge, due[3].Gauge)
	}
	now := planttest.Now
	if !due[0].Overdue(now) || !due[1].Overdue(now) || due[2].Overdue(now) || due[3].Overdue(now) || !due[1].Next.Equal(at.AddDate(0, 0, 30)) {
		t.Errorf("due %+v", due[:4])
	}
}

func verified(gauge string, at time.Time) record.Record {
	return record.Record{Kind: record.Verification, Gauge: gauge, By: "A. Person", Work: "Checked.", At: at,
		Reference: &record.Reference{Description: "sight glass", U: 0.003},
		Rows:      []record.Row{{Phase: record.AsFound, At: at, Reference: 0.5, Readings: []record.Reading{{Tag: "LI", Value: 0.501, Verdict: record.Judge(0.001, 0.003, 0.01)}}}}}
}

// What was booked while the detectors did not remember it is told again after
// a restart, oldest first; what they remember is not.
func TestResumeTellsWhatWasForgotten(t *testing.T) {
	b, _, heard := book(t)
	must(t, b, record.Record{Kind: record.Isolated, Gauge: "LG-102", By: "R. Tester", Work: "Valves shut."})
	must(t, b, record.Record{Kind: record.Returned, Gauge: "LG-102", By: "R. Tester", Work: "Valves open."})
	heard.works = nil
	if err := b.Resume(t.Context(), func(string) time.Time { return planttest.Now.Add(time.Hour) }); err != nil || len(heard.works) != 0 {
		t.Errorf("told %v, %v", heard.works, err)
	}
	if err := b.Resume(t.Context(), func(string) time.Time { return planttest.Now.Add(-time.Minute) }); err != nil {
		t.Fatal(err)
	}
	if len(heard.works) != 2 || heard.works[0].Kind != compare.WorkIsolated || heard.works[1].Kind != compare.WorkReturned {
		t.Errorf("told %+v", heard.works)
	}
}

func start() Start {
	return Start{Kind: record.DrainTest, By: "R. Tester", Permit: "P-17", Method: "drained in steps",
		Reference: record.Reference{Description: "sight glass and steel rule", Serial: "S-4", Due: "2027-03-31", U: 0.004}, TripsMay: 0.010, Confirmed: true, Isolate: true}
}

func TestBeginAsksForWhatMatters(t *testing.T) {
	for _, c := range []struct {
		field string
		spoil func(*Start)
	}{
		{"kind", func(s *Start) { s.Kind = record.Note }}, {"by", func(s *Start) { s.By = "" }}, {"reference", func(s *Start) { s.Reference.Description = "" }},
		{"reference_u", func(s *Start) { s.Reference.U = 0 }}, {"reference_due", func(s *Start) { s.Reference.Due = "March" }},
		{"trips_may", func(s *Start) { s.TripsMay = 0 }}, {"allowed", func(s *Start) { s.Allowed = -1 }}, {"confirmed", func(s *Start) { s.Confirmed = false }},
	} {
		t.Run(c.field, func(t *testing.T) {
			b, _, _ := book(t)
			g, _ := b.Plant.Gauge("LG-101")
			s := start()
			c.spoil(&s)
			_, err := b.Begin(t.Context(), g, s)
			var p record.Problems
			if !errors.As(err, &p) || p.Of(c.field) == "" {
				t.Errorf("error %v", err)
			}
			if _, err := b.Draft(t.Context(), "LG-101"); !errors.Is(err, ErrNoDraft) {
				t.Errorf("a test is under way all the same: %v", err)
			}
		})
	}
}

// A guided test is left at any step and resumed by another instance on the
// same store, as after a restart or from another device.
func TestDraftIsResumed(t *testing.T) {
	b, m, heard := book(t)
	again := func() *Book {
		return NewBook(Options{Store: m, Plant: b.Plant, Location: zone, Software: "test", Post: heard.post})
	}
	ctx := t.Context()
	g, _ := b.Plant.Gauge("LG-101")
	d, err := b.Begin(ctx, g, start())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := again().Begin(ctx, g, start()); !errors.Is(err, ErrUnder) {
		t.Errorf("a second test began: %v", err)
	}
	next, ok := d.Next()
	if !ok {
		t.Fatal("no elevation is suggested")
	}
	if d, err = again().Take(ctx, g, d.Seq, Stop{Phase: record.AsFound, Asked: next.At, Reference: next.At - 0.002}); err != nil {
		t.Fatal(err)
	}
	second, _ := d.Next()
	if second == next {
		t.Error("the next elevation is the one that was done")
	}
	elsewhere := *d
	elsewhere.Record.Rows = append(elsewhere.Record.Rows, record.Row{Phase: record.AsFound, Asked: second.At, Reference: second.At - 0.2})
	if after, _ := elsewhere.Next(); after != second {
		t.Error("an elevation counts as done though the level stood elsewhere")
	}
	if _, err := again().Take(ctx, g, d.Seq-1, Stop{Phase: record.AsFound, Reference: 0.5}); !errors.Is(err, ErrMoved) {
		t.Errorf("an outdated page changed the test: %v", err)
	}
	up := quantity.Length(0.787)
	if _, err = again().Switch(ctx, g, d.Seq, Switched{Phase: record.AsFound, Tag: "LSH-101", Rising: &up}); err != nil {
		t.Fatal(err)
	}
	d, err = again().Draft(ctx, "LG-101")
	if err != nil || len(d.Record.Rows) != 1 || len(d.Record.Trips) != 1 {
		t.Fatalf("resumed %+v, %v", d, err)
	}
	e, err := again().Finish(ctx, g, d.Seq, End{Work: "Drained from 950 to 50 mm.", Witness: "W. Person", Return: true, NotTested: []string{"low-low trip"}})
	if err != nil {
		t.Fatal(err)
	}
	if e.Number != 2 || len(e.Rows) != 1 || e.Sheet == nil || e.Picture == nil || len(e.Budgets) == 0 || e.Conditions == nil {
		t.Errorf("record %d: %d rows, sheet %v, picture %v, %d budgets", e.Number, len(e.Rows), e.Sheet != nil, e.Picture != nil, len(e.Budgets))
	}
	text := strings.Join(e.NotTested, "\n")
	if !strings.Contains(text, "LSH-101: falling") || !strings.Contains(text, "low-low trip") {
		t.Errorf("not tested: %s", text)
	}
	if _, err := again().Draft(ctx, "LG-101"); !errors.Is(err, ErrNoDraft) {
		t.Errorf("the test is still under way: %v", err)
	}
	if n, _, err := b.Verify(ctx); n != 3 || err != nil {
		t.Errorf("%d records hold, want isolated, drain test, back in service: %v", n, err)
	}
	if kinds := []compare.WorkKind{heard.works[0].Kind, heard.works[1].Kind}; kinds[0] != compare.WorkIsolated || kinds[1] != compare.WorkReturned {
		t.Errorf("told %v", kinds)
	}
}

func TestTakeRefusesWhatCannotBe(t *testing.T) {
	b, _, _ := book(t)
	g, _ := b.Plant.Gauge("LG-101")
	d, err := b.Begin(t.Context(), g, start())
	if err != nil {
		t.Fatal(err)
	}
	_, err = b.Take(t.Context(), g, d.Seq, Stop{Phase: record.AsFound, Reference: 1.3})
	var p record.Problems
	if !errors.As(err, &p) || !strings.Contains(p.Of("reference_level"), "-330 to 1200 mm") {
		t.Errorf("1300 mm of a chamber of 1000 mm: %v", err)
	}
}

// Instruments nobody can read are in the record with the reason.
func TestStaleGaugeIsRecordedAsMissing(t *testing.T) {
	b, _, _ := book(t)
	g, _ := b.Plant.Gauge("LG-103")
	d, err := b.Begin(t.Context(), g, start())
	if err != nil {
		t.Fatal(err)
	}
	if d, err = b.Take(t.Context(), g, d.Seq, Stop{Phase: record.AsFound, Reference: 0.5}); err != nil {
		t.Fatal(err)
	}
	for _, r := range d.Record.Rows[0].Readings {
		if r.Missing == "" || r.Finding != record.CannotSay {
			t.Errorf("%+v", r)
		}
	}
	if d.Record.Picture != nil {
		t.Error("a stale gauge was drawn as if it lived")
	}
}

// Every gauge the pages can show can be tested, and gives a record that can be
// stored.
func TestEveryFixtureCanBeTested(t *testing.T) {
	b, _, _ := book(t)
	for _, g := range b.Plant.Gauges() {
		t.Run(g.Sheet.Tag, func(t *testing.T) {
			d, err := b.Begin(t.Context(), g, start())
			if err != nil {
				t.Fatal(err)
			}
			if _, err = b.Take(t.Context(), g, d.Seq, Stop{Phase: record.AsLeft, Reference: 0.4}); err != nil {
				t.Fatal(err)
			}
			e, err := b.Finish(t.Context(), g, 0, End{Work: "Tested."})
			if err != nil {
				t.Fatal(err)
			}
			if !json.Valid(e.Body) {
				t.Error("not JSON")
			}
			if _, err := PDF(e, metric()); err != nil {
				t.Error(err)
			}
		})
	}
}

func TestSuggest(t *testing.T) {
	s := planttest.Sheet("LG-101")
	down, up := Suggest(s, false), Suggest(s, true)
	if len(down) != 7 || len(up) != len(down) {
		t.Fatalf("%d elevations down, %d up", len(down), len(up))
	}
	for i := range down {
		if i > 0 && down[i-1].At-down[i].At < apart {
			t.Errorf("%.0f mm after %.0f mm on the way down", down[i].At.Millimetres(), down[i-1].At.Millimetres())
		}
		if up[len(up)-1-i] != down[i] {
			t.Error("the way up is not the way down reversed")
		}
		if down[i].At <= 0 || down[i].At >= s.Chamber.CentreToCentre || down[i].Why == "" {
			t.Errorf("%+v", down[i])
		}
	}
}

// swing records a level that rises through the trip point of LSH-101 and falls
// again, with the float 2 mm below the transmitter.
func swing(t *testing.T, m *planttest.Memory, from time.Time) {
	t.Helper()
	ctx := t.Context()
	ids, err := m.Register(ctx, []store.Series{
		{Gauge: "LG-101", Name: "point.LSH-101", Class: store.Derived}, {Gauge: "LG-101", Name: "level.transmitter", Class: store.Derived, Unit: "m"},
		{Gauge: "LG-101", Name: "u.transmitter", Class: store.Derived, Unit: "m"}, {Gauge: "LG-101", Name: "level.float", Class: store.Derived, Unit: "m"},
		{Gauge: "LG-101", Name: "u.float", Class: store.Derived, Unit: "m"},
	})
	if err != nil {
		t.Fatal(err)
	}
	for i := range 200 {
		level, wet := 0.700+0.001*float64(i), 0.0
		if i > 100 {
			level = 0.800 - 0.001*float64(i-100)
		}
		if level >= 0.7865 || i > 100 && level > 0.7735 {
			wet = 1
		}
		scan := store.Scan{Time: from.Add(time.Duration(i) * time.Second)}
		for k, v := range []float64{wet, level + 0.002, 0.003, level, 0.004} {
			scan.Values = append(scan.Values, store.Value{ID: ids[k], Value: v, Quality: 4})
		}
		if err := m.Append(ctx, scan); err != nil {
			t.Fatal(err)
		}
	}
}

// A switch that changes in history is offered with the level of an instrument
// it does not hang on.
func TestChangesAreFoundInHistory(t *testing.T) {
	m := planttest.NewMemory()
	from := planttest.Now.Add(-time.Hour)
	swing(t, m, from)
	seen, err := Changes(t.Context(), m, planttest.Sheet("LG-101"), from, planttest.Now)
	if err != nil || len(seen) != 2 {
		t.Fatalf("%d switches, %v", len(seen), err)
	}
	if seen[0].Rising != nil || seen[0].Falling != nil {
		t.Errorf("LSL-101 never moved, but %+v", seen[0])
	}
	high := seen[1]
	if high.Rising == nil || high.Falling == nil || high.Rising.Witness != "LT-101" {
		t.Fatalf("%+v", high)
	}
	if up, down := high.Rising.Level.Millimetres(), high.Falling.Level.Millimetres(); up < 788 || up > 789.1 || down < 775 || down > 776.1 {
		t.Errorf("changed at %.2f and %.2f mm by the transmitter", up, down)
	}
	if u := high.Rising.U.Millimetres(); u < 6 || u > 6.1 {
		t.Errorf("U %.3f mm, want twice the root of 3² and 1²/12", u)
	}
}

// What the service saw can be taken into the test instead of levels written by
// hand.
func TestSeenChangeIsRecorded(t *testing.T) {
	b, m, _ := book(t)
	from := planttest.Now.Add(-time.Hour)
	swing(t, m, from)
	g, _ := b.Plant.Gauge("LG-101")
	if _, err := b.Begin(t.Context(), g, start()); err != nil {
		t.Fatal(err)
	}
	seen := Switched{Phase: record.AsFound, Tag: "LSH-101", FromHistory: true}
	var p record.Problems
	if _, err := b.Switch(t.Context(), g, 0, seen); !errors.As(err, &p) {
		t.Errorf("a change before the test began was taken: %v", err)
	}
	if _, err := b.step(t.Context(), "LG-101", 0, func(d *Draft) error { d.Record.Began = from; return nil }); err != nil {
		t.Fatal(err)
	}
	d, err := b.Switch(t.Context(), g, 0, seen)
	if err != nil || len(d.Record.Trips) != 1 {
		t.Fatal(err)
	}
	trip := d.Record.Trips[0]
	if trip.Rising.Witness != "LT-101" || trip.Rising.Finding != record.Within || trip.Falling.Finding != record.Within || trip.Rising.At.IsZero() {
		t.Errorf("rising %+v, falling %+v", trip.Rising, trip.Falling)
	}
	if h, ok := trip.Hysteresis(); !ok || h.Millimetres() < 12 || h.Millimetres() > 14.1 {
		t.Errorf("hysteresis %.2f mm, want about 13", h.Millimetres())
	}
}
