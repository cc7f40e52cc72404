package firmware

// A key is the beginning of a string of bits that orders as versions do: the
// parts one after the other, then letter and build date in a fixed width. A
// part is written in a code that orders as its value and in which no word
// begins another: k ones and a zero, k being the class of its size, then the
// distance from the first value of that class in the width of the class. Zero
// is one bit 0, so nothing at the end of a version costs any room: bits beyond
// the key are fine as long as they are zeros. 1.6.12 takes 27 bits, a fourth
// part of 60000 makes 47.

// classWidth is the width of the values of each class; class 0 is zero alone.
var classWidth = [...]uint{0, 7, 10, 16, 25, 40}

const (
	letterBits = 5
	dateBits   = 16
)

// Key returns a number that orders as Compare does within one scheme:
// a < b exactly if key(a) < key(b), and equal exactly if Compare says 0. It is
// false where the version does not fit (a semver prerelease, several very
// large numbers) and for the zero Version; Compare decides there.
func (v Version) Key() (key uint64, ok bool) {
	if v.scheme.id == none || v.pre != "" {
		return 0, false
	}
	w := keyWriter{room: 64}
	for _, part := range v.parts {
		w.part(part)
	}
	w.put(uint64(v.letter), letterBits)
	w.put(uint64(v.date), dateBits)
	if w.lost {
		return 0, false
	}
	return w.key << w.room, true
}

type keyWriter struct {
	key  uint64
	room uint
	lost bool // a one went beyond the key
}

func (w *keyWriter) part(value uint64) {
	first := uint64(0)
	for class, width := range classWidth {
		if value-first < 1<<width {
			ones := uint64(1)<<class - 1
			w.put(ones<<1, uint(class)+1)
			w.put(value-first, width)
			return
		}
		first += 1 << width
	}
	w.lost = true
}

func (w *keyWriter) put(value uint64, width uint) {
	if width > w.room {
		over := width - w.room
		if value&(1<<over-1) != 0 {
			w.lost = true
		}
		value >>= over
		width = w.room
	}
	w.key = w.key<<width | value
	w.room -= width
}
