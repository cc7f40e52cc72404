package store

import (
	"encoding/json"
	"fmt"
	"strings"
	"unicode/utf8"
)

// Limits that keep a page, a frame and a key within bounds.
const (
	maxKey    = 1024    // bytes of a string that is part of a key
	maxRecord = 4 << 20 // bytes of one encoded change, outbox entry or site
	maxPage   = 1000    // entries of one page
	maxRead   = 8 << 20 // bytes of stored records behind one page
)

// prepared is a change that was checked and encoded, so that the writer only
// has to put it in place.
type prepared struct {
	Change
	record []byte
	sites  [][]byte
	device [][]byte
	outbox [][]byte
}

// prepare checks what can be checked without the store, and encodes.
func prepare(c Change) (prepared, error) {
	p := prepared{Change: c}
	if err := c.check(); err != nil {
		return p, err
	}
	var err error
	if p.record, err = encodeRecord(record{c.Delivery, c.Reply, c.Events}); err != nil {
		return p, invalidf("%v", err)
	}
	if len(p.record) > maxRecord {
		return p, invalidf("the change has %d bytes; at most %d are stored at once", len(p.record), maxRecord)
	}
	if p.sites, err = encodeAll(c.Sites); err != nil {
		return p, err
	}
	if p.device, err = encodeAll(c.Devices); err != nil {
		return p, err
	}
	p.outbox, err = encodeAll(c.Outbox)
	return p, err
}

// outgoing is an outbox entry as it is stored, with the case that the change
// went to, if it went to one.
func (p *prepared) outgoing(i int, r Receipt) ([]byte, error) {
	o := p.Outbox[i]
	if r.Case == 0 {
		return p.outbox[i], nil
	}
	o.Case, o.Version = r.Case, r.Version
	b, err := json.Marshal(&o)
	if err != nil {
		return nil, fmt.Errorf("encode outgoing message %d: %w", i, err)
	}
	return b, nil
}

func encodeAll[T any](entries []T) ([][]byte, error) {
	all := make([][]byte, 0, len(entries))
	for i := range entries {
		b, err := json.Marshal(&entries[i])
		if err != nil {
			return nil, invalidf("%T %d: %v", entries[i], i, err)
		}
		if len(b) > maxRecord {
			return nil, invalidf("%T %d has %d bytes; at most %d are stored", entries[i], i, len(b), maxRecord)
		}
		all = append(all, b)
	}
	return all, nil
}

func (c *Change) check() error {
	if err := checkKey("delivery", c.Delivery); err != nil {
		return err
	}
	if c.Case == 0 && len(c.Events) > 0 && c.Events[0].Kind != KindOpened {
		return invalidf("events of no case: the first is %q, not %q", c.Events[0].Kind, KindOpened)
	}
	for i := range c.Events {
		e := &c.Events[i]
		if e.Kind == KindOpened && (i > 0 || c.Case != 0) {
			return invalidf("event %d: a case is opened once, by its first event", i)
		}
		if err := e.check(); err != nil {
			return fmt.Errorf("event %d: %w", i, err)
		}
	}
	return c.checkEntries()
}

func (c *Change) checkEntries() error {
	for _, s := range c.Sites {
		if err := checkName("site", string(s.Ref)); err != nil {
			return err
		}
	}
	for _, d := range c.Devices {
		if err := checkName("site of a device", string(d.Site)); err != nil {
			return err
		}
		if err := checkName("subject of a device", d.Subject); err != nil {
			return err
		}
	}
	for _, o := range c.Outbox {
		if err := checkKey("key of an outgoing message", o.Key); err != nil {
			return err
		}
	}
	return nil
}

// check sees to it that the part which Kind names is set, and no other, and
// that what becomes part of a key can.
func (e *Event) check() error {
	known := false
	for _, part := range e.parts() {
		switch {
		case part.kind != e.Kind && part.set:
			return invalidf("kind %q with the part of %q", e.Kind, part.kind)
		case part.kind == e.Kind && !part.set:
			return invalidf("kind %q without its part", e.Kind)
		}
		known = known || part.kind == e.Kind
	}
	if !known {
		return invalidf("unknown kind %q", e.Kind)
	}
	if err := checkKey("actor", e.Actor); err != nil {
		return err
	}
	switch e.Kind {
	case KindOpened:
		if err := checkKey("conversation", e.Opened.Conversation); err != nil {
			return err
		}
		return checkKey("site", string(e.Opened.Site))
	case KindNote:
		if e.Note.Topic == TopicSite {
			return checkKey("site", e.Note.Value)
		}
	case KindSymptom:
		return checkKey("symptom", e.Symptom.Name)
	case KindOutcome:
		return checkKey("cause", e.Outcome.Cause)
	}
	return nil
}

type part struct {
	kind Kind
	set  bool
}

func (e *Event) parts() [11]part {
	return [...]part{
		{KindOpened, e.Opened != nil}, {KindMessage, e.Message != nil}, {KindReading, e.Reading != nil},
		{KindSymptom, e.Symptom != nil}, {KindFinding, e.Finding != nil}, {KindStep, e.Step != nil},
		{KindUndo, e.Undo != nil}, {KindOnTest, e.OnTest != nil}, {KindVisit, e.Visit != nil},
		{KindNote, e.Note != nil}, {KindOutcome, e.Outcome != nil},
	}
}

// checkName is checkKey for what can't be empty.
func checkName(what, s string) error {
	if s == "" {
		return invalidf("empty %s", what)
	}
	return checkKey(what, s)
}

// checkKey refuses strings that can't be part of a key: keys are joined with
// a zero byte, and JSON would change what is no UTF-8.
func checkKey(what, s string) error {
	if len(s) > maxKey {
		return invalidf("%s has %d bytes; at most %d are allowed", what, len(s), maxKey)
	}
	if strings.ContainsRune(s, 0) || !utf8.ValidString(s) {
		return invalidf("%s contains a zero byte or is no UTF-8", what)
	}
	return nil
}

// pageSize applies the default and the bound to a wanted number of entries.
func pageSize(limit int) int {
	if limit <= 0 {
		return 100
	}
	return min(limit, maxPage)
}
