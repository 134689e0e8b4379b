package rehearsal

import (
	"context"
	"testing"
	"time"
)

// Servers with clients on them must not hold up the end of a rehearsal.
func TestCloseDoesNotWaitForClients(t *testing.T) {
	p, err := Start(context.Background(), Options{Seed: 4, Start: noon})
	if err != nil {
		t.Fatal(err)
	}
	dial(t, source(t, p, "gas-plant").Endpoint)
	done := make(chan error, 1)
	go func() { done <- p.Close() }()
	select {
	case err := <-done:
		if err != nil {
			t.Error(err)
		}
	case <-time.After(3 * time.Second):
		t.Fatal("Close still waits after three seconds")
	}
}
