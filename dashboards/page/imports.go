package page

import (
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"

	"bridlewatch/collector/store/exchange"
	"bridlewatch/dashboards/access"
	"bridlewatch/dashboards/intake"
)

// importsPage is where a file of a historian is handed in, tried, imported and
// taken back.
type importsPage struct {
	Shell
	Open    bool // the door is open and this service is not read-only
	Most    string
	InHand  *importView
	Past    []importView
	Trouble string
	Name    string // what was filled in and not taken
}

// importView is one import.
type importView struct {
	Name, File, By, At, State string
	Busy                      bool
	Tried, Undoable           bool
	Trouble, Zone             string
	Rows                      int
	Summary                   string
	Columns                   []importColumn
	Problems                  []string
	More                      int // problems beside those listed
}

// importColumn is one column of the file as it was mapped.
type importColumn struct {
	Column, Gauge, Signal, Unit               string
	New, Same, Conflicting, Bad, Empty, Holes int
	Gaps                                      []string // the longest
}

// importWords say how far an import is.
var importWords = map[intake.State]string{
	intake.Trying: "is being tried; nothing is stored", intake.Tried: "was tried; nothing is stored yet", intake.Refused: "could not be used",
	intake.Running: "is being imported", intake.Done: "imported", intake.Undoing: "is being taken back", intake.Undone: "taken back",
	intake.Interrupted: "stopped half-way: import it again, which goes on, or take it back",
}

func (p *Pages) imports(w http.ResponseWriter, r *http.Request) {
	p.writeImports(w, r, http.StatusOK, "", "")
}

func (p *Pages) writeImports(w http.ResponseWriter, r *http.Request, status int, name, trouble string) {
	page := importsPage{Shell: p.shell(r, navService, "Import history"), Open: p.Imports != nil && !p.ReadOnly, Trouble: trouble, Name: name}
	if page.Open {
		page.Most = fmt.Sprintf("%.4g MB", float64(p.Imports.Most())/1e6)
		all, err := p.Imports.Imports(r.Context())
		if err != nil && trouble == "" {
			page.Trouble = upperFirst(err.Error()) + "."
		}
		for i := range all {
			v := p.importView(&all[i])
			if all[i].State.InHand() {
				page.InHand = &v
				continue
			}
			page.Past = append(page.Past, v)
		}
	}
	p.write(w, status, "imports", "layout", page)
}

func (p *Pages) importView(im *intake.Import) importView {
	v := importView{
		Name: im.Name, File: im.File, By: im.By, At: p.Zone.Full(im.At), State: importWords[im.State], Busy: im.State.Busy(), Tried: im.State == intake.Tried,
		Undoable: im.State == intake.Done || im.State == intake.Interrupted, Zone: im.Zone, Rows: im.Rows, Trouble: upperFirst(im.Trouble),
	}
	if im.Report != nil {
		p.fillReport(&v, im.Report)
	}
	return v
}

// fillReport shows what an import did or would do.
func (p *Pages) fillReport(v *importView, r *exchange.Report) {
	v.Rows = r.Rows
	v.Summary = fmt.Sprintf("%d rows from %s to %s; %d out of order, %d repeated, %d of an hour the clock showed twice.",
		r.Rows, p.Zone.Full(r.From), p.Zone.Full(r.To), r.OutOfOrder, r.Repeated, r.Ambiguous)
	for i := range r.Columns {
		c := &r.Columns[i]
		row := importColumn{Column: c.Column, Gauge: c.Series.Gauge, Signal: c.Series.Name, Unit: c.Series.Unit,
			New: c.New, Same: c.Same, Conflicting: c.Conflicting, Bad: c.Bad, Empty: c.Empty, Holes: c.GapCount}
		for _, g := range c.Gaps {
			row.Gaps = append(row.Gaps, p.Zone.Full(g.From)+" to "+p.Zone.Full(g.To))
		}
		v.Columns = append(v.Columns, row)
	}
	for _, x := range r.Problems {
		v.Problems = append(v.Problems, fmt.Sprintf("Line %d, %s: %q: %s", x.Line, x.Column, x.Text, x.Why))
	}
	v.More = r.ProblemCount - len(r.Problems)
}

var errShut = errors.New("this service takes no files by page: import on the box with the command bridlewatch import, or have service.import_upload configured")

// handIn takes a file as it comes, without keeping it in memory.
func (p *Pages) handIn(w http.ResponseWriter, r *http.Request) {
	name, err := p.takeFile(r)
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		p.writeImports(w, r, http.StatusRequestEntityTooLarge, name, "The file is larger than this service takes. Cut it into several, by time.")
	case err != nil:
		p.writeImports(w, r, http.StatusUnprocessableEntity, name, upperFirst(err.Error())+".")
	default:
		http.Redirect(w, r, p.Base+"/imports", http.StatusSeeOther)
	}
}

func (p *Pages) takeFile(r *http.Request) (name string, err error) {
	if p.Imports == nil || p.ReadOnly {
		return "", errShut
	}
	parts, err := r.MultipartReader()
	if err != nil {
		return "", fmt.Errorf("the form was not understood: %w", err)
	}
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			return name, errors.New("choose a file")
		}
		if err != nil {
			return name, err
		}
		switch part.FormName() {
		case "name":
			text, err := io.ReadAll(io.LimitReader(part, intake.MostName+1))
			if err != nil {
				return name, err
			}
			name = strings.TrimSpace(string(text))
		case "file":
			return name, p.Imports.HandIn(r.Context(), access.From(r.Context()), name, part.FileName(), part)
		}
	}
}

// actOnImport confirms, discards or takes back.
func (p *Pages) actOnImport(w http.ResponseWriter, r *http.Request) {
	get, ok := p.posted(w, r)
	if !ok {
		return
	}
	if p.Imports == nil || p.ReadOnly {
		p.writeImports(w, r, http.StatusUnprocessableEntity, "", upperFirst(errShut.Error())+".")
		return
	}
	act := p.Imports.Confirm
	switch get("do") {
	case "confirm":
	case "discard":
		act = p.Imports.Discard
	case "undo":
		act = p.Imports.Undo
	default:
		p.writeImports(w, r, http.StatusUnprocessableEntity, "", "Choose what to do: confirm, discard or undo.")
		return
	}
	if err := act(r.Context(), access.From(r.Context()), get("name")); err != nil {
		p.writeImports(w, r, http.StatusUnprocessableEntity, "", upperFirst(err.Error())+".")
		return
	}
	http.Redirect(w, r, p.Base+"/imports", http.StatusSeeOther)
}
