package config

import (
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"path"
	"strings"
)

// Secret is a value that no printer shows. It is written in a configuration
// only as a reference: "env:NAME", "file:PATH" or "credential:NAME" (a file in
// $CREDENTIALS_DIRECTORY, where the service manager puts credentials).
type Secret struct {
	Reference string
	value     *string // a pointer, so that even a printer of unexported fields shows an address
}

// Reveal returns the secret itself, "" when there is none or it was not read.
func (s Secret) Reveal() string {
	if s.value == nil {
		return ""
	}
	return *s.value
}

// IsZero reports whether no secret is configured.
func (s Secret) IsZero() bool { return s.Reference == "" }

// Equal reports whether both refer to the same place and hold the same value.
func (s Secret) Equal(other Secret) bool {
	return s.Reference == other.Reference && s.Reveal() == other.Reveal()
}

// String never shows the value.
func (s Secret) String() string {
	if s.Reference == "" {
		return ""
	}
	return "<secret from " + s.Reference + ">"
}

// GoString never shows the value.
func (s Secret) GoString() string { return s.String() }

// MarshalText never shows the value.
func (s Secret) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// LogValue never shows the value.
func (s Secret) LogValue() slog.Value { return slog.StringValue(s.String()) }

// vault reads secrets from where references point.
type vault struct {
	lookup   func(name string) (string, bool) // environment
	readFile func(name string) ([]byte, error)
	stat     func(name string) (fs.FileInfo, error)
	closed   bool     // check the references only
	asked    []string // environment variables that secrets refer to
}

var errLiteralSecret = errors.New(`a secret is never written here: write where it is kept, "env:NAME", "file:PATH" or "credential:NAME"`)

// open resolves a reference. No error ever shows the text that was given,
// because it may be the secret itself.
func (v *vault) open(reference string) (Secret, error) {
	kind, name, found := strings.Cut(reference, ":")
	if !found || name == "" || !(kind == "env" || kind == "file" || kind == "credential") {
		return Secret{}, errLiteralSecret
	}
	s := Secret{Reference: reference}
	if kind == "env" {
		v.asked = append(v.asked, name)
	}
	if v.closed {
		return s, nil
	}
	value, err := v.fetch(kind, name)
	if err != nil {
		return s, err
	}
	if value = strings.TrimRight(value, "\r\n"); value == "" {
		return s, fmt.Errorf("secret %s is empty", reference)
	}
	s.value = &value
	return s, nil
}

func (v *vault) fetch(kind, name string) (string, error) {
	switch kind {
	case "env":
		value, ok := v.lookup(name)
		if !ok {
			return "", fmt.Errorf("secret env:%s: the environment variable is not set", name)
		}
		return value, nil
	case "credential":
		if strings.ContainsAny(name, `/\`) {
			return "", fmt.Errorf("secret credential:%s: a credential has a plain name; use file: for a path", name)
		}
		dir, ok := v.lookup("CREDENTIALS_DIRECTORY")
		if !ok {
			return "", fmt.Errorf("secret credential:%s: $CREDENTIALS_DIRECTORY is not set; the service manager sets it (LoadCredential=)", name)
		}
		return v.read(kind, name, path.Join(dir, name))
	}
	return v.read(kind, name, name)
}

// exposed says how a file that holds a secret can be read by people who need
// not know it; "" when it cannot or is not known.
func (v *vault) exposed(s Secret) string {
	name, isFile := strings.CutPrefix(s.Reference, "file:")
	if !isFile || v.closed || v.stat == nil {
		return ""
	}
	info, err := v.stat(name)
	if err != nil || info.Mode().Perm()&0o004 == 0 {
		return ""
	}
	return fmt.Sprintf("%s can be read by everybody on this box (mode %04o): chmod o-r", name, info.Mode().Perm())
}

func (v *vault) read(kind, name, file string) (string, error) {
	data, err := v.readFile(file)
	if errors.Is(err, fs.ErrNotExist) {
		return "", fmt.Errorf("secret %s:%s: there is no file %s", kind, name, file)
	}
	if err != nil {
		return "", fmt.Errorf("secret %s:%s: %w", kind, name, err)
	}
	return string(data), nil
}

// writtenSecret is a secret as a configuration holds it: by its reference.
type writtenSecret Secret

// MarshalText returns the reference.
func (s writtenSecret) MarshalText() ([]byte, error) { return []byte(s.Reference), nil }
