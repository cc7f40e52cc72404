package webhook

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"time"
)

// Slack's requests are small and come from machines, so that whoever is slow is
// somebody else. Answers may take as long as Slack waits, and a little longer.
const (
	headerTimeout = 3 * time.Second
	readTimeout   = 5 * time.Second
	writeTimeout  = 10 * time.Second
	idleTimeout   = 2 * time.Minute
	maxHeader     = 16 << 10
)

// Serve answers on a listener until ctx ends; then it takes no new requests and
// gives those that are being answered as long as grace. It returns nil when all
// of them were answered. Slack asks for https: TLS belongs into the listener,
// or into a proxy before it.
func Serve(ctx context.Context, listener net.Listener, handler http.Handler, grace time.Duration) error {
	server := &http.Server{
		Handler:           handler,
		ReadHeaderTimeout: headerTimeout,
		ReadTimeout:       readTimeout,
		WriteTimeout:      writeTimeout,
		IdleTimeout:       idleTimeout,
		MaxHeaderBytes:    maxHeader,
	}
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(listener) }()
	select {
	case err := <-ended:
		return fmt.Errorf("serving Slack's requests: %w", err)
	case <-ctx.Done():
	}
	// ctx is over: the time for the rest is counted anew.
	rest, cancel := context.WithTimeout(context.WithoutCancel(ctx), grace)
	defer cancel()
	err := server.Shutdown(rest)
	if err != nil {
		err = errors.Join(err, server.Close())
		err = fmt.Errorf("stopping with requests that were not answered in %s: %w", grace, err)
	}
	<-ended
	return err
}
