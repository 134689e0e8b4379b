package notify

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/wneessen/go-mail"
)

// Mail sends messages by SMTP: smtps:// encrypts from the first byte,
// smtp:// insists on STARTTLS (RFC 3207), smtp+plain:// does neither and sends
// no password.
type Mail struct {
	setting Setting
	host    string
	options []mail.Option
}

func newMail(s Setting, u *url.URL, secure *tls.Config) (*Mail, error) {
	m := &Mail{setting: s, host: u.Hostname()}
	port := map[string]int{"smtps": 465, "smtp": 587, "smtp+plain": 25}[u.Scheme]
	if p := u.Port(); p != "" {
		port, _ = strconv.Atoi(p) // url.Parse takes digits only
	}
	m.options = []mail.Option{mail.WithPort(port), mail.WithTLSConfig(secure), mail.WithTimeout(15 * time.Second)}
	switch u.Scheme {
	case "smtps":
		m.options = append(m.options, mail.WithSSL())
	case "smtp":
		m.options = append(m.options, mail.WithTLSPolicy(mail.TLSMandatory))
	default:
		m.options = append(m.options, mail.WithTLSPolicy(mail.NoTLS))
	}
	if s.User != "" {
		if u.Scheme == "smtp+plain" {
			return nil, fmt.Errorf("route %s: a password is sent by mail only with encryption: use smtps:// or smtp://", s.Name)
		}
		m.options = append(m.options, mail.WithSMTPAuth(mail.SMTPAuthAutoDiscover), mail.WithUsername(s.User), mail.WithPassword(s.Password))
	}
	if _, err := m.compose(Message{Event: Trial}); err != nil {
		return nil, fmt.Errorf("route %s: %w", s.Name, err)
	}
	_, err := mail.NewClient(m.host, m.options...)
	return m, err
}

// Name returns the name of the route.
func (m *Mail) Name() string { return m.setting.Name }

// Send mails one message.
func (m *Mail) Send(ctx context.Context, msg Message) (again bool, err error) {
	letter, err := m.compose(msg)
	if err != nil {
		return false, fmt.Errorf("mail %s: %w", m.setting.Name, err)
	}
	client, err := mail.NewClient(m.host, m.options...)
	if err != nil {
		return false, fmt.Errorf("mail %s: %w", m.setting.Name, err)
	}
	if err := client.DialAndSendWithContext(ctx, letter); err != nil && !letter.IsDelivered() { // a server that does not say goodbye has it all the same
		var refused *mail.SendError
		forGood := errors.As(err, &refused) && !refused.IsTemp() && refused.ErrorCode() >= 500
		return !forGood, fmt.Errorf("mail %s: %w", m.setting.Name, err)
	}
	return false, nil
}

// compose writes the letter. Message-ID is made of the message's identity, so
// a letter sent twice is seen as one; References joins all letters about one
// alert.
func (m *Mail) compose(msg Message) (*mail.Msg, error) {
	letter := mail.NewMsg()
	if err := letter.From(m.setting.From); err != nil {
		return nil, fmt.Errorf("sender: %w", err)
	}
	if err := letter.To(m.setting.To...); err != nil {
		return nil, fmt.Errorf("receiver: %w", err)
	}
	letter.Subject(oneLine(msg.Title()))
	letter.SetDate()
	letter.SetMessageIDWithValue(msg.ID + "@bridlewatch")
	if msg.Alert != "" {
		letter.SetGenHeader(mail.HeaderReferences, "<"+Identify(Origin{}, msg.Alert)+"@bridlewatch>")
	}
	letter.SetGenHeader("Auto-Submitted", "auto-generated") // RFC 3834: no out-of-office answers
	letter.SetBodyString(mail.TypeTextPlain, msg.Text())
	return letter, nil
}

func oneLine(s string) string {
	return strings.Join(strings.Fields(s), " ")
}
