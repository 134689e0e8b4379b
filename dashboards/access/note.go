package access

import (
	"bytes"
	"io"
	"net/http"
	"slices"
	"strings"
)

// noted answers a request that changes something and writes into the audit log
// that it did. What is changed has a journal of its own.
func (a *Access) noted(w http.ResponseWriter, r *http.Request, routes *Mux, need Need, by Actor) {
	var begin bytes.Buffer
	if strings.Contains(r.Header.Get("Content-Type"), "json") {
		r.Body = begun{io.TeeReader(r.Body, &brief{&begin}), r.Body}
	}
	seen := &statusWriter{ResponseWriter: w, status: http.StatusOK}
	routes.ServeHTTP(seen, r)
	if seen.status >= http.StatusBadRequest {
		return
	}
	if err := a.Record(r.Context(), by, need.What, r.URL.Path, "", asked(r, begin.String())); err != nil {
		a.options.Log.Error("a change is missing in the audit log", "what", need.What, "who", by.Name, "error", err)
	}
}

// asked is what was asked for, in words, without what is only of the form.
func asked(r *http.Request, body string) string {
	if body != "" {
		return body
	}
	var names []string
	for name := range r.PostForm {
		if name != "here" && !secretField(name) {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	var words []string
	for _, name := range names {
		if value := strings.Join(r.PostForm[name], ", "); value != "" {
			words = append(words, name+": "+shortened(value))
		}
	}
	return strings.Join(words, "; ")
}

// secretField reports whether a field of a form holds what is never written
// down.
func secretField(name string) bool {
	name = strings.ToLower(name)
	return strings.Contains(name, "password") || strings.Contains(name, "token") || strings.Contains(name, "secret")
}

// longestNote is how much of a field or body the audit log keeps, in bytes.
const longestNote = 2 << 10

func shortened(s string) string {
	if len(s) <= longestNote {
		return s
	}
	return strings.ToValidUTF8(s[:longestNote], "") + " ..."
}

// brief keeps the begin of what is written.
type brief struct{ *bytes.Buffer }

func (b *brief) Write(p []byte) (int, error) {
	b.Buffer.Write(p[:min(len(p), max(0, longestNote-b.Len()))])
	return len(p), nil
}

// begun reads a body that is listened to.
type begun struct {
	io.Reader
	io.Closer
}

// statusWriter remembers how a request was answered.
type statusWriter struct {
	http.ResponseWriter
	status int
}

func (w *statusWriter) WriteHeader(status int) {
	w.status = status
	w.ResponseWriter.WriteHeader(status)
}

// Unwrap lets a response controller reach the connection.
func (w *statusWriter) Unwrap() http.ResponseWriter { return w.ResponseWriter }
