package embedded

import (
	"encoding/binary"
	"math"
	"math/bits"

	"bridlewatch/collector/store"
)

// Summaries of float32 values keep minimum and maximum exactly and the mean as
// its place between them. Single is their mark in a packed summary; then come,
// for every bucket with a count, three lists: steps of the minimum from the one
// before, maximum - minimum, and place. The first two count in float32 numbers.
const single = 254

// parts is into how many parts the mean's place is resolved: it is off by
// less than two millionths of the distance from minimum to maximum.
const parts = 1 << 18

// singles says whether every minimum and maximum is a float32.
func singles(buckets []store.Bucket) bool {
	for _, b := range buckets {
		if b.Count > 0 && (float64(float32(b.Min)) != b.Min || float64(float32(b.Max)) != b.Max) {
			return false
		}
	}
	return true
}

func appendSingles(raw []byte, buckets []store.Bucket) []byte {
	var steps, spreads, means []int64
	last := int64(0)
	for _, b := range buckets {
		if b.Count == 0 {
			continue
		}
		low := rank(float32(b.Min))
		steps, last = append(steps, low-last), low
		spreads = append(spreads, rank(float32(b.Max))-low)
		place := 0.0
		if b.Max > b.Min {
			place = math.Round((b.Sum/float64(b.Count) - b.Min) / (b.Max - b.Min) * parts)
		}
		means = append(means, int64(min(max(place, 0), parts))) // rounding of the sum may leave the range
	}
	if len(steps) == 0 {
		return raw
	}
	raw = binary.AppendVarint(raw, steps[0])
	steps[0] = 0
	return appendPacked(appendPacked(appendPacked(raw, steps), spreads), means)
}

func (r *unpacker) singles(buckets []store.Bucket, used int) {
	if used == 0 {
		return
	}
	low := r.varint()
	steps, spreads, means := r.packed(used), r.packed(used), r.packed(used)
	if r.broken {
		return
	}
	nth := 0
	for i := range buckets {
		b := &buckets[i]
		if b.Count == 0 {
			continue
		}
		low += steps[nth]
		b.Min, b.Max = float64(ranked(low)), float64(ranked(low+spreads[nth]))
		b.Sum = float64(b.Count) * (b.Min + (b.Max-b.Min)*float64(means[nth])/parts)
		nth++
	}
}

// rank numbers the float32 values in their order.
func rank(v float32) int64 {
	u := math.Float32bits(v)
	if u>>31 == 1 {
		return int64(^u)
	}
	return int64(u | 1<<31)
}

// ranked is the value of a rank.
func ranked(n int64) float32 {
	u := uint32(n)
	if u>>31 == 1 {
		return math.Float32frombits(u &^ (1 << 31))
	}
	return math.Float32frombits(^u)
}

// appendPacked writes the least of values, the bits that what is above it
// needs, and so many bits of each.
func appendPacked(raw []byte, values []int64) []byte {
	least, most := values[0], values[0]
	for _, v := range values {
		least, most = min(least, v), max(most, v)
	}
	width := bits.Len64(uint64(most - least))
	raw = append(binary.AppendVarint(raw, least), byte(width))
	var word uint64
	filled := 0
	for _, v := range values {
		word |= uint64(v-least) << filled
		for filled += width; filled >= 8; filled -= 8 {
			raw = append(raw, byte(word))
			word >>= 8
		}
	}
	if filled > 0 {
		raw = append(raw, byte(word))
	}
	return raw
}

// widest is how many bits a step between two float32 takes at most.
const widest = 34

// packed reads n values that appendPacked wrote.
func (r *unpacker) packed(n int) []int64 {
	least, width := r.varint(), int(r.byte())
	size := (n*width + 7) / 8
	if r.broken || width > widest || size > len(r.rest) {
		r.rest, r.broken = nil, true
		return nil
	}
	out := make([]int64, n)
	var word uint64
	filled, at := 0, 0
	for i := range out {
		for filled < width {
			word |= uint64(r.rest[at]) << filled
			filled, at = filled+8, at+1
		}
		out[i] = least + int64(word&(1<<width-1))
		word, filled = word>>width, filled-width
	}
	r.rest = r.rest[size:]
	return out
}
