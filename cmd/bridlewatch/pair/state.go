package pair

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/nats-io/nats.go/jetstream"
)

// ErrOvertaken says that the other box has left its state since this one took
// over.
var ErrOvertaken = errors.New("pair: the other box has left its state since")

// HandOver leaves the state of the detectors for the other box. It never
// replaces a state this box has not seen.
func (p *Pair) HandOver(ctx context.Context, state []byte) error {
	packed, err := pack(state)
	if err != nil {
		return err
	}
	value := append([]byte(p.mark+"\n"), packed...)
	revision, err := p.state.Update(ctx, p.key, value, p.stateRev)
	if err != nil {
		if revision, err = p.handOverAgain(ctx, value, err); err != nil {
			return err
		}
	}
	p.stateRev = revision
	return nil
}

// handOverAgain tries again where the answer to the last time was lost.
func (p *Pair) handOverAgain(ctx context.Context, value []byte, first error) (uint64, error) {
	e, err := p.state.Get(ctx, p.key)
	switch {
	case errors.Is(err, jetstream.ErrKeyNotFound): // the server has lost it
		return p.state.Put(ctx, p.key, value)
	case err != nil:
		return 0, fmt.Errorf("pair: hand over detector state: %w", errors.Join(first, err))
	case !bytes.HasPrefix(e.Value(), []byte(p.mark+"\n")):
		return 0, ErrOvertaken
	}
	return p.state.Update(ctx, p.key, value, e.Revision())
}

// TakeOver returns the newest state either box has left, nil when there is
// none, and whether it is that of the other.
func (p *Pair) TakeOver(ctx context.Context) (state []byte, others bool, err error) {
	e, err := p.state.Get(ctx, p.key)
	if errors.Is(err, jetstream.ErrKeyNotFound) {
		p.stateRev = 0
		return nil, false, nil
	}
	if err != nil {
		return nil, false, fmt.Errorf("pair: take over detector state: %w", err)
	}
	p.stateRev = e.Revision()
	parts := bytes.SplitN(e.Value(), []byte("\n"), 3)
	if len(parts) != 3 {
		return nil, false, errors.New("pair: state of the other box cannot be read")
	}
	holder, _, _ := strings.Cut(p.mark, "\n")
	state, err = unpack(parts[2])
	return state, string(parts[0]) != holder, err
}
