package learn

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
)

// FileError says what is wrong with a file of learned numbers, and where.
type FileError struct {
	Line  int    // from 1; 0 where the place is a row
	Place string // such as "causes[3] weak_signal, place_too_weak"; may be empty
	Err   error  // a *units.OutOfRange where a number is at fault
}

func (e *FileError) Error() string {
	s := "learned numbers"
	if e.Line > 0 {
		s += fmt.Sprintf(", line %d", e.Line)
	}
	if e.Place != "" {
		s += ", " + e.Place
	}
	return s + ": " + e.Err.Error()
}

func (e *FileError) Unwrap() error { return e.Err }

// largestFile is far beyond what thousands of cases give.
const largestFile = 64 << 20

// Decode reads what Encode wrote. A file with other keys, keys that stand twice,
// rows that are out of order or counts that can't be is refused: the error is a
// *[FileError], or that of the reader.
func Decode(r io.Reader) (*Learned, error) {
	b, err := io.ReadAll(io.LimitReader(r, largestFile+1))
	switch {
	case err != nil:
		return nil, fmt.Errorf("reading learned numbers: %w", err)
	case len(b) > largestFile:
		return nil, &FileError{Err: fmt.Errorf("more than %d bytes", largestFile)}
	}
	b = bytes.ReplaceAll(b, []byte("\r\n"), []byte("\n"))
	if err := readable(b); err != nil {
		return nil, err
	}
	var f file
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	if err := d.Decode(&f); err != nil {
		return nil, syntaxError(b, d.InputOffset(), err)
	}
	if err := f.check(); err != nil {
		return nil, err
	}
	l := f.learned()
	if err := sameBytes(b, l); err != nil {
		return nil, err
	}
	return l, nil
}

// readable looks at the format number alone, since nothing is known of the rest
// of another format.
func readable(b []byte) error {
	var head struct {
		Format *int `json:"format"`
	}
	d := json.NewDecoder(bytes.NewReader(b))
	if err := d.Decode(&head); err != nil {
		return syntaxError(b, d.InputOffset(), err)
	}
	switch {
	case head.Format == nil:
		return &FileError{Err: errors.New("there is no format number: this is no file of learned numbers")}
	case *head.Format != format:
		return &FileError{Place: "format", Err: fmt.Errorf("it is %d, and this program reads %d; learn again from the cases", *head.Format, format)}
	}
	return nil
}

func syntaxError(b []byte, offset int64, err error) error {
	place := ""
	var syntax *json.SyntaxError
	var wrong *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax):
		offset = syntax.Offset
	case errors.As(err, &wrong):
		offset, place = wrong.Offset, wrong.Field
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		offset, err = int64(len(b)), errors.New("the file ends too early")
	}
	offset = min(max(offset, 0), int64(len(b)))
	return &FileError{Line: 1 + bytes.Count(b[:offset], []byte("\n")), Place: place, Err: err}
}

// sameBytes demands that the file is what Encode writes. That finds keys that
// stand twice, rows out of order, and what follows the end.
func sameBytes(b []byte, l *Learned) error {
	want, err := l.file().bytes()
	if err != nil {
		return &FileError{Err: err}
	}
	if bytes.Equal(b, want) {
		return nil
	}
	same := 0
	for same < min(len(b), len(want)) && b[same] == want[same] {
		same++
	}
	return &FileError{
		Line: 1 + bytes.Count(b[:same], []byte("\n")),
		Err:  fmt.Errorf("it was not written by this program: %q stands where %q would", excerpt(b, same), excerpt(want, same)),
	}
}

func excerpt(b []byte, from int) []byte { return b[from:min(len(b), from+20)] }

func (f *file) learned() *Learned {
	l := &Learned{
		pack: f.Pack, settings: f.Settings, cases: f.Cases, first: f.First, last: f.Last,
		names: map[nameKey]int{}, causes: map[causeKey]counts{}, bands: map[bandKey]counts{},
		mended: map[string]counts{}, lost: map[string]counts{}, repairs: map[string]moments{}, steps: map[string]moments{},
	}
	for _, r := range f.Names {
		l.names[nameKey{r.Kind, r.Name}] = r.Cases
	}
	for _, r := range f.Causes {
		l.causes[causeKey{r.Symptom, r.Equipment, r.Cause}] = r.counts
	}
	for _, r := range f.Bands {
		l.bands[bandKey{r.Evidence, r.Cause, r.Band}] = r.counts
	}
	for _, r := range f.Repairs {
		if r.Mended.number() > 0 {
			l.mended[r.Cause] = r.Mended
		}
		if r.Lost.number() > 0 {
			l.lost[r.Cause] = r.Lost
		}
		if r.Minutes != nil {
			l.repairs[r.Cause] = *r.Minutes
		}
	}
	for _, r := range f.Steps {
		l.steps[r.Reading] = r.Minutes
	}
	return l
}
