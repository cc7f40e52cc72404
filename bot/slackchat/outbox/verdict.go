package outbox

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"net/http"
	"time"

	"github.com/slack-go/slack"

	"ferrule/bot/slackchat"
)

// verdict is what an answer of Slack's, or none, means for an entry.
type verdict int

const (
	posted   verdict = iota
	unsent           // surely not posted, and may be later
	doubtful         // may have been posted
	refused          // never will be posted
	fatal            // nothing will be posted any more
)

// outcome is what came of a try.
type outcome struct {
	verdict verdict
	wait    time.Duration // what Slack asks for before the next try; 0 where it does not say
	err     error
}

// meanings are Slack's words for errors that are no refusal of the message. All
// others are. See https://docs.slack.dev/reference/methods/chat.postMessage,
// whose errors say of which "some aspect of the operation" may have succeeded.
var meanings = map[string]verdict{
	"ratelimited":                unsent,
	"rate_limited":               unsent,
	"message_limit_exceeded":     unsent,
	"external_channel_migrating": unsent,

	// These concern the app and not the message: it would be wrong to take out
	// one after the other, and somebody has to mend them.
	"accesslimited":             unsent,
	"two_factor_setup_required": unsent,
	"enterprise_is_restricted":  unsent,
	"method_deprecated":         unsent,
	"deprecated_endpoint":       unsent,

	"fatal_error":         doubtful,
	"internal_error":      doubtful,
	"service_unavailable": doubtful,
	"request_timeout":     doubtful,
}

// judge says what the error of a call means.
func judge(err error) outcome {
	o := outcome{verdict: doubtful, err: err}
	var limited *slack.RateLimitedError
	var status slack.StatusCodeError
	var answer slack.SlackErrorResponse
	switch dead := slackchat.AsFatal(err); {
	case err == nil:
		o.verdict = posted
	case dead != nil:
		o.verdict, o.err = fatal, dead
	case errors.Is(err, slackchat.ErrNeverSent):
		o.verdict = refused
	case errors.As(err, &limited):
		o.verdict, o.wait = unsent, limited.RetryAfter
	case errors.As(err, &status):
		o.verdict = judgeStatus(status.Code)
	case errors.As(err, &answer):
		meaning, ok := meanings[answer.Err]
		if !ok {
			meaning = refused
		}
		o.verdict = meaning
	case neverLeft(err):
		o.verdict = unsent
	}
	return o
}

// judgeStatus judges an answer without Slack's words. Most come from something
// between here and Slack, and say nothing about the message.
func judgeStatus(status int) verdict {
	switch status {
	case http.StatusTooManyRequests:
		return unsent
	case http.StatusBadRequest, http.StatusRequestEntityTooLarge, http.StatusRequestHeaderFieldsTooLarge:
		return refused
	default:
		return doubtful
	}
}

// neverLeft tells whether there was no connection over which anything could
// have been sent.
func neverLeft(err error) bool {
	var op *net.OpError
	if errors.As(err, &op) && (op.Op == "dial" || op.Op == "proxyconnect") {
		return true
	}
	var name *net.DNSError
	var certificate *tls.CertificateVerificationError
	return errors.As(err, &name) || errors.As(err, &certificate)
}

// code is an error as it may stand in a log: no address, nothing of a message.
func code(err error) string {
	var dead *slackchat.Fatal
	var limited *slack.RateLimitedError
	var status slack.StatusCodeError
	var answer slack.SlackErrorResponse
	switch {
	case errors.As(err, &dead):
		return dead.Code
	case errors.As(err, &answer):
		return answer.Err
	case errors.As(err, &limited):
		return "ratelimited"
	case errors.As(err, &status):
		return fmt.Sprintf("HTTP %d", status.Code)
	case errors.Is(err, slackchat.ErrNeverSent):
		return "never sent"
	case errors.Is(err, context.DeadlineExceeded):
		return "no answer in time"
	case errors.Is(err, context.Canceled):
		return "given up"
	case neverLeft(err):
		return "no connection"
	default:
		return "no answer"
	}
}

// backoff counts failures in a row.
type backoff uint

// next is how long to wait after one more failure: 1 s, 2 s, 4 s, up to a
// minute.
func (b *backoff) next() time.Duration {
	*b = min(*b+1, 7)
	return min(time.Second<<(*b-1), time.Minute)
}
