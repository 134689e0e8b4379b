package main

import (
	"crypto/sha256"
	"crypto/tls"
	"encoding/hex"
	"fmt"
	"log/slog"
	"path/filepath"

	"bridlewatch/collector"
	"bridlewatch/collector/dropfolder"
	"bridlewatch/collector/mqtt"
	"bridlewatch/collector/poll"
	"bridlewatch/collector/stamp"
	"bridlewatch/config"
	"bridlewatch/dashboards/access/certificate"
)

// brokerSource reads what is published to an MQTT broker.
func brokerSource(src *config.Source, signals []config.Signal) (collector.Source, error) {
	o := mqtt.Options{
		Name: src.Name, Broker: src.Broker, Client: src.ClientID, User: src.User, Password: src.Password.Reveal(),
		CertFile: src.CertFile, KeyFile: src.KeyFile,
		Timeout: src.Timeout, MaxAge: src.MaxAge, Sparkplug: src.Protocol == config.SparkplugB,
		TimePath: src.TimePath, Times: stamp.Format{Layout: src.TimeFormat, Zone: src.Zone}, QualityPath: src.QualityPath, Good: src.GoodWords,
	}
	var err error
	if o.TLS, err = brokerTLS(src); err != nil {
		return nil, err
	}
	items := make([]mqtt.Item, len(signals))
	for i, s := range signals {
		items[i] = mqtt.Item{Tag: collector.Tag(s.Tag), Topic: s.Topic, Path: s.Path, Metric: s.Metric}
	}
	return mqtt.New(o, items, poll.System{})
}

func brokerTLS(src *config.Source) (*tls.Config, error) {
	secure := &tls.Config{MinVersion: tls.VersionTLS12}
	if src.CAFile == "" {
		return secure, nil
	}
	var err error
	if secure.RootCAs, err = certificate.Roots(src.CAFile); err != nil {
		return nil, fmt.Errorf("source %s: %w", src.Name, err)
	}
	return secure, nil
}

var separators = map[string]rune{",": ',', ";": ';', "tab": '\t'}

// folderSource reads files left in a folder. How far is kept in the data
// directory.
func folderSource(src *config.Source, signals []config.Signal, dataDir string) (collector.Source, error) {
	items := make([]dropfolder.Item, len(signals))
	for i, s := range signals {
		items[i] = dropfolder.Item{Tag: collector.Tag(s.Tag), Column: s.Column}
	}
	name := sha256.Sum256([]byte(src.Name))
	return dropfolder.New(dropfolder.Options{
		Name: src.Name, Dir: src.Folder, Pattern: src.Files, Settled: src.Settled, MaxAge: src.MaxAge,
		Position:   filepath.Join(dataDir, "folders", hex.EncodeToString(name[:8])+".json"),
		TimeColumn: src.TimeColumn, Times: stamp.Format{Layout: src.TimeFormat, Zone: src.Zone}, NoHeader: !src.Header,
		Comma: separators[src.Separator], DecimalComma: src.DecimalComma, Encoding: src.Encoding, Missing: src.Missing,
		Report: func(t dropfolder.Trouble) {
			slog.Warn("a line could not be used", "source", src.Name, "place", t.String())
		},
	}, items, poll.System{})
}
