package config

import "time"

var (
	byHTTP = []string{"webhook", "alertmanager"}
	byUser = []string{"webhook", "alertmanager", "smtp", "mqtt"}
)

func routeShape() shape[Route] {
	return shape[Route]{
		name:    "route",
		decides: "kind",
		kind:    func(r *Route) string { return r.Kind },
		begin:   func(r *Route, n *node) { r.Place = n.place },
		keys: []key[Route]{
			value("name", "Name of the route, shown with its last delivery.",
				asName(), func(r *Route) *string { return &r.Name }).need(),
			value("kind", "How the message travels.",
				words("webhook", "alertmanager", "smtp", "mqtt", "syslog"), func(r *Route) *string { return &r.Kind }).need(),
			value("url", "Where to: https://, smtps:// or smtp:// (with STARTTLS), mqtts://, syslog+tls://host:6514.",
				asText(), func(r *Route) *string { return &r.URL }),
			value("url_from", "Where the address is kept, in place of url, when whoever knows it may use it.",
				reference(), func(r *Route) *Secret { return &r.URLFrom }),
			value("secret", "Key of the signature (HMAC-SHA256) on each message.",
				reference(), func(r *Route) *Secret { return &r.Secret }).onlyFor("webhook"),
			value("user", "User name at the receiver.", asText(), func(r *Route) *string { return &r.User }).onlyFor(byUser...),
			value("password", "Password of the user.",
				reference(), func(r *Route) *Secret { return &r.Password }).onlyFor(byUser...),
			value("token", "Bearer token sent with each request.",
				reference(), func(r *Route) *Secret { return &r.Token }).onlyFor(byHTTP...),
			value("from", "Sender address.", asText(), func(r *Route) *string { return &r.From }).need().onlyFor("smtp"),
			values("to", "Receiver addresses.", asText(), func(r *Route) *[]string { return &r.To }).need().onlyFor("smtp"),
			value("topic", "Topic below which messages are published.",
				asText(), func(r *Route) *string { return &r.Topic }).otherwise("bridlewatch").onlyFor("mqtt"),
			value("ca_file", "Certificate authority (PEM) that signed the receiver's certificate.",
				asText(), func(r *Route) *string { return &r.CAFile }),
			value("certificate", "Client certificate file (PEM).", asText(), func(r *Route) *string { return &r.CertFile }),
			value("key", "Key file of the client certificate.", asText(), func(r *Route) *string { return &r.KeyFile }),
			value("accept_no_encryption", "Must be said when the address is not encrypted and not on this box.",
				yesNo(), func(r *Route) *bool { return &r.AcceptNoEncryption }).otherwise("false"),
			values("areas", "Only gauges of these areas.", asText(), func(r *Route) *[]string { return &r.Areas }),
			values("gauges", "Only these gauges.", asText(), func(r *Route) *[]string { return &r.Gauges }),
			value("watches", "Send findings that are only watched as well.",
				yesNo(), func(r *Route) *bool { return &r.Watches }).otherwise("false"),
			value("ended", "Tell also when an alert has ended.",
				yesNo(), func(r *Route) *bool { return &r.Ended }).otherwise("true"),
			value("repeat_every", "Remind while nobody has acknowledged; never unless given.",
				duration(time.Minute, 30*24*time.Hour), func(r *Route) *time.Duration { return &r.RepeatEvery }),
		},
	}
}

func roles() format[string] { return words("viewer", "technician", "engineer", "admin") }

func userShape() shape[User] {
	return shape[User]{name: "user", begin: func(u *User, n *node) { u.Place = n.place }, keys: []key[User]{
		value("name", "Login name.", asName(), func(u *User) *string { return &u.Name }).need(),
		value("full_name", "Name shown beside records and acknowledgements.",
			asText(), func(u *User) *string { return &u.FullName }),
		value("role", "What the person may do.", roles(), func(u *User) *string { return &u.Role }).need(),
		value("password_hash", "Where the argon2id hash (PHC form) of the password is kept.",
			reference(), func(u *User) *Secret { return &u.PasswordHash }).need(),
	}}
}

func tokenShape() shape[Token] {
	return shape[Token]{name: "token", begin: func(t *Token, n *node) { t.Place = n.place }, keys: []key[Token]{
		value("name", "What the token is for.", asName(), func(t *Token) *string { return &t.Name }).need(),
		value("role", "What its holder may do.", roles(), func(t *Token) *string { return &t.Role }).otherwise("viewer"),
		value("value", "Where the token is kept; at least 32 characters.",
			reference(), func(t *Token) *Secret { return &t.Value }).need(),
		value("expires", "When it stops working; never unless given.",
			instant(), func(t *Token) *time.Time { return &t.Expires }),
	}}
}

func quietShape() shape[QuietWindow] {
	return shape[QuietWindow]{name: "quiet window", begin: func(q *QuietWindow, n *node) { q.Place = n.place }, keys: []key[QuietWindow]{
		value("name", "Name of the window.", asName(), func(q *QuietWindow) *string { return &q.Name }).need(),
		values("gauges", "Gauges that are quiet; all when neither gauges nor areas are given.",
			asText(), func(q *QuietWindow) *[]string { return &q.Gauges }),
		values("areas", "Areas whose gauges are quiet.", asText(), func(q *QuietWindow) *[]string { return &q.Areas }),
		values("causes", "Only findings of these causes; all unless given.",
			asText(), func(q *QuietWindow) *[]string { return &q.Causes }),
		value("from", "Begin.", instant(), func(q *QuietWindow) *time.Time { return &q.From }).need(),
		value("until", "End.", instant(), func(q *QuietWindow) *time.Time { return &q.Until }).need(),
		value("reason", "Why; shown with every alert it holds back.",
			asText(), func(q *QuietWindow) *string { return &q.Reason }).need(),
	}}
}
