package watch

import (
	"encoding/json"
	"testing"
	"time"
)

// A course says what a replay says, and a copy of it goes on as the original
// does, to the last bit of what the detectors know.
func TestACourseAndItsForkSayWhatAReplaySays(t *testing.T) {
	f := shoot(t, "LG-104", 8*time.Hour, "LG-104:float-stuck@3h")
	var want []string
	if _, err := Replay(t.Context(), f.config, f, nil, collect(&want), nil); err != nil {
		t.Fatal(err)
	}
	course, err := NewCourse(f.config.Gauges[0], nil)
	if err != nil {
		t.Fatal(err)
	}
	var got, forked []string
	var fork *Course
	for i, s := range f.shots {
		if i == len(f.shots)/3 {
			if fork, err = course.Fork(); err != nil {
				t.Fatal(err)
			}
			forked = append(forked, got...)
		}
		course.Step(s.Time, s.Samples)
		for _, c := range course.Changes(s.Time) {
			collect(&got)(c)
		}
		if fork != nil {
			fork.Step(s.Time, s.Samples)
			for _, c := range fork.Changes(s.Time) {
				collect(&forked)(c)
			}
		}
	}
	for name, list := range map[string][]string{"the course": got, "its fork": forked} {
		if len(want) == 0 || len(list) != len(want) {
			t.Fatalf("%s says %d things, the replay %d", name, len(list), len(want))
		}
		for i := range want {
			if list[i] != want[i] {
				t.Errorf("%s says %s, the replay %s", name, list[i], want[i])
			}
		}
	}
	a, err := json.Marshal(&course.unit.state)
	if err != nil {
		t.Fatal(err)
	}
	b, err := json.Marshal(&fork.unit.state)
	if err != nil {
		t.Fatal(err)
	}
	if string(a) != string(b) {
		t.Error("the fork knows something else than the course")
	}
}
