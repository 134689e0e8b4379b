package records

import (
	"bytes"
	"fmt"
	"strings"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"

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

// paper is a record being printed.
type paper struct {
	pdf   *fpdf.Fpdf
	sheet Sheet
	set   units.Set
}

func (p *paper) open() {
	f, e := p.pdf, p.sheet.Entry
	f.SetCreationDate(e.Booked.UTC())
	f.SetModificationDate(e.Booked.UTC())
	f.SetCatalogSort(true)
	f.SetProducer("bridlewatch", true)
	f.SetTitle(e.Gauge+", "+p.sheet.Heading, true)
	f.SetSubject("SHA-256 of the record: "+e.Hash, true)
	f.SetLang("en")
	f.AddUTF8FontFromBytes(family, "", goregular.TTF)
	f.AddUTF8FontFromBytes(family, "B", gobold.TTF)
	f.SetMargins(margin, margin, margin)
	f.SetAutoPageBreak(true, 297-lowest)
	f.AliasNbPages("{pages}")
	f.SetFooterFunc(p.foot)
	f.AddPage()
}

func (p *paper) foot() {
	f := p.pdf
	f.SetY(-14)
	p.font("", 7)
	f.SetDrawColor(150, 150, 150)
	f.Line(margin, f.GetY(), 210-margin, f.GetY())
	left := fmt.Sprintf("%s, record %d, SHA-256 %s", p.sheet.Gauge, p.sheet.Number, p.sheet.Hash)
	f.CellFormat(inside-30, 5, left, "", 0, "L", false, 0, "")
	f.CellFormat(30, 5, fmt.Sprintf("page %d of {pages}", f.PageNo()), "", 0, "R", false, 0, "")
}

func (p *paper) font(style string, size float64) {
	p.pdf.SetFont(family, style, size)
	p.pdf.SetTextColor(0, 0, 0)
}

// need begins a new page unless there is room for so many millimetres.
func (p *paper) need(room float64) {
	if p.pdf.GetY()+room > lowest {
		p.pdf.AddPage()
	}
}

func (p *paper) heading(text string) {
	p.need(20)
	p.pdf.Ln(2.5)
	p.font("B", 10.5)
	p.pdf.CellFormat(inside, 6, text, "", 1, "L", false, 0, "")
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

// pairs prints names and values in two columns of the page.
func (p *paper) pairs(facts []Fact) {
	const name = 48.0
	for _, fact := range facts {
		lines := p.wrapped(fact.Value, inside-name)
		p.need(float64(len(lines)) * 4.6)
		p.font("", 8.5)
		p.pdf.SetTextColor(70, 70, 70)
		p.pdf.CellFormat(name, 4.6, fact.Name, "", 0, "L", false, 0, "")
		p.font("", 8.5)
		for i, line := range lines {
			if i > 0 {
				p.pdf.CellFormat(name, 4.6, "", "", 0, "L", false, 0, "")
			}
			p.pdf.CellFormat(inside-name, 4.6, line, "", 1, "L", false, 0, "")
		}
	}
}

// wrapped breaks a text into lines of a width in the font of tables.
func (p *paper) wrapped(text string, width float64) []string {
	p.font("", 8.5)
	lines := p.pdf.SplitText(text, width-2)
	if len(lines) == 0 {
		return []string{""}
	}
	return lines
}

func (p *paper) facts(title string, facts []Fact) {
	if len(facts) == 0 {
		return
	}
	p.heading(title)
	p.pairs(facts)
}

func (p *paper) text(title, text string) {
	if text == "" {
		return
	}
	p.heading(title)
	p.font("", 9)
	p.pdf.MultiCell(inside, 4.6, text, "", "L", false)
}

func (p *paper) caution() {
	p.pdf.Ln(2)
	p.need(18)
	p.font("", 8)
	p.pdf.SetFillColor(evenRow, evenRow, evenRow)
	p.pdf.MultiCell(inside, 4.2, "Caution: "+record.Caution, "1", "L", true)
}

func (p *paper) list(title string, items []string) {
	if len(items) == 0 {
		return
	}
	p.heading(title)
	p.font("", 9)
	for _, item := range items {
		p.pdf.MultiCell(inside, 4.6, "– "+item, "", "L", false)
	}
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

// note is a row that explains the one above; nil when there is nothing to
// explain.
func note(why string) []string {
	if why == "" {
		return nil
	}
	return []string{why}
}

type column struct {
	name  string
	width float64
	align string
}

// table prints rows; one of a single cell runs over the whole width.
func (p *paper) table(title string, columns []column, rows [][]string) {
	if len(rows) == 0 {
		return
	}
	p.heading(title)
	p.columnHeads(columns)
	for _, cells := range rows {
		if cells == nil {
			continue
		}
		if p.pdf.GetY()+2*row > lowest {
			p.pdf.AddPage()
			p.columnHeads(columns)
		}
		if len(cells) == 1 {
			p.small(cells[0])
			continue
		}
		p.font("", 8.5)
		p.pdf.SetDrawColor(190, 190, 190)
		for i, cell := range cells {
			last := 0
			if i == len(cells)-1 {
				last = 1
				p.font("B", 8.5)
			}
			p.pdf.CellFormat(columns[i].width, row, p.fitted(cell, columns[i].width), "T", last, columns[i].align, false, 0, "")
		}
	}
}

func (p *paper) columnHeads(columns []column) {
	p.font("B", 8)
	p.pdf.SetFillColor(evenRow, evenRow, evenRow)
	for i, c := range columns {
		last := 0
		if i == len(columns)-1 {
			last = 1
		}
		p.pdf.CellFormat(c.width, row, c.name, "", last, c.align, true, 0, "")
	}
}

// fitted shortens a text to a width; a page must not hide another column.
func (p *paper) fitted(text string, width float64) string {
	for p.pdf.GetStringWidth(text) > width-1.5 {
		runes := []rune(strings.TrimSuffix(text, "…"))
		if len(runes) < 2 {
			break
		}
		text = string(runes[:len(runes)-1]) + "…"
	}
	return text
}

func (p *paper) small(text string) {
	p.font("", 7.5)
	p.pdf.SetTextColor(60, 60, 60)
	p.pdf.MultiCell(inside, 3.8, text, "", "L", false)
	p.font("", 9)
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

func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
