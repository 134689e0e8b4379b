package records

import (
	"fmt"
	"strings"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"

	"bridlewatch/dashboards/units"
)

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

func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
