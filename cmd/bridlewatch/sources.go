package main

import (
	"fmt"
	"os"
	"path/filepath"
	"time"

	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/collector"
	"bridlewatch/collector/modbus"
	"bridlewatch/collector/opcua"
	"bridlewatch/collector/poll"
	"bridlewatch/config"
)

// feed polls the sources of a configuration and arranges their samples in the
// order of its signals.
type feed struct {
	poller *poll.Poller
	jobs   []poll.Job
	order  []int // by signal of the configuration: place in the poller's snapshot
}

// openFeed makes a poll job of every source. Nothing is opened on the network
// before the first read.
func openFeed(cfg *config.Config, dataDir string) (*feed, error) {
	jobs, err := openSources(cfg, dataDir)
	if err != nil {
		return nil, err
	}
	spread(cfg, jobs)
	poller, err := poll.New(jobs, cfg.Service.ScanEvery, poll.System{})
	if err != nil {
		return nil, err
	}
	place := map[collector.Tag]int{}
	for _, j := range jobs {
		for _, t := range j.Source.Tags() {
			place[t] = len(place)
		}
	}
	f := &feed{poller: poller, jobs: jobs}
	for _, t := range watch.Tags(cfg) {
		f.order = append(f.order, place[t])
	}
	return f, nil
}

// arrange puts the samples of a snapshot in the order of the configuration.
func (f *feed) arrange(s collector.Snapshot) collector.Snapshot {
	samples := make([]collector.Sample, len(f.order))
	for i, k := range f.order {
		samples[i] = s.Samples[k]
	}
	return collector.Snapshot{Time: s.Time, Samples: samples}
}

// openSources makes the jobs.
func openSources(cfg *config.Config, dataDir string) ([]poll.Job, error) {
	var jobs []poll.Job
	for i := range cfg.Sources {
		src := &cfg.Sources[i]
		signals := cfg.SignalsOf(src.Name)
		if len(signals) == 0 {
			continue // the configuration's advice says so
		}
		var s collector.Source
		var err error
		switch {
		case src.Protocol.Modbus():
			s, err = modbusSource(src, signals)
		case src.Protocol == config.OPCUA:
			s, err = opcuaSource(src, signals, dataDir)
		case src.Protocol == config.MQTT, src.Protocol == config.SparkplugB:
			s, err = brokerSource(src, signals)
		case src.Protocol == config.CSVFolder:
			s, err = folderSource(src, signals, dataDir)
		default:
			err = fmt.Errorf("source %q has protocol %q, which is for replay only", src.Name, src.Protocol)
		}
		if err != nil {
			return nil, err
		}
		jobs = append(jobs, poll.Job{Source: s, Every: src.Every, MaxAge: src.MaxAge})
	}
	return jobs, nil
}

var framings = map[config.Protocol]modbus.Framing{
	config.ModbusTCP:    modbus.TCP,
	config.ModbusRTU:    modbus.RTU,
	config.ModbusRTUTCP: modbus.RTUOverTCP,
}

// aims maps the configuration's words to what the request planner saves.
var aims = map[string]modbus.Aim{"requests": modbus.FewestRequests, "time": modbus.LeastTime}

// endpointOf is the connection a Modbus source describes.
func endpointOf(src *config.Source) modbus.Endpoint {
	e := modbus.Endpoint{
		Name: src.Name, Framing: framings[src.Protocol], Address: src.Address,
		Baud: src.Baud, Parity: src.Parity, StopBits: src.StopBits, Timeout: src.Timeout,
		PauseBetweenRequests: src.PauseBetweenRequests, PauseAfterConnect: src.PauseAfterConnect,
		CloseAfterCycle: src.CloseAfterCycle, IgnoreTransactionID: src.IgnoreTransactionID,
		MaxRegisters: src.MaxRegisters, MaxBits: src.MaxBits, MaxGap: src.MaxGap, Aim: aims[src.PlanFor],
		Turnaround: src.Turnaround, BreakAfter: src.BreakAfter, ProbeEvery: src.ProbeEvery, Reprobe: src.ReprobeEvery,
	}
	for _, f := range src.Forbidden {
		e.Forbidden = append(e.Forbidden, modbus.Span{UnitID: f.UnitID, Table: modbus.Table(f.Table), From: f.From, To: f.To + 1})
	}
	return e
}

func fieldsOf(signals []config.Signal) []modbus.Field {
	fields := make([]modbus.Field, len(signals))
	for i, s := range signals {
		fields[i] = modbus.Field{
			Tag: collector.Tag(s.Tag), UnitID: s.UnitID, Table: modbus.Table(s.Table), Address: s.Address,
			Type: modbus.Type(s.Type), Order: modbus.Order(s.Order), Bit: s.Bit, EveryScan: s.EveryScan,
		}
	}
	return fields
}

func modbusSource(src *config.Source, signals []config.Signal) (collector.Source, error) {
	return modbus.New(endpointOf(src), fieldsOf(signals), poll.System{})
}

func opcuaSource(src *config.Source, signals []config.Signal, dataDir string) (collector.Source, error) {
	items := make([]opcua.Item, len(signals))
	for i, s := range signals {
		items[i] = opcua.Item{Tag: collector.Tag(s.Tag), Node: s.Node}
	}
	security, err := securityOf(src, dataDir)
	if err != nil {
		return nil, err
	}
	return opcua.New(opcuaOptions(src, security), items, poll.System{})
}

func opcuaOptions(src *config.Source, security opcua.Security) opcua.Options {
	o := opcua.Options{Name: src.Name, Endpoint: src.Endpoint, Timeout: src.Timeout, Security: security, MaxNodesPerRead: src.MaxNodes, SamplingEvery: src.SamplingEvery}
	if src.Subscribe {
		o.SubscribeEvery = src.Every
	}
	return o
}

// trustFolder is where an OPC UA source keeps what it trusts.
func trustFolder(src *config.Source, dataDir string) opcua.TrustFolder {
	dir := src.TrustDir
	if dir == "" {
		dir = filepath.Join(dataDir, "certificates")
	}
	return opcua.TrustFolder{Dir: dir, Now: time.Now}
}

func securityOf(src *config.Source, dataDir string) (opcua.Security, error) {
	s := opcua.Security{
		Policy: src.SecurityPolicy, Mode: src.SecurityMode, Allowed: src.AcceptNoSecurity,
		User: src.User, Password: src.Password.Reveal(),
	}
	if s.Policy == "None" {
		return s, nil
	}
	host, err := os.Hostname()
	if err != nil {
		return s, fmt.Errorf("name of this box for its certificate: %w", err)
	}
	s.Identity, err = opcua.LoadOrMakeIdentity(filepath.Join(dataDir, "certificates"), host, time.Now())
	if err != nil {
		return s, err
	}
	s.Trusted = trustFolder(src, dataDir).Judge
	if src.ServerThumbprint != "" {
		s.Trusted = opcua.Pinned(src.ServerThumbprint)
	}
	if src.CertFile != "" {
		s.UserCertificate, s.UserKey, err = opcua.LoadUser(src.CertFile, src.KeyFile)
	}
	return s, err
}
