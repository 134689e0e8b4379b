package main

import (
	"context"
	"fmt"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
)

// here is this project's store, sealed day by day.
type here struct {
	db  *embedded.DB
	ids []store.ID
	dir string
}

func (h *here) name() string { return "bridlewatch" }

func (h *here) process() int { return 0 }

func (h *here) open(dir string, _ time.Time) (err error) {
	h.dir = dir
	if h.db, err = embedded.Open(context.Background(), embedded.Options{Dir: dir, Upkeep: -1}); err != nil {
		return err
	}
	var names []store.Series
	for i := range signals {
		names = append(names, store.Series{Gauge: "LG-101", Name: fmt.Sprintf("S-%d", i), Unit: "mA"})
	}
	h.ids, err = h.db.Register(context.Background(), names)
	return err
}

func (h *here) write(day time.Time, columns [][]float64) error {
	scans := make([]store.Scan, commit)
	for tick := 0; tick < aDay; tick += len(scans) {
		for k := range scans {
			values := make([]store.Value, signals)
			for i := range values {
				values[i] = store.Value{ID: h.ids[i], Value: columns[i][tick+k], Quality: 4}
			}
			scans[k] = store.Scan{Time: day.Add(time.Duration(tick+k) * every), Values: values}
		}
		if err := h.db.AppendBatch(context.Background(), scans); err != nil {
			return err
		}
	}
	return h.db.SealBefore(context.Background(), day.AddDate(0, 0, 1))
}

func (h *here) settle() error { return nil }

func (h *here) trend(from, to time.Time) (n int, err error) {
	t, err := h.db.Trend(context.Background(), h.ids, from, to, width)
	for _, c := range t.Columns {
		for _, b := range c {
			n += int(b.Count)
		}
	}
	return n, err
}

func (h *here) close() error { return h.db.Close() }
