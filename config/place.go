package config

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode"
)

// Place is a position in a configuration file, or the name of the flag or
// environment variable a value came from (then Line is 0).
type Place struct {
	File         string
	Line, Column int
	Path         string // of the key, e.g. "gauges[LG-101].float.mass"
}

// String returns "file:line:column: path".
func (p Place) String() string {
	s := p.position()
	switch {
	case s == "":
		return p.Path
	case p.Path == "":
		return s
	}
	return s + ": " + p.Path
}

// below is the same position with a longer path.
func (p Place) below(name string) Place {
	p.Path = join(p.Path, name)
	return p
}

func (p Place) position() string {
	if p.Line == 0 {
		return p.File
	}
	return fmt.Sprintf("%s:%d:%d", p.File, p.Line, p.Column)
}

// Problem is one thing wrong with a configuration.
type Problem struct {
	Place   Place
	Message string
}

func (p Problem) String() string {
	if where := p.Place.String(); where != "" {
		return where + ": " + p.Message
	}
	return p.Message
}

// problem makes a Problem whose message takes one line, whatever was written.
func problem(at Place, format string, args ...any) Problem {
	text := strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		return ' '
	}, fmt.Sprintf(format, args...))
	return Problem{at, text}
}

// Errors is everything wrong with a configuration, sorted by place.
type Errors []Problem

// Error returns one problem per line, each "file:line:column: path: message".
func (e Errors) Error() string {
	lines := make([]string, len(e))
	for i, p := range e {
		lines[i] = p.String()
	}
	return strings.Join(lines, "\n")
}

// sorted returns the problems by file, line and column, each once.
func (e Errors) sorted() Errors {
	slices.SortStableFunc(e, func(a, b Problem) int {
		return cmp.Or(
			strings.Compare(a.Place.File, b.Place.File),
			cmp.Compare(a.Place.Line, b.Place.Line),
			cmp.Compare(a.Place.Column, b.Place.Column),
			strings.Compare(a.Place.Path, b.Place.Path))
	})
	return slices.Compact(e)
}
