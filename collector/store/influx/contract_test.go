package influx

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bridlewatch/collector/store"
)

// The lines below are the contract: changing one breaks dashboards elsewhere.
// Syntax: InfluxData, line protocol reference, version 2.
func TestLines(t *testing.T) {
	o := Origin{Site: "north works", Box: "edge-1"}
	at := time.Date(2026, 3, 28, 22, 59, 58, 250_000_000, time.UTC)
	for _, c := range []struct {
		name   string
		series store.Series
		value  store.Value
		want   string
	}{
		{"raw", store.Series{Gauge: "LG-101", Name: "LT-101", Unit: "mA"}, store.Value{Value: 12.5, Quality: 4},
			`bridlewatch_raw,box=edge-1,gauge=LG-101,signal=LT-101,site=north\ works,unit=mA quality=4i,value=12.5 1774738798250000000`},
		{"derived", store.Series{Gauge: "LG-101", Name: "gap.float-transmitter", Class: store.Derived, Unit: "m"}, store.Value{Value: -0.004, Quality: 3, Reason: 11},
			`bridlewatch_derived,box=edge-1,gauge=LG-101,signal=gap.float-transmitter,site=north\ works,unit=m quality=3i,reason=11i,value=-0.004 1774738798250000000`},
		{"bad value of no gauge", store.Series{Name: "PT-1, \"header\" = x"}, store.Value{Value: 3, Quality: 1, Reason: 3},
			`bridlewatch_raw,box=edge-1,signal=PT-1\,\ "header"\ \=\ x,site=north\ works quality=1i,reason=3i 1774738798250000000`},
	} {
		if got := line(o.prefix(c.series), at, c.value); got != c.want {
			t.Errorf("%s:\ngot  %s\nwant %s", c.name, got, c.want)
		}
	}
	status := Status{Lag: 1500 * time.Millisecond, Sent: 10, Rejected: 2}
	for _, c := range []struct {
		name  string
		state *State
		want  []string
	}{
		{"alive only", nil, []string{`bridlewatch_box,box=edge-1,site=north\ works contract=1i,lag_seconds=1.5,rejected=2i,sent=10i 1774738798250000000`}},
		{"with gauges", &State{Worst: 5, Alerts: 2, Unacknowledged: 1, Version: "1.4", URL: "https://edge-1/level", Gauges: []GaugeState{
			{Gauge: "LG-101", Category: 5, Alerts: 2, Headline: `the "float" does not move`}, {Gauge: "LG 102", Category: 1}}}, []string{
			`bridlewatch_box,box=edge-1,site=north\ works contract=1i,lag_seconds=1.5,rejected=2i,sent=10i,alerts=2i,gauges=2i,unacknowledged=1i,worst=5i,url="https://edge-1/level",version="1.4" 1774738798250000000`,
			`bridlewatch_gauge,box=edge-1,gauge=LG-101,site=north\ works alerts=2i,category=5i,headline="the \"float\" does not move" 1774738798250000000`,
			`bridlewatch_gauge,box=edge-1,gauge=LG\ 102,site=north\ works alerts=0i,category=1i 1774738798250000000`,
		}},
	} {
		if diff := cmp.Diff(c.want, o.lines(at, status, c.state)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
	}
}
