package opcua

import (
	"context"
	"fmt"
	"sync"
	"time"

	"github.com/gopcua/opcua"
	"github.com/gopcua/opcua/ua"

	"bridlewatch/collector"
	"bridlewatch/compare/quantity"
)

// currentTime is the server's clock (i=2258, OPC 10000-5, 12.10). It is
// monitored beside the items: an item that does not change is silent, and the
// library keeps the keep-alives of a subscription to itself.
var currentTime = ua.NewNumericNodeID(0, 2258)

const (
	heartbeatHandle = 0 // client handle of currentTime; item i has handle i+1
	keepAliveCount  = 10
	lifetimeCount   = 60
	silentIntervals = 5 // without a heartbeat the subscription is dead
)

// Revised is what the server made of a subscription's wishes for one item.
type Revised struct {
	Tag        collector.Tag
	Publishing time.Duration
	Sampling   time.Duration
	QueueSize  uint32
	Refused    string // why it is not monitored; empty: it is
}

// subscription keeps the newest value of every item.
type subscription struct {
	publishing time.Duration
	stop       context.CancelFunc
	done       chan struct{}

	mu       sync.Mutex
	newest   []collector.Sample // by item
	beat     bool               // a heartbeat came since the last look
	silent   int                // looks in a row without one
	failed   error
	overflow int64
	revised  []Revised
}

// subscribe monitors the session's nodes: sampled twice as often as they are
// published, queued so that nothing is lost between.
func (s *session) subscribe(ctx context.Context, c *opcua.Client, items []Item, every, sampling time.Duration) error {
	life, stop := context.WithCancel(context.Background())
	notify := make(chan *opcua.PublishNotificationData, 64)
	sub, err := c.Subscribe(ctx, &opcua.SubscriptionParameters{
		Interval: every, MaxKeepAliveCount: keepAliveCount, LifetimeCount: lifetimeCount,
	}, notify)
	if err != nil {
		stop()
		return fmt.Errorf("create subscription: %w", err)
	}
	k := &subscription{publishing: sub.RevisedPublishingInterval, stop: stop, done: make(chan struct{}), newest: make([]collector.Sample, len(items))}
	go k.drain(life, notify)
	s.sub = k
	for i, it := range items {
		k.newest[i] = collector.Sample{Tag: it.Tag, Quality: bad, Reason: refused, Detail: s.why[i]}
		k.revised = append(k.revised, Revised{Tag: it.Tag, Refused: s.why[i]})
	}
	if sampling <= 0 {
		sampling = every / 2
	}
	return k.monitor(ctx, sub, s, every, sampling)
}

func (k *subscription) monitor(ctx context.Context, sub *opcua.Subscription, s *session, every, sampling time.Duration) error {
	requests := []*ua.MonitoredItemCreateRequest{monitored(currentTime, heartbeatHandle, every)}
	where := []int{-1}
	for i, id := range s.nodes {
		if id != nil {
			requests = append(requests, monitored(id, uint32(i+1), sampling))
			where = append(where, i)
		}
	}
	for start := 0; start < len(requests); start += s.batch {
		end := min(start+s.batch, len(requests))
		res, err := sub.Monitor(ctx, ua.TimestampsToReturnBoth, requests[start:end]...)
		if err != nil {
			return fmt.Errorf("monitor items: %w", err)
		}
		if len(res.Results) != end-start {
			return fmt.Errorf("asked to monitor %d items, got %d answers", end-start, len(res.Results))
		}
		for j, r := range res.Results {
			if err := k.note(where[start+j], r); err != nil {
				return err
			}
		}
	}
	return nil
}

// note keeps what the server answered for an item; without a heartbeat the
// subscription is of no use.
func (k *subscription) note(item int, r *ua.MonitoredItemCreateResult) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	failed := severity(r.StatusCode) >= 2
	if item < 0 {
		if failed {
			return fmt.Errorf("the server's clock cannot be monitored: %s", statusText(r.StatusCode))
		}
		return nil
	}
	v := &k.revised[item]
	v.Publishing, v.Sampling, v.QueueSize = k.publishing, time.Duration(r.RevisedSamplingInterval*float64(time.Millisecond)), r.RevisedQueueSize
	if failed {
		v.Refused = statusText(r.StatusCode)
		k.newest[item].Detail = v.Refused
	}
	return nil
}

func monitored(id *ua.NodeID, handle uint32, sampling time.Duration) *ua.MonitoredItemCreateRequest {
	return &ua.MonitoredItemCreateRequest{
		ItemToMonitor:  &ua.ReadValueID{NodeID: id, AttributeID: ua.AttributeIDValue, DataEncoding: &ua.QualifiedName{}},
		MonitoringMode: ua.MonitoringModeReporting,
		RequestedParameters: &ua.MonitoringParameters{
			ClientHandle: handle, SamplingInterval: float64(sampling) / float64(time.Millisecond), QueueSize: 4, DiscardOldest: true,
		},
	}
}

// drain takes notifications as they come, so that the library's publish loop
// never waits.
func (k *subscription) drain(ctx context.Context, notify <-chan *opcua.PublishNotificationData) {
	defer close(k.done)
	for {
		select {
		case <-ctx.Done():
			return
		case n := <-notify:
			k.take(n)
		}
	}
}

func (k *subscription) take(n *opcua.PublishNotificationData) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if n.Error != nil {
		k.failed = n.Error
		return
	}
	switch v := n.Value.(type) {
	case *ua.DataChangeNotification:
		for _, it := range v.MonitoredItems {
			k.change(it)
		}
	case *ua.StatusChangeNotification:
		k.failed = fmt.Errorf("subscription ended by the server: %s", statusText(v.Status))
	}
}

// overflowBits mark a value before which others were dropped (OPC 10000-4,
// 7.39.1: info type data value, bit overflow).
const overflowBits = 0x480

func (k *subscription) change(it *ua.MonitoredItemNotification) {
	if it.ClientHandle == heartbeatHandle {
		k.beat = true
		return
	}
	i := int(it.ClientHandle) - 1
	if i >= len(k.newest) {
		return // not an item of ours
	}
	sample(&k.newest[i], it.Value)
	if it.Value != nil && uint32(it.Value.Status)&overflowBits == overflowBits {
		k.overflow++
	}
}

// look returns the newest values. A live subscription vouches for those that
// did not change; a silent one is an error.
func (k *subscription) look() ([]collector.Sample, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.failed != nil {
		return nil, k.failed
	}
	if k.beat {
		k.beat, k.silent = false, 0
	} else if k.silent++; k.silent > silentIntervals {
		return nil, fmt.Errorf("the server's clock has not moved for %d looks; publishing interval %v", k.silent, k.publishing)
	}
	out := make([]collector.Sample, len(k.newest))
	copy(out, k.newest)
	for i := range out {
		if out[i].Quality == bad && out[i].Detail == "" {
			out[i].Reason = quantity.NotRead
		}
	}
	return out, nil
}

func (k *subscription) close() {
	k.stop()
	<-k.done
}
