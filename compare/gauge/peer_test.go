//go:build peers

package gauge_test

import (
	"fmt"
	"math/rand/v2"
	"os/exec"
	"strings"
	"testing"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
	"bridlewatch/testdata/vectors"
)

// TestPeerDrum compares a whole boiler drum gauge, float, dp cell, radar and
// drum level, with a program that shares nothing with this one: densities and
// permittivity by Debian's python3-iapws, the float by numerical integration
// and bisection, the balances written down anew.
func TestPeerDrum(t *testing.T) {
	s := drum()
	s.MaxPressure = bar(200)
	s.Second = &datasheet.Transmitter{Tag: "LT-103", Principle: datasheet.Radar, Chamber: "secondary", ReferencePoint: 1.1}
	m := model(t, s)
	rng := rand.New(rand.NewPCG(20260122, 1))
	var truths []gauge.Truth
	var asked strings.Builder
	for len(truths) < 500 {
		truth := gauge.Truth{
			ChamberLevel: quantity.Length(0.05 + 0.65*rng.Float64()),
			Pressure:     bar(5 + 120*rng.Float64()),
		}
		at, err := m.Conditions(&truth)
		if err != nil {
			t.Fatal(err)
		}
		truth.ChamberTemperature = at.Temperature - quantity.Temperature(5+90*rng.Float64())
		truths = append(truths, truth)
		fmt.Fprintf(&asked, "%.17g %.17g %.17g\n", float64(truth.Pressure)/1e6, float64(truth.ChamberTemperature), float64(truth.ChamberLevel))
	}
	answers := askDrum(t, asked.String())
	if len(answers) != len(truths) {
		t.Fatalf("the peer gave %d answers to %d questions", len(answers), len(truths))
	}
	report := vectors.NewReport(t, "boiler drum gauge by an independent program")
	for i, truth := range truths {
		var in gauge.Snapshot
		if err := m.Indicate(&truth, &in); err != nil {
			t.Fatal(err)
		}
		out := measured(m, in)
		a := answers[i]
		state := fmt.Sprintf("at %.3f bar, chamber %.2f °C, %.1f mm", truth.Pressure.Bar(), truth.ChamberTemperature.Celsius(), truth.ChamberLevel.Millimetres())
		report.Within(t, "float "+state, in.Float.Value, a[0], 1e-7)
		report.Within(t, "dp "+state, in.Transmitter.Value, a[1], 1e-4)
		report.Within(t, "radar "+state, in.Second.Value, a[2], 1e-8)
		if out.InVessel.OK() {
			report.Within(t, "drum "+state, float64(out.InVessel.Value), a[3], 1e-8)
		}
	}
}

func askDrum(t *testing.T, questions string) [][4]float64 {
	t.Helper()
	command := exec.Command("/usr/bin/python3", "../../testdata/peers/drum_compare.py")
	command.Stdin = strings.NewReader(questions)
	var complaint strings.Builder
	command.Stderr = &complaint
	out, err := command.Output()
	if err != nil {
		t.Fatalf("python3-iapws cannot be asked (apt-get install python3 python3-iapws): %v: %s", err, complaint.String())
	}
	var answers [][4]float64
	for line := range strings.Lines(string(out)) {
		var a [4]float64
		if _, err := fmt.Sscan(line, &a[0], &a[1], &a[2], &a[3]); err != nil {
			t.Fatalf("the peer answered %q: %v", line, err)
		}
		answers = append(answers, a)
	}
	return answers
}
