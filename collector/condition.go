package collector

import "time"

// Condition is how a source fares beyond its samples.
type Condition struct {
	LineTime time.Duration // its requests of one scan take on the line; 0: not known
	Refused  int           // signals the other end refuses
	Remarks  []Remark
}

// Remark is something people should know about a source though it answers.
type Remark struct {
	Tags []Tag // signals it concerns; none: the source as a whole
	What string
}

// Conditioned is a Source that can tell its condition. It may be asked at any
// time from any goroutine.
type Conditioned interface {
	Condition() Condition
}
