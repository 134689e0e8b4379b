package api

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"bridlewatch/compare/quantity"
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
	register(a, "list-due", "/records/due", "When each gauge was last verified, longest ago first; no interval is computed", s.due)
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
		line := Due{Gauge: d.Gauge, Service: d.Service}
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

// GuidedTest is a guided test under way.
type GuidedTest struct {
	Version    int64           `json:"version" doc:"name it in the next step"`
	Began      time.Time       `json:"began"`
	Elevations []TestElevation `json:"elevations"`
	Untested   []string        `json:"not_tested"`
	Record     any             `json:"record" doc:"so far"`
}

// TestElevation is a place to stop at.
type TestElevation struct {
	M    float64 `json:"m" doc:"above the lower tap"`
	Why  string  `json:"why"`
	Done bool    `json:"done"`
}

func testOf(d *records.Draft) *body[GuidedTest] {
	t := GuidedTest{Version: d.Seq, Began: d.Record.Began, Elevations: []TestElevation{}, Untested: d.Record.Untested()}
	for _, e := range d.Elevation {
		t.Elevations = append(t.Elevations, TestElevation{float64(e.At), e.Why, d.Has(e)})
	}
	text, err := json.Marshal(d.Record)
	if err == nil { // it was stored in this form
		t.Record = json.RawMessage(text)
	}
	return &body[GuidedTest]{t}
}

func (s *service) getTest(ctx context.Context, in *ByTag) (*body[GuidedTest], error) {
	if _, err := s.find(in.Tag); err != nil {
		return nil, err
	}
	d, err := s.Records.Draft(ctx, in.Tag)
	if err != nil {
		return nil, declined(err)
	}
	return testOf(d), nil
}

// step is what every step of a test begins with: who, and at which gauge.
func (s *service) step(ctx context.Context, tag, given string) (g plant.GaugeView, by string, err error) {
	if g, err = s.find(tag); err != nil {
		return g, "", err
	}
	by, err = s.who(ctx, given, plant.Technician)
	return g, by, err
}

// BeginTest is what a guided test begins with. Lengths are metres.
type BeginTest struct {
	Kind         string  `json:"kind,omitempty" enum:"drain test,verification" default:"drain test"`
	By           string  `json:"by,omitempty"`
	Permit       string  `json:"permit,omitempty"`
	Method       string  `json:"method,omitempty"`
	Reference    string  `json:"reference" doc:"what the instruments are held against"`
	Serial       string  `json:"serial,omitempty"`
	ReferenceDue string  `json:"reference_due,omitempty" doc:"yyyy-mm-dd"`
	ReferenceU   float64 `json:"reference_u_m" doc:"expanded uncertainty (k = 2) of one reading"`
	Filling      bool    `json:"filling,omitempty" doc:"upwards"`
	Allowed      float64 `json:"allowed_m,omitempty" doc:"0: what each instrument's own budget says"`
	TripsMay     float64 `json:"trips_may_m" doc:"what a trip point may differ by"`
	Isolate      bool    `json:"isolate,omitempty" doc:"book the chamber as isolated"`
	Confirmed    bool    `json:"confirmed" doc:"the work is permitted by the site and the people are competent"`
}

func (s *service) beginTest(ctx context.Context, in *struct {
	ByTag
	Body BeginTest
}) (*body[GuidedTest], error) {
	b := in.Body
	g, by, err := s.step(ctx, in.Tag, b.By)
	if err != nil {
		return nil, err
	}
	kind := record.Kind(b.Kind)
	if kind == "" {
		kind = record.DrainTest
	}
	d, err := s.Records.Begin(ctx, g, records.Start{Kind: kind, By: by, Permit: b.Permit, Method: b.Method, Filling: b.Filling, Allowed: quantity.Length(b.Allowed),
		TripsMay: quantity.Length(b.TripsMay), Isolate: b.Isolate, Confirmed: b.Confirmed,
		Reference: record.Reference{Description: b.Reference, Serial: b.Serial, Due: b.ReferenceDue, U: quantity.Length(b.ReferenceU)}})
	if err != nil {
		return nil, declined(err)
	}
	return testOf(d), nil
}

// TestStop is one elevation that is confirmed. Lengths are metres above the
// lower tap.
type TestStop struct {
	By        string  `json:"by,omitempty"`
	Version   int64   `json:"version,omitempty" doc:"of the test that was seen; 0: any"`
	Phase     string  `json:"phase" enum:"as found,as left"`
	Asked     float64 `json:"asked_m,omitempty"`
	Reference float64 `json:"reference_m"`
}

func (s *service) takeReadings(ctx context.Context, in *struct {
	ByTag
	Body TestStop
}) (*body[GuidedTest], error) {
	b := in.Body
	g, _, err := s.step(ctx, in.Tag, b.By)
	if err != nil {
		return nil, err
	}
	if b.Asked == 0 {
		b.Asked = b.Reference
	}
	d, err := s.Records.Take(ctx, g, b.Version, records.Stop{Phase: record.Phase(b.Phase), Asked: quantity.Length(b.Asked), Reference: quantity.Length(b.Reference)})
	if err != nil {
		return nil, declined(err)
	}
	return testOf(d), nil
}

// TestSwitch is where a switch changed over.
type TestSwitch struct {
	By      string   `json:"by,omitempty"`
	Version int64    `json:"version,omitempty"`
	Phase   string   `json:"phase" enum:"as found,as left"`
	Tag     string   `json:"tag"`
	Rising  *float64 `json:"rising_m,omitempty" doc:"by the reference"`
	Falling *float64 `json:"falling_m,omitempty"`
	Seen    bool     `json:"seen,omitempty" doc:"take what the service saw since the test began"`
}

func (s *service) recordSwitch(ctx context.Context, in *struct {
	ByTag
	Body TestSwitch
}) (*body[GuidedTest], error) {
	b := in.Body
	g, _, err := s.step(ctx, in.Tag, b.By)
	if err != nil {
		return nil, err
	}
	d, err := s.Records.Switch(ctx, g, b.Version, records.Switched{Phase: record.Phase(b.Phase), Tag: b.Tag, Rising: (*quantity.Length)(b.Rising), Falling: (*quantity.Length)(b.Falling), FromHistory: b.Seen})
	if err != nil {
		return nil, declined(err)
	}
	return testOf(d), nil
}

// TestEnd is what a test ends with.
type TestEnd struct {
	By         string   `json:"by,omitempty"`
	Version    int64    `json:"version,omitempty"`
	Discard    bool     `json:"discard,omitempty" doc:"end without a record"`
	Work       string   `json:"work,omitempty" doc:"what was done"`
	Remarks    string   `json:"remarks,omitempty"`
	NotTested  []string `json:"not_tested,omitempty" doc:"beside what the record knows by itself"`
	Witness    string   `json:"witness,omitempty"`
	Accepted   string   `json:"accepted,omitempty"`
	Instrument string   `json:"instrument,omitempty" doc:"that was adjusted"`
	Return     bool     `json:"return,omitempty" doc:"book the chamber back in service"`
}

func (s *service) endTest(ctx context.Context, in *struct {
	ByTag
	Body TestEnd
}) (*body[StoredRecord], error) {
	b := in.Body
	g, _, err := s.step(ctx, in.Tag, b.By)
	if err != nil {
		return nil, err
	}
	if b.Discard {
		if err := s.Records.Discard(ctx, in.Tag, b.Version); err != nil {
			return nil, declined(err)
		}
		return &body[StoredRecord]{}, nil
	}
	e, err := s.Records.Finish(ctx, g, b.Version, records.End{Work: b.Work, Remarks: b.Remarks, NotTested: b.NotTested, Witness: b.Witness, Accepted: b.Accepted, Instrument: b.Instrument, Return: b.Return})
	if e.Record == nil {
		return nil, declined(err)
	}
	if err != nil {
		return nil, huma.Error500InternalServerError(fmt.Sprintf("record %d is booked, but: %v", e.Number, err))
	}
	return stored(e), nil
}
