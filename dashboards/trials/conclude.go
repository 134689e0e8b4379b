package trials

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
)

// Cautions are what no trial can take away.
func Cautions() []string {
	return []string{
		"A fault that hides in the history already is taken for normal here, as it is by the watch.",
		"A fault put in is cleaner than a real one: the sound reading stands for the liquid, and real faults come together, come and go, and grow.",
		"Found here is no promise: it says what this gauge would have seen in this history.",
	}
}

// Conclude says in plain sentences what the rows show.
func Conclude(r *Report) { r.Sentences = slices.Concat(smallest(r), never(r), wrongly(r)) }

// smallest is the smallest size of each kind, at each instrument, from which
// every trial was found.
func smallest(r *Report) (all []string) {
	for _, group := range groups(r.Rows) {
		best := -1
		for i := len(group) - 1; i >= 0 && group[i].Found == group[i].Trials && group[i].Trials > 0; i-- {
			best = i
		}
		if best < 0 {
			continue
		}
		row := &group[best]
		from := ""
		if len(group) > 1 {
			from = "smallest size "
		}
		all = append(all, fmt.Sprintf("Found every time: %s%s, after %s at most.", from, row.Fault, Hours(row.Alert.Worst)))
	}
	return all
}

// groups are the rows of one kind at one instrument, from the smallest size.
func groups(rows []Row) (all [][]Row) {
	at := map[string]int{}
	for _, row := range rows {
		key := row.Kind + "/" + row.Instrument
		k, known := at[key]
		if !known {
			k = len(all)
			at[key] = k
			all = append(all, nil)
		}
		all[k] = append(all[k], row)
	}
	for _, g := range all {
		slices.SortStableFunc(g, func(a, b Row) int {
			switch x, y := math.Abs(a.Size), math.Abs(b.Size); {
			case x < y:
				return -1
			case x > y:
				return 1
			}
			return 0
		})
	}
	return all
}

// never says what was not found at all, and what could not be tried.
func never(r *Report) (all []string) {
	var idle []string
	for i := range r.Rows {
		row := &r.Rows[i]
		switch {
		case row.Trials == 0:
			idle = append(idle, row.Fault)
		case row.Found == 0:
			all = append(all, fmt.Sprintf("Never found: %s; %s.", row.Fault, strings.Join(row.Why, "; ")))
		}
	}
	if len(idle) > 0 {
		all = append(all, fmt.Sprintf("Not tried: %s. They changed no reading at any of the times: the instrument had none, or the level never went where they would show.", strings.Join(idle, ", ")))
	}
	return all
}

// wrongly names the trials in which another instrument was blamed.
func wrongly(r *Report) (all []string) {
	for i := range r.Trials {
		if t := &r.Trials[i]; t.blamesWrongly() {
			all = append(all, fmt.Sprintf("Wrong blame: %s was named for %s from %s on.", t.Blamed, t.Fault, t.At.UTC().Format(time.RFC3339)))
		}
	}
	return all
}

func (t *Trial) blamesWrongly() bool { return t.Verdict == Wrong && t.Changed > 0 }
