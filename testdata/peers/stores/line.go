package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"time"
)

// perRequest is how many lines go into one request.
const perRequest = 5000

// post writes a day as line protocol.
func post(address string, day time.Time, columns [][]float64) error {
	var b bytes.Buffer
	n := 0
	send := func() error {
		r, err := http.Post(address, "text/plain", bytes.NewReader(b.Bytes()))
		if err != nil {
			return err
		}
		text, _ := io.ReadAll(r.Body)
		r.Body.Close()
		if r.StatusCode >= 300 {
			return fmt.Errorf("%s: %s", r.Status, text)
		}
		b.Reset()
		n = 0
		return nil
	}
	for k := range aDay {
		at := strconv.FormatInt(day.Add(time.Duration(k)*every).UnixNano(), 10)
		for i := range columns {
			b.WriteString("history,gauge=LG-101,signal=S-")
			b.WriteString(strconv.Itoa(i))
			b.WriteString(" value=")
			b.Write(strconv.AppendFloat(b.AvailableBuffer(), columns[i][k], 'g', -1, 64))
			b.WriteByte(' ')
			b.WriteString(at)
			b.WriteByte('\n')
			if n++; n == perRequest {
				if err := send(); err != nil {
					return err
				}
			}
		}
	}
	return send()
}

func get(address string) ([]byte, error) {
	r, err := http.Get(address)
	if err != nil {
		return nil, err
	}
	defer r.Body.Close()
	text, err := io.ReadAll(r.Body)
	if err == nil && r.StatusCode >= 300 {
		err = fmt.Errorf("%s: %s", r.Status, text)
	}
	return text, err
}

// influxd is InfluxDB 1.8.
type influxd struct{ server }

func (d *influxd) name() string { return "InfluxDB 1.8" }

func (d *influxd) open(dir string, _ time.Time) error {
	cache, err := os.UserCacheDir()
	if err != nil {
		return err
	}
	listen := freePort()
	conf := filepath.Join(dir, "influxdb.conf")
	text := fmt.Sprintf("reporting-disabled = true\nbind-address = %q\n[meta]\n  dir = %q\n[data]\n  dir = %q\n  wal-dir = %q\n  query-log-enabled = false\n  cache-snapshot-write-cold-duration = \"1s\"\n  compact-full-write-cold-duration = \"5s\"\n[http]\n  bind-address = %q\n  log-enabled = false\n[logging]\n  level = \"error\"\n",
		freePort(), filepath.Join(dir, "meta"), filepath.Join(dir, "data"), filepath.Join(dir, "wal"), listen)
	if err := os.WriteFile(conf, []byte(text), 0o600); err != nil {
		return err
	}
	d.url = "http://" + listen
	if err := d.start(d.url+"/ping", filepath.Join(cache, "bridlewatch-peers", "bin", "influxd"), "-config", conf); err != nil {
		return err
	}
	r, err := http.PostForm(d.url+"/query", url.Values{"q": {"CREATE DATABASE bench"}})
	if err != nil {
		return err
	}
	return r.Body.Close()
}

func (d *influxd) write(day time.Time, columns [][]float64) error {
	return post(d.url+"/write?db=bench&precision=ns", day, columns)
}

func (d *influxd) settle() error {
	d.quiet()
	return nil
}

func (d *influxd) trend(from, to time.Time) (n int, err error) {
	q := fmt.Sprintf(`SELECT min(value), max(value), mean(value), count(value) FROM history WHERE time >= %d AND time < %d GROUP BY time(%ds), signal fill(none)`,
		from.UnixNano(), to.UnixNano(), int(to.Sub(from).Seconds()/width)+1)
	text, err := get(d.url + "/query?" + url.Values{"db": {"bench"}, "q": {q}, "epoch": {"ms"}}.Encode())
	if err != nil {
		return 0, err
	}
	var answer struct {
		Results []struct {
			Series []struct{ Values [][]float64 }
		}
	}
	if err := json.Unmarshal(text, &answer); err != nil {
		return 0, err
	}
	for _, r := range answer.Results {
		for _, s := range r.Series {
			for _, v := range s.Values {
				n += int(v[4])
			}
		}
	}
	return n, nil
}

// victoria is VictoriaMetrics, single node.
type victoria struct{ server }

func (v *victoria) name() string { return "VictoriaMetrics" }

func (v *victoria) open(dir string, _ time.Time) error {
	listen := freePort()
	v.url = "http://" + listen
	return v.start(v.url+"/health", "victoria-metrics", "-storageDataPath="+dir, "-httpListenAddr="+listen, "-retentionPeriod=100y", "-loggerLevel=ERROR",
		"-search.maxPointsPerTimeseries=100000", "-search.maxSamplesPerQuery=1000000000", "-search.disableCache", "-search.latencyOffset=0s")
}

func (v *victoria) write(day time.Time, columns [][]float64) error {
	return post(v.url+"/write?precision=ns", day, columns)
}

func (v *victoria) settle() error {
	if _, err := get(v.url + "/internal/force_flush"); err != nil {
		return err
	}
	v.quiet()
	return nil
}

// trend asks for each figure; a range query looks back one step from each of
// its instants, so the first instant is one step after the beginning.
func (v *victoria) trend(from, to time.Time) (n int, err error) {
	step := int(to.Sub(from).Seconds() / width)
	for _, f := range []string{"min", "max", "avg", "count"} {
		text, err := get(v.url + "/api/v1/query_range?" + url.Values{
			"query": {fmt.Sprintf("%s_over_time(history_value[%ds])", f, step)}, "nocache": {"1"},
			"start": {strconv.FormatInt(from.Unix()+int64(step)-1, 10)}, "end": {strconv.FormatInt(to.Unix()-1, 10)}, "step": {strconv.Itoa(step) + "s"},
		}.Encode())
		if err != nil {
			return n, err
		}
		if f == "count" {
			if n, err = counted(text); err != nil {
				return n, err
			}
		}
	}
	return n, nil
}

func counted(text []byte) (n int, err error) {
	var answer struct {
		Data struct {
			Result []struct{ Values [][2]any }
		}
	}
	if err := json.Unmarshal(text, &answer); err != nil {
		return 0, err
	}
	for _, r := range answer.Data.Result {
		for _, v := range r.Values {
			count, err := strconv.ParseFloat(v[1].(string), 64)
			if err != nil {
				return n, err
			}
			n += int(count)
		}
	}
	return n, nil
}
