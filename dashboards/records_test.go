package dashboards

import (
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"bridlewatch/compare/record"
	"bridlewatch/dashboards/plant/planttest"
)

// bookSite serves a plant on this machine; a name given by hand is taken.
func bookSite(t *testing.T) string {
	t.Helper()
	s, err := New(Options{Store: planttest.NewMemory(), Plant: planttest.Varied(), Version: "test", Location: time.FixedZone("UTC-6", -6*3600)})
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(s.Handler())
	t.Cleanup(server.Close)
	t.Cleanup(func() { s.Close() })
	return server.URL
}

func callAPI(t *testing.T, method, address string, body any) (int, []byte) {
	t.Helper()
	var text io.Reader
	if body != nil {
		b, err := json.Marshal(body)
		if err != nil {
			t.Fatal(err)
		}
		text = bytes.NewReader(b)
	}
	r, err := http.NewRequestWithContext(t.Context(), method, address, text)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/json")
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	out, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res.StatusCode, out
}

type fields = map[string]any

// A whole guided test over the interface. What is answered as the record hashes
// to what is said of it, so a client can verify the chain itself.
func TestGuidedTestOverTheInterface(t *testing.T) {
	api := bookSite(t) + "/api/v1"
	step := func(want int, path string, body fields) []byte {
		t.Helper()
		status, out := callAPI(t, http.MethodPost, api+path, body)
		if status != want {
			t.Fatalf("%s: %d, want %d: %s", path, status, want, out)
		}
		return out
	}
	const test = "/gauges/LG-101/test"
	begin := fields{"by": "R. Tester", "reference": "sight glass <1>", "reference_u_m": 0.004, "trips_may_m": 0.01}
	if out := step(422, test, begin); !strings.Contains(string(out), "confirmed") {
		t.Errorf("begun without confirmation: %s", out)
	}
	begin["confirmed"] = true
	step(200, test, begin)
	step(409, test, begin)
	step(200, test+"/readings", fields{"by": "R. Tester", "phase": "as found", "reference_m": 0.61})
	step(422, test+"/readings", fields{"by": "R. Tester", "phase": "as found", "reference_m": 7})
	step(409, test+"/readings", fields{"by": "R. Tester", "version": 1, "phase": "as found", "reference_m": 0.61})
	step(200, test+"/switch", fields{"by": "R. Tester", "phase": "as found", "tag": "LSH-101", "rising_m": 0.787})
	if status, out := callAPI(t, http.MethodGet, api+test, nil); status != 200 || !strings.Contains(string(out), "near the upper tap") {
		t.Errorf("%d %s", status, out)
	}
	step(200, test+"/end", fields{"by": "R. Tester", "work": "Drained & refilled."})
	status, out := callAPI(t, http.MethodGet, api+"/records/1", nil)
	var got struct {
		SHA256 string
		Record json.RawMessage
	}
	if err := json.Unmarshal(out, &got); err != nil || status != 200 {
		t.Fatalf("%d %v: %s", status, err, out)
	}
	if record.Hash(got.Record) != got.SHA256 {
		t.Errorf("the record as sent hashes to %s, not to %s", record.Hash(got.Record), got.SHA256)
	}
	if r, err := record.Parse(got.Record); err != nil || len(r.Rows) != 1 || r.Work != "Drained & refilled." {
		t.Errorf("%+v, %v", r, err)
	}
	for path, want := range map[string]string{"/records/verification": `"holds":true`, "/records": `"drain test"`, "/records/due": `"record":1`, "/records/1/pdf": "%PDF-"} {
		if status, out := callAPI(t, http.MethodGet, api+path, nil); status != 200 || !strings.Contains(string(out), want) {
			t.Errorf("%s: %d without %s", path, status, want)
		}
	}
	for path, want := range map[string]int{"/records/9": 404, "/records/9/pdf": 404, "/gauges/LG-101/test": 404, "/gauges/LG-999/test": 404} {
		if status, _ := callAPI(t, http.MethodGet, api+path, nil); status != want {
			t.Errorf("%s: %d, want %d", path, status, want)
		}
	}
}

func TestRecordOverTheInterface(t *testing.T) {
	api := bookSite(t) + "/api/v1"
	if status, out := callAPI(t, http.MethodPost, api+"/records", fields{"kind": "float cleaned", "gauge": "LG-102", "work": "x"}); status != 401 {
		t.Errorf("a record by nobody: %d %s", status, out)
	}
	if status, out := callAPI(t, http.MethodPost, api+"/records", fields{"kind": "float cleaned", "gauge": "LG-102", "instrument": "LI-102", "work": "x", "by": "R. Tester"}); status != 200 {
		t.Errorf("%d %s", status, out)
	}
	if status, _ := callAPI(t, http.MethodPost, api+"/records", fields{"kind": "float cleaned", "gauge": "LG-999", "work": "x", "by": "R. Tester"}); status != 422 {
		t.Errorf("a record of no gauge: %d", status)
	}
}
