package planttest

import (
	"context"
	"time"

	"bridlewatch/compare"
	"bridlewatch/dashboards/plant"
)

// Boxes is a fleet of invented boxes. Err, when there is one, is what the
// central store answers with.
type Boxes struct{ Err error }

var _ plant.Fleet = Boxes{}

// Boxes returns one box that is well, one with a failure, one that is silent
// and said it was well, and one of an earlier version.
func (b Boxes) Boxes(context.Context, time.Duration) ([]plant.BoxView, error) {
	if b.Err != nil {
		return nil, b.Err
	}
	return []plant.BoxView{
		{Site: "Plant one", Box: "boiler-house", Reported: Now.Add(-20 * time.Second), Detailed: true, Gauges: 12, Worst: compare.GoodCategory, Version: "1.0.0", URL: "https://level.plant.example"},
		{Site: "Plant one", Box: "tank-farm", Reported: Now.Add(-3 * time.Hour), Behind: time.Minute, Detailed: true, Gauges: 8, Worst: compare.GoodCategory, Version: "1.0.0"},
		{Site: "Plant two", Box: "gas-plant", Reported: Now.Add(-50 * time.Second), Behind: 2 * time.Hour, Rejected: 7, Detailed: true, Gauges: 21, Worst: compare.Failure, Alerts: 3, Unacknowledged: 2, Version: "1.0.0", URL: "javascript:alert(1)"},
		{Site: "Plant two", Box: "utilities", Reported: Now.Add(-30 * time.Second)},
	}, nil
}

// BoxGauges returns two gauges of every box that says anything of them.
func (b Boxes) BoxGauges(_ context.Context, _, box string, _ time.Duration) ([]plant.BoxGauge, error) {
	switch {
	case b.Err != nil || box == "utilities":
		return nil, b.Err
	case box == "gas-plant":
		return []plant.BoxGauge{
			{Gauge: "LG-501", Category: compare.Failure, Alerts: 3, Headline: "Float has not moved for 2 h while its witnesses moved. It is probably stuck."},
			{Gauge: "LG-502", Category: compare.GoodCategory},
		}, nil
	}
	return []plant.BoxGauge{{Gauge: "LG-401", Category: compare.GoodCategory}, {Gauge: "LG-402", Category: compare.GoodCategory}}, nil
}
