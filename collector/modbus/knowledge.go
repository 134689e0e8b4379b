package modbus

import (
	"slices"
	"time"
)

// knowledge is what a unit has taught by refusing: places no request may
// reach across or into, and fields that do not exist.
type knowledge struct {
	barred  []Span
	refused map[int]*ExceptionError // by field

	registers, bits limit // of one request

	again time.Time     // when everything is tried again
	wait  time.Duration // until then, at the last lesson
}

// firstReprobe is how soon a refusal is tried again: a device that starts up
// refuses for a while.
const firstReprobe = time.Minute

// learned notes a lesson. Each time the same unit refuses again after a
// trial, the next trial is twice as far away, up to longest.
func (k *knowledge) learned(now time.Time, longest time.Duration) {
	if !k.again.IsZero() {
		return
	}
	k.wait = min(max(2*k.wait, firstReprobe), longest)
	k.again = now.Add(k.wait)
}

func (k *knowledge) refuse(field int, exception *ExceptionError) {
	if k.refused == nil {
		k.refused = map[int]*ExceptionError{}
	}
	k.refused[field] = exception
}

func (k *knowledge) bar(s Span) { k.barred = append(k.barred, s) }

// forgetWhenDue drops every lesson when it is time to try again.
func (k *knowledge) forgetWhenDue(now time.Time) (forgotten bool) {
	if k.again.IsZero() || now.Before(k.again) {
		return false
	}
	k.barred, k.refused, k.again = nil, nil, time.Time{}
	k.registers, k.bits = limit{}, limit{}
	return true
}

// split halves a block by its fields. The fields of a block are in the order
// of their addresses.
func split(b block, fields []Field) (left, right block) {
	half := len(b.fields) / 2
	return b.of(b.fields[:half], fields), b.of(b.fields[half:], fields)
}

// of is the part of a block that serves some of its fields.
func (b block) of(which []int, fields []Field) block {
	from, to := b.end(), b.address
	for _, i := range which {
		from = min(from, fields[i].Address)
		to = max(to, fields[i].Address+fields[i].span())
	}
	b.address, b.quantity, b.fields = from, to-from, slices.Clone(which)
	return b
}
