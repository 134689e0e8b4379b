package main

import (
	"context"
	"fmt"

	"bridlewatch/dashboards/records"
)

// openBook opens the book of records and tells the comparison of what was
// booked and not remembered when the service stopped.
func (s *station) openBook(ctx context.Context, o stationOptions) (*records.Book, error) {
	b := records.NewBook(records.Options{
		Store: s.store, Plant: s.watch, Location: s.config.Site.TimeZone, Software: programVersion(),
		ReadOnly: s.config.Service.ReadOnly, Rehearsal: o.rehearsal != "", Post: s.watch.Post,
	})
	if err := b.Resume(ctx, s.watch.Remembers); err != nil {
		return nil, fmt.Errorf("read records: %w", err)
	}
	return b, nil
}
