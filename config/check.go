package config

// check looks at the configuration as a whole: names used twice, references,
// security that must be said in words, and gauges that cannot be.
func (d *decoder) check(c *Config, doc *document, root *node) {
	d.checkNames(c)
}

// checkNames refuses a name that is used twice: tags are unique over all
// gauges and signals, names within their list.
func (d *decoder) checkNames(c *Config) {
	tags := unique{d: d, what: "tag"}
	for _, g := range c.Gauges {
		tags.add(g.Sheet.Tag, g.Place)
	}
	signals := unique{d: d, what: "signal tag"}
	for _, g := range c.Gauges {
		for _, s := range g.Signals {
			signals.add(s.Tag, s.Place)
		}
	}
	sources := unique{d: d, what: "source"}
	for _, s := range c.Sources {
		sources.add(s.Name, s.Place)
	}
}

// unique remembers where each name was used first.
type unique struct {
	d    *decoder
	what string
	seen map[string]Place
}

func (u *unique) add(name string, at Place) {
	if name == "" {
		return // reported as missing
	}
	if first, found := u.seen[name]; found {
		u.d.report(at, "%s %q is used twice; first at %s", u.what, name, first.position())
		return
	}
	if u.seen == nil {
		u.seen = map[string]Place{}
	}
	u.seen[name] = at
}
