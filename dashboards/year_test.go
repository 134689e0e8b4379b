package dashboards

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/dashboards/plant/planttest"
	"bridlewatch/dashboards/trend"
)

// BenchmarkYear is what a page of a gauge with a year of history costs the
// service when the history is on a disk: the page itself and the data of its
// plot, one sample in ten minutes.
func BenchmarkYear(b *testing.B) {
	s, err := New(Options{Plant: planttest.Varied(), Store: yearStore(b, "LG-102")})
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	for name, address := range map[string]string{"page": "/gauge/LG-102/trend?last=8760h", "data": "/gauge/LG-102/trend.json?last=8760h&width=1200"} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				w := httptest.NewRecorder()
				s.Handler().ServeHTTP(w, httptest.NewRequest(http.MethodGet, address, nil))
				if w.Code != http.StatusOK {
					b.Fatal(w.Code)
				}
			}
		})
	}
}

// yearStore keeps a year of a gauge on a disk, its days sealed as those of a
// service that ran all the time.
func yearStore(tb testing.TB, tag string) *embedded.DB {
	tb.Helper()
	ctx := context.Background()
	now := planttest.Now
	db, err := embedded.Open(ctx, embedded.Options{Dir: tb.TempDir(), Now: func() time.Time { return now }, Upkeep: -1})
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() {
		if err := db.Close(); err != nil {
			tb.Error(err)
		}
	})
	if err := fillYear(ctx, db, tag); err != nil {
		tb.Fatal(err)
	}
	now = now.Add(6 * time.Hour) // nothing came since: the days may be sealed
	if err := db.Upkeep(ctx); err != nil {
		tb.Fatal(err)
	}
	now = planttest.Now
	return db
}

func fillYear(ctx context.Context, db *embedded.DB, tag string) error {
	var series []store.Series
	for _, l := range trend.Lines(planttest.Sheet(tag)) {
		series = append(series, store.Series{Gauge: tag, Name: l.Name, Class: store.Derived, Unit: "m"})
	}
	ids, err := db.Register(ctx, series)
	if err != nil {
		return err
	}
	var scans []store.Scan
	for at := planttest.Now.Add(-365 * 24 * time.Hour); at.Before(planttest.Now); at = at.Add(10 * time.Minute) {
		scan := store.Scan{Time: at}
		for i, id := range ids {
			scan.Values = append(scan.Values, store.Value{ID: id, Value: 0.5 + 0.1*math.Sin(float64(at.Unix()+int64(i))/7e4), Quality: 4})
		}
		if scans = append(scans, scan); len(scans) == 1000 {
			if err := db.AppendBatch(ctx, scans); err != nil {
				return fmt.Errorf("until %s: %w", at, err)
			}
			scans = scans[:0]
		}
	}
	return db.AppendBatch(ctx, scans)
}
