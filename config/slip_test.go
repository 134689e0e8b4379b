package config_test

import (
	"strings"
	"testing"

	"bridlewatch/config"
)

// slips are what somebody writes who copies a data sheet for the first time:
// one change each to a good gauge, and all that is said about it.
var slips = []struct {
	name, good, slip, want string
}{
	{"a decimal comma in braces", "scale: 0.001", "scale: 0,001",
		`plant.yaml:17:152: gauges[LG-101].float.signal.scale: is 0: every reading would be the same
plant.yaml:17:154: gauges[LG-101].float.signal.001: unknown key "001"; a number is written with a decimal point`},
	{"a range as a list", "range: 0..1200 mm", "range: [0, 1200 mm]",
		`plant.yaml:17:166: gauges[LG-101].float.signal.range: must be text; it is a list`},
	{"a brace that is left open", "{model: water}", "{model: water",
		`plant.yaml:17:5: ',' or '}' must be specified; a group that begins with { ends with }, with commas between its keys`},
	{"no space behind a colon", "operating_pressure: 3", "operating_pressure:3",
		`plant.yaml:12:7: non-map value is specified; every line of a group is a key, a colon, a space and its value`},
	{"no letter of one of few words", "model: water", "model: petroleum, group: E, base_density: 742 kg/m3",
		`plant.yaml:16:38: gauges[LG-101].fluid.group: "E" is not one of A, B, C, D`},
	{"thousands apart", "centre_to_centre: 1200 mm", "centre_to_centre: 1 200 mm",
		`plant.yaml:15:33: gauges[LG-101].chamber.centre_to_centre: cannot read "1 200 mm" as length: a number is written without spaces, for example "1250.5" (units: mm, cm, m, in, ft, ft in; for example "1.25 m")`},
}

// unusual are slips that may be meant.
var unusual = []struct {
	name, good, slip, want string
}{
	{"tenfold too short", "range: 0..1200 mm", "range: 0..120 mm",
		`plant.yaml:17:103: gauges[LG-101].float.signal.range: LI-101 spans 120 mm and the taps are 1200 mm apart: is its unit right?`},
	{"millimetres for metres", "range: 0..1200 mm", "range: 0..1200 m",
		`plant.yaml:17:103: gauges[LG-101].float.signal.range: LI-101 spans 1200000 mm and the taps are 1200 mm apart: is its unit right?`},
	{"little is believed", "range: 0..1200 mm", "range: 0..1200 mm, plausible: 100..200 mm",
		`plant.yaml:17:103: gauges[LG-101].float.signal.plausible: only 100 mm of the 1200 mm between the taps are believed of LI-101`},
	{"a radar far above", "reference_point: 1.5 m", "reference_point: 15 m",
		`plant.yaml:18:67: gauges[LG-101].transmitter.reference_point: is 13800 mm above the upper tap: is its unit right?`},
	{"two numbers in one register", "address: 10, type: float32", "address: 5, type: float32",
		`plant.yaml:19:37: gauges[LG-101].pressure.signal: PT-101 (uint16 at 6) shares a register with LT-101 (float32 at 5 to 6, plant.yaml:18:82)`},
}

// oneGauge is a good configuration of one gauge.
const oneGauge = `site:
  name: Example works
sources:
  - name: plc
    protocol: modbus-tcp
    address: 192.0.2.10:502
gauges:
  - tag: LG-101
    data_sheet:
      maximum_pressure: 16 bar(g)
      maximum_temperature: 120 degC
      operating_pressure: 3 bar(g)
      operating_temperature: 60 degC
      specific_gravity: 0.98
    chamber: {centre_to_centre: 1200 mm, below_lower_tap: 400 mm}
    fluid: {model: water}
    float: {tag: LI-101, mass: 290 g, diameter: 50 mm, length: 260 mm, magnet_height: 190 mm, signal: {address: 0, type: uint16, kind: current, scale: 0.001, range: 0..1200 mm}}
    transmitter: {tag: LT-101, principle: radar, reference_point: 1.5 m, signal: {address: 10, type: float32, unit: mm}}
    pressure: {tag: PT-101, signal: {address: 6, type: uint16, kind: current, scale: 0.001, range: 0..10 bar(g)}}
`

func TestSlips(t *testing.T) {
	for _, test := range slips {
		t.Run(test.name, func(t *testing.T) {
			_, err := config.LoadBytes("plant.yaml", slipped(t, test.good, test.slip))
			if err == nil || err.Error() != test.want {
				t.Errorf("says\n%v\nwant\n%s", err, test.want)
			}
		})
	}
}

func TestUnusualIsAdvice(t *testing.T) {
	if c, err := config.LoadBytes("plant.yaml", slipped(t, "", "")); err != nil || len(c.Advice) > 0 {
		t.Fatalf("the good one: %v, %v", err, c.Advice)
	}
	for _, test := range unusual {
		t.Run(test.name, func(t *testing.T) {
			c, err := config.LoadBytes("plant.yaml", slipped(t, test.good, test.slip))
			if err != nil {
				t.Fatal(err)
			}
			if len(c.Advice) != 1 || c.Advice[0].String() != test.want {
				t.Errorf("advises\n%v\nwant\n%s", c.Advice, test.want)
			}
		})
	}
}

// A text saved with a byte order mark is the same configuration.
func TestByteOrderMark(t *testing.T) {
	plain := slipped(t, "", "")
	want, err := config.LoadBytes("plant.yaml", plain)
	if err != nil {
		t.Fatal(err)
	}
	got, err := config.LoadBytes("plant.yaml", append([]byte("\xEF\xBB\xBF"), plain...))
	if err != nil || got.Version != want.Version {
		t.Errorf("with a mark: %v", err)
	}
}

func slipped(t *testing.T, good, slip string) []byte {
	t.Helper()
	if !strings.Contains(oneGauge, good) {
		t.Fatalf("%q is not in the good one", good)
	}
	return []byte(strings.Replace(oneGauge, good, slip, 1))
}
