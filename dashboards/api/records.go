package api

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"strconv"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"bridlewatch/compare/record"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/records"
	"bridlewatch/dashboards/units"
)

// book adds the calls about records and guided tests.
func (s *service) book(a huma.API) {
	if s.Records == nil {
		return
	}
	post := func(id, path, summary string) huma.Operation {
		return huma.Operation{OperationID: id, Method: http.MethodPost, Path: Prefix + path, Summary: summary, Middlewares: huma.Middlewares{withRequest}, DefaultStatus: http.StatusOK}
	}
	register(a, "list-records", "/records", "What people did, newest first", s.listRecords)
	register(a, "get-record", "/records/{number}", "One record as it is stored, with its SHA-256", s.getRecord)
	register(a, "verify-records", "/records/verification", "Whether the chain of all records holds", s.verifyRecords)
	register(a, "list-due", "/records/due", "When each gauge was last verified and, where the configuration says how often, is due; no interval is computed", s.due)
	huma.Register(a, post("add-record", "/records", "Book a record without readings"), s.addRecord)
	register(a, "get-test", "/gauges/{tag}/test", "The guided drain or fill test under way", s.getTest)
	huma.Register(a, post("begin-test", "/gauges/{tag}/test", "Begin a guided drain or fill test"), s.beginTest)
	huma.Register(a, post("take-readings", "/gauges/{tag}/test/readings", "Confirm an elevation: the readings of this moment are taken and judged"), s.takeReadings)
	huma.Register(a, post("record-switch", "/gauges/{tag}/test/switch", "Record where a point switch changed over"), s.recordSwitch)
	huma.Register(a, post("finish-test", "/gauges/{tag}/test/end", "Make a record of the test, or discard it"), s.endTest)
}

// pdf serves the printed form of a record.
func (s *service) pdf(w http.ResponseWriter, r *http.Request) {
	n, err := strconv.Atoi(r.PathValue("number"))
	if err != nil {
		http.Error(w, "records have numbers", http.StatusNotFound)
		return
	}
	e, err := s.Records.Get(r.Context(), n)
	if err != nil {
		http.Error(w, err.Error(), http.StatusNotFound)
		return
	}
	set, _ := units.Named(r.URL.Query().Get("units"))
	body, err := records.PDF(e, set)
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/pdf")
	_, _ = w.Write(body) // the reader has gone away
}

// RecordLine is a record in a list.
type RecordLine struct {
	Number     int       `json:"number"`
	Kind       string    `json:"kind"`
	Gauge      string    `json:"gauge"`
	Instrument string    `json:"instrument,omitempty"`
	At         time.Time `json:"at"`
	By         string    `json:"by"`
	Summary    string    `json:"summary"`
	SHA256     string    `json:"sha256"`
}

// RecordLineOf is a record as it stands in a list.
func RecordLineOf(e records.Entry) RecordLine {
	return RecordLine{e.Number, string(e.Kind), e.Gauge, e.Instrument, e.At, e.By, e.Summary(), e.Hash}
}

type recordsInput struct {
	Gauge string    `query:"gauge"`
	Kind  string    `query:"kind"`
	By    string    `query:"by" doc:"a part of the name"`
	From  time.Time `query:"from"`
	To    time.Time `query:"to" doc:"exclusive"`
	Limit int       `query:"limit" minimum:"1" maximum:"10000" default:"500"`
}

func (s *service) listRecords(ctx context.Context, in *recordsInput) (*body[[]RecordLine], error) {
	list, err := s.Records.List(ctx, records.Filter{Gauge: in.Gauge, Kind: record.Kind(in.Kind), By: in.By, From: in.From, To: in.To, Limit: in.Limit})
	if err != nil {
		return nil, huma.Error500InternalServerError(err.Error())
	}
	out := &body[[]RecordLine]{Body: []RecordLine{}}
	for _, e := range list {
		out.Body = append(out.Body, RecordLineOf(e))
	}
	return out, nil
}

// StoredRecord is a record with the hash of its bytes.
type StoredRecord struct {
	SHA256 string `json:"sha256" doc:"of the bytes of the field record as they are sent"`
	Record any    `json:"record" doc:"see the description of the stored form in the guide"`
}

func stored(e records.Entry) *body[StoredRecord] {
	return &body[StoredRecord]{StoredRecord{e.Hash, json.RawMessage(e.Body)}}
}

type byNumber struct {
	Number int `path:"number" minimum:"1"`
}

func (s *service) getRecord(ctx context.Context, in *byNumber) (*body[StoredRecord], error) {
	e, err := s.Records.Get(ctx, in.Number)
	if err != nil {
		return nil, declined(err)
	}
	return stored(e), nil
}

// Chain says whether the chain of records holds.
type Chain struct {
	Holds   bool   `json:"holds"`
	Records int    `json:"records" doc:"that hold, from the first"`
	SHA256  string `json:"sha256,omitempty" doc:"of the newest that holds; noted elsewhere, it also finds a chain cut short"`
	Trouble string `json:"trouble,omitempty"`
}

func (s *service) verifyRecords(ctx context.Context, _ *struct{}) (*body[Chain], error) {
	n, hash, err := s.Records.Verify(ctx)
	c := Chain{Holds: err == nil, Records: n, SHA256: hash}
	switch {
	case errors.Is(err, record.ErrChain):
		c.Trouble = err.Error()
	case err != nil:
		return nil, huma.Error500InternalServerError(err.Error())
	}
	return &body[Chain]{c}, nil
}

// Due is when a gauge was last verified.
type Due struct {
	Gauge   string    `json:"gauge"`
	Service string    `json:"service,omitempty"`
	Last    time.Time `json:"last,omitzero" doc:"absent: never, as far as the records go back"`
	Record  int       `json:"record,omitempty"`
	Every   int       `json:"every_days,omitempty" doc:"as the configuration says; absent: nobody has said"`
	Next    time.Time `json:"due,omitzero" doc:"absent where every_days is given: never verified, due at once"`
}

func (s *service) due(ctx context.Context, _ *struct{}) (*body[[]Due], error) {
	list, err := s.Records.Due(ctx)
	if err != nil {
		return nil, huma.Error500InternalServerError(err.Error())
	}
	return &body[[]Due]{DueOf(list)}, nil
}

// DueOf is the list of last verifications as the interface shows it.
func DueOf(list []records.Due) []Due {
	out := []Due{}
	for _, d := range list {
		line := Due{Gauge: d.Gauge, Service: d.Service, Every: d.Every, Next: d.Next}
		if d.Last != nil {
			line.Last, line.Record = d.Last.At, d.Last.Number
		}
		out = append(out, line)
	}
	return out
}

// NewRecord is a record without readings, to be booked.
type NewRecord struct {
	Kind       string    `json:"kind" enum:"inspection,float cleaned,set point changed,recalibrated,repaired,replaced,isolated,back in service,note"`
	Gauge      string    `json:"gauge"`
	Instrument string    `json:"instrument,omitempty" doc:"tag; empty: the whole gauge"`
	At         time.Time `json:"at,omitzero" doc:"when it was done; now when left out"`
	By         string    `json:"by,omitempty" doc:"name; not needed with log-in or token"`
	Permit     string    `json:"permit,omitempty"`
	Work       string    `json:"work" doc:"what was done"`
	Remarks    string    `json:"remarks,omitempty"`
	Corrects   int       `json:"corrects,omitempty" doc:"number of the record this one puts right"`
}

func (s *service) addRecord(ctx context.Context, in *body[NewRecord]) (*body[StoredRecord], error) {
	by, err := s.who(ctx, in.Body.By, plant.Technician)
	if err != nil {
		return nil, err
	}
	e, err := s.Records.Add(ctx, record.Record{Kind: record.Kind(in.Body.Kind), Gauge: in.Body.Gauge, Instrument: in.Body.Instrument, At: in.Body.At, By: by,
		Permit: in.Body.Permit, Work: in.Body.Work, Remarks: in.Body.Remarks, Corrects: in.Body.Corrects})
	if err != nil {
		return nil, declined(err)
	}
	return stored(e), nil
}

// declined answers with what the book said.
func declined(err error) error {
	var p record.Problems
	switch {
	case errors.As(err, &p):
		return huma.Error422UnprocessableEntity(p.Error())
	case errors.Is(err, records.ErrNone), errors.Is(err, records.ErrNoDraft):
		return huma.Error404NotFound(err.Error())
	case errors.Is(err, records.ErrMoved), errors.Is(err, records.ErrUnder):
		return huma.Error409Conflict(err.Error())
	case errors.Is(err, records.ErrReadOnly):
		return huma.Error403Forbidden(err.Error())
	}
	return huma.Error500InternalServerError(err.Error())
}
