// Package live hands fresh pieces of pages to the browsers that look at them.
// A piece is made once for everybody who looks at the same thing, at most
// once a second; a browser that reads slowly misses pieces and gets the newest.
package live

import (
	"sync"
	"time"
)

// Hub knows who looks at what. The zero value is not usable: see New.
type Hub struct {
	pause  time.Duration // least time between two pieces of a topic
	settle time.Duration // a piece is made again after this long without news

	mu     sync.RWMutex
	topics map[string]map[string]*topic // by tag and variant
	closed bool
}

// New makes a hub that makes a piece at most once per pause, and makes it
// again after settle without news so that a page also learns of silence.
func New(pause, settle time.Duration) *Hub {
	return &Hub{pause: pause, settle: settle, topics: map[string]map[string]*topic{}}
}

// Publish says that there is news about the tag. It never blocks; when nobody
// looks at the tag it is one look into a map.
func (h *Hub) Publish(tag string) {
	h.mu.RLock()
	defer h.mu.RUnlock()
	for _, t := range h.topics[tag] {
		select {
		case t.news <- struct{}{}:
		default:
		}
	}
}

// Viewer is one browser that looks at a topic.
type Viewer struct {
	// Pieces has the newest piece; older ones that were not read are dropped.
	// It is closed when the hub closes.
	Pieces <-chan []byte

	pieces chan []byte
	topic  *topic
	hub    *Hub
}

// topic is one thing looked at by at least one viewer.
type topic struct {
	tag, variant string
	build        func() []byte
	news         chan struct{}
	done         chan struct{}
	viewers      map[*Viewer]struct{} // guarded by the hub's mu
}

// Look starts looking at a tag in one variant (units, width, ...). build makes
// a piece; viewers of the same tag and variant share what one of them makes.
// ok is false when the hub is closed.
func (h *Hub) Look(tag, variant string, build func() []byte) (v *Viewer, ok bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.closed {
		return nil, false
	}
	if h.topics[tag] == nil {
		h.topics[tag] = map[string]*topic{}
	}
	t := h.topics[tag][variant]
	if t == nil {
		t = &topic{tag: tag, variant: variant, build: build, news: make(chan struct{}, 1), done: make(chan struct{}), viewers: map[*Viewer]struct{}{}}
		h.topics[tag][variant] = t
		go h.run(t)
	}
	pieces := make(chan []byte, 1)
	v = &Viewer{Pieces: pieces, pieces: pieces, topic: t, hub: h}
	t.viewers[v] = struct{}{}
	return v, true
}

// Leave ends looking. Calling it twice is harmless.
func (v *Viewer) Leave() {
	h, t := v.hub, v.topic
	h.mu.Lock()
	defer h.mu.Unlock()
	if _, there := t.viewers[v]; !there {
		return
	}
	delete(t.viewers, v)
	if len(t.viewers) > 0 {
		return
	}
	close(t.done)
	delete(h.topics[t.tag], t.variant)
	if len(h.topics[t.tag]) == 0 {
		delete(h.topics, t.tag)
	}
}

// Viewers returns how many browsers look now.
func (h *Hub) Viewers() int {
	h.mu.RLock()
	defer h.mu.RUnlock()
	n := 0
	for _, variants := range h.topics {
		for _, t := range variants {
			n += len(t.viewers)
		}
	}
	return n
}

// Close ends every topic and closes the Pieces of every viewer.
func (h *Hub) Close() {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.closed = true
	for tag, variants := range h.topics {
		for _, t := range variants {
			close(t.done)
			for v := range t.viewers {
				delete(t.viewers, v)
				close(v.pieces)
			}
		}
		delete(h.topics, tag)
	}
}

// run makes pieces until the last viewer has left.
func (h *Hub) run(t *topic) {
	settle := time.NewTicker(h.settle)
	defer settle.Stop()
	for {
		select {
		case <-t.done:
			return
		case <-t.news:
		case <-settle.C:
		}
		h.hand(t, t.build())
		settle.Reset(h.settle)
		select {
		case <-t.done:
			return
		case <-time.After(h.pause):
		}
	}
}

// hand gives a piece to every viewer in place of one it has not read.
func (h *Hub) hand(t *topic, piece []byte) {
	h.mu.RLock()
	defer h.mu.RUnlock()
	for v := range t.viewers {
		select {
		case <-v.pieces:
		default:
		}
		select {
		case v.pieces <- piece:
		default:
		}
	}
}
