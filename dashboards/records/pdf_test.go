package records

import (
	"bytes"
	"os"
	"testing"

	"bridlewatch/compare/quantity"
	"bridlewatch/compare/record"
	"bridlewatch/dashboards/units"
)

func metric() units.Set { return units.Metric }

// drained is a full record, with everything a sheet can show.
func drained(t *testing.T) Entry {
	t.Helper()
	b, _, _ := book(t)
	ctx := t.Context()
	g, _ := b.Plant.Gauge("LG-101")
	if _, err := b.Begin(ctx, g, start()); err != nil {
		t.Fatal(err)
	}
	for i, at := range []quantity.Length{0.95, 0.7, 0.5, 0.55, 0.3, 0.05} {
		phase := record.AsFound
		if i > 3 {
			phase = record.AsLeft
		}
		if _, err := b.Take(ctx, g, 0, Stop{Phase: phase, Asked: at, Reference: at}); err != nil {
			t.Fatal(err)
		}
	}
	up, down := quantity.Length(0.787), quantity.Length(0.7745)
	if _, err := b.Switch(ctx, g, 0, Switched{Phase: record.AsFound, Tag: "LSH-101", Rising: &up, Falling: &down}); err != nil {
		t.Fatal(err)
	}
	e, err := b.Finish(ctx, g, 0, End{Work: "Drained in steps, refilled.", Remarks: "Drain ran freely. 21 °C outside.", Witness: "W. Person", Accepted: "A. Person"})
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func TestPDFIsReproducible(t *testing.T) {
	e := drained(t)
	first, err := PDF(e, metric())
	if err != nil {
		t.Fatal(err)
	}
	for range 3 {
		back, err := entryAgain(e)
		if err != nil {
			t.Fatal(err)
		}
		again, err := PDF(back, metric())
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(first, again) {
			t.Fatal("the same record printed twice gives other bytes")
		}
	}
	if !bytes.HasPrefix(first, []byte("%PDF-")) || len(first) > 200_000 {
		t.Errorf("%d bytes beginning %q", len(first), first[:8])
	}
	if to := os.Getenv("BRIDLEWATCH_SHOTS"); to != "" {
		if err := os.WriteFile(to+"/record.pdf", first, 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

// entryAgain reads the record from its stored bytes, as after a restart.
func entryAgain(e Entry) (Entry, error) {
	r, err := record.Parse(e.Body)
	return Entry{Record: r, Hash: record.Hash(e.Body), Body: e.Body}, err
}

func TestPDFInOtherUnitsDiffers(t *testing.T) {
	e := drained(t)
	mm, err := PDF(e, units.Metric)
	if err != nil {
		t.Fatal(err)
	}
	inches, err := PDF(e, units.US)
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Equal(mm, inches) {
		t.Error("inches look like millimetres")
	}
}

func BenchmarkPDF(b *testing.B) {
	bk, _, _ := book(b)
	e, err := bk.Add(b.Context(), verified("LG-101", bk.Now()))
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := PDF(e, units.Metric); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkVerify walks a chain of a thousand records.
func BenchmarkVerify(b *testing.B) {
	bk, _, _ := book(b)
	for range 1000 {
		if _, err := bk.Add(b.Context(), verified("LG-101", bk.Now())); err != nil {
			b.Fatal(err)
		}
	}
	for b.Loop() {
		if n, _, err := bk.Verify(b.Context()); n != 1000 || err != nil {
			b.Fatal(n, err)
		}
	}
}
