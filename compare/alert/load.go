package alert

import (
	"cmp"
	"slices"
	"time"
)

// Bounds of the load figures. They follow the customary figures for alarm
// systems (ISA-18.2 clause 16, EEMUA 191), applied to ourselves; the numbers
// are common practice.
const (
	staleAfter     = 24 * time.Hour
	chatterWithin  = 24 * time.Hour
	chatterRaises  = 3 // raises within chatterWithin
	worstRows      = 10
	acceptablePerY = 0.1 // alerts of a gauge in a year we ask of ourselves
)

// Load is how much the alerts ask of people.
type Load struct {
	From       time.Time `json:"from"`
	To         time.Time `json:"to"`
	Days       []Day     `json:"days"` // newest first, UTC
	PerDay     float64   `json:"per_day"`
	PerGaugeY  float64   `json:"per_gauge_year"`
	Goal       float64   `json:"goal_per_gauge_year"` // what we ask of ourselves
	Open       int       `json:"open"`
	Unseen     int       `json:"unacknowledged"`
	Stale      []string  `json:"stale"`   // alerts open for longer than a day
	Shelved    []string  `json:"shelved"` // now
	Chattering []string  `json:"chattering"`
	Worst      []Count   `json:"worst"`                // at most ten
	AckMedian  float64   `json:"acknowledged_after_s"` // median; 0: none in the period
}

// Day is one day of the load.
type Day struct {
	Day    time.Time `json:"day"`
	Raised int       `json:"raised"`
}

// Count is how often one alert was raised.
type Count struct {
	Gauge  string `json:"gauge"`
	Cause  string `json:"cause"`
	Raised int    `json:"raised"`
}

// LoadOf counts what the entries of [from, to) asked of people who look after
// a number of gauges. Entries outside the period are left out.
func (b *Book) LoadOf(entries []Entry, from, to time.Time, gauges int) Load {
	l := Load{From: from, To: to, Goal: acceptablePerY, Stale: []string{}, Shelved: []string{}, Chattering: []string{}, Worst: []Count{}, Days: []Day{}}
	raised := map[string][]time.Time{}
	per := map[time.Time]int{}
	counts := map[string]Count{} // by alert
	total := 0
	for i := range entries {
		e := &entries[i]
		if c, counted := counts[e.Alert]; counted && e.What == WasRenamed {
			c.Cause = string(e.Finding.Cause)
			counts[e.Alert] = c
		}
		if e.What != WasRaised && e.What != WasRaisedAgain || e.Time.Before(from) || !e.Time.Before(to) {
			continue
		}
		total++
		per[e.Time.UTC().Truncate(24*time.Hour)]++
		raised[e.Alert] = append(raised[e.Alert], e.Time)
		counts[e.Alert] = Count{e.Gauge, string(e.Finding.Cause), counts[e.Alert].Raised + 1}
	}
	l.rates(per, total, gauges)
	l.worst(counts)
	l.now(b, to)
	for _, id := range sorted(raised) {
		if chatters(raised[id]) {
			l.Chattering = append(l.Chattering, id)
		}
	}
	l.AckMedian = reaction(entries, from, to).Seconds()
	return l
}

func (l *Load) rates(per map[time.Time]int, total, gauges int) {
	if n := l.To.Sub(l.From).Hours() / 24; n > 0 {
		l.PerDay = float64(total) / n
		if gauges > 0 {
			l.PerGaugeY = l.PerDay * 365.25 / float64(gauges)
		}
	}
	for day := l.To.Add(-1).UTC().Truncate(24 * time.Hour); !day.Before(l.From.UTC().Truncate(24 * time.Hour)); day = day.Add(-24 * time.Hour) {
		l.Days = append(l.Days, Day{day, per[day]})
	}
}

// worst lists the gauges and causes with most, all alerts about one added up.
func (l *Load) worst(counts map[string]Count) {
	sum := map[Count]int{}
	for _, c := range counts {
		sum[Count{Gauge: c.Gauge, Cause: c.Cause}] += c.Raised
	}
	for c, n := range sum {
		c.Raised = n
		l.Worst = append(l.Worst, c)
	}
	slices.SortFunc(l.Worst, func(x, y Count) int {
		return cmp.Or(y.Raised-x.Raised, cmp.Compare(x.Gauge, y.Gauge), cmp.Compare(x.Cause, y.Cause))
	})
	l.Worst = l.Worst[:min(len(l.Worst), worstRows)]
}

func (l *Load) now(b *Book, now time.Time) {
	for _, a := range b.List() {
		l.Open++
		if a.State != Acknowledged {
			l.Unseen++
		}
		if now.Sub(a.Raised) > staleAfter {
			l.Stale = append(l.Stale, a.ID)
		}
		if a.Shelf != nil {
			l.Shelved = append(l.Shelved, a.ID)
		}
	}
}

// chatters reports whether an alert was raised chatterRaises times within
// chatterWithin.
func chatters(raised []time.Time) bool {
	for i := chatterRaises - 1; i < len(raised); i++ {
		if raised[i].Sub(raised[i-chatterRaises+1]) <= chatterWithin {
			return true
		}
	}
	return false
}

// reaction is the median time from raising to acknowledging.
func reaction(entries []Entry, from, to time.Time) time.Duration {
	began := map[string]time.Time{}
	var took []time.Duration
	for i := range entries {
		e := &entries[i]
		switch e.What {
		case WasRaised, WasRaisedAgain:
			began[e.Alert] = e.Time
		case WasAcknowledged:
			if at, ok := began[e.Alert]; ok && !e.Time.Before(from) && e.Time.Before(to) {
				took = append(took, e.Time.Sub(at))
				delete(began, e.Alert)
			}
		}
	}
	if len(took) == 0 {
		return 0
	}
	slices.Sort(took)
	return took[len(took)/2]
}
