package compare_test

import (
	"testing"
	"unsafe"

	"bridlewatch/compare"
	"bridlewatch/compare/symptom"
)

// What every scan touches stays small enough for the nearest cache.
func TestHotStateIsSmall(t *testing.T) {
	hot := compare.HotBytes()
	t.Logf("whole state %d bytes, hot %d bytes, traces %d bytes", unsafe.Sizeof(compare.State{}), hot,
		(7*144+120*6)*unsafe.Sizeof(symptom.Mark{}))
	if hot > 2048 {
		t.Errorf("hot state is %d bytes", hot)
	}
}
