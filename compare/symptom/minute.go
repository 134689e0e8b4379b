package symptom

import (
	"math"

	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
)

// HeldAfter is the age in seconds after which a value that its source has not
// renewed (report by exception) is taken to be still what it was.
const HeldAfter = 600

// A source that never sends two readings within ten minutes sends one every so
// long and not what changed: what it holds is old, not unchanged.
const (
	gridLongest = 1_800_000 // ms between readings
	gridLate    = 1.5       // of that, when the next is missing
	gridSmooth  = 64        // readings until a source counts as slower than it was
)

// Block is what one minute said: means in millimetres over the readings that
// were new in that minute. A minute without a new reading of a channel has no
// value of it, so that a held corrupt value is counted once, not for as long
// as it is held.
type Block struct {
	At     int64 // Unix seconds of its last scan
	Level  [Channels]float64
	Has    [Channels]bool
	Gap    [gauge.Pairs]float64
	HasGap [gauge.Pairs]bool
	Skew   [gauge.Pairs]float64 // seconds between the two readings of a pair
	Bound  [Channels]bool       // level is a tap: the truth is at or beyond it
	Jitter [gauge.Pairs]float64 // sum of squared first differences of the gap, mm²
	Steps  [gauge.Pairs]float64 // number of differences in Jitter
	Rough  [Channels]float64    // sum of squared departures of a reading from the line through its neighbours, mm²
	Roughs [Channels]uint16     // number of departures in Rough
	Same   [Channels]uint16     // number of those readings that repeat the one before
	Change [Channels]float64    // smallest change from one of those readings to the next, mm; 0: none changed
	Newest [Channels]float64    // newest reading, mm
	Read   [Channels]int64      // when it was taken, Unix seconds; 0: none in this minute

	Magnet    float64 // mm
	HasMagnet bool
	Ratio     float64 // density ratio of gauge.Measurement
	HasRatio  bool
}

// Compressor folds scans into one-minute blocks. The zero value is ready.
type Compressor struct {
	Minute int64 // since the Unix epoch; 0: nothing yet
	Last   int64 // Unix seconds of the last scan

	Stamp [Channels]int64 // Unix milliseconds of the newest reading folded
	N     [Channels]float64
	Sum   [Channels]float64
	Bound [Channels]bool

	Old    [Channels][2]float64 // the two levels before the next, mm, newest last
	OldAt  [Channels]int64      // when the newest of them was taken, Unix milliseconds
	Apart  [Channels]int32      // how long after the other, ms
	Grid   [Channels]int32      // shortest time from one reading to the next, ms, lately
	Raw    [Channels]float64    // the newest reading, before conversion
	Rough  [Channels]float64
	Roughs [Channels]uint16
	Same   [Channels]uint16
	Change [Channels]float64

	GapStamp [gauge.Pairs][2]int64
	GapAt    [gauge.Pairs]int64
	GapN     [gauge.Pairs]float64
	GapSum   [gauge.Pairs]float64
	SkewSum  [gauge.Pairs]float64
	GapPrev  [gauge.Pairs]float64
	Jitter   [gauge.Pairs]float64
	Steps    [gauge.Pairs]float64

	MagnetN, MagnetSum float64
	RatioN, RatioSum   float64
}

// Add folds one scan. When the scan opens a new minute, the finished one is
// written to b first and Add reports true.
func (c *Compressor) Add(now int64, in *gauge.Snapshot, m *gauge.Measurement, b *Block) (closed bool) {
	minute := now / 60
	if c.Minute != 0 && minute != c.Minute {
		c.close(b)
		closed = true
	}
	c.Minute, c.Last = minute, now
	levels := [Channels]*level.Level{&m.Float, &m.Transmitter, &m.Second, &m.Vessel}
	readings := [Channels]*quantity.Reading{&in.Float, &in.Transmitter, &in.Second, &in.Vessel}
	var stamps [Channels]int64 // of those that have a level
	for i := range levels {
		l, r := levels[i], readings[i]
		if l.Bound == level.None {
			continue
		}
		stamps[i] = stamp(r, now)
		if stamps[i] == c.Stamp[i] && now*1000-c.Stamp[i] < c.held(Channel(i)) {
			continue
		}
		if mm := stand(l); finite(mm) {
			c.rough(Channel(i), stamps[i], r.Value, mm)
			c.level(Channel(i), stamps[i], mm, l.Bound != level.Within)
		}
	}
	for p := range gauge.Pairs {
		a, z := members[p][0], members[p][1]
		if mm, ok := apart(levels[a], levels[z], &m.Gaps[p]); ok {
			c.gap(p, now, stamps[a], stamps[z], mm)
		}
	}
	if m.MagnetOK {
		c.MagnetN++
		c.MagnetSum += m.Magnet.Millimetres()
	}
	if m.DensityOK {
		c.RatioN++
		c.RatioSum += m.DensityRatio
	}
	return closed
}

func stamp(r *quantity.Reading, now int64) int64 {
	if r.Time.IsZero() {
		return now * 1000
	}
	return r.Time.UnixMilli()
}

// stand is where a level is, mm, or that of the tap it is at or beyond.
func stand(l *level.Level) float64 {
	if l.OK() {
		return l.Value.Millimetres()
	}
	return l.AtTap.Millimetres()
}

// apart is the gap of two levels, mm, of which one may be at a tap: then it is at
// least what parts the other from there, and one on the far side says nothing.
func apart(a, z *level.Level, g *gauge.Gap) (mm float64, ok bool) {
	if g.OK {
		mm = g.Value.Millimetres()
		return mm, finite(mm)
	}
	if a.Bound == level.None || z.Bound == level.None || a.OK() == z.OK() {
		return 0, false
	}
	mm = stand(a) - stand(z)
	if above := a.Bound == level.AboveUpperTap || z.Bound == level.BelowLowerTap; above != (mm > 0) {
		return 0, false
	}
	return mm, finite(mm)
}

// finite refuses what no instrument gives, so that a state can always be
// written down and no sum is poisoned.
func finite(mm float64) bool { return mm-mm == 0 }

// held is the age in milliseconds after which a held value of a channel counts
// once more.
func (c *Compressor) held(ch Channel) int64 {
	if grid := int64(c.Grid[ch]); grid > HeldAfter*1000 {
		return int64(gridLate * float64(grid))
	}
	return HeldAfter * 1000
}

// pace books the time from one reading to the next, ms.
func (c *Compressor) pace(ch Channel, apart int64) {
	if c.OldAt[ch] == 0 || apart <= 0 || apart > gridLongest {
		return
	}
	grid := int64(c.Grid[ch])
	if grid != 0 && apart > grid {
		apart = grid + (apart-grid)/gridSmooth
	}
	c.Grid[ch] = int32(apart)
}

func (c *Compressor) level(ch Channel, stamp int64, mm float64, bound bool) {
	c.Stamp[ch] = max(stamp, c.Last*1000-c.held(ch)+1)
	c.N[ch]++
	c.Sum[ch] += mm
	c.Bound[ch] = c.Bound[ch] || bound
}

// Departures larger than roughLargest, mm, are echoes and not noise; readings
// farther apart than roughApart, ms, are not neighbours.
const (
	roughLargest = 12.0
	roughApart   = 120_000
)

// rough books how far the middle one of the three newest readings is from the
// line through its neighbours, as the variance of one reading: a steady
// movement is not in it, whatever the distances in time.
func (c *Compressor) rough(ch Channel, stamp int64, raw, mm float64) {
	x, before, after := &c.Old[ch], float64(c.Apart[ch]), float64(stamp-c.OldAt[ch])
	near := after > 0 && after <= roughApart
	c.pace(ch, stamp-c.OldAt[ch])
	if near && before > 0 {
		share := 0.5
		if before != after {
			share = before / (before + after)
		}
		e := min(math.Abs(x[1]-(1-share)*x[0]-share*mm), roughLargest)
		c.Rough[ch] += e * e / (1 + share*share + (1-share)*(1-share))
		c.Roughs[ch]++
		if raw == c.Raw[ch] {
			c.Same[ch]++
		} else if d := math.Abs(mm - x[1]); c.Change[ch] == 0 || d < c.Change[ch] {
			c.Change[ch] = d
		}
	}
	c.Apart[ch] = 0
	if near {
		c.Apart[ch] = int32(after)
	}
	x[0], x[1], c.OldAt[ch], c.Raw[ch] = x[1], mm, stamp, raw
}

func (c *Compressor) gap(p gauge.Pair, now, first, second int64, mm float64) {
	renewed := first != c.GapStamp[p][0] && second != c.GapStamp[p][1]
	if !renewed && now-c.GapAt[p] < HeldAfter {
		return
	}
	if since := now - c.GapAt[p]; renewed && since <= 120 {
		d := mm - c.GapPrev[p]
		c.Jitter[p] += d * d
		c.Steps[p]++
	}
	c.GapPrev[p] = mm
	c.GapStamp[p][0], c.GapStamp[p][1], c.GapAt[p] = first, second, now
	c.GapN[p]++
	c.GapSum[p] += mm
	c.SkewSum[p] += min(math.Abs(float64(first-second))/1000, HeldAfter)
}

func (c *Compressor) close(b *Block) {
	*b = Block{At: c.Last, Bound: c.Bound}
	for i := range c.N {
		if b.Has[i] = c.N[i] > 0; b.Has[i] {
			b.Level[i] = c.Sum[i] / c.N[i]
			b.Newest[i], b.Read[i] = c.Old[i][1], c.OldAt[i]/1000
		}
	}
	for p := range c.GapN {
		if b.HasGap[p] = c.GapN[p] > 0; b.HasGap[p] {
			b.Gap[p], b.Skew[p] = c.GapSum[p]/c.GapN[p], c.SkewSum[p]/c.GapN[p]
		}
	}
	if b.HasMagnet = c.MagnetN > 0; b.HasMagnet {
		b.Magnet = c.MagnetSum / c.MagnetN
	}
	if b.HasRatio = c.RatioN > 0; b.HasRatio {
		b.Ratio = c.RatioSum / c.RatioN
	}
	b.Jitter, b.Steps, b.Rough, b.Roughs, b.Same = c.Jitter, c.Steps, c.Rough, c.Roughs, c.Same
	b.Change = c.Change
	c.N, c.Sum = [Channels]float64{}, [Channels]float64{}
	c.Jitter, c.Steps = [gauge.Pairs]float64{}, [gauge.Pairs]float64{}
	c.Rough, c.Roughs, c.Same = [Channels]float64{}, [Channels]uint16{}, [Channels]uint16{}
	c.Change = [Channels]float64{}
	c.Bound = [Channels]bool{}
	c.GapN, c.GapSum, c.SkewSum = [gauge.Pairs]float64{}, [gauge.Pairs]float64{}, [gauge.Pairs]float64{}
	c.MagnetN, c.MagnetSum, c.RatioN, c.RatioSum = 0, 0, 0, 0
}
