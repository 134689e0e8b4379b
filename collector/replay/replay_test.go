package replay

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"bridlewatch/collector"
	"bridlewatch/compare/quantity"
)

func write(t *testing.T, name, text string) string {
	t.Helper()
	p := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(p, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return p
}

func TestFilesAreMergedByTimeAndSamplesAge(t *testing.T) {
	a := write(t, "a.csv", "time,LI\n2026-05-01T00:00:00Z,1.0\n2026-05-01T00:02:00Z,2.0\n")
	b := write(t, "b.csv", "time,LT,other\n2026-05-01T00:00:00Z,10,x\n2026-05-01T00:01:00Z,,x\n2026-05-01T00:02:00Z,bad,x\n2026-05-01T00:09:00Z,13,x\n")
	r, err := Open([]string{a, b}, Options{}, []Signal{{"LI-1", "LI", 5 * time.Minute}, {"LT-1", "LT", 0}})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	want := []struct {
		minute int
		li     float64
		qli    quantity.Quality
		lt     float64
		qlt    quantity.Quality
	}{
		{0, 1, quantity.Good, 10, quantity.Good},
		{1, 1, quantity.Good, 10, quantity.Good},
		{2, 2, quantity.Good, 0, quantity.Bad},
		{9, 2, quantity.Stale, 13, quantity.Good},
	}
	samples := make([]collector.Sample, 2)
	for i, w := range want {
		at, err := r.Next(samples)
		if err != nil {
			t.Fatal(err)
		}
		li, lt := samples[0], samples[1]
		if at.Minute() != w.minute || li.Value != w.li || li.Quality != w.qli || lt.Value != w.lt || lt.Quality != w.qlt {
			t.Errorf("snapshot %d: %v %+v, want %+v", i, at, samples, w)
		}
	}
	if _, err := r.Next(samples); !errors.Is(err, io.EOF) {
		t.Errorf("after the last row: %v, want EOF", err)
	}
	if tr := r.Troubles(); tr.Count != 1 || !strings.HasSuffix(tr.First[0].String(), `b.csv:4: column "LT": "bad" is not a number`) {
		t.Errorf("troubles %v", tr)
	}
	if done, total := r.Progress(); done != total || total == 0 {
		t.Errorf("progress %d of %d at the end", done, total)
	}
}

func TestMessagesNameThePlace(t *testing.T) {
	rows := []struct {
		name, text string
		o          Options
		want       string // of Open, or of the first trouble
	}{
		{"no time column", "when,LI\n", Options{}, `no time column "time"; the header has ["when" "LI"]: set time_column`},
		{"no such column", "time,LT\n", Options{}, `no file has the column "LI"`},
		{"empty file", "", Options{}, "no header line"},
		{"time of another form", "time,LI\n01.05.2026,1\n", Options{}, `:2: time "01.05.2026" is neither RFC 3339 nor epoch seconds`},
		{"time going back", "time,LI\n100,1\n90,1\n", Options{TimeFormat: "epoch"}, ":3: time 1970-01-01T00:01:30Z is before the row above"},
		{"a stray time", "time,LI\n100,1\n200,1\n9999,1\n300,1\n400,1\n", Options{TimeFormat: "epoch"}, ":4: time 1970-01-01T02:46:39Z is after the rows below, which go on from the row above (1970-01-01T00:05:00Z)"},
		{"no CSV", "time,LI\n100,1\n200,\"1\" 2\n300,1\n", Options{TimeFormat: "epoch"}, ":3: the row is no CSV"},
		{"decimal comma", "time;LI\n100;1,5\n", Options{Comma: ';'}, `:2: column "LI": "1,5" has a comma; set decimal_comma`},
		{"point beside decimal commas", "time;LI\n100;1.5\n", Options{Comma: ';', DecimalComma: true}, `"1.5" has a point, and numbers are written with a decimal comma`},
		{"another separator", "time;LI\n100;1\n", Options{}, `separated by ";", set separator`},
		{"time of another form than RFC 3339", "time,LI\n01/03/2026 06:00:00,1\n", Options{TimeFormat: "rfc3339"}, `:2: time "01/03/2026 06:00:00" is not RFC 3339, such as 2026-03-01T06:00:00Z; set time_format`},
		{"time of another form than the pattern", "time,LI\n2026-03-01,1\n", Options{TimeFormat: "02.01.2006"}, `:2: time "2026-03-01" is not written as time_format says, "02.01.2006"`},
		{"short row", "LI,time\n1\n", Options{}, ":2: the row has 1 cells, the time is in cell 2"},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			r, err := Open([]string{write(t, "f.csv", row.text)}, row.o, []Signal{{"LI-1", "LI", 0}})
			var got string
			if err != nil {
				got = err.Error()
			} else {
				defer r.Close()
				for err == nil {
					_, err = r.Next(nil)
				}
				if tr := r.Troubles(); tr.Count > 0 {
					got = tr.First[0].String()
				}
			}
			if !strings.Contains(got, row.want) {
				t.Errorf("got %q, want %q in it", got, row.want)
			}
		})
	}
}

// TestDecimalComma reads numbers as half of the world writes them.
func TestDecimalComma(t *testing.T) {
	r, err := Open([]string{write(t, "f.csv", "time;LI\n100;1,5\n")}, Options{Comma: ';', DecimalComma: true}, []Signal{{"LI-1", "LI", 0}})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	samples := make([]collector.Sample, 1)
	if _, err := r.Next(samples); err != nil || samples[0].Value != 1.5 || samples[0].Quality != quantity.Good {
		t.Errorf("%+v, %v", samples[0], err)
	}
}

// One wrong time or one broken row costs that row and no other. A row that goes
// back by itself is the one left out, not the one above it.
func TestOneWrongRowCostsNoOther(t *testing.T) {
	for _, r := range []struct{ name, text, want string }{
		{"far ahead", "100,1\n200,2\n99999,3\n300,4\n400,5\n", "1 2 4 5"},
		{"first of all", "99999,1\n200,2\n300,3\n", "2 3"},
		{"back", "100,1\n200,2\n150,3\n300,4\n400,5\n", "1 2 4 5"},
		{"back far", "100,1\n200,2\n5,3\n300,4\n400,5\n", "1 2 4 5"},
		{"at the end", "100,1\n200,2\n99999,3\n", "1 2 3"},
		{"the same time twice", "100,1\n100,2\n200,3\n", "2 3"},
		{"a quote", "100,1\n200,\"2\" x\n300,4\n400,5\n", "1 4 5"},
		{"a jump of the clock that stays", "100,1\n200,2\n9000,3\n9100,4\n9200,5\n", "1 2 3 4 5"},
	} {
		t.Run(r.name, func(t *testing.T) {
			h, err := Open([]string{write(t, "f.csv", "time,LI\n"+r.text)}, Options{TimeFormat: "epoch"}, []Signal{{"LI-1", "LI", 0}})
			if err != nil {
				t.Fatal(err)
			}
			defer h.Close()
			var got []string
			samples := make([]collector.Sample, 1)
			for {
				if _, err := h.Next(samples); err != nil {
					break
				}
				got = append(got, strconv.FormatFloat(samples[0].Value, 'g', -1, 64))
			}
			if s := strings.Join(got, " "); s != r.want {
				t.Errorf("got %s, want %s; %v", s, r.want, h.Troubles().First)
			}
		})
	}
}

func TestSameColumnInTwoFilesIsRefused(t *testing.T) {
	a, b := write(t, "a.csv", "time,LI\n"), write(t, "b.csv", "time,LI\n")
	if _, err := Open([]string{a, b}, Options{}, []Signal{{"LI-1", "LI", 0}}); err == nil || !strings.Contains(err.Error(), "is in ") {
		t.Errorf("got %v, want a refusal naming both files", err)
	}
}

// A long name of a column is cut between characters, whatever they are written with.
func TestNamesAreCutBetweenCharacters(t *testing.T) {
	long := strings.Repeat("Füllstand", 5)
	for _, r := range []struct{ name, want string }{
		{long, `["` + string([]rune(long)[:40]) + `..."]`},
		{strings.Repeat("ü", 40), `["` + strings.Repeat("ü", 40) + `"]`},
		{strings.Repeat("液", 41), `["` + strings.Repeat("液", 40) + `..."]`},
	} {
		if got := listed([]string{r.name}); got != r.want {
			t.Errorf("%s: %s, want %s", r.name, got, r.want)
		}
	}
}
