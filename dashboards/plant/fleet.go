package plant

import (
	"context"
	"slices"
	"time"

	"bridlewatch/compare"
)

// Fleet answers for the boxes that feed one central store. What it returns is
// what each box last said of itself; a box that is silent cannot say so.
type Fleet interface {
	// Boxes returns every box that was heard within age, by site and box.
	Boxes(ctx context.Context, age time.Duration) ([]BoxView, error)
	// BoxGauges returns what one box last said of each of its gauges, worst
	// first.
	BoxGauges(ctx context.Context, site, box string, age time.Duration) ([]BoxGauge, error)
}

// BoxView is one box as it last reported. Boxes report once a minute.
type BoxView struct {
	Site, Box string
	Reported  time.Time     // when it last did
	Behind    time.Duration // age of the oldest value it had not sent by then
	Rejected  int64         // values the central store refused for good since the box started
	Detailed  bool          // false: an earlier version, which says nothing of what follows

	Gauges         int
	Worst          compare.Category // of its gauges
	Alerts         int              // open and not kept quiet
	Unacknowledged int              // of them
	Version        string           // of the program
	URL            string           // of its own pages; empty: not configured
}

// SilentAfter is how long a box may be unheard before nothing it said counts
// as current: it reports once a minute, and a request may take as long.
const SilentAfter = 5 * time.Minute

// Silent reports whether the box was not heard lately.
func (b BoxView) Silent(now time.Time) bool { return now.Sub(b.Reported) > SilentAfter }

// BoxGauge is one gauge of a box as it last reported.
type BoxGauge struct {
	Gauge    string
	Reported time.Time
	Category compare.Category
	Alerts   int    // open and not kept quiet
	Headline string // one sentence; empty while it is good
}

// Categories are all assessments, worst first.
var Categories = []compare.Category{
	compare.Failure, compare.FunctionCheck, compare.OutOfSpec, compare.MaintenanceDue, compare.NotSeenCategory, compare.GoodCategory,
}

// Worse compares categories for sorting: negative when a is worse than b.
func Worse(a, b compare.Category) int {
	return slices.Index(Categories, a) - slices.Index(Categories, b)
}

// numbered are the categories by the number other systems know them by. The
// numbers never change.
var numbered = []compare.Category{
	compare.NotSeenCategory, compare.GoodCategory, compare.MaintenanceDue, compare.OutOfSpec, compare.FunctionCheck, compare.Failure,
}

// Number is the number of a category for other systems: 0 not seen, 1 good,
// 2 maintenance required, 3 out of specification, 4 function check, 5 failure.
func Number(c compare.Category) int { return max(0, slices.Index(numbered, c)) }

// Numbered is the category of a number; a number nobody gave is not seen.
func Numbered(n int) compare.Category {
	if n < 0 || n >= len(numbered) {
		return compare.NotSeenCategory
	}
	return numbered[n]
}
