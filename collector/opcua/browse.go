package opcua

import (
	"context"
	"fmt"
	"time"

	"github.com/gopcua/opcua"
	"github.com/gopcua/opcua/ua"

	"bridlewatch/collector"
)

// Entry is one node a browse has found.
type Entry struct {
	Depth    int
	Name     string // browse name
	Node     string // as a configuration writes it, with the namespace's URI
	Variable bool
	Value    collector.Sample // of a variable
	Type     string           // of a variable's value, as it came
}

// Browse lists what hangs below a node, down to depth levels and at most limit
// entries; cut says that there is more. An empty node begins at Objects.
func Browse(ctx context.Context, o Options, node string, depth, limit int) (entries []Entry, cut bool, err error) {
	if err := o.Security.check(o.Name); err != nil {
		return nil, false, err
	}
	if o.Timeout <= 0 {
		o.Timeout = 5 * time.Second
	}
	options, err := o.Security.options(ctx, o, defaultBatch)
	if err != nil {
		return nil, false, err
	}
	c, err := opcua.NewClient(o.Endpoint, options...)
	if err != nil {
		return nil, false, fmt.Errorf("prepare client for %s: %w", o.Endpoint, err)
	}
	if err := c.Connect(ctx); err != nil {
		return nil, false, fmt.Errorf("connect to %s: %w", o.Endpoint, err)
	}
	defer func() { _ = c.Close(context.WithoutCancel(ctx)) }() // only read
	b := browser{client: c, limit: limit}
	if b.namespaces, err = c.NamespaceArray(ctx); err != nil {
		return nil, false, fmt.Errorf("read namespace array: %w", err)
	}
	start := ua.NewNumericNodeID(0, 85) // Objects
	if node != "" {
		ref, err := parseNode(node)
		if err != nil {
			return nil, false, err
		}
		if start, err = ref.resolve(ctx, c, b.namespaces); err != nil {
			return nil, false, err
		}
	}
	err = b.below(ctx, start, 0, depth)
	return b.entries, b.cut, err
}

// browser walks a server's nodes.
type browser struct {
	client     *opcua.Client
	namespaces []string
	entries    []Entry
	limit      int
	cut        bool
}

func (b *browser) below(ctx context.Context, id *ua.NodeID, level, depth int) error {
	if level >= depth || b.cut {
		return nil
	}
	refs, err := b.references(ctx, id)
	if err != nil {
		return err
	}
	for _, r := range refs {
		if len(b.entries) >= b.limit {
			b.cut = true
			return nil
		}
		e := Entry{Depth: level, Name: r.BrowseName.Name, Node: b.written(r.NodeID.NodeID), Variable: r.NodeClass == ua.NodeClassVariable}
		if e.Variable {
			if err := b.value(ctx, r.NodeID.NodeID, &e); err != nil {
				return err
			}
		}
		b.entries = append(b.entries, e)
		if err := b.below(ctx, r.NodeID.NodeID, level+1, depth); err != nil {
			return err
		}
	}
	return nil
}

// references returns the hierarchical children of a node.
func (b *browser) references(ctx context.Context, id *ua.NodeID) ([]*ua.ReferenceDescription, error) {
	res, err := b.client.Browse(ctx, &ua.BrowseRequest{
		View: &ua.ViewDescription{ViewID: ua.NewTwoByteNodeID(0)},
		NodesToBrowse: []*ua.BrowseDescription{{
			NodeID: id, BrowseDirection: ua.BrowseDirectionForward, ReferenceTypeID: ua.NewNumericNodeID(0, 33), // HierarchicalReferences
			IncludeSubtypes: true, NodeClassMask: uint32(ua.NodeClassObject | ua.NodeClassVariable), ResultMask: uint32(ua.BrowseResultMaskAll),
		}},
	})
	if err != nil {
		return nil, fmt.Errorf("browse %s: %w", id, err)
	}
	if len(res.Results) != 1 {
		return nil, fmt.Errorf("browse %s: %d answers, want 1", id, len(res.Results))
	}
	refs, more := res.Results[0].References, res.Results[0].ContinuationPoint
	for len(more) > 0 && len(refs) < b.limit {
		next, err := b.client.BrowseNext(ctx, &ua.BrowseNextRequest{ContinuationPoints: [][]byte{more}})
		if err != nil || len(next.Results) != 1 {
			return nil, fmt.Errorf("browse %s further: %w", id, err)
		}
		refs, more = append(refs, next.Results[0].References...), next.Results[0].ContinuationPoint
	}
	return refs, nil
}

func (b *browser) value(ctx context.Context, id *ua.NodeID, e *Entry) error {
	res, err := b.client.Read(ctx, &ua.ReadRequest{TimestampsToReturn: ua.TimestampsToReturnBoth, NodesToRead: []*ua.ReadValueID{{NodeID: id, AttributeID: ua.AttributeIDValue}}})
	if err != nil {
		return fmt.Errorf("read %s: %w", e.Node, err)
	}
	if len(res.Results) != 1 {
		return nil
	}
	if v := res.Results[0].Value; v != nil {
		e.Type = fmt.Sprintf("%T", v.Value())
	}
	sample(&e.Value, res.Results[0])
	return nil
}

// written writes a node id with its namespace's URI, which survives a restart
// of the server.
func (b *browser) written(id *ua.NodeID) string {
	ns := int(id.Namespace())
	if ns == 0 || ns >= len(b.namespaces) {
		return id.String()
	}
	text := id.String() // "ns=2;s=name"
	for i := range text {
		if text[i] == ';' {
			return "nsu=" + b.namespaces[ns] + text[i:]
		}
	}
	return text
}
