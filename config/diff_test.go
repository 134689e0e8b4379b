package config_test

import (
	"testing"
	"testing/fstest"

	"bridlewatch/config"

	"github.com/google/go-cmp/cmp"
)

func loadText(t *testing.T, text string, env ...string) *config.Config {
	t.Helper()
	c, err := config.Load(config.LoadOptions{File: "x.yaml", Root: fstest.MapFS{"x.yaml": {Data: []byte(text)}}, Env: append(env, "X=")})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func gaugeText(tag, mass, more string) string {
	return `
  - tag: ` + tag + `
    data_sheet: {maximum_pressure: 16 bar(g), maximum_temperature: 120 degC, operating_pressure: 3 bar(g), operating_temperature: 60 degC, specific_gravity: 0.98}
    chamber: {centre_to_centre: 1200 mm, below_lower_tap: 400 mm}
    fluid: {model: water}
    float: {mass: ` + mass + `, diameter: 50 mm, length: 260 mm, magnet_height: 190 mm}` + more
}

func TestDiff(t *testing.T) {
	older := loadText(t, `
service: {listen: ":9000", log_level: info}
sources: [{name: a, protocol: history}]
tokens: [{name: t, value: "env:T"}]
gauges:`+gaugeText("LG-1", "290 g", "")+gaugeText("LG-2", "290 g", ""), "T=0123456789012345678901234567890123")
	newer := loadText(t, `
service: {listen: ":9001"}
history: {missing: [x, y]}
tokens: [{name: t, value: "env:T"}]
gauges:`+gaugeText("LG-3", "290 g", "")+gaugeText("LG-1", "310 g", "\n    limits: {gap: 30 mm}\n    pressure: {tag: PT-1, signal: {source: b, unit: bar(g)}}")+`
sources: [{name: b, protocol: history}]
`, "T=another-0123456789012345678901234567890123")

	var got []string
	for _, c := range config.Diff(older, newer) {
		got = append(got, c.String())
		if want := c.Path == "service.listen"; c.NeedsRestart() != want {
			t.Errorf("%s: needs a restart: %v", c.Path, !want)
		}
	}
	want := []string{
		"service.listen: is now :9001, was :9000",
		"history.missing: is now [x, y], was [NaN, null, -, Bad]",
		"sources[b]: is new",
		"sources[a]: is gone",
		"gauges[LG-3]: is new",
		"gauges[LG-1].float.mass: is now 310 g, was 290 g",
		"gauges[LG-1].pressure: is new",
		"gauges[LG-1].limits.gap: is now 30 mm, was not given",
		"gauges[LG-2]: is gone",
		"tokens[t].value: the secret behind env:T has changed",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if again := config.Diff(newer, newer); len(again) != 0 {
		t.Errorf("a configuration differs from itself: %v", again)
	}
}

func TestPlaceOf(t *testing.T) {
	c, err := config.LoadBytes("base.yaml", read(t, "base.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{
		"LG-101": "base.yaml:9:5: gauges[LG-101]",
		"LI-101": "base.yaml:27:15: gauges[LG-101].float.signal",
		"plc":    "base.yaml:5:5: sources[plc]",
	} {
		if got, ok := c.PlaceOf(name); !ok || got.String() != want {
			t.Errorf("%s is at %v, want %s", name, got, want)
		}
	}
	if _, ok := c.PlaceOf("nothing"); ok {
		t.Error("nothing has a place")
	}
}
