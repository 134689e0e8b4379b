//go:build peers

package main

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	influxdb2 "github.com/influxdata/influxdb-client-go/v2"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/collector/store/influx"
	"bridlewatch/dashboards/grafana"
	"bridlewatch/dashboards/trend"
)

// TestGrafanaQueriesOnInfluxDB runs every query of every generated dashboard
// on what the forwarder wrote into an InfluxDB 1.8, as Grafana would, and
// looks for rows.
func TestGrafanaQueriesOnInfluxDB(t *testing.T) {
	address := startInflux(t)
	const database = "plant"
	forwardHour(t, address, database+"/autogen")
	files, err := grafana.Files(grafana.Options{ExternalURL: "https://level.plant.example"})
	if err != nil {
		t.Fatal(err)
	}
	client := influxdb2.NewClient(address, "")
	t.Cleanup(client.Close)
	ran := 0
	for _, f := range files {
		if !strings.HasSuffix(f.Path, ".json") {
			continue
		}
		for where, query := range fluxOf(t, f.Body) {
			ran++
			text := interpolated(query, database+"/autogen")
			result, err := client.QueryAPI("").Query(t.Context(), text)
			if err != nil {
				t.Errorf("%s, %s: %v\n%s", f.Path, where, err, text)
				continue
			}
			rows, values := 0, 0
			for result.Next() {
				rows++
				for name, v := range result.Record().Values() {
					if _, number := v.(float64); number || name == "_value" && v != nil {
						values++
						break
					}
				}
			}
			if err := result.Err(); err != nil || values == 0 {
				t.Errorf("%s, %s: %d rows, %d with a value, %v\n%s", f.Path, where, rows, values, err, text)
			}
		}
	}
	if ran < 10 {
		t.Errorf("only %d queries were found", ran)
	}
	t.Logf("%d queries", ran)
}

// fluxOf lists the queries of a dashboard: those of its panels and those of
// its variables.
func fluxOf(t *testing.T, body []byte) map[string]string {
	t.Helper()
	var d struct {
		Panels []struct {
			Title   string `json:"title"`
			Targets []struct {
				RefID string `json:"refId"`
				Query string `json:"query"`
			} `json:"targets"`
		} `json:"panels"`
		Templating struct {
			List []struct {
				Name  string          `json:"name"`
				Type  string          `json:"type"`
				Query json.RawMessage `json:"query"`
			} `json:"list"`
		} `json:"templating"`
	}
	if err := json.Unmarshal(body, &d); err != nil {
		t.Fatal(err)
	}
	found := map[string]string{}
	for _, p := range d.Panels {
		for _, target := range p.Targets {
			if target.Query != "" {
				found[p.Title+" "+target.RefID] = target.Query
			}
		}
	}
	for _, v := range d.Templating.List {
		var text string
		if v.Type == "query" && json.Unmarshal(v.Query, &text) == nil {
			found["variable "+v.Name] = text
		}
	}
	return found
}

var ofGrafana = regexp.MustCompile(`v\.(timeRangeStart|timeRangeStop|windowPeriod|defaultBucket)`)

// interpolated puts into a query what Grafana puts there before it sends it.
func interpolated(query, bucket string) string {
	now := time.Now().UTC()
	values := map[string]string{
		"timeRangeStart": now.Add(-2 * time.Hour).Format(time.RFC3339), "timeRangeStop": now.Add(time.Minute).Format(time.RFC3339),
		"windowPeriod": "60000ms", "defaultBucket": `"` + bucket + `"`,
	}
	query = ofGrafana.ReplaceAllStringFunc(query, func(s string) string { return values[strings.TrimPrefix(s, "v.")] })
	return strings.NewReplacer("${site}", "north", "${gauge}", "LG-101").Replace(query)
}

// forwardHour lets the forwarder copy an hour of one gauge.
func forwardHour(t *testing.T, address, bucket string) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	t.Cleanup(cancel)
	db, err := embedded.Open(ctx, embedded.Options{Dir: t.TempDir(), Upkeep: -1})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	names := []string{trend.LevelFloat, trend.LevelTransmitter, trend.Gap, trend.Budget, trend.DensityLiquid, trend.PointPrefix + "LSH-101"}
	var series []store.Series
	for _, n := range names {
		series = append(series, store.Series{Gauge: "LG-101", Name: n, Class: store.Derived, Unit: "m"})
	}
	ids, err := db.Register(ctx, series)
	if err != nil {
		t.Fatal(err)
	}
	now := time.Now().Truncate(time.Second)
	for at := now.Add(-time.Hour); at.Before(now); at = at.Add(10 * time.Second) {
		level := 0.5 + 0.1*math.Sin(float64(at.Unix())/600)
		scan := store.Scan{Time: at}
		for i, v := range []float64{level, level - 0.002, 0.002, 0.008, 902, 1} {
			scan.Values = append(scan.Values, store.Value{ID: ids[i], Value: v, Quality: 4})
		}
		if err := db.Append(ctx, scan); err != nil {
			t.Fatal(err)
		}
	}
	f, err := influx.NewForwarder(db, influx.ForwardOptions{
		Server: influx.Server{URL: address, Bucket: bucket}, Origin: influx.Origin{Site: "north", Box: "box-1"}, Timeout: 5 * time.Second,
		State: func() influx.State {
			return influx.State{Worst: 1, Version: "test", Gauges: []influx.GaugeState{{Gauge: "LG-101", Category: 1}}}
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	go func() { _ = f.Run(ctx) }() // ends with ctx; its troubles are in its status
	for end := time.Now().Add(time.Minute); ; time.Sleep(100 * time.Millisecond) {
		s := f.Status()
		if s.Lag == 0 && s.Sent >= 360*uint64(len(names)) {
			return
		}
		if time.Now().After(end) {
			t.Fatalf("not forwarded within a minute: %+v", s)
		}
	}
}

// startInflux runs an InfluxDB 1.8 with a database named plant.
func startInflux(t *testing.T) string {
	t.Helper()
	cache, err := os.UserCacheDir()
	if err != nil {
		t.Fatal(err)
	}
	program := filepath.Join(cache, "bridlewatch-peers", "bin", "influxd")
	dir, listen := t.TempDir(), loopbackPort(t)
	text := fmt.Sprintf("reporting-disabled = true\nbind-address = %q\n[meta]\n  dir = %q\n[data]\n  dir = %q\n  wal-dir = %q\n[http]\n  bind-address = %q\n  flux-enabled = true\n  log-enabled = false\n[logging]\n  level = \"error\"\n",
		loopbackPort(t), filepath.Join(dir, "meta"), filepath.Join(dir, "data"), filepath.Join(dir, "wal"), listen)
	conf := filepath.Join(dir, "influxd.conf")
	if err := os.WriteFile(conf, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(program, "-config", conf)
	if err := cmd.Start(); err != nil {
		t.Fatalf("InfluxDB does not start: %v; run testdata/peers/install.sh", err)
	}
	t.Cleanup(func() {
		_ = cmd.Process.Kill() // it holds nothing that is needed
		_ = cmd.Wait()
	})
	address := "http://" + listen
	for end := time.Now().Add(time.Minute); ; time.Sleep(100 * time.Millisecond) {
		if r, err := http.PostForm(address+"/query", url.Values{"q": {"CREATE DATABASE plant"}}); err == nil {
			r.Body.Close()
			return address
		}
		if time.Now().After(end) {
			t.Fatal("InfluxDB does not answer within a minute")
		}
	}
}

func loopbackPort(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}
