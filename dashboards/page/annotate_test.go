package page

import (
	"context"
	"encoding/json"
	"slices"
	"strings"
	"testing"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/compare/cause"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/plant/planttest"
	"bridlewatch/dashboards/records"
	"bridlewatch/dashboards/times"
)

// A trend says where another configuration began and which levels were
// computed again: the lines may change there without any instrument doing so.
func TestTrendSaysWhatChangedTheLevels(t *testing.T) {
	ctx := context.Background()
	m := planttest.NewMemory()
	p := &Pages{Options: Options{Store: m, Zone: times.Zone{Location: time.UTC}}}
	now := planttest.Now
	body, err := json.Marshal(Recomputed{From: now.Add(-50 * time.Hour), To: now.Add(-20 * time.Hour), Version: "aa11"})
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range []store.Document{
		{Kind: configurationKind, ID: "aa11", Time: now.Add(-2 * time.Hour), Body: []byte("{}")},
		{Kind: configurationKind, ID: "old", Time: now.Add(-300 * time.Hour), Body: []byte("{}")},
		{Kind: RecomputedKind, ID: "aa11 x", Time: now.Add(-time.Hour), Body: body},
	} {
		if _, err := m.Put(ctx, d); err != nil {
			t.Fatal(err)
		}
	}
	spans, err := p.changes(ctx, now.Add(-24*time.Hour), now)
	if err != nil || len(spans) != 2 {
		t.Fatalf("%+v, %v", spans, err)
	}
	if !strings.Contains(spans[0].Label, "aa11 for the first time") || !strings.Contains(spans[1].Label, "computed again with configuration aa11") || !spans[1].To.Equal(now.Add(-20*time.Hour)) {
		t.Errorf("%+v", spans)
	}
	if spans, _ = p.changes(ctx, now.Add(-10*time.Hour), now.Add(-5*time.Hour)); len(spans) != 0 {
		t.Errorf("outside the period: %+v", spans)
	}
}

// A trend tells a finding as it is told now, with when it was given that name, also
// in a period that ended before: what it was first taken for is in the journal.
func TestTrendTellsAFindingAsItIsToldNow(t *testing.T) {
	ctx, now := context.Background(), planttest.Now
	g := planttest.StuckFloat("LG-102")
	open := g.Result.Findings[0]
	m, running := planttest.NewMemory(), planttest.New(g)
	p := &Pages{Options: Options{Store: m, Plant: running, Zone: times.Zone{Location: time.UTC}}, findings: findings{running, m}}
	p.Records = records.NewBook(records.Options{Store: m, Plant: running, Location: time.UTC})
	put := func(at time.Time, replaces int64, f cause.Finding, change func(*cause.Finding)) int64 {
		change(&f)
		body, err := json.Marshal(f)
		if err != nil {
			t.Fatal(err)
		}
		seq, err := m.Put(ctx, store.Document{Kind: plant.FindingKind, ID: f.ID, Gauge: f.Gauge, Time: at, Replaces: replaces, Body: body})
		if err != nil {
			t.Fatal(err)
		}
		return seq
	}
	first := put(now.Add(-150*time.Minute), 0, open, func(f *cause.Finding) {
		f.Cause, f.Suspect, f.Sentence = cause.Unknown, cause.Undecided, "Float has not moved for 40 min. Not decided yet."
	})
	put(now.Add(-100*time.Minute), first, open, func(f *cause.Finding) { f.Sentence = "Float has not moved for 1 h 30 min. Float is probably stuck." })
	over := open
	over.ID, over.Since = "LG-102/0", now.Add(-40*time.Hour)
	put(now.Add(-39*time.Hour), 0, over, func(f *cause.Finding) { f.Sentence = "Something else." })
	put(now.Add(-20*time.Hour), 0, over, func(f *cause.Finding) { f.Sentence, f.Cleared = "Something else, over.", now.Add(-20*time.Hour) })

	for _, r := range []struct {
		from, to time.Duration
		want     []string
	}{
		{-4 * time.Hour, 0, []string{open.Sentence + " Revised " + p.Zone.Full(now.Add(-100*time.Minute)) + "."}},
		{-4 * time.Hour, -2 * time.Hour, []string{open.Sentence + " Revised " + p.Zone.Full(now.Add(-100*time.Minute)) + "."}}, // it was renamed after the period
		{-38 * time.Hour, -30 * time.Hour, []string{"Something else, over."}},
		{-20 * time.Hour, -10 * time.Hour, nil},
	} {
		spans, err := p.annotations(ctx, "LG-102", now.Add(r.from), now.Add(r.to))
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, s := range spans {
			got = append(got, s.Label)
		}
		if !slices.Equal(got, r.want) {
			t.Errorf("%v to %v: %q, want %q", r.from, r.to, got, r.want)
		}
	}

	renamed := planttest.StuckFloat("LG-102") // by the last comparison, and not in history yet
	f := &renamed.Result.Findings[0]
	f.Cause, f.Suspect, f.Sentence, f.Changed = cause.FollowerDecoupled, cause.Follower, "Follower has probably lost the float's magnet.", now.Add(-time.Minute)
	running.Set(renamed)
	spans, err := p.annotations(ctx, "LG-102", now.Add(-4*time.Hour), now)
	if err != nil || len(spans) != 1 || spans[0].Label != f.Sentence+" Revised "+p.Zone.Full(f.Changed)+"." {
		t.Errorf("%+v, %v", spans, err)
	}
}
