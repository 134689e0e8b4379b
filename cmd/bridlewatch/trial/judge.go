package trial

import (
	"bridlewatch/compare/cause"
	"bridlewatch/compare/scenario"
	"bridlewatch/dashboards/trials"
)

type verdict = trials.Verdict

const (
	right   = trials.Right
	inSet   = trials.InSet
	outside = trials.Outside
	wrong   = trials.Wrong
)

// judge compares a finding with the fault that happens to the instrument tag,
// empty for the chamber.
func judge(f *cause.Finding, kind scenario.Kind, tag string) verdict {
	if f.Suspect != cause.Undecided && f.Suspect != "" {
		if blames(kind, tag, f.Suspect, f.Tag) {
			return right
		}
		return wrong
	}
	all, some := len(f.Set) > 0, false
	for _, r := range f.Set {
		is := blames(kind, tag, r.Suspect, r.Tag)
		all, some = all && is, some || is
	}
	switch {
	case all:
		return right // of one instrument, or of a float and its follower
	case some:
		return inSet
	}
	return outside
}

// blames reports whether a suspect is the instrument a fault happens to.
// Float and follower are one instrument to whom goes there.
func blames(kind scenario.Kind, tag string, by cause.Suspect, blamed string) bool {
	switch {
	case chamberFault(kind):
		return by == cause.Chamber
	case kind == scenario.DensityWrong:
		return by == cause.Density
	case kind == scenario.TimeSkew:
		return by == cause.Clock || blamed == tag && by != cause.Density
	}
	return blamed == tag && by != cause.Density
}
