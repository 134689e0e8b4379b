package access

import (
	"crypto/sha256"
	"crypto/subtle"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"bridlewatch/collector/store/replacement"
)

// ConsoleFile is the name of the file in the data directory by which the
// command line of this machine reaches the service while it runs. Whoever may
// read it could read and change the data directory as well.
const ConsoleFile = "console.json"

// ConsoleUserHeader names the account of the operating system the command line
// runs under, for the audit log.
const ConsoleUserHeader = "Bridlewatch-Console-User"

// Console is what the file says.
type Console struct {
	URL         string `json:"url"`
	Key         string `json:"key"`
	Certificate string `json:"certificate,omitempty"` // SHA-256 of the service's certificate, hex
}

type consoleKey struct {
	file string
	sum  [sha256.Size]byte
}

// OpenConsole writes the file, with a new key at every start.
func (a *Access) OpenConsole(file string, c Console) error {
	key, err := mint()
	if err != nil {
		return err
	}
	c.Key = key
	text, err := json.Marshal(c)
	if err != nil {
		return fmt.Errorf("encode %s: %w", file, err)
	}
	if err := replacement.WriteBytes(file, 0o600, text); err != nil {
		return err
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	a.key = &consoleKey{file, sha256.Sum256([]byte(key))}
	return nil
}

// lockConsole takes the key away.
func (a *Access) lockConsole() error {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.key == nil {
		return nil
	}
	err := os.Remove(a.key.file)
	a.key = nil
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}

// console reports whether a text is the key of the command line.
func (a *Access) console(text string) bool {
	a.mu.RLock()
	defer a.mu.RUnlock()
	sum := sha256.Sum256([]byte(text))
	return a.key != nil && subtle.ConstantTimeCompare(a.key.sum[:], sum[:]) == 1
}

// ReadConsole reads the file.
func ReadConsole(file string) (c Console, err error) {
	text, err := os.ReadFile(file)
	if err != nil {
		return c, err
	}
	if err := json.Unmarshal(text, &c); err != nil {
		return c, fmt.Errorf("read %s: %w", file, err)
	}
	return c, nil
}
