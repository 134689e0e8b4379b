package exchange_test

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/collector/store/exchange"
)

var (
	level = store.Series{Gauge: "LG-101", Name: "LT-101", Unit: "mA"}
	float = store.Series{Gauge: "LG-101", Name: "LI-101", Unit: "m"}
)

func openDB(t *testing.T) *embedded.DB {
	t.Helper()
	db, err := embedded.Open(t.Context(), embedded.Options{Dir: t.TempDir(), Upkeep: -1})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

func csvImport(t *testing.T, id, text string, change func(*exchange.Import)) *exchange.Import {
	t.Helper()
	rows, err := exchange.ReadCSV(strings.NewReader(text), 0)
	if err != nil {
		t.Fatal(err)
	}
	im := &exchange.Import{ID: id, Rows: rows, Clock: exchange.Clock{Column: "time"}, Columns: []exchange.Mapping{
		{Column: "LT-101", Series: level}, {Column: "LI-101 (mm)", Series: float, Scale: 0.001},
	}}
	if change != nil {
		change(im)
	}
	return im
}

func run(t *testing.T, db *embedded.DB, im *exchange.Import) exchange.Report {
	t.Helper()
	report, err := im.Run(t.Context(), db, nil)
	if err != nil {
		t.Fatal(err)
	}
	return report
}

func points(t *testing.T, db *embedded.DB, s store.Series) []store.Point {
	t.Helper()
	known, err := db.Series(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for id, k := range known {
		if k == s {
			p, err := db.Points(t.Context(), id, time.Unix(0, 0), time.Date(9000, 1, 1, 0, 0, 0, 0, time.UTC))
			if err != nil {
				t.Fatal(err)
			}
			return p
		}
	}
	return nil
}

const sample = `time,LT-101,LI-101 (mm)
2026-03-01T00:00:00Z,12.5,500
2026-03-01T00:00:10Z,12.6,501.5
2026-03-01T00:00:20Z,Bad Input,502
2026-03-01T00:00:20Z,12.7,502
2026-03-01T00:05:00Z,,503
not a time,1,2
2026-03-01T00:05:10Z,13,504
`

func TestImport(t *testing.T) {
	db := openDB(t)
	dry := run(t, db, csvImport(t, "first", sample, func(im *exchange.Import) { im.DryRun, im.Gap = true, time.Minute }))
	if n := len(points(t, db, level)); n != 0 {
		t.Fatalf("a dry run stored %d points", n)
	}
	report := run(t, db, csvImport(t, "first", sample, func(im *exchange.Import) { im.Gap = time.Minute }))
	dry.DryRun = false
	if diff := cmp.Diff(dry, report); diff != "" {
		t.Errorf("the dry run promised something else (-dry +real):\n%s", diff)
	}
	at := func(s int) time.Time { return time.Date(2026, 3, 1, 0, 0, s, 0, time.UTC) }
	want := []store.Point{{Time: at(0), Value: 12.5, Quality: 4}, {Time: at(10), Value: 12.6, Quality: 4}, {Time: at(20), Quality: 1, Reason: 6}, {Time: at(310), Value: 13, Quality: 4}}
	if diff := cmp.Diff(want, points(t, db, level)); diff != "" {
		t.Errorf("LT-101 (-want +got):\n%s", diff)
	}
	if p := points(t, db, float); len(p) != 5 || p[1].Value != 0.5015 {
		t.Errorf("LI-101 in metres: %v", p)
	}
	c := report.Columns[0]
	if report.Rows != 7 || report.Repeated != 1 || report.ProblemCount != 2 || c.New != 4 || c.Conflicting != 1 || c.Bad != 1 || c.Empty != 1 ||
		c.GapCount != 1 || !c.Gaps[0].From.Equal(at(20)) || !c.Gaps[0].To.Equal(at(310)) {
		t.Errorf("report %+v", report)
	}
	if p := report.Problems; p[0].Line != 4 || p[1].Line != 7 || p[1].Text != "not a time" {
		t.Errorf("problems %+v", p)
	}
}

func TestImportIsIdempotentAndUndoable(t *testing.T) {
	db := openDB(t)
	ids, err := db.Register(t.Context(), []store.Series{level})
	if err != nil {
		t.Fatal(err)
	}
	own := store.Scan{Time: time.Date(2026, 3, 1, 0, 0, 10, 0, time.UTC), ConfigVersion: 3, Values: []store.Value{{ID: ids[0], Value: 99, Quality: 4}}}
	if err := db.Append(t.Context(), own); err != nil {
		t.Fatal(err)
	}
	before := points(t, db, level)
	first := run(t, db, csvImport(t, "first", sample, nil))
	if c := first.Columns[0]; c.New != 3 || c.Conflicting != 2 {
		t.Errorf("first run %+v; want our own value kept", c)
	}
	imported := points(t, db, level)
	for _, id := range []string{"first", "again under another name"} {
		report := run(t, db, csvImport(t, id, sample, nil))
		if c := report.Columns[0]; c.New != 0 || c.Same != 3 || c.Conflicting != 2 {
			t.Errorf("repeated as %q: %+v; want nothing new", id, c)
		}
	}
	if err := db.SealBefore(t.Context(), time.Now().AddDate(1, 0, 0)); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(imported, points(t, db, level)); diff != "" {
		t.Errorf("after repeating and sealing (-before +after):\n%s", diff)
	}
	if n, err := exchange.Undo(t.Context(), db, "again under another name"); n != 0 || err != nil {
		t.Errorf("undoing what stored nothing: %d values, error %v", n, err)
	}
	if n, err := exchange.Undo(t.Context(), db, "first"); n != 8 || err != nil {
		t.Errorf("undo: %d values, error %v; want 8", n, err)
	}
	check := func(when string) {
		t.Helper()
		if diff := cmp.Diff(before, points(t, db, level)); diff != "" {
			t.Errorf("%s (-before import +after undo):\n%s", when, diff)
		}
		if p := points(t, db, float); len(p) != 0 {
			t.Errorf("%s: LI-101 still has %v", when, p)
		}
		last, err := db.Last(t.Context(), ids, time.Now())
		if err != nil || last[0].Value != 99 {
			t.Errorf("%s: last value %v, error %v; want 99", when, last, err)
		}
	}
	check("undone")
	if err := db.SealBefore(t.Context(), time.Now().AddDate(1, 0, 0)); err != nil {
		t.Fatal(err)
	}
	check("undone and sealed")
	if _, err := exchange.Undo(t.Context(), db, "never"); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("undoing an unknown import: %v, want ErrNotFound", err)
	}
	if report := run(t, db, csvImport(t, "first", sample, nil)); report.Columns[0].New != 3 {
		t.Errorf("importing again after undo: %+v", report.Columns[0])
	}
}

func TestTimes(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	utc := func(s string) time.Time {
		at, err := time.Parse(time.RFC3339, s)
		if err != nil {
			t.Fatal(err)
		}
		return at
	}
	for _, c := range []struct {
		name      string
		clock     exchange.Clock
		cells     []string
		want      []time.Time
		ambiguous int
		problems  int
		ask       bool
	}{
		{name: "epoch seconds are found out", cells: []string{"1774738798", "1774738799.25"}, want: []time.Time{time.Unix(1774738798, 0), time.UnixMilli(1774738799250)}},
		{name: "epoch milliseconds are found out", cells: []string{"1774738798250"}, want: []time.Time{time.UnixMilli(1774738798250)}},
		{name: "offset", cells: []string{"2026-03-01T01:00:00+01:00"}, want: []time.Time{utc("2026-03-01T00:00:00Z")}},
		{name: "layout with zone", clock: exchange.Clock{Layout: "02.01.2006 15:04:05", Zone: berlin}, cells: []string{"01.07.2026 12:00:00"}, want: []time.Time{utc("2026-07-01T10:00:00Z")}},
		{name: "the hour that is there twice", clock: exchange.Clock{Layout: "2006-01-02 15:04", Zone: berlin},
			cells:     []string{"2026-10-25 01:30", "2026-10-25 02:00", "2026-10-25 02:30", "2026-10-25 02:00", "2026-10-25 02:30", "2026-10-25 03:00"},
			want:      []time.Time{utc("2026-10-24T23:30:00Z"), utc("2026-10-25T00:00:00Z"), utc("2026-10-25T00:30:00Z"), utc("2026-10-25T01:00:00Z"), utc("2026-10-25T01:30:00Z"), utc("2026-10-25T02:00:00Z")},
			ambiguous: 4},
		{name: "the hour that is not there", clock: exchange.Clock{Layout: "2006-01-02 15:04", Zone: berlin}, cells: []string{"2026-03-29 02:30", "2026-03-29 03:30"},
			want: []time.Time{utc("2026-03-29T01:30:00Z")}, problems: 1},
		{name: "no zone", clock: exchange.Clock{Layout: "2006-01-02 15:04"}, cells: []string{"2026-03-29 02:30"}, ask: true},
		{name: "day or month first", cells: []string{"03/04/2026 10:00"}, ask: true},
	} {
		t.Run(c.name, func(t *testing.T) {
			var text strings.Builder
			text.WriteString("time;LT-101\n")
			for i, cell := range c.cells {
				fmt.Fprintf(&text, "%s;%d\n", cell, i)
			}
			db := openDB(t)
			im := csvImport(t, "x", text.String(), func(im *exchange.Import) {
				im.Columns, im.Clock = im.Columns[:1], c.clock
				im.Clock.Column = "time"
			})
			report, err := im.Run(t.Context(), db, nil)
			if c.ask {
				if !errors.Is(err, exchange.ErrAsk) {
					t.Errorf("got %v, want ErrAsk", err)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			var got []time.Time
			for _, p := range points(t, db, level) {
				got = append(got, p.Time)
			}
			want := make([]time.Time, len(c.want))
			for i := range want {
				want[i] = c.want[i].UTC()
			}
			if diff := cmp.Diff(want, got); diff != "" || report.Ambiguous != c.ambiguous || report.ProblemCount != c.problems {
				t.Errorf("%d ambiguous, %d problems; times (-want +got):\n%s", report.Ambiguous, report.ProblemCount, diff)
			}
		})
	}
}

func TestDecimals(t *testing.T) {
	for _, c := range []struct {
		name    string
		decimal rune
		cell    string
		want    float64
		ask     bool
		bad     int
	}{
		{"point", 0, "1234.5", 1234.5, false, 0},
		{"comma that nobody explained", 0, `"1,234"`, 0, true, 0},
		{"decimal comma", ',', `"1,234"`, 1.234, false, 0},
		{"exponent", 0, "1.5e-3", 0.0015, false, 0},
		{"not a number", 0, "NaN", 0, false, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			db := openDB(t)
			rows, err := exchange.ReadCSV(strings.NewReader("time,LT-101\n2026-03-01T00:00:00Z,"+c.cell+"\n"), ',')
			if err != nil {
				t.Fatal(err)
			}
			im := &exchange.Import{ID: "x", Rows: rows, Clock: exchange.Clock{Column: "time"}, Decimal: c.decimal, Columns: []exchange.Mapping{{Column: "LT-101", Series: level}}}
			report, err := im.Run(t.Context(), db, nil)
			if errors.Is(err, exchange.ErrAsk) != c.ask {
				t.Fatalf("got error %v, want ErrAsk: %v", err, c.ask)
			}
			if c.ask {
				return
			}
			if p := points(t, db, level); len(p) != 1 || p[0].Value != c.want || report.Columns[0].Bad != c.bad {
				t.Errorf("got %v and %+v, want %v", p, report.Columns[0], c.want)
			}
		})
	}
}

func TestWhatDoesNotFitIsRefused(t *testing.T) {
	if _, err := exchange.ReadCSV(strings.NewReader("time\n1\n"), 0); !errors.Is(err, exchange.ErrAsk) {
		t.Errorf("a header without separators: %v, want ErrAsk", err)
	}
	_, err := csvImport(t, "x", "time,LT-101\n", nil).Run(t.Context(), openDB(t), nil)
	if err == nil || !strings.Contains(err.Error(), `"LT-101"`) {
		t.Errorf("a column that is not there: %v; want the list of those that are", err)
	}
}

// What is exported as Parquet or CSV comes back exactly.
func TestThereAndBack(t *testing.T) {
	db := openDB(t)
	run(t, db, csvImport(t, "first", sample, nil))
	known, err := db.Series(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	tab := exchange.Table{From: time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC), To: time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)}
	for id, s := range known {
		tab.Columns = append(tab.Columns, exchange.Column{ID: id, Name: s.Name, Places: -1})
	}
	var parquet, csv bytes.Buffer
	if _, err := tab.WriteParquet(t.Context(), db, &parquet, tab.Describe("test", tab.From)); err != nil {
		t.Fatal(err)
	}
	if _, err := tab.WriteCSV(t.Context(), db, &csv); err != nil {
		t.Fatal(err)
	}
	fromParquet, err := exchange.ReadParquet(bytes.NewReader(parquet.Bytes()), int64(parquet.Len()))
	if err != nil {
		t.Fatal(err)
	}
	fromCSV, err := exchange.ReadCSV(&csv, 0)
	if err != nil {
		t.Fatal(err)
	}
	for name, rows := range map[string]exchange.Rows{"Parquet": fromParquet, "CSV": fromCSV} {
		other := openDB(t)
		im := &exchange.Import{ID: name, Rows: rows, Clock: exchange.Clock{Column: "time_utc"}, Columns: []exchange.Mapping{
			{Column: "LT-101", Series: level}, {Column: "LI-101", Series: float}}}
		run(t, other, im)
		for _, s := range []store.Series{level, float} {
			var want []store.Point
			for _, p := range points(t, db, s) {
				if p.Quality == 4 { // a bad value is an empty cell
					want = append(want, p)
				}
			}
			if diff := cmp.Diff(want, points(t, other, s)); diff != "" {
				t.Errorf("%s of %s (-there +back):\n%s", s.Name, name, diff)
			}
		}
	}
}
