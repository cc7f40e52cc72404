package socket

import (
	"errors"
	"io"
	"sync"
	"time"

	"github.com/gorilla/websocket"
)

const (
	// mostFrame is more than anything that Slack sends; of a larger frame the
	// rest is read past.
	mostFrame = 4 << 20
	// writeWithin bounds each write, and so the acknowledgements that can wait
	// for a connection whose other side reads nothing.
	writeWithin = 10 * time.Second
	// closeWithin is how long the other side gets to answer the close frame.
	closeWithin = time.Second
)

// conn is one websocket. Frames are written by its own goroutine, so that
// nobody who acknowledges waits for the network.
type conn struct {
	ws    *websocket.Conn
	board *switchboard
	quiet time.Duration

	hello   chan struct{} // closed after the hello
	replace chan struct{} // closed when Slack asks for another connection
	reason  string        // of that; set before replace is closed
	gone    chan struct{} // closed when nothing more is read
	err     error         // why; set before gone is closed

	underway tally

	mu     sync.Mutex
	out    [][]byte
	closed bool          // nothing more is put into out
	some   chan struct{} // holds one when out or closed have changed
}

func newConn(ws *websocket.Conn, board *switchboard) *conn {
	return &conn{
		ws: ws, board: board, quiet: board.Quiet,
		hello: make(chan struct{}), replace: make(chan struct{}), gone: make(chan struct{}),
		some: make(chan struct{}, 1),
	}
}

// read takes frames until the connection ends.
func (c *conn) read() {
	defer func() {
		c.shut()
		_ = c.ws.Close()
		c.board.leave(c)
		close(c.gone)
	}()
	// Pings and pongs are seen only by these handlers, while a frame is waited for.
	answer := c.ws.PingHandler()
	c.ws.SetPingHandler(func(data string) error { c.heard(); return answer(data) })
	c.ws.SetPongHandler(func(string) error { c.heard(); return nil })
	for {
		c.heard()
		data, err := c.next()
		if err != nil {
			c.err = err
			return
		}
		c.take(decode(data))
	}
}

// next waits for a frame, of whatever type. Of one that is too large, which is
// then no JSON, the rest is read past at the next call.
func (c *conn) next() ([]byte, error) {
	_, r, err := c.ws.NextReader()
	if err != nil {
		return nil, err
	}
	return io.ReadAll(io.LimitReader(r, mostFrame))
}

// heard puts off the moment at which the connection counts as dead.
func (c *conn) heard() { _ = c.ws.SetReadDeadline(time.Now().Add(c.quiet)) }

// take is called by the reader alone.
func (c *conn) take(f frame) {
	switch {
	case f.Type == hello && !f.Broken:
		if !isClosed(c.hello) {
			close(c.hello)
		}
	case f.Type == disconnect && !f.Broken:
		if !isClosed(c.replace) {
			c.reason = f.Reason
			close(c.replace)
		}
	default:
		c.board.take(c, f)
		return
	}
	c.board.acknowledge(c, f, nil) // Slack gives these no envelope today
}

// wordless says whether the connection ended without the other side having
// said so; it is known once gone is closed.
func (c *conn) wordless() bool {
	said := (*websocket.CloseError)(nil)
	// The library makes up a close frame with 1006 for a stream that just ends.
	return !isClosed(c.replace) && !(errors.As(c.err, &said) && said.Code != websocket.CloseAbnormalClosure)
}

// send says whether the frame will be written, here or elsewhere. It does not wait.
func (c *conn) send(data []byte) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.closed {
		return false
	}
	c.out = append(c.out, data)
	notify(c.some)
	return true
}

// shut makes send refuse; it says whether this was the first time.
func (c *conn) shut() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.closed {
		return false
	}
	c.closed = true
	notify(c.some)
	return true
}

// waiting gives what is to be written, and whether it is the last.
func (c *conn) waiting() (out [][]byte, last bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	out, c.out = c.out, nil
	return out, c.closed
}

// write writes what is sent, and pings. After shut it writes what is left and
// the close frame. What can't be written goes to another connection.
func (c *conn) write() {
	pings := time.NewTicker(max(c.quiet/3, time.Millisecond))
	defer pings.Stop()
	for {
		select {
		case <-c.some:
			out, last := c.waiting()
			for _, data := range out {
				c.writeOrPass(data)
			}
			if last {
				goodbye := websocket.FormatCloseMessage(websocket.CloseNormalClosure, "")
				_ = c.ws.WriteControl(websocket.CloseMessage, goodbye, time.Now().Add(closeWithin))
				return
			}
		case <-pings.C:
			if c.ws.WriteControl(websocket.PingMessage, nil, time.Now().Add(writeWithin)) != nil {
				_ = c.ws.Close() // the reader sees that
			}
		}
	}
}

func (c *conn) writeOrPass(data []byte) {
	_ = c.ws.SetWriteDeadline(time.Now().Add(writeWithin))
	if c.ws.WriteMessage(websocket.TextMessage, data) != nil {
		_ = c.ws.Close() // the reader sees that
		c.board.pass(data, c)
	}
}

// finish writes what waits and the close frame, and gives the other side a
// moment to answer. It does not wait for any of this.
func (c *conn) finish() {
	if !c.shut() {
		return
	}
	c.board.leave(c)
	c.board.routines.Go(func() {
		timer := time.NewTimer(closeWithin)
		defer timer.Stop()
		select {
		case <-c.gone:
		case <-timer.C:
		}
		_ = c.ws.Close()
	})
}

// notify wakes the one who waits, now or when it waits next.
func notify(c chan struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}

func isClosed(c <-chan struct{}) bool {
	select {
	case <-c:
		return true
	default:
		return false
	}
}
