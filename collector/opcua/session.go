package opcua

import (
	"context"
	"fmt"
	"time"

	"github.com/gopcua/opcua"
	"github.com/gopcua/opcua/ua"

	"bridlewatch/collector"
)

// defaultBatch bounds a read where the server states no limit.
const defaultBatch = 500

// noEncoding asks for the values as they are. All requests share it.
var noEncoding = &ua.QualifiedName{}

// session is one connection with resolved nodes.
type session struct {
	client reader
	shut   func()
	nodes  []*ua.NodeID // nil where a node could not be resolved
	why    []string     // why not
	batch  int
	sub    *subscription // nil: the nodes are read

	samples []collector.Sample // of the last read
	wanted  []*ua.ReadValueID  // of the nodes that were resolved
	of      []int              // which item each of them is
}

// open connects with a fresh client and resolves the items.
func open(ctx context.Context, o Options, items []Item) (sess *session, err error) {
	// A server that answers a session request with a bad signature makes the
	// library dereference nil.
	defer func() {
		if r := recover(); r != nil {
			sess, err = nil, fmt.Errorf("connect to %s: the server's answer could not be verified (%v); check its certificate", o.Endpoint, r)
		}
	}()
	options, err := o.Security.options(ctx, o, len(items))
	if err != nil {
		return nil, err
	}
	client, err := opcua.NewClient(o.Endpoint, options...)
	if err != nil {
		return nil, fmt.Errorf("prepare client for %s: %w", o.Endpoint, err)
	}
	if err := client.Connect(ctx); err != nil {
		return nil, fmt.Errorf("connect to %s: %w", o.Endpoint, err)
	}
	shut := func() {
		ctx, cancel := context.WithTimeout(context.Background(), time.Second)
		defer cancel()
		_ = client.Close(ctx) // the session is given up either way
	}
	sess = &session{client: client, shut: shut, batch: o.MaxNodesPerRead}
	if err := sess.resolve(ctx, client, items); err != nil {
		shut()
		return nil, err
	}
	if o.SubscribeEvery > 0 {
		if err := sess.subscribe(ctx, client, items, o.SubscribeEvery, o.SamplingEvery); err != nil {
			sess.close()
			return nil, err
		}
	}
	return sess, nil
}

func (s *session) close() {
	s.shut()
	if s.sub != nil {
		s.sub.close()
	}
}

// resolve turns the configured nodes into node ids of this server, now.
func (s *session) resolve(ctx context.Context, c *opcua.Client, items []Item) error {
	namespaces, err := s.client.NamespaceArray(ctx)
	if err != nil {
		return fmt.Errorf("read namespace array: %w", err)
	}
	s.nodes = make([]*ua.NodeID, len(items))
	s.why = make([]string, len(items))
	for i, it := range items {
		ref, err := parseNode(it.Node)
		if err != nil {
			return err
		}
		id, err := ref.resolve(ctx, c, namespaces)
		if err != nil {
			s.why[i] = err.Error()
			continue
		}
		s.nodes[i] = id
		s.wanted = append(s.wanted, &ua.ReadValueID{NodeID: id, AttributeID: ua.AttributeIDValue, DataEncoding: noEncoding})
		s.of = append(s.of, i)
	}
	if s.batch <= 0 {
		s.batch = s.readLimit(ctx)
	}
	return nil
}

// readLimit asks for MaxNodesPerRead (OPC 10000-5, 6.3.11: node i=11705).
func (s *session) readLimit(ctx context.Context) int {
	res, err := s.client.Read(ctx, &ua.ReadRequest{NodesToRead: []*ua.ReadValueID{{NodeID: ua.NewNumericNodeID(0, 11705), AttributeID: ua.AttributeIDValue}}})
	if err != nil || len(res.Results) != 1 || res.Results[0].Value == nil {
		return defaultBatch
	}
	n, ok := res.Results[0].Value.Value().(uint32)
	if !ok || n == 0 || n > defaultBatch {
		return defaultBatch
	}
	return int(n)
}

// read reads all items in batches the server accepts, or looks at what a
// subscription brought.
func (s *session) read(ctx context.Context, items []Item, count *counters) ([]collector.Sample, error) {
	if s.sub != nil {
		return s.sub.look()
	}
	if s.samples == nil {
		s.samples = make([]collector.Sample, len(items))
	}
	out := s.samples
	for i, it := range items {
		out[i] = collector.Sample{Tag: it.Tag, Quality: bad, Reason: refused, Detail: s.why[i]}
	}
	ids, where := s.wanted, s.of
	for len(ids) > 0 {
		n := min(s.batch, len(ids))
		count.requests.Add(1)
		res, err := s.client.Read(ctx, &ua.ReadRequest{TimestampsToReturn: ua.TimestampsToReturnBoth, NodesToRead: ids[:n]})
		if err != nil {
			return nil, err
		}
		if len(res.Results) != n {
			return nil, fmt.Errorf("asked for %d nodes, got %d answers", n, len(res.Results))
		}
		for k, dv := range res.Results {
			sample(&out[where[k]], dv)
		}
		ids, where = ids[n:], where[n:]
	}
	return out, nil
}
