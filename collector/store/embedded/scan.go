package embedded

import (
	"encoding/binary"
	"fmt"
	"math"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/archive"
)

// A scan body is a flag byte, then for n values (n is that of the layout, or
// a uvarint and n little-endian uint32 series when hasOwnIDs):
//
//	n x (quality, reason)       unless allGood
//	n x float64 little endian   0 where the quality is not usable
//	n x uvarint                 if hasSource: 0 none, else zigzag(source-t)+1 in microseconds
const (
	allGood byte = 1 << iota
	hasSource
	hasOwnIDs
)

const (
	good      = 4 // numbers of quantity.Quality
	uncertain = 3
)

func usable(quality uint8) bool { return quality == uncertain || quality == good }

// appendBody encodes values of a scan at t (microseconds) behind b.
func appendBody(b []byte, t int64, values []store.Value, ownIDs bool) []byte {
	flags := allGood
	for i := range values {
		if values[i].Quality != good || values[i].Reason != 0 {
			flags &^= allGood
		}
		if !values[i].Source.IsZero() {
			flags |= hasSource
		}
	}
	if ownIDs {
		flags |= hasOwnIDs
	}
	b = append(b, flags)
	if ownIDs {
		b = binary.AppendUvarint(b, uint64(len(values)))
		b = append(b, encodeIDs(values)...)
	}
	if flags&allGood == 0 {
		for i := range values {
			b = append(b, values[i].Quality, values[i].Reason)
		}
	}
	for i := range values {
		v := values[i].Value
		if !usable(values[i].Quality) {
			v = 0
		}
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
	}
	if flags&hasSource != 0 {
		for i := range values {
			b = binary.AppendUvarint(b, sourceOffset(values[i].Source, t))
		}
	}
	return b
}

func sourceOffset(source time.Time, t int64) uint64 {
	if source.IsZero() {
		return 0
	}
	d := source.UnixMicro() - t
	return uint64(d<<1^d>>63) + 1
}

// body is a decoded view of an encoded scan; nothing is copied.
type body struct {
	ids    []store.ID
	status []byte // nil: all good
	values []byte
	source []byte // nil: none
}

func decodeBody(b []byte, ids []store.ID) (body, error) {
	if len(b) == 0 {
		return body{}, fmt.Errorf("%w: empty scan", store.ErrCorrupt)
	}
	flags, rest := b[0], b[1:]
	if flags&hasOwnIDs != 0 {
		n, k := binary.Uvarint(rest)
		if k <= 0 || n > uint64(len(rest)-k)/4 {
			return body{}, fmt.Errorf("%w: scan with a broken list of series", store.ErrCorrupt)
		}
		ids, rest = decodeIDs(rest[k:k+4*int(n)]), rest[k+4*int(n):]
	}
	out := body{ids: ids}
	need := 8 * len(ids)
	if flags&allGood == 0 {
		need += 2 * len(ids)
	}
	if len(rest) < need {
		return body{}, fmt.Errorf("%w: scan of %d bytes, %d series need %d", store.ErrCorrupt, len(b), len(ids), need+1)
	}
	if flags&allGood == 0 {
		out.status, rest = rest[:2*len(ids)], rest[2*len(ids):]
	}
	out.values, rest = rest[:8*len(ids)], rest[8*len(ids):]
	if flags&hasSource != 0 {
		out.source = rest
	}
	return out, nil
}

func (b body) value(i int) float64 {
	return math.Float64frombits(binary.LittleEndian.Uint64(b.values[8*i:]))
}

func (b body) quality(i int) (quality, reason uint8) {
	if b.status == nil {
		return good, 0
	}
	return b.status[2*i], b.status[2*i+1]
}

// sources fills the source offsets plus one, 0 for none, of all values.
func (b body) sources(into []int64) error {
	rest := b.source
	for i := range into {
		u, k := binary.Uvarint(rest)
		if k <= 0 {
			return fmt.Errorf("%w: scan with broken source times", store.ErrCorrupt)
		}
		rest = rest[k:]
		into[i] = archive.NoSource
		if u > 0 {
			u--
			into[i] = int64(u>>1) ^ -int64(u&1)
		}
	}
	return nil
}
