package exchange

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/parquet-go/parquet-go"
	"github.com/xuri/excelize/v2"

	"bridlewatch/collector/store"
)

// history is a source of fixed points.
type history map[store.ID][]store.Point

func (h history) Points(_ context.Context, id store.ID, from, to time.Time) ([]store.Point, error) {
	var out []store.Point
	for _, p := range h[id] {
		if !p.Time.Before(from) && p.Time.Before(to) {
			out = append(out, p)
		}
	}
	return out, nil
}

// The clocks of Europe/Berlin went back on 25 October 2026 at 03:00 local time
// (01:00 UTC): the hour from 02:00 is there twice.
var fold = time.Date(2026, 10, 25, 0, 30, 0, 0, time.UTC)

func table(t *testing.T) (Table, history) {
	t.Helper()
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	h := history{
		1: {{Time: fold, Value: 0.61234, Quality: 4}, {Time: fold.Add(time.Hour), Value: -0.00549, Quality: 3}, {Time: fold.Add(2 * time.Hour), Quality: 1}},
		2: {{Time: fold.Add(time.Hour), Value: 12.345, Quality: 4}, {Time: fold.Add(26 * time.Hour), Value: 20, Quality: 4}},
	}
	return Table{
		Columns: []Column{{ID: 1, Name: "LG-101.float.level", Unit: "mm", Scale: 1000, Places: 1}, {ID: 2, Name: "=LT-101", Unit: "mA", Places: -1}},
		From:    fold.Add(-time.Hour), To: fold.Add(48 * time.Hour), Zone: berlin, Quality: true,
	}, h
}

func TestCSV(t *testing.T) {
	tab, h := table(t)
	var buf bytes.Buffer
	n, err := tab.WriteCSV(t.Context(), h, &buf)
	if err != nil || n != 4 {
		t.Fatalf("%d rows, error %v; want 4", n, err)
	}
	want := strings.ReplaceAll(`time_utc,time_local,LG-101.float.level_mm,LG-101.float.level_quality,'=LT-101_mA,'=LT-101_quality
2026-10-25T00:30:00Z,2026-10-25 02:30:00 +02:00,612.3,good,,
2026-10-25T01:30:00Z,2026-10-25 02:30:00 +01:00,-5.5,uncertain,12.345,good
2026-10-25T02:30:00Z,2026-10-25 03:30:00 +01:00,,bad,,
2026-10-26T02:30:00Z,2026-10-26 03:30:00 +01:00,,,20,good
`, "\n", "\r\n")
	if diff := cmp.Diff(want, buf.String()); diff != "" {
		t.Errorf("CSV (-want +got):\n%s", diff)
	}
	if _, err := csv.NewReader(&buf).ReadAll(); err != nil {
		t.Errorf("not RFC 4180: %v", err)
	}
}

func TestXLSX(t *testing.T) {
	tab, h := table(t)
	var buf bytes.Buffer
	n, err := tab.WriteXLSX(t.Context(), h, &buf, tab.Describe("bridlewatch", fold))
	if err != nil || n != 4 {
		t.Fatalf("%d rows, error %v; want 4", n, err)
	}
	f, err := excelize.OpenReader(&buf)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	got, err := f.GetRows("history")
	if err != nil {
		t.Fatal(err)
	}
	want := [][]string{
		{"time_utc", "time_local", "LG-101.float.level_mm", "LG-101.float.level_quality", "'=LT-101_mA", "'=LT-101_quality"},
		{"2026-10-25 00:30:00.000", "2026-10-25 02:30:00.000", "612.3", "good"},
		{"2026-10-25 01:30:00.000", "2026-10-25 02:30:00.000", "-5.5", "uncertain", "12.345", "good"},
		{"2026-10-25 02:30:00.000", "2026-10-25 03:30:00.000", "", "bad"},
		{"2026-10-26 02:30:00.000", "2026-10-26 03:30:00.000", "", "", "20", "good"},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("sheet (-want +got):\n%s", diff)
	}
	if about, err := f.GetRows("about"); err != nil || len(about) != 8 || about[4][1] != "Europe/Berlin" {
		t.Errorf("about %v, error %v", about, err)
	}
}

func TestParquet(t *testing.T) {
	tab, h := table(t)
	var buf bytes.Buffer
	n, err := tab.WriteParquet(t.Context(), h, &buf, tab.Describe("bridlewatch", fold))
	if err != nil || n != 4 {
		t.Fatalf("%d rows, error %v; want 4", n, err)
	}
	type row struct {
		Time    int64    `parquet:"time_utc"`
		Level   *float64 `parquet:"LG-101.float.level_mm"`
		Quality *uint8   `parquet:"LG-101.float.level_quality"`
		Raw     *float64 `parquet:"=LT-101_mA"`
	}
	got, err := parquet.Read[row](bytes.NewReader(buf.Bytes()), int64(buf.Len()))
	if err != nil {
		t.Fatal(err)
	}
	at := func(hours int) int64 { return fold.Add(time.Duration(hours) * time.Hour).UnixMicro() }
	want := []row{
		{at(0), new(612.3), new(uint8(4)), nil},
		{at(1), new(-5.5), new(uint8(3)), new(12.345)},
		{at(2), nil, new(uint8(1)), nil},
		{at(26), nil, nil, new(20.0)},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("rows (-want +got):\n%s", diff)
	}
}

func TestTooManyRowsForASheet(t *testing.T) {
	tab, h := table(t)
	for _, c := range []struct {
		limit int
		want  error
	}{{5, nil}, {4, ErrTooManyRows}} {
		f := excelize.NewFile()
		defer f.Close()
		if err := f.SetSheetName("Sheet1", "history"); err != nil {
			t.Fatal(err)
		}
		if _, err := tab.writeSheet(t.Context(), h, f, c.limit); !errors.Is(err, c.want) {
			t.Errorf("four rows and a header in a sheet of %d: %v, want %v", c.limit, err, c.want)
		}
	}
}

func TestTableIsChecked(t *testing.T) {
	for name, tab := range map[string]Table{
		"no column":   {From: fold, To: fold.Add(1)},
		"no range":    {Columns: []Column{{Name: "a"}}, From: fold, To: fold},
		"twice":       {Columns: []Column{{Name: "a"}, {Name: "a"}}, From: fold, To: fold.Add(1)},
		"a time name": {Columns: []Column{{Name: "time_utc"}}, From: fold, To: fold.Add(1)},
	} {
		if _, err := tab.WriteCSV(t.Context(), history{}, &bytes.Buffer{}); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}
