package compare_test

import (
	"testing"
	"unsafe"

	"bridlewatch/compare"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/symptom"
)

// What every scan touches stays small enough for the cache: the running
// minute, the presence of the signals, the points, and the conditions the levels
// were last found with. The rest is touched
// once a minute.
func TestHotStateIsSmall(t *testing.T) {
	var st compare.State
	perPoint := unsafe.Sizeof(st.Points[0])
	hot := unsafe.Sizeof(st.Minute) + unsafe.Sizeof(st.Presence) + unsafe.Sizeof(gauge.Memory{}) + 2*perPoint
	t.Logf("whole state %d bytes, hot %d bytes with two points of %d bytes, traces %d bytes", unsafe.Sizeof(st), hot, perPoint,
		(7*144+120*6)*unsafe.Sizeof(symptom.Mark{}))
	if hot > 2048 {
		t.Errorf("hot state is %d bytes", hot)
	}
}
