package embedded

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/storetest"
)

// heard is what a follower has been told: the newest value by series and time.
type heard map[store.ID]map[time.Time]store.Point

// follow reads all changes from where the named follower stands.
func (p *plant) follow(name string, into heard) {
	p.t.Helper()
	c, err := p.Cursor(p.t.Context(), name)
	if err != nil {
		p.t.Fatal(err)
	}
	for {
		scans, next, err := p.Changes(p.t.Context(), c, 100)
		if err != nil {
			p.t.Fatal(err)
		}
		for _, scan := range scans {
			for _, v := range scan.Values {
				if into[v.ID] == nil {
					into[v.ID] = map[time.Time]store.Point{}
				}
				into[v.ID][scan.Time] = store.Point{Time: scan.Time, Value: v.Value, Quality: v.Quality, Reason: v.Reason}
			}
		}
		c = next
		if err := p.SetCursor(p.t.Context(), name, c); err != nil {
			p.t.Fatal(err)
		}
		if len(scans) == 0 {
			return
		}
	}
}

func (p *plant) checkHeard(h heard) {
	p.t.Helper()
	for _, id := range p.ids {
		want := map[time.Time]store.Point{}
		for _, point := range p.all(id) {
			want[point.Time] = point
		}
		if diff := cmp.Diff(want, h[id]); diff != "" {
			p.t.Fatalf("series %d (-stored +heard):\n%s", id, diff)
		}
	}
}

func TestFollowerHearsEverything(t *testing.T) {
	for _, c := range []struct {
		name   string
		away   time.Duration // how long the follower stops between two visits
		visits int
	}{
		{"always there", 3 * time.Hour, 20},
		{"a day behind, scans are held", 30 * time.Hour, 4},
		{"three weeks behind, days are archived", 21 * 24 * time.Hour, 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			p, h := newPlant(t, 3, Options{}), heard{}
			for n := range c.visits {
				p.follow("central", h)
				for range c.away / (3 * time.Hour) {
					p.run(3*time.Hour, 20*time.Minute)
					p.upkeep()
				}
				// A late and a corrected sample in a day that is already sealed.
				at := storetest.Start.Add(time.Duration(n) * time.Hour)
				p.append(storetest.ScanAt(at, p.ids, 500), storetest.ScanAt(at.Add(time.Second), p.ids, 1, 2))
			}
			p.follow("central", h)
			p.checkHeard(h)
			if at, rows, err := p.Waiting(t.Context(), mustCursor(t, p, "central")); err != nil || !at.IsZero() || rows != 0 {
				t.Errorf("scans of %s wait, error %v; want none", at, err)
			}
		})
	}
}

func mustCursor(t *testing.T, p *plant, name string) store.Cursor {
	t.Helper()
	c, err := p.Cursor(t.Context(), name)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestNewFollowerStartsInTheArchive(t *testing.T) {
	p := newPlant(t, 3, Options{})
	p.run(50*time.Hour, 20*time.Minute)
	p.upkeep()
	if at, rows, err := p.Waiting(t.Context(), store.Cursor{}); err != nil || rows == 0 || !at.Equal(storetest.Start.Truncate(24*time.Hour)) {
		t.Errorf("oldest waiting %s, error %v; want the first day", at, err)
	}
	h := heard{}
	p.follow("late comer", h)
	p.checkHeard(h)
}

func TestScansAreHeldForAFollower(t *testing.T) {
	p := newPlant(t, 1, Options{})
	p.follow("central", heard{})
	p.run(50*time.Hour, 20*time.Minute)
	p.upkeep()
	if n := p.count(`SELECT count(*) FROM scan`); n != 150 {
		t.Errorf("%d scans kept for the follower, want all 150", n)
	}
	p.follow("central", heard{})
	p.upkeep()
	if n := p.count(`SELECT count(*) FROM scan`); n >= 80 {
		t.Errorf("%d scans left after the follower came, want those not sealed", n)
	}
	p.follow("gone", heard{})
	if err := p.RemoveCursor(t.Context(), "gone"); err != nil {
		t.Fatal(err)
	}
	if f, err := p.Followers(t.Context()); err != nil || len(f) != 1 || f[0].Name != "central" {
		t.Errorf("followers %v, error %v; want central", f, err)
	}
}
