package influx

import (
	"context"
	"errors"
	"net/http"
	"strings"
	"time"

	influxhttp "github.com/influxdata/influxdb-client-go/v2/api/http"
)

// failure is what to do about an unsuccessful write.
type failure uint8

const (
	passing   failure = iota // try again later: nothing is wrong with the lines
	refused                  // the server will never take these lines
	oversized                // the request is too long
	setup                    // wrong address, bucket or token: a person must act; nothing is dropped
)

// classify tells passing errors from permanent ones, and how long the server
// asks us to wait. What is not known to be permanent is passing: nothing is
// dropped by mistake.
func classify(err error) (failure, time.Duration) {
	var e *influxhttp.Error
	if !errors.As(err, &e) {
		return passing, 0
	}
	wait := time.Duration(e.RetryAfter) * time.Second
	switch e.StatusCode {
	case http.StatusBadRequest:
		// Version 1.8 says 400 also for a missing database.
		if strings.Contains(e.Error(), "database not found") || strings.Contains(e.Error(), "bucket not found") {
			return setup, wait
		}
		return refused, 0
	case http.StatusUnprocessableEntity:
		return refused, 0 // version 2: outside the retention of the bucket, or type conflict
	case http.StatusRequestEntityTooLarge:
		return oversized, 0
	case http.StatusUnauthorized, http.StatusForbidden, http.StatusNotFound:
		return setup, wait
	default:
		return passing, wait
	}
}

// ErrMayNotRead says that a token may write at most.
var ErrMayNotRead = errors.New("the server does not let this token read the bucket")

// refusesToken says whether the server does not accept the token or its rights.
func refusesToken(err error) bool {
	var e *influxhttp.Error
	return errors.As(err, &e) && (e.StatusCode == http.StatusUnauthorized || e.StatusCode == http.StatusForbidden)
}

// explain says what a person can do about a setup failure.
func explain(err error) string {
	var e *influxhttp.Error
	if !errors.As(err, &e) {
		return err.Error()
	}
	switch e.StatusCode {
	case http.StatusUnauthorized, http.StatusForbidden:
		return "the server refuses the token or its rights; check the token and that it may write the bucket: " + e.Error()
	case http.StatusNotFound, http.StatusBadRequest:
		return "the server does not know the bucket or organisation; make it, or correct the name: " + e.Error()
	default:
		return e.Error()
	}
}

// sleep waits, or returns early with the context's error.
func sleep(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-t.C:
		return nil
	}
}
