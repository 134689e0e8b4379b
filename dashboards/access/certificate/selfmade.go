package certificate

import (
	"crypto/tls"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"time"

	"bridlewatch/collector/store/replacement"
)

// renewBefore is how long before its end a certificate made by the service is
// made anew.
const renewBefore = 30 * 24 * time.Hour

// Names of the files below the directory.
const (
	selfMadeCert = "pages.pem"
	selfMadeKey  = "pages.key"
)

// SelfMade keeps a certificate the service makes for itself: it is made when
// there is none in the directory, when it does not have the names people reach
// the box by, and before it ends. The addresses are put into it, and a change
// of them alone makes no new one: somebody has trusted it on every device.
func SelfMade(dir string, names, addresses []string, log *slog.Logger) (*Keeper, error) {
	return selfMade(dir, names, addresses, log, time.Now)
}

func selfMade(dir string, names, addresses []string, log *slog.Logger, now func() time.Time) (*Keeper, error) {
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("certificate of the pages: %w", err)
	}
	certFile, keyFile := filepath.Join(dir, selfMadeCert), filepath.Join(dir, selfMadeKey)
	hosts := slices.Concat(names, addresses)
	again := func() error { return renewed(certFile, keyFile, names, hosts, now()) }
	if !serves(certFile, keyFile, names, now()) {
		if err := again(); err != nil {
			return nil, err
		}
		log.Info("a certificate of the pages was made", "file", certFile, "for", names)
	}
	k, err := Open(certFile, keyFile, log)
	if err != nil {
		return nil, err
	}
	k.now, k.remake = now, again
	return k, nil
}

// serves reports whether the files hold a pair that lasts and has the names.
func serves(certFile, keyFile string, names []string, now time.Time) bool {
	c, err := tls.LoadX509KeyPair(certFile, keyFile)
	if err != nil || ends(&c, now) {
		return false
	}
	for _, n := range names {
		if c.Leaf.VerifyHostname(n) != nil {
			return false
		}
	}
	return true
}

// ends reports whether a certificate is to be made anew: it ends soon, or was
// made by a clock that was ahead and does not hold yet.
func ends(c *tls.Certificate, now time.Time) bool {
	return c.Leaf.NotAfter.Sub(now) < renewBefore || c.Leaf.NotBefore.After(now)
}

// before ends the names of the pair that was replaced.
const before = ".before"

// renewed puts another pair in the place of the one there is: the one before it
// where that still serves, as after a clock that was ahead, or a new one. What is
// replaced is kept, for somebody has trusted it on every device.
func renewed(certFile, keyFile string, names, hosts []string, now time.Time) error {
	if serves(certFile+before, keyFile+before, names, now) {
		return errors.Join(os.Rename(keyFile+before, keyFile), os.Rename(certFile+before, certFile))
	}
	for file, mode := range map[string]os.FileMode{certFile: certMode, keyFile: keyMode} {
		text, err := os.ReadFile(file)
		if err == nil {
			err = replacement.WriteBytes(file+before, mode, text)
		}
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("certificate of the pages: %w", err)
		}
	}
	return remake(certFile, keyFile, hosts, now)
}

// remake makes a new pair and puts it in the place of the old one. Half a pair
// serves nobody, and is made anew at the next start.
func remake(certFile, keyFile string, hosts []string, now time.Time) error {
	cert, key, err := issue(hosts, now)
	if err != nil {
		return err
	}
	if err := replacement.WriteBytes(keyFile, keyMode, key); err != nil {
		return fmt.Errorf("certificate of the pages: %w", err)
	}
	return replacement.WriteBytes(certFile, certMode, cert)
}

// Until is when the certificate ends.
func (k *Keeper) Until() time.Time {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.current.Leaf.NotAfter
}

// IsSelfMade reports whether the service makes the certificate itself.
func (k *Keeper) IsSelfMade() bool { return k.remake != nil }
