package dashboards

import (
	"context"
	"errors"
	"io"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/exchange"
	"bridlewatch/dashboards/access"
	"bridlewatch/dashboards/intake"
	"bridlewatch/dashboards/plant/planttest"
)

// shelf is a door for files that keeps what it was asked.
type shelf struct {
	all   []intake.Import
	asked []string
}

func (s *shelf) Most() int64                                            { return 20e6 }
func (s *shelf) Imports(context.Context) ([]intake.Import, error)       { return s.all, nil }
func (s *shelf) Undo(_ context.Context, _ access.Actor, n string) error { return s.note("undo " + n) }
func (s *shelf) Confirm(_ context.Context, _ access.Actor, n string) error {
	return s.note("confirm " + n)
}
func (s *shelf) Discard(_ context.Context, _ access.Actor, n string) error {
	return s.note("discard " + n)
}

func (s *shelf) HandIn(_ context.Context, by access.Actor, name, file string, body io.Reader) error {
	n, err := io.Copy(io.Discard, body)
	if err != nil || n == 0 {
		return errors.Join(err, errors.New("nothing came"))
	}
	return s.note("hand in " + name + " " + file + " by " + by.Name)
}

func (s *shelf) note(what string) error {
	s.asked = append(s.asked, what)
	return nil
}

// someImports is a file that was tried beside imports of earlier days.
func someImports() *shelf {
	report := &exchange.Report{Rows: 90_000, From: planttest.Now.Add(-48 * time.Hour), To: planttest.Now, Repeated: 3, ProblemCount: 102,
		Columns: []exchange.ColumnReport{{Column: "LI102.PV <mm>", Series: store.Series{Gauge: "LG-102", Name: "LI-102", Class: store.Raw, Unit: "mm"}, New: 89_000, Same: 12, Conflicting: 4, Bad: 1,
			GapCount: 1, Gaps: []exchange.Gap{{From: planttest.Now.Add(-3 * time.Hour), To: planttest.Now.Add(-2 * time.Hour)}}}},
		Problems: []exchange.Problem{{Line: 17, Column: "LI102.PV", Text: "<bad>", Why: "is no number"}}}
	return &shelf{all: []intake.Import{
		{Name: "boiler house 2025", State: intake.Tried, File: "boiler.csv", By: "engineer", At: planttest.Now, Zone: "Europe/Lisbon", Report: report},
		{Name: "tank farm 2024", State: intake.Done, At: planttest.Now.AddDate(0, 0, -1), Report: report},
		{Name: "old", State: intake.Undone, At: planttest.Now.AddDate(0, 0, -2)},
	}}
}

func TestImportsPage(t *testing.T) {
	door := someImports()
	address, _ := peopled(t, Options{Imports: door}, access.Options{})
	engineer := visitor(t)
	enter(t, engineer, address, "engineer", passphrase)
	_, page := visit(t, engineer, address+"/imports")
	for _, want := range []string{"boiler house 2025 was tried", "90000 rows", "LI102.PV &lt;mm&gt;", "89000", "Europe/Lisbon", "&lt;bad&gt;", "and 101 more", "Import it", "Discard the file", "Take back tank farm 2024"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if strings.Contains(page, "Take back old") {
		t.Error("what was taken back can be taken back again")
	}
	for _, do := range []string{"confirm", "discard", "undo"} {
		if answer, _ := postForm(t, engineer, address+"/imports/act", url.Values{"do": {do}, "name": {"x"}}); answer.StatusCode != 200 {
			t.Errorf("%s: %d", do, answer.StatusCode)
		}
	}
	if answer, _ := postForm(t, engineer, address+"/imports/act", url.Values{"do": {"burn"}, "name": {"x"}}); answer.StatusCode != 422 {
		t.Errorf("something else: %d", answer.StatusCode)
	}
	if got := strings.Join(door.asked, ","); got != "confirm x,discard x,undo x" {
		t.Errorf("asked %q", got)
	}
	// A form of another site is refused before anybody reads the file.
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, address+"/imports", strings.NewReader("x"))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Origin", "https://elsewhere.example")
	r.Header.Set("Sec-Fetch-Site", "cross-site")
	answer, err := engineer.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	answer.Body.Close()
	if answer.StatusCode != 403 {
		t.Errorf("a form of another site: %d, want 403", answer.StatusCode)
	}
	technician := visitor(t)
	enter(t, technician, address, "technician", passphrase)
	if answer, _ := visit(t, technician, address+"/imports"); answer.StatusCode != 403 {
		t.Errorf("a technician gets %d, want 403", answer.StatusCode)
	}
}
