package access

import (
	"net/netip"
	"sync"
	"time"

	"golang.org/x/time/rate"
)

// limits are how often something may be tried: a burst, then one in a while.
type limits struct {
	every time.Duration
	burst int
}

var (
	loginsFromAddress = limits{6 * time.Second, 10}
	loginsOfName      = limits{30 * time.Second, 15} // one password is not guessed from many addresses
	callsOfToken      = limits{50 * time.Millisecond, 100}
	badTokens         = limits{2 * time.Second, 20} // from one address
)

// remembered is how many keys a limiter keeps; the longest unused go first.
const remembered = 4096

// limiter holds the tries of many keys, such as addresses.
type limiter struct {
	limits
	now func() time.Time

	mu   sync.Mutex
	keys map[string]*tries
}

type tries struct {
	*rate.Limiter
	last time.Time
}

func newLimiter(l limits, now func() time.Time) *limiter {
	return &limiter{limits: l, now: now, keys: map[string]*tries{}}
}

// take counts one try. It returns how long to wait when there were too many.
func (l *limiter) take(key string) (wait time.Duration) {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := l.now()
	t := l.of(key, now)
	t.last = now
	if t.AllowN(now, 1) {
		return 0
	}
	short := 1 - t.TokensAt(now)
	return max(time.Duration(short*float64(l.every)), time.Millisecond)
}

// forgive gives a key all its tries back, after one that was right.
func (l *limiter) forgive(key string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	delete(l.keys, key)
}

func (l *limiter) of(key string, now time.Time) *tries {
	if t, ok := l.keys[key]; ok {
		return t
	}
	if len(l.keys) >= remembered {
		l.forgetOldest(now)
	}
	t := &tries{Limiter: rate.NewLimiter(rate.Every(l.every), l.burst)}
	l.keys[key] = t
	return t
}

// forgetOldest drops what has all its tries back, or else the longest unused.
func (l *limiter) forgetOldest(now time.Time) {
	oldest, since := "", now
	for key, t := range l.keys {
		if now.Sub(t.last) > l.every*time.Duration(l.burst) {
			delete(l.keys, key)
		} else if !t.last.After(since) {
			oldest, since = key, t.last
		}
	}
	if len(l.keys) >= remembered {
		delete(l.keys, oldest)
	}
}

// network is what an address is counted under: itself, or for IPv6 the /64 one
// machine usually has to itself.
func network(address string) string {
	ip, err := netip.ParseAddr(address)
	if err != nil || ip.Unmap().Is4() {
		return address
	}
	p, err := ip.WithZone("").Prefix(64)
	if err != nil {
		return address
	}
	return p.String()
}
