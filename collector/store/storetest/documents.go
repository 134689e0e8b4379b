package storetest

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bridlewatch/collector/store"
)

func runDocuments(t *testing.T, open func(*testing.T) store.Store) {
	t.Run("versions are linked and increase", func(t *testing.T) { versions(t, open(t)) })
	t.Run("a stale change is refused", func(t *testing.T) { staleChange(t, open(t)) })
	t.Run("what is not a document is refused", func(t *testing.T) { refuseDocument(t, open(t)) })
	t.Run("queries", func(t *testing.T) { queries(t, open(t)) })
}

func mustPut(t *testing.T, s store.Store, d store.Document) int64 {
	t.Helper()
	seq, err := s.Put(t.Context(), d)
	if err != nil {
		t.Fatalf("put %s %s: %v", d.Kind, d.ID, err)
	}
	return seq
}

func versions(t *testing.T, s store.Store) {
	d := store.Document{Kind: "record", ID: "R-1", Gauge: "LG-101", Time: Start, Body: body(t, map[string]any{"found_mm": 4})}
	first := mustPut(t, s, d)
	other := mustPut(t, s, store.Document{Kind: "record", ID: "R-2", Time: Start, Body: []byte(`{}`)})
	d.Body = body(t, map[string]any{"found_mm": 5})
	second := mustPut(t, s, d)
	if first <= 0 || other <= first || second <= other {
		t.Fatalf("sequence %d, %d, %d does not increase", first, other, second)
	}
	got, err := s.Documents(t.Context(), store.Query{Kind: "record", ID: "R-1"})
	if err != nil {
		t.Fatal(err)
	}
	want := []store.Document{d, d}
	want[0].Seq, want[0].Body = first, []byte(`{"found_mm":4}`)
	want[1].Seq, want[1].Replaces = second, first
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("versions (-want +got):\n%s", diff)
	}
}

func staleChange(t *testing.T, s store.Store) {
	d := store.Document{Kind: "record", ID: "R-1", Time: Start, Body: []byte(`1`)}
	first := mustPut(t, s, d)
	d.Replaces, d.Body = first, []byte(`2`)
	mustPut(t, s, d)
	d.Body = []byte(`3`)
	_, err := s.Put(t.Context(), d)
	wantError(t, err, store.ErrConflict)
	got, err := s.Documents(t.Context(), store.Query{Latest: true})
	if err != nil || len(got) != 1 || string(got[0].Body) != `2` {
		t.Errorf("got %d documents %+v, error %v; want the body 2", len(got), got, err)
	}
}

func refuseDocument(t *testing.T, s store.Store) {
	for name, d := range map[string]store.Document{
		"no kind":  {ID: "1", Time: Start, Body: []byte(`{}`)},
		"no ID":    {Kind: "record", Time: Start, Body: []byte(`{}`)},
		"no body":  {Kind: "record", ID: "1", Time: Start},
		"not JSON": {Kind: "record", ID: "1", Time: Start, Body: []byte(`{`)},
	} {
		_, err := s.Put(t.Context(), d)
		t.Run(name, func(t *testing.T) { wantError(t, err, store.ErrInvalid) })
	}
}

func queries(t *testing.T, s store.Store) {
	put := func(kind, id, gauge string, hour int) int64 {
		return mustPut(t, s, store.Document{Kind: kind, ID: id, Gauge: gauge, Time: Start.Add(time.Duration(hour) * time.Hour), Body: []byte(`{}`)})
	}
	a := put("episode", "E-1", "LG-101", 0)
	b := put("episode", "E-2", "LG-102", 1)
	c := put("record", "R-1", "LG-101", 2)
	d := put("episode", "E-1", "LG-101", 3)
	for _, q := range []struct {
		name  string
		query store.Query
		want  []int64
	}{
		{"all", store.Query{}, []int64{a, b, c, d}},
		{"kind", store.Query{Kind: "episode"}, []int64{a, b, d}},
		{"newest first", store.Query{Kind: "episode", Newest: true}, []int64{d, b, a}},
		{"latest versions", store.Query{Kind: "episode", Latest: true}, []int64{b, d}},
		{"gauge", store.Query{Gauge: "LG-101"}, []int64{a, c, d}},
		{"id", store.Query{Kind: "episode", ID: "E-2"}, []int64{b}},
		{"after", store.Query{After: b}, []int64{c, d}},
		{"limit", store.Query{Limit: 2}, []int64{a, b}},
		{"time", store.Query{From: Start.Add(time.Hour), To: Start.Add(3 * time.Hour)}, []int64{b, c}},
		{"nothing", store.Query{Kind: "no such"}, nil},
	} {
		t.Run(q.name, func(t *testing.T) {
			docs, err := s.Documents(t.Context(), q.query)
			if err != nil {
				t.Fatal(err)
			}
			var got []int64
			for _, d := range docs {
				got = append(got, d.Seq)
			}
			if diff := cmp.Diff(q.want, got); diff != "" {
				t.Errorf("documents (-want +got):\n%s", diff)
			}
		})
	}
}
