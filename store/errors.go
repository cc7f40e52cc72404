package store

import (
	"errors"
	"fmt"
)

// Conditions beside those of the Store interface.
var (
	// ErrLocked: another process holds the file.
	ErrLocked = errors.New("another process holds the store")
	// ErrInvalid: the change or the query can never be carried out as it
	// stands, so that a repetition is of no use.
	ErrInvalid = errors.New("not a valid request")
)

// invalidf says what is wrong with a request.
func invalidf(format string, args ...any) error {
	return fmt.Errorf("%w: %s", ErrInvalid, fmt.Sprintf(format, args...))
}

// unavailable wraps the cause that keeps the store from working.
func unavailable(doing string, cause error) error {
	return fmt.Errorf("%w: %s: %w", ErrUnavailable, doing, cause)
}
