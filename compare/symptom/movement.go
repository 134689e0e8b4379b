package symptom

import "math"

// Direction of a move.
type Direction uint8

// Directions.
const (
	Rising Direction = iota
	Falling
)

func (d Direction) String() string { return [...]string{"rising", "falling"}[d] }

func satAdd(n uint16) uint16 {
	if n < math.MaxUint16 {
		return n + 1
	}
	return n
}

// Anchor says since when a channel has not moved. The zero value is ready.
type Anchor struct {
	X     float64
	Since int64 // Unix seconds, 0: no value yet
}

// Add folds a position; a change beyond tolerance moves the anchor.
func (a *Anchor) Add(at int64, x, tolerance float64) {
	if a.Since == 0 || math.Abs(x-a.X) > tolerance {
		a.X, a.Since = x, at
	}
}

// Wobble is how far a position goes to and fro from one change to the next,
// mm: nothing while it rises or falls, 0.57 standard deviations of a noisy
// reading. A value that repeats is no change, so a slow source looks no rougher
// than a fast one. The zero value is ready.
type Wobble struct {
	X, Step float64 // newest position and change, mm
	At      int64   // of the change
	Mean    float64 // of the newest changes
	Long    float64 // of the newest hours
}

const (
	wobbleSmooth  = 1.0 / 8
	wobbleSteady  = 1.0 / 64
	wobbleShare   = 7.0  // of Mean a move must exceed, or noise that sets in makes moves at once
	wobbleLasts   = 15.0 // of Long, four standard deviations of noise: white noise makes one such move a day
	wobbleClip    = 4.0  // of Long: what counts of a wild value
	wobbleFree    = 3.0  // mm that count whole
	wobbleSeconds = 900  // a change later than that is a move of its own
)

func (w *Wobble) add(at int64, x float64) {
	step := x - w.X
	switch {
	case w.At == 0:
		step = 0
	case step == 0:
		return
	}
	back := 0.0
	if step*w.Step < 0 && at-w.At <= wobbleSeconds {
		back = math.Min(math.Abs(step), math.Abs(w.Step))
	}
	w.Mean += wobbleSmooth * (back - w.Mean)
	w.Long += wobbleSteady * (math.Min(back, wobbleClip*w.Long+wobbleFree) - w.Long)
	w.X, w.Step, w.At = x, step, at
}

// least is what a move must exceed not to be noise, mm.
func (w *Wobble) least() float64 { return math.Max(wobbleShare*w.Mean, wobbleLasts*w.Long) }

// Move is one finished move of a witness and what the subject did meanwhile.
type Move struct {
	At                   int64
	SubjectIs, WitnessIs Channel
	Subject, Witness     float64 // where they ended, mm
	DX, DW               float64 // how far they went, mm
}

// Followed reports whether the subject went along.
func (m *Move) Followed() bool { return m.DX/m.DW >= 0.5 }

// Movement watches who follows whom among the four channels. The zero value
// is ready.
type Movement struct {
	Median [Channels]Median
	Level  [Channels]float64 // newest accepted level, mm
	At     [Channels]int64   // 0: none
	Rate   [Channels]float64 // mm/s over the newest accepted minutes
	Every  [Channels]float64 // s between readings, lately
	Anchor [Channels]Anchor
	Wobble [Channels]Wobble
	Follow [Channels][Channels]Follow  // [subject][witness]
	Fine   [Channels][Channels]Follow  // the same for moves just above the scatter of the pair
	Sizes  [Channels][Channels]float64 // of one move of a pair that scatters a lot, mm
	Swell  [Channels]Swell             // of the others between readings of a subject
	Shake  [Channels]float64           // standard deviation of a reading now, mm

	moves [Channels * (Channels - 1)]Move // finished in the newest minute
	n     int
}

// Moves returns the moves the newest minute finished.
func (m *Movement) Moves() []Move { return m.moves[:m.n] }

// Scale is what the movement test must know of the gauge, in millimetres.
type Scale struct {
	Size      float64           // of one move
	Fine      float64           // of the least move that can be told from resolution
	Tolerance [Channels]float64 // change that is no movement: noise and resolution
	Top       float64           // centre to centre
}

// Add folds one minute.
func (m *Movement) Add(s *Scale, b *Block) {
	m.n = 0
	for c := range Channels {
		if !b.Has[c] {
			continue
		}
		x, ok := m.Median[c].Add(b.At, b.Level[c])
		if !ok {
			m.At[c] = 0
			continue
		}
		if dt := float64(b.At - m.At[c]); m.At[c] != 0 && dt > 0 && dt <= 3600 {
			m.Rate[c] = (x - m.Level[c]) / dt
			m.Every[c] += everySmooth * (dt - m.Every[c])
		}
		m.Level[c], m.At[c] = x, b.At
		m.Anchor[c].Add(b.At, x, s.Tolerance[c])
		m.Wobble[c].add(b.At, x)
	}
	for c := range Channels {
		m.Swell[c].Add(b.At, b.Read[c], &m.Level, &m.At)
	}
	for subject := range Channels {
		for witness := range Channels {
			if subject != witness && b.Has[subject] && m.At[subject] == b.At {
				m.pair(s, b, subject, witness)
			}
		}
	}
}

func (m *Movement) pair(s *Scale, b *Block, subject, witness Channel) {
	f, fine := &m.Follow[subject][witness], &m.Fine[subject][witness]
	if !m.Knows(witness, b.At) {
		f.Break()
		fine.Break()
		return
	}
	wobble, size, every := m.least(subject, witness), m.Sizes[subject][witness], m.Every[subject]
	if size > 0 {
		fine.Add(b.At, m.Level[witness], m.Level[subject], Sight{max(s.Fine, size, wobble), every})
	}
	dw, dx, moved := f.Add(b.At, m.Level[witness], m.Level[subject], Sight{max(s.Size, size, wobble), every})
	if moved {
		m.moves[m.n] = Move{At: b.At, SubjectIs: subject, WitnessIs: witness, Subject: m.Level[subject], Witness: m.Level[witness], DX: dx, DW: dw}
		m.n++
	}
}

// least is what a move of a witness must exceed not to be noise, or a swing that
// the subject is read too seldom to show, mm.
func (m *Movement) least(subject, witness Channel) float64 {
	swing := math.Max(swellMove*m.Swell[subject].Mean[witness], shakenMove*m.Shake[witness])
	return math.Max(m.Wobble[witness].least(), swing)
}

// Knows reports whether the level of a channel is new enough to stand for now.
func (m *Movement) Knows(c Channel, at int64) bool {
	return m.At[c] != 0 && float64(at-m.At[c]) <= math.Max(HeldAfter, gridLate*m.Every[c])
}

// everySmooth is the weight of the newest distance of readings.
const everySmooth = 1.0 / 8

// Break forgets where the last moves ended: what changes the levels at once is
// no move of any of them.
func (m *Movement) Break() {
	for s := range Channels {
		for w := range Channels {
			m.Follow[s][w].Break()
			m.Fine[s][w].Break()
		}
	}
}

// Doubt takes back the moves that were counted with a channel that proves nothing
// any more.
func (m *Movement) Doubt(at int64, c Channel) {
	for o := range Channels {
		if o == c {
			continue
		}
		for _, pair := range [...][2]Channel{{o, c}, {c, o}} {
			for _, f := range [...]*Follow{&m.Follow[pair[0]][pair[1]], &m.Fine[pair[0]][pair[1]]} {
				f.Pending = 0
				f.restart(at, m.Level[pair[1]], m.Level[pair[0]])
				f.Break()
			}
		}
	}
}

// Velocity is the rate of the channel that moves fastest of those that are known
// now, with its sign, mm/s. It is one of the medians of minutes: a
// single echo has no velocity.
func (m *Movement) Velocity(at int64) float64 {
	v := 0.0
	for c, r := range m.Rate {
		if m.Knows(Channel(c), at) && math.Abs(r) > math.Abs(v) {
			v = r
		}
	}
	return v
}

// Speed is the size of Velocity.
func (m *Movement) Speed(at int64) float64 { return math.Abs(m.Velocity(at)) }
