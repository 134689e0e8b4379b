package dashboards

import (
	"fmt"
	"log/slog"
	"net/http"
	"runtime/debug"
	"strings"

	"github.com/klauspost/compress/gzhttp"

	"bridlewatch/dashboards/access"
	"bridlewatch/dashboards/api"
)

// contentPolicy lets a page load only what this service serves. There is no
// inline script and no inline style anywhere.
const contentPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; " +
	"form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// mostBytes is the size of the largest form that is taken.
const mostBytes = 1 << 20

// guarded puts the base path, the security headers, compression, a limit for
// forms and the protection against forms of other sites around the routes.
// upload is the size of the largest file that may be handed in, 0 when none is
// taken.
func guarded(base string, upload int64, routes http.Handler, failed http.HandlerFunc) http.Handler {
	h := limited(upload, recovered(failed, routes))
	h = http.NewCrossOriginProtection().Handler(h)
	h = compressed(h)
	h = headers(h)
	if base == "" {
		return h
	}
	mux := http.NewServeMux()
	mux.Handle(base+"/", http.StripPrefix(base, h))
	mux.Handle(base, http.RedirectHandler(base+"/", http.StatusMovedPermanently))
	return mux
}

// limited limits what is sent: a form everywhere, a file where files are handed
// in.
func limited(upload int64, next http.Handler) http.Handler {
	forms := http.MaxBytesHandler(next, mostBytes)
	files := http.MaxBytesHandler(next, mostBytes+upload)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/imports" || r.URL.Path == api.Prefix+"/imports" {
			files.ServeHTTP(w, r)
			return
		}
		forms.ServeHTTP(w, r)
	})
}

// recovered answers with an error page when a handler panics, and logs where.
// A connection whose answer has begun is dropped, as there is no other way to
// say that the rest is missing.
func recovered(failed http.HandlerFunc, next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		begun := &begunWriter{ResponseWriter: w}
		defer func() {
			reason := recover()
			if reason == nil {
				return
			}
			if reason == http.ErrAbortHandler {
				panic(reason)
			}
			slog.Error("a page could not be made", "address", r.URL.Path, "reason", fmt.Sprint(reason), "stack", string(debug.Stack()))
			if begun.begun {
				panic(http.ErrAbortHandler)
			}
			failed(w, r)
		}()
		next.ServeHTTP(begun, r)
	})
}

// begunWriter remembers whether an answer has begun.
type begunWriter struct {
	http.ResponseWriter
	begun bool
}

func (w *begunWriter) WriteHeader(status int) {
	w.begun = true
	w.ResponseWriter.WriteHeader(status)
}

func (w *begunWriter) Write(b []byte) (int, error) {
	w.begun = true
	return w.ResponseWriter.Write(b)
}

// Unwrap lets a response controller reach the connection.
func (w *begunWriter) Unwrap() http.ResponseWriter { return w.ResponseWriter }

func headers(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", contentPolicy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		next.ServeHTTP(w, r)
	})
}

// compressed packs answers, but never an event stream: a packer would hold
// events back.
func compressed(next http.Handler) http.Handler {
	packed := gzhttp.GzipHandler(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if strings.HasSuffix(r.URL.Path, "/events") {
			next.ServeHTTP(w, r)
			return
		}
		packed.ServeHTTP(w, r)
	})
}

// asked puts the gate before the routes, where there is one.
func asked(a *access.Access, routes *access.Mux, refuse access.Refuser) http.Handler {
	if a == nil {
		return routes
	}
	return a.Gate(routes, refuse)
}
