package verdicts

import (
	"math"
	"net"
	"testing"
	"time"

	"github.com/simonvetter/modbus"

	"bridlewatch/compare"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/dashboards/plant"
)

var now = time.Date(2026, 5, 1, 8, 0, 0, 0, time.UTC)

// still is a plant that does not change.
type still struct {
	plant.Plant
	gauges []plant.GaugeView
}

func (s still) Gauges() []plant.GaugeView { return s.gauges }
func (s still) Now() time.Time            { return now }

func stuck() plant.GaugeView {
	g := plant.GaugeView{Sheet: &datasheet.Sheet{Tag: "LG-1"}, LastSample: now.Add(-2 * time.Second), Result: compare.Result{
		Time: now, Category: compare.Failure,
		Verdicts: []compare.Verdict{{Pair: gauge.FloatTransmitter, Point: -1, Outcome: compare.Disagree}},
		Findings: []cause.Finding{{Suspect: cause.Float, Tier: cause.Alert}},
	}}
	m := &g.Result.Measurement
	m.Float = level.Level{Value: 0.4, Bound: level.Within}
	m.Transmitter = level.Level{Bound: level.AboveUpperTap}
	m.Gaps[gauge.FloatTransmitter] = gauge.Gap{Value: -0.184, Budget: 0.033, OK: true}
	return g
}

func decoded(hi, lo uint16) float64 {
	return float64(math.Float32frombits(uint32(hi)<<16 | uint32(lo)))
}

func TestRegistersOfAGauge(t *testing.T) {
	old := stuck()
	old.LastSample = now.Add(-time.Hour)
	regs := image(7, now, []plant.GaugeView{stuck(), old})
	if regs[0] != Version || regs[1] != 7 || regs[2] != 2 || len(regs) != Address(2) {
		t.Errorf("head %v", regs[:Head])
	}
	r := regs[Address(0):Address(1)]
	if r[0] != 5 || r[1] != 1 || r[2] != 2 || r[3] != 2 || r[12] != 2 {
		t.Errorf("failure of the float: %v", r)
	}
	if f, gap, budget := decoded(r[4], r[5]), decoded(r[8], r[9]), decoded(r[10], r[11]); f != 400 || math.Abs(gap+184) > 1e-4 || math.Abs(budget-33) > 1e-5 {
		t.Errorf("float %v, gap %v, budget %v", f, gap, budget)
	}
	if v := decoded(r[6], r[7]); !math.IsNaN(v) {
		t.Errorf("a level above the upper tap is %v, want not a number", v)
	}
	r = regs[Address(1):Address(2)]
	if r[0] != 0 || r[1] != 0 || r[12] != 3600 || !math.IsNaN(decoded(r[4], r[5])) {
		t.Errorf("a gauge not seen still shows its last verdict: %v", r)
	}
}

func TestOnlyReadsAreAnswered(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := l.Addr().String()
	l.Close()
	s, err := Listen(address, still{gauges: []plant.GaugeView{stuck()}})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	c, err := modbus.NewClient(&modbus.ClientConfiguration{URL: "tcp://" + address, Timeout: 5 * time.Second})
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Open(); err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if err := c.SetUnitId(UnitID); err != nil {
		t.Fatal(err)
	}
	first, err := c.ReadRegisters(0, Head+PerGauge, modbus.INPUT_REGISTER)
	if err != nil || first[Head] != 5 {
		t.Fatalf("%v, %v", first, err)
	}
	s.Refresh()
	second, err := c.ReadRegisters(0, 3, modbus.INPUT_REGISTER)
	if err != nil || second[1] != first[1]+1 {
		t.Errorf("heartbeat %d then %d: %v", first[1], second[1], err)
	}
	if err := c.WriteRegister(0, 1); err == nil {
		t.Error("a write was accepted")
	}
	if err := c.WriteCoil(0, true); err == nil {
		t.Error("a coil was written")
	}
	if _, err := c.ReadRegisters(Head+PerGauge, 1, modbus.INPUT_REGISTER); err == nil {
		t.Error("a register beyond the map was answered")
	}
}
