package rehearsal

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"strings"
	"sync/atomic"
	"time"

	"github.com/gopcua/opcua/id"
	"github.com/gopcua/opcua/server"
	"github.com/gopcua/opcua/server/attrs"
	"github.com/gopcua/opcua/ua"

	"bridlewatch/collector/signal"
	"bridlewatch/compare/quantity"
	"bridlewatch/config"
)

// opcServer serves the OPC UA variables of one endpoint on loopback: readable
// by anybody, writable by nobody, with the simulated time as source time.
type opcServer struct {
	server   *server.Server
	cancel   context.CancelFunc
	endpoint string
	nodes    map[string]*variable // by the node text of the configuration
}

// variable is one OPC UA variable; its value is replaced as a whole.
type variable struct {
	value atomic.Pointer[ua.DataValue]
	truth bool // a truth value, not a number
}

// startOPCUA makes a server with a variable for each signal. The namespaces
// are those the configuration names by URI.
func startOPCUA(ctx context.Context, signals []*config.Signal) (*opcServer, error) {
	s := &opcServer{nodes: make(map[string]*variable)}
	ctx, cancel := context.WithCancel(context.WithoutCancel(ctx)) // ended by close alone: a server whose context ends first keeps its channels waiting
	s.cancel = cancel
	err := onFreePort(func(host string, port int) error {
		s.endpoint = fmt.Sprintf("opc.tcp://%s:%d", host, port)
		s.server = server.New(
			server.EndPoint(host, port),
			server.EnableSecurity("None", ua.MessageSecurityModeNone),
			server.EnableAuthMode(ua.UserTokenTypeAnonymous),
			server.ServerName("bridlewatch rehearsal"), server.ManufacturerName("bridlewatch"), server.ProductName("bridlewatch rehearsal plant"),
		)
		if err := s.addVariables(signals); err != nil {
			return err
		}
		return s.server.Start(ctx)
	})
	if err != nil {
		cancel()
		return nil, fmt.Errorf("start the simulated OPC UA server: %w", err)
	}
	return s, nil
}

// patience is how long close waits for clients to go.
const patience = 300 * time.Millisecond

// close stops listening and drops the clients. The library waits ten seconds
// for channels whose clients stay; nobody else needs to, so that wait goes on
// in the background.
func (s *opcServer) close() error {
	s.cancel()
	done := make(chan error, 1)
	go func() { done <- s.server.Close() }()
	select {
	case err := <-done:
		return err
	case <-time.After(patience):
		return nil
	}
}

func (s *opcServer) addVariables(signals []*config.Signal) error {
	clear(s.nodes)
	spaces := make(map[string]*server.NodeNameSpace)
	folders := make(map[string]*server.Node)
	for _, sig := range signals {
		uri, identifier, err := splitNode(sig.Node)
		if err != nil {
			return fmt.Errorf("signal %s: %w", sig.Tag, err)
		}
		space := spaces[uri]
		if space == nil {
			space = server.NewNodeNameSpace(s.server, uri)
			spaces[uri] = space
			folders[uri] = s.addFolder(space, uri)
		}
		v := &variable{truth: sig.Spec.Kind == signal.Contact}
		v.set(quantity.Reading{}, 0, false, time.Time{})
		node := variableNode(nodeID(space.ID(), identifier), sig.Tag, v)
		space.AddNode(node)
		folders[uri].AddRef(node, server.RefType(id.Organizes), true)
		s.nodes[sig.Node] = v
	}
	return nil
}

// addFolder hangs the objects of a namespace below the server's Objects
// folder, where a browsing client looks.
func (s *opcServer) addFolder(space *server.NodeNameSpace, uri string) *server.Node {
	objects := space.Objects()
	if root, err := s.server.Namespace(0); err == nil {
		root.Objects().AddRef(objects, server.RefType(id.Organizes), true)
	}
	objects.SetBrowseName(uri)
	return objects
}

// splitNode reads "nsu=URI;s=name" or "nsu=URI;i=number".
func splitNode(node string) (uri, identifier string, err error) {
	space, identifier, found := strings.Cut(node, ";")
	uri, isURI := strings.CutPrefix(space, "nsu=")
	if !found || !isURI || uri == "" || len(identifier) < 3 || (identifier[:2] != "s=" && identifier[:2] != "i=") {
		return "", "", fmt.Errorf("node %q: the rehearsal serves nodes written as nsu=URI;s=name or nsu=URI;i=number", node)
	}
	return uri, identifier, nil
}

func nodeID(space uint16, identifier string) *ua.NodeID {
	if number, found := strings.CutPrefix(identifier, "i="); found {
		if n, err := strconv.ParseUint(number, 10, 32); err == nil {
			return ua.NewNumericNodeID(space, uint32(n))
		}
	}
	return ua.NewStringNodeID(space, identifier[2:])
}

// variableNode makes a read-only variable.
func variableNode(nid *ua.NodeID, tag string, v *variable) *server.Node {
	dataType := uint32(id.Double)
	if v.truth {
		dataType = id.Boolean
	}
	readOnly := server.DataValueFromValue(uint8(ua.AccessLevelTypeCurrentRead))
	return server.NewNode(nid, server.Attributes{
		ua.AttributeIDNodeClass:       server.DataValueFromValue(uint32(ua.NodeClassVariable)),
		ua.AttributeIDBrowseName:      server.DataValueFromValue(&ua.QualifiedName{NamespaceIndex: nid.Namespace(), Name: tag}),
		ua.AttributeIDDisplayName:     server.DataValueFromValue(attrs.DisplayName(tag, "")),
		ua.AttributeIDDescription:     server.DataValueFromValue(attrs.DisplayName(tag, "")),
		ua.AttributeIDDataType:        server.DataValueFromValue(ua.NewNumericExpandedNodeID(0, dataType)),
		ua.AttributeIDValueRank:       server.DataValueFromValue(int32(-1)),
		ua.AttributeIDAccessLevel:     readOnly,
		ua.AttributeIDUserAccessLevel: readOnly,
		ua.AttributeIDEventNotifier:   server.DataValueFromValue(int16(0)),
	}, nil, func() *ua.DataValue { return v.value.Load() })
}

// set replaces the value of a variable. An uncertain reading keeps its value
// and says so; one that did not arrive carries a status and no value.
func (v *variable) set(r quantity.Reading, raw float64, ok bool, now time.Time) {
	dv := &ua.DataValue{
		EncodingMask:    ua.DataValueStatusCode | ua.DataValueSourceTimestamp | ua.DataValueServerTimestamp,
		SourceTimestamp: r.Time, ServerTimestamp: now, Status: ua.StatusOK,
	}
	switch {
	case !ok || math.IsNaN(raw):
		dv.Status = ua.StatusBadNoCommunication
		if r.Reason == quantity.SensorFault {
			dv.Status = ua.StatusBadSensorFailure
		}
		v.value.Store(dv)
		return
	case r.Quality == quantity.Uncertain:
		dv.Status = ua.StatusUncertainSensorNotAccurate
	}
	dv.EncodingMask |= ua.DataValueValue
	if v.truth {
		dv.Value = ua.MustVariant(raw != 0)
	} else {
		dv.Value = ua.MustVariant(raw)
	}
	v.value.Store(dv)
}
