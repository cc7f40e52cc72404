package draw_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"ferrule/bot/calc"
	"ferrule/bot/calc/draw"
)

func chart(t testing.TB, kind, sentence string) *calc.Chart {
	t.Helper()
	k, ok := calc.Find(kind)
	if !ok {
		t.Fatalf("no calculation %s", kind)
	}
	in, err := k.Read(sentence)
	if err != nil {
		t.Fatal(err)
	}
	sheet, err := k.Work(in)
	if err != nil {
		t.Fatal(err)
	}
	if sheet.Chart == nil {
		t.Fatalf("%s: nothing to draw", sentence)
	}
	return sheet.Chart
}

var sentences = map[string]string{
	"radio":   "38 % at 12 m, 2 brick walls, 1 slab",
	"cable":   "60 m of 0.22 mm2, 62 mA, then 40 m, 120 mA, also 30 m, 38 mA, needs 10.2 V, battery 11.5 V",
	"battery": "7 Ah, 350 mA",
}

// Everything that the picture shows is said in words below it.
func TestTextSaysWhatIsDrawn(t *testing.T) {
	for kind, sentence := range sentences {
		c := chart(t, kind, sentence)
		text := draw.Text(c, 0)
		for _, s := range c.Series {
			wants(t, text, s.Name)
		}
		for _, l := range c.Limits {
			wants(t, text, l.Name)
		}
		for _, m := range c.Marks {
			wants(t, text, m.Name+": "+calc.Show(m.X, c.X.Unit))
		}
		for _, p := range c.Points {
			wants(t, text, p.Name+": "+calc.Show(p.Y, c.Y.Unit))
		}
		wants(t, text, c.Title)
		wants(t, text, c.X.Name+" in "+c.X.Unit)
		if strings.Contains(text, "\x1b") {
			t.Error("the text is coloured")
		}
		for line := range strings.Lines(text) {
			if n := len([]rune(strings.TrimRight(line, "\n"))); n > 80 {
				t.Errorf("%s: a line of %d characters", kind, n)
			}
		}
	}
}

func wants(t *testing.T, text, part string) {
	t.Helper()
	if !strings.Contains(text, part) {
		t.Errorf("%q is missing in\n%s", part, text)
	}
}

func TestFilesAreWhatTheySay(t *testing.T) {
	for kind, sentence := range sentences {
		c := chart(t, kind, sentence)
		svg, err := draw.Bytes(c, "svg")
		if err != nil {
			t.Fatal(err)
		}
		text := ""
		d := xml.NewDecoder(bytes.NewReader(svg))
		for {
			token, err := d.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Fatalf("%s: %v", kind, err)
			}
			if chars, ok := token.(xml.CharData); ok {
				text += string(chars)
			}
		}
		wants(t, text, c.Title)
		for _, s := range c.Series {
			wants(t, text, s.Name)
		}
		for _, m := range c.Marks {
			wants(t, text, m.Name)
		}
		data, err := draw.Bytes(c, "png")
		if err != nil {
			t.Fatal(err)
		}
		if picture, err := png.Decode(bytes.NewReader(data)); err != nil || picture.Bounds().Dx() < 300 {
			t.Errorf("%s: %v", kind, err)
		}
	}
}

func TestFilesAreWholeOrNotThere(t *testing.T) {
	c := chart(t, "battery", sentences["battery"])
	dir := t.TempDir()
	if err := draw.File(c, filepath.Join(dir, "a.svg"), "svg"); err != nil {
		t.Fatal(err)
	}
	if err := draw.File(c, filepath.Join(dir, "none", "a.svg"), "svg"); err == nil {
		t.Error("a file was written into a folder that is not there")
	}
	if err := draw.File(c, filepath.Join(dir, "a.gif"), "gif"); !errors.Is(err, draw.ErrFormat) {
		t.Errorf("gif: %v", err)
	}
	left, err := os.ReadDir(dir)
	if err != nil || len(left) != 1 {
		t.Errorf("left behind: %v %v", left, err)
	}
}
