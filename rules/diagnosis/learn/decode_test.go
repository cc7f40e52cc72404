package learn_test

import (
	"bytes"
	"errors"
	"strings"
	"testing"
	"testing/iotest"

	"ferrule/knowledge/units"
	"ferrule/rules/diagnosis/learn"
)

// sample is a small file with a row of each kind.
func sample(t fataler) string {
	c := weak(1, "metal_case", learn.Measurement)
	c.Equipment = "wick"
	c.Bands = []learn.Observed{{"level", 2}}
	c.Repairs = []learn.Tried{{Cause: "metal_case", Mended: true, Minutes: 10}}
	c.Steps = []learn.Timed{{"radio.signal", 3}}
	return string(encoded(t, learned(t, c, weak(2, "place_too_weak", learn.Unproven))))
}

// The file is read by people, too; its shape changes only with its number.
func TestEncode(t *testing.T) {
	for _, want := range []string{
		"{\n \"format\": 1,\n \"pack\": \"sha256:invented\",\n \"settings\": {\n  \"pack_cases\": 20,\n",
		" \"cases\": 2,\n \"first\": \"2026-01-05T10:00:00Z\",\n \"last\": \"2026-01-05T11:00:00Z\",\n \"names\": [\n",
		"  {\n   \"symptom\": \"weak_signal\",\n   \"equipment\": \"wick\",\n   \"cause\": \"metal_case\",\n   \"measurement\": 1\n  }\n",
		"   \"mended\": {\n    \"measurement\": 1\n   },\n   \"not_mended\": {},\n   \"minutes\": {\n    \"n\": 1,\n    \"mean_log\": 2.302585092994046,\n    \"squares\": 0\n",
	} {
		if !strings.Contains(sample(t), want) {
			t.Errorf("no %q in\n%s", want, sample(t))
		}
	}
	broken := errors.New("broken")
	if err := learned(t).Encode(writer{broken}); !errors.Is(err, broken) {
		t.Errorf("got %v", err)
	}
}

type writer struct{ err error }

func (w writer) Write([]byte) (int, error) { return 0, w.err }

func TestDecodeRefuses(t *testing.T) {
	for _, tt := range []struct{ old, new, says string }{
		{sample(t), "", "line 1: the file ends too early"},
		{sample(t), "[]", "line 1: json: cannot unmarshal array"},
		{sample(t), "{}", "there is no format number"},
		{`"format": 1`, `"format": 2`, "format: it is 2, and this program reads 1"},
		{`"format": 1`, `"format": "1"`, "line 2, format: "},
		{`"cases": 2,`, `"cases": 2 3,`, "line 18: invalid character '3'"},
		{`"cases": 2,`, `"cases": 2.5,`, "line 18, cases: "},
		{`"cases": 2,`, `"cases": 2, "cases": 2,`, "line 18: it was not written by this program"},
		{`"cases": 2,`, `"Cases": 2,`, "line 18: it was not written by this program"},
		{`"cases": 2,`, `"cases": 2, "more": 1,`, `unknown field "more"`},
		{`"cases": 2,`, `"cases": -2,`, "cases: number of cases is -2"},
		{`"cases": 2,`, `"cases": 0,`, "first, last: they are no span"},
		{`"first": "2026-01-05T10`, `"first": "2026-01-05T12`, "first, last: they are no span"},
		{`"first": "2026-01-05T10:00:00Z",`, ``, "first, last: they are no span"},
		{`"first": "2026-01-05T10:00:00Z"`, `"first": "yesterday"`, "yesterday"},
		{`"pack_cases": 20`, `"pack_cases": 0`, "settings: number of cases that the pack counts as is 0"},
		{`"kind": "reading"`, `"kind": "colour"`, `there is no kind of name "colour"`},
		{`"name": "radio.signal"`, `"name": ""`, "the name of the name is missing"},
		{`"name": "metal_case",`, `"name": "metal",`, `causes[1] weak_signal, wick, metal_case: the cause "metal_case" is not among the names`},
		{`"name": "wick",`, `"name": "which",`, `causes[1] weak_signal, wick, metal_case: the equipment "wick" is not among the names`},
		{"\"name\": \"weak_signal\",\n   \"cases\": 2", "\"name\": \"weak_signal\",\n   \"cases\": 3", "symptom, weak_signal: number of cases with this name is 3; it must be 1 to 2"},
		{"\"name\": \"weak_signal\",\n   \"cases\": 2", "\"name\": \"weak_signal\",\n   \"cases\": 1", "causes[1] weak_signal, wick, metal_case: number of cases in all rows of weak_signal is 2"},
		{`"unproven": 1`, `"unproven": -1`, "causes[0] weak_signal, place_too_weak: number of cases is -1"},
		{`"unproven": 1`, `"unproven": 0`, "causes[0] weak_signal, place_too_weak: number of cases of a row is 0"},
		{`"unproven": 1`, `"unproven": 9223372036854775807`, "causes[0] weak_signal, place_too_weak: number of cases is 9.22337e+18"},
		{`"band": 2`, `"band": 0`, "bands[0] level, metal_case: band is 0; it must be 1 to 32"},
		{`"n": 1`, `"n": 0`, "repairs[0] metal_case: number of times is 0"},
		{`"mean_log": 2.302585092994046`, `"mean_log": 1e300`, "repairs[0] metal_case: mean log of the minutes is 1e+300"},
		{`"mean_log": 2.302585092994046`, `"mean_log": 1e999`, "line "},
		{`"squares": 0`, `"squares": 3`, "repairs[0] metal_case: squares of the log minutes is 3"},
		{`"squares": 0`, `"squares": -3`, "repairs[0] metal_case: squares of the log minutes is -3"},
		{"   \"mended\": {\n    \"measurement\": 1\n   },\n   \"not_mended\": {},\n   \"minutes\": {\n    \"n\": 1,\n    \"mean_log\": 2.302585092994046,\n    \"squares\": 0\n   }", `"mended": {}, "not_mended": {}`, "repairs[0] metal_case: the row says nothing"},
		{"\n}\n", "\n}\n{}", "it was not written by this program"},
		{"\n}\n", "\n", "the file ends too early"},
		{`"symptom": "weak_signal",`, `"symptom": "weak_signal", "symptom": "weak_signal",`, "it was not written by this program"},
	} {
		s := sample(t)
		if !strings.Contains(s, tt.old) {
			t.Fatalf("no %q in\n%s", tt.old, s)
		}
		l, err := learn.Decode(strings.NewReader(strings.Replace(s, tt.old, tt.new, 1)))
		var file *learn.FileError
		if !errors.As(err, &file) || l != nil || !strings.Contains(err.Error(), tt.says) {
			t.Errorf("%q for %q: got %v, want %s", tt.new, tt.old, err, tt.says)
		}
	}
	var out *units.OutOfRange
	if _, err := learn.Decode(strings.NewReader(strings.Replace(sample(t), `"band": 2`, `"band": 99`, 1))); !errors.As(err, &out) {
		t.Errorf("got %v, want a *units.OutOfRange", err)
	}
	broken := errors.New("broken")
	if _, err := learn.Decode(iotest.ErrReader(broken)); !errors.Is(err, broken) {
		t.Errorf("got %v", err)
	}
}

// A checkout may have changed the line ends.
func TestDecodeWithOtherLineEnds(t *testing.T) {
	l, err := learn.Decode(strings.NewReader(strings.ReplaceAll(sample(t), "\n", "\r\n")))
	if err != nil || string(encoded(t, l)) != sample(t) {
		t.Error(err)
	}
}

// What can be decoded is encoded to the same bytes and has numbers; all else is
// refused by a *FileError.
func FuzzDecode(f *testing.F) {
	f.Add([]byte(sample(f)))
	f.Add(encoded(f, learned(f)))
	f.Add([]byte(`{"format": 1}`))
	f.Add([]byte(`{"format": 1, "names": [{"kind": "cause"}], "steps": null}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		l, err := learn.Decode(bytes.NewReader(b))
		if err != nil {
			var file *learn.FileError
			if !errors.As(err, &file) {
				t.Fatalf("%T: %v", err, err)
			}
			return
		}
		if !bytes.Equal(encoded(t, l), bytes.ReplaceAll(b, []byte("\r\n"), []byte("\n"))) {
			t.Fatalf("%q became %q", b, encoded(t, l))
		}
		n, err := l.Carry(invented())
		if err != nil {
			t.Fatal(err)
		}
		for _, line := range n.Explain() {
			if !(line.Now >= 0 && line.Now < 1e6) {
				t.Fatalf("%v", line)
			}
		}
	})
}
