package modbus

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"bridlewatch/collector"
	"bridlewatch/compare/quantity"
)

// Source reads the fields of every unit behind one endpoint.
type Source struct {
	endpoint Endpoint
	clock    collector.Clock
	fields   []Field
	tags     []collector.Tag
	units    []*unit
	link     *link
	counters counters
	health   health

	scan    int
	samples []collector.Sample // the newest of each field

	// Of the scan that is running:
	told     []told // fields sampled
	cuts     int    // requests lost with their connection
	down     error  // why there is no connection
	failure  error  // the first
	answered bool   // by any unit
}

// told is a field sampled in a scan and the answer its value came from.
type told struct {
	field int
	from  shape
}

// cutsAllowed is how many requests of a scan may be lost with their
// connection before the rest of the scan is given up.
const cutsAllowed = 2

var (
	_ collector.Source  = (*Source)(nil)
	_ collector.Counted = (*Source)(nil)
)

// New makes a source for fields behind one endpoint. Nothing is opened
// before the first Read. The clock must be that of the machine, because
// deadlines of connections are.
func New(e Endpoint, fields []Field, clock collector.Clock) (*Source, error) {
	if err := validate(e, fields); err != nil {
		return nil, err
	}
	s := &Source{endpoint: e.withDefaults(), clock: clock, fields: slices.Clone(fields),
		tags: make([]collector.Tag, 0, len(fields)), samples: make([]collector.Sample, len(fields))}
	s.link = newLink(s.endpoint, clock, &s.counters)
	for i, f := range s.fields {
		s.tags = append(s.tags, f.Tag)
		s.samples[i] = collector.Sample{Tag: f.Tag, Quality: quantity.Absent, Reason: quantity.NotRead}
		u := s.unit(byte(f.UnitID))
		u.fields, u.tags = append(u.fields, i), append(u.tags, f.Tag)
	}
	for _, u := range s.units {
		s.replan(u)
	}
	s.publish()
	return s, nil
}

// validate looks at the endpoint, each field, and how they fit together.
func validate(e Endpoint, fields []Field) error {
	errs := []error{e.Validate()}
	complain := func(wrong bool, format string, args ...any) {
		if wrong {
			errs = append(errs, fmt.Errorf("modbus "+format, args...))
		}
	}
	complain(len(fields) == 0, "%s: no fields to read", e.Name)
	seen := make(map[collector.Tag]bool, len(fields))
	full := e.withDefaults()
	for _, f := range fields {
		errs = append(errs, f.Validate())
		longest := full.longest(f.Table)
		complain(f.span() > longest, "field %s: a %s takes %d registers, the endpoint allows %d in one request", f.Tag, f.Type, f.span(), longest)
		complain(e.Framing != TCP && (f.UnitID < 1 || f.UnitID > 247), "field %s: unit id %d; a serial line has units 1 to 247", f.Tag, f.UnitID)
		complain(seen[f.Tag], "%s: tag %s is there twice", e.Name, f.Tag)
		seen[f.Tag] = true
	}
	return errors.Join(errs...)
}

// unit finds or adds the unit with an id.
func (s *Source) unit(id byte) *unit {
	for _, u := range s.units {
		if u.id == id {
			return u
		}
	}
	u := newUnit(id, s.link)
	s.units = append(s.units, u)
	return u
}

// Name is the name of the endpoint.
func (s *Source) Name() string { return s.endpoint.Name }

// Tags are those of the fields.
func (s *Source) Tags() []collector.Tag { return s.tags }

// Close closes the connection.
func (s *Source) Close() error {
	s.link.watch(context.Background())
	return s.link.Close()
}

// Counters may be called at any time from any goroutine.
func (s *Source) Counters() collector.Counters {
	c := &s.counters
	return collector.Counters{
		Requests: c.requests.Load(), Timeouts: c.timeouts.Load(), Exceptions: c.exceptions.Load(),
		BadFrames: c.badFrames.Load(), StaleFrames: c.staleFrames.Load(), Reconnects: c.reconnects.Load(),
		BytesSent: c.sent.Load(), BytesReceived: c.received.Load(), BreakersOpen: int(c.breakersOpen.Load()),
	}
}

// Read reads every field that is due. One block of each unit is read in
// turn, and each scan starts with another unit, so that a unit that takes
// long takes from all the others alike.
func (s *Source) Read(ctx context.Context) ([]collector.Sample, error) {
	defer s.link.begin(ctx)()
	s.told, s.cuts, s.down, s.failure, s.answered = s.told[:0], 0, nil, nil, false
	for _, u := range s.units {
		s.refresh(u)
	}
	for round := range s.rounds() {
		for i := range s.units {
			u := s.units[(i+s.scan)%len(s.units)]
			if round < len(u.plan) && s.scan%u.plan[round].scans == 0 {
				s.readBlock(u, u.plan[round])
			}
		}
	}
	s.distrust()
	if s.endpoint.CloseAfterCycle {
		s.link.Close()
	}
	s.scan++
	s.publish()
	if s.answered {
		s.failure = nil
	}
	return s.samples, s.failure
}

// rounds is the largest number of blocks any unit has.
func (s *Source) rounds() int {
	n := 0
	for _, u := range s.units {
		n = max(n, len(u.plan))
	}
	return n
}

// refresh makes a new plan for a unit that has taught something, or whose
// lessons are due for another trial.
func (s *Source) refresh(u *unit) {
	switch {
	case u.known.forgetWhenDue(s.clock.Now()), u.taught:
		s.replan(u)
	case u.known.again.IsZero():
		u.known.wait = 0 // a trial found nothing to object to
	}
}

func (s *Source) replan(u *unit) {
	u.taught = false
	which := slices.DeleteFunc(slices.Clone(u.fields), func(i int) bool { return u.known.refused[i] != nil })
	u.plan = plan(u.known.within(s.endpoint, s.fields, which), s.fields, which, slices.Concat(s.endpoint.barred(u.id), u.known.barred))
}

// barred are the forbidden addresses of one unit.
func (e Endpoint) barred(id byte) []Span {
	return slices.DeleteFunc(slices.Clone(e.Forbidden), func(s Span) bool { return s.UnitID != int(id) })
}

// tell decodes a block into the samples of its fields.
func (s *Source) tell(b block, data []byte) {
	now := s.clock.Now()
	for _, i := range b.fields {
		f := s.fields[i]
		s.told = append(s.told, told{i, shapeOfRead(byte(f.UnitID), b.table, b.quantity)})
		var v float64
		if offset := f.Address - b.address; f.Table.bits() {
			v = decodeBit(data, offset)
		} else {
			v = Decode(f.Type, f.Order, f.Bit, data[2*offset:])
		}
		s.samples[i] = f.sample(v, now)
	}
}

// fail tells every field of a block why it has no value.
func (s *Source) fail(b block, err error) {
	if s.failure == nil {
		s.failure = err
	}
	for _, i := range b.fields {
		s.samples[i] = s.fields[i].bad(err, s.clock.Now())
	}
}

// distrust takes back what this scan has told when bytes came in between
// that nobody asked for: an answer may then have been taken for another.
func (s *Source) distrust() {
	if !s.endpoint.stream() {
		return
	}
	s.link.settleScan()
	if !s.link.doubts.any() {
		return
	}
	s.link.quiet = true
	err := frameErrorf("an answer nobody asked for came during the scan, so this value may be another's")
	for _, t := range s.told {
		if s.link.doubts.about(t.from) {
			s.samples[t.field] = s.fields[t.field].bad(err, s.clock.Now())
		}
	}
}
