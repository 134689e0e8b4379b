package notify

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"crypto/tls"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
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
	poster
	key []byte
}

// NewWebhook returns a route to url. An empty key sends without a signature.
func NewWebhook(name, url string, key []byte) *Webhook {
	return newWebhook(Setting{Name: name, URL: url, Key: key}, nil)
}

func newWebhook(s Setting, secure *tls.Config) *Webhook {
	return &Webhook{newPoster("webhook", s, secure), s.Key}
}

// Send posts one message.
func (w *Webhook) Send(ctx context.Context, m Message) (again bool, err error) {
	body, err := json.Marshal(m)
	if err != nil {
		return false, fmt.Errorf("encode message %s: %w", m.ID, err)
	}
	head := http.Header{"Bridlewatch-Delivery": {m.ID}}
	if len(w.key) > 0 {
		mac := hmac.New(sha256.New, w.key)
		mac.Write(body)
		head.Set("Bridlewatch-Signature", "sha256="+hex.EncodeToString(mac.Sum(nil)))
	}
	return w.post(ctx, w.url, body, head)
}

// poster posts JSON to one receiver.
type poster struct {
	kind, name, url, where string
	user, password, token  string
	client                 *http.Client
}

func newPoster(kind string, s Setting, secure *tls.Config) poster {
	return poster{kind, s.Name, s.URL, s.where(), s.User, s.Password, s.Token, &http.Client{
		Timeout:       10 * time.Second,
		Transport:     &http.Transport{Proxy: http.ProxyFromEnvironment, TLSClientConfig: secure, ForceAttemptHTTP2: true, IdleConnTimeout: time.Minute},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}}
}

// Name returns the name of the route.
func (p *poster) Name() string { return p.name }

func (p *poster) post(ctx context.Context, address string, body []byte, head http.Header) (again bool, err error) {
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, address, bytes.NewReader(body))
	if err != nil {
		return false, fmt.Errorf("%s %s: %w", p.kind, p.name, withoutAddress(err))
	}
	for name, values := range head {
		req.Header[name] = values
	}
	req.Header.Set("Content-Type", "application/json")
	if p.token != "" {
		req.Header.Set("Authorization", "Bearer "+p.token)
	} else if p.user != "" {
		req.SetBasicAuth(p.user, p.password)
	}
	res, err := p.client.Do(req)
	if err != nil {
		return true, fmt.Errorf("%s %s: %s: %w", p.kind, p.name, p.where, withoutAddress(err))
	}
	defer res.Body.Close()
	answer, _ := io.ReadAll(io.LimitReader(res.Body, 200)) // only for the message below
	if res.StatusCode/100 == 2 {
		return false, nil
	}
	return passing(res.StatusCode), fmt.Errorf("%s %s: %s answered %s: %q", p.kind, p.name, p.where, res.Status, answer)
}

// withoutAddress strips the address from an error: it may be a secret.
func withoutAddress(err error) error {
	var u *url.Error
	if errors.As(err, &u) {
		return u.Err
	}
	return err
}

func passing(status int) bool {
	switch status {
	case http.StatusRequestTimeout, http.StatusTooEarly, http.StatusTooManyRequests:
		return true
	}
	return status >= 500
}
