package config

import (
	"encoding/hex"
	"fmt"
	"net"
	"net/url"
	"strings"
)

func (d *decoder) checkSource(s *Source, n *node) {
	if s.Every > 0 && s.MaxAge < s.Every {
		d.report(n.find("max_age"), "%s is shorter than the poll interval of %s: every value would be stale", printDuration(s.MaxAge), printDuration(s.Every))
	}
	if s.Timeout > s.Every && s.Every > 0 {
		d.advise(n.find("timeout"), "%s is longer than the poll interval of %s: a device that does not answer makes polls late", printDuration(s.Timeout), printDuration(s.Every))
	}
	for i, f := range s.Forbidden {
		if f.To < f.From {
			d.report(n.lookup(fmt.Sprintf("forbidden[%d].to", i)), "%d is below from, %d", f.To, f.From)
		}
	}
	switch {
	case s.Protocol == ModbusRTU:
		if s.Address != "" && !strings.HasPrefix(s.Address, "/") && !strings.HasPrefix(s.Address, "COM") {
			d.report(n.find("address"), "%q is not a serial device such as /dev/ttyS0", s.Address)
		}
	case s.Protocol.Modbus():
		if s.Address != "" && !hostPort(s.Address) {
			d.report(n.find("address"), `%q is not "host:port", for example 192.0.2.10:502`, s.Address)
		}
	case s.Protocol == OPCUA:
		d.checkOPCUA(s, n)
	case s.Protocol == MQTT, s.Protocol == SparkplugB:
		d.checkBroker(s, n)
	case s.Protocol == CSVFolder:
		d.checkFolder(s, n)
	}
}

func hostPort(address string) bool {
	host, port, err := net.SplitHostPort(address)
	return err == nil && host != "" && validPort(port) && port != "0"
}

func (d *decoder) checkOPCUA(s *Source, n *node) {
	if u, err := url.Parse(s.Endpoint); s.Endpoint != "" && (err != nil || u.Scheme != "opc.tcp" || u.Host == "") {
		d.report(n.find("endpoint"), "%q is not an address such as opc.tcp://192.0.2.20:4840", shownURL(s.Endpoint))
	} else if u != nil && u.User != nil {
		d.report(n.find("endpoint"), "must not hold a user or password; write user and password")
	}
	d.checkSecurity(s, n)
	d.checkIdentity(s, n)
	if s.ServerThumbprint != "" {
		if sum, err := hex.DecodeString(strings.ReplaceAll(s.ServerThumbprint, ":", "")); err != nil || len(sum) != 32 {
			d.report(n.find("server_thumbprint"), "must be the SHA-256 of the certificate, 64 hexadecimal digits")
		}
	}
	if s.Subscribe && s.SamplingEvery > s.Every {
		d.report(n.find("sampling_every"), "%s is longer than the poll interval of %s", printDuration(s.SamplingEvery), printDuration(s.Every))
	}
	if !s.Subscribe && n.field("sampling_every") != nil {
		d.report(n.find("sampling_every"), "is used with subscribe: true only")
	}
}

func (d *decoder) checkSecurity(s *Source, n *node) {
	noPolicy, noMode := s.SecurityPolicy == "None", s.SecurityMode == "None"
	switch {
	case noPolicy && !noMode:
		d.report(n.find("security_mode"), "%s needs a security policy", s.SecurityMode)
	case noMode && !noPolicy:
		d.report(n.find("security_mode"), "None switches off the policy %s; write Sign or SignAndEncrypt", s.SecurityPolicy)
	case noPolicy && !s.AcceptNoSecurity:
		d.report(n.find("security_policy"), "None means that anybody on the network can pose as the server: choose a policy, or say accept_no_security: true")
	case s.AcceptNoSecurity && !noPolicy:
		d.report(n.find("accept_no_security"), "is said although the policy is %s; remove it, or write security_policy: None", s.SecurityPolicy)
	}
}

func (d *decoder) checkIdentity(s *Source, n *node) {
	d.together(n, "user_certificate", s.CertFile, "user_key", s.KeyFile)
	switch {
	case s.User != "" && s.CertFile != "":
		d.report(n.find("user"), "is given beside a user certificate; the server takes one of them")
	case s.User != "" && s.Password.IsZero() && n.field("password") == nil:
		d.report(n.find("user"), "needs password as well")
	case s.User == "" && n.field("password") != nil:
		d.report(n.find("password"), "needs user as well")
	case s.User != "" && s.SecurityMode != "SignAndEncrypt":
		d.report(n.find("user"), "a password is never sent without encryption: security_mode must be SignAndEncrypt")
	}
}

// checkFramings refuses two framings on one address: what answers would work
// by chance.
func (d *decoder) checkFramings(sources []Source, root *node) {
	first := map[string]*Source{}
	for i := range sources {
		s := &sources[i]
		if !s.Protocol.Modbus() || s.Address == "" {
			continue
		}
		have, found := first[s.Address]
		if !found {
			first[s.Address] = s
			continue
		}
		if have.Protocol != s.Protocol {
			d.report(root.item("sources", i).find("address"), "source %s speaks %s to the same address, this one %s: one framing per address", have.Name, have.Protocol, s.Protocol)
		}
	}
}

// checkAddresses advises on two signals that are read from the same place:
// often a line that was copied.
func (d *decoder) checkAddresses(c *Config) {
	type where struct {
		source, table, node, column string
		unit, address, bit          int
	}
	first := map[where]Signal{}
	for i := range c.Gauges {
		for _, s := range c.Gauges[i].Signals {
			at := where{s.Source, s.Table, s.Node + s.Topic, s.Path + s.Metric, s.UnitID, s.Address, s.Bit}
			if s.Table == "" && s.Node == "" && s.Topic == "" {
				at.column = s.Column
			}
			have, found := first[at]
			switch {
			case s.Shared:
			case found:
				d.advise(s.Place, "%s is read from the same place as %s (%s)", s.Tag, have.Tag, have.Place.position())
			default:
				first[at] = s
			}
		}
	}
}

// checkOverlaps advises on numbers that have a register in common and begin at
// different ones: one of them is read one register too early or too late.
func (d *decoder) checkOverlaps(c *Config) {
	type register struct {
		source, table string
		unit, address int
	}
	taken := map[register]*Signal{}
	for i := range c.Gauges {
		for k := range c.Gauges[i].Signals {
			s := &c.Gauges[i].Signals[k]
			if s.Shared || s.Type == "" || s.Type == "bit" {
				continue
			}
			var other *Signal
			for n := range registers(s.Type) {
				at := register{s.Source, s.Table, s.UnitID, s.Address + n}
				if have := taken[at]; have != nil {
					other = have
				}
				taken[at] = s
			}
			if other != nil && other.Address != s.Address {
				d.advise(s.Place, "%s (%s) shares a register with %s (%s, %s)", s.Tag, s.takes(), other.Tag, other.takes(), other.Place.position())
			}
		}
	}
}

// takes names the registers of a number.
func (s *Signal) takes() string {
	if n := registers(s.Type); n > 1 {
		return fmt.Sprintf("%s at %d to %d", s.Type, s.Address, s.Address+n-1)
	}
	return fmt.Sprintf("%s at %d", s.Type, s.Address)
}

// checkUnused advises on sources that no signal is read from.
func (d *decoder) checkUnused(c *Config) {
	used := map[string]bool{}
	for i := range c.Gauges {
		for _, s := range c.Gauges[i].Signals {
			used[s.Source] = true
		}
	}
	for i := range c.Sources {
		if s := &c.Sources[i]; !used[s.Name] && s.Name != "" {
			d.advise(s.Place, "no signal is read from this source")
		}
	}
}
