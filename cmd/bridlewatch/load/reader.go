package load

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"
)

// reader is a person with a gauge page open: its live stream, and now and then
// another page.
type reader struct {
	base string
	tag  string
	rand *rand.Rand
	said *said
}

// said is what the readers got.
type said struct {
	mu     sync.Mutex
	events int
	pages  []time.Duration // how long each page took
	failed map[string]int  // by what went wrong
}

func (s *said) page(took time.Duration, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err != nil {
		s.failed[err.Error()]++
		return
	}
	s.pages = append(s.pages, took)
}

// slow returns the median and the slowest of a hundred pages.
func (s *said) slow() (median, p99 time.Duration) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.pages) == 0 {
		return 0, 0
	}
	slices.Sort(s.pages)
	return s.pages[len(s.pages)/2], s.pages[len(s.pages)*99/100]
}

// run reads until ctx ends.
func (r *reader) run(ctx context.Context) {
	go r.listen(ctx)
	pages := []string{"/", "/plant", "/gauge/" + r.tag, "/gauge/" + r.tag + "/trend", "/gauge/" + r.tag + "/trend.json", "/alerts", "/service"}
	for ctx.Err() == nil {
		began := time.Now()
		err := r.get(ctx, pages[r.rand.IntN(len(pages))])
		if ctx.Err() == nil {
			r.said.page(time.Since(began), err)
		}
		select {
		case <-ctx.Done():
		case <-time.After(2*time.Second + time.Duration(r.rand.Int64N(int64(6*time.Second)))):
		}
	}
}

func (r *reader) get(ctx context.Context, path string) error {
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, r.base+path, nil)
	if err != nil {
		return err
	}
	answer, err := http.DefaultClient.Do(request)
	if err != nil {
		return err
	}
	defer answer.Body.Close()
	if _, err := io.Copy(io.Discard, answer.Body); err != nil {
		return err
	}
	if answer.StatusCode != http.StatusOK {
		return fmt.Errorf("%s: %s", path, answer.Status)
	}
	return nil
}

// listen counts the events of the live stream.
func (r *reader) listen(ctx context.Context) {
	for ; ctx.Err() == nil; time.Sleep(time.Second) {
		request, err := http.NewRequestWithContext(ctx, http.MethodGet, r.base+"/gauge/"+r.tag+"/events", nil)
		if err != nil {
			return
		}
		answer, err := http.DefaultClient.Do(request)
		if err != nil {
			continue
		}
		lines := bufio.NewScanner(answer.Body)
		lines.Buffer(nil, 4<<20)
		for lines.Scan() {
			if strings.TrimSpace(lines.Text()) == "" {
				r.said.mu.Lock()
				r.said.events++
				r.said.mu.Unlock()
			}
		}
		answer.Body.Close()
	}
}
