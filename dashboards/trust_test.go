package dashboards

import (
	"errors"
	"net/url"
	"strings"
	"testing"

	"bridlewatch/dashboards/access"
	"bridlewatch/dashboards/plant/planttest"
)

// folder is a trust folder in memory.
type folder []Certificate

func (f folder) Certificates() ([]Certificate, error) { return f, nil }
func (f folder) Approve(source, thumb string) (Certificate, error) {
	return f.set(source, thumb, true)
}
func (f folder) Withdraw(source, thumb string) (Certificate, error) {
	return f.set(source, thumb, false)
}

func (f folder) set(source, thumb string, trusted bool) (Certificate, error) {
	for i := range f {
		if f[i].Source == source && f[i].Thumbprint == thumb {
			f[i].Trusted = trusted
			return f[i], nil
		}
	}
	return Certificate{}, errors.New("no such certificate")
}

// waitingCertificates is a folder in which one waits.
func waitingCertificates() folder {
	return folder{{
		Source: "gas-plant", Thumbprint: strings.Repeat("0123456789abcdef", 4), SHA1: strings.Repeat("fe", 20), Subject: "CN=level server <1>", URI: "urn:plant:level",
		NotBefore: planttest.Now.AddDate(-1, 0, 0), NotAfter: planttest.Now.AddDate(1, 0, 0),
	}}
}

// TestCertificatesAreApprovedByAnAdmin: everybody sees what waits, an admin
// approves it after comparing, and the audit log keeps who did.
func TestCertificatesAreApprovedByAnAdmin(t *testing.T) {
	certificates := waitingCertificates()
	thumb := certificates[0].Thumbprint
	address, _ := peopled(t, Options{Trust: certificates}, access.Options{})
	ask := url.Values{"verb": {"approve"}, "source": {"gas-plant"}, "thumbprint": {thumb}}

	viewer := visitor(t)
	enter(t, viewer, address, "viewer", passphrase)
	_, page := visit(t, viewer, address+"/service")
	for _, want := range []string{"CN=level server &lt;1&gt;", "01234567", "fefefefe", "urn:plant:level", "2027-11-25", "needs somebody with the role admin"} {
		if !strings.Contains(page, want) {
			t.Errorf("a viewer does not see %q", want)
		}
	}
	if answer, _ := postForm(t, viewer, address+"/service/trust", ask); answer.StatusCode != 403 || certificates[0].Trusted {
		t.Errorf("a viewer gets %d", answer.StatusCode)
	}

	admin := visitor(t)
	enter(t, admin, address, "admin", passphrase)
	if answer, page := postForm(t, admin, address+"/service/trust", ask); answer.StatusCode != 422 || certificates[0].Trusted || !strings.Contains(page, "tick that you did") {
		t.Errorf("without comparing: %d", answer.StatusCode)
	}
	ask.Set("compared", "yes")
	if answer, page := postForm(t, admin, address+"/service/trust", ask); answer.StatusCode != 200 || !certificates[0].Trusted || !strings.Contains(page, "trusted from the next connection on") {
		t.Errorf("approved: %d", answer.StatusCode)
	}
	if answer, _ := postForm(t, admin, address+"/service/trust", ask); answer.StatusCode != 422 {
		t.Errorf("approved twice: %d", answer.StatusCode)
	}
	ask.Set("verb", "withdraw")
	if _, page := postForm(t, admin, address+"/service/trust", ask); certificates[0].Trusted || !strings.Contains(page, "Waiting for approval") {
		t.Error("withdrawn, and still trusted")
	}
	_, log := visit(t, admin, address+"/audit")
	for _, want := range []string{"approved the certificate", "withdrew the certificate", thumb, "admin", "of gas-plant"} {
		if !strings.Contains(log, want) {
			t.Errorf("the audit log lacks %q", want)
		}
	}
}
