package influx_test

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/httptest"
	"net/http/httputil"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/collector/store/influx"
	"bridlewatch/collector/store/storetest"
)

// outage is what a network or a server does to one request.
type outage int

const (
	cutAtOnce         outage = iota // the connection ends, nothing arrived
	cutInTheRequest                 // the server got half of it
	cutInTheAnswer                  // taken; the connection ends within "204 No Content"
	takenAndSilent                  // taken; no answer before the time-out
	silent                          // not taken, no answer before the time-out
	tooMany                         // 429
	tooManyWait                     // 429, come back in a second
	failed                          // 500
	failedThoughTaken               // taken, then 500
	unavailable                     // 503
	outageKinds
)

// slow outages take the time-out or the wait of a second: there are so many in
// 200.
var slow = map[outage]int{takenAndSilent: 3, silent: 3, tooManyWait: 2}

// unruly is a connection to a server that does a number of outages, each at
// random before one request in two, and then none. What it did is counted once
// the one who asked cannot have had an answer, or has had that of an outage.
type unruly struct {
	t     *testing.T
	up    *url.URL
	pass  *httputil.ReverseProxy
	most  int
	mu    sync.Mutex
	dice  *rand.Rand
	begun int
	of    [outageKinds]int // begun
	done  [outageKinds]int
}

func newUnruly(t *testing.T, address string, seed uint64, most int) (*unruly, string) {
	t.Helper()
	up, err := url.Parse(address)
	if err != nil {
		t.Fatal(err)
	}
	u := &unruly{t: t, up: up, most: most, dice: rand.New(rand.NewPCG(seed, 0)), pass: httputil.NewSingleHostReverseProxy(up)}
	server := httptest.NewServer(u)
	t.Cleanup(server.Close)
	return u, server.URL
}

// draw decides what happens to the next request.
func (u *unruly) draw() (outage, bool) {
	u.mu.Lock()
	defer u.mu.Unlock()
	if u.begun == u.most || u.dice.IntN(2) == 0 {
		return 0, false
	}
	k := outage(u.dice.IntN(int(outageKinds)))
	for slow[k] > 0 && 200*u.of[k] >= slow[k]*u.most {
		k = outage(u.dice.IntN(int(outageKinds)))
	}
	u.begun++
	u.of[k]++
	return k, true
}

func (u *unruly) count() (n int) {
	u.mu.Lock()
	defer u.mu.Unlock()
	for _, k := range u.done {
		n += k
	}
	return n
}

func (u *unruly) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	text, err := io.ReadAll(r.Body)
	if err != nil {
		return // who asked has gone
	}
	r.Body = io.NopCloser(bytes.NewReader(text))
	k, bad := u.draw()
	if !bad {
		u.pass.ServeHTTP(w, r)
		return
	}
	defer func() {
		u.mu.Lock()
		u.done[k]++
		u.mu.Unlock()
	}()
	switch k {
	case cutInTheRequest:
		u.half(r, text)
		u.cut(w, "")
	case cutInTheAnswer:
		u.take(r)
		u.cut(w, "HTTP/1.1 204 No Content\r\nX-Influx")
	case takenAndSilent:
		u.take(r)
		<-r.Context().Done()
	case silent:
		<-r.Context().Done()
	case tooMany:
		w.WriteHeader(http.StatusTooManyRequests)
	case tooManyWait:
		w.Header().Set("Retry-After", "1")
		w.WriteHeader(http.StatusTooManyRequests)
	case failed:
		w.WriteHeader(http.StatusInternalServerError)
	case failedThoughTaken:
		u.take(r)
		w.WriteHeader(http.StatusInternalServerError)
	case unavailable:
		w.WriteHeader(http.StatusServiceUnavailable)
	default:
		u.cut(w, "")
	}
}

// take passes a request on and keeps the answer.
func (u *unruly) take(r *http.Request) {
	answer := httptest.NewRecorder()
	u.pass.ServeHTTP(answer, r.Clone(u.t.Context()))
	if answer.Code != http.StatusNoContent {
		u.t.Errorf("the server answers %d: %s", answer.Code, answer.Body)
	}
}

// half sends the first half of a request to the server and hangs up.
func (u *unruly) half(r *http.Request, text []byte) {
	c, err := net.Dial("tcp", u.up.Host)
	if err != nil {
		u.t.Error(err)
		return
	}
	defer c.Close()
	fmt.Fprintf(c, "POST %s HTTP/1.1\r\nHost: %s\r\nContent-Encoding: %s\r\nContent-Length: %d\r\n\r\n", r.URL.RequestURI(), u.up.Host, r.Header.Get("Content-Encoding"), len(text))
	if _, err := c.Write(text[:len(text)/2]); err != nil {
		u.t.Error(err)
	}
}

// cut ends the connection after the beginning of an answer.
func (u *unruly) cut(w http.ResponseWriter, answer string) {
	c, _, err := http.NewResponseController(w).Hijack()
	if err != nil {
		u.t.Error(err)
		return
	}
	io.WriteString(c, answer)
	c.Close()
}

// suffer forwards a growing history through outages until so many were really
// caused, with a forwarder that is stopped and started again, and returns when
// all is sent.
func suffer(t *testing.T, db *embedded.DB, ids []store.ID, address, bucket string, seed uint64, outages int) (scans int) {
	t.Helper()
	u, through := newUnruly(t, address, seed, outages)
	for run := 0; u.count() < outages; run++ {
		t.Run(fmt.Sprintf("run %d", run), func(t *testing.T) {
			f := forward(t, db, through, func(o *influx.ForwardOptions) { o.Bucket, o.Batch, o.Timeout = bucket, 10, time.Second })
			for before := u.count(); u.count() < min(outages, before+outages/4); {
				fill(t, db, ids, scans, 20)
				scans += 20
				eventually(t, "the history sent or enough outages", func() bool { return u.count() == outages || sentAll(t, db, scans) })
			}
			if f.Status().Rejected != 0 {
				t.Errorf("%d values were given up", f.Status().Rejected)
			}
		})
	}
	forward(t, db, through, func(o *influx.ForwardOptions) { o.Bucket = bucket })
	eventually(t, "the rest", func() bool { return sentAll(t, db, scans) })
	t.Logf("seed %d: %d outages (%v by kind), %d values", seed, u.count(), u.done, 10*scans)
	for k, n := range u.done {
		if n == 0 {
			t.Errorf("outage of kind %d never happened", k)
		}
	}
	if u.count() != outages {
		t.Errorf("%d outages were caused, want %d", u.count(), outages)
	}
	return scans
}

// sentAll says whether the durable cursor is behind the last scan.
func sentAll(t *testing.T, db *embedded.DB, scans int) bool {
	t.Helper()
	c, err := db.Cursor(t.Context(), influx.DefaultFollower)
	if err != nil {
		t.Fatal(err)
	}
	return c.Seq >= int64(scans)
}

// TestForwardThroughOutages is the short form of TestForwardThrough200Outages,
// before a server of this test instead of InfluxDB.
func TestForwardThroughOutages(t *testing.T) {
	db, ids := openLocal(t)
	server := newFakeServer(t)
	scans := suffer(t, db, ids, server.URL, "b", 1, 80)
	if n := server.samples(); n != 10*scans {
		t.Errorf("%d values at the server, want %d", n, 10*scans)
	}
	server.mu.Lock()
	defer server.mu.Unlock()
	for name, rest := range server.lines {
		if !strings.HasPrefix(name, "bridlewatch_raw,") {
			continue
		}
		_, text, _ := strings.Cut(rest, "value=")
		text, at, _ := strings.Cut(text, " ")
		nano, err := strconv.ParseInt(at, 10, 64)
		if want := time.Unix(0, nano).Sub(storetest.Start).Seconds(); err != nil || text != strconv.Itoa(int(want)) {
			t.Fatalf("%s is %s, want %v (%v)", name, text, want, err)
		}
	}
}
