package trial

import (
	"encoding/json"
	"errors"
	"io"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"bridlewatch/cmd/bridlewatch/rehearsal"
	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/collector"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/scenario"
	"bridlewatch/compare/symptom"
	"bridlewatch/config"
	"bridlewatch/dashboards/trials"
)

var begin = time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)

// film is simulated history of one gauge as raw samples.
type film struct {
	gauge config.Gauge
	times []time.Time
	shots [][]collector.Sample
}

// healthy is five days without a fault, simulated once.
func healthy(t *testing.T) *film {
	t.Helper()
	once.Do(func() { sound = shoot(t, "LG-104", 5*24*time.Hour) })
	return sound
}

var (
	once  sync.Once
	sound *film
)

func shoot(t *testing.T, tag string, span time.Duration, faults ...scenario.Fault) *film {
	t.Helper()
	cfg, err := rehearsal.Embedded()
	if err != nil {
		t.Fatal(err)
	}
	k := slices.IndexFunc(cfg.Gauges, func(g config.Gauge) bool { return g.Sheet.Tag == tag })
	f := &film{gauge: cfg.Gauges[k]}
	unit, err := scenario.New(&f.gauge.Sheet, scenario.Options{Seed: 7, Start: begin, Process: scenario.BatchProcess(), Service: scenario.Benign(), Faults: faults})
	if err != nil {
		t.Fatal(err)
	}
	for at := begin.Add(time.Minute); !at.After(begin.Add(span)); at = at.Add(time.Minute) {
		shot, err := unit.Step(at)
		if err != nil {
			t.Fatal(err)
		}
		samples := make([]collector.Sample, len(f.gauge.Signals))
		for i := range samples {
			sig := &f.gauge.Signals[i]
			r := watch.ReadingOf(&shot, sig)
			samples[i] = collector.Sample{Tag: collector.Tag(sig.Tag), Time: at, SourceTime: at, Quality: r.Quality, Reason: r.Reason}
			if samples[i].Value, err = sig.Spec.Inverse(r.Value); err != nil {
				samples[i].Quality, samples[i].Reason = quantity.Bad, quantity.OutOfRange
			}
		}
		f.times, f.shots = append(f.times, at), append(f.shots, samples)
	}
	return f
}

// reel gives a film from its beginning.
type reel struct {
	film *film
	next int
}

func (r *reel) Next(samples []collector.Sample) (time.Time, error) {
	if r.next == len(r.film.times) {
		return time.Time{}, io.EOF
	}
	copy(samples, r.film.shots[r.next])
	r.next++
	return r.film.times[r.next-1], nil
}

func (f *film) options(t *testing.T, faults ...string) Options {
	t.Helper()
	o := Options{
		Gauge: f.gauge, Open: func() (watch.History, error) { return &reel{film: f}, nil },
		Times: 2, Before: 48 * time.Hour, Watch: 48 * time.Hour, Seed: 3,
	}
	for _, text := range faults {
		fault, err := scenario.ParseFault(f.gauge.Sheet.Tag + ":" + text)
		if err != nil {
			t.Fatal(err)
		}
		o.Faults = append(o.Faults, fault)
	}
	return o
}

func runText(t *testing.T, o Options) (*trials.Report, string) {
	t.Helper()
	r, err := Run(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	return r, string(text)
}

func TestAStuckFloatIsFoundAndNamed(t *testing.T) {
	f := healthy(t)
	o := f.options(t, "float-stuck", "transmitter-zero=0.2mm")
	r, _ := runText(t, o)
	if len(r.Own) != 0 {
		t.Fatalf("a healthy history raises %v", r.Own)
	}
	stuck, small := r.Rows[0], r.Rows[1]
	if stuck.Trials != 2 || stuck.Found != 2 || stuck.Wrong != 0 || stuck.Alert == nil || stuck.Alert.Worst > 48 {
		t.Errorf("a stuck float: %+v", stuck)
	}
	if small.Found != 0 || len(small.Why) == 0 || !strings.Contains(small.Why[0], "missed in 2") {
		t.Errorf("a shift of 0.2 mm: %+v", small)
	}
	all := strings.Join(r.Sentences, "\n")
	for _, want := range []string{"Found every time: float-stuck", "Never found: transmitter-zero=0.2mm"} {
		if !strings.Contains(all, want) {
			t.Errorf("the conclusions do not say %q:\n%s", want, all)
		}
	}
	for _, tr := range r.Trials {
		if tr.At.Before(begin.Add(o.Before)) || tr.At.After(f.times[len(f.times)-1].Add(-o.Watch/leastWatch)) {
			t.Errorf("a trial begins at %v", tr.At)
		}
	}
}

func TestWorkersDoNotChangeTheReport(t *testing.T) {
	f := healthy(t)
	faults := []string{"float-stuck", "transmitter-noisy=20mm", "signal-wild=5%", "transmitter-zero=30mm", "point-failed/LSH-104"}
	var first string
	for _, workers := range []int{1, 2, 7} {
		o := f.options(t, faults...)
		o.Workers = workers
		_, text := runText(t, o)
		if first == "" {
			first = text
		}
		if text != first {
			t.Errorf("%d workers give another report", workers)
		}
	}
	o := f.options(t, faults...)
	o.Seed++
	if _, text := runText(t, o); text == first {
		t.Error("another seed gives the same report")
	}
}

// A trial run alone says what it said among others, so that a wrong blame can
// be looked at.
func TestATrialAloneIsTheSame(t *testing.T) {
	f := healthy(t)
	all, _ := runText(t, f.options(t, "float-stuck", "signal-wild=5%"))
	o := f.options(t, "signal-wild=5%")
	last := all.Trials[len(all.Trials)-1]
	o.At = []time.Time{last.At}
	alone, _ := runText(t, o)
	a, _ := json.Marshal(alone.Trials[0])
	b, _ := json.Marshal(last)
	if string(a) != string(b) {
		t.Errorf("alone:\n%s\namong others:\n%s", a, b)
	}
}

// What a history raises by itself is said, and trials keep clear of it.
func TestTheHistorysOwnAlertsAreKeptClearOf(t *testing.T) {
	f := shoot(t, "LG-104", 8*24*time.Hour, scenario.Fault{Gauge: "LG-104", Kind: scenario.FloatStuck, Delay: 5 * 24 * time.Hour})
	r, _ := runText(t, f.options(t, "transmitter-zero=30mm"))
	if len(r.Own) == 0 {
		t.Fatal("the history's own stuck float is not said")
	}
	for _, tr := range r.Trials {
		end := tr.At.Add(time.Duration(tr.Watched * float64(time.Hour)))
		if end.After(r.Own[0].Alert.Add(3 * time.Minute)) {
			t.Errorf("the trial from %v on lasts %.1f h, into the alert of %v", tr.At, tr.Watched, r.Own[0].Alert)
		}
	}
	o := f.options(t, "transmitter-zero=30mm")
	o.At = []time.Time{f.times[len(f.times)-2]}
	if _, err := Run(t.Context(), o); err == nil || !strings.Contains(err.Error(), "alert of its own") {
		t.Errorf("a time within an alert: %v", err)
	}
	o.At = []time.Time{begin.Add(-time.Hour)}
	if _, err := Run(t.Context(), o); err == nil || !strings.Contains(err.Error(), "outside of the history") {
		t.Errorf("a time before the history: %v", err)
	}
	o.At, o.Before = nil, 30*24*time.Hour
	var nowhere *NoPlaceError
	if _, err := Run(t.Context(), o); !errors.As(err, &nowhere) || nowhere.Before != o.Before || nowhere.After != o.Watch/leastWatch {
		t.Errorf("too short a history: %v", err)
	}
}

func TestTheLadderIsOfTheInstrumentsThereAre(t *testing.T) {
	cfg, err := rehearsal.Embedded()
	if err != nil {
		t.Fatal(err)
	}
	for i := range cfg.Gauges {
		s := &cfg.Gauges[i].Sheet
		list := Ladder(s, 20*quantity.Millimetre)
		if len(list) < 5 {
			t.Errorf("%s: %d faults", s.Tag, len(list))
		}
		seen := map[string]bool{}
		for _, f := range list {
			if seen[f.Text()] {
				t.Errorf("%s: %s twice", s.Tag, f.Text())
			}
			seen[f.Text()] = true
			again, err := scenario.ParseFault(s.Tag + ":" + f.Text())
			if err != nil || again.Text() != f.Text() {
				t.Errorf("%s: %s is read as %v, %v", s.Tag, f.Text(), again, err)
			}
		}
	}
}

func TestQuietSpans(t *testing.T) {
	day := func(n float64) time.Time { return begin.Add(time.Duration(n * 24 * float64(time.Hour))) }
	w := &own{from: day(0), to: day(100), findings: watch.Episodes{List: []watch.Episode{
		{Symptom: symptom.GapBeyondBudget, Raised: day(40), Closed: day(45)},
		{Symptom: symptom.GapBeyondBudget}, // never more than watched
		{Symptom: symptom.NoReading, Raised: day(60), Closed: day(61)},
	}}, gaps: [][2]time.Time{{day(70), day(75)}}}
	got := quietSpans(w, 14*24*time.Hour, 10*24*time.Hour)
	want := []span{{day(14), day(30)}, {day(46), day(60)}, {day(76), day(90)}}
	if !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	if at := within(got, 20*24*time.Hour); !at.Equal(day(50)) { // 16 of the first, 4 into the second
		t.Errorf("20 days into them is %v", at)
	}
	if until := w.quietUntil(day(20)); !until.Equal(day(40)) {
		t.Errorf("quiet until %v", until)
	}
}

func TestWhatTheHistoryHasByItself(t *testing.T) {
	at := begin.Add(time.Hour)
	w := &own{findings: watch.Episodes{List: []watch.Episode{
		{Symptom: symptom.FloatStill, Opened: at}, // only watched
		{Symptom: symptom.GapDrift, Opened: at, Raised: at.Add(time.Hour)},
		{Symptom: symptom.NoReading, Tag: "LT-1", Opened: at, Raised: at},
	}}}
	rows := []struct {
		kind symptom.Kind
		tag  string
		tier cause.Tier
		late time.Duration
		want bool
	}{
		{symptom.FloatStill, "LI-1", cause.Watch, 10 * time.Minute, true},
		{symptom.FloatStill, "LI-1", cause.Alert, 10 * time.Minute, false},
		{symptom.GapDrift, "LI-1", cause.Alert, 70 * time.Minute, true},
		{symptom.GapDrift, "LI-1", cause.Alert, 3 * time.Hour, false},
		{symptom.NoReading, "LT-1", cause.Alert, 0, true},
		{symptom.NoReading, "LI-1", cause.Alert, 0, false},
	}
	for _, row := range rows {
		f := cause.Finding{Symptom: row.kind, Tag: row.tag, Tier: row.tier, Raised: at.Add(row.late)}
		if got := w.has(&f); got != row.want {
			t.Errorf("%s of %s, %s, %v later: %v", row.kind, row.tag, row.tier, row.late, got)
		}
	}
}

func TestJudge(t *testing.T) {
	ranked := func(by cause.Suspect, tag string) cause.Ranked { return cause.Ranked{Suspect: by, Tag: tag} }
	rows := map[string]struct {
		finding cause.Finding
		kind    scenario.Kind
		tag     string
		want    verdict
	}{
		"named":             {cause.Finding{Suspect: cause.Transmitter, Tag: "LT-1"}, scenario.TransmitterZero, "LT-1", right},
		"the other one":     {cause.Finding{Suspect: cause.Transmitter, Tag: "LT-2"}, scenario.TransmitterZero, "LT-1", wrong},
		"follower of float": {cause.Finding{Suspect: cause.Follower, Tag: "LI-1"}, scenario.FloatStuck, "LI-1", right},
		"density":           {cause.Finding{Suspect: cause.Density, Tag: "LI-1"}, scenario.FloatStuck, "LI-1", wrong},
		"density itself":    {cause.Finding{Suspect: cause.Density, Tag: "LI-1"}, scenario.DensityWrong, "LI-1", right},
		"float or follower": {cause.Finding{Suspect: cause.Undecided, Set: []cause.Ranked{ranked(cause.Float, "LI-1"), ranked(cause.Follower, "LI-1")}}, scenario.FloatStuck, "LI-1", right},
		"among others":      {cause.Finding{Suspect: cause.Undecided, Set: []cause.Ranked{ranked(cause.Float, "LI-1"), ranked(cause.Transmitter, "LT-1")}}, scenario.FloatStuck, "LI-1", inSet},
		"not among them":    {cause.Finding{Suspect: cause.Undecided, Set: []cause.Ranked{ranked(cause.Float, "LI-1")}}, scenario.TransmitterZero, "LT-1", outside},
		"chamber":           {cause.Finding{Suspect: cause.Chamber, Tag: "LG-1"}, scenario.LowerPlugged, "", right},
		"clock":             {cause.Finding{Suspect: cause.Clock}, scenario.TimeSkew, "LT-1", right},
	}
	for name, row := range rows {
		if got := judge(&row.finding, row.kind, row.tag); got != row.want {
			t.Errorf("%s: %s, want %s", name, got, row.want)
		}
	}
}

func TestHides(t *testing.T) {
	rows := []struct {
		id    string
		kind  scenario.Kind
		tag   string
		float bool
		want  bool
	}{
		{"delay-LI-1-LT-1", scenario.TimeSkew, "LT-1", false, true},
		{"delay-LI-1-LT-1", scenario.TransmitterZero, "LT-1", false, false},
		{"small-LI-1-LT-1", scenario.TransmitterZero, "LT-1", false, true},
		{"small-LI-1-LT-2", scenario.TransmitterZero, "LT-1", false, false},
		{"still-LI-1", scenario.FloatStuck, "LI-1", true, true},
		{"unseen-follower", scenario.FollowerShifted, "LI-1", true, true},
		{"unseen-lt-1", scenario.SignalWild, "LT-1", false, true},
		{"switch-LSH-1-rising", scenario.PointFailed, "LSH-1", false, true},
		{"lower-connection", scenario.LowerPlugged, "", false, true},
		{"lower-connection", scenario.FloatStuck, "LI-1", true, false},
	}
	for _, row := range rows {
		if got := hides(row.id, row.kind, row.tag, row.float); got != row.want {
			t.Errorf("%s hides %s at %q: %v", row.id, row.kind, row.tag, got)
		}
	}
}
