package rehearsal

import (
	_ "embed"
	"time"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/scenario"
	"bridlewatch/config"
)

//go:embed plant.yaml
var plantYAML []byte

// PlantYAML returns the configuration of the embedded plant as it is written.
func PlantYAML() []byte { return append([]byte(nil), plantYAML...) }

// Embedded loads the configuration of the embedded plant.
func Embedded() (*config.Config, error) { return config.LoadBytes("plant.yaml", plantYAML) }

// DefaultFaults are the two faults that develop when nobody asks for others: a
// float sticks in the condensate receiver, and a high level switch dies.
func DefaultFaults() []scenario.Fault {
	return []scenario.Fault{
		{Gauge: "LG-104", Kind: scenario.FloatStuck, Delay: 5 * time.Minute},
		{Gauge: "LG-304", Kind: scenario.PointFailed, Part: "LSH-304", Delay: 20 * time.Minute},
	}
}

// calm is the weather of a rehearsal: no drop-outs and no wild echoes, so that
// every finding is one that was asked for.
func calm() scenario.Service {
	return scenario.Service{
		Name: "rehearsal", Composition: 0.002, CompositionEvery: 5 * 24 * time.Hour, Campaign: 1, Diurnal: 2, Cooling: 0.3,
	}
}

// processOf says how the vessel of a gauge is operated: those of the embedded
// plant by tag, others by what is in them.
func processOf(sheet *datasheet.Sheet) scenario.Process {
	const perMinute = 1e-3 / 60 // millimetres per minute in metres per second
	switch sheet.Tag {
	case "LG-101":
		return scenario.DrumProcess()
	case "LG-104": // filled and pumped out without rest
		p := scenario.BatchProcess()
		p.Low, p.High, p.RateMin, p.RateMax, p.Hold, p.Quiet = 0.15, 0.85, 10*perMinute, 20*perMinute, 90*time.Second, 0
		return p
	case "LG-301", "LG-304", "LG-303": // filled and emptied several times a day
		p := scenario.BatchProcess()
		p.Hold, p.Quiet = 25*time.Minute, 0
		return p
	case "LG-201", "LG-204", "LG-302":
		p := scenario.ControlProcess()
		p.Hold = 5 * time.Hour
		return p
	}
	if sheet.Fluid.Model == datasheet.Water && sheet.Fluid.Vapour.Model == datasheet.Steam {
		p := scenario.ControlProcess()
		p.Hold = 4 * time.Hour
		return p
	}
	return scenario.ControlProcess()
}
