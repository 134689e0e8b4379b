package pair

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"github.com/nats-io/nats.go/jetstream"
	"github.com/nats-io/nuid"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/replacement"
)

// JournalOptions say what the two boxes tell each other.
type JournalOptions struct {
	Store store.Store
	Dir   string   // where it is kept how far they are
	Kinds []string // of the documents they tell each other
	Once  []string // of them those that never get a second version
}

// Journal carries the documents of the box that serves to the one that stands
// by: alerts, what was sent about them, records.
type Journal struct {
	p *Pair
	o JournalOptions

	mu sync.Mutex
	at position
}

// position is how far a box is. Losing it repeats and loses nothing.
type position struct {
	ID    string `json:"id"`    // of the history
	Told  int64  `json:"told"`  // newest document of ours that is in the journal
	Heard uint64 `json:"heard"` // newest message that was read
}

// letter is one document in the journal.
type letter struct {
	From  string    `json:"from"` // history it comes from
	Kind  string    `json:"kind"`
	ID    string    `json:"id"`
	Gauge string    `json:"gauge,omitempty"`
	Time  time.Time `json:"time"`
	Body  []byte    `json:"body"` // as it is, to the byte: records are chained by it
}

// OpenJournal finds out how far this box is.
func (p *Pair) OpenJournal(o JournalOptions) (*Journal, error) {
	j := &Journal{p: p, o: o}
	text, err := os.ReadFile(j.file())
	switch {
	case errors.Is(err, fs.ErrNotExist):
		j.at.ID = nuid.Next()
		return j, j.save()
	case err != nil:
		return nil, fmt.Errorf("pair: journal: %w", err)
	}
	if err := json.Unmarshal(text, &j.at); err != nil {
		return nil, fmt.Errorf("pair: %s cannot be read: %w; remove it, then documents are told again", j.file(), err)
	}
	return j, nil
}

func (j *Journal) file() string { return filepath.Join(j.o.Dir, "journal.json") }

// save remembers how far this box is. A file cut short would keep it from its
// turns.
func (j *Journal) save() error {
	text, err := json.Marshal(j.at)
	if err != nil {
		return fmt.Errorf("pair: journal: %w", err)
	}
	if err := replacement.WriteBytes(j.file(), 0o600, text); err != nil {
		return fmt.Errorf("pair: journal: %w", err)
	}
	return nil
}

// page is how many documents are looked at in one step.
const page = 500

// Tell puts into the journal what this box has stored since.
func (j *Journal) Tell(ctx context.Context) error {
	j.mu.Lock()
	defer j.mu.Unlock()
	for {
		docs, err := j.o.Store.Documents(ctx, store.Query{After: j.at.Told, Limit: page})
		if err != nil || len(docs) == 0 {
			return err
		}
		for i := range docs {
			if err := j.tell(ctx, &docs[i]); err != nil {
				return err
			}
			j.at.Told = docs[i].Seq
		}
		if err := j.save(); err != nil {
			return err
		}
	}
}

func (j *Journal) tell(ctx context.Context, d *store.Document) error {
	if !slices.Contains(j.o.Kinds, d.Kind) {
		return nil
	}
	text, err := json.Marshal(letter{From: j.at.ID, Kind: d.Kind, ID: d.ID, Gauge: d.Gauge, Time: d.Time, Body: d.Body})
	if err != nil {
		return fmt.Errorf("pair: journal: %w", err)
	}
	packed, err := pack(text)
	if err != nil {
		return err
	}
	_, err = j.p.js.Publish(ctx, j.subject(), packed, jetstream.WithMsgID(fmt.Sprintf("%s-%d", j.at.ID, d.Seq)))
	if err != nil {
		return fmt.Errorf("pair: tell the other box of %s %s: %w", d.Kind, d.ID, err)
	}
	return nil
}

func (j *Journal) subject() string { return j.p.o.Bucket + "-journal." + j.p.key }

// Hear stores what the other box has told since. Nothing else may put
// documents into the store meanwhile, and everything of ours must be told.
func (j *Journal) Hear(ctx context.Context) (adopted int, err error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	begun := j.at.Heard
	for {
		m, err := j.p.journal.GetMsg(ctx, j.at.Heard+1, jetstream.WithGetMsgSubject(j.subject()))
		if errors.Is(err, jetstream.ErrMsgNotFound) {
			break
		}
		if err != nil {
			return adopted, fmt.Errorf("pair: journal: %w", err)
		}
		if m.Sequence <= j.at.Heard { // the server has lost the journal and began anew
			j.at.Heard = 0
			continue
		}
		new, err := j.take(ctx, m.Data)
		if err != nil {
			return adopted, err
		}
		if new {
			adopted++
		}
		j.at.Heard = m.Sequence
	}
	if j.at.Heard == begun {
		return 0, nil
	}
	newest, err := j.o.Store.Documents(ctx, store.Query{Newest: true, Limit: 1})
	if err == nil && len(newest) == 1 {
		j.at.Told = newest[0].Seq // what was adopted needs no telling
	}
	return adopted, errors.Join(err, j.save())
}

// take stores one letter, unless it is our own or says nothing new.
func (j *Journal) take(ctx context.Context, packed []byte) (new bool, err error) {
	text, err := unpack(packed)
	if err != nil {
		return false, err
	}
	var l letter
	if err := json.Unmarshal(text, &l); err != nil {
		return false, fmt.Errorf("pair: journal: %w", err)
	}
	if l.From == j.at.ID {
		return false, nil
	}
	d := store.Document{Kind: l.Kind, ID: l.ID, Gauge: l.Gauge, Time: l.Time, Body: l.Body}
	known, err := j.o.Store.Documents(ctx, store.Query{Kind: l.Kind, ID: l.ID, Latest: true})
	switch {
	case err != nil:
		return false, err
	case len(known) == 0:
	case bytes.Equal(known[0].Body, l.Body):
		return false, nil
	case slices.Contains(j.o.Once, l.Kind): // both boxes wrote one while they could not hear of each other
		d.Kind, d.ID = l.Kind+"-aside", l.ID+" of "+l.From
		j.p.o.Log.Error("the other box has another document of this number; it was kept aside", "kind", l.Kind, "id", l.ID, "kept as", d.Kind+" "+d.ID)
	case known[0].Time.After(l.Time):
		return false, nil
	}
	_, err = j.o.Store.Put(ctx, d)
	return err == nil, err
}
