package webhook

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"
)

// window is how far a signature's time may lie from ours, both ways.
const window = 5 * time.Minute

// version is the one scheme of signatures that Slack has.
const version = "v0"

// verify holds a body against the headers with which Slack signs it. It is not
// slack.SecretsVerifier, which has no clock to inject and takes upper-case
// digits; Slack writes, and its own receiver takes, lower-case ones only.
func verify(secret string, h http.Header, body []byte, now time.Time) error {
	if secret == "" {
		// Anybody can sign with an empty secret.
		return errors.New("no signing secret is set")
	}
	stamp, err := only(h, "X-Slack-Request-Timestamp")
	if err != nil {
		return err
	}
	signature, err := only(h, "X-Slack-Signature")
	if err != nil {
		return err
	}
	seconds, err := parseStamp(stamp)
	if err != nil {
		return err
	}
	if age := now.Sub(time.Unix(seconds, 0)); age.Abs() > window {
		return fmt.Errorf("the signature is %s old, is the clock right?", age.Round(time.Second))
	}
	if !hmac.Equal([]byte(signature), []byte(sign(secret, stamp, body))) {
		return errors.New("the signature is wrong, is it the app's signing secret?")
	}
	return nil
}

// only gives the value of a header that has to be there once: of two, it would
// be chance which of them is verified.
func only(h http.Header, name string) (string, error) {
	switch values := h.Values(name); len(values) {
	case 0:
		return "", fmt.Errorf("no header %s", name)
	case 1:
		return values[0], nil
	default:
		return "", fmt.Errorf("%d headers %s", len(values), name)
	}
}

// parseStamp takes decimal digits alone, and no sign.
func parseStamp(s string) (int64, error) {
	n, err := strconv.ParseInt(s, 10, 64)
	if err != nil || strings.Trim(s, "0123456789") != "" {
		return 0, errors.New("the timestamp is no number of seconds")
	}
	return n, nil
}

// sign writes the signature of a body as Slack does.
func sign(secret, stamp string, body []byte) string {
	mac := hmac.New(sha256.New, []byte(secret))
	mac.Write([]byte(version + ":" + stamp + ":"))
	mac.Write(body)
	return version + "=" + hex.EncodeToString(mac.Sum(nil))
}
