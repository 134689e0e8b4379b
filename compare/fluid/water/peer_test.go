//go:build peers

package water_test

import (
	"bufio"
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"bridlewatch/compare/fluid/water"
	"bridlewatch/compare/quantity"
	"bridlewatch/testdata/vectors"
)

// question is one state both programs are asked for.
type question struct {
	kind string // see testdata/peers/iapws_compare.py
	a, b float64
}

// limit is the relative difference allowed: both evaluate the same equations
// and solve region 3 by iteration.
const limit = 1e-10

// TestPeerIAPWS compares with Debian's python3-iapws on 12,500 random states
// from a fixed seed.
func TestPeerIAPWS(t *testing.T) {
	questions := randomQuestions()
	answers := askPeer(t, questions)
	reports, unanswered := map[string]*vectors.Report{}, 0
	for i, q := range questions {
		subject, got, err := answer(q)
		if err != nil {
			t.Errorf("%+v: %v", q, err)
			continue
		}
		if math.IsNaN(answers[i]) {
			unanswered++
			continue
		}
		if reports[subject] == nil {
			reports[subject] = vectors.NewReport(t, "python3-iapws, random states, "+subject)
		}
		if e := reports[subject].Relative(fmt.Sprintf("%+v", q), got, answers[i]); e > limit {
			t.Errorf("%s at %+v: %v, the peer says %v (relative difference %.1e)", subject, q, got, answers[i], e)
		}
	}
	t.Logf("vectors: python3-iapws had no answer to %d of %d states", unanswered, len(questions))
	if unanswered > len(questions)/100 {
		t.Errorf("the peer had no answer to %d states", unanswered)
	}
}

func randomQuestions() []question {
	source := rand.New(rand.NewPCG(1997, 10000))
	uniform := func(low, high float64) float64 { return low + (high-low)*source.Float64() }
	var questions []question
	for range 6500 { // pressures spread over five decades
		questions = append(questions, question{"tp", uniform(273.15, 1073.15), math.Pow(10, uniform(-3, 2))})
	}
	for range 1500 { // region 3 and around it
		questions = append(questions, question{"tp", uniform(620, 870), uniform(16.6, 100)})
	}
	for range 2000 { // where chambers are
		questions = append(questions, question{"tp", uniform(280, 640), uniform(0.1, 20)})
	}
	for range 500 {
		p := math.Pow(10, uniform(-3, math.Log10(21.9)))
		questions = append(questions, question{"l", p, 0}, question{"g", p, 0}, question{"ts", p, 0},
			question{"ps", uniform(273.15, 647), 0}, question{"e", uniform(0.1, 1000), uniform(273.15, 873)})
	}
	return questions
}

func answer(q question) (subject string, value float64, err error) {
	switch q.kind {
	case "tp":
		rho, err := water.Density(quantity.Temperature(q.a), quantity.Pressure(q.b*1e6))
		return "density, " + region(q.a, q.b), float64(rho), err
	case "l":
		rho, err := water.SaturatedLiquid(quantity.Pressure(q.a * 1e6))
		return "boiling liquid" + inRegion3(q.a), float64(rho), err
	case "g":
		rho, err := water.SaturatedVapour(quantity.Pressure(q.a * 1e6))
		return "saturated steam" + inRegion3(q.a), float64(rho), err
	case "ps":
		p, err := water.SaturationPressure(quantity.Temperature(q.a))
		return "saturation pressure", float64(p) / 1e6, err
	case "ts":
		at, err := water.SaturationTemperature(quantity.Pressure(q.a * 1e6))
		return "saturation temperature", float64(at), err
	}
	eps, err := water.Permittivity(quantity.Density(q.a), quantity.Temperature(q.b))
	return "permittivity", eps, err
}

func region(T, MPa float64) string {
	if T > 623.15 && T <= 863.15 && MPa*1e6 > border23(T) {
		return "region 3"
	}
	return "regions 1 and 2"
}

func inRegion3(MPa float64) string {
	if MPa > 16.5291643 {
		return ", region 3"
	}
	return ""
}

func askPeer(t *testing.T, questions []question) []float64 {
	t.Helper()
	var in, out bytes.Buffer
	for _, q := range questions {
		fmt.Fprintf(&in, "%s %s %s\n", q.kind, strconv.FormatFloat(q.a, 'g', -1, 64), strconv.FormatFloat(q.b, 'g', -1, 64))
	}
	command := exec.Command("/usr/bin/python3", "../../../testdata/peers/iapws_compare.py")
	command.Stdin, command.Stdout = &in, &out
	var complaint strings.Builder
	command.Stderr = &complaint
	if err := command.Run(); err != nil {
		t.Fatalf("python3-iapws cannot be asked (apt-get install python3 python3-iapws): %v: %s", err, complaint.String())
	}
	var answers []float64
	for lines := bufio.NewScanner(&out); lines.Scan(); {
		v, err := strconv.ParseFloat(lines.Text(), 64)
		if err != nil {
			t.Fatalf("the peer answered %q", lines.Text())
		}
		answers = append(answers, v)
	}
	if len(answers) != len(questions) {
		t.Fatalf("the peer gave %d answers to %d questions", len(answers), len(questions))
	}
	return answers
}
