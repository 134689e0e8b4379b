package notify

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"time"
)

// Webhook posts messages as JSON.
//
// With a key the header Bridlewatch-Signature holds "sha256=" and the
// hexadecimal HMAC-SHA-256 of the body (RFC 2104). Bridlewatch-Delivery holds
// the message's id: a receiver that has seen it may answer 200 and do nothing.
// 2xx takes the message; 408, 425, 429 and 5xx ask for another try; any other
// answer refuses it for good.
type Webhook struct {
	name   string
	url    string
	key    []byte
	client *http.Client
}

// NewWebhook returns a route to url. An empty key sends without a signature.
func NewWebhook(name, url string, key []byte) *Webhook {
	return &Webhook{name: name, url: url, key: key, client: &http.Client{
		Timeout:       10 * time.Second,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}}
}

// Name returns the name of the route.
func (w *Webhook) Name() string { return w.name }

// Send posts one message.
func (w *Webhook) Send(ctx context.Context, m Message) (again bool, err error) {
	body, err := json.Marshal(m)
	if err != nil {
		return false, fmt.Errorf("encode message %s: %w", m.ID, err)
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, w.url, bytes.NewReader(body))
	if err != nil {
		return false, fmt.Errorf("webhook %s: %w", w.name, err)
	}
	req.Header.Set("Content-Type", "application/json")
	req.Header.Set("Bridlewatch-Delivery", m.ID)
	if len(w.key) > 0 {
		mac := hmac.New(sha256.New, w.key)
		mac.Write(body)
		req.Header.Set("Bridlewatch-Signature", "sha256="+hex.EncodeToString(mac.Sum(nil)))
	}
	res, err := w.client.Do(req)
	if err != nil {
		return true, fmt.Errorf("webhook %s: %w", w.name, err)
	}
	defer res.Body.Close()
	answer, _ := io.ReadAll(io.LimitReader(res.Body, 200)) // only for the message below
	if res.StatusCode/100 == 2 {
		return false, nil
	}
	return passing(res.StatusCode), fmt.Errorf("webhook %s: %s answered %s: %q", w.name, w.url, res.Status, answer)
}

func passing(status int) bool {
	switch status {
	case http.StatusRequestTimeout, http.StatusTooEarly, http.StatusTooManyRequests:
		return true
	}
	return status >= 500
}
