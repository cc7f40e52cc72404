package store

import (
	"context"
	"encoding/json"
	"errors"
	"time"
)

// The protocol of the socket: frames of JSON (frame.go), one call at a time
// on a connection; a client that has several calls to make at once opens
// several. That needs no numbering of calls, and a connection is closed
// wherever something is wrong with it. net/rpc would do the framing, but
// knows neither contexts nor typed errors.
//
// A call is a request and its response. While the client waits it may send
// one more frame, a request with Cancel set; the response to the call then
// says whether it was carried out all the same.

// protocol is the version of the protocol, told in the first call of a
// connection, "hello".
const protocol = 1

// request is what the client sends.
type request struct {
	Method string          `json:"method,omitempty"`
	Cancel bool            `json:"cancel,omitempty"`
	Args   json.RawMessage `json:"args,omitempty"`
}

// response is what comes back: an error or a result.
type response struct {
	Error  *wireError      `json:"error,omitempty"`
	Result json.RawMessage `json:"result,omitempty"`
}

// wireError carries an error, with what errors.Is shall find in it.
type wireError struct {
	Text  string   `json:"text"`
	Kinds []string `json:"kinds,omitempty"`
}

// errorKinds names the errors that survive the wire.
var errorKinds = []struct {
	name string
	err  error
}{
	{"conflict", ErrConflict},
	{"unavailable", ErrUnavailable},
	{"uncertain", ErrUncertain},
	{"not_found", ErrNotFound},
	{"newer_format", ErrNewerFormat},
	{"locked", ErrLocked},
	{"invalid", ErrInvalid},
	{"canceled", context.Canceled},
	{"deadline", context.DeadlineExceeded},
}

// toWire prepares an error for the socket.
func toWire(err error) *wireError {
	if err == nil {
		return nil
	}
	w := &wireError{Text: err.Error()}
	for _, k := range errorKinds {
		if errors.Is(err, k.err) {
			w.Kinds = append(w.Kinds, k.name)
		}
	}
	return w
}

func (w *wireError) Error() string { return w.Text }

// Unwrap returns the errors that the sender's error was made of.
func (w *wireError) Unwrap() []error {
	var errs []error
	for _, k := range errorKinds {
		for _, kind := range w.Kinds {
			if kind == k.name {
				errs = append(errs, k.err)
			}
		}
	}
	return errs
}

// The arguments and results of the calls that have more than one.
type (
	casesArgs struct {
		Query Query  `json:"query"`
		After Cursor `json:"after"`
	}
	siteResult struct {
		Site    Site     `json:"site"`
		Devices []Device `json:"devices"`
	}
	sitesArgs struct {
		After SiteRef `json:"after"`
		Limit int     `json:"limit"`
	}
	weeksArgs struct {
		From string `json:"from"`
		To   string `json:"to"`
	}
	leaseArgs struct {
		Now   time.Time     `json:"now"`
		Lease time.Duration `json:"lease"`
		N     int           `json:"n"`
	}
	retryArgs struct {
		ID  uint64    `json:"id"`
		Due time.Time `json:"due"`
	}
	helloArgs struct {
		Protocol int `json:"protocol"`
	}
)

// handler answers a call.
type handler func(context.Context, Store, json.RawMessage) (any, error)

// handle decodes the arguments for a method.
func handle[A, R any](method func(context.Context, Store, A) (R, error)) handler {
	return func(ctx context.Context, s Store, raw json.RawMessage) (any, error) {
		var args A
		if err := json.Unmarshal(raw, &args); err != nil {
			return nil, invalidf("arguments: %v", err)
		}
		return method(ctx, s, args)
	}
}

// done is the result of a call that has none.
type done struct{}

// keep is handle for what only a Keeper does.
func keep[A, R any](method func(context.Context, Keeper, A) (R, error)) handler {
	return handle(func(ctx context.Context, s Store, args A) (result R, err error) {
		k, ok := s.(Keeper)
		if !ok {
			return result, invalidf("%T keeps no file", s)
		}
		return method(ctx, k, args)
	})
}

// handlers lists the calls: those of Store, then those of Keeper.
var handlers = map[string]handler{
	"hello": handle(func(_ context.Context, _ Store, a helloArgs) (done, error) {
		if a.Protocol != protocol {
			return done{}, unavailable("agree on a protocol", errors.New("the program that holds the store is of another version"))
		}
		return done{}, nil
	}),
	"apply": handle(func(ctx context.Context, s Store, c Change) (Receipt, error) { return s.Apply(ctx, c) }),
	"case":  handle(func(ctx context.Context, s Store, id CaseID) (Case, error) { return s.Case(ctx, id) }),
	"cases": handle(func(ctx context.Context, s Store, a casesArgs) (Page, error) { return s.Cases(ctx, a.Query, a.After) }),
	"conversation": handle(func(ctx context.Context, s Store, conversation string) (CaseID, error) {
		return s.Conversation(ctx, conversation)
	}),
	"last_open": handle(func(ctx context.Context, s Store, actor string) (CaseID, error) { return s.LastOpen(ctx, actor) }),
	"site": handle(func(ctx context.Context, s Store, ref SiteRef) (siteResult, error) {
		site, devices, err := s.Site(ctx, ref)
		return siteResult{site, devices}, err
	}),
	"sites": handle(func(ctx context.Context, s Store, a sitesArgs) ([]Site, error) { return s.Sites(ctx, a.After, a.Limit) }),
	"weeks": handle(func(ctx context.Context, s Store, a weeksArgs) ([]WeekCount, error) {
		return s.Weeks(ctx, a.From, a.To)
	}),
	"lease": handle(func(ctx context.Context, s Store, a leaseArgs) ([]Leased, error) {
		return s.Lease(ctx, a.Now, a.Lease, a.N)
	}),
	"sent": handle(func(ctx context.Context, s Store, id uint64) (done, error) { return done{}, s.Sent(ctx, id) }),
	"retry": handle(func(ctx context.Context, s Store, a retryArgs) (done, error) {
		return done{}, s.Retry(ctx, a.ID, a.Due)
	}),
	"erase": handle(func(ctx context.Context, s Store, id CaseID) (done, error) { return done{}, s.EraseText(ctx, id) }),

	"backup": keep(func(ctx context.Context, k Keeper, path string) (done, error) { return done{}, k.Backup(ctx, path) }),
	"verify": keep(func(ctx context.Context, k Keeper, _ done) ([]string, error) { return k.Verify(ctx) }),
	"stats":  keep(func(ctx context.Context, k Keeper, _ done) (Stats, error) { return k.Stats(ctx) }),
}
