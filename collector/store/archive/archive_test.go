package archive

import (
	"bytes"
	"errors"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bridlewatch/collector/store"
)

var level = store.Series{Gauge: "LG-101", Name: "LT-101", Unit: "mA"}

// day returns a day of samples at 10 s whose values v gives.
func day(v func(r *rand.Rand) float64) []Sample {
	r := rand.New(rand.NewPCG(7, 11))
	out := make([]Sample, 8640)
	for i := range out {
		out[i] = Sample{At: int64(i) * 10_000_000, Value: v(r), Source: NoSource, Config: 3, Quality: 4}
	}
	return out
}

func counts(r *rand.Rand) float64 { return float64(1000 + int(r.NormFloat64()*5)) }
func hundredths(r *rand.Rand) float64 {
	return float64(1200+int(r.NormFloat64()*5)) / 100
}
func noise(r *rand.Rand) float64  { return float64(float32(12 + r.NormFloat64()*0.05)) }
func levels(r *rand.Rand) float64 { return 0.612 + r.NormFloat64()*0.001 }

func encode(t testing.TB, k Kind, series []store.Series, cols ...[]Sample) []byte {
	t.Helper()
	var buf bytes.Buffer
	w := NewWriter(&buf, k, store.Raw, "2026-03-28")
	for i, c := range cols {
		if err := w.Write(series[i], c); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func TestRoundTrip(t *testing.T) {
	spoilt := day(hundredths)
	spoilt[3] = Sample{At: spoilt[3].At, Source: -1_500_000, Config: 4, Quality: 1, Reason: 5}
	spoilt[4].Quality, spoilt[4].Reason, spoilt[4].Source = 3, 11, 250
	for _, c := range []struct {
		name    string
		samples []Sample
		kind    Kind
	}{
		{"counts", day(counts), 0},
		{"hundredths", day(hundredths), 2},
		{"float noise", day(noise), Float},
		{"computed levels", day(levels), Double},
		{"computed levels as history keeps them", day(func(r *rand.Rand) float64 { return store.Resolved("m", levels(r)) }), 5},
		{"bad values and source times", spoilt, 2},
		{"nothing usable", []Sample{{At: 1, Source: NoSource, Quality: 1}, {At: 2, Source: NoSource, Quality: 2}}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			if k := KindOf(c.samples); k != c.kind {
				t.Fatalf("kind %s, want %s", k, c.kind)
			}
			raw := encode(t, c.kind, []store.Series{level, level}, c.samples, c.samples[:1])
			f, err := Open(bytes.NewReader(raw), int64(len(raw)))
			if err != nil {
				t.Fatal(err)
			}
			if s, err := f.Series(1); err != nil || s != level {
				t.Errorf("second series is %+v, error %v; want %+v", s, err, level)
			}
			if day, class, err := f.Day(); err != nil || class != store.Raw || day.Format("2006-01-02") != "2026-03-28" {
				t.Errorf("file of %s, class %d, error %v", day, class, err)
			}
			got, err := f.Read(0, nil, true)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(c.samples, got); diff != "" {
				t.Errorf("samples (-want +got):\n%s", diff)
			}
			t.Logf("%.2f bytes a sample", float64(len(raw))/float64(len(c.samples)))
		})
	}
}

func TestKindHoldsEveryValueExactly(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 20_000 {
		v := r.NormFloat64() * powers[r.IntN(7)]
		if places := r.IntN(9); places <= maxPlaces {
			v = float64(int64(v*powers[places])) / powers[places]
		}
		s := []Sample{{Value: v, Quality: 4}, {Value: 0, Quality: 4}}
		k := KindOf(s)
		switch {
		case k <= maxPlaces:
			if n, ok := decimal(v, k); !ok || float64(n)/powers[k] != v {
				t.Fatalf("%v does not fit %s", v, k)
			}
		case k == Float && float64(float32(v)) != v:
			t.Fatalf("%v does not fit %s", v, k)
		}
	}
}

func TestDamageIsAnError(t *testing.T) {
	raw := encode(t, 2, []store.Series{level}, day(hundredths))
	sum := sumOf(t, raw)
	r := rand.New(rand.NewPCG(3, 4))
	for range 300 {
		bad := bytes.Clone(raw)
		bad[r.IntN(len(bad))] ^= 1 << r.IntN(8)
		if err := Verify(bytes.NewReader(bad), int64(len(bad)), sum); !errors.Is(err, store.ErrCorrupt) {
			t.Fatalf("got %v, want ErrCorrupt", err)
		}
	}
	if err := Verify(bytes.NewReader(raw[:100]), 100, sum); !errors.Is(err, store.ErrCorrupt) {
		t.Errorf("cut file: %v, want ErrCorrupt", err)
	}
	other := []byte("PAR1 but not one of ours PAR1")
	if _, err := Open(bytes.NewReader(other), int64(len(other))); !errors.Is(err, store.ErrCorrupt) {
		t.Errorf("another file: %v, want ErrCorrupt", err)
	}
}

func sumOf(t testing.TB, raw []byte) string {
	t.Helper()
	sum, err := Sum(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	return sum
}

func BenchmarkWrite(b *testing.B) {
	for name, v := range map[string]func(*rand.Rand) float64{"hundredths": hundredths, "float": noise, "double": levels} {
		b.Run(name, func(b *testing.B) {
			s := day(v)
			for b.Loop() {
				encode(b, KindOf(s), []store.Series{level}, s)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(s)), "ns/sample")
		})
	}
}

func BenchmarkRead(b *testing.B) {
	s := day(hundredths)
	raw := encode(b, 2, []store.Series{level}, s)
	f, err := Open(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		b.Fatal(err)
	}
	var into []Sample
	for b.Loop() {
		if into, err = f.Read(0, into[:0], false); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(s)), "ns/sample")
}
