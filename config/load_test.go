package config_test

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	"bridlewatch/collector/signal"
	"bridlewatch/compare/quantity"
	"bridlewatch/config"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

const corpus = "../testdata/config"

func TestGoodFilesLoad(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(corpus, "good", "*.yaml"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no good files: %v", err)
	}
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) {
			data, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if _, err := config.LoadBytes(filepath.Base(file), data); err != nil {
				t.Errorf("does not load:\n%v", err)
			}
		})
	}
}

func TestSharedSignal(t *testing.T) {
	c, err := config.LoadBytes("shared.yaml", read(t, "good", "shared.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []config.Role{config.RolePressure, config.RoleChamberTemperature} {
		s := c.Gauges[1].Signal(want, 0)
		if s == nil || !s.Shared || s.Source != "plc" || s.Role != want {
			t.Errorf("%s of the second gauge is %+v", want, s)
		}
	}
	if s := c.Gauges[0].Signal(config.RolePressure, 0); s.Shared || s.Spec.Range != [2]float64{101325, 1701325} {
		t.Errorf("the defined signal is %+v", s)
	}
	if s := c.Gauges[1].Signal(config.RolePoint, 0); s.Table != "coil" || s.Address != 100 || s.Type != "bit" {
		t.Errorf("a register list's 00101 is %+v", s)
	}
	if s := c.Gauges[0].Signal(config.RoleVessel, 0); s.Table != "input" || s.Address != 10 || math.Abs(s.Spec.Scale-0.3048) > 1e-15 {
		t.Errorf("a register list's 30011 in feet is %+v", s)
	}
	if n := len(c.SignalsOf("plc")); n != 6 {
		t.Errorf("%d signals are read from the source, want 6: shared ones once", n)
	}
	if place := c.Gauges[1].Signal(config.RolePressure, 0).Place; place.Path != "gauges[LG-501B].pressure" {
		t.Errorf("its place is %v", place)
	}
}

// TestConversionsAreSI reads one signal of every kind and compares the Spec in
// SI units, worked out by hand.
func TestConversionsAreSI(t *testing.T) {
	const text = `
site: {atmospheric_pressure: 1 bar(a)}
sources: [{name: plc, protocol: modbus-tcp, address: "192.0.2.10:502"}]
gauges:
  - tag: LG-1
    data_sheet: {maximum_pressure: 16 bar(g), maximum_temperature: 120 degC, operating_pressure: 3 bar(g), operating_temperature: 60 degC, specific_gravity: 0.98}
    chamber: {centre_to_centre: 1200 mm, below_lower_tap: 400 mm}
    fluid: {model: measured}
    float: {tag: LI-1, mass: 290 g, diameter: 50 mm, length: 260 mm, magnet_height: 190 mm, signal: {address: 0, type: uint16, kind: current, scale: 0.001, range: 0..1200 mm}}
    transmitter: {tag: LT-1, principle: dp-dry-leg, signal: {address: 1, type: int16, unit: mbar, scale: 0.1, offset: -2}}
    second_transmitter: {tag: LT-2, principle: displacer, displacer_length: 1 m, displacer_area: 12 cm2, displacer_mass: 2 kg, signal: {address: 2, type: int16, unit: N, scale: 0.01}}
    pressure: {tag: PT-1, signal: {address: 4, type: uint16, unit: kPa(g)}}
    temperature: {tag: TT-1, signal: {address: 5, type: int16, unit: degF, scale: 0.1}}
    chamber_temperature: {tag: TT-2, signal: {address: 6, type: uint16, kind: pt100, scale: 0.01}}
    densitometer: {tag: DT-1, signal: {address: 7, type: uint16, kind: voltage, range: 0.5..1.5 g/cm3}}
    vessel_level: {tag: LT-3, signal: {address: 8, type: uint16, raw: [6400, 32000], range: -10..110 in, plausible: 0..3 m}}
  - tag: LG-2
    data_sheet: {maximum_pressure: 16 bar(g), maximum_temperature: 120 degC, operating_pressure: 3 bar(g), operating_temperature: 60 degC, specific_gravity: 0.98}
    chamber: {centre_to_centre: 1200 mm, below_lower_tap: 400 mm}
    fluid: {model: water}
    vessel_level: {tag: LT-4, signal: {address: 9, type: int16, unit: "%", scale: 0.01, offset: 1, range: 200..1200 mm}}
`
	c, err := config.LoadBytes("x.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	g := &c.Gauges[0]
	for role, want := range map[config.Role]signal.Spec{
		config.RoleFloat:              {Kind: signal.Current, RawScale: 0.001, Range: [2]float64{0, 1.2}},
		config.RoleTransmitter:        {Kind: signal.Value, Scale: 10, Offset: -200},
		config.RoleSecond:             {Kind: signal.Value, Scale: 0.01},
		config.RolePressure:           {Kind: signal.Value, Scale: 1000, Offset: 100000},
		config.RoleTemperature:        {Kind: signal.Value, Scale: 0.1 / 1.8, Offset: 459.67 / 1.8},
		config.RoleChamberTemperature: {Kind: signal.Pt100, RawScale: 0.01},
		config.RoleDensity:            {Kind: signal.Voltage, Range: [2]float64{500, 1500}},
		config.RoleVessel:             {Kind: signal.Counts, Raw: [2]float64{6400, 32000}, Range: [2]float64{-0.254, 2.794}, Low: 0, High: 3},
	} {
		if diff := cmp.Diff(want, g.Signal(role, 0).Spec, cmpopts.EquateApprox(1e-12, 1e-12)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", role, diff)
		}
	}
	want := signal.Spec{Kind: signal.Value, Scale: 0.0001, Offset: 0.21, Range: [2]float64{0.2, 1.2}}
	if diff := cmp.Diff(want, c.Gauges[1].Signal(config.RoleVessel, 0).Spec, cmpopts.EquateApprox(1e-12, 1e-12)); diff != "" {
		t.Errorf("percent of a range (-want +got):\n%s", diff)
	}
	// 5.0 degF is -15 degC: 50 tenths of a degree.
	r := g.Signal(config.RoleTemperature, 0).Spec.Convert(quantity.Reading{Value: 50, Quality: quantity.Good})
	if math.Abs(r.Value-258.15) > 1e-9 {
		t.Errorf("5 degF is %v K", r.Value)
	}
}

// Gravity of the place reaches the data sheet; standard gravity stands where it
// is not stated.
func TestGravityOfThePlace(t *testing.T) {
	const text = `
sources: [{name: plc, protocol: modbus-tcp, address: "192.0.2.10:502"}]
gauges:
  - tag: LG-1
    data_sheet: {maximum_pressure: 16 bar(g), maximum_temperature: 120 degC, operating_pressure: 3 bar(g), operating_temperature: 60 degC, specific_gravity: 0.98%s}
    chamber: {centre_to_centre: 1200 mm, below_lower_tap: 400 mm}
    fluid: {model: water}
    vessel_level: {tag: LT-4, signal: {address: 9, type: int16, unit: mm}}
`
	for stated, want := range map[string]float64{"": 9.80665, ", gravity: 9.7803": 9.7803} {
		c, err := config.LoadBytes("x.yaml", fmt.Appendf(nil, text, stated))
		if err != nil {
			t.Fatal(err)
		}
		if got := c.Gauges[0].Sheet.Gravity; got != want {
			t.Errorf("stated %q: gravity %v, want %v m/s2", stated, got, want)
		}
	}
}
