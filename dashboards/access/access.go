package access

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"slices"
	"sync"
	"time"

	"github.com/alexedwards/scs/v2"

	"bridlewatch/collector/store"
	"bridlewatch/dashboards/access/audit"
)

// Kinds of the documents; the ID is the name.
const (
	userKind  = "user"
	tokenKind = "token"
)

// byConfiguration is who made what the configuration provides.
const byConfiguration = "configuration"

// Openness says who may come in without logging in.
type Openness int

// Kinds of openness.
const (
	LogIn     Openness = iota // nobody
	LocalOpen                 // whoever is at this machine, as an engineer; others through a proxy read
	AllOpen                   // everybody, as an engineer: a rehearsal is no plant
)

// Options are what an Access is made of. Store must be given.
type Options struct {
	Store       store.Store
	Users       []User  // of the configuration
	Tokens      []Token // of the configuration
	Open        Openness
	Hosts       []string // names of this service, beside loopback ones, that LocalOpen answers to
	ReadOnly    bool     // nothing but users, tokens and one's own view can be changed
	Idle        time.Duration
	SessionFile string // keeps sessions over a restart; "": in memory only
	Base        string // path before every address
	Secure      bool   // people reach the pages by https
	Now         func() time.Time
	Log         *slog.Logger
}

// longestSession ends a login that is used all the time; a longer idle time
// counts instead.
const longestSession = 7 * 24 * time.Hour

// Access decides who may do what. It may be used by several goroutines.
type Access struct {
	options  Options
	audit    *audit.Log
	sessions *scs.SessionManager
	kept     *sessionStore
	guesses  chan struct{} // as many passwords are hashed at once as it holds
	decoy    hashed        // hashed for names that do not exist

	fromAddress, ofName, ofToken, badToken *limiter

	mu     sync.RWMutex
	users  map[string]*User
	tokens map[string]*Token
	key    *consoleKey // nil: the command line of this machine comes in by token only
}

// Open reads users and tokens.
func Open(ctx context.Context, o Options) (*Access, error) {
	if o.Store == nil {
		return nil, errors.New("access needs a store")
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	o.Idle = cmp.Or(o.Idle, 12*time.Hour)
	a := &Access{
		options: o, guesses: make(chan struct{}, 2), users: map[string]*User{}, tokens: map[string]*Token{},
		fromAddress: newLimiter(loginsFromAddress, o.Now), ofName: newLimiter(loginsOfName, o.Now),
		ofToken: newLimiter(callsOfToken, o.Now), badToken: newLimiter(badTokens, o.Now),
	}
	a.decoy = hashed{cost: usual, salt: make([]byte, saltSize), key: make([]byte, keySize)}
	var err error
	if a.audit, err = audit.Open(ctx, o.Store, o.Now); err != nil {
		return nil, err
	}
	if err := a.read(ctx); err != nil {
		return nil, err
	}
	if err := a.provision(); err != nil {
		return nil, err
	}
	a.kept = openSessionStore(o.SessionFile, o.Log)
	a.sessions = newSessions(o, a.kept)
	return a, nil
}

// Close keeps the sessions and takes the key of the command line away.
func (a *Access) Close() error { return errors.Join(a.lockConsole(), a.kept.save()) }

// Audit returns the log changes are written to.
func (a *Access) Audit() *audit.Log { return a.audit }

// Openness returns who may come in without logging in.
func (a *Access) Openness() Openness { return a.options.Open }

// provision adds what the configuration provides; it wins over what was made
// at run time under the same name.
func (a *Access) provision() error {
	for _, u := range a.options.Users {
		if _, err := parseHash(u.hash); err != nil {
			return fmt.Errorf("user %q of the configuration: %w", u.Name, err)
		}
		if _, err := ParseRole(string(u.Role)); err != nil {
			return fmt.Errorf("user %q of the configuration: %w", u.Name, err)
		}
		if _, taken := a.users[u.Name]; taken {
			a.options.Log.Warn("a user of the configuration takes the place of one added at run time", "user", u.Name)
		}
		a.users[u.Name] = &u
	}
	for _, t := range a.options.Tokens {
		if _, taken := a.tokens[t.Name]; taken {
			a.options.Log.Warn("a token of the configuration takes the place of one added at run time", "token", t.Name)
		}
		a.tokens[t.Name] = &t
	}
	return nil
}

// Users returns everybody, by name.
func (a *Access) Users() []User {
	a.mu.RLock()
	defer a.mu.RUnlock()
	return byName(a.users)
}

// Tokens returns every token, by name.
func (a *Access) Tokens() []Token {
	a.mu.RLock()
	defer a.mu.RUnlock()
	return byName(a.tokens)
}

func byName[T any](all map[string]*T) []T {
	out := make([]T, 0, len(all))
	for _, name := range slices.Sorted(maps.Keys(all)) {
		out = append(out, *all[name])
	}
	return out
}

// User finds a user.
func (a *Access) User(name string) (User, bool) {
	a.mu.RLock()
	defer a.mu.RUnlock()
	u, ok := a.users[name]
	if !ok {
		return User{}, false
	}
	return *u, true
}

// WhoHas returns the names of users with at least a role, those with the least
// of it first: whom to ask.
func (a *Access) WhoHas(r Role) []string {
	users := slices.DeleteFunc(a.Users(), func(u User) bool { return !u.Role.Includes(r) })
	slices.SortStableFunc(users, func(x, y User) int { return slices.Index(roles, x.Role) - slices.Index(roles, y.Role) })
	names := make([]string, len(users))
	for i, u := range users {
		names[i] = u.Shown()
	}
	return names
}

// Ready reports whether the service may be reached from other machines: an
// error says how to make the first admin when there is none.
func (a *Access) Ready() error {
	if a.options.Open == AllOpen || len(a.WhoHas(Admin)) > 0 {
		return nil
	}
	return ErrNoAdmin
}

// ErrNoAdmin says that nobody could log in.
var ErrNoAdmin = errors.New("there is no admin yet, so the pages are not opened to other machines; " +
	"make the first one with: bridlewatch user add --role admin NAME, with the same --config or --data")
