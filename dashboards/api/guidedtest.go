package api

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"bridlewatch/compare/quantity"
	"bridlewatch/compare/record"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/records"
)

// GuidedTest is a guided test under way.
type GuidedTest struct {
	Version    int64           `json:"version" doc:"name it in the next step"`
	Began      time.Time       `json:"began"`
	Elevations []TestElevation `json:"elevations"`
	Untested   []string        `json:"not_tested"`
	Isolated   bool            `json:"isolated" doc:"the chamber was booked as isolated for it"`
	Record     any             `json:"record" doc:"so far"`
}

// TestElevation is a place to stop at.
type TestElevation struct {
	M    float64 `json:"m" doc:"above the lower tap"`
	Why  string  `json:"why"`
	Done bool    `json:"done"`
}

func testOf(d *records.Draft) *body[GuidedTest] {
	t := GuidedTest{Version: d.Seq, Began: d.Record.Began, Elevations: []TestElevation{}, Untested: d.Record.Untested(), Isolated: d.Isolated}
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
