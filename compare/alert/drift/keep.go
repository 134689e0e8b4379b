package drift

import (
	"time"

	"bridlewatch/compare/gauge"
	"bridlewatch/compare/trendline"
)

// Kept is what one finished day adds to what is known of a gauge: small enough
// to be stored for every day, and the newest ninety of them are the state.
type Kept struct {
	Pairs []KeptPair `json:"pairs"`
}

// KeptPair is one pair of Kept.
type KeptPair struct {
	Pair      gauge.Pair `json:"pair"`
	Newest    Day        `json:"newest"` // zero: no day yet
	Reference float64    `json:"reference_mm"`
	Referred  bool       `json:"referred"`
	Scatter   float64    `json:"scatter_mm"`
	Memory    float64    `json:"memory"`
	Over      int        `json:"over"`
	Alert     bool       `json:"alert"`
	Watch     bool       `json:"watch"`
	Told      bool       `json:"told"`
	Since     time.Time  `json:"since,omitzero"`
	Raised    time.Time  `json:"raised,omitzero"`
	Serial    int        `json:"serial"`
	Estimate  Estimate   `json:"estimate"`
}

// Keep returns what is to be stored after a finished day.
func (g *Gauge) Keep() (k Kept) {
	for p := range gauge.Pairs {
		s := &g.Pairs[p]
		if len(s.Days) == 0 && s.Serial == 0 {
			continue
		}
		x := KeptPair{
			Pair: p, Reference: s.Reference, Referred: s.Referred, Scatter: s.Scatter, Memory: s.Memory, Over: s.Over, Alert: s.Alert,
			Watch: s.Watch, Told: g.Told[p], Since: s.Since, Raised: s.Raised, Serial: s.Serial, Estimate: s.Estimate,
		}
		if n := len(s.Days); n > 0 {
			x.Newest = s.Days[n-1]
		}
		k.Pairs = append(k.Pairs, x)
	}
	return k
}

// Newest returns the newest finished day of any pair, 0 for none.
func (g *Gauge) Newest() (day int64) {
	for p := range gauge.Pairs {
		if days := g.Pairs[p].Days; len(days) > 0 {
			day = max(day, days[len(days)-1].Day)
		}
	}
	return day
}

// Restore folds what was kept, oldest first. Hours of a day that had not ended
// are lost.
func (g *Gauge) Restore(k Kept) {
	for _, x := range k.Pairs {
		if x.Pair >= gauge.Pairs {
			continue
		}
		s := &g.Pairs[x.Pair]
		if !x.Referred && s.Referred {
			s.Days = nil // begun anew
		}
		if n := len(s.Days); x.Newest != (Day{}) && (n == 0 || s.Days[n-1].Day < x.Newest.Day) {
			s.Days = append(s.Days, x.Newest)
			s.Days = s.Days[max(0, len(s.Days)-trendline.MaxPoints):]
		}
		s.Reference, s.Referred, s.Scatter, s.Memory = x.Reference, x.Referred, x.Scatter, x.Memory
		s.Over, s.Alert, s.Watch, s.Since, s.Raised, s.Serial, s.Estimate = x.Over, x.Alert, x.Watch, x.Since, x.Raised, x.Serial, x.Estimate
		g.Told[x.Pair] = x.Told
	}
}
