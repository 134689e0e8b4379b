package access

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/http"
	"os"
	"sync"
	"time"

	"github.com/alexedwards/scs/v2"

	"bridlewatch/collector/store/replacement"
)

// SessionCookie is the name of the cookie.
const SessionCookie = "bridlewatch-session"

// What a session holds.
const (
	sessionUser = "user"
	sessionMark = "mark" // of the user when the session began
)

// newSessions sets up sessions: idle and absolute limit, cookies no script and
// no other site gets, only hashes of tokens in the store. It is not made by
// scs.New, which starts a store of its own that nothing stops.
func newSessions(o Options, kept *sessionStore) *scs.SessionManager {
	kept.longest = max(longestSession, o.Idle)
	return &scs.SessionManager{
		Store: kept, HashTokenInStore: true, Codec: scs.GobCodec{},
		IdleTimeout: o.Idle, Lifetime: kept.longest,
		Cookie: scs.SessionCookie{
			Name: SessionCookie, Path: o.Base + "/", HttpOnly: true, SameSite: http.SameSiteLaxMode, Secure: o.Secure, Persist: true,
		},
		ErrorFunc: func(w http.ResponseWriter, r *http.Request, err error) {
			o.Log.Error("session failed", "error", err)
			http.Error(w, "The session could not be read; log in again.", http.StatusInternalServerError)
		},
	}
}

// sessionStore keeps sessions in memory and in one small file, so that a
// restart throws nobody out. The keys are hashes of what the browsers hold.
type sessionStore struct {
	file    string
	log     *slog.Logger
	longest time.Duration // a session lasts

	mu    sync.Mutex
	items map[string]keptSession
	ended map[string]time.Time // a request still under way must not bring an ended session back
	saved time.Time
}

type keptSession struct {
	Data   []byte    `json:"data"`
	Expiry time.Time `json:"expiry"`
}

const (
	saveEvery    = time.Minute // of mere use; beginnings and ends are saved at once
	longestReply = time.Hour   // of a request that saw a session end
)

var _ scs.Store = (*sessionStore)(nil)

// openSessionStore reads the file. What cannot be read costs logins, nothing
// else.
func openSessionStore(file string, log *slog.Logger) *sessionStore {
	s := &sessionStore{file: file, log: log, items: map[string]keptSession{}, ended: map[string]time.Time{}}
	if file == "" {
		return s
	}
	text, err := os.ReadFile(file)
	if err == nil {
		err = json.Unmarshal(text, &s.items)
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		log.Warn("sessions of before cannot be read; people log in again", "file", file, "error", err)
	}
	if s.items == nil {
		s.items = map[string]keptSession{}
	}
	return s
}

// Find returns a session that has not run out.
func (s *sessionStore) Find(key string) ([]byte, bool, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	item, ok := s.items[key]
	if left := time.Until(item.Expiry); !ok || left <= 0 || s.longest > 0 && left > s.longest {
		return nil, false, nil // over, or begun by a clock that was ahead
	}
	return item.Data, true, nil
}

// Commit keeps a session, unless it was ended while the request was under way.
func (s *sessionStore) Commit(key string, data []byte, expiry time.Time) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if _, over := s.ended[key]; over {
		return nil
	}
	_, known := s.items[key]
	s.items[key] = keptSession{data, expiry}
	if known && time.Since(s.saved) < saveEvery {
		return nil
	}
	return s.write()
}

// Delete ends a session.
func (s *sessionStore) Delete(key string) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.ended[key] = time.Now()
	if _, known := s.items[key]; !known {
		return nil
	}
	delete(s.items, key)
	return s.write()
}

func (s *sessionStore) save() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.write()
}

// write forgets what has run out and replaces the file. A full disk is no
// reason to keep people out.
func (s *sessionStore) write() error {
	now := time.Now()
	for key, item := range s.items {
		if !now.Before(item.Expiry) {
			delete(s.items, key)
		}
	}
	for key, at := range s.ended {
		if now.Sub(at) > longestReply {
			delete(s.ended, key)
		}
	}
	s.saved = now
	if s.file == "" {
		return nil
	}
	text, err := json.Marshal(s.items)
	if err != nil {
		return fmt.Errorf("encode sessions: %w", err)
	}
	if err := replacement.WriteBytes(s.file, 0o600, text); err != nil {
		s.log.Warn("sessions are not kept over a restart", "error", err)
	}
	return nil
}
