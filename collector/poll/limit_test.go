package poll

import (
	"context"
	"errors"
	"testing"
	"testing/synctest"
	"time"
)

// TestLimitIsAContextWithADeadline holds it beside that of the standard
// library, asked and waited for, derived from, and ended in each way.
func TestLimitIsAContextWithADeadline(t *testing.T) {
	ends := []struct {
		name string
		do   func(cancelRun, end func())
		want error
	}{
		{"deadline", func(_, _ func()) { time.Sleep(2 * time.Second) }, context.DeadlineExceeded},
		{"run", func(cancelRun, _ func()) { cancelRun() }, context.Canceled},
		{"read", func(_, end func()) { end() }, context.Canceled},
	}
	uses := map[string]func(l *limit) (fired func() bool){
		"asked": func(l *limit) func() bool { return func() bool { return true } },
		"waited for": func(l *limit) func() bool {
			done := l.Done()
			return func() bool {
				select {
				case <-done:
					return true
				default:
					return false
				}
			}
		},
		"derived from": func(l *limit) func() bool {
			child, cancel := context.WithTimeout(l, time.Hour)
			return func() bool { defer cancel(); return child.Err() != nil }
		},
		"watched": func(l *limit) func() bool {
			called := make(chan struct{})
			context.AfterFunc(l, func() { close(called) })
			return func() bool { <-called; return true }
		},
	}
	for _, e := range ends {
		for name, use := range uses {
			t.Run(e.name+", "+name, func(t *testing.T) {
				synctest.Test(t, func(t *testing.T) {
					run, cancel := context.WithCancel(t.Context())
					defer cancel()
					l := &limit{Context: run, until: time.Now().Add(time.Second)}
					fired := use(l)
					if l.Err() != nil {
						t.Fatalf("ended before anything happened: %v", l.Err())
					}
					e.do(cancel, l.end)
					synctest.Wait()
					if !fired() || !errors.Is(l.Err(), e.want) {
						t.Errorf("error %v, want %v and whoever waited told", l.Err(), e.want)
					}
					<-l.Done() // also when asked for afterwards
					if until, ok := l.Deadline(); !ok || until.IsZero() {
						t.Error("no deadline")
					}
					l.end()
				})
			})
		}
	}
}
