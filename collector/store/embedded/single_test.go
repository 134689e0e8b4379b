package embedded

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"bridlewatch/collector/store"
)

// Minimum, maximum and counts of float32 values come back to the bit, the mean
// to two millionths of the spread.
func TestSingleRoundTrip(t *testing.T) {
	pack, err := newPacker()
	if err != nil {
		t.Fatal(err)
	}
	defer pack.close()
	r := rand.New(rand.NewPCG(7, 8))
	for n := range 500 {
		want := make([]store.Bucket, 144)
		for i := range want {
			for range r.IntN(4) * (n % 3) { // every third one has no values
				v := float32(r.NormFloat64() * math.Pow(10, float64(n%60-30)))
				if r.IntN(50) == 0 {
					v = [...]float32{0, float32(math.Copysign(0, -1)), math.MaxFloat32, -math.MaxFloat32, math.SmallestNonzeroFloat32}[r.IntN(5)]
				}
				add(&want[i], sample{Value: float64(v), Quality: uint8(1 + 3*r.IntN(2))})
			}
		}
		got := make([]store.Bucket, len(want))
		packed := pack.pack(want)
		if err := pack.unpack(packed, got); err != nil {
			t.Fatal(err)
		}
		for i, w := range want {
			g := got[i]
			if g.Count != w.Count || g.Bad != w.Bad || g.Min != w.Min || g.Max != w.Max ||
				math.Abs(g.Sum-w.Sum) > float64(w.Count)*(w.Max-w.Min)*store.MeanWithin+1e-15*math.Abs(w.Sum) {
				t.Fatalf("bucket %d is %+v, want %+v", i, g, w)
			}
		}
		packed[r.IntN(len(packed))] ^= 1
		if err := pack.unpack(packed, got); err != nil && !errors.Is(err, store.ErrCorrupt) {
			t.Fatal(err)
		}
	}
}

// Float32 values take less room than the planes of their eight bytes.
func TestSingleIsSmaller(t *testing.T) {
	pack, err := newPacker()
	if err != nil {
		t.Fatal(err)
	}
	defer pack.close()
	r := rand.New(rand.NewPCG(7, 8))
	buckets := make([]store.Bucket, 144)
	for i := range buckets {
		for k := range 60 {
			v := 12 + 4*math.Sin(float64(60*i+k)/2000) + 0.05*r.NormFloat64()
			add(&buckets[i], sample{Value: float64(float32(v)), Quality: good})
		}
	}
	small := len(pack.pack(buckets))
	large := len(pack.enc.EncodeAll(appendPlanes(nil, buckets), nil))
	if small*10 > large*7 {
		t.Errorf("%d bytes, as planes %d; want at most 7 tenths", small, large)
	}
}
