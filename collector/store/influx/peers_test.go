//go:build peers

package influx_test

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/collector/store/influx"
	"bridlewatch/collector/store/storetest"
)

func freePort(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// influxdPath is where install.sh puts InfluxDB.
func influxdPath(t testing.TB) string {
	t.Helper()
	cache, err := os.UserCacheDir()
	if err != nil {
		t.Fatal(err)
	}
	return filepath.Join(cache, "bridlewatch-peers", "bin", "influxd")
}

// influxConf writes the configuration of InfluxDB 1.8 with all data in dir.
func influxConf(t testing.TB, dir string) (conf, listen string) {
	t.Helper()
	listen, conf = freePort(t), filepath.Join(dir, "influxdb.conf")
	text := fmt.Sprintf(`reporting-disabled = true
bind-address = %q
[meta]
  dir = %q
[data]
  dir = %q
  wal-dir = %q
  query-log-enabled = false
[http]
  bind-address = %q
  flux-enabled = true
  log-enabled = false
[logging]
  level = "error"
`, freePort(t), filepath.Join(dir, "meta"), filepath.Join(dir, "data"), filepath.Join(dir, "wal"), listen)
	if err := os.WriteFile(conf, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return conf, listen
}

// influxd runs InfluxDB 1.8 and returns its address.
func influxd(t *testing.T) string {
	t.Helper()
	conf, listen := influxConf(t, t.TempDir())
	startServer(t, "http://"+listen+"/ping", influxdPath(t), "-config", conf)
	return "http://" + listen
}

func createDatabase(t testing.TB, address, name string) {
	t.Helper()
	r, err := http.PostForm(address+"/query", url.Values{"q": {"CREATE DATABASE " + name}})
	if err != nil {
		t.Fatal(err)
	}
	r.Body.Close()
}

var databases atomic.Int32

// database makes a fresh database and returns the server with its bucket.
func database(t *testing.T, address string) influx.Server {
	t.Helper()
	name := fmt.Sprintf("db%d", databases.Add(1))
	createDatabase(t, address, name)
	server := influx.Server{URL: address, Bucket: name + "/autogen"}
	central := influx.OpenCentral(server)
	defer central.Close()
	eventually(t, "the new database", func() bool {
		_, err := central.Boxes(t.Context(), time.Hour)
		return err == nil
	})
	return server
}

var box = influx.Origin{Site: "north", Box: "1"}

func TestContractOnInfluxDB(t *testing.T) {
	address := influxd(t)
	storetest.Run(t, func(t *testing.T) store.Store {
		central := influx.OpenCentral(database(t, address))
		t.Cleanup(central.Close)
		s, err := central.Store(t.Context(), box)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}, storetest.WithoutDocuments)
}

// The central store, behind a connection that is cut at random, ends up with
// exactly what the box has.
func TestForwardThroughACutConnection(t *testing.T) {
	address := influxd(t)
	server := database(t, address)
	db, ids := openLocal(t)
	fill(t, db, ids, 0, 300)
	f := forward(t, db, cutter(t, strings.TrimPrefix(address, "http://")), func(o *influx.ForwardOptions) { o.Bucket, o.Batch, o.Timeout = server.Bucket, 200, 2*time.Second })
	fill(t, db, ids, 300, 200)
	correction := storetest.ScanAt(storetest.Start, ids, -1, -2)
	correction.Values[1].Quality = 1
	if err := db.Append(t.Context(), correction); err != nil {
		t.Fatal(err)
	}
	eventually(t, "everything sent", func() bool { s := f.Status(); return s.Lag == 0 && s.Sent >= 5002 })
	central := holdsWhatTheBoxHas(t, server, db, ids)
	eventually(t, "the box in the list", func() bool {
		boxes, err := central.Boxes(t.Context(), time.Hour)
		return err == nil && len(boxes) == 1 && boxes[0].Origin == box && time.Since(boxes[0].Alive) < time.Minute
	})
}

// holdsWhatTheBoxHas asks the central store for every value.
func holdsWhatTheBoxHas(t *testing.T, server influx.Server, db *embedded.DB, ids []store.ID) *influx.Central {
	t.Helper()
	central := influx.OpenCentral(server)
	t.Cleanup(central.Close)
	s, err := central.Store(t.Context(), box)
	if err != nil {
		t.Fatal(err)
	}
	there, err := s.Register(t.Context(), storetest.Names(10))
	if err != nil {
		t.Fatal(err)
	}
	if known, err := s.Series(t.Context()); err != nil || len(known) != 10 {
		t.Errorf("%d series found, error %v; want 10", len(known), err)
	}
	for i := range ids {
		from, to := storetest.Start, storetest.Start.Add(24*time.Hour)
		want, err := db.Points(t.Context(), ids[i], from, to)
		if err != nil {
			t.Fatal(err)
		}
		got, err := s.Points(t.Context(), there[i], from, to)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("series %d (-box +central):\n%s", i, diff)
		}
	}
	return central
}

// The promise of the forwarder: 200 outages, each of which it really met, and
// InfluxDB has every value once. Its count is asked of InfluxDB as well.
func TestForwardThrough200Outages(t *testing.T) {
	server := database(t, influxd(t))
	db, ids := openLocal(t)
	scans := suffer(t, db, ids, server.URL, server.Bucket, 20261129, 200)
	holdsWhatTheBoxHas(t, server, db, ids)
	name, _, _ := strings.Cut(server.Bucket, "/")
	r, err := http.Get(server.URL + "/query?" + url.Values{"db": {name}, "q": {`SELECT count("value") FROM bridlewatch_raw GROUP BY "signal"`}}.Encode())
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	text, err := io.ReadAll(r.Body)
	if n := strings.Count(string(text), fmt.Sprintf(`,%d]`, scans)); err != nil || n != 10 {
		t.Errorf("%d signals have %d values, want 10 (%v): %s", n, scans, err, text)
	}
}

// Two boxes and one of an earlier version report; the newest report of each is
// read back whole, and nothing of an older one stands beside it.
func TestReportsOnInfluxDB(t *testing.T) {
	server := database(t, influxd(t))
	central := influx.OpenCentral(server)
	t.Cleanup(central.Close)
	two := influx.Origin{Site: "south works", Box: "2"}
	now := time.Now()
	var calls atomic.Int32
	state := func() influx.State {
		if calls.Add(1) == 1 {
			return influx.State{Worst: 5, Alerts: 1, Unacknowledged: 1, URL: "https://old", Gauges: []influx.GaugeState{
				{Gauge: "LG-101", Category: 5, Alerts: 1, Headline: `the "float" does not move`}, {Gauge: "LG-109", Category: 1}}}
		}
		return influx.State{Worst: 2, Version: "1.4", Gauges: []influx.GaugeState{{Gauge: "LG-101", Category: 1}, {Gauge: "LG-102, east", Category: 2, Headline: "proof is due"}}}
	}
	var clock atomic.Int64
	clock.Store(now.Add(-10 * time.Minute).UnixNano())
	local, _ := openLocal(t)
	forward(t, local, server.URL, func(o *influx.ForwardOptions) {
		o.Server, o.State, o.Timeout = server, state, 5*time.Second
		o.Now = func() time.Time { return time.Unix(0, clock.Load()) }
	})
	eventually(t, "the first report", func() bool { return calls.Load() == 1 })
	clock.Store(now.Add(-time.Minute).UnixNano())
	earlier, _ := openLocal(t)
	forward(t, earlier, server.URL, func(o *influx.ForwardOptions) { o.Server, o.Origin, o.Timeout = server, two, 5*time.Second })
	var boxes []influx.Box
	eventually(t, "both boxes", func() bool {
		var err error
		boxes, err = central.Boxes(t.Context(), time.Hour)
		return err == nil && len(boxes) == 2 && boxes[0].State != nil && boxes[0].State.Worst == 2
	})
	if boxes[1].Origin != two || boxes[1].State != nil || time.Since(boxes[1].Alive) > time.Minute {
		t.Errorf("box of an earlier version is %+v", boxes[1])
	}
	want := influx.Box{Origin: box, Alive: time.Unix(0, now.Add(-time.Minute).UnixNano()).UTC(), Gauges: 2, State: &influx.State{Worst: 2, Version: "1.4"}}
	if diff := cmp.Diff(want, boxes[0]); diff != "" {
		t.Errorf("newest report (-want +got):\n%s", diff)
	}
	gauges, err := central.Gauges(t.Context(), box, time.Hour)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]influx.GaugeState{
		{Gauge: "LG-101", Time: want.Alive, Category: 1},
		{Gauge: "LG-102, east", Time: want.Alive, Category: 2, Headline: "proof is due"},
	}, gauges); diff != "" {
		t.Errorf("gauges (-want +got):\n%s", diff)
	}
}

// cutter is a proxy that ends connections after a random number of bytes.
func cutter(t *testing.T, to string) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	go func() {
		for n := uint64(0); ; n++ {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go func() {
				defer c.Close()
				up, err := net.Dial("tcp", to)
				if err != nil {
					return
				}
				defer up.Close()
				r := rand.New(rand.NewPCG(n, 1))
				sent, answered := 1000+r.Int64N(20_000), 100+r.Int64N(1000)
				go func() {
					io.CopyN(up, c, sent)
					up.Close()
				}()
				io.CopyN(c, up, answered)
			}()
		}
	}()
	return "http://" + l.Addr().String()
}

// VictoriaMetrics, another engine that takes the line protocol. It names a
// metric measurement_field and keeps milliseconds.
func TestForwardToVictoriaMetrics(t *testing.T) {
	listen := freePort(t)
	startServer(t, "http://"+listen+"/health", "victoria-metrics", "-storageDataPath="+t.TempDir(), "-httpListenAddr="+listen, "-retentionPeriod=100y", "-loggerLevel=ERROR")
	db, ids := openLocal(t)
	fill(t, db, ids, 0, 200)
	f := forward(t, db, "http://"+listen, func(o *influx.ForwardOptions) { o.Bucket = "ignored" })
	eventually(t, "everything sent", func() bool { s := f.Status(); return s.Lag == 0 && s.Sent >= 2000 })
	var got map[string][]float64
	eventually(t, "2000 values", func() bool {
		got = export(t, listen)
		n := 0
		for _, values := range got {
			n += len(values)
		}
		return n == 2000
	})
	for _, name := range storetest.Names(10) {
		for i, v := range got[name.Name] {
			if v != float64(i) {
				t.Fatalf("%s: value %d is %v", name.Name, i, v)
			}
		}
	}
}

func export(t *testing.T, listen string) map[string][]float64 {
	t.Helper()
	http.Get("http://" + listen + "/internal/force_flush")
	r, err := http.Get("http://" + listen + "/api/v1/export?" + url.Values{"match[]": {`{__name__="bridlewatch_raw_value",site="north",box="1"}`}}.Encode())
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	out := map[string][]float64{}
	for lines := bufio.NewScanner(r.Body); lines.Scan(); {
		var row struct {
			Metric map[string]string
			Values []float64
		}
		if err := json.Unmarshal(lines.Bytes(), &row); err != nil {
			t.Fatal(err)
		}
		out[row.Metric["signal"]] = append(out[row.Metric["signal"]], row.Values...)
	}
	return out
}
