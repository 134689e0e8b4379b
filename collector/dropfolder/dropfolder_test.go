package dropfolder

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"bridlewatch/collector"
	"bridlewatch/collector/stamp"
	"bridlewatch/compare/quantity"
)

// hand is a clock that is set by hand.
type hand struct{ now time.Time }

func (h *hand) Now() time.Time { return h.now }
func (h *hand) Sleep(ctx context.Context, d time.Duration) error {
	h.now = h.now.Add(d)
	return ctx.Err()
}

var noon = time.Date(2026, 5, 1, 12, 0, 0, 0, time.UTC)

// folder is a folder with a source on it.
type folder struct {
	t        *testing.T
	options  Options
	items    []Item
	clock    *hand
	troubles []string
	*Source
}

func newFolder(t *testing.T, o Options, columns ...string) *folder {
	o.Name, o.Dir, o.Position, o.Settled = "test", t.TempDir(), filepath.Join(t.TempDir(), "below", "position.json"), 5*time.Second
	if o.Pattern == "" {
		o.Pattern = "*.csv"
	}
	if o.TimeColumn == "" {
		o.TimeColumn = "time"
	}
	f := &folder{t: t, options: o, clock: &hand{noon}}
	for i, c := range columns {
		f.items = append(f.items, Item{collector.Tag(fmt.Sprint("T", i)), c})
	}
	f.start()
	return f
}

// start makes a source as after a crash: nothing was closed.
func (f *folder) start() {
	o := f.options
	o.Report = func(t Trouble) { f.troubles = append(f.troubles, t.String()) }
	s, err := New(o, f.items, f.clock)
	if err != nil {
		f.t.Fatal(err)
	}
	f.Source = s
	f.t.Cleanup(func() { s.Close() })
}

// put writes a file with a time of its own.
func (f *folder) put(name, text string, written time.Time) {
	f.t.Helper()
	path := filepath.Join(f.options.Dir, name)
	if err := errors.Join(os.WriteFile(path, []byte(text), 0o600), os.Chtimes(path, written, written)); err != nil {
		f.t.Fatal(err)
	}
}

// rows reads until nothing new comes and returns the values of the first item.
func (f *folder) rows() (all []float64) {
	var last time.Time
	for range 10_000 {
		before := f.Counters().Requests
		got, err := f.Read(f.t.Context())
		if err != nil && !errors.Is(err, collector.ErrNotYet) {
			f.t.Fatal(err)
		}
		if f.Counters().Requests == before {
			return all
		}
		if !got[0].SourceTime.After(last) {
			f.t.Errorf("row of %v after that of %v", got[0].SourceTime, last)
		}
		last = got[0].SourceTime
		all = append(all, got[0].Value)
		f.clock.now = f.clock.now.Add(time.Second)
	}
	f.t.Fatal("it never ends")
	return nil
}

// lines are rows of one minute each, counted from a number.
func lines(from, n int) string {
	var b strings.Builder
	for i := from; i < from+n; i++ {
		fmt.Fprintf(&b, "%s,%d\n", noon.Add(time.Duration(i-1000)*time.Minute).Format(time.RFC3339), i)
	}
	return b.String()
}

func count(from, n int) (all []float64) {
	for i := range n {
		all = append(all, float64(from+i))
	}
	return all
}

func (f *folder) want(what string, want []float64) {
	f.t.Helper()
	if got := f.rows(); !slices.Equal(got, want) {
		f.t.Errorf("%s: got %v, want %v", what, got, want)
	}
}

const header = "time,level\n"

func TestFilesInOrderOnceEach(t *testing.T) {
	f := newFolder(t, Options{}, "level")
	if got, err := f.Read(t.Context()); !errors.Is(err, collector.ErrNotYet) || got[0].Reason != quantity.NotRead {
		t.Errorf("an empty folder: %+v, %v", got, err)
	}
	f.put("b.csv", header+lines(3, 2), noon.Add(-time.Minute))
	f.put("a.csv", header+lines(5, 2), noon.Add(-30*time.Second))
	f.put("c.csv", header+lines(1, 2), noon.Add(-time.Hour))
	f.put("notes.txt", "nothing", noon.Add(-time.Hour))
	f.put("d.csv", header+lines(7, 2), noon.Add(-time.Second)) // may still be written to
	got := f.rows()
	if !slices.Equal(got, count(1, 8)) {
		t.Errorf("got %v", got)
	}
	f.want("nothing new", nil)
	f.put("c.csv", header+lines(1, 2)+lines(9, 2), f.clock.now.Add(-time.Minute))
	f.want("a file that has grown", count(9, 2))
	f.put("a.csv", header+lines(11, 1), f.clock.now.Add(-time.Minute))
	f.want("a file written anew", count(11, 1))
	if len(f.troubles) != 0 {
		t.Errorf("troubles: %q", f.troubles)
	}
}

func TestAFileIsCompleteWhenItRests(t *testing.T) {
	f := newFolder(t, Options{}, "level")
	f.put("a.csv", header+lines(1, 1), noon.Add(time.Hour)) // a clock that runs ahead
	f.want("at once", nil)
	f.clock.now = f.clock.now.Add(4 * time.Second)
	f.put("a.csv", header+lines(1, 2), noon.Add(time.Hour+time.Second))
	f.want("still written to", nil)
	f.clock.now = f.clock.now.Add(4 * time.Second)
	f.want("not long enough", nil)
	f.clock.now = f.clock.now.Add(time.Second)
	f.want("at rest", count(1, 2))
}

// TestNothingIsLostByACrash ends at every row and begins again.
func TestNothingIsLostByACrash(t *testing.T) {
	for crash := range 25 {
		f := newFolder(t, Options{}, "level")
		f.put("a.csv", header+lines(1, 10), noon.Add(-time.Hour))
		f.put("b.csv", header+lines(11, 10), noon.Add(-time.Minute))
		var before []float64
		for range crash {
			got, err := f.Read(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			before = append(before, got[0].Value)
		}
		f.start()
		after := f.rows()
		stored := max(0, crash-remembered) // by the cycles of the reads
		all := append(slices.Clone(before[:stored]), after...)
		slices.Sort(all)
		if all = slices.Compact(all); !slices.Equal(all, count(1, 20)) {
			t.Errorf("crash after %d rows: %v then %v", crash, before, after)
		}
		if crash < 20 && len(after) > 20-crash+remembered+1 {
			t.Errorf("crash after %d rows: %d rows again", crash, len(after)-(20-crash))
		}
	}
}

func TestBadLinesAreReportedWithTheirPlace(t *testing.T) {
	f := newFolder(t, Options{Missing: []string{"---"}}, "level", "pressure")
	f.put("a.csv", "time,level,pressure\n"+
		"2026-05-01T10:00:00Z,1,2\n"+
		"yesterday,2,2\n"+
		"2026-05-01T10:02:00Z,three,2\n"+
		"2026-05-01T10:03:00Z,---,2\n"+
		"2026-05-01T10:04:00Z\n"+
		"2026-05-01T10:05:00Z,\"5\"x,2\n"+
		"2026-05-01T10:06:00Z,\"6,5\",2\n"+
		"2026-05-01T10:01:00Z,7,2\n"+
		"2026-05-01T10:07:00Z,NaN,2\n"+
		"2026-05-01T10:08:00Z,8,2\n"+
		"2026-05-01T10:09:00Z,9", noon.Add(-time.Hour))
	f.put("b.csv", "when,level\n2026-05-01T11:00:00Z,1\n", noon.Add(-time.Minute))
	if got := f.rows(); !slices.Equal(got, []float64{1, 0, 0, 0, 0, 0, 8}) {
		t.Errorf("got %v", got)
	}
	want := []string{"a.csv: the last 22 bytes", "a.csv:3: time", "a.csv:4: column", "a.csv:7: ", "a.csv:8: column", "a.csv:9: time", "a.csv:10: column", "b.csv: no time column"}
	for i, w := range want {
		if i >= len(f.troubles) || !strings.HasPrefix(f.troubles[i], w) {
			t.Fatalf("troubles are\n%s", strings.Join(f.troubles, "\n"))
		}
	}
	if len(f.troubles) != len(want) || int(f.Counters().BadFrames) != len(want) {
		t.Errorf("%d troubles, want %d:\n%s", len(f.troubles), len(want), strings.Join(f.troubles, "\n"))
	}
	f.start()
	f.rows()
	for _, again := range f.troubles[len(want):] {
		if strings.HasPrefix(again, "a.csv:3:") || strings.HasPrefix(again, "a.csv:7:") {
			t.Errorf("told again after a restart: %s", again)
		}
	}
}

func TestHowFilesAreWritten(t *testing.T) {
	lisbon, err := time.LoadLocation("Europe/Lisbon")
	if err != nil {
		t.Fatal(err)
	}
	encode := func(s string, err error) string {
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	german := "Zeit;Füllstand\r\n01.05.2026 12:30:00;1,5\r\n"
	comma := Options{Comma: ';', DecimalComma: true, TimeColumn: "Zeit", Times: stamp.Format{Layout: "02.01.2006 15:04:05", Zone: lisbon}}
	with := func(o Options, encoding string) Options { o.Encoding = encoding; return o }
	rows := []struct {
		name, text string
		o          Options
		column     string
	}{
		{"decimal comma", german, comma, "Füllstand"},
		{"byte order mark", "\ufeff" + german, comma, "Füllstand"},
		{"windows-1252", encode(charmap.Windows1252.NewEncoder().String(german)), with(comma, "windows-1252"), "Füllstand"},
		{"utf-16", encode(unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder().String(german)), with(comma, "utf-16"), "Füllstand"},
		{"utf-16, the other way round", encode(unicode.UTF16(unicode.BigEndian, unicode.UseBOM).NewEncoder().String(german)), with(comma, "utf-16"), "Füllstand"},
		{"no header", "2026-05-01T11:30:00Z\t1.5\n", Options{Comma: '\t', NoHeader: true, TimeColumn: "#1"}, "#2"},
		{"epoch", "time,level\n1777635000,1.5\n", Options{}, "level"},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			f := newFolder(t, r.o, r.column)
			f.put("a.csv", r.text, noon.Add(-time.Hour))
			got, err := f.Read(t.Context())
			if err != nil || got[0].Value != 1.5 || got[0].Quality != quantity.Good || !got[0].SourceTime.Equal(time.Date(2026, 5, 1, 11, 30, 0, 0, time.UTC)) {
				t.Errorf("got %+v, %v; %q", got, err, f.troubles)
			}
		})
	}
}

func TestOldRowsAreStale(t *testing.T) {
	f := newFolder(t, Options{MaxAge: time.Hour}, "level")
	f.put("a.csv", "time,level\n2026-05-01T10:59:59Z,1\n2026-05-01T11:30:00Z,2\n", noon.Add(-time.Hour))
	for i, want := range []quantity.Quality{quantity.Stale, quantity.Good} {
		if got, err := f.Read(t.Context()); err != nil || got[0].Quality != want {
			t.Errorf("row %d: %+v, %v", i, got, err)
		}
		if said := len(f.Condition().Remarks) == 1; said != (want == quantity.Stale) {
			t.Errorf("row %d: remarks %+v", i, f.Condition().Remarks)
		}
	}
	if n := f.Counters().StaleFrames; n != 1 {
		t.Errorf("%d rows counted as too old, want 1", n)
	}
}

// TestEveryRowIsGivenOrCounted reads a file with rows that cannot be used among
// those that can: the sum is the file.
func TestEveryRowIsGivenOrCounted(t *testing.T) {
	f := newFolder(t, Options{MaxAge: time.Hour}, "level")
	text, rows := header, 0
	add := func(line string) { text += line + "\n"; rows++ }
	for i := range 300 {
		at := noon.Add(-30*time.Minute + time.Duration(i)*time.Second).Format(time.RFC3339)
		switch i % 10 {
		case 3:
			add("not a time,1")
		case 5:
			add(noon.Add(-20*time.Hour).Format(time.RFC3339) + ",1") // before what has been read
		case 7:
			add(at + `,"1` + "\"x\"")
		default:
			add(at + ",1")
		}
	}
	f.put("a.csv", text, noon.Add(-time.Minute))
	good := 0
	for range 2 * rows {
		before := f.Counters().Requests
		got, _ := f.Read(t.Context())
		if f.Counters().Requests > before && got[0].Quality == quantity.Good {
			good++
		}
	}
	c := f.Counters()
	if good != 210 || int(c.Requests+c.BadFrames) != rows {
		t.Errorf("%d good, %+v for %d rows", good, c, rows)
	}
}

func TestTheFolderIsLeftAsItIs(t *testing.T) {
	f := newFolder(t, Options{}, "level")
	f.put("a.csv", header+lines(1, 5), noon.Add(-time.Hour))
	if err := os.Chmod(f.options.Dir, 0o500); err != nil {
		t.Fatal(err)
	}
	f.want("all", count(1, 5))
	os.RemoveAll(f.options.Dir)
	if got, err := f.Read(t.Context()); err == nil || got[0].Reason != quantity.NotConnected {
		t.Errorf("without the folder: %+v, %v", got, err)
	}
}

func FuzzTable(f *testing.F) {
	f.Add([]byte(header + lines(1, 2)))
	f.Add([]byte("time,level\n2026-05-01T10:00:00Z,\"1\n2\"\n"))
	f.Fuzz(func(t *testing.T, b []byte) {
		d := newFolder(t, Options{}, "level")
		d.put("a.csv", string(b), noon.Add(-time.Hour))
		for range 100 {
			before := d.Counters().Requests
			got, _ := d.Read(t.Context())
			if g := got[0]; g.Quality == quantity.Good && (g.Value != g.Value || g.SourceTime.IsZero()) {
				t.Errorf("%q gives %+v", b, g)
			}
			if d.Counters().Requests == before {
				return
			}
		}
	})
}
