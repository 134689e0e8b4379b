package bench

import (
	"context"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/scenario"
	"bridlewatch/config"
)

// The wells are compared with the settings of the example, as they are.
func TestWellsUseTheExample(t *testing.T) {
	cfg, err := config.Load(config.LoadOptions{File: "../../../testdata/config/good/stilling-well.yaml", WithoutSecrets: true})
	if err != nil {
		t.Fatal(err)
	}
	g := &cfg.Gauges[0]
	if diff := cmp.Diff(&g.Sheet, scenario.WellSheet(), cmpopts.EquateApprox(1e-12, 0)); diff != "" {
		t.Errorf("the data sheets differ:\n%s", diff)
	}
	trial := scenario.WellTrials(scenario.Tune, scenario.Wells()[0], 1)[0]
	for _, s := range g.Signals {
		if s.Spec.Low != trial.Record.Low || s.Spec.High != trial.Record.High {
			t.Errorf("%s is plausible from %g to %g m, in the records from %g to %g m", s.Tag, s.Spec.Low, s.Spec.High, trial.Record.Low, trial.Record.High)
		}
	}
	if age := cfg.Sources[0].MaxAge; age != trial.Record.MaxAge {
		t.Errorf("values count for %v, in the records for %v", age, trial.Record.MaxAge)
	}
}

func TestJudgeWell(t *testing.T) {
	zero := scenario.Fault{Kind: scenario.TransmitterZero, Part: "PRS-901"}
	named := func(tag string) cause.Finding {
		return cause.Finding{Suspect: cause.Transmitter, Cause: cause.TransmitterZero, Tag: tag, Set: []cause.Ranked{{Cause: cause.TransmitterZero, Suspect: cause.Transmitter, Tag: tag}}}
	}
	either := cause.Finding{Suspect: cause.Undecided, Cause: cause.Unknown, Set: []cause.Ranked{{Cause: cause.FloatStuck, Suspect: cause.Float}, {Cause: cause.FollowerDecoupled, Suspect: cause.Follower}}}
	rows := map[string]struct {
		finding                cause.Finding
		fault                  scenario.Fault
		decided, right, covers bool
	}{
		"the right transmitter":       {named("PRS-901"), zero, true, true, true},
		"the other transmitter":       {named("RAD-901"), zero, true, false, false},
		"float or follower":           {either, scenario.Fault{Kind: scenario.FloatStuck}, true, true, true},
		"float or follower, and none": {either, zero, false, false, false},
	}
	for name, row := range rows {
		t.Run(name, func(t *testing.T) {
			j := judgeWell(&row.finding, &row.fault)
			if j.decided != row.decided || j.right != row.right || j.covers != row.covers {
				t.Errorf("decided %t, right %t, covers %t", j.decided, j.right, j.covers)
			}
		})
	}
}

// Alerts about missing readings are true; others before the onset are false.
func TestFalseInARecord(t *testing.T) {
	alerts := []episode{{Suspect: cause.Signal, false_: true}, {Suspect: cause.Float, false_: true}, {Suspect: cause.Float}}
	if n := falseIn(alerts, &scenario.Trial{Record: &scenario.Record{}}); n != 1 {
		t.Errorf("%d false alerts in a record, want 1", n)
	}
	if n := falseIn(alerts, &scenario.Trial{}); n != 2 {
		t.Errorf("%d false alerts at a gauge that is read live, want 2", n)
	}
}

func TestWellsAreReported(t *testing.T) {
	one, err := Run(context.Background(), Options{
		Set: scenario.Tune, Years: -1, Repeats: -1, Wells: 1,
		Only: func(name string) bool {
			return name == OfWells+"coarse record" || name == OfWells+"float-sunk at ENC-901" || name == OfWells+"transmitter-zero 250 mm at PRS-901" || name == OfWells+"time-skew -60 min at ENC-901"
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(one.Wells) != 1 || len(one.WellFaults) != 3 || one.Wells[0].Months < 4.9 || one.Wells[0].Months > 5.1 {
		t.Fatalf("report: %+v, %+v", one.Wells, one.WellFaults)
	}
	for _, f := range one.WellFaults {
		if f.Trials != 1 || f.Found != 1 {
			t.Errorf("%s: found %d of %d", f.Name, f.Found, f.Trials)
		}
	}
	var table strings.Builder
	if err := one.WriteTable(&table); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Stilling wells, healthy", "coarse record", "float-sunk at ENC-901"} {
		if !strings.Contains(table.String(), want) {
			t.Errorf("the table does not show %q:\n%s", want, table.String())
		}
	}
}
