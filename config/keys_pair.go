package config

import (
	"net/url"
	"time"
)

func pairShape() shape[Pair] {
	return shape[Pair]{name: "pair", begin: func(p *Pair, n *node) { p.Place = n.place }, keys: []key[Pair]{
		value("url", "Address of a NATS server with JetStream, tls://host:4222, best on a third machine.",
			asText(), func(p *Pair) *string { return &p.URL }).need(),
		value("credentials", "File with the credentials of this box.",
			asText(), func(p *Pair) *string { return &p.Credentials }),
		value("bucket", "Begins the names of the two key-value buckets.",
			asText(), func(p *Pair) *string { return &p.Bucket }).otherwise("bridlewatch"),
		value("holder", "Name of this machine in the lease; its host name unless given.",
			asText(), func(p *Pair) *string { return &p.Holder }),
		value("time_to_live", "How long a box that does not renew the lease keeps it.",
			duration(3*time.Second, time.Minute), func(p *Pair) *time.Duration { return &p.TTL }).otherwise("6 s"),
	}}
}

// checkPair looks at the address of the server that decides.
func (d *decoder) checkPair(c *Config, root *node) {
	if c.Pair == nil || c.Pair.URL == "" {
		return
	}
	u, err := url.Parse(c.Pair.URL)
	at := root.field("pair").find("url")
	switch {
	case err != nil || u.Host == "" || u.Scheme != "nats" && u.Scheme != "tls":
		d.report(at, "%q is not an address such as tls://bus.example:4222", c.Pair.URL)
	case u.User != nil:
		d.report(at, "must not hold a user or password; give a credentials file")
	case u.Scheme == "nats" && !isLoopback(u.Hostname()):
		d.advise(at, "is not encrypted: use tls://")
	}
}
