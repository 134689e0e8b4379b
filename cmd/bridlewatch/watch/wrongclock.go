package watch

import (
	"encoding/json"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"time"

	"bridlewatch/collector"
	"bridlewatch/collector/store/replacement"
)

// The clock of a box may be wrong for a while: 1970 until the network answers,
// years ahead with an empty battery, set by hand to the hour of another zone.
// What detectors learn by a wrong clock must not outlast it, and what they
// learned before must be there again. So whenever the clock was set, the state in
// force is kept aside, and of all there are the one goes on that knows most of
// the time before now.

const (
	// stepBack is how far a clock may go back without anything being done: the
	// detectors wait until it has passed the newest scan again.
	stepBack = 2 * time.Hour
	// stepOn is how far a clock may go on between two scans.
	stepOn = time.Hour
	// asideFor is how long a state is kept aside while the one in force learns,
	// and mostAside how many are.
	asideFor  = 7 * 24 * time.Hour
	mostAside = 3
)

// ClockWasSet reports whether the clock was set between two scans by so much
// that the detectors' state must be chosen anew.
func ClockWasSet(before, now time.Time) bool {
	return now.Before(before.Add(-stepBack)) || now.After(before.Add(stepOn))
}

// stateOfTime is a state in a file, and what is read of it to choose.
type stateOfTime struct {
	file   string
	last   time.Time // newest scan
	Since  time.Time `json:"since"` // when it was put aside
	States map[string]*struct{ Last int64 }
}

// readState reads of a state what is needed to choose; last is the zero time
// where there is none, or none that can be read.
func readState(file string) stateOfTime {
	s := stateOfTime{file: file}
	text, err := os.ReadFile(file)
	if err != nil || json.Unmarshal(text, &s) != nil {
		return s
	}
	for _, st := range s.States {
		if at := time.Unix(st.Last, 0); st.Last != 0 && at.After(s.last) {
			s.last = at
		}
	}
	s.States = nil
	return s
}

// fits reports whether a state may go on at a time: it is of before, and not of a
// clock that was never set when this one is.
func (s *stateOfTime) fits(now time.Time) bool {
	return !s.last.IsZero() && !s.last.After(now.Add(stepBack)) && (now.Before(collector.ClockSet) || s.last.After(collector.ClockSet))
}

// ChooseState puts in force, before a watch is made, the state of the detectors
// that fits the clock. What it did is a sentence for people, "" for nothing.
func ChooseState(dataDir string, now time.Time, log *slog.Logger) (did string, err error) {
	force := readState(StateFile(dataDir))
	if force.last.IsZero() || !ClockWasSet(force.last, now) {
		return "", nil
	}
	aside, err := statesAside(force, now)
	if err != nil {
		return "", fmt.Errorf("detector state and a wrong clock: %w", err)
	}
	var best *stateOfTime
	for _, s := range append(aside, force) {
		if s.fits(now) && (best == nil || s.last.After(best.last)) {
			best = &s
		}
	}
	const when = "2 January 2006 15:04 MST"
	was := force.last.UTC().Format(when)
	switch {
	case best != nil && best.file == force.file:
		return "", nil
	case best != nil:
		did = fmt.Sprintf("The clock of this box was wrong, at %s: what was learned then is put aside, and what was known until %s is in force again.", was, best.last.UTC().Format(when))
		err = os.Rename(best.file, force.file)
	case force.last.Before(collector.ClockSet):
		did = fmt.Sprintf("The clock of this box was not set until now: what was learned at %s is dropped.", was)
		err = os.Remove(force.file)
	default:
		did = fmt.Sprintf("The clock of this box says %s, and %s was compared already: detectors begin anew until it is right. Set the clock; what was known is kept for a week of running.", now.UTC().Format(when), was)
		err = os.Remove(force.file)
	}
	if err != nil {
		return did, fmt.Errorf("detector state and a wrong clock: %w", err)
	}
	log.Warn(did)
	return did, nil
}

// statesAside keeps the state in force aside, unless its clock was never set, and
// lists what is aside; what is there for long, or too many, goes.
func statesAside(force stateOfTime, now time.Time) (aside []stateOfTime, err error) {
	files, err := filepath.Glob(force.file + ".aside-*")
	if err != nil {
		return nil, err // of the pattern
	}
	for _, file := range files {
		aside = append(aside, readState(file))
	}
	slices.SortFunc(aside, func(a, b stateOfTime) int { return b.Since.Compare(a.Since) })
	for i, s := range slices.Backward(aside) {
		if s.last.IsZero() || i >= mostAside-1 || force.last.Sub(s.Since) > asideFor {
			if err := os.Remove(s.file); err != nil {
				return nil, err
			}
			aside = slices.Delete(aside, i, i+1)
		}
	}
	if force.last.Before(collector.ClockSet) {
		return aside, nil
	}
	return aside, copyAside(force.file, fmt.Sprintf("%s.aside-%d", force.file, force.last.Unix()), now)
}

// copyAside keeps a state under another name, with when that was.
func copyAside(file, beside string, now time.Time) error {
	text, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	var whole map[string]json.RawMessage
	if err := json.Unmarshal(text, &whole); err != nil {
		return err
	}
	if whole["since"], err = json.Marshal(now); err != nil {
		return err
	}
	if text, err = json.Marshal(whole); err != nil {
		return err
	}
	return replacement.WriteBytes(beside, 0o600, text)
}

// waits says that scans are older than what was compared already; "" when they
// are not.
func (w *Watch) waits(at time.Time) string {
	last := at.Unix()
	for _, u := range w.units {
		last = max(last, u.state.Last)
	}
	if last <= at.Unix()+waitsSaid {
		return ""
	}
	return fmt.Sprintf("The clock of this box was set back: nothing is learned and no finding made before %s, up to which was compared already.", time.Unix(last, 0).In(w.zone()).Format("2 Jan 15:04:05"))
}

// waitsSaid is how many seconds of waiting are worth a notice.
const waitsSaid = 60

func (w *Watch) zone() *time.Location {
	if z := w.config.Site.TimeZone; z != nil {
		return z
	}
	return time.UTC
}
