package dashboards

import (
	"net/http"
	"strings"

	"github.com/klauspost/compress/gzhttp"
)

// contentPolicy lets a page load only what this service serves. There is no
// inline script and no inline style anywhere.
const contentPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; " +
	"form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// guarded puts the base path, the security headers, compression and the
// protection against forms of other sites around the routes.
func guarded(base string, routes http.Handler) http.Handler {
	h := http.NewCrossOriginProtection().Handler(routes)
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
