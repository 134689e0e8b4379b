package symptom

import "math"

// Follow counts whether a subject follows a witness, in moves. A move is
// complete when the witness has gone Sight.Size away from where the last move
// ended. It is judged a little later, so that a lag is not taken for standing
// still: the subject followed when it went at least half as far the same way,
// and was still when it went less than a quarter, and has in all gone less than
// half as far to and fro: one that swings like its witness a little later moves.
// A move that the witness makes alone and takes back before it is judged was an
// echo and none. A quiet level makes no moves and so says nothing. The zero value
// is ready.
type Follow struct {
	Set         bool
	Witness     float64 // where the last move ended, mm
	Subject     float64 // where the subject was then
	Pending     float64 // displacement of a finished move not judged yet, mm; 0: none
	PendingAt   int64
	PendingX    float64 // where the subject was before it
	Still       uint16  // moves in a row the subject was still
	Hours       uint16  // different hours those moves fell in
	Hour        int64   // the newest of them
	Followed    uint16  // moves in a row it followed
	Total       uint32  // moves ever followed
	Lagged      uint32  // moves ever still before one that it followed
	Rested      int64   // end of the first of those still moves
	Start       int64   // end of the last move it followed
	Travel      float64 // of the witness in still moves, mm
	Over, Under float64 // farthest the witness was above and below the subject since Start, mm
	Went, Swung Span    // of the witness and of the subject since Start, mm
	Ended       Span    // where moves of the witness ended since then, mm
	LastMove    int64
	MoveBefore  int64   // end of the move before the last
	Newest      float64 // move that was judged last, mm
	Turned      int64   // when the witness last turned
	LastFollows int64
}

// Sight is what can be told of a pair.
type Sight struct {
	Size  float64 // of a move, mm
	Every float64 // s between readings of the subject
}

// Span is where a position has been.
type Span struct{ Low, High float64 }

func (s *Span) add(x float64) { s.Low, s.High = math.Min(s.Low, x), math.Max(s.High, x) }

// Range is how far it went to and fro, in the unit of the position.
func (s Span) Range() float64 { return s.High - s.Low }

// overshoot is how many times as far as the witness a subject may go that
// still follows it.
const overshoot = 3.0

// judgeAfter is how long after a move its subject is looked at, seconds.
const judgeAfter = 180

// Add folds the positions of one minute, mm, and reports a judged move: the
// displacement of the witness and of the subject.
func (f *Follow) Add(at int64, witness, subject float64, s Sight) (dw, dx float64, moved bool) {
	if !f.Set {
		f.resume(at, witness, subject, s.Size)
		return 0, 0, false
	}
	f.Swung.add(subject)
	if f.Pending != 0 && at-f.PendingAt >= judgeAfter {
		dw, dx, moved = f.Pending, subject-f.PendingX, true
		f.judge(at, dw, dx, witness, subject, s.Every)
		f.Pending = 0
	}
	switch d := witness - f.Witness; {
	case math.Abs(d) >= s.Size && f.takenBack(d):
		f.Pending, f.Witness, f.Subject = 0, witness, subject
	case math.Abs(d) >= s.Size:
		if f.Pending != 0 { // a fast level: the move before is judged now
			dw, dx, moved = f.Pending, subject-f.PendingX, true
			f.judge(at, dw, dx, witness, subject, s.Every)
		}
		f.Pending, f.PendingAt, f.PendingX = d, at, f.Subject
		f.Witness, f.Subject, f.LastMove, f.MoveBefore = witness, subject, at, f.LastMove
	case f.Pending == 0:
		f.apart(witness, subject)
	}
	return dw, dx, moved
}

// takenBack reports whether a displacement of the witness undoes most of the move
// that is not judged yet, which the subject did not make.
func (f *Follow) takenBack(d float64) bool {
	return d*f.Pending < 0 && math.Abs(f.Pending+d) < math.Abs(f.Pending)/2 && math.Abs(f.Subject-f.PendingX) < math.Abs(f.Pending)/4
}

// apart keeps where the witness has been and how far the two were apart; a move
// counts once it is judged.
func (f *Follow) apart(witness, subject float64) {
	f.Went.add(witness)
	f.Over, f.Under = math.Max(f.Over, witness-subject), math.Max(f.Under, subject-witness)
}

func (f *Follow) judge(at int64, dw, dx, witness, subject, every float64) {
	fro := f.goesBack(dw)
	f.apart(witness, subject)
	switch share := dx / dw; {
	case share > overshoot:
		f.Followed, f.Still, f.Travel = 0, 0, 0 // it went where it went, not with the witness
		f.begin(at, witness, subject)
	case share >= 0.5:
		f.Lagged += uint32(f.Still)
		f.Followed, f.Still, f.Hours, f.Travel, f.LastFollows = satAdd(f.Followed), 0, 0, 0, at
		f.Total++
		f.begin(at, witness, subject)
	case share < 0.25 && f.Swung.Range() >= 0.5*f.Went.Range():
		f.restart(at, witness, subject) // it moves, at another time
	case share < 0.25 && fro && (f.Swung.Range() > restShare*f.Went.Range() || f.tooFast(every)):
		// it stirs, or could not show it, and what it missed was taken back
	case share < 0.25:
		if f.Still == 0 {
			f.Rested = f.PendingAt
		}
		f.Followed, f.Still = 0, satAdd(f.Still)
		if h := at / 3600; h != f.Hour {
			f.Hours, f.Hour = satAdd(f.Hours), h
		}
		f.Travel += math.Abs(dw)
	}
}

// restShare is how far a subject at rest may go to and fro, of its witness: a
// well damps a swing of five minutes to a sixth where it follows within five.
const restShare = 0.1

// swingLongest is how long a swing goes one way at most, s: half the period of the
// slowest seiche of a harbour (common practice, no source). A tide goes on.
const swingLongest = 1800

// goesBack books where a move of the witness ended and reports whether it belongs
// to a swing and went to where the witness had been since the last move the
// subject followed. A swing goes to and fro there, and a subject that damps it
// stays behind in every one of them; only what leads farther away leaves it
// behind for good.
func (f *Follow) goesBack(dw float64) bool {
	beyond := f.Witness - f.Ended.High
	if dw < 0 {
		beyond = f.Ended.Low - f.Witness
	}
	if dw*f.Newest < 0 {
		f.Turned = f.MoveBefore
	}
	f.Newest = dw
	f.Ended.add(f.Witness)
	return beyond < math.Abs(dw)/2 && f.LastMove-f.Turned < swingLongest
}

// seenIn is how many readings of the subject a swing there and back must last to be
// seen in it: the median of three passes nothing shorter than two.
const seenIn = 2

// tooFast reports whether the witness moves to and fro faster than the readings of
// the subject could show: they stand still then, or go anywhere.
func (f *Follow) tooFast(every float64) bool {
	return float64(f.LastMove-f.MoveBefore) < seenIn*every
}

// Spread is the range the difference of witness and subject has had since the
// last move it followed, mm.
func (f *Follow) Spread() float64 { return f.Over + f.Under }

// Odds is the log-likelihood ratio, in nats, of its still moves for a subject
// that stands still against one that follows as it always did.
func (f *Follow) Odds() float64 {
	usual := (float64(f.Lagged) + 0.5) / (float64(f.Total) + float64(f.Lagged) + 1)
	return float64(f.Still) * math.Max(0, math.Log(stillShare/usual))
}

// stillShare is the share of moves a stuck subject is found still in.
const stillShare = 0.8

// resume takes up the count after a gap in the data: the gap itself adds no
// move, but a subject found elsewhere was not still.
func (f *Follow) resume(at int64, witness, subject, size float64) {
	elsewhere := f.Start == 0 || math.Abs(subject-f.Subject) >= size
	f.Set, f.Pending, f.Witness, f.Subject = true, 0, witness, subject
	if elsewhere {
		f.restart(at, witness, subject)
	}
}

// restart forgets the moves it made and missed: it moved, and not with them.
func (f *Follow) restart(at int64, witness, subject float64) {
	f.Followed, f.Still, f.Hours, f.Travel = 0, 0, 0, 0
	f.begin(at, witness, subject)
}

func (f *Follow) begin(at int64, witness, subject float64) {
	f.Start = at
	f.Over, f.Under = witness-subject, subject-witness
	f.Went, f.Swung = Span{witness, witness}, Span{subject, subject}
	f.Ended = Span{f.Witness, f.Witness}
}

// Break forgets where the last move ended, after a gap in the data.
func (f *Follow) Break() { f.Set = false }
