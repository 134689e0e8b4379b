package embedded

import (
	"errors"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bridlewatch/collector/store"
)

// randomScan has any mixture of qualities, sources and values.
func randomScan(r *rand.Rand) (t int64, values []store.Value) {
	t = r.Int64N(1 << 50)
	values = make([]store.Value, 1+r.IntN(80))
	plain := r.IntN(2) == 0
	for i := range values {
		values[i] = store.Value{ID: store.ID(r.Uint32()), Value: r.NormFloat64() * 100, Quality: good}
		if plain {
			continue
		}
		values[i].Quality, values[i].Reason = uint8(r.IntN(5)), uint8(r.IntN(256))
		if r.IntN(2) == 0 {
			values[i].Source = time.UnixMicro(t + r.Int64N(1<<40) - 1<<39).UTC()
		}
	}
	return t, values
}

func TestScanRoundTrip(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 9))
	for range 2000 {
		at, values := randomScan(r)
		ids := make([]store.ID, len(values))
		for i := range values {
			ids[i] = values[i].ID
		}
		own := r.IntN(2) == 0
		raw := appendBody(nil, at, values, own)
		if own {
			ids = nil // the body has its own list
		}
		b, err := decodeBody(raw, ids)
		if err != nil {
			t.Fatal(err)
		}
		cols := make([]column, len(values))
		all := make(places, len(values))
		for i := range all {
			all[i] = place{i, i}
		}
		if err := all.take(b, sample{At: at}, cols); err != nil {
			t.Fatal(err)
		}
		for i, want := range values {
			if !usable(want.Quality) {
				want.Value = 0
			}
			if diff := cmp.Diff(want, valueOf(b.ids[i], cols[i][0])); diff != "" {
				t.Fatalf("value %d of %d (-want +got):\n%s", i, len(values), diff)
			}
		}
	}
}

// A damaged scan is ErrCorrupt or reads as something else; it never ends the
// process.
func TestDamagedScan(t *testing.T) {
	r := rand.New(rand.NewPCG(10, 11))
	refused := 0
	for range 20_000 {
		at, values := randomScan(r)
		ids := make([]store.ID, len(values))
		raw := appendBody(nil, at, values, r.IntN(2) == 0)
		switch r.IntN(3) {
		case 0:
			raw = raw[:r.IntN(len(raw))]
		case 1:
			raw[r.IntN(min(3, len(raw)))] ^= 1 << r.IntN(8)
		default:
			for i := range raw {
				raw[i] = byte(r.Uint32())
			}
		}
		b, err := decodeBody(raw, ids)
		if err == nil && b.source != nil {
			err = b.sources(make([]int64, len(b.ids)))
		}
		if err != nil {
			refused++
			if !errors.Is(err, store.ErrCorrupt) {
				t.Fatalf("got %v, want ErrCorrupt", err)
			}
		}
	}
	if refused < 5000 {
		t.Errorf("only %d of 20000 damaged scans were refused", refused)
	}
}

// A damaged row costs itself and leaves a notice; the rest is read.
func TestDamagedRowIsSkipped(t *testing.T) {
	p := newPlant(t, 3, Options{})
	p.run(time.Hour, time.Minute)
	want := p.all(p.ids[0])
	if _, err := p.write.Exec(`UPDATE scan SET body = x'00ff' WHERE seq = 30`); err != nil {
		t.Fatal(err)
	}
	if got := p.all(p.ids[0]); len(got) != len(want)-1 {
		t.Errorf("%d points beside a damaged row, want %d", len(got), len(want)-1)
	}
	if last, err := p.Last(t.Context(), p.ids, want[29].Time); err != nil || !last[0].Time.Equal(want[28].Time) {
		t.Errorf("last value %v, error %v; want that before the damaged row", last, err)
	}
	if n := p.Notices(); len(n) != 1 {
		t.Errorf("notices %v, want one", n)
	}
	if err := p.SealBefore(t.Context(), farFuture); err != nil {
		t.Fatal(err)
	}
	if n := p.count(`SELECT count(*) FROM damaged_scan WHERE seq = 30 AND length(body) = 2`); n != 1 {
		t.Errorf("%d damaged scans kept after sealing, want one", n)
	}
}
