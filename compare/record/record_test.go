package record

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bridlewatch/compare"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/uncertainty"
)

var noon = time.Date(2026, 11, 25, 12, 0, 0, 0, time.FixedZone("", -6*3600))

// The rule is that of ISO 14253-1 (a limit is tightened by U to claim
// conformance and widened by U to claim the opposite) and JCGM 106:2012,
// 8.3.2, guard band w = U; both from memory.
func TestJudge(t *testing.T) {
	for _, c := range []struct {
		name          string
		d, u, allowed quantity.Length
		want          Finding
	}{
		{"far inside", 0.002, 0.003, 0.010, Within},
		{"inside by exactly U", 0.007, 0.003, 0.010, Within},
		{"inside, but by less than U", 0.008, 0.003, 0.010, CannotSay},
		{"on the limit", 0.010, 0.003, 0.010, CannotSay},
		{"beyond, but by less than U", 0.012, 0.003, 0.010, CannotSay},
		{"beyond by exactly U", 0.013, 0.003, 0.010, CannotSay},
		{"beyond by more than U", 0.0131, 0.003, 0.010, Outside},
		{"low side inside", -0.007, 0.003, 0.010, Within},
		{"low side outside", -0.0131, 0.003, 0.010, Outside},
		{"a perfect reference leaves no gap: on the limit", 0.010, 0, 0.010, Within},
		{"a perfect reference leaves no gap: beyond", 0.0101, 0, 0.010, Outside},
		{"the reference is as uncertain as is allowed", 0, 0.011, 0.010, CannotSay},
		{"nothing allowed", 0, 0.001, 0, CannotSay},
		{"reference unknown", 0, -1, 0.010, CannotSay},
		{"no number", quantity.Length(math.NaN()), 0.001, 0.010, CannotSay},
	} {
		t.Run(c.name, func(t *testing.T) {
			v := Judge(c.d, c.u, c.allowed)
			if v.Finding != c.want {
				t.Errorf("|%g| with U %g of %g: %s, want %s", c.d, c.u, c.allowed, v.Finding, c.want)
			}
			if (v.Finding == CannotSay) != (v.Why != "") {
				t.Errorf("%s, reason %q", v.Finding, v.Why)
			}
			if math.IsNaN(float64(v.Difference)) {
				t.Error("a verdict must be a number or nothing: it is stored as JSON")
			}
		})
	}
}

// Multiples of the standard uncertainty at which a one-sided conformance
// probability is reached: JCGM 106:2012, table 1 (from memory).
func TestConformanceOneSided(t *testing.T) {
	for _, c := range []struct {
		name string
		z, p float64
	}{{"0.80", 0.84, 0.80}, {"0.90", 1.28, 0.90}, {"0.95", 1.64, 0.95}, {"0.99", 2.33, 0.99}, {"0.999", 3.09, 0.999}} {
		t.Run(c.name, func(t *testing.T) {
			const far = 1e3 // the other limit is out of sight
			got := Conformance(quantity.Length(far-c.z), 1, far)
			if math.Abs(got-c.p) > 0.0006 {
				t.Errorf("%g u inside the limit: %.4f, want %.3f", c.z, got, c.p)
			}
		})
	}
}

// A breakdown voltage of -5.47 V with u = 0.05 V and an upper limit of
// -5.40 V conforms with probability 0.92: JCGM 106:2012, 7.4, example 1 (from
// memory).
func TestConformanceOfPublishedExample(t *testing.T) {
	if got := normal((-5.40 - -5.47) / 0.05); math.Abs(got-0.92) > 0.005 {
		t.Errorf("%.4f, want 0.92", got)
	}
}

// What the guard band is for: a claim of either kind is wrong with at most
// 2.3 % (one side of k = 2, normal distribution).
func TestClaimsAreSafe(t *testing.T) {
	for d := -0.03; d <= 0.03; d += 0.0001 {
		for _, u := range []quantity.Length{0.001, 0.004, 0.008} {
			v := Judge(quantity.Length(d), u, 0.010)
			if v.Finding == Within && v.Probability < 0.954 {
				t.Fatalf("d %.4f U %.3f: within with probability %.3f", d, u, v.Probability)
			}
			if v.Finding == Outside && v.Probability > 0.023 {
				t.Fatalf("d %.4f U %.3f: outside with probability %.3f of being inside", d, u, v.Probability)
			}
		}
	}
}

func verification() *Record {
	r := &Record{Kind: Verification, Gauge: "LG-101", By: "R. Tester", Work: "checked at three elevations", At: noon, Booked: noon,
		Reference: &Reference{Description: "sight glass and steel rule", Due: "2027-03-31", U: 0.004},
		Sheet:     &datasheet.Sheet{Tag: "LG-101", Points: []datasheet.Point{{Tag: "LSH-101", Elevation: 0.78, Differential: 0.012, Operated: "float"}, {Tag: "LSL-101", Elevation: 0.22, Differential: 0.012}}},
		Rows: []Row{{Phase: AsFound, At: noon, Asked: 0.2, Reference: 0.201, Readings: []Reading{
			{Tag: "LI-101", Role: "float", Value: 0.203}, {Tag: "LT-101", Role: "transmitter", Value: 0.240}, {Tag: "LT-102", Role: "second", Missing: "no answer"}}}},
		Trips: []Trip{{Phase: AsFound, Tag: "LSH-101", Sheet: Setting{Rising: 0.786, Falling: 0.774, Operated: "float"}, Allowed: 0.015,
			Rising: &Change{Level: 0.788, U: 0.004, Witness: "LI-101", At: noon, Filling: true}}},
	}
	r.Budgets = []uncertainty.Budget{{Quantity: "level", Value: 203, Unit: "mm", Terms: []uncertainty.Term{{Name: "tap", Unit: "mm", U: 1, Sensitivity: 1, Distribution: uncertainty.Rectangular}}}}
	r.Rows[0].JudgeRow(r.Reference.U, func(string) quantity.Length { return 0.012 })
	r.Trips[0].JudgeTrip()
	return r
}

func TestRecordJudgesEachReading(t *testing.T) {
	r := verification()
	if got, want := r.Tally(AsFound), (Tally{Within: 2, Outside: 1, CannotSay: 1}); got != want {
		t.Errorf("%+v, want %+v", got, want)
	}
	if got, want := r.Summary(), "as found: 1 outside, 1 cannot say, 2 within"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	for _, reading := range r.Rows[0].Readings {
		if strings.Contains(strings.ToLower(string(reading.Finding)), "pass") {
			t.Errorf("%s says %s", reading.Tag, reading.Finding)
		}
	}
}

func TestHysteresis(t *testing.T) {
	trip := Trip{Rising: &Change{Level: 0.788}, Falling: &Change{Level: 0.774}}
	if h, ok := trip.Hysteresis(); !ok || math.Abs(float64(h)-0.014) > 1e-12 {
		t.Errorf("%v %v", h, ok)
	}
	trip.Falling = nil
	if _, ok := trip.Hysteresis(); ok {
		t.Error("one direction has no hysteresis")
	}
}

func TestUntestedNamesWhatWasNotExercised(t *testing.T) {
	text := strings.Join(verification().Untested(), "\n")
	for _, want := range []string{"LSH-101: falling level was not exercised", "LSL-101: not exercised", "logic solver"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is missing in\n%s", want, text)
		}
	}
}

// A record may state what was seen; it may not grant credit.
func TestExerciseIsNeutral(t *testing.T) {
	trip := verification().Trips[0]
	text := strings.Join(trip.Exercise("LI-101"), "\n") + Evidence
	for _, want := range []string{"changed state at a level of 788.0 ± 4.0 mm by LI-101, on rising level (deliberate filling or draining)", "The same float", "may consider"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is missing in %s", want, text)
		}
	}
	for _, never := range []string{"passed", "proof test done", "interval of", "SIL"} {
		if strings.Contains(text, never) {
			t.Errorf("%q is in %s", never, text)
		}
	}
}

func TestEffect(t *testing.T) {
	left := verification()
	left.Rows[0].Phase, left.Rows[0].Readings = AsLeft, left.Rows[0].Readings[:1]
	bad := verification()
	bad.Rows[0].Phase = AsLeft
	for _, c := range []struct {
		name string
		r    *Record
		want compare.WorkKind
		ok   bool
	}{
		{"isolated", &Record{Kind: Isolated}, compare.WorkIsolated, true},
		{"back in service", &Record{Kind: Returned}, compare.WorkReturned, true},
		{"float cleaned", &Record{Kind: FloatCleaned, Instrument: "LI-101"}, compare.WorkRepaired, true},
		{"set point changed", &Record{Kind: SetPointChanged}, compare.WorkRebaseline, true},
		{"as found only", verification(), "", false},
		{"left outside", bad, "", false},
		{"as left", left, compare.WorkRebaseline, true},
		{"inspection", &Record{Kind: Inspection}, "", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			w, ok := c.r.Effect()
			if ok != c.ok || ok && (w.Kind != c.want || w.Tag != c.r.Instrument) {
				t.Errorf("%+v %v", w, ok)
			}
		})
	}
}

func TestCheck(t *testing.T) {
	for _, c := range []struct {
		name, field string
		spoil       func(*Record)
	}{
		{"sound", "", func(*Record) {}},
		{"no name", "by", func(r *Record) { r.By = " " }},
		{"no words", "work", func(r *Record) { r.Work = "" }},
		{"unknown kind", "kind", func(r *Record) { r.Kind = "party" }},
		{"in the future", "at", func(r *Record) { r.At = noon.Add(time.Hour) }},
		{"ended before it began", "began", func(r *Record) { r.Began = noon.Add(time.Second) }},
		{"no reference", "reference", func(r *Record) { r.Reference = nil }},
		{"reference of unknown uncertainty", "reference_u", func(r *Record) { r.Reference.U = 0 }},
		{"due date in another form", "reference_due", func(r *Record) { r.Reference.Due = "31.3.27" }},
		{"nothing measured", "rows", func(r *Record) { r.Rows, r.Trips = nil, nil }},
		{"too long", "remarks", func(r *Record) { r.Remarks = strings.Repeat("x", longest+1) }},
		{"newer schema", "schema", func(r *Record) { r.Schema = Schema + 1 }},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := verification()
			c.spoil(r)
			p := r.Check(noon)
			if c.field == "" && len(p) > 0 || c.field != "" && p.Of(c.field) == "" {
				t.Errorf("problems %v, want one of %q", p, c.field)
			}
		})
	}
}

func chain(t *testing.T, n int) []Link {
	t.Helper()
	var links []Link
	var before *Link
	for range n {
		body, err := Follow(verification(), before)
		if err != nil {
			t.Fatal(err)
		}
		links = append(links, Link{len(links) + 1, body})
		before = &links[len(links)-1]
	}
	return links
}

func TestChain(t *testing.T) {
	for _, c := range []struct {
		name  string
		spoil func([]Link) []Link
		holds int
	}{
		{"whole", func(l []Link) []Link { return l }, 4},
		{"none", func([]Link) []Link { return nil }, 0},
		{"one changed", func(l []Link) []Link {
			l[1].Body = []byte(strings.Replace(string(l[1].Body), "R. Tester", "S. Other", 1))
			return l
		}, 2},
		{"one removed", func(l []Link) []Link { return append(l[:1], l[2:]...) }, 1},
		{"the first removed", func(l []Link) []Link { return l[1:] }, 0},
		{"two exchanged", func(l []Link) []Link { l[1], l[2] = l[2], l[1]; return l }, 1},
		{"one twice", func(l []Link) []Link { return append(l[:2:2], l[1:]...) }, 2},
		{"one unreadable", func(l []Link) []Link { l[2].Body = []byte("{"); return l }, 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			links := c.spoil(chain(t, 4))
			n, hash, err := VerifyChain(links)
			if n != c.holds {
				t.Errorf("%d hold, want %d", n, c.holds)
			}
			if whole := n == len(links); whole != (err == nil) || !whole && !errors.Is(err, ErrChain) {
				t.Errorf("error %v", err)
			}
			if n > 0 && hash != Hash(links[n-1].Body) {
				t.Errorf("hash %s is not that of record %d", hash, n)
			}
		})
	}
}

// What is read back must be what was booked: the hash rests on it.
func TestRoundTrip(t *testing.T) {
	r := verification()
	body, err := Follow(r, nil)
	if err != nil {
		t.Fatal(err)
	}
	back, err := Parse(body)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(r, back, cmp.Comparer(func(a, b time.Time) bool { return a.Equal(b) })); d != "" {
		t.Error(d)
	}
	if _, err := Parse([]byte(`{"schema":99,"number":3}`)); err == nil || !strings.Contains(err.Error(), "update the program") {
		t.Errorf("newer schema: %v", err)
	}
}

func TestOverdue(t *testing.T) {
	for due, want := range map[string]bool{"2026-11-24": true, "2026-11-25": false, "2027-01-01": false, "": false, "soon": false} {
		if got := (&Reference{Due: due}).Overdue(noon); got != want {
			t.Errorf("due %q: %v", due, got)
		}
	}
}
