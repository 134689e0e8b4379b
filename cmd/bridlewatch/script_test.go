package main

import (
	"encoding/csv"
	"fmt"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"bridlewatch/cmd/bridlewatch/rehearsal"
	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/scenario"
	"bridlewatch/config"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"bridlewatch": main})
}

// TestScripts runs the command lines of testdata/script in a process of their
// own. Set UPDATE_SCRIPTS=1 to write what is printed into the scripts.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "../../testdata/script",
		UpdateScripts:       os.Getenv("UPDATE_SCRIPTS") != "",
		RequireExplicitExec: true,
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"plant":   writePlant,
			"history": writeHistory,
		},
	})
}

// writePlant writes the rehearsal plant's configuration: plant FILE.
func writePlant(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: plant FILE")
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), rehearsal.PlantYAML(), 0o600))
}

// writeHistory writes simulated history of one gauge of the rehearsal plant,
// as raw signals a historian would have kept: history FILE GAUGE HOURS [FAULT].
func writeHistory(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 3 {
		ts.Fatalf("usage: history FILE GAUGE HOURS [FAULT]")
	}
	hours, err := strconv.Atoi(args[2])
	ts.Check(err)
	cfg, err := rehearsal.Embedded()
	ts.Check(err)
	var faults []scenario.Fault
	for _, text := range args[3:] {
		f, err := scenario.ParseFault(text)
		ts.Check(err)
		faults = append(faults, f)
	}
	f, err := os.Create(ts.MkAbs(args[0]))
	ts.Check(err)
	defer f.Close()
	ts.Check(simulate(csv.NewWriter(f), cfg, args[1], time.Duration(hours)*time.Hour, faults))
}

func simulate(w *csv.Writer, cfg *config.Config, tag string, span time.Duration, faults []scenario.Fault) error {
	start := time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)
	for i := range cfg.Gauges {
		g := &cfg.Gauges[i]
		if g.Sheet.Tag != tag {
			continue
		}
		unit, err := scenario.New(&g.Sheet, scenario.Options{Seed: 7, Start: start, Faults: faults, Process: scenario.BatchProcess(), Service: scenario.Benign()})
		if err != nil {
			return err
		}
		head := []string{"time"}
		for _, s := range g.Signals {
			head = append(head, s.Tag)
		}
		if err := w.Write(head); err != nil {
			return err
		}
		for at := start.Add(10 * time.Second); !at.After(start.Add(span)); at = at.Add(10 * time.Second) {
			shot, err := unit.Step(at)
			if err != nil {
				return err
			}
			row := []string{at.Format(time.RFC3339)}
			for k := range g.Signals {
				row = append(row, rawText(&g.Signals[k], *watch.ReadingOf(&shot, &g.Signals[k])))
			}
			if err := w.Write(row); err != nil {
				return err
			}
		}
		w.Flush()
		return w.Error()
	}
	return fmt.Errorf("no gauge %s", tag)
}

func rawText(s *config.Signal, r quantity.Reading) string {
	if !r.Usable() {
		return ""
	}
	raw, err := s.Spec.Inverse(r.Value)
	if err != nil {
		return ""
	}
	return strconv.FormatFloat(raw, 'g', 7, 64)
}

// TestPlantIsPrintedAsItIsRead keeps the printed configuration of the
// rehearsal plant readable: rehearse --write-config promises it.
func TestPlantIsPrintedAsItIsRead(t *testing.T) {
	cfg, err := rehearsal.Embedded()
	if err != nil {
		t.Fatal(err)
	}
	var text strings.Builder
	if err := config.Print(cfg, &text); err != nil {
		t.Fatal(err)
	}
	again, err := config.LoadBytes("printed.yaml", []byte(text.String()))
	if err != nil {
		t.Fatal(err)
	}
	if again.Version != cfg.Version {
		t.Errorf("version %s became %s", cfg.Version, again.Version)
	}
}
