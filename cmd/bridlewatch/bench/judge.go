package bench

import (
	"bridlewatch/compare/cause"
	"bridlewatch/compare/scenario"
)

// answer is what the right attribution of a fault is: the instrument, and the
// causes that describe the fault.
type answer struct {
	suspect cause.Suspect
	causes  []cause.Cause
}

var answers = map[scenario.Kind]answer{
	scenario.FloatStuck:           {cause.Float, []cause.Cause{cause.FloatStuck}},
	scenario.FloatPartlyStuck:     {cause.Float, []cause.Cause{cause.FloatPartlyStuck}},
	scenario.FloatOneWay:          {cause.Float, []cause.Cause{cause.FloatOneWay}},
	scenario.FloatStickSlip:       {cause.Float, []cause.Cause{cause.FloatStickSlip}},
	scenario.FloatSunk:            {cause.Float, []cause.Cause{cause.FloatSunk}},
	scenario.FloatHeavier:         {cause.Float, []cause.Cause{cause.FloatHeavier}},
	scenario.DensityWrong:         {cause.Density, []cause.Cause{cause.DensityWrong}},
	scenario.FollowerDecoupled:    {cause.Follower, []cause.Cause{cause.FollowerDecoupled}},
	scenario.FollowerShifted:      {cause.Follower, []cause.Cause{cause.FollowerShifted}},
	scenario.TransmitterZero:      {cause.Transmitter, []cause.Cause{cause.TransmitterZero}},
	scenario.TransmitterSpan:      {cause.Transmitter, []cause.Cause{cause.TransmitterSpan}},
	scenario.TransmitterDrift:     {cause.Transmitter, []cause.Cause{cause.TransmitterDrift}},
	scenario.TransmitterFrozen:    {cause.Transmitter, []cause.Cause{cause.TransmitterFrozen}},
	scenario.TransmitterSaturated: {cause.Transmitter, []cause.Cause{cause.TransmitterLimit}},
	scenario.TransmitterNoiseLost: {cause.Transmitter, []cause.Cause{cause.TransmitterQuiet}},
	scenario.TransmitterNoisy:     {cause.Transmitter, []cause.Cause{cause.TransmitterNoisy}},
	scenario.FollowerNoisy:        {cause.Follower, []cause.Cause{cause.FollowerNoisy}},
	scenario.VesselNoisy:          {cause.Vessel, []cause.Cause{cause.VesselNoisy}},
	scenario.RadarFoam:            {cause.Transmitter, []cause.Cause{cause.RadarDisturbed}},
	scenario.RadarBuildUp:         {cause.Transmitter, []cause.Cause{cause.RadarDisturbed}},
	// A leg that has run empty drives the signal to its end.
	scenario.LegEmpty:        {cause.Transmitter, []cause.Cause{cause.LegEmpty, cause.TransmitterLimit}},
	scenario.LegPartlyFilled: {cause.Transmitter, []cause.Cause{cause.LegPartlyFilled}},
	scenario.LegPlugged:      {cause.Transmitter, []cause.Cause{cause.LegPlugged, cause.TransmitterLimit}},
	scenario.DisplacerStuck:  {cause.Transmitter, []cause.Cause{cause.DisplacerDisturbed, cause.TransmitterFrozen}},
	scenario.PointFailed:     {cause.Point, []cause.Cause{cause.PointFailed}},
	scenario.PointShifted:    {cause.Point, []cause.Cause{cause.PointShifted}},
	scenario.PointWidened:    {cause.Point, []cause.Cause{cause.PointWorn}},
	scenario.LowerPlugged:    {cause.Chamber, []cause.Cause{cause.LowerPlug}},
	scenario.UpperPlugged:    {cause.Chamber, []cause.Cause{cause.UpperPlug}},
	scenario.ChamberIsolated: {cause.Chamber, []cause.Cause{cause.ChamberIsolated}},
	scenario.TimeSkew:        {cause.Clock, []cause.Cause{cause.TimeSkew}},
	scenario.SignalLost:      {cause.Signal, []cause.Cause{cause.NoSignal}},
}

// judgeFinding compares a finding with the fault. It is decided when it names
// one instrument; the set covers the truth when the right instrument is among
// those within the odds at which a name is given.
func judgeFinding(f *cause.Finding, kind scenario.Kind) judgement {
	right := answers[kind]
	j := judgement{made: true, suspect: f.Suspect, cause: f.Cause, decided: f.Suspect != cause.Undecided && f.Suspect != ""}
	j.right = j.decided && f.Suspect == right.suspect
	for _, c := range right.causes {
		j.exact = j.exact || f.Cause == c
	}
	suspects := map[cause.Suspect]bool{}
	for _, r := range f.Set {
		if r.Nats >= -cause.Decisive {
			suspects[r.Suspect] = true
		}
	}
	if len(f.Set) == 0 && j.decided {
		suspects[f.Suspect] = true
	}
	j.covers, j.size = suspects[right.suspect] || j.right, len(suspects)
	return j
}

// judgeBoth compares all that is said with two faults. It is decided when two
// instruments are named, or a wrong one; right when they are the two; the sets
// cover the truth when both are in them.
func judgeBoth(open []cause.Finding, first, second scenario.Kind) judgement {
	a, b := answers[first].suspect, answers[second].suspect
	named, sets := map[cause.Suspect]bool{}, map[cause.Suspect]bool{}
	j := judgement{made: true, suspect: cause.Undecided}
	for i := range open {
		f := &open[i]
		if f.Tier != cause.Alert {
			continue
		}
		if f.Suspect != cause.Undecided && f.Suspect != "" {
			named[f.Suspect] = true
		}
		for _, r := range f.Set {
			if r.Nats >= -cause.Decisive {
				sets[r.Suspect] = true
			}
			if f.Cause == cause.TwoFaults && len(f.Set) == 2 {
				named[r.Suspect] = true
			}
		}
	}
	wrong := false
	for s := range named {
		wrong = wrong || s != a && s != b
		sets[s] = true
	}
	j.decided = wrong || named[a] && named[b]
	j.right = j.decided && !wrong
	j.exact = j.right
	j.covers, j.size = sets[a] && sets[b], len(sets)
	return j
}
