package stamp_test

import (
	"testing"
	"time"

	"bridlewatch/collector/stamp"
)

func TestParse(t *testing.T) {
	lisbon, err := time.LoadLocation("Europe/Lisbon")
	if err != nil {
		t.Fatal(err)
	}
	want := time.Date(2026, 5, 1, 11, 30, 0, 0, time.UTC)
	rows := []struct {
		format stamp.Format
		text   string
		ok     bool
	}{
		{stamp.Format{}, "2026-05-01T11:30:00Z", true},
		{stamp.Format{}, "2026-05-01T12:30:00+01:00", true},
		{stamp.Format{}, " 1777635000 ", true},
		{stamp.Format{}, "1777635000.0000001", true},
		{stamp.Format{}, "01.05.2026 12:30", false},
		{stamp.Format{Layout: "epoch-ms"}, "1777635000000", true},
		{stamp.Format{Layout: "epoch-ms"}, "2026-05-01", false},
		{stamp.Format{Layout: "epoch"}, "NaN", false},
		{stamp.Format{Layout: "epoch"}, "1777635000000", false},
		{stamp.Format{Layout: "02.01.2006 15:04:05", Zone: lisbon}, "01.05.2026 12:30:00", true}, // summer time
		{stamp.Format{Layout: "02.01.2006 15:04:05"}, "01.05.2026 11:30:00", true},
		{stamp.Format{Layout: "rfc3339"}, "1777635000", false},
	}
	for _, r := range rows {
		got, err := r.format.Parse(r.text)
		if (err == nil) != r.ok || r.ok && !got.Equal(want) {
			t.Errorf("%q as %q: %v, %v", r.text, r.format.Layout, got, err)
		}
	}
}

func TestEpochKeepsMicroseconds(t *testing.T) {
	got, err := stamp.Format{Layout: "epoch"}.Parse("1764054000.250001")
	if err != nil || got.UnixMicro() != 1764054000250001 {
		t.Errorf("got %v %v", got.UnixMicro(), err)
	}
}
