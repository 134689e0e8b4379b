package compare

import (
	"fmt"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/symptom"
)

// everySignal stands for all signals of a gauge at once: what they share is a
// supply, an input card or a line, and no instrument.
const everySignal = symptom.Signals

// aftermath is how long signals may take, one after the other, to go and to
// come back where all of them are away, in seconds.
const aftermath = 3600

// absenceSigns tells which signals do not arrive. Where none arrives that is
// told once, also of those that went first, and those that come back later than
// others are not told of again; a signal that was missed long before stays
// missed.
func (g *Gauge) absenceSigns(at int64, st *State, list []sign) []sign {
	silent, fitted := int64(0), 0
	all := true
	for s := range symptom.Signals {
		if g.fitted[s] {
			fitted++
			since := st.Presence.LostSince[s]
			all = all && since != 0
			silent = max(silent, since)
		}
	}
	all = all && fitted > 1 && at-silent >= lostWatch
	if all {
		st.Silent = at
		list = append(list, absence(everySignal, silent, at))
	}
	alone := at-st.Silent >= aftermath
	for s := range symptom.Signals {
		since := st.Presence.LostSince[s]
		if !g.fitted[s] || since == 0 || at-since < lostWatch || all && silent-since < aftermath {
			continue
		}
		if alone || st.about(Absence, int(s)) != nil {
			list = append(list, absence(s, since, at))
		}
	}
	return list
}

func absence(s symptom.Signal, since, at int64) sign {
	return sign{group: Absence, index: int(s), alert: at-since >= lostAlert,
		Symptom: symptom.Symptom{Kind: symptom.NoReading, Point: -1, Pair: gauge.Pairs, Since: unix(since), Found: unix(at)}}
}

// about finds the episode of a group about one signal, nil when there is none.
func (st *State) about(group Group, index int) *Episode {
	for i := range st.Episodes {
		if e := &st.Episodes[i]; e.Group == group && e.Index == index {
			return e
		}
	}
	return nil
}

func (g *Gauge) blameSignal(st *State, e *Episode) {
	f := &e.Finding
	f.Cause, f.Suspect, f.Tag = cause.NoSignal, cause.Signal, g.signalTag(symptom.Signal(e.Index))
	f.Alone()
	f.Evidence = []cause.Evidence{{From: f.Since, To: unix(e.Active), For: []cause.Cause{cause.NoSignal}, Nats: 4,
		Sentence: g.absenceSeen(st, e)}}
}

func (g *Gauge) absenceSeen(st *State, e *Episode) string {
	f := &e.Finding
	if s := symptom.Signal(e.Index); s != everySignal {
		return fmt.Sprintf("No usable reading of %s since %s: %s.", f.Tag, clock(f.Since), st.Presence.Lost[s])
	}
	return fmt.Sprintf("No usable reading of any instrument on %s since %s: %s.", f.Tag, clock(f.Since), g.firstReason(st))
}

// firstReason returns why the first of the gauge's signals is not usable.
func (g *Gauge) firstReason(st *State) string {
	for s := range symptom.Signals {
		if g.fitted[s] {
			return st.Presence.Lost[s].String()
		}
	}
	return ""
}

// signalTag returns the tag behind a signal.
func (g *Gauge) signalTag(s symptom.Signal) string {
	sh := &g.sheet
	switch {
	case s == everySignal:
		return sh.Tag
	case s < symptom.Signal(symptom.Channels):
		return g.tag(symptom.Channel(s))
	case s == symptom.PressureSignal:
		return sh.Pressure.Tag
	case s == symptom.TemperatureSignal:
		return sh.Temperature.Tag
	case s == symptom.ChamberTemperatureSignal:
		return sh.ChamberTemperature.Tag
	case s == symptom.DensitySignal:
		return sh.Densitometer.Tag
	}
	return sh.Points[s-symptom.PointSignal].Tag
}
