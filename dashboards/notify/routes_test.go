package notify

import (
	"bytes"
	"crypto/tls"
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"net/mail"
	"net/url"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/leodido/go-syslog/v4"
	"github.com/leodido/go-syslog/v4/octetcounting"
	"github.com/leodido/go-syslog/v4/rfc5424"
	broker "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/listeners"
	"github.com/mochi-mqtt/server/v2/packets"
)

func mustRoute(t *testing.T, s Setting) Route {
	t.Helper()
	s.Name = "ops"
	r, err := New(s)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func send(t *testing.T, r Route, m Message) {
	t.Helper()
	if _, err := r.Send(t.Context(), m); err != nil {
		t.Fatal(err)
	}
}

func TestMailIsEncryptedBeforeThePassword(t *testing.T) {
	cert, ca := authority(t)
	p := &postOffice{cert: cert}
	openPostOffice(t, p)
	r := mustRoute(t, Setting{Kind: "smtp", URL: "smtp://" + p.address, CAFile: ca, User: "levels", Password: "secret", From: "levels@works.example", To: []string{"shift@works.example", "desk@works.example"}})
	m := message(time.Now())
	m.Quiet = "Was quiet until 13:00 by planner."
	send(t, r, m)
	if at := slices.Index(p.steps, "AUTH"); at < 0 || at < slices.Index(p.steps, "tls") {
		t.Errorf("steps %v: the password must come after encryption", p.steps)
	}
	letter, err := mail.ReadMessage(strings.NewReader(p.letters[0]))
	if err != nil {
		t.Fatal(err)
	}
	if got := letter.Header.Get("Message-ID"); got != "<"+m.ID+"@bridlewatch>" {
		t.Errorf("message id %q", got)
	}
	if letter.Header.Get("Auto-Submitted") != "auto-generated" || letter.Header.Get("Subject") != "Alert: LG-7, condensate" || !strings.Contains(letter.Header.Get("To"), "desk@works.example") {
		t.Errorf("header %v", letter.Header)
	}
	body, _ := io.ReadAll(letter.Body)
	text := strings.ReplaceAll(string(body), "=\r\n", "")
	for _, words := range []string{"Float has not moved for 3 h 10 min.", "Was quiet until 13:00 by planner.", "- Transmitter moved 184 mm.", "https://box.example/gauge/LG-7", "not an alarm"} {
		if !strings.Contains(text, words) {
			t.Errorf("letter does not say %q:\n%s", words, text)
		}
	}
}

// TestMailIsNotSentTwice: the server took the letter and hung up.
func TestMailIsNotSentTwice(t *testing.T) {
	cert, ca := authority(t)
	p := &postOffice{cert: cert, abrupt: true}
	openPostOffice(t, p)
	send(t, mustRoute(t, Setting{Kind: "smtp", URL: "smtp://" + p.address, CAFile: ca, From: "a@works.example", To: []string{"b@works.example"}}), message(time.Now()))
	if len(p.letters) != 1 {
		t.Errorf("%d letters", len(p.letters))
	}
}

func TestWebhookOverTLSWithAToken(t *testing.T) {
	cert, ca := authority(t)
	head := make(chan http.Header, 1)
	srv := httptest.NewUnstartedServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) { head <- r.Header }))
	srv.TLS = &tls.Config{Certificates: []tls.Certificate{cert}}
	srv.StartTLS()
	defer srv.Close()
	send(t, mustRoute(t, Setting{Kind: "webhook", URL: srv.URL, CAFile: ca, Token: "t", Key: []byte("key")}), message(time.Now()))
	if h := <-head; h.Get("Authorization") != "Bearer t" || !strings.HasPrefix(h.Get("Bridlewatch-Signature"), "sha256=") {
		t.Errorf("header %v", h)
	}
	if again, err := mustRoute(t, Setting{Kind: "webhook", URL: srv.URL}).Send(t.Context(), message(time.Now())); err == nil || !again || !strings.Contains(err.Error(), "certificate") {
		t.Errorf("certificate of a stranger: again %v, %v", again, err)
	}
}

func TestMailThatIsNotSent(t *testing.T) {
	cert, ca := authority(t)
	rows := []struct {
		name    string
		office  *postOffice
		setting Setting
		again   bool
		says    string
	}{
		{"no encryption offered", &postOffice{plain: true}, Setting{URL: "smtp://"}, true, "STARTTLS"},
		{"certificate of a stranger", &postOffice{cert: cert}, Setting{URL: "smtp://"}, true, "certificate"},
		{"mailbox unknown", &postOffice{cert: cert, refuse: "550 no such mailbox"}, Setting{URL: "smtp://", CAFile: ca}, false, "550"},
		{"mailbox busy", &postOffice{cert: cert, refuse: "450 mailbox busy"}, Setting{URL: "smtp://", CAFile: ca}, true, "450"},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			openPostOffice(t, row.office)
			s := row.setting
			s.Kind, s.URL, s.From, s.To = "smtp", s.URL+row.office.address, "a@works.example", []string{"b@works.example"}
			again, err := mustRoute(t, s).Send(t.Context(), message(time.Now()))
			if err == nil || again != row.again || !strings.Contains(err.Error(), row.says) {
				t.Errorf("again %v, error %v; want %v and %q", again, err, row.again, row.says)
			}
			if len(row.office.letters) != 0 {
				t.Error("a letter was sent")
			}
		})
	}
}

func TestRoutesThatAreRefused(t *testing.T) {
	rows := []struct {
		name string
		s    Setting
		says string
	}{
		{"password by plain mail", Setting{Kind: "smtp", URL: "smtp+plain://mail.example:25", User: "a", Password: "b", From: "a@x.example", To: []string{"b@x.example"}}, "never sent without encryption"},
		{"password by plain mail on this box", Setting{Kind: "smtp", URL: "smtp+plain://127.0.0.1:25", User: "a", Password: "b", From: "a@x.example", To: []string{"b@x.example"}}, "only with encryption"},
		{"token by http", Setting{Kind: "webhook", URL: "http://desk.example/", Token: "t"}, "never sent without encryption"},
		{"sender is no address", Setting{Kind: "smtp", URL: "smtp://mail.example", From: "nobody", To: []string{"b@x.example"}}, "sender"},
		{"authority that is not there", Setting{Kind: "webhook", URL: "https://desk.example", CAFile: "/nonexistent"}, "certificate authority"},
		{"unknown kind", Setting{Kind: "pigeon", URL: "https://desk.example"}, "pigeon"},
		{"no host", Setting{Kind: "webhook", URL: "https:///secret-path"}, "names no host"},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			_, err := New(row.s)
			if err == nil || !strings.Contains(err.Error(), row.says) {
				t.Errorf("error %v does not say %q", err, row.says)
			}
			if err != nil && strings.Contains(err.Error(), "secret") {
				t.Errorf("error %v shows the address", err)
			}
		})
	}
}

func TestASecretAddressIsNotShown(t *testing.T) {
	r := mustRoute(t, Setting{Kind: "webhook", URL: "http://127.0.0.1:1/hook/very-secret"})
	if _, err := r.Send(t.Context(), message(time.Now())); err == nil || strings.Contains(err.Error(), "very-secret") {
		t.Errorf("error %v", err)
	}
}

// collected reads what comes over a listener until its peer closes.
func collected(l net.Listener) chan []byte {
	c := make(chan []byte, 4)
	go func() {
		for {
			conn, err := l.Accept()
			if err != nil {
				return
			}
			text, _ := io.ReadAll(conn)
			conn.Close()
			c <- text
		}
	}()
	return c
}

func take(t *testing.T, c chan []byte) []byte {
	t.Helper()
	select {
	case text := <-c:
		return text
	case <-time.After(5 * time.Second):
		t.Fatal("nothing came")
		return nil
	}
}

// parsed reads the frames of a stream with a parser of RFC 5425 and RFC 5424.
func parsed(t *testing.T, stream []byte) *rfc5424.SyslogMessage {
	t.Helper()
	var all []*rfc5424.SyslogMessage
	octetcounting.NewParser(syslog.WithListener(func(r *syslog.Result) {
		if r.Error != nil {
			t.Fatalf("%v: %q", r.Error, stream)
		}
		all = append(all, r.Message.(*rfc5424.SyslogMessage))
	})).Parse(bytes.NewReader(stream))
	if len(all) != 1 {
		t.Fatalf("%d messages in %q", len(all), stream)
	}
	return all[0]
}

func checkLine(t *testing.T, s *rfc5424.SyslogMessage) {
	t.Helper()
	// RFC 5424 section 6.2.1: priority is facility times 8 plus severity.
	if *s.Priority != 3*8+3 || *s.Facility != 3 || *s.Severity != 3 {
		t.Errorf("priority %d, facility %d, severity %d", *s.Priority, *s.Facility, *s.Severity)
	}
	sd := (*s.StructuredData)[sdID]
	if *s.Appname != "bridlewatch" || *s.MsgID != "raised" || *s.Hostname != "edge-1" || sd["gauge"] != "LG-7" || sd["gap_mm"] != "184.0" || sd["link"] != "https://box.example/gauge/LG-7" {
		t.Errorf("message %+v, data %v", s, sd)
	}
	if !strings.Contains(*s.Message, "Float has not moved for 3 h 10 min.") {
		t.Errorf("text %q", *s.Message)
	}
}

func failure(at time.Time) Message {
	m := message(at)
	m.Category = "failure"
	return m
}

func TestSyslogOverTLS(t *testing.T) {
	cert, ca := authority(t)
	l := tls.NewListener(listen(t), &tls.Config{Certificates: []tls.Certificate{cert}})
	c := collected(l)
	send(t, mustRoute(t, Setting{Kind: "syslog", URL: "syslog+tls://" + l.Addr().String(), CAFile: ca}), failure(time.Now()))
	checkLine(t, parsed(t, take(t, c)))
}

func TestSyslogOverTCP(t *testing.T) {
	l := listen(t)
	c := collected(l)
	send(t, mustRoute(t, Setting{Kind: "syslog", URL: "syslog+tcp://" + l.Addr().String()}), failure(time.Now()))
	checkLine(t, parsed(t, take(t, c)))
}

func TestSyslogByDatagram(t *testing.T) {
	conn, err := net.ListenPacket("udp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	send(t, mustRoute(t, Setting{Kind: "syslog", URL: "syslog+udp://" + conn.LocalAddr().String()}), failure(time.Now()))
	b := make([]byte, 4096)
	if err := conn.SetReadDeadline(time.Now().Add(5 * time.Second)); err != nil {
		t.Fatal(err)
	}
	n, _, err := conn.ReadFrom(b)
	if err != nil {
		t.Fatal(err)
	}
	m, err := rfc5424.NewParser().Parse(b[:n])
	if err != nil {
		t.Fatalf("%v: %q", err, b[:n])
	}
	checkLine(t, m.(*rfc5424.SyslogMessage))
}

func TestSyslogCertificateOfAStranger(t *testing.T) {
	cert, _ := authority(t)
	l := tls.NewListener(listen(t), &tls.Config{Certificates: []tls.Certificate{cert}})
	collected(l)
	again, err := mustRoute(t, Setting{Kind: "syslog", URL: "syslog+tls://" + l.Addr().String()}).Send(t.Context(), failure(time.Now()))
	if err == nil || !again || !strings.Contains(err.Error(), "certificate") {
		t.Errorf("again %v, error %v", again, err)
	}
}

// heard keeps what a broker was told, the newest retained text by topic.
type heard struct {
	broker.HookBase
	mu       sync.Mutex
	retained map[string]string
	events   []string
	login    string
}

func (h *heard) ID() string { return "heard" }
func (h *heard) Provides(b byte) bool {
	return slices.Contains([]byte{broker.OnPublished, broker.OnRetainMessage, broker.OnWillSent, broker.OnConnectAuthenticate, broker.OnACLCheck}, b)
}

func (h *heard) OnConnectAuthenticate(_ *broker.Client, p packets.Packet) bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.login = string(p.Connect.Username) + "/" + string(p.Connect.Password)
	return true
}

func (h *heard) OnACLCheck(*broker.Client, string, bool) bool { return true }

func (h *heard) OnPublished(_ *broker.Client, p packets.Packet) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if !p.FixedHeader.Retain {
		h.events = append(h.events, p.TopicName+" "+string(p.Payload))
	}
}

func (h *heard) OnRetainMessage(_ *broker.Client, p packets.Packet, _ int64) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.retained[p.TopicName] = string(p.Payload)
}

func (h *heard) OnWillSent(_ *broker.Client, p packets.Packet) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.retained[p.TopicName] = string(p.Payload)
}

func (h *heard) is(t *testing.T, topic string, want func(string) bool) {
	t.Helper()
	got := ""
	for range 2000 {
		h.mu.Lock()
		got = h.retained[topic]
		h.mu.Unlock()
		if want(got) {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Errorf("%s is %q", topic, got)
}

func openBroker(t *testing.T, secure *tls.Config) (*broker.Server, *heard, string) {
	t.Helper()
	s := broker.New(&broker.Options{InlineClient: true, Logger: slog.New(slog.DiscardHandler)})
	h := &heard{retained: map[string]string{}}
	l := listeners.NewTCP(listeners.Config{ID: "t", Address: "127.0.0.1:0", TLSConfig: secure})
	if err := errors.Join(s.AddHook(h, nil), s.AddListener(l), s.Serve()); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s, h, l.Address()
}

func TestBusOverTLSWithAPassword(t *testing.T) {
	cert, ca := authority(t)
	_, h, address := openBroker(t, &tls.Config{Certificates: []tls.Certificate{cert}})
	bus := mustRoute(t, Setting{Kind: "mqtt", URL: "mqtts://" + address, Topic: "levels", Client: "north/edge-1", CAFile: ca, User: "levels", Password: "secret"}).(*Bus)
	defer bus.Close()
	send(t, bus, message(time.Now()))
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.login != "levels/secret" || len(h.events) == 0 {
		t.Errorf("login %q, events %v", h.login, h.events)
	}
}

func TestBusKeepsTheStateOfEachAlert(t *testing.T) {
	_, h, address := openBroker(t, nil)
	bus := mustRoute(t, Setting{Kind: "mqtt", URL: "mqtt://" + address, Topic: "bridlewatch", Client: "north/edge-1"}).(*Bus)
	bus.Open(t.Context())
	h.is(t, "bridlewatch/north/edge-1/status", func(s string) bool { return s == "online" })
	m := message(time.Now())
	m.Alert = "LG-7/1+#" // what must not be in a topic
	send(t, bus, m)
	topic := "bridlewatch/north/edge-1/alert/LG-7/LG-7_1__"
	h.is(t, topic, func(text string) bool {
		var got Message
		return json.Unmarshal([]byte(text), &got) == nil && got.Sentence == m.Sentence && got.Event == Raised
	})
	m.Event = Cleared
	send(t, bus, m)
	h.is(t, topic, func(s string) bool { return s == "" })
	h.mu.Lock()
	if len(h.events) != 2 || !strings.HasPrefix(h.events[0], "bridlewatch/north/edge-1/event {") {
		t.Errorf("events %v", h.events)
	}
	h.mu.Unlock()
	bus.Close()
	h.is(t, "bridlewatch/north/edge-1/status", func(s string) bool { return s == "offline" })
	if again, err := bus.Send(t.Context(), m); err == nil || !again {
		t.Errorf("sent after the end: again %v, %v", again, err)
	}
}

// TestBrokerSaysThatABoxIsGone cuts the connection without a goodbye: the
// broker publishes the last will (MQTT 3.1.1 section 3.1.2.5).
func TestBrokerSaysThatABoxIsGone(t *testing.T) {
	s, h, address := openBroker(t, nil)
	bus := mustRoute(t, Setting{Kind: "mqtt", URL: "mqtt://" + address, Topic: "bridlewatch", Client: "north/edge-1"}).(*Bus)
	bus.Open(t.Context())
	h.is(t, "bridlewatch/north/edge-1/status", func(s string) bool { return s == "online" })
	for _, c := range s.Clients.GetAll() {
		if !c.Net.Inline {
			c.Stop(errors.New("cut"))
		}
	}
	h.is(t, "bridlewatch/north/edge-1/status", func(s string) bool { return s == "offline" })
	h.is(t, "bridlewatch/north/edge-1/status", func(s string) bool { return s == "online" }) // and is there again
	bus.Close()
}

func TestAlertmanagerHearsStartEndAndEverythingAgain(t *testing.T) {
	var mu sync.Mutex
	var got [][]postable
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var list []postable
		dec := json.NewDecoder(r.Body)
		dec.DisallowUnknownFields()
		if r.Method != http.MethodPost || r.URL.Path != "/prefix/api/v2/alerts" || r.Header.Get("Authorization") != "Bearer t" || dec.Decode(&list) != nil {
			w.WriteHeader(http.StatusBadRequest)
			return
		}
		mu.Lock()
		got = append(got, list)
		mu.Unlock()
	}))
	defer srv.Close()
	am := mustRoute(t, Setting{Kind: "alertmanager", URL: srv.URL + "/prefix/", Token: "t"}).(*Alertmanager)
	m := message(time.Now())
	m.Since = time.Now().Add(-time.Hour)
	send(t, am, m)
	a := got[0][0]
	if a.Labels["gauge"] != "LG-7" || a.Labels["alertname"] == "" || a.Annotations["summary"] != m.Sentence || !a.StartsAt.Equal(m.Since) || a.GeneratorURL != m.Link {
		t.Errorf("alert %+v", a)
	}
	if left := time.Until(a.EndsAt); left < 3*time.Minute || left > 5*time.Minute {
		t.Errorf("ends in %s, want some minutes so that a lost end is noticed", left)
	}
	if err := am.Keep(t.Context(), []Message{m, m}); err != nil || len(got[1]) != 2 {
		t.Errorf("kept %v, %v", got, err)
	}
	m.Event = Cleared
	send(t, am, m)
	if end := got[2][0]; end.EndsAt.After(time.Now()) || end.Labels["alert"] != a.Labels["alert"] {
		t.Errorf("end %+v", end)
	}
}

func TestWhatARouteWants(t *testing.T) {
	u2 := Message{Event: Raised, Area: "unit 2", Gauge: "LG-7"}
	as := func(e Event) Message { m := u2; m.Event = e; return m }
	rows := []struct {
		name string
		s    Setting
		m    Message
		want bool
	}{
		{"everything", Setting{}, u2, true},
		{"its area", Setting{Areas: []string{"unit 2"}}, u2, true},
		{"its gauge beside another area", Setting{Areas: []string{"unit 1"}, Gauges: []string{"LG-7"}}, u2, true},
		{"another area", Setting{Areas: []string{"unit 1"}}, u2, false},
		{"trial of any route", Setting{Areas: []string{"unit 1"}}, Message{Event: Trial}, true},
		{"watch unasked", Setting{}, as(Watched), false},
		{"watch asked", Setting{Watches: true}, as(Watched), true},
		{"end unasked", Setting{}, as(Cleared), false},
		{"end asked", Setting{Ended: true}, as(Cleared), true},
		{"end where a state is held", Setting{Kind: "mqtt"}, as(Cleared), true},
		{"reminder unasked", Setting{}, as(Reminder), false},
		{"reminder asked", Setting{RepeatEvery: time.Hour}, as(Reminder), true},
		{"reminder where everything is given again", Setting{RepeatEvery: time.Hour, Kind: "alertmanager"}, as(Reminder), false},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			if got := row.s.wants(&row.m); got != row.want {
				t.Errorf("wanted %v, want %v", got, row.want)
			}
		})
	}
}

func TestReminders(t *testing.T) {
	rec := &receiver{}
	srv := httptest.NewServer(rec)
	defer srv.Close()
	o, err := Open(t.Context(), openStore(t, t.TempDir()), []Setting{{Name: "ops", Kind: "webhook", URL: srv.URL, RepeatEvery: 4 * time.Hour}}, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	now := time.Now()
	o.now = func() time.Time { return now }
	m := message(now)
	if err := o.Post(t.Context(), m); err != nil {
		t.Fatal(err)
	}
	acked := false
	for range 10 {
		now = now.Add(time.Hour)
		o.Standing(t.Context(), []Message{m}, func(string) bool { return !acked })
		o.round(t.Context())
		acked = rec.count() == 3
	}
	if n := rec.count(); n != 3 {
		t.Errorf("%d messages in 10 h, want one and two reminders", n)
	}
}

// TestTheEndDoesNotOvertake: while the beginning of an alert waits for its next
// try, its end waits as well; other alerts go on.
func TestTheEndDoesNotOvertake(t *testing.T) {
	rec := &receiver{codes: []int{503}}
	srv := httptest.NewServer(rec)
	defer srv.Close()
	o, err := Open(t.Context(), openStore(t, t.TempDir()), []Setting{{Name: "ops", Kind: "webhook", URL: srv.URL, Ended: true}}, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	now := time.Now()
	o.now = func() time.Time { return now }
	post := func(e Event, id string) {
		f := finding()
		f.ID = id
		if err := o.Post(t.Context(), MessageOf(Origin{Box: "b"}, e, now, "", "", f)); err != nil {
			t.Fatal(err)
		}
	}
	post(Raised, "a")
	o.round(t.Context())
	post(Cleared, "a")
	post(Raised, "b")
	o.round(t.Context())
	now = now.Add(time.Minute)
	o.round(t.Context())
	o.round(t.Context())
	var seen []string
	for _, body := range rec.bodies {
		var m Message
		if err := json.Unmarshal(body, &m); err != nil {
			t.Fatal(err)
		}
		seen = append(seen, string(m.Event)+" "+m.Alert)
	}
	if got := strings.Join(seen, ", "); got != "raised a, raised b, raised a, cleared a" {
		t.Errorf("came as %s", got)
	}
}

func TestHealthSurvivesARestart(t *testing.T) {
	s := openStore(t, t.TempDir())
	settings := []Setting{{Name: "ops", Kind: "webhook", URL: "http://127.0.0.1:1/"}}
	o, err := Open(t.Context(), s, settings, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	if err := o.Post(t.Context(), message(time.Now())); err != nil {
		t.Fatal(err)
	}
	o.round(t.Context())
	if h := o.Health()[0]; h.Waiting != 1 || h.Failures != 1 || h.Error == "" || h.To != "http://127.0.0.1:1" {
		t.Errorf("health %+v", h)
	}
	again, err := Open(t.Context(), s, settings, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	if h := again.Health()[0]; h.Waiting != 1 {
		t.Errorf("health after a restart %+v", h)
	}
}

// TestWhereHidesSecrets keeps what may be shown of an address.
func TestWhereHidesSecrets(t *testing.T) {
	s := Setting{URL: "https://desk.example:8443/hook/abc?token=x"}
	if u, _ := url.Parse(s.where()); u.Host != "desk.example:8443" || u.Path != "" || u.RawQuery != "" {
		t.Errorf("shown %q", s.where())
	}
}
