package main

import (
	"context"
	"fmt"
	"log/slog"
	"math"
	"time"

	"github.com/prometheus/prometheus/model/labels"
	"github.com/prometheus/prometheus/storage"
	engines "github.com/prometheus/prometheus/tsdb"
	"github.com/prometheus/prometheus/tsdb/chunkenc"
	"github.com/prometheus/prometheus/util/compression"
)

// tsdb is the storage engine of Prometheus inside this process, with its log
// compressed and its blocks compacted as it grows.
type tsdb struct {
	db   *engines.DB
	refs []storage.SeriesRef
}

func (t *tsdb) name() string { return "Prometheus TSDB" }

func (t *tsdb) process() int { return 0 }

func (t *tsdb) open(dir string, _ time.Time) (err error) {
	t.refs = make([]storage.SeriesRef, signals)
	o := engines.DefaultOptions()
	o.RetentionDuration = int64(20 * 365 * 24 * time.Hour / time.Millisecond)
	o.MaxBlockDuration = int64(31 * 24 * time.Hour / time.Millisecond)
	o.WALCompression = compression.Snappy
	if t.db, err = engines.Open(dir, slog.New(slog.DiscardHandler), nil, o, nil); err != nil {
		return err
	}
	t.db.DisableCompactions() // done below, where it is counted
	return nil
}

func (t *tsdb) write(day time.Time, columns [][]float64) error {
	for tick := 0; tick < aDay; tick += commit {
		a := t.db.Appender(context.Background())
		for k := tick; k < tick+commit; k++ {
			at := day.Add(time.Duration(k) * every).UnixMilli()
			for i := range columns {
				ref, err := a.Append(t.refs[i], labels.FromStrings("__name__", "value", "gauge", "LG-101", "signal", fmt.Sprint(i)), at, columns[i][k])
				if err != nil {
					return err
				}
				t.refs[i] = ref
			}
		}
		if err := a.Commit(); err != nil {
			return err
		}
	}
	return t.db.Compact(context.Background())
}

func (t *tsdb) settle() error { return t.db.Compact(context.Background()) }

func (t *tsdb) trend(from, to time.Time) (n int, err error) {
	q, err := t.db.Querier(from.UnixMilli(), to.UnixMilli()-1)
	if err != nil {
		return 0, err
	}
	defer q.Close()
	step := to.Sub(from).Milliseconds()/width + 1
	set := q.Select(context.Background(), false, nil, labels.MustNewMatcher(labels.MatchEqual, "__name__", "value"))
	for set.Next() {
		var low, high, sum [width + 1]float64
		for b := range low {
			low[b], high[b] = math.Inf(1), math.Inf(-1)
		}
		it := set.At().Iterator(nil)
		for it.Next() == chunkenc.ValFloat {
			at, v := it.At()
			b := (at - from.UnixMilli()) / step
			low[b], high[b], sum[b] = math.Min(low[b], v), math.Max(high[b], v), sum[b]+v
			n++
		}
		if err := it.Err(); err != nil {
			return n, err
		}
	}
	return n, set.Err()
}

func (t *tsdb) close() error { return t.db.Close() }
