package store

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
)

// maxFrame bounds a frame of the socket. Pages and changes are bounded well
// below it (validate.go); a longer frame is no message of ours.
const maxFrame = 64 << 20

var errFrame = errors.New("damaged frame")

// writeFrame writes v as JSON with its length, 4 bytes, before it.
func writeFrame(w io.Writer, v any) error {
	body, err := json.Marshal(v)
	if err != nil {
		return fmt.Errorf("encode a frame: %w", err)
	}
	if len(body) > maxFrame {
		return fmt.Errorf("%w: %d bytes are too many for one answer", ErrInvalid, len(body))
	}
	frame := make([]byte, 0, 4+len(body))
	frame = binary.BigEndian.AppendUint32(frame, uint32(len(body)))
	if _, err := w.Write(append(frame, body...)); err != nil {
		return fmt.Errorf("write a frame: %w", err)
	}
	return nil
}

// readFrame reads what writeFrame wrote. It returns io.EOF when there is no
// other frame.
func readFrame(r io.Reader, v any) error {
	var head [4]byte
	if _, err := io.ReadFull(r, head[:]); err != nil {
		if errors.Is(err, io.EOF) {
			return io.EOF
		}
		return fmt.Errorf("read a frame: %w", err)
	}
	size := binary.BigEndian.Uint32(head[:])
	if size > maxFrame {
		return fmt.Errorf("%w: %d bytes announced, at most %d are read", errFrame, size, maxFrame)
	}
	// The buffer grows with what really arrives: the announced length alone
	// must not cost memory.
	var body bytes.Buffer
	n, err := io.CopyN(&body, r, int64(size))
	if err != nil {
		return fmt.Errorf("%w: cut short at %d of %d bytes: %w", errFrame, n, size, err)
	}
	if err := json.Unmarshal(body.Bytes(), v); err != nil {
		return fmt.Errorf("%w: %w", errFrame, err)
	}
	return nil
}
