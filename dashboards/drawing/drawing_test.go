package drawing

import (
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"bridlewatch/compare"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
	"bridlewatch/dashboards/units"
)

// randomScene makes gauges of every make-up: short and tall, thin and wide,
// with and without each instrument, levels anywhere and nowhere.
func randomScene(r *rand.Rand) Scene {
	length := func(low, high float64) quantity.Length { return quantity.Length(low + r.Float64()*(high-low)) }
	c2c := length(0.15, 6)
	sheet := &datasheet.Sheet{Tag: "LG-1", Service: "any", Chamber: datasheet.Chamber{
		CentreToCentre: c2c, InnerDiameter: length(0.02, 0.15), BelowLowerTap: length(0, 0.5), AboveUpperTap: length(0, 0.4), LowerTapEL: length(-3, 30)},
		Float: datasheet.Float{Tag: "LI-1", Length: length(0.1, 0.5), Diameter: 0.04, MagnetAbove: 0.1}}
	sheet.Chamber.OuterDiameter = sheet.Chamber.InnerDiameter * 1.2
	if r.IntN(4) > 0 {
		sheet.Transmitter = &datasheet.Transmitter{Tag: "LT-1", Principle: datasheet.Radar, ReferencePoint: c2c + 0.2, BlindTop: length(0, 0.5), BlindBottom: length(0, 0.5)}
	}
	if r.IntN(3) == 0 {
		sheet.Second = &datasheet.Transmitter{Tag: "LT-1B", Principle: datasheet.DPWet}
	}
	for range r.IntN(datasheet.MaxPoints + 1) {
		sheet.Points = append(sheet.Points, datasheet.Point{Tag: "LSH-1", Elevation: length(-0.1, 1.1) * c2c, Differential: 0.01})
	}
	s := Scene{Sheet: sheet, Units: units.Sets()[r.IntN(len(units.Sets()))], Stale: r.IntN(6) == 0}
	m := &s.Result.Measurement
	for _, l := range []*level.Level{&m.Float, &m.Transmitter, &m.Second, &m.InVessel} {
		l.Bound = level.Bound(r.IntN(4))
		l.Value = length(0, 1) * c2c
		l.Parts[0] = float64(length(0, 0.05))
	}
	for i := range sheet.Points {
		m.Points[i] = gauge.Switch(r.IntN(3))
		if r.IntN(3) == 0 {
			s.Result.Verdicts = append(s.Result.Verdicts, compare.Verdict{Point: i, Outcome: compare.Disagree})
		}
	}
	if r.IntN(2) == 0 {
		s.Float = &Float{Bottom: length(-0.5, 1) * c2c, Immersion: 0.1, BuiltFor: 0.12}
	}
	return s
}

func eachScene(t *testing.T, check func(t *testing.T, s Scene, p *Plan)) {
	t.Helper()
	r := rand.New(rand.NewPCG(20260101, 7))
	for i := range 3000 {
		s := randomScene(r)
		for name, size := range map[string]Size{"wide": Wide, "narrow": Narrow} {
			check(t, s, NewPlan(s, size))
			if t.Failed() {
				t.Fatalf("scene %d, %s: %+v", i, name, s.Sheet)
			}
		}
	}
}

func TestLabelsNeverOverlapAndKeepTheirOrder(t *testing.T) {
	eachScene(t, func(t *testing.T, _ Scene, p *Plan) {
		for i := 1; i < len(p.labels); i++ {
			above, below := p.labels[i-1], p.labels[i]
			if above.centre+above.height/2 > below.centre-below.height/2+1e-6 {
				t.Errorf("label %d ends at %.2f, the next begins at %.2f", i-1, above.centre+above.height/2, below.centre-below.height/2)
			}
			if p.marks[above.mark].at < p.marks[below.mark].at {
				t.Errorf("label of %.3f m stands above that of %.3f m", p.marks[above.mark].at, p.marks[below.mark].at)
			}
		}
	})
}

func TestEverythingStaysInsideTheBox(t *testing.T) {
	eachScene(t, func(t *testing.T, s Scene, p *Plan) {
		box := &recorder{size: p.size}
		p.Draw(box)
		for _, e := range box.extents {
			if e.left < -0.5 || e.top < -0.5 || e.right > p.Width+0.5 || e.bottom > p.Height+0.5 {
				t.Errorf("%s from (%.1f, %.1f) to (%.1f, %.1f) leaves the box of %.0f × %.0f", e.what, e.left, e.top, e.right, e.bottom, p.Width, p.Height)
			}
			if math.IsNaN(e.left + e.top + e.right + e.bottom) {
				t.Errorf("%s has no position", e.what)
			}
		}
	})
}

func TestOneScaleForChamberTapsFloatAndPoints(t *testing.T) {
	eachScene(t, func(t *testing.T, s Scene, p *Plan) {
		taps := p.y(0) - p.y(s.Sheet.Chamber.CentreToCentre)
		if want := float64(s.Sheet.Chamber.CentreToCentre) * p.scale; math.Abs(taps-want) > 1e-6 {
			t.Errorf("taps are %.3f apart, to scale %.3f", taps, want)
		}
		box := &recorder{size: p.size}
		p.Draw(box)
		for _, e := range box.extents {
			if e.what == "body" && math.Abs((e.bottom-e.top)-float64(s.Sheet.Float.Length)*p.scale) > 1e-6 {
				t.Errorf("float is %.3f long, to scale %.3f", e.bottom-e.top, float64(s.Sheet.Float.Length)*p.scale)
			}
		}
	})
}

// TestStaleIsNeverDrawnLively keeps liquid, float and markers off a drawing
// whose samples are old.
func TestStaleIsNeverDrawnLively(t *testing.T) {
	eachScene(t, func(t *testing.T, s Scene, p *Plan) {
		if !s.Stale {
			return
		}
		box := &recorder{size: p.size}
		p.Draw(box)
		for _, e := range box.extents {
			if slices.Contains([]string{"liquid", "disputed", "body", "float", "trans", "second", "wet", "dry", "wrong", "surface"}, e.what) {
				t.Errorf("a stale drawing shows %s", e.what)
			}
		}
	})
}

func TestLiquidIsNotDrawnToOneInstrumentsWord(t *testing.T) {
	at := func(v, u float64) mark {
		return mark{source: floatLane, bound: level.Within, at: quantity.Length(v), u: quantity.Length(u)}
	}
	tests := []struct {
		name      string
		marks     []mark
		low, high quantity.Length
		ok        bool
	}{
		{"no instrument", nil, 0, 0, false},
		{"one alone", []mark{at(0.5, 0.01)}, 0.49, 0.51, true},
		{"two that agree", []mark{at(0.5, 0.01), at(0.502, 0.02)}, 0.482, 0.522, true},
		{"two that disagree", []mark{at(0.3, 0.01), at(0.7, 0.02)}, 0.29, 0.72, true},
		{"one above the upper tap", []mark{at(0.3, 0.01), {source: transLane, bound: level.AboveUpperTap, at: 1}}, 0.29, 1, true},
		{"no reading counts for nothing", []mark{at(0.3, 0.01), {source: transLane, at: 0.5}}, 0.29, 0.31, true},
		{"points count for nothing", []mark{at(0.3, 0.01), {source: pointLane, bound: level.Within, at: 0.8}}, 0.29, 0.31, true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			low, high, ok := extent(tt.marks, 1)
			if math.Abs(float64(low-tt.low)) > 1e-9 || math.Abs(float64(high-tt.high)) > 1e-9 || ok != tt.ok {
				t.Errorf("extent = %.3f, %.3f, %v, want %.3f, %.3f, %v", low, high, ok, tt.low, tt.high, tt.ok)
			}
		})
	}
}

func TestSpread(t *testing.T) {
	tests := []struct {
		name             string
		anchors, heights []float64
		top, bottom      float64
		want             []float64
	}{
		{"room for all", []float64{10, 50}, []float64{10, 10}, 0, 100, []float64{10, 50}},
		{"two at one place share the shift", []float64{50, 50}, []float64{10, 10}, 0, 100, []float64{45, 55}},
		{"pushed down from the top", []float64{0, 0}, []float64{10, 10}, 0, 100, []float64{5, 15}},
		{"pushed up from the bottom", []float64{100, 100}, []float64{10, 10}, 0, 100, []float64{85, 95}},
		{"exactly full", []float64{0, 0, 0}, []float64{10, 10, 10}, 0, 30, []float64{5, 15, 25}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := spread(tt.anchors, tt.heights, tt.top, tt.bottom)
			for i := range got {
				if math.Abs(got[i]-tt.want[i]) > 1e-9 {
					t.Fatalf("spread = %v, want %v", got, tt.want)
				}
			}
		})
	}
}

// TestSVGIsWellFormed parses the element with the standard XML reader and
// sees that no style attribute would be blocked by a strict content policy.
func TestSVGIsWellFormed(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for range 200 {
		s := randomScene(r)
		s.Sheet.Service = `<b>"&` + fmt.Sprint(r.IntN(9))
		svg := SVG{Prefix: "a"}
		Draw(&svg, s, Wide)
		decoder := xml.NewDecoder(strings.NewReader(svg.String()))
		for {
			token, err := decoder.Token()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatalf("not well formed: %v\n%s", err, svg.String())
			}
			if e, ok := token.(xml.StartElement); ok {
				for _, a := range e.Attr {
					if a.Name.Local == "style" || strings.HasPrefix(a.Name.Local, "on") {
						t.Fatalf("attribute %s would be blocked", a.Name.Local)
					}
				}
			}
		}
	}
}

// recorder is a Canvas that keeps the extent of everything drawn.
type recorder struct {
	size    Size
	extents []extentOf
}

type extentOf struct {
	what                     string
	left, top, right, bottom float64
}

func (r *recorder) Begin(float64, float64, string, string) {}
func (r *recorder) End()                                   {}

func (r *recorder) Line(from, to Position, ink Ink) {
	r.add(ink, min(from.X, to.X), min(from.Y, to.Y), max(from.X, to.X), max(from.Y, to.Y))
}

func (r *recorder) Rect(at Position, width, height float64, ink Ink, _ string) {
	r.add(ink, at.X, at.Y, at.X+width, at.Y+height)
}

func (r *recorder) Polygon(corners []Position, ink Ink, _ string) {
	for _, c := range corners {
		r.add(ink, c.X, c.Y, c.X, c.Y)
	}
}

func (r *recorder) Text(at Position, s string, ink Ink, align Align) {
	width := runes(s) * r.size.Small
	if ink == Value || ink == Warn {
		width = runes(s) * r.size.Character
	}
	left := at.X - width*float64(align)/2
	r.add(ink, left, at.Y-8, left+width, at.Y+3)
}

func (r *recorder) add(ink Ink, left, top, right, bottom float64) {
	r.extents = append(r.extents, extentOf{ink.String(), left, top, right, bottom})
}
