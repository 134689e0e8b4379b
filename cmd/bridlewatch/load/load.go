// Package load measures the service under a large plant: it starts the
// simulated plant and the service as two processes, as they would be, opens
// pages and live streams, and keeps books of what the service uses and whether
// it keeps up.
package load

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"time"
)

// Options of Run.
type Options struct {
	Program string // the program under test
	Dir     string // for everything it makes
	Gauges  int
	Readers int
	For     time.Duration
	Every   time.Duration // between two lines of the report
	Out     io.Writer
}

// warmUp is left out of the figures: connections, first pages, first views.
const warmUp = 30 * time.Second

// Run measures and writes a report. It is an error when the service did not
// keep up.
func Run(ctx context.Context, o Options) (err error) {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	plant, err := start(ctx, o, "plant.log", "rehearse", "--gauges", fmt.Sprint(o.Gauges), "--plant-only", "--write-config", filepath.Join(o.Dir, "plant.yaml"))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, end(plant)) }()
	if err := until(ctx, 2*time.Minute, "the simulated plant", func() bool {
		_, err := os.Stat(filepath.Join(o.Dir, "plant.yaml"))
		return err == nil
	}); err != nil {
		return err
	}
	listen, err := freePort()
	if err != nil {
		return err
	}
	data := filepath.Join(o.Dir, "data")
	service, err := start(ctx, o, "service.log", "serve", "--config", filepath.Join(o.Dir, "plant.yaml"), "--data", data, "--listen", listen)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, end(service)) }()
	base := "http://" + listen
	if err := until(ctx, 2*time.Minute, "the service", func() bool { _, err := healthOf(ctx, base); return err == nil }); err != nil {
		return err
	}
	got := &said{failed: map[string]int{}}
	for i := range o.Readers {
		r := &reader{base: base, tag: fmt.Sprintf("LG-%04d", 1+i*o.Gauges/o.Readers), rand: rand.New(rand.NewPCG(uint64(i), 1)), said: got}
		go r.run(ctx)
	}
	return watch(ctx, o, base, data, service.Process.Pid, got)
}

// start starts a process of the program; its log goes to a file.
func start(ctx context.Context, o Options, log string, args ...string) (*exec.Cmd, error) {
	out, err := os.OpenFile(filepath.Join(o.Dir, log), os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600)
	if err != nil {
		return nil, err
	}
	defer out.Close() // the child has its own
	c := exec.CommandContext(ctx, o.Program, args...)
	c.Stdout, c.Stderr = out, out
	c.Cancel = func() error { return c.Process.Signal(os.Interrupt) }
	c.WaitDelay = 30 * time.Second
	return c, c.Start()
}

// end stops a process and waits for it.
func end(c *exec.Cmd) error {
	_ = c.Process.Signal(os.Interrupt) // it may have ended
	if err := c.Wait(); err != nil && !errors.Is(err, context.Canceled) {
		return fmt.Errorf("%s %s: %w", c.Path, c.Args[1], err)
	}
	return nil
}

func until(ctx context.Context, patience time.Duration, what string, ok func() bool) error {
	for begin := time.Now(); !ok(); {
		if time.Since(begin) > patience {
			return fmt.Errorf("waited %s in vain for %s; see its log", patience, what)
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(200 * time.Millisecond):
		}
	}
	return nil
}

func freePort() (string, error) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return "", err
	}
	return l.Addr().String(), l.Close()
}

// health is what the service says of itself.
type health struct {
	Now      time.Time `json:"now"`
	Scans    uint64    `json:"scans"`
	Skipped  uint64    `json:"scans_skipped"`
	Stored   string    `json:"store_error"`
	Sources  []source  `json:"sources"`
	NotReady []string  `json:"not_ready"`
}

type source struct {
	OK     bool   `json:"ok"`
	Reads  uint64 `json:"reads"`
	Errors uint64 `json:"errors"`
}

func healthOf(ctx context.Context, base string) (h health, err error) {
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, base+"/api/v1/health", nil)
	if err != nil {
		return h, err
	}
	answer, err := http.DefaultClient.Do(request)
	if err != nil {
		return h, err
	}
	defer answer.Body.Close()
	if answer.StatusCode != http.StatusOK {
		return h, fmt.Errorf("health: %s", answer.Status)
	}
	return h, json.NewDecoder(answer.Body).Decode(&h)
}
