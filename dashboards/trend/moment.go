package trend

import (
	"context"
	"fmt"
	"time"

	"bridlewatch/collector/store"
)

// Moment is what was recorded of a gauge at one instant: for each series the
// newest value at or before it.
type Moment map[string]store.Point

// recorded are the series a moment is made of, points of switches apart.
var recorded = []string{LevelFloat, LevelTransmitter, LevelSecond, LevelVessel, LevelInVessel, UFloat, UTransmitter, Gap, Budget, DensityLiquid}

// Moment reads what was known of a gauge at an instant.
func (r *Reader) Moment(ctx context.Context, gauge string, points []string, at time.Time) (Moment, error) {
	var wanted []Line
	for _, name := range recorded {
		wanted = append(wanted, Line{Name: name})
	}
	for _, tag := range points {
		wanted = append(wanted, Line{Name: PointPrefix + tag})
	}
	known, ids, err := r.find(ctx, gauge, wanted)
	if err != nil || len(ids) == 0 {
		return nil, err
	}
	values, err := r.store.Last(ctx, ids, at)
	if err != nil {
		return nil, fmt.Errorf("%s at %s: %w", gauge, at.Format(time.RFC3339), err)
	}
	m := Moment{}
	for i, v := range values {
		if !v.Time.IsZero() {
			m[known[i].Name] = v
		}
	}
	return m, nil
}

// Usable returns the value of a series when it was usable and not older than
// age at the instant.
func (m Moment) Usable(name string, at time.Time, age time.Duration) (float64, bool) {
	v, ok := m[name]
	if !ok || v.Quality < 3 || at.Sub(v.Time) > age {
		return 0, false
	}
	return v.Value, true
}

// Newest returns the time of the newest usable level; zero when there is none.
func (m Moment) Newest() (at time.Time) {
	for _, name := range []string{LevelFloat, LevelTransmitter, LevelSecond} {
		if v, ok := m[name]; ok && v.Quality >= 3 && v.Time.After(at) {
			at = v.Time
		}
	}
	return at
}
