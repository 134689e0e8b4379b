package access

import (
	"net/http"
	"slices"
)

// Mux is a multiplexer that knows what is registered with it.
type Mux struct {
	routes   http.ServeMux
	patterns []string
}

// Handle registers a handler.
func (m *Mux) Handle(pattern string, h http.Handler) {
	m.routes.Handle(pattern, h)
	m.patterns = append(m.patterns, pattern)
}

// HandleFunc registers a function.
func (m *Mux) HandleFunc(pattern string, h func(http.ResponseWriter, *http.Request)) {
	m.Handle(pattern, http.HandlerFunc(h))
}

// ServeHTTP answers without asking who it is: see Access.Gate.
func (m *Mux) ServeHTTP(w http.ResponseWriter, r *http.Request) { m.routes.ServeHTTP(w, r) }

// Patterns lists what is registered.
func (m *Mux) Patterns() []string { return slices.Clone(m.patterns) }

// pattern finds what answers a request.
func (m *Mux) pattern(r *http.Request) string {
	_, p := m.routes.Handler(r)
	return p
}
