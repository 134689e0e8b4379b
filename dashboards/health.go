package dashboards

import (
	"encoding/json"
	"net/http"
)

// alive answers while the process runs.
func alive(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	_, _ = w.Write([]byte("alive\n")) // the asker has gone away
}

// ready answers whether the service does its job, and what does not.
func ready(p Plant) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		reasons, ok := p.Health().Ready()
		answer, err := json.Marshal(struct {
			Ready   bool     `json:"ready"`
			Reasons []string `json:"reasons,omitempty"`
		}{ok, reasons})
		if err != nil {
			http.Error(w, err.Error(), http.StatusInternalServerError)
			return
		}
		w.Header().Set("Content-Type", "application/json")
		if !ok {
			w.WriteHeader(http.StatusServiceUnavailable)
		}
		_, _ = w.Write(append(answer, '\n')) // the asker has gone away
	}
}
