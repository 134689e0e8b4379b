package records

import (
	"bytes"
	"fmt"
	"strings"

	"codeberg.org/go-pdf/fpdf"

	"bridlewatch/compare/record"
	"bridlewatch/dashboards/drawing"
	"bridlewatch/dashboards/units"
)

// family is the name under which the fonts of the program are known.
const family = "go"

// Room on the page, millimetres.
const (
	margin  = 15.0
	inside  = 210 - 2*margin
	row     = 5.0
	lowest  = 297 - 18.0 // text ends above this
	evenRow = 243
)

// PDF prints a record on A4. The same record in the same units gives the same
// bytes, today and in years: nothing in it depends on when or where it is
// printed. The file is not tagged for screen readers; the page of the record
// is its accessible twin.
func PDF(e Entry, set units.Set) ([]byte, error) {
	p := &paper{pdf: fpdf.New("P", "mm", "A4", ""), sheet: SheetOf(e, set), set: set}
	p.open()
	p.head()
	p.caution()
	p.facts("Conditions", p.sheet.Conditions)
	p.text("What was done", e.Work)
	p.readings()
	p.trips()
	p.list("Not tested", e.NotTested)
	p.text("Remarks", e.Remarks)
	p.budgets()
	p.drawing()
	p.signatures()
	var out bytes.Buffer
	if err := p.pdf.Output(&out); err != nil {
		return nil, fmt.Errorf("print record %d: %w", e.Number, err)
	}
	return out.Bytes(), nil
}

func (p *paper) head() {
	f := p.pdf
	if p.sheet.Rehearsal {
		f.SetFillColor(225, 225, 225)
		p.font("B", 10)
		f.CellFormat(inside, 7, "REHEARSAL, not the plant. Nothing here was measured on a real vessel.", "1", 1, "C", true, 0, "")
		f.Ln(2)
	}
	p.font("B", 16)
	f.CellFormat(inside, 8, p.sheet.Gauge+"  "+p.sheet.Heading, "", 1, "L", false, 0, "")
	p.font("", 10)
	f.MultiCell(inside, row, upperFirst(p.sheet.Summary()), "", "L", false)
	f.Ln(1)
	p.pairs(p.sheet.Facts)
}

func (p *paper) caution() {
	p.pdf.Ln(2)
	p.need(18)
	p.font("", 8)
	p.pdf.SetFillColor(evenRow, evenRow, evenRow)
	p.pdf.MultiCell(inside, 4.2, "Caution: "+record.Caution, "1", "L", true)
}

var readingColumns = []column{{"Reference", 24, "R"}, {"Instrument", 46, "L"}, {"Reading", 24, "R"}, {"Difference", 24, "R"}, {"U (k = 2)", 18, "R"}, {"Allowed", 22, "R"}, {"Finding", 22, "L"}}

// readings prints the table of each phase.
func (p *paper) readings() {
	for _, phase := range []record.Phase{record.AsFound, record.AsLeft} {
		var rows [][]string
		for _, l := range p.sheet.Readings {
			if l.Phase == phase {
				rows = append(rows, []string{l.Elevation, l.Instrument + ", " + l.Role, l.Reading, l.Difference, l.U, l.Allowed, string(l.Finding)}, note(l.Why))
			}
		}
		p.table("Readings "+string(phase), readingColumns, rows)
	}
	if len(p.sheet.Readings) > 0 {
		p.small(record.Rule)
	}
}

var tripColumns = []column{{"Switch", 24, "L"}, {"Level", 18, "L"}, {"Changed at", 44, "R"}, {"Data sheet", 28, "R"}, {"Difference", 22, "R"}, {"Allowed", 22, "R"}, {"Finding", 22, "L"}}

func (p *paper) trips() {
	for _, phase := range []record.Phase{record.AsFound, record.AsLeft} {
		var rows [][]string
		for _, l := range p.sheet.Trips {
			if l.Phase != phase {
				continue
			}
			name := ""
			if l.First {
				name = l.Elevation
			}
			rows = append(rows, []string{name, l.Instrument, l.Reading, strings.TrimPrefix(l.Role, "data sheet "), l.Difference, l.Allowed, string(l.Finding)}, note(l.Why))
		}
		p.table("Trip points of the switches "+string(phase), tripColumns, rows)
	}
	if len(p.sheet.Trips) == 0 {
		return
	}
	p.facts("Hysteresis", p.sheet.Hysteresis)
	p.list("What the switches did", p.sheet.Exercise)
	p.small(record.Evidence)
}

var budgetColumns = []column{{"Input", 56, "L"}, {"u", 30, "R"}, {"Part", 24, "R"}, {"Share", 18, "R"}, {"Source", 52, "L"}}

func (p *paper) budgets() {
	for _, b := range p.sheet.Budgets {
		var rows [][]string
		for _, r := range b.Rows {
			rows = append(rows, r[:])
		}
		p.table("Budget used: "+b.Heading, budgetColumns, append(rows, []string{b.Sum}))
	}
}

// drawing prints the chamber to scale.
func (p *paper) drawing() {
	scene, ok := SceneOf(p.sheet.Record, p.set)
	if !ok {
		return
	}
	plan := drawing.NewPlan(scene, drawing.Wide)
	p.need(plan.Height*perPixel + 16)
	p.heading("Chamber at " + p.sheet.Picture.At.In(p.sheet.At.Location()).Format("2006-01-02 15:04:05 -07:00"))
	top := p.pdf.GetY()
	plan.Draw(&canvas{pdf: p.pdf, x: margin, y: top})
	p.pdf.SetXY(margin, top+plan.Height*perPixel+2)
}

// signatures prints lines to sign on, and how the record is chained.
func (p *paper) signatures() {
	p.need(14*float64(max(1, len(p.sheet.Signatures))) + 40)
	p.heading("Signatures")
	signatures := p.sheet.Signatures
	if len(signatures) == 0 {
		signatures = []record.Signature{{Role: "done by", Name: p.sheet.By}}
	}
	for _, s := range signatures {
		p.font("", 9)
		p.pdf.Ln(7)
		p.pdf.SetDrawColor(0, 0, 0)
		p.pdf.CellFormat(28, row, s.Role, "", 0, "L", false, 0, "")
		p.pdf.CellFormat(60, row, s.Name, "B", 0, "L", false, 0, "")
		p.pdf.CellFormat(6, row, "", "", 0, "L", false, 0, "")
		p.pdf.CellFormat(52, row, "", "B", 0, "L", false, 0, "")
		p.pdf.CellFormat(6, row, "", "", 0, "L", false, 0, "")
		p.pdf.CellFormat(28, row, "", "B", 1, "L", false, 0, "")
		p.font("", 7)
		p.pdf.CellFormat(28, 3.5, "", "", 0, "L", false, 0, "")
		p.pdf.CellFormat(66, 3.5, "name", "", 0, "L", false, 0, "")
		p.pdf.CellFormat(58, 3.5, "signature", "", 0, "L", false, 0, "")
		p.pdf.CellFormat(28, 3.5, "date", "", 1, "L", false, 0, "")
	}
	p.facts("Chain of records", p.sheet.Chain)
	p.small("The hash is that of the stored record. Records are never changed; a correction is a record of its own.")
}
