package embedded

import (
	"encoding/binary"
	"fmt"
	"math"
	"time"

	"github.com/klauspost/compress/zstd"

	"bridlewatch/collector/store"
)

const (
	hourMicros = int64(time.Hour / time.Microsecond)
	tenMicros  = int64(10 * time.Minute / time.Microsecond)
	hoursADay  = int(dayMicros / hourMicros)
	tensADay   = int(dayMicros / tenMicros)
)

// daySummary is what one series did on one day.
type daySummary struct {
	series store.ID
	day    int64
	all    store.Bucket
	hours  [hoursADay]store.Bucket
	tens   [tensADay]store.Bucket
}

func summarise(id store.ID, day int64, c column) *daySummary {
	d := &daySummary{series: id, day: day}
	for _, s := range c {
		add(&d.tens[(s.At-day*dayMicros)/tenMicros], s)
	}
	for i := range d.tens {
		d.hours[i*hoursADay/tensADay].Merge(d.tens[i])
	}
	for _, h := range d.hours {
		d.all.Merge(h)
	}
	return d
}

// A packed summary is zstd over
//
//	uvarint count, uvarint bad                  for every bucket
//	a byte: decimal places, single or floating
//	decimal, for every bucket with a count:     varint step of the minimum from the one before,
//	                                            uvarint maximum - minimum, uvarint sum - count x minimum
//	single: see there
//	floating: the 8 bytes of minimum, maximum and sum, most significant bytes of all first
const floating = 255

// packer compresses summaries; it may be used from several goroutines.
type packer struct {
	enc *zstd.Encoder
	dec *zstd.Decoder
}

func newPacker() (p packer, err error) {
	if p.enc, err = zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1), zstd.WithWindowSize(64<<10)); err != nil {
		return p, err
	}
	p.dec, err = zstd.NewReader(nil, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(1<<20))
	return p, err
}

func (p packer) close() {
	if p.dec != nil {
		p.dec.Close()
	}
}

func (p packer) pack(buckets []store.Bucket) []byte {
	var raw []byte
	for _, b := range buckets {
		raw = binary.AppendUvarint(raw, uint64(b.Count))
		raw = binary.AppendUvarint(raw, uint64(b.Bad))
	}
	if places, ok := placesOf(buckets); ok {
		raw = appendDecimals(append(raw, byte(places)), buckets, places)
	} else if singles(buckets) {
		raw = appendSingles(append(raw, single), buckets)
	} else {
		raw = appendPlanes(append(raw, floating), buckets)
	}
	return p.enc.EncodeAll(raw, nil)
}

// placesOf finds how many decimal places hold every minimum and maximum.
func placesOf(buckets []store.Bucket) (places int, ok bool) {
	for _, b := range buckets {
		for _, v := range []float64{b.Min, b.Max} {
			for b.Count > 0 && !isDecimal(v, places) {
				if places++; places > 6 {
					return 0, false
				}
			}
		}
	}
	return places, true
}

func isDecimal(v float64, places int) bool {
	n := math.Round(v * math.Pow10(places))
	return math.Abs(n) < 1<<40 && n/math.Pow10(places) == v
}

func appendDecimals(raw []byte, buckets []store.Bucket, places int) []byte {
	scale, last := math.Pow10(places), int64(0)
	for _, b := range buckets {
		if b.Count == 0 {
			continue
		}
		low := int64(math.Round(b.Min * scale))
		raw = binary.AppendVarint(raw, low-last)
		raw = binary.AppendUvarint(raw, uint64(int64(math.Round(b.Max*scale))-low))
		raw = binary.AppendUvarint(raw, uint64(max(0, int64(math.Round(b.Sum*scale))-int64(b.Count)*low)))
		last = low
	}
	return raw
}

func appendPlanes(raw []byte, buckets []store.Bucket) []byte {
	for _, of := range []func(store.Bucket) float64{
		func(b store.Bucket) float64 { return b.Min },
		func(b store.Bucket) float64 { return b.Max },
		func(b store.Bucket) float64 { return b.Sum },
	} {
		for shift := 56; shift >= 0; shift -= 8 {
			for _, b := range buckets {
				if b.Count > 0 {
					raw = append(raw, byte(math.Float64bits(of(b))>>shift))
				}
			}
		}
	}
	return raw
}

// unpack fills buckets, whose number is known.
func (p packer) unpack(packed []byte, buckets []store.Bucket) error {
	raw, err := p.dec.DecodeAll(packed, nil)
	if err != nil {
		return fmt.Errorf("%w: summary: %w", store.ErrCorrupt, err)
	}
	r := unpacker{rest: raw}
	used := 0
	for i := range buckets {
		buckets[i] = store.Bucket{Count: uint32(r.uvarint()), Bad: uint32(r.uvarint())}
		if buckets[i].Count > 0 {
			used++
		}
	}
	switch places := r.byte(); places {
	case floating:
		r.planes(buckets, used)
	case single:
		r.singles(buckets, used)
	default:
		r.decimals(buckets, int(places))
	}
	if r.broken || len(r.rest) > 0 {
		return fmt.Errorf("%w: summary of %d bytes", store.ErrCorrupt, len(packed))
	}
	return nil
}

// unpacker reads forward and remembers that it ran out.
type unpacker struct {
	rest   []byte
	broken bool
}

func (r *unpacker) skip(n int) {
	if n <= 0 || n > len(r.rest) {
		r.rest, r.broken = nil, true
		return
	}
	r.rest = r.rest[n:]
}

func (r *unpacker) byte() byte {
	if len(r.rest) == 0 {
		r.broken = true
		return 0
	}
	b := r.rest[0]
	r.skip(1)
	return b
}

func (r *unpacker) uvarint() uint64 {
	v, n := binary.Uvarint(r.rest)
	r.skip(n)
	return v
}

func (r *unpacker) varint() int64 {
	v, n := binary.Varint(r.rest)
	r.skip(n)
	return v
}

func (r *unpacker) decimals(buckets []store.Bucket, places int) {
	scale, low := math.Pow10(places), int64(0)
	for i := range buckets {
		b := &buckets[i]
		if b.Count == 0 {
			continue
		}
		low += r.varint()
		high := low + int64(r.uvarint())
		sum := int64(r.uvarint()) + int64(b.Count)*low
		b.Min, b.Max, b.Sum = float64(low)/scale, float64(high)/scale, float64(sum)/scale
	}
}

func (r *unpacker) planes(buckets []store.Bucket, used int) {
	if len(r.rest) != 24*used {
		r.rest, r.broken = nil, true
		return
	}
	bits := func(field, nth int) float64 {
		var u uint64
		for k := range 8 {
			u = u<<8 | uint64(r.rest[(field*8+k)*used+nth])
		}
		return math.Float64frombits(u)
	}
	nth := 0
	for i := range buckets {
		if buckets[i].Count > 0 {
			buckets[i].Min, buckets[i].Max, buckets[i].Sum = bits(0, nth), bits(1, nth), bits(2, nth)
			nth++
		}
	}
	r.rest = nil
}
