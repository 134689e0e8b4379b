package opcua

import (
	"net"

	"github.com/gopcua/opcua"
	"github.com/gopcua/opcua/uacp"
)

// Message chunks. A connection always holds a buffer for the next one, which
// is most of what a session costs; a message that does not fit takes several.
const (
	smallestChunk = 8192  // OPC 10000-6, 7.1.2.3: no buffer may be smaller
	largestChunk  = 65535 // the library's own
	valueBytes    = 40    // of an answer, for a number with its status and both times
	headerBytes   = 256   // of an answer, with its signature
)

// chunkFor is the chunk that holds the answer to a read of so many nodes.
func chunkFor(nodes int) int {
	return min(max(headerBytes+valueBytes*min(nodes, defaultBatch), smallestChunk), largestChunk)
}

// dialer makes connections with chunks of our own size. Both directions are
// the same: the library takes the server's limit for what it receives.
func (o Options) dialer(nodes int) opcua.Option {
	chunk := uint32(chunkFor(nodes))
	return opcua.Dialer(&uacp.Dialer{
		Dialer:    &net.Dialer{Timeout: o.Timeout},
		ClientACK: &uacp.Acknowledge{ReceiveBufSize: chunk, SendBufSize: chunk},
	})
}
