package webhook_test

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"time"

	"ferrule/bot/slackchat"
	"ferrule/bot/slackchat/webhook"
)

const (
	secret   = "a secret of the tests" // invented
	jsonType = "application/json"
	formType = "application/x-www-form-urlencoded"
)

// noon is when the tests take place.
var noon = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

// signature is written out here once more, so that the tests do not believe
// what they test.
func signature(secret, stamp, body string) string {
	mac := hmac.New(sha256.New, []byte(secret))
	fmt.Fprintf(mac, "v0:%s:%s", stamp, body)
	return fmt.Sprintf("v0=%x", mac.Sum(nil))
}

// signed is a request as Slack sends it at a time.
func signed(at time.Time, contentType, body string) *http.Request {
	r := httptest.NewRequest(http.MethodPost, "/slack", strings.NewReader(body))
	stamp := fmt.Sprint(at.Unix())
	r.Header.Set("Content-Type", contentType)
	r.Header.Set("X-Slack-Request-Timestamp", stamp)
	r.Header.Set("X-Slack-Signature", signature(secret, stamp, body))
	return r
}

// inbox remembers what is delivered and answers it at once.
type inbox struct {
	answer []byte
	err    error

	mu  sync.Mutex
	got []slackchat.Delivery
}

func (i *inbox) receive(_ context.Context, d slackchat.Delivery, done func([]byte, error)) {
	i.mu.Lock()
	i.got = append(i.got, d)
	i.mu.Unlock()
	done(i.answer, i.err)
}

func handler(receive slackchat.Receiver) http.Handler {
	return webhook.Handler(webhook.Options{Secret: secret, Receive: receive, Now: func() time.Time { return noon }})
}

// serve answers one request.
func serve(h http.Handler, r *http.Request) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}
