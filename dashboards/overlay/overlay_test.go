package overlay

import (
	"encoding/xml"
	"errors"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
)

func curve(name string, values ...float64) Curve {
	c := Curve{Name: name, Mean: values}
	for _, v := range values {
		c.Min, c.Max = append(c.Min, v-1), append(c.Max, v+1)
	}
	return c
}

func plot(under bool) *Plot {
	return &Plot{Title: "LI-1 <float>", Unit: "mm", Step: time.Hour, Span: 5 * time.Hour, Under: under,
		A: curve("May", 10, 20, math.NaN(), 40, 50), B: curve("June", 12, 22, 32, 42, 52)}
}

// The drawing is a document, stays inside its box, leaves a gap where nothing
// was recorded, and gives both periods one scale.
func TestBothPeriodsOnOneScale(t *testing.T) {
	for _, under := range []bool{false, true} {
		for _, size := range []Size{Wide, Narrow} {
			p := plot(under)
			svg := p.SVG(size, "overlay")
			decoder := xml.NewDecoder(strings.NewReader(svg))
			for {
				if _, err := decoder.Token(); errors.Is(err, io.EOF) {
					break
				} else if err != nil {
					t.Fatalf("under %v: %v", under, err)
				}
			}
			if a, b := strings.Count(svg, `class="line-a"`), strings.Count(svg, `class="line-b"`); a != 2 || b != 1 {
				t.Errorf("under %v: %d and %d runs, want 2 with a gap and 1", under, a, b)
			}
			height := size.Height
			if under {
				height *= 2
			}
			for _, m := range regexp.MustCompile(`[ML]([\d.]+) ([\d.]+)`).FindAllStringSubmatch(svg, -1) {
				x, _ := strconv.ParseFloat(m[1], 64)
				y, _ := strconv.ParseFloat(m[2], 64)
				if x < left-0.1 || x > size.Width-right+0.1 || y < 0 || y > height {
					t.Errorf("under %v: %v, %v is outside", under, x, y)
				}
			}
			if strings.Contains(svg, "<float>") || !strings.Contains(svg, "LI-1 &lt;float&gt;") {
				t.Error("the title is not escaped")
			}
		}
	}
	// The same value is at the same height of its own frame.
	c := canvas{size: Wide, plot: plot(true)}
	low, high := c.plot.bounds()
	if low != 9 || high != 53 {
		t.Errorf("bounds %v to %v, want those of both periods", low, high)
	}
}

func TestAPeriodWithoutSamplesSaysSo(t *testing.T) {
	p := plot(true)
	p.B = curve("June", math.NaN(), math.NaN())
	if svg := p.SVG(Wide, "overlay"); !strings.Contains(svg, "June: no samples") || strings.Contains(svg, "NaN") {
		t.Error("an empty period is drawn as if there were nothing to say")
	}
}

func TestRoundNumbers(t *testing.T) {
	for _, c := range []struct{ low, high, from, to, step float64 }{
		{9, 53, 0, 60, 20}, {-3.2, 4.1, -4, 6, 2}, {612, 612, 611.5, 612.5, 0.5}, {0, 1, 0, 1, 0.5},
	} {
		from, to, step := rounded(c.low, c.high)
		if math.Abs(from-c.from) > 1e-9 || math.Abs(to-c.to) > 1e-9 || math.Abs(step-c.step) > 1e-9 {
			t.Errorf("%v to %v: %v to %v by %v, want %v to %v by %v", c.low, c.high, from, to, step, c.from, c.to, c.step)
		}
	}
	for _, c := range []struct {
		v, step float64
		want    string
	}{{-3, 1, "−3"}, {-0.0001, 0.5, "0.0"}, {612.5, 0.5, "612.5"}} {
		if got := number(c.v, c.step); got != c.want {
			t.Errorf("%v is written %q, want %q", c.v, got, c.want)
		}
	}
}
