package api

import (
	"context"
	"errors"
	"net/http"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"bridlewatch/collector/store/exchange"
	"bridlewatch/dashboards/access"
	"bridlewatch/dashboards/intake"
)

// imports adds the calls about files of a historian.
func (s *service) imports(a huma.API) {
	register(a, "list-imports", "/imports", "Files of a historian: what is in hand, then what was imported", s.listImports)
	huma.Register(a, huma.Operation{
		OperationID: "hand-in-import", Method: http.MethodPost, Path: Prefix + "/imports", Middlewares: huma.Middlewares{withRequest}, DefaultStatus: http.StatusOK,
		Summary: "Hand in a CSV or Parquet file as the body; it is tried and nothing is stored",
		RequestBody: &huma.RequestBody{Required: true, Content: map[string]*huma.MediaType{
			"application/octet-stream": {Schema: &huma.Schema{Type: "string", Format: "binary"}}}},
	}, s.handInImport)
	huma.Register(a, huma.Operation{
		OperationID: "act-on-import", Method: http.MethodPost, Path: Prefix + "/imports/act", DefaultStatus: http.StatusOK,
		Summary: "Confirm or discard the import that was tried, or undo one",
	}, s.actOnImport)
}

// Import is a file of a historian on its way, or what became of it.
type Import struct {
	Name    string        `json:"name"`
	State   intake.State  `json:"state" enum:"trying,tried,refused,importing,imported,undoing,undone,interrupted"`
	File    string        `json:"file,omitempty"`
	By      string        `json:"by,omitempty"`
	At      time.Time     `json:"at"`
	Rows    int           `json:"rows" doc:"read by now"`
	Trouble string        `json:"trouble,omitempty" doc:"why it was refused"`
	Report  *ImportReport `json:"report,omitempty"`
}

// ImportReport is what an import did or would do.
type ImportReport struct {
	From       time.Time       `json:"from"`
	To         time.Time       `json:"to"`
	Zone       string          `json:"zone,omitempty" doc:"of times that name none"`
	OutOfOrder int             `json:"out_of_order"`
	Repeated   int             `json:"repeated"`
	Ambiguous  int             `json:"ambiguous" doc:"times of an hour the clock showed twice"`
	Columns    []ImportColumn  `json:"columns"`
	Problems   []ImportProblem `json:"problems" doc:"the first hundred"`
	All        int             `json:"problem_count"`
}

// ImportColumn is a column of the file and what becomes of it.
type ImportColumn struct {
	Column      string      `json:"column"`
	Gauge       string      `json:"gauge"`
	Signal      string      `json:"signal"`
	Unit        string      `json:"unit"`
	New         int         `json:"new" doc:"values stored, or to be stored"`
	Same        int         `json:"same" doc:"there already"`
	Conflicting int         `json:"conflicting" doc:"another value is there and stays"`
	Bad         int         `json:"bad" doc:"cells that are no number"`
	Empty       int         `json:"empty"`
	GapCount    int         `json:"gap_count"`
	Gaps        []ImportGap `json:"gaps" doc:"the longest"`
}

// ImportGap is an interval without a value.
type ImportGap struct {
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
}

// ImportProblem is a cell or row that could not be used.
type ImportProblem struct {
	Line   int    `json:"line"`
	Column string `json:"column,omitempty"`
	Text   string `json:"text"`
	Why    string `json:"why"`
}

func importOf(im *intake.Import) Import {
	out := Import{Name: im.Name, State: im.State, File: im.File, By: im.By, At: im.At, Rows: im.Rows, Trouble: im.Trouble}
	if im.Report != nil {
		out.Rows, out.Report = im.Report.Rows, importReport(im.Report, im.Zone)
	}
	return out
}

func importReport(r *exchange.Report, zone string) *ImportReport {
	out := &ImportReport{From: r.From, To: r.To, Zone: zone, OutOfOrder: r.OutOfOrder, Repeated: r.Repeated, Ambiguous: r.Ambiguous,
		Columns: []ImportColumn{}, Problems: []ImportProblem{}, All: r.ProblemCount}
	for _, c := range r.Columns {
		column := ImportColumn{Column: c.Column, Gauge: c.Series.Gauge, Signal: c.Series.Name, Unit: c.Series.Unit,
			New: c.New, Same: c.Same, Conflicting: c.Conflicting, Bad: c.Bad, Empty: c.Empty, GapCount: c.GapCount, Gaps: []ImportGap{}}
		for _, g := range c.Gaps {
			column.Gaps = append(column.Gaps, ImportGap(g))
		}
		out.Columns = append(out.Columns, column)
	}
	for _, p := range r.Problems {
		out.Problems = append(out.Problems, ImportProblem(p))
	}
	return out
}

// door is the way in for files, or why there is none.
func (s *service) door() (intake.Door, error) {
	if s.Imports == nil || s.ReadOnly {
		return nil, huma.Error422UnprocessableEntity("this service takes no files: service.import_upload is off, or it is read-only")
	}
	return s.Imports, nil
}

func (s *service) listImports(ctx context.Context, _ *struct{}) (*body[[]Import], error) {
	out := &body[[]Import]{Body: []Import{}}
	if s.Imports == nil {
		return out, nil
	}
	all, err := s.Imports.Imports(ctx)
	if err != nil {
		return nil, huma.Error500InternalServerError(err.Error())
	}
	for i := range all {
		out.Body = append(out.Body, importOf(&all[i]))
	}
	return out, nil
}

type handInInput struct {
	Name string `query:"name" required:"true" maxLength:"64" doc:"names the import, for repeating and undoing"`
	File string `query:"file" required:"true" doc:"name of the file; its ending says how it is read" example:"boiler-2025.csv"`
}

func (s *service) handInImport(ctx context.Context, in *handInInput) (*body[[]Import], error) {
	door, err := s.door()
	if err != nil {
		return nil, err
	}
	var large *http.MaxBytesError
	switch err := door.HandIn(ctx, access.From(ctx), in.Name, in.File, ctx.Value(asker{}).(*http.Request).Body); {
	case errors.As(err, &large):
		return nil, huma.NewError(http.StatusRequestEntityTooLarge, "the file is larger than this service takes")
	case err != nil:
		return nil, huma.Error422UnprocessableEntity(err.Error())
	}
	return s.listImports(ctx, nil)
}

type actOnImportInput struct {
	Body struct {
		Name string `json:"name"`
		Do   string `json:"do" enum:"confirm,discard,undo"`
	}
}

func (s *service) actOnImport(ctx context.Context, in *actOnImportInput) (*body[[]Import], error) {
	door, err := s.door()
	if err != nil {
		return nil, err
	}
	act := door.Confirm
	switch in.Body.Do {
	case "discard":
		act = door.Discard
	case "undo":
		act = door.Undo
	}
	if err := act(ctx, access.From(ctx), in.Body.Name); err != nil {
		return nil, huma.Error422UnprocessableEntity(err.Error())
	}
	return s.listImports(ctx, nil)
}
