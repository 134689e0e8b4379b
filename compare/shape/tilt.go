package shape

// Tilt is something that changes in proportion to the level, known at the
// lowest and the highest level it was met at. The zero value is zero at any
// level.
type Tilt struct {
	Known     bool
	Low, High [2]float64 // level, mm, and what it is there
}

// Add takes it at one level, mm.
func (t *Tilt) Add(level, is float64) {
	at := [2]float64{level, is}
	switch {
	case !t.Known:
		t.Known, t.Low, t.High = true, at, at
	case level <= t.Low[0]:
		t.Low = at
	case level >= t.High[0]:
		t.High = at
	}
}

// At returns it at a level, mm, by the line through both.
func (t *Tilt) At(level float64) float64 {
	if t.High[0]-t.Low[0] < 1 {
		return t.Low[1]
	}
	return t.Low[1] + (t.High[1]-t.Low[1])*(level-t.Low[0])/(t.High[0]-t.Low[0])
}
