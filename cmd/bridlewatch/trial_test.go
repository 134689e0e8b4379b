package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Scripts rely on the codes the help promises.
func TestTrialExitCodes(t *testing.T) {
	file := filepath.Join(t.TempDir(), "short.csv")
	text := "time,prs_mm,rad_mm,enc_mm\n2026-03-02T06:00:00Z,500,501,502\n2026-03-02T06:01:00Z,503,504,505\n"
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	const well = "../../testdata/config/good/stilling-well.yaml"
	rows := map[string]struct {
		args []string
		want int
	}{
		"kinds":               {[]string{"--fault", "list"}, exitOK},
		"no file":             {[]string{"--config", well}, exitUsage},
		"unknown kind":        {[]string{"--config", well, "--fault", "rust", file}, exitUsage},
		"no unit":             {[]string{"--config", well, "--fault", "float-stick-slip=15", file}, exitUsage},
		"too many times":      {[]string{"--config", well, "--times", "1001", file}, exitUsage},
		"delay":               {[]string{"--config", well, "--fault", "float-stuck@2h", file}, exitUsage},
		"no configuration":    {[]string{"--config", "nowhere.yaml", file}, exitUsage},
		"missing history":     {[]string{"--config", well, "nowhere.csv"}, exitFailed},
		"too short":           {[]string{"--config", well, file}, exitFailed},
		"outside of it":       {[]string{"--config", well, "--at", "2025-03-02T06:00:00Z", file}, exitFailed},
		"a trial of one scan": {[]string{"--config", well, "--fault", "float-stuck", "--at", "2026-03-02T06:00:30Z", file}, exitOK},
	}
	for name, row := range rows {
		var out, trouble bytes.Buffer
		if got := run(t.Context(), append([]string{"trial"}, row.args...), &out, &trouble); got != row.want {
			t.Errorf("%s: exit code %d, want %d: %s", name, got, row.want, trouble.String())
		}
		if said := trouble.String(); name == "too short" && !strings.Contains(said, "less with --before or --watch") {
			t.Errorf("%s: no remedy: %s", name, said)
		}
	}
}
