package signal_test

import (
	"encoding/csv"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"bridlewatch/collector/signal"
	"bridlewatch/compare/quantity"
)

func good(v float64) quantity.Reading {
	return quantity.Reading{Value: v, Time: time.Unix(1, 0), Quality: quantity.Good}
}

var (
	loop    = signal.Spec{Kind: signal.Current, Range: [2]float64{0.2, 1.0}}
	voltage = signal.Spec{Kind: signal.Voltage, Range: [2]float64{0, 16}}
	plc     = signal.Spec{Kind: signal.Counts, Raw: [2]float64{0, 27648}, Range: [2]float64{0, 2}}
	plcLive = signal.Spec{Kind: signal.Counts, Raw: [2]float64{0, 27648}, Range: [2]float64{0, 16}, LiveZero: true}
	pt100   = signal.Spec{Kind: signal.Pt100}
)

func TestConvert(t *testing.T) {
	const (
		ne43   = "NAMUR NE 43, limits as quoted in secondary sources"
		common = "common practice, no source"
		line   = "straight line, by hand"
		iec    = "IEC 60751:2008, range -200..850 °C"
	)
	limited := signal.Spec{Kind: signal.Value, Low: -0.1, High: 3}
	rows := []struct {
		name, source string
		spec         signal.Spec
		raw, want    float64
		quality      quantity.Quality
		reason       quantity.Reason
	}{
		{"0 mA is a broken wire", ne43, loop, 0, math.NaN(), quantity.Bad, quantity.SensorFault},
		{"3.6 mA is a failure", ne43, loop, 3.6, math.NaN(), quantity.Bad, quantity.SensorFault},
		{"3.61 mA is neither", ne43, loop, 3.61, 0.1805, quantity.Uncertain, quantity.Saturated},
		{"3.79 mA is neither", ne43, loop, 3.79, 0.1895, quantity.Uncertain, quantity.Saturated},
		{"3.8 mA measures, -1.25 %", ne43, loop, 3.8, 0.19, quantity.Good, quantity.Saturated},
		{"3.99 mA measures below the range", ne43, loop, 3.99, 0.1995, quantity.Good, quantity.Saturated},
		{"4 mA is the low end", line, loop, 4, 0.2, quantity.Good, quantity.NoReason},
		{"12 mA is the middle", line, loop, 12, 0.6, quantity.Good, quantity.NoReason},
		{"20 mA is the high end", line, loop, 20, 1.0, quantity.Good, quantity.NoReason},
		{"20.01 mA measures above the range", ne43, loop, 20.01, 1.0005, quantity.Good, quantity.Saturated},
		{"20.5 mA measures, 103.125 %", ne43, loop, 20.5, 1.025, quantity.Good, quantity.Saturated},
		{"20.51 mA is neither", ne43, loop, 20.51, 1.0255, quantity.Uncertain, quantity.Saturated},
		{"20.99 mA is neither", ne43, loop, 20.99, 1.0495, quantity.Uncertain, quantity.Saturated},
		{"21 mA is a failure", ne43, loop, 21, math.NaN(), quantity.Bad, quantity.SensorFault},
		{"22 mA is a failure", ne43, loop, 22, math.NaN(), quantity.Bad, quantity.SensorFault},

		{"0.9 V is 3.6 mA in 250 ohms", ne43, voltage, 0.9, math.NaN(), quantity.Bad, quantity.SensorFault},
		{"0.95 V is 3.8 mA in 250 ohms", ne43, voltage, 0.95, -0.2, quantity.Good, quantity.Saturated},
		{"0.94 V is neither", ne43, voltage, 0.94, -0.24, quantity.Uncertain, quantity.Saturated},
		{"3 V is the middle", line, voltage, 3, 8, quantity.Good, quantity.NoReason},
		{"5.125 V is 20.5 mA in 250 ohms", ne43, voltage, 5.125, 16.5, quantity.Good, quantity.Saturated},
		{"5.25 V is 21 mA in 250 ohms", ne43, voltage, 5.25, math.NaN(), quantity.Bad, quantity.SensorFault},

		{"counts at the low end", line, plc, 0, 0, quantity.Good, quantity.NoReason},
		{"counts in the middle", line, plc, 13824, 1, quantity.Good, quantity.NoReason},
		{"counts beyond the end", common, plc, 30413, 2.2000144675925926, quantity.Uncertain, quantity.OutOfRange},
		{"counts below the end", common, plc, -1, -7.233796296296296e-05, quantity.Uncertain, quantity.OutOfRange},
		{"counts of a live zero at 20.6 mA", ne43, plcLive, 28684.8, 16.6, quantity.Uncertain, quantity.Saturated},
		{"counts of a live zero at 3.5 mA", ne43, plcLive, -864, math.NaN(), quantity.Bad, quantity.SensorFault},

		{"microamperes in a register", line, signal.Spec{Kind: signal.Current, Range: [2]float64{0, 1}, RawScale: 0.001}, 12000, 0.5, quantity.Good, quantity.NoReason},
		{"3600 uA is a failure in spite of rounding", ne43, signal.Spec{Kind: signal.Current, Range: [2]float64{0, 1}, RawScale: 0.0001}, 36000, math.NaN(), quantity.Bad, quantity.SensorFault},
		{"tenths of an ohm in a register", iec, signal.Spec{Kind: signal.Pt100, RawScale: 0.1}, 1000, 273.15, quantity.Good, quantity.NoReason},

		{"millimetres into metres", line, signal.Spec{Kind: signal.Value, Scale: 0.001, Offset: 0.25}, 1500, 1.75, quantity.Good, quantity.NoReason},
		{"scale left out is one", line, signal.Spec{Kind: signal.Value}, 1.5, 1.5, quantity.Good, quantity.NoReason},
		{"within the plausible", line, limited, 3, 3, quantity.Good, quantity.NoReason},
		{"above the plausible", common, limited, 3.01, 3.01, quantity.Bad, quantity.OutOfRange},
		{"below the plausible", common, limited, -0.11, -0.11, quantity.Bad, quantity.OutOfRange},

		{"wet contact", common, signal.Spec{Kind: signal.Contact}, 1, 1, quantity.Good, quantity.NoReason},
		{"dry contact", common, signal.Spec{Kind: signal.Contact}, 0, 0, quantity.Good, quantity.NoReason},
		{"inverted contact, 0 is wet", common, signal.Spec{Kind: signal.Contact, Invert: true}, 0, 1, quantity.Good, quantity.NoReason},
		{"inverted contact, 1 is dry", common, signal.Spec{Kind: signal.Contact, Invert: true}, 1, 0, quantity.Good, quantity.NoReason},
		{"a contact is 0 or 1", common, signal.Spec{Kind: signal.Contact}, 2, math.NaN(), quantity.Bad, quantity.OutOfRange},

		{"sentinel -32768", common, signal.Spec{Kind: signal.Value, Sentinels: []float64{32767, -32768}}, -32768, math.NaN(), quantity.Bad, quantity.Sentinel},
		{"sentinel -9999.9 from a 32-bit device", common, signal.Spec{Kind: signal.Value, Sentinels: []float64{-9999.9}}, float64(float32(-9999.9)), math.NaN(), quantity.Bad, quantity.Sentinel},
		{"not a number", common, loop, math.NaN(), math.NaN(), quantity.Bad, quantity.NotANumber},
		{"infinity", common, loop, math.Inf(1), math.NaN(), quantity.Bad, quantity.NotANumber},
		{"overflow in the scale", common, signal.Spec{Kind: signal.Value, Scale: 1e300}, 1e300, math.NaN(), quantity.Bad, quantity.NotANumber},

		{"shorted Pt100", iec, pt100, 18.5, math.NaN(), quantity.Bad, quantity.SensorFault},
		{"open Pt100", iec, pt100, 390.5, math.NaN(), quantity.Bad, quantity.SensorFault},
		{"unknown kind", common, signal.Spec{Kind: "smoke"}, 1, math.NaN(), quantity.Bad, quantity.ConversionFailed},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			got := r.spec.Convert(good(r.raw))
			if got.Quality != r.quality || got.Reason != r.reason {
				t.Errorf("%g: %v (%v), want %v (%v); source: %s", r.raw, got.Quality, got.Reason, r.quality, r.reason, r.source)
			}
			if !math.IsNaN(r.want) && math.Abs(got.Value-r.want) > 1e-9 {
				t.Errorf("%g: value %.12g, want %.12g; source: %s", r.raw, got.Value, r.want, r.source)
			}
			if math.IsNaN(got.Value) || math.IsInf(got.Value, 0) {
				t.Errorf("%g: value %g leaves the package", r.raw, got.Value)
			}
			if got.Time != time.Unix(1, 0) {
				t.Errorf("time %v is not that of the sample", got.Time)
			}
		})
	}
}

func TestQualityNeverImproves(t *testing.T) {
	rows := []struct {
		name       string
		raw        quantity.Reading
		wantQ      quantity.Quality
		wantReason quantity.Reason
	}{
		{"bad stays bad", quantity.Reading{Value: 12, Quality: quantity.Bad, Reason: quantity.NoAnswer}, quantity.Bad, quantity.NoAnswer},
		{"stale stays stale", quantity.Reading{Value: 12, Quality: quantity.Stale, Reason: quantity.TooOld}, quantity.Stale, quantity.TooOld},
		{"absent stays absent", quantity.Reading{Value: 12}, quantity.Absent, quantity.NoReason},
		{"uncertain stays uncertain", quantity.Reading{Value: 12, Quality: quantity.Uncertain, Reason: quantity.DeviceUncertain}, quantity.Uncertain, quantity.DeviceUncertain},
		{"uncertain becomes bad", quantity.Reading{Value: 3, Quality: quantity.Uncertain, Reason: quantity.DeviceUncertain}, quantity.Bad, quantity.SensorFault},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			if got := loop.Convert(r.raw); got.Quality != r.wantQ || got.Reason != r.wantReason {
				t.Errorf("got %v (%v), want %v (%v)", got.Quality, got.Reason, r.wantQ, r.wantReason)
			}
		})
	}
}

// TestPt100Table checks every 10 °C of the table against both directions.
// Source: IEC 60751:2008, equations of clause 4.2 and table 1; the numbers
// are in testdata/vectors/pt100_vectors.csv.
func TestPt100Table(t *testing.T) {
	f, err := os.Open("../../testdata/vectors/pt100_vectors.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) != 107 {
		t.Fatalf("%d rows, %v; want 107", len(rows), err)
	}
	for _, row := range rows[1:] {
		celsius, err1 := strconv.ParseFloat(row[0], 64)
		ohms, err2 := strconv.ParseFloat(row[1], 64)
		if err1 != nil || err2 != nil {
			t.Fatal(err1, err2)
		}
		t.Run("IEC 60751 at "+row[0]+" °C", func(t *testing.T) {
			got, err := signal.Ohms(quantity.FromCelsius(celsius))
			if err != nil || math.Abs(got-ohms) > 0.5001e-4 { // the table has four decimals
				t.Errorf("resistance %.6f ohms (%v), want %.4f", got, err, ohms)
			}
			back := pt100.Convert(good(ohms))
			if math.Abs(back.Value-273.15-celsius) > 2e-4 { // 0.5e-4 ohms at 0.29 ohms/K
				t.Errorf("temperature %.6f °C, want %g", back.Value-273.15, celsius)
			}
		})
	}
}

// TestTolerance checks the rows of IEC 60751:2008 table 3 (from memory) at
// two temperatures by hand.
func TestTolerance(t *testing.T) {
	rows := []struct {
		class   signal.Class
		celsius float64
		want    float64
	}{
		{signal.ClassAA, 0, 0.1}, {signal.ClassAA, 100, 0.27},
		{signal.ClassA, 0, 0.15}, {signal.ClassA, -100, 0.35},
		{signal.ClassB, 0, 0.3}, {signal.ClassB, 100, 0.8}, {"", 100, 0.8},
		{signal.ClassC, 0, 0.6}, {signal.ClassC, 200, 2.6},
	}
	for _, r := range rows {
		t.Run(string(r.class)+" at "+strconv.FormatFloat(r.celsius, 'f', 0, 64), func(t *testing.T) {
			got, err := r.class.Tolerance(quantity.FromCelsius(r.celsius))
			if err != nil || math.Abs(float64(got)-r.want) > 1e-9 {
				t.Errorf("±%g K (%v), want ±%g K", float64(got), err, r.want)
			}
		})
	}
	if _, err := signal.Class("F").Tolerance(300); err == nil {
		t.Error("class F accepted")
	}
}

func TestInverseUndoesConvert(t *testing.T) {
	const seed = 20260101
	rng := rand.New(rand.NewPCG(seed, seed))
	rows := []struct {
		name      string
		spec      signal.Spec
		low, high float64
	}{
		{"current", loop, 0.19, 1.025},
		{"current downwards", signal.Spec{Kind: signal.Current, Range: [2]float64{1, 0}}, 0, 1},
		{"microamperes", signal.Spec{Kind: signal.Current, Range: [2]float64{0, 1}, RawScale: 0.001}, 0, 1},
		{"voltage", voltage, 0, 16},
		{"counts", plc, 0, 2},
		{"counts with a live zero", plcLive, -0.2, 16.5},
		{"value", signal.Spec{Kind: signal.Value, Scale: 0.001, Offset: 0.2}, -1, 5},
		{"Pt100", pt100, 73.15, 1123.15},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			for range 2000 {
				want := r.low + rng.Float64()*(r.high-r.low)
				raw, err := r.spec.Inverse(want)
				if err != nil {
					t.Fatalf("seed %d: %v", seed, err)
				}
				if got := r.spec.Convert(good(raw)); !got.Usable() || math.Abs(got.Value-want) > 1e-8 {
					t.Fatalf("seed %d: %g became %g and came back as %+v", seed, want, raw, got)
				}
			}
		})
	}
}

func TestInverseOfContacts(t *testing.T) {
	rows := []struct {
		name    string
		invert  bool
		si, raw float64
	}{
		{"wet", false, 1, 1}, {"dry", false, 0, 0}, {"wet, inverted", true, 1, 0}, {"dry, inverted", true, 0, 1},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			spec := signal.Spec{Kind: signal.Contact, Invert: r.invert}
			raw, err := spec.Inverse(r.si)
			if back := spec.Convert(good(raw)); err != nil || raw != r.raw || back.Value != r.si {
				t.Errorf("raw %g (%v), want %g; back %+v", raw, err, r.raw, back)
			}
		})
	}
}

func TestInverseRefuses(t *testing.T) {
	rows := []struct {
		name      string
		spec      signal.Spec
		si        float64
		low, high float64 // of the RangeError; both 0: another error
	}{
		{"above what a transmitter sends", loop, 1.03, 3.8, 20.5},
		{"below what a transmitter sends", loop, 0.18, 3.8, 20.5},
		{"above full scale of counts", plc, 2.1, 0, 27648},
		{"hotter than a Pt100 is defined for", pt100, 1200, -200, 850},
		{"half a contact", signal.Spec{Kind: signal.Contact}, 0.5, 0, 1},
		{"not a number", loop, math.NaN(), 0, 0},
		{"unknown kind", signal.Spec{Kind: "smoke"}, 1, 0, 0},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			raw, err := r.spec.Inverse(r.si)
			if err == nil {
				t.Fatalf("%g became %g", r.si, raw)
			}
			var outside *signal.RangeError
			if errors.As(err, &outside) != (r.high > r.low) {
				t.Fatalf("error %v", err)
			}
			if outside != nil && !strings.Contains(err.Error(), outside.Remedy) {
				t.Errorf("error %q gives no remedy", err)
			}
			if outside != nil && (math.Abs(outside.Low-r.low) > 1e-9 || math.Abs(outside.High-r.high) > 1e-9) {
				t.Errorf("limits %g..%g, want %g..%g", outside.Low, outside.High, r.low, r.high)
			}
		})
	}
}

func TestValidate(t *testing.T) {
	rows := []struct {
		name string
		spec signal.Spec
		want []string // a piece of each error
	}{
		{"sound current", loop, nil},
		{"sound Pt100", signal.Spec{Kind: signal.Pt100, Class: signal.ClassA}, nil},
		{"sound contact", signal.Spec{Kind: signal.Contact, Invert: true}, nil},
		{"no kind", signal.Spec{}, []string{"unknown kind"}},
		{"no range", signal.Spec{Kind: signal.Current}, []string{"no range"}},
		{"no counts", signal.Spec{Kind: signal.Counts, Range: [2]float64{0, 1}}, []string{"counts 0 to 0"}},
		{"class", signal.Spec{Kind: signal.Pt100, Class: "D"}, []string{"tolerance class"}},
		{"inverted current", signal.Spec{Kind: signal.Current, Range: [2]float64{0, 1}, Invert: true}, []string{"inverted"}},
		{"limits", signal.Spec{Kind: signal.Value, Low: 2, High: 1}, []string{"wrong way round"}},
		{"sentinel that measures", signal.Spec{Kind: signal.Current, Range: [2]float64{0, 1}, Sentinels: []float64{4}}, []string{"sentinel 4"}},
		{"everything at once", signal.Spec{Kind: signal.Counts, Scale: math.NaN(), Offset: math.Inf(1), Invert: true},
			[]string{"range 0 to 0", "counts 0 to 0", "scale NaN", "offset +Inf", "inverted"}},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			errs := r.spec.Validate()
			if len(errs) != len(r.want) {
				t.Fatalf("%d errors %v, want %d", len(errs), errs, len(r.want))
			}
			for i, want := range r.want {
				if !strings.Contains(errs[i].Error(), want) {
					t.Errorf("error %q does not say %q", errs[i], want)
				}
			}
		})
	}
}

// FuzzConvert holds Convert to its promise: no panic and no NaN or infinity
// in any result.
func FuzzConvert(f *testing.F) {
	for kind := range uint8(7) {
		f.Add(kind, 12.0, 0.0, 1.0, 1.0)
	}
	kinds := []signal.Kind{signal.Value, signal.Current, signal.Voltage, signal.Counts, signal.Pt100, signal.Contact, "other"}
	f.Fuzz(func(t *testing.T, kind uint8, raw, low, high, scale float64) {
		spec := signal.Spec{Kind: kinds[int(kind)%len(kinds)], Range: [2]float64{low, high}, Raw: [2]float64{high, low}, Scale: scale, RawScale: scale}
		got := spec.Convert(good(raw))
		if math.IsNaN(got.Value) || math.IsInf(got.Value, 0) {
			t.Errorf("%+v of %g gives %g", spec, raw, got.Value)
		}
	})
}

func BenchmarkConvert(b *testing.B) {
	for _, spec := range []signal.Spec{loop, plc, pt100} {
		b.Run(string(spec.Kind), func(b *testing.B) {
			raw := good(12)
			if spec.Kind == signal.Pt100 {
				raw.Value = 60
			}
			b.ReportAllocs()
			for b.Loop() {
				spec.Convert(raw)
			}
		})
	}
}
