package config_test

import (
	"bytes"
	"fmt"
	"testing"

	"bridlewatch/config"
)

// manyGauges is a plant of n gauges with six signals each.
func manyGauges(n int) []byte {
	var b bytes.Buffer
	b.WriteString("sources: [{name: plc, protocol: modbus-tcp, address: '192.0.2.10:502'}]\ngauges:")
	for i := range n {
		signal := func(k int, more string) string {
			return fmt.Sprintf("{address: %d, type: uint16, %s}", 10*(i%6000)+k, more)
		}
		b.WriteString(gaugeText(fmt.Sprintf("LG-%d", i), "290 g, tag: LI-"+fmt.Sprint(i)+", signal: "+signal(0, "raw: [0, 27648], range: 0..1200 mm"), fmt.Sprintf(`
    transmitter: {tag: LT-%[1]d, principle: radar, reference_point: 1400 mm, signal: %[2]s}
    points:
      - {tag: LSL-%[1]d, elevation: 200 mm, signal: {address: %[3]d}}
      - {tag: LSH-%[1]d, elevation: 900 mm, signal: {address: %[4]d}}
    pressure: {tag: PT-%[1]d, signal: %[5]s}
    temperature: {tag: TT-%[1]d, signal: %[6]s}`,
			i, signal(1, "unit: mm"), 10*(i%6000)+2, 10*(i%6000)+3, signal(4, "raw: [0, 27648], range: 0..16 bar(g)"), signal(5, "unit: degC, scale: 0.1"))))
	}
	return b.Bytes()
}

func BenchmarkLoad(b *testing.B) {
	for _, n := range []int{1, 100, 1000} {
		text := manyGauges(n)
		b.Run(fmt.Sprintf("gauges=%d", n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				c, err := config.LoadBytes("many.yaml", text)
				if err != nil {
					b.Fatal(err)
				}
				if len(c.Gauges) != n {
					b.Fatal(len(c.Gauges))
				}
			}
		})
	}
}
