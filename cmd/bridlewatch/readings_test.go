package main

import (
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"bridlewatch/compare/coverage"
	"bridlewatch/compare/quantity"
	"bridlewatch/dashboards/api"
)

// TestReadingsNameWhatIsThere prints a gauge with a float and a transmitter
// that is silent: no line for instruments it does not have.
func TestReadingsNameWhatIsThere(t *testing.T) {
	var b strings.Builder
	printGauge(&b, api.Gauge{
		Levels: []api.Level{
			{Of: "float", Bound: "within", M: .4993, U: .0024, Basis: "float immersion"},
			{Of: "transmitter", Bound: "none: too old"}, {Of: "second", Bound: "none: not read yet"},
			{Of: "vessel", Bound: "none: not read yet"}, {Of: "in vessel", Bound: "within", M: .5, U: .003, Basis: "float immersion", Doubt: true},
		},
		Believed: &api.Believed{Tag: "LT-1", By: "radar LT-1", Bound: "within", M: .7, U: .004, Why: "float LI-1 is blamed by the alert of 2026-03-02 14:02 UTC", Apart: []string{"vessel instrument LT-2"}},
		Readings: []api.Reading{{Tag: "LI-1", Role: "float", Raw: 12, RawUnit: "mA", Quality: "good", Age: -.01}, {Tag: "LT-1", Role: "transmitter", Quality: "stale", Reason: "too old", Age: 60}},
	})
	for _, want := range []string{"level by the float", "level by the transmitter", "none: too old", "level in the vessel", "float immersion, in doubt: an alert is open", "700.0 mm ± 8.0 mm (k = 2)  from radar LT-1: float LI-1 is blamed by the alert of 2026-03-02 14:02 UTC", "vessel instrument LT-2, not in doubt either, ",
		"raw 12 mA, good, 0 s old", "raw 0, stale too old, 60 s old"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("%q is missing", want)
		}
	}
	if strings.Contains(b.String(), "not read yet") {
		t.Error("instruments the gauge does not have are listed")
	}
	if t.Failed() {
		t.Log(b.String())
	}
}

// TestReadingsSayThatNoLevelCanBeBelieved gives the reasons instead of a number.
func TestReadingsSayThatNoLevelCanBeBelieved(t *testing.T) {
	var b strings.Builder
	printGauge(&b, api.Gauge{Believed: &api.Believed{Bound: "none", Why: "float LI-1 is blamed by the alert of 2026-03-02 14:02 UTC", Without: []string{"radar LT-1 has no level: too old", "vessel instrument LT-2 is in doubt too"}}})
	if want := "level in the vessel: none can be believed: float LI-1 is blamed by the alert of 2026-03-02 14:02 UTC; radar LT-1 has no level: too old, vessel instrument LT-2 is in doubt too\n"; !strings.Contains(b.String(), want) {
		t.Errorf("%q", b.String())
	}
}

// TestNeighboursNeverPassedAreOneRow joins elevations of one instrument only.
func TestNeighboursNeverPassedAreOneRow(t *testing.T) {
	row := func(tag string, from, to quantity.Length, at time.Time) coverage.Proof {
		return coverage.Proof{Tag: tag, From: from, To: to, At: at}
	}
	never, once := time.Time{}, time.Unix(1e9, 0)
	got := joinNever([]coverage.Proof{
		row("LI", 0, .1, never), row("LI", .1, .2, never), row("LI", .2, .3, once), row("LI", .3, .4, never),
		row("LT", .4, .5, never), row("LSH", .8, .8, never), row("LSH", .8, .8, never),
	})
	if len(got) != 6 || got[0].To != .2 || got[2].From != .3 {
		t.Errorf("%+v", got)
	}
}

// TestAskingWithoutATokenSaysHowToGetOne answers as a service that asks who
// one is.
func TestAskingWithoutATokenSaysHowToGetOne(t *testing.T) {
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.WriteHeader(http.StatusUnauthorized)
		io.WriteString(w, `{"detail":"Log in first."}`)
	}))
	defer server.Close()
	_, err := get[[]api.Summary](t.Context(), &ask{server: server.URL}, "/gauges")
	if err == nil || !strings.Contains(err.Error(), "Log in first. Make one with `bridlewatch token add NAME`") {
		t.Errorf("%v", err)
	}
}
