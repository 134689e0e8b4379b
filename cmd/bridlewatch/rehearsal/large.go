package rehearsal

import (
	"fmt"
	"strings"

	"bridlewatch/config"
)

// perLine is how many gauges of a large plant share one connection.
const perLine = 50

// Large is the configuration of a plant with n gauges, each with six signals
// read once a second over Modbus TCP: a gateway for every fifty gauges, a unit
// for each.
func Large(n int) (*config.Config, error) {
	var b strings.Builder
	b.WriteString("site: {name: Large rehearsal plant, box: large, atmospheric_pressure: 1.013 bar(a)}\n" +
		"service: {scan_every: 1 s, open_access: true}\nsources:\n")
	for line := range (n + perLine - 1) / perLine {
		fmt.Fprintf(&b, "  - {name: line-%02d, protocol: modbus-tcp, address: \"127.0.0.1:%d\", every: 1 s, timeout: 800 ms}\n", line+1, 1502+line)
	}
	b.WriteString("gauges:\n")
	for i := range n {
		fmt.Fprintf(&b, largeGauge, fmt.Sprintf("%04d", i+1), 1+i/perLine, 1+i%perLine)
	}
	return config.LoadBytes("large.yaml", []byte(b.String()))
}

// largeGauge takes the number of the gauge, its line and its unit.
const largeGauge = `
  - tag: LG-%[1]s
    service: storage %[1]s
    area: line %[2]d
    data_sheet: {maximum_pressure: 6 bar(g), maximum_temperature: 160 degC, operating_pressure: 1.5 bar(g), operating_temperature: 127 degC, specific_gravity: 0.94, specific_gravity_range: 0.92..0.98}
    chamber: {pipe_size: "3", schedule: "40", centre_to_centre: 1200 mm, below_lower_tap: 400 mm, above_upper_tap: 250 mm, insulation: insulated, temperature_uncertainty: 3 K}
    fluid: {name: feed water, model: water, vapour: {model: steam}}
    float:
      {tag: LI-%[1]s, mass: 250 g, diameter: 50 mm, length: 250 mm, magnet_height: 185 mm, pitch: 5 mm, built_for: 940 kg/m3,
       signal: {source: "line-%02[2]d", unit_id: %[3]d, table: input, address: 0, type: float32, kind: value, unit: mm}}
    transmitter:
      {tag: LT-%[1]s, principle: radar, reference_point: 1600 mm, blind_top: 150 mm, uncertainty: 2 mm,
       signal: {source: "line-%02[2]d", unit_id: %[3]d, table: input, address: 2, type: float32, kind: value, unit: mm}}
    points:
      - {tag: LSH-%[1]s, elevation: 950 mm, signal: {source: "line-%02[2]d", unit_id: %[3]d, table: input, address: 8, type: bit, bit: 0}}
      - {tag: LSL-%[1]s, elevation: 300 mm, signal: {source: "line-%02[2]d", unit_id: %[3]d, table: input, address: 8, type: bit, bit: 1}}
    pressure:
      {tag: PT-%[1]s, uncertainty: 10 mbar, signal: {source: "line-%02[2]d", unit_id: %[3]d, table: input, address: 4, type: float32, kind: value, unit: bar(g)}}
    chamber_temperature:
      {tag: TT-%[1]s, uncertainty: 2 K, signal: {source: "line-%02[2]d", unit_id: %[3]d, table: input, address: 6, type: float32, kind: value, unit: degC}}
`
