package live

import (
	"net/http"
	"time"
)

// Stream answers a request with server-sent events about the tag: one piece
// at once, then the newest after each news, until the browser leaves. Pieces
// must be whole events.
func (h *Hub) Stream(w http.ResponseWriter, r *http.Request, tag, variant string, build func() []byte) {
	viewer, ok := h.Look(tag, variant, build)
	if !ok {
		http.Error(w, "the service is stopping", http.StatusServiceUnavailable)
		return
	}
	defer viewer.Leave()
	control := http.NewResponseController(w)
	_ = control.SetWriteDeadline(time.Time{}) // a recorder in a test has no deadline
	w.Header().Set("Content-Type", "text/event-stream")
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("X-Accel-Buffering", "no")
	for piece, open := build(), true; open; {
		if _, err := w.Write(piece); err != nil {
			return
		}
		if err := control.Flush(); err != nil {
			return
		}
		select {
		case <-r.Context().Done():
			return
		case piece, open = <-viewer.Pieces:
		}
	}
}
