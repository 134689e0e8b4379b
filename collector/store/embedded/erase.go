package embedded

import (
	"context"
	"fmt"
	"time"

	"bridlewatch/collector/store"
)

// Erase takes back what was recorded of series in [from, to) under one
// configuration version, such as the number of an import, and returns how
// many values that were. Their summaries follow.
func (db *DB) Erase(ctx context.Context, ids []store.ID, from, to time.Time, config uint32) (n int, err error) {
	if err := db.checkIDs(ids...); err != nil {
		return 0, err
	}
	if !from.Before(to) {
		return 0, fmt.Errorf("%w: nothing to erase from %s to %s", store.ErrInvalid, from.Format(time.RFC3339), to.Format(time.RFC3339))
	}
	db.sealed.gate.RLock()
	days := db.daysBefore(to.UnixMicro())
	db.sealed.gate.RUnlock()
	for _, day := range days {
		first, end := max(from.UnixMicro(), day*dayMicros), min(to.UnixMicro(), (day+1)*dayMicros)
		if first >= end {
			continue
		}
		k, err := db.eraseSpan(ctx, ids, span{first, end}, config)
		if n += k; err != nil {
			return n, err
		}
	}
	return n, nil
}

func (db *DB) eraseSpan(ctx context.Context, ids []store.ID, s span, config uint32) (n int, err error) {
	scans, err := db.rawScans(ctx, ids, s.from, s.to)
	if err != nil {
		return 0, err
	}
	var batch []store.Scan
	for _, scan := range scans {
		if scan.ConfigVersion != config {
			continue
		}
		for i := range scan.Values {
			scan.Values[i] = store.Value{ID: scan.Values[i].ID, Reason: store.Erased}
		}
		batch, n = append(batch, scan), n+len(scan.Values)
	}
	return n, db.AppendBatch(ctx, batch)
}
