//go:build peers

package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/dashboards/desk"
	"bridlewatch/dashboards/notify"
	"bridlewatch/dashboards/plant"
)

// takeOverWithin is what is promised with the lease as it is by default.
const takeOverWithin = 10 * time.Second

// TestPeerPairTakesOver runs two services as processes on one simulated plant,
// with a real NATS server between them and a real InfluxDB above them. The one
// that polls is killed, paused and cut off in turn. Nothing here waits for a
// time to pass but the take-overs themselves.
func TestPeerPairTakesOver(t *testing.T) {
	site := newPairSite(t)
	a, b := site.box("a"), site.box("b")
	a.lostSignalForADay(t, "LG-103", site.alertAfter)
	began := time.Now()
	a.start()
	a.polls(t, began, 60*time.Second)
	b.start()
	site.heard(t, "raised")
	a.run(t, "alert", "ack", "LG-103", "--by", "the night shift", "--why", "seen")
	site.waitUntil(t, "b to hear of the acknowledgement", func() bool { return strings.Contains(b.alert(t), "the night shift") })

	t.Log("killed")
	at := time.Now()
	a.signal(t, syscall.SIGKILL)
	b.polls(t, at, takeOverWithin)
	if out := b.run(t, "alert", "list", "--all"); !strings.Contains(out, "LG-103") || !strings.Contains(out, "the night shift") {
		t.Errorf("the alert and its acknowledgement were not taken over:\n%s", out)
	}
	_, _ = a.cmd.Process.Wait()
	a.start()
	a.standsBy(t)

	t.Log("paused")
	at = time.Now()
	b.signal(t, syscall.SIGSTOP)
	a.polls(t, at, takeOverWithin)
	sent := b.plantRequests()
	b.signal(t, syscall.SIGCONT)
	b.standsBy(t)
	if n := b.plantRequests() - sent; n > 0 {
		t.Errorf("the box that was paused sent %d requests to the plant when it came back", n)
	}
	if late := site.linesAfter("b", at.Add(2*time.Second)); late > 0 {
		t.Errorf("the box that was paused forwarded %d values it cannot have read in its turn", late)
	}

	t.Log("cut off from the server with the lease")
	at = time.Now()
	a.nats.cut()
	b.polls(t, at, takeOverWithin)
	if last := a.lastPlantRequest(); last.After(b.firstPlantRequest(at)) {
		t.Errorf("both polled: the box cut off at %v, the other from %v", last, b.firstPlantRequest(at))
	}
	a.nats.heal()
	a.standsBy(t)

	t.Log("stopped in order")
	until := time.Now()
	site.waitUntil(t, "the central store to have everything", func() bool { return site.complete(t, false, until, a, b) })
	at = time.Now()
	b.signal(t, syscall.SIGTERM)
	a.polls(t, at, takeOverWithin)
	_ = b.cmd.Wait()
	until = time.Now()
	b.start() // what it recorded last it sends when it is started again, while it stands by
	b.standsBy(t)
	site.waitUntil(t, "the central store to have everything of the last turn", func() bool { return site.complete(t, false, until, a, b) })
	for _, box := range []*pairBox{b, a} {
		box.signal(t, syscall.SIGTERM)
		_ = box.cmd.Wait()
	}
	site.complete(t, true, until, a, b)
	site.nothingTwice(t, a, b)
}

// pairSite is everything around the two boxes.
type pairSite struct {
	t          *testing.T
	dir        string
	program    string
	plant      string // configuration with the addresses of the plant
	nats       string
	influx     string
	desk       string
	alertAfter time.Duration

	mu       sync.Mutex
	messages []notify.Message
	lines    map[string]string // line without its fields -> box that sent it
	twice    []string
}

func newPairSite(t *testing.T) *pairSite {
	s := &pairSite{t: t, dir: t.TempDir(), lines: map[string]string{}, alertAfter: 5 * time.Second}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	s.program = filepath.Join(s.dir, "bridlewatch") // what TestMain runs main for
	if err := os.Symlink(self, s.program); err != nil {
		t.Fatal(err)
	}
	s.nats = s.startNATS()
	s.influx = influxServerOfPeers(t)
	s.plant = filepath.Join(s.dir, "plant.yaml")
	s.process("plant", "rehearse", "--plant-only", "--write-config", s.plant, "--fault", "LG-103:signal-lost@0s")
	s.waitUntil(t, "the simulated plant", func() bool { _, err := os.Stat(s.plant); return err == nil })
	receiver := http.Server{Handler: http.HandlerFunc(s.hear)}
	s.desk = "http://" + s.listen(func(l net.Listener) { _ = receiver.Serve(l) })
	return s
}

func (s *pairSite) listen(serve func(net.Listener)) string {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		s.t.Fatal(err)
	}
	s.t.Cleanup(func() { l.Close() })
	go serve(l)
	return l.Addr().String()
}

func (s *pairSite) startNATS() string {
	path, err := exec.LookPath("nats-server")
	if err != nil {
		path = "/usr/sbin/nats-server"
	}
	_, port, _ := net.SplitHostPort(freeAddress(s.t))
	cmd := exec.Command(path, "-js", "-a", "127.0.0.1", "-p", port, "-sd", filepath.Join(s.dir, "nats"))
	if err := cmd.Start(); err != nil {
		s.t.Fatalf("nats-server does not start (%v): run testdata/peers/install.sh", err)
	}
	s.t.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() })
	s.waitUntil(s.t, "nats-server", func() bool {
		c, err := net.Dial("tcp", "127.0.0.1:"+port)
		if err == nil {
			c.Close()
		}
		return err == nil
	})
	return "127.0.0.1:" + port
}

// process starts the program under test; its log is printed when the test
// fails.
func (s *pairSite) process(name string, args ...string) *exec.Cmd {
	s.t.Helper()
	file := filepath.Join(s.dir, name+".log")
	log, err := os.OpenFile(file, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o600)
	if err != nil {
		s.t.Fatal(err)
	}
	defer log.Close() // the child has its own
	cmd := exec.Command(s.program, args...)
	cmd.Stdout, cmd.Stderr = log, log
	if err := cmd.Start(); err != nil {
		s.t.Fatal(err)
	}
	s.t.Cleanup(func() {
		_ = cmd.Process.Kill()
		_, _ = cmd.Process.Wait()
		if text, err := os.ReadFile(file); err == nil && s.t.Failed() {
			s.t.Logf("%s:\n%s", name, text)
			_ = os.Remove(file)
		}
	})
	return cmd
}

func (s *pairSite) waitUntil(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(60 * time.Second); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		if ok() {
			return
		}
	}
	t.Fatalf("waited a minute in vain for %s", what)
}

// hear is the receiver of alerts.
func (s *pairSite) hear(w http.ResponseWriter, r *http.Request) {
	var m notify.Message
	if err := json.NewDecoder(r.Body).Decode(&m); err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.messages = append(s.messages, m)
}

func (s *pairSite) heard(t *testing.T, event notify.Event) {
	t.Helper()
	s.waitUntil(t, "a message "+string(event), func() bool {
		s.mu.Lock()
		defer s.mu.Unlock()
		for _, m := range s.messages {
			if m.Event == event {
				return true
			}
		}
		return false
	})
}

// pairBox is one of the two boxes with what stands between it and the others.
type pairBox struct {
	site   *pairSite
	name   string
	data   string
	config string
	listen string
	cmd    *exec.Cmd
	nats   *crossing
	plant  []*crossing
}

var plantAddress = regexp.MustCompile(`(?m)^    address: (127\.0\.0\.1:\d+)$`)

func (s *pairSite) box(name string) *pairBox {
	b := &pairBox{site: s, name: name, data: filepath.Join(s.dir, name), config: filepath.Join(s.dir, name+".yaml"), listen: freeAddress(s.t)}
	b.nats = newCrossing(s, s.nats)
	text, err := os.ReadFile(s.plant)
	if err != nil {
		s.t.Fatal(err)
	}
	yaml := plantAddress.ReplaceAllStringFunc(string(text), func(line string) string {
		c := newCrossing(s, strings.TrimPrefix(line, "    address: "))
		b.plant = append(b.plant, c)
		return "    address: " + c.address
	})
	if len(b.plant) < 2 {
		s.t.Fatalf("the plant has %d Modbus servers", len(b.plant))
	}
	yaml = strings.Replace(yaml, "listen: 127.0.0.1:8080", "listen: "+b.listen, 1)
	yaml += fmt.Sprintf(`
influx:
  url: http://%s
  bucket: pair/autogen
pair:
  url: nats://%s
  holder: %s
notify:
  - name: desk
    kind: webhook
    url: %s
    ended: true
`, s.listen(func(l net.Listener) { _ = http.Serve(l, s.central(name)) }), b.nats.address, name, s.desk)
	if err := os.WriteFile(b.config, []byte(yaml), 0o600); err != nil {
		s.t.Fatal(err)
	}
	return b
}

// lostSignalForADay lets the box see that a signal of a gauge is lost, stops
// it, and makes it believe that this began so long ago that it is an alert
// after a while.
func (b *pairBox) lostSignalForADay(t *testing.T, gauge string, after time.Duration) {
	t.Helper()
	b.start()
	b.site.waitUntil(t, "the lost signal of "+gauge, func() bool { return b.misses(t, gauge) })
	b.signal(t, syscall.SIGTERM)
	_ = b.cmd.Wait()
	file, err := os.ReadFile(watch.StateFile(b.data))
	if err != nil {
		t.Fatal(err)
	}
	var all map[string]any
	d := json.NewDecoder(bytes.NewReader(file))
	d.UseNumber() // its numbers are longer than a float's
	if err := d.Decode(&all); err != nil {
		t.Fatal(err)
	}
	changed := 0
	lost := all["states"].(map[string]any)[gauge].(map[string]any)["Presence"].(map[string]any)["LostSince"].([]any)
	for i := range lost {
		if lost[i] != json.Number("0") {
			lost[i] = time.Now().Add(after - 24*time.Hour).Unix()
			changed++
		}
	}
	text, err := json.Marshal(all)
	if err == nil {
		err = os.WriteFile(watch.StateFile(b.data), text, 0o600)
	}
	if err != nil || changed == 0 {
		t.Fatalf("%d signals of %s are lost, %v", changed, gauge, err)
	}
}

// misses reports whether the newest sample of a signal of the gauge is of no
// use.
func (b *pairBox) misses(t *testing.T, gauge string) bool {
	db, err := embedded.OpenView(t.Context(), b.data)
	if err != nil {
		return false // not made yet
	}
	defer db.Close()
	series, err := db.Series(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for id, s := range series {
		if s.Gauge != gauge || s.Class != store.Raw {
			continue
		}
		last, err := db.Last(t.Context(), []store.ID{id}, time.Now())
		if err != nil {
			t.Fatal(err)
		}
		if len(last) == 1 && !last[0].Time.IsZero() && last[0].Quality < 3 {
			return true
		}
	}
	return false
}

func (b *pairBox) start() {
	b.cmd = b.site.process(b.name, "serve", "--config", b.config, "--data", b.data)
}

func (b *pairBox) signal(t *testing.T, sig os.Signal) {
	t.Helper()
	if err := b.cmd.Process.Signal(sig); err != nil {
		t.Fatal(err)
	}
}

// run asks the box by command line.
func (b *pairBox) run(t *testing.T, args ...string) string {
	t.Helper()
	var out []byte
	var err error
	for range 20 { // its pages open with its turn
		cmd := exec.Command(b.site.program, append(args, "--server", "http://"+b.listen)...)
		if out, err = cmd.CombinedOutput(); err == nil {
			return string(out)
		}
		time.Sleep(250 * time.Millisecond)
	}
	t.Fatalf("%s: %v\n%s", strings.Join(args, " "), err, out)
	return ""
}

// polls waits for the first request to the plant after at.
func (b *pairBox) polls(t *testing.T, at time.Time, within time.Duration) {
	t.Helper()
	b.site.waitUntil(t, b.name+" to poll", func() bool { return !b.firstPlantRequest(at).IsZero() })
	took := b.firstPlantRequest(at).Sub(at)
	t.Logf("%s polls after %v", b.name, took.Round(10*time.Millisecond))
	if took > within {
		t.Errorf("%s polls after %v, want within %v", b.name, took, within)
	}
}

// standsBy waits until the box has said that it does.
func (b *pairBox) standsBy(t *testing.T) {
	t.Helper()
	b.site.waitUntil(t, b.name+" to stand by", func() bool {
		text, err := os.ReadFile(filepath.Join(b.site.dir, b.name+".log"))
		if err != nil {
			return false
		}
		has, by := strings.LastIndex(string(text), "this box has the lease"), strings.LastIndex(string(text), "standing by")
		return by > has && strings.Contains(string(text)[by:], "has the lease")
	})
}

func (b *pairBox) firstPlantRequest(after time.Time) (first time.Time) {
	for _, c := range b.plant {
		if at := c.first(after); !at.IsZero() && (first.IsZero() || at.Before(first)) {
			first = at
		}
	}
	return first
}

func (b *pairBox) lastPlantRequest() (last time.Time) {
	for _, c := range b.plant {
		if at := c.last(); at.After(last) {
			last = at
		}
	}
	return last
}

func (b *pairBox) plantRequests() (n int) {
	for _, c := range b.plant {
		n += c.count()
	}
	return n
}

// alert is the newest state of the alert as the box has stored it.
func (b *pairBox) alert(t *testing.T) string {
	text := ""
	for _, d := range b.documents(t, desk.AlertKind) {
		text += string(d.Body)
	}
	return text
}

func (b *pairBox) documents(t *testing.T, kind string) []store.Document {
	db, err := embedded.OpenView(t.Context(), b.data)
	if err != nil {
		return nil // not made yet
	}
	defer db.Close()
	docs, err := db.Documents(t.Context(), store.Query{Kind: kind, Latest: true})
	if err != nil {
		t.Fatal(err)
	}
	return docs
}

// stored lists what the box has in its own store before an instant, by the key
// of the central store.
func (b *pairBox) stored(t *testing.T, before time.Time) map[string]bool {
	t.Helper()
	db, err := embedded.OpenView(context.Background(), b.data)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	series, err := db.Series(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]bool{}
	for id, s := range series {
		points, err := db.Points(t.Context(), id, before.Add(-time.Hour), before)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range points {
			out[pointKey(s.Class == store.Raw, s.Gauge, s.Name, p.Time.UnixNano())] = true
		}
	}
	return out
}

func pointKey(raw bool, gauge, signal string, at int64) string {
	return fmt.Sprintf("%v %s %s %d", raw, gauge, signal, at)
}

// complete compares the central store with what both boxes have recorded until
// a while ago.
func (s *pairSite) complete(t *testing.T, say bool, until time.Time, boxes ...*pairBox) bool {
	t.Helper()
	have, want := s.stored(t, until), map[string]bool{}
	for _, b := range boxes {
		for k := range b.stored(t, until) {
			want[k] = true
		}
	}
	missing, more := 0, 0
	for k := range want {
		if !have[k] {
			missing++
		}
	}
	for k := range have {
		if !want[k] {
			more++
		}
	}
	if say && (missing > 0 || more > 0 || len(want) == 0) {
		t.Errorf("of %d values recorded %d are missing in the central store, and %d there are of nobody", len(want), missing, more)
	} else if say {
		t.Logf("%d values, each once", len(want))
	}
	return missing == 0
}

// nothingTwice looks for what both boxes did.
func (s *pairSite) nothingTwice(t *testing.T, boxes ...*pairBox) {
	t.Helper()
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.twice) > 0 {
		t.Errorf("%d values were sent by both boxes, such as %s", len(s.twice), s.twice[0])
	}
	raised := map[string]int{}
	for _, m := range s.messages {
		if m.Event == "raised" {
			raised[m.Gauge]++
		}
	}
	if raised["LG-103"] != 1 || len(raised) != 1 {
		t.Errorf("alerts were announced %v, want LG-103 once", raised)
	}
	for _, b := range boxes {
		for _, kind := range []string{desk.AlertKind, plant.FindingKind} {
			ids := map[string]int{}
			for _, d := range b.documents(t, kind) {
				ids[d.Gauge]++
			}
			if ids["LG-103"] != 1 {
				t.Errorf("box %s has %d documents of kind %s on LG-103, want 1", b.name, ids["LG-103"], kind)
			}
		}
	}
}
