package notify

import (
	"context"
	"crypto/tls"
	"fmt"
	"net"
	"net/url"
	"strconv"
	"time"

	"github.com/leodido/go-syslog/v4/rfc5424"
)

// Syslog sends messages in the form of RFC 5424: syslog+tls:// as RFC 5425
// says, syslog+tcp:// with the octet counting of RFC 6587, syslog+udp:// one
// datagram each (RFC 5426), which nobody confirms.
type Syslog struct {
	name, network, address string
	secure                 *tls.Config
	host                   string
}

const (
	facility    = 3 // system daemons
	sdID        = "alert@32473"
	udpMost     = 2048 // RFC 5426 section 3.2: what every receiver should take
	dialPatient = 10 * time.Second
)

func newSyslog(s Setting, u *url.URL, secure *tls.Config) *Syslog {
	port := u.Port()
	if port == "" {
		port = map[string]string{"syslog+tls": "6514", "syslog+tcp": "601", "syslog+udp": "514"}[u.Scheme]
	}
	l := &Syslog{name: s.Name, network: "tcp", address: net.JoinHostPort(u.Hostname(), port), host: s.Client}
	switch u.Scheme {
	case "syslog+tls":
		l.secure = secure
	case "syslog+udp":
		l.network = "udp"
	}
	return l
}

// Name returns the name of the route.
func (l *Syslog) Name() string { return l.name }

// Send sends one message over a connection of its own: they are few, and a
// connection kept open would not tell that its other end is gone.
func (l *Syslog) Send(ctx context.Context, m Message) (again bool, err error) {
	line, err := l.line(&m)
	if err != nil {
		return false, fmt.Errorf("syslog %s: %w", l.name, err)
	}
	ctx, cancel := context.WithTimeout(ctx, dialPatient)
	defer cancel()
	conn, err := l.dial(ctx)
	if err != nil {
		return true, fmt.Errorf("syslog %s: %w", l.name, err)
	}
	if deadline, ok := ctx.Deadline(); ok {
		err = conn.SetDeadline(deadline)
	}
	if err == nil {
		_, err = conn.Write(l.framed(line))
	}
	if closed := conn.Close(); err == nil {
		err = closed
	}
	if err != nil {
		return true, fmt.Errorf("syslog %s: %w", l.name, err)
	}
	return false, nil
}

func (l *Syslog) dial(ctx context.Context) (net.Conn, error) {
	if l.secure != nil {
		return (&tls.Dialer{Config: l.secure}).DialContext(ctx, l.network, l.address)
	}
	return (&net.Dialer{}).DialContext(ctx, l.network, l.address)
}

func (l *Syslog) framed(line string) []byte {
	if l.network == "udp" {
		return []byte(line[:min(len(line), udpMost)])
	}
	return []byte(strconv.Itoa(len(line)) + " " + line)
}

// severities of RFC 5424 section 6.2.1. Alerts for technicians are at most
// errors; the words alert and emergency of that table mean something else.
func severity(m *Message) uint8 {
	switch {
	case m.Event == Cleared || m.Event == Watched || m.Event == Ending:
		return 5 // notice
	case m.Event == Trial:
		return 6 // informational
	case m.Category == "failure":
		return 3 // error
	}
	return 4 // warning
}

func (l *Syslog) line(m *Message) (string, error) {
	host := m.Box
	if host == "" {
		host = l.host
	}
	at := m.Time
	if at.IsZero() {
		at = time.Now()
	}
	s := &rfc5424.SyslogMessage{}
	s.SetVersion(1).SetPriority(facility*8 + severity(m)).SetTimestamp(at.UTC().Format("2006-01-02T15:04:05.000000Z07:00")).
		SetHostname(printable(host, 255)).SetAppname("bridlewatch").SetMsgID(printable(string(m.Event), 32)).
		SetMessage("\xef\xbb\xbf" + oneLine(m.Title()+". "+m.Sentence+" "+m.Quiet+" "+m.Next+" "+m.Link))
	for _, p := range [][2]string{{"id", m.ID}, {"alert", m.Alert}, {"gauge", m.Gauge}, {"area", m.Area}, {"cause", string(m.Cause)}, {"suspect", string(m.Suspect)},
		{"gap_mm", strconv.FormatFloat(m.ValueMM, 'f', 1, 64)}, {"allowed_mm", strconv.FormatFloat(m.BudgetMM, 'f', 1, 64)}, {"link", m.Link}} {
		if p[1] != "" {
			s.SetParameter(sdID, p[0], p[1])
		}
	}
	if !s.Valid() {
		return "", fmt.Errorf("message %s cannot be written as RFC 5424", m.ID)
	}
	return s.String()
}

// printable keeps the visible ASCII characters, at most n: what a header field
// may hold.
func printable(s string, n int) string {
	out := make([]byte, 0, len(s))
	for i := 0; i < len(s) && len(out) < n; i++ {
		if s[i] > ' ' && s[i] <= '~' {
			out = append(out, s[i])
		}
	}
	if len(out) == 0 {
		return "-"
	}
	return string(out)
}
