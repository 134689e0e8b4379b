package collectortest

import (
	"encoding/binary"
	"errors"
	"io"
	"net"
	"sync"
	"time"
)

// Request is one Modbus request a Device was sent.
type Request struct {
	Unit, Function    byte
	Address, Quantity int
	Raw               []byte // unit, function and data
}

// Unit is the content of one Modbus unit. An address that is not in the map
// does not exist: a request that touches it gets exception 2.
type Unit struct {
	Holding, Input  map[int]uint16
	Coils, Discrete map[int]bool
	MaxRegisters    int // per request; 0 means 125. Exception 3 beyond
}

// Device is a Modbus device written from the specification, not with a
// library, that answers reads and remembers every request. It speaks TCP
// and RTU.
type Device struct {
	mu       sync.Mutex
	units    map[byte]*Unit
	silent   map[byte]bool
	requests []Request
	blind    bool // do not remember requests
	delay    time.Duration
	echo     bool
	refuse   map[byte]byte // answer everything to a unit with this exception
}

// NewDevice makes a device without units.
func NewDevice() *Device {
	return &Device{units: map[byte]*Unit{}, silent: map[byte]bool{}, refuse: map[byte]byte{}}
}

// Add gives the device a unit. The caller may change the unit only through
// Update afterwards.
func (d *Device) Add(id byte, u *Unit) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.units[id] = u
}

// Update changes a unit.
func (d *Device) Update(id byte, change func(*Unit)) {
	d.mu.Lock()
	defer d.mu.Unlock()
	change(d.units[id])
}

// Silence makes a unit stop or start answering.
func (d *Device) Silence(id byte, silent bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.silent[id] = silent
}

// Delay makes every answer take at least this long.
func (d *Device) Delay(by time.Duration) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.delay = by
}

// Echo makes a line return every request before the answer.
func (d *Device) Echo(on bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.echo = on
}

func (d *Device) echoes() bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.echo
}

// RefuseUnit makes every answer of a unit this exception; 0 ends it.
func (d *Device) RefuseUnit(id, exception byte) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.refuse[id] = exception
}

// Record makes the device remember its requests, or not. It does until told
// otherwise.
func (d *Device) Record(on bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.blind = !on
}

// Requests are those seen so far.
func (d *Device) Requests() []Request {
	d.mu.Lock()
	defer d.mu.Unlock()
	return append([]Request(nil), d.requests...)
}

// Forget drops the requests seen so far.
func (d *Device) Forget() {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.requests = nil
}

// ServeTCP answers Modbus TCP on every connection of a listener until the
// listener is closed.
func (d *Device) ServeTCP(l net.Listener) { serve(l, func(c net.Conn) { d.ServeOneTCP(c) }) }

// ServeRTUOverTCP answers RTU frames on every connection of a listener until
// the listener is closed.
func (d *Device) ServeRTUOverTCP(l net.Listener) { serve(l, func(c net.Conn) { d.ServeRTU(c) }) }

func serve(l net.Listener, handle func(net.Conn)) {
	var all sync.WaitGroup
	defer all.Wait()
	var mu sync.Mutex
	open := map[net.Conn]bool{}
	for {
		c, err := l.Accept()
		if err != nil {
			mu.Lock()
			defer mu.Unlock()
			for c := range open {
				c.Close()
			}
			return
		}
		mu.Lock()
		open[c] = true
		mu.Unlock()
		all.Go(func() {
			handle(c)
			c.Close()
			mu.Lock()
			delete(open, c)
			mu.Unlock()
		})
	}
}

// ServeOneTCP answers Modbus TCP on one connection until it ends.
func (d *Device) ServeOneTCP(c io.ReadWriter) {
	header := make([]byte, 7)
	for {
		if _, err := io.ReadFull(c, header); err != nil {
			return
		}
		length := int(binary.BigEndian.Uint16(header[4:]))
		if length < 2 || length > 254 {
			return
		}
		request := make([]byte, length)
		request[0] = header[6]
		if _, err := io.ReadFull(c, request[1:]); err != nil {
			return
		}
		answer := d.Answer(request)
		if answer == nil {
			continue
		}
		frame := append(append([]byte{}, header[:4]...), byte(len(answer)>>8), byte(len(answer)))
		if _, err := c.Write(append(frame, answer...)); err != nil {
			return
		}
	}
}

// ServeRTU answers RTU frames on a line until it ends. Frames are told apart
// by their length, as every read request has eight bytes.
func (d *Device) ServeRTU(line io.ReadWriter) error {
	frame := make([]byte, 8)
	for {
		if _, err := io.ReadFull(line, frame); err != nil {
			if errors.Is(err, io.EOF) {
				return nil
			}
			return err
		}
		if binary.LittleEndian.Uint16(frame[6:]) != CRC(frame[:6]) {
			continue
		}
		if d.echoes() {
			if _, err := line.Write(frame); err != nil {
				return err
			}
		}
		answer := d.Answer(append([]byte{}, frame[:6]...))
		if answer == nil {
			continue
		}
		if _, err := line.Write(binary.LittleEndian.AppendUint16(answer, CRC(answer))); err != nil {
			return err
		}
	}
}

// Answer is the answer to a request, both from the unit on and without a
// checksum; nil means silence.
func (d *Device) Answer(request []byte) []byte {
	d.mu.Lock()
	r := Request{Unit: request[0], Function: request[1], Raw: append([]byte{}, request...)}
	if len(request) >= 6 {
		r.Address, r.Quantity = int(binary.BigEndian.Uint16(request[2:])), int(binary.BigEndian.Uint16(request[4:]))
	}
	if !d.blind {
		d.requests = append(d.requests, r)
	}
	delay := d.delay
	u, ok := d.units[r.Unit]
	var answer []byte
	switch {
	case !ok || d.silent[r.Unit]:
	case d.refuse[r.Unit] != 0:
		answer = []byte{r.Unit, r.Function | 0x80, d.refuse[r.Unit]}
	default:
		answer = u.answer(r)
	}
	d.mu.Unlock()
	time.Sleep(delay)
	return answer
}

func (u *Unit) answer(r Request) []byte {
	refuse := func(code byte) []byte { return []byte{r.Unit, r.Function | 0x80, code} }
	longest := u.MaxRegisters
	if longest == 0 {
		longest = 125
	}
	switch r.Function {
	case 1, 2:
		if r.Quantity < 1 || r.Quantity > 2000 {
			return refuse(3)
		}
		table := map[byte]map[int]bool{1: u.Coils, 2: u.Discrete}[r.Function]
		data := make([]byte, (r.Quantity+7)/8)
		for i := range r.Quantity {
			v, ok := table[r.Address+i]
			if !ok {
				return refuse(2)
			}
			if v {
				data[i/8] |= 1 << (i % 8)
			}
		}
		return append([]byte{r.Unit, r.Function, byte(len(data))}, data...)
	case 3, 4:
		if r.Quantity < 1 || r.Quantity > longest {
			return refuse(3)
		}
		table := map[byte]map[int]uint16{3: u.Holding, 4: u.Input}[r.Function]
		answer := []byte{r.Unit, r.Function, byte(2 * r.Quantity)}
		for i := range r.Quantity {
			v, ok := table[r.Address+i]
			if !ok {
				return refuse(2)
			}
			answer = binary.BigEndian.AppendUint16(answer, v)
		}
		return answer
	}
	return refuse(1)
}

// CRC is the checksum of RTU, bit by bit as the Modbus over Serial Line
// Specification V1.02 gives it in clause 6.2.2.
func CRC(data []byte) uint16 {
	crc := uint16(0xFFFF)
	for _, b := range data {
		crc ^= uint16(b)
		for range 8 {
			if crc&1 != 0 {
				crc = crc>>1 ^ 0xA001
			} else {
				crc >>= 1
			}
		}
	}
	return crc
}
