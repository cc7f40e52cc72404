package learn

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"time"
)

// format is the number of the file format.
const format = 1

// file is what is written: rows sorted by their names, so that the same cases
// give the same bytes in whatever order they came.
type file struct {
	Format   int         `json:"format"`
	Pack     string      `json:"pack"`
	Settings Settings    `json:"settings"`
	Cases    int         `json:"cases"`
	First    time.Time   `json:"first,omitzero"`
	Last     time.Time   `json:"last,omitzero"`
	Names    []nameRow   `json:"names"`
	Causes   []causeRow  `json:"causes"`
	Bands    []bandRow   `json:"bands"`
	Repairs  []repairRow `json:"repairs"`
	Steps    []stepRow   `json:"steps"`
}

type nameRow struct {
	Kind  string `json:"kind"`
	Name  string `json:"name"`
	Cases int    `json:"cases"`
}

type causeRow struct {
	Symptom   string `json:"symptom"`
	Equipment string `json:"equipment,omitempty"`
	Cause     string `json:"cause"`
	counts
}

type bandRow struct {
	Evidence string `json:"evidence"`
	Cause    string `json:"cause"`
	Band     int    `json:"band"`
	counts
}

type repairRow struct {
	Cause   string   `json:"cause"`
	Mended  counts   `json:"mended"`
	Lost    counts   `json:"not_mended"`
	Minutes *moments `json:"minutes,omitempty"`
}

type stepRow struct {
	Reading string  `json:"reading"`
	Minutes moments `json:"minutes"`
}

// Encode writes the learned sums as a JSON file: a format number, the hash of
// the pack, the settings, the number of cases and when they were closed, and the
// counts. The same cases give the same bytes in any order.
func (l *Learned) Encode(w io.Writer) error {
	b, err := l.file().bytes()
	if err != nil {
		return fmt.Errorf("writing learned numbers: %w", err)
	}
	_, err = w.Write(b)
	return err
}

// Hash names these learned numbers: sha256 over what Encode writes.
func (l *Learned) Hash() string {
	sum := sha256.New()
	if err := l.Encode(sum); err != nil {
		return "" // only a Learned that Learn and Decode did not make
	}
	return "sha256:" + hex.EncodeToString(sum.Sum(nil))
}

func (f *file) bytes() ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	err := e.Encode(f)
	return b.Bytes(), err
}

func (l *Learned) file() *file {
	f := &file{
		Format: format, Pack: l.pack, Settings: l.settings, Cases: l.cases, First: l.first, Last: l.last,
		Names: []nameRow{}, Causes: []causeRow{}, Bands: []bandRow{}, Repairs: []repairRow{}, Steps: []stepRow{},
	}
	for k, n := range l.names {
		f.Names = append(f.Names, nameRow{k.kind, k.name, n})
	}
	for k, c := range l.causes {
		f.Causes = append(f.Causes, causeRow{k.symptom, k.equipment, k.cause, c})
	}
	for k, c := range l.bands {
		f.Bands = append(f.Bands, bandRow{k.evidence, k.cause, k.band, c})
	}
	for cause := range l.repaired() {
		r := repairRow{Cause: cause, Mended: l.mended[cause], Lost: l.lost[cause]}
		if m, ok := l.repairs[cause]; ok {
			r.Minutes = &m
		}
		f.Repairs = append(f.Repairs, r)
	}
	for reading, m := range l.steps {
		f.Steps = append(f.Steps, stepRow{reading, m})
	}
	f.sort()
	return f
}

// repaired are the causes whose repair some case speaks of.
func (l *Learned) repaired() map[string]bool {
	all := map[string]bool{}
	for _, causes := range []map[string]counts{l.mended, l.lost} {
		for c := range causes {
			all[c] = true
		}
	}
	for c := range l.repairs {
		all[c] = true
	}
	return all
}

func (f *file) sort() {
	slices.SortFunc(f.Names, func(a, b nameRow) int { return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Name, b.Name)) })
	slices.SortFunc(f.Causes, func(a, b causeRow) int {
		return cmp.Or(cmp.Compare(a.Symptom, b.Symptom), cmp.Compare(a.Equipment, b.Equipment), cmp.Compare(a.Cause, b.Cause))
	})
	slices.SortFunc(f.Bands, func(a, b bandRow) int {
		return cmp.Or(cmp.Compare(a.Evidence, b.Evidence), cmp.Compare(a.Cause, b.Cause), cmp.Compare(a.Band, b.Band))
	})
	slices.SortFunc(f.Repairs, func(a, b repairRow) int { return cmp.Compare(a.Cause, b.Cause) })
	slices.SortFunc(f.Steps, func(a, b stepRow) int { return cmp.Compare(a.Reading, b.Reading) })
}
