//go:build peers

package main

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httputil"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
)

func freeAddress(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// influxServerOfPeers runs InfluxDB 1.8 with the database pair and returns its
// address.
func influxServerOfPeers(t *testing.T) string {
	t.Helper()
	cache, err := os.UserCacheDir()
	if err != nil {
		t.Fatal(err)
	}
	dir, listen := t.TempDir(), freeAddress(t)
	conf := filepath.Join(dir, "influxdb.conf")
	text := fmt.Sprintf("reporting-disabled = true\nbind-address = %q\n[meta]\ndir = %q\n[data]\ndir = %q\nwal-dir = %q\nquery-log-enabled = false\n"+
		"[http]\nbind-address = %q\nflux-enabled = true\nlog-enabled = false\n[logging]\nlevel = \"error\"\n",
		freeAddress(t), filepath.Join(dir, "meta"), filepath.Join(dir, "data"), filepath.Join(dir, "wal"), listen)
	if err := os.WriteFile(conf, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(filepath.Join(cache, "bridlewatch-peers", "bin", "influxd"), "-config", conf)
	if err := cmd.Start(); err != nil {
		t.Fatalf("influxd does not start (%v): run testdata/peers/install.sh", err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() })
	for range 600 {
		if r, err := http.PostForm("http://"+listen+"/query", url.Values{"q": {"CREATE DATABASE pair"}}); err == nil {
			r.Body.Close()
			if r.StatusCode == http.StatusOK {
				return listen
			}
		}
		time.Sleep(100 * time.Millisecond)
	}
	t.Fatal("influxd does not answer")
	return ""
}

// central passes requests of a box on to the central store and keeps books of
// the values in them.
func (s *pairSite) central(box string) http.Handler {
	proxy := httputil.NewSingleHostReverseProxy(&url.URL{Scheme: "http", Host: s.influx})
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, err := io.ReadAll(r.Body)
		if err != nil {
			return // the box has gone
		}
		r.Body = io.NopCloser(bytes.NewReader(body))
		if r.Header.Get("Content-Encoding") == "gzip" {
			if z, err := gzip.NewReader(bytes.NewReader(body)); err == nil {
				body, _ = io.ReadAll(z)
			}
		}
		if r.Method == http.MethodPost && strings.Contains(r.URL.Path, "write") {
			s.book(box, string(body))
		}
		proxy.ServeHTTP(w, r)
	})
}

// book notes which box sent which value.
func (s *pairSite) book(box, body string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for line := range strings.Lines(body) {
		line = strings.TrimSpace(line)
		if !strings.HasPrefix(line, "bridlewatch_raw,") && !strings.HasPrefix(line, "bridlewatch_derived,") {
			continue
		}
		key := strings.ReplaceAll(line, "\\ ", "_") // a tag may hold spaces
		name, _, _ := strings.Cut(key, " ")
		key = name + key[strings.LastIndex(key, " "):]
		if by, ok := s.lines[key]; ok && by != box {
			s.twice = append(s.twice, line)
		}
		s.lines[key] = box
	}
}

// linesAfter counts the values a box has sent with a time after an instant.
func (s *pairSite) linesAfter(box string, at time.Time) (n int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for key, by := range s.lines {
		stamp, _ := strconv.ParseInt(key[strings.LastIndex(key, " ")+1:], 10, 64)
		if by == box && stamp > at.UnixNano() {
			n++
		}
	}
	return n
}

// stored lists what the central store has before an instant.
func (s *pairSite) stored(t *testing.T, before time.Time) map[string]bool {
	t.Helper()
	out := map[string]bool{}
	for _, measurement := range []string{"bridlewatch_raw", "bridlewatch_derived"} {
		q := fmt.Sprintf(`SELECT quality FROM %s WHERE time < %d GROUP BY gauge, signal`, measurement, before.UnixNano())
		r, err := http.Get("http://" + s.influx + "/query?" + url.Values{"db": {"pair"}, "epoch": {"ns"}, "q": {q}}.Encode())
		if err != nil {
			t.Fatal(err)
		}
		var answer struct {
			Results []struct {
				Series []struct {
					Tags   map[string]string
					Values [][2]json.Number
				}
			}
		}
		d := json.NewDecoder(r.Body)
		d.UseNumber()
		err = d.Decode(&answer)
		r.Body.Close()
		if err != nil || len(answer.Results) != 1 {
			t.Fatalf("%d results, %v", len(answer.Results), err)
		}
		for _, series := range answer.Results[0].Series {
			for _, v := range series.Values {
				at, err := v[0].Int64()
				if err != nil {
					t.Fatal(err)
				}
				out[pointKey(measurement == "bridlewatch_raw", series.Tags["gauge"], series.Tags["signal"], at)] = true
			}
		}
	}
	return out
}

// crossing passes bytes on, notes when, and can be cut.
type crossing struct {
	address string
	target  string

	mu       sync.Mutex
	requests []time.Time
	open     map[net.Conn]bool
	down     bool
}

func newCrossing(s *pairSite, target string) *crossing {
	c := &crossing{target: target, open: map[net.Conn]bool{}}
	c.address = s.listen(func(l net.Listener) {
		for {
			conn, err := l.Accept()
			if err != nil {
				return
			}
			go c.pass(conn)
		}
	})
	return c
}

func (c *crossing) pass(near net.Conn) {
	defer near.Close()
	far, err := net.Dial("tcp", c.target)
	if err != nil {
		return
	}
	defer far.Close()
	c.mu.Lock()
	down := c.down
	c.open[near], c.open[far] = true, true
	c.mu.Unlock()
	if down {
		return
	}
	go func() {
		defer near.Close()
		_, _ = io.Copy(near, far)
	}()
	buffer := make([]byte, 1<<16)
	for {
		n, err := near.Read(buffer)
		if err != nil {
			return
		}
		c.mu.Lock()
		c.requests = append(c.requests, time.Now())
		c.mu.Unlock()
		if _, err := far.Write(buffer[:n]); err != nil {
			return
		}
	}
}

func (c *crossing) cut() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.down = true
	for conn := range c.open {
		conn.Close()
	}
	clear(c.open)
}

func (c *crossing) heal() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.down = false
}

func (c *crossing) first(after time.Time) time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, at := range c.requests {
		if at.After(after) {
			return at
		}
	}
	return time.Time{}
}

func (c *crossing) last() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	if len(c.requests) == 0 {
		return time.Time{}
	}
	return c.requests[len(c.requests)-1]
}

func (c *crossing) count() int {
	c.mu.Lock()
	defer c.mu.Unlock()
	return len(c.requests)
}
