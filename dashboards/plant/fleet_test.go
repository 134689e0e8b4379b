package plant_test

import (
	"slices"
	"testing"
	"time"

	"bridlewatch/compare"
	"bridlewatch/dashboards/plant"
)

// Other systems know the categories by these numbers; changing one breaks
// them. They are those of the first register of a gauge.
func TestNumbersOfCategories(t *testing.T) {
	for n, want := range []compare.Category{compare.NotSeenCategory, compare.GoodCategory, compare.MaintenanceDue, compare.OutOfSpec, compare.FunctionCheck, compare.Failure} {
		if got := plant.Numbered(n); got != want {
			t.Errorf("number %d is %q, want %q", n, got, want)
		}
		if got := plant.Number(want); got != n {
			t.Errorf("%q has number %d, want %d", want, got, n)
		}
	}
	for _, n := range []int{-1, 6, 99} {
		if got := plant.Numbered(n); got != compare.NotSeenCategory {
			t.Errorf("number %d is %q, want not seen", n, got)
		}
	}
}

func TestWorstFirst(t *testing.T) {
	all := []compare.Category{compare.GoodCategory, compare.NotSeenCategory, compare.Failure, compare.MaintenanceDue}
	slices.SortFunc(all, plant.Worse)
	if want := []compare.Category{compare.Failure, compare.MaintenanceDue, compare.NotSeenCategory, compare.GoodCategory}; !slices.Equal(all, want) {
		t.Errorf("sorted %q, want %q", all, want)
	}
}

func TestASilentBoxIsNotBelieved(t *testing.T) {
	now := time.Date(2026, 5, 4, 12, 0, 0, 0, time.UTC)
	if (plant.BoxView{Reported: now.Add(-2 * time.Minute)}).Silent(now) {
		t.Error("silent after two minutes: a request may take one and reports come once a minute")
	}
	if !(plant.BoxView{Reported: now.Add(-6 * time.Minute)}).Silent(now) {
		t.Error("not silent after six minutes")
	}
}
