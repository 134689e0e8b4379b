package page

import (
	"fmt"
	"net/http"
	"strings"

	"bridlewatch/dashboards/access"
	"bridlewatch/dashboards/plant"
)

// trustPart lists the certificates of servers on the service page.
type trustPart struct {
	Waiting, Trusted []certificateRow
	Trouble, Done    string
	May              bool // the reader may approve and withdraw
	Log              bool // there is an audit log to show
}

// certificateRow is one certificate.
type certificateRow struct {
	plant.Certificate
	Thumb []string // the thumbprint in groups, to be compared by eye
	Short []string // the SHA-1 one
	Valid string
}

// trustDone are the words that confirm a change.
var trustDone = map[string]string{
	"approve":  "The certificate is trusted from the next connection on.",
	"withdraw": "The certificate is trusted no more. A connection that stands is kept until it ends.",
}

// trustOf reads the certificates; nil when no source shows any.
func (p *Pages) trustOf(r *http.Request, role access.Role) *trustPart {
	if p.Trust == nil {
		return nil
	}
	part := &trustPart{May: role == access.Admin && !p.ReadOnly, Log: role == access.Admin, Done: trustDone[r.URL.Query().Get("done")]}
	all, err := p.Trust.Certificates()
	if err != nil {
		part.Trouble = upperFirst(err.Error()) + "."
	}
	for _, c := range all {
		row := certificateRow{Certificate: c, Thumb: groups(c.Thumbprint), Short: groups(c.SHA1), Valid: "from " + p.Zone.Full(c.NotBefore) + " to " + p.Zone.Full(c.NotAfter)}
		if c.Trusted {
			part.Trusted = append(part.Trusted, row)
		} else {
			part.Waiting = append(part.Waiting, row)
		}
	}
	return part
}

// groups cuts a thumbprint into groups of eight digits.
func groups(thumb string) []string {
	var out []string
	for len(thumb) > 8 {
		out, thumb = append(out, thumb[:8]), thumb[8:]
	}
	return append(out, thumb)
}

// trust approves a certificate or withdraws it, and writes into the audit log
// who did.
func (p *Pages) trust(w http.ResponseWriter, r *http.Request) {
	get, ok := p.posted(w, r)
	if !ok {
		return
	}
	if err := p.judge(r, get); err != nil {
		p.writeService(w, r, http.StatusUnprocessableEntity, upperFirst(err.Error())+".")
		return
	}
	http.Redirect(w, r, p.Base+"/service?done="+get("verb")+"#certificates", http.StatusSeeOther)
}

// judge does what was asked for.
func (p *Pages) judge(r *http.Request, get func(string) string) error {
	source, thumb := get("source"), get("thumbprint")
	by := access.From(r.Context())
	switch {
	case p.Trust == nil || p.Access == nil:
		return fmt.Errorf("nothing here can be approved; use the command: bridlewatch trust list")
	case p.ReadOnly:
		return fmt.Errorf("this service is read-only: approve at the box with the command: bridlewatch trust approve %s", thumb)
	case get("verb") == "approve" && get("compared") == "":
		return fmt.Errorf("compare the thumbprint with the one the server's own tool shows, and tick that you did")
	}
	move, what, before := p.Trust.Approve, "approved the certificate", "waiting"
	switch get("verb") {
	case "approve":
	case "withdraw":
		move, what, before = p.Trust.Withdraw, "withdrew the certificate", "trusted"
	default:
		return fmt.Errorf("%q is neither approve nor withdraw", get("verb"))
	}
	if err := p.known(source, thumb, get("verb") == "withdraw"); err != nil {
		return err
	}
	if err := p.Access.Record(r.Context(), by, what, thumb, before, "of "+source); err != nil {
		return err
	}
	_, err := move(source, thumb)
	return err
}

// known finds the certificate before anything is written about it. The whole
// thumbprint is asked for: a page has no need to abbreviate.
func (p *Pages) known(source, thumb string, trusted bool) error {
	all, err := p.Trust.Certificates()
	if err != nil {
		return err
	}
	for _, c := range all {
		if c.Source == source && strings.EqualFold(c.Thumbprint, thumb) && c.Trusted == trusted {
			return nil
		}
	}
	return fmt.Errorf("no such certificate waits any more; it may have been judged meanwhile")
}
