package compare

import (
	"bridlewatch/compare/symptom"
)

// thirds are the instruments beside a subject and its witness that nothing blames
// and that have a level now. Beside a vessel that moves there are none: those of a
// chamber that is closed rest together.
func (g *Gauge) thirds(at int64, st *State, subject, witness symptom.Channel) (mask uint8) {
	if witness == symptom.VesselLevel {
		return 0
	}
	blamed := st.blamed()
	for o := range symptom.Channels {
		if o != subject && o != witness && g.has(o) && blamed&bit(o) == 0 && st.Movement.Knows(o, at) {
			mask |= bit(o)
		}
	}
	return mask
}

// joined reports whether an instrument that nothing blames stands with the
// subject rather than with the witness that moves.
func (g *Gauge) joined(at int64, st *State, subject, witness symptom.Channel) bool {
	m, thirds := &st.Movement, g.thirds(at, st, subject, witness)
	for o := range symptom.Channels {
		if thirds&bit(o) == 0 {
			continue
		}
		here := abs(m.Level[o] - m.Level[subject] - st.normal(g, o, subject))
		there := abs(m.Level[o] - m.Level[witness] - st.normal(g, o, witness))
		missed := 2*m.Follow[o][witness].Still >= m.Follow[subject][witness].Still && here < joinedShare*g.scale.Size
		if here < joinedShare*there || missed {
			return true
		}
	}
	return false
}

// movesAlone reports whether a witness moves by itself: no other one made its moves,
// and another instrument stands with the subject.
func (g *Gauge) movesAlone(at int64, st *State, subject, witness symptom.Channel) bool {
	for o := range symptom.Channels {
		if f := &st.Movement.Follow[subject][o]; o != subject && o != witness && g.has(o) && f.Set && f.Still >= 2 {
			return false
		}
	}
	return g.joined(at, st, subject, witness)
}

// joinedShare is how much nearer to the subject than to the witness another
// instrument is that stands with the subject, or, while the witness passes by,
// than a move when it missed the same ones.
const joinedShare = 0.5

// unseconded reports whether a witness moves by itself where the user states what
// a gap may be: waves shake one instrument and a well damps another, so that moves
// count only where a third that nothing blames, and that could see them, saw most,
// or saw one and has left the subject as that witness did.
func (g *Gauge) unseconded(at int64, st *State, subject, witness symptom.Channel) bool {
	if g.sheet.Limits.Gap == 0 {
		return false
	}
	m, thirds := &st.Movement, g.thirds(at, st, subject, witness)
	for o := range symptom.Channels {
		if thirds&bit(o) == 0 {
			continue
		}
		f := &m.Follow[subject][o]
		here := m.Level[o] - m.Level[subject] - st.normal(g, o, subject)
		there := m.Level[witness] - m.Level[subject] - st.normal(g, witness, subject)
		left := f.Still > 0 && here*there > 0 && abs(here) >= leftShare*g.scale.Size && abs(here) <= 2*abs(there)
		if f.Set && f.Still < max(2, g.moves-1) && !left {
			return true
		}
	}
	return false
}

// leftShare is how far from a subject a third instrument has left it, of a move.
const leftShare = 0.75

// leftAlone is unseconded for a witness that left a reading which repeats: another
// that could see it did not leave it the same way.
func (g *Gauge) leftAlone(at int64, st *State, subject, witness symptom.Channel, mm float64) bool {
	if g.sheet.Limits.Gap == 0 {
		return false
	}
	r, thirds := &st.Repeat[subject], g.thirds(at, st, subject, witness)
	for o := range symptom.Channels {
		if thirds&bit(o) == 0 || !r.Seen[o] {
			continue
		}
		if d, far := r.Left(o, st.Movement.Level[o]); !far || d*mm < 0 {
			return true
		}
	}
	return false
}
