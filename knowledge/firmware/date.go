package firmware

import "strconv"

// buildDate packs a date into an ordered number: seven bits of years since
// firstYear, four of month, five of day. Zero is no date, as a month is never 0.
type buildDate uint16

const (
	firstYear = 1980
	lastYear  = 2099
)

func makeDate(year, month, day int) (buildDate, bool) {
	if year < firstYear || year > lastYear || month < 1 || month > 12 || day < 1 || day > daysIn(year, month) {
		return 0, false
	}
	return buildDate((year-firstYear)<<9 | month<<5 | day), true
}

func daysIn(year, month int) int {
	switch month {
	case 4, 6, 9, 11:
		return 30
	case 2:
		if year%4 == 0 && (year%100 != 0 || year%400 == 0) {
			return 29
		}
		return 28
	}
	return 31
}

// append writes the date as 2026-03-11.
func (d buildDate) append(b []byte) []byte {
	b = strconv.AppendInt(b, int64(d>>9)+firstYear, 10)
	for _, n := range [...]byte{byte(d >> 5 & 15), byte(d & 31)} {
		b = append(b, '-', '0'+n/10, '0'+n%10)
	}
	return b
}

// dates are the readings of one written date: one, or two where day and month
// can change places.
type dates struct {
	list [2]buildDate
	n    int
}

func (d *dates) add(year, month, day int) {
	date, ok := makeDate(year, month, day)
	if ok && (d.n == 0 || d.list[0] != date) {
		d.list[d.n] = date
		d.n++
	}
}

// date reads a date: 20260311, 2026-03-11 (or with points or slashes),
// 11.03.2026, or 11/03/2026 and 11-03-2026, which have two readings.
func (s *scanner) date() (d dates) {
	first, digits, ok := s.number()
	if !ok {
		return d
	}
	if digits == 8 {
		d.add(int(first/10000), int(first/100%100), int(first%100))
		return d
	}
	separator := s.peek()
	if separator != '-' && separator != '.' && separator != '/' {
		return d
	}
	second, secondDigits, ok := s.dateField(separator)
	if !ok || secondDigits > 2 {
		return d
	}
	third, thirdDigits, ok := s.dateField(separator)
	switch {
	case !ok:
	case digits == 4 && thirdDigits <= 2:
		d.add(int(first), int(second), int(third))
	case digits <= 2 && thirdDigits == 4:
		d.add(int(third), int(second), int(first))
		if separator != '.' {
			d.add(int(third), int(first), int(second))
		}
	}
	return d
}

func (s *scanner) dateField(separator byte) (value uint64, digits int, ok bool) {
	if s.peek() != separator {
		return 0, 0, false
	}
	s.pos++
	return s.number()
}

// buildDate reads what may follow a version: a separator, the word build, and
// a date, in brackets or not. When there is none it stays where it was.
func (s *scanner) buildDate() dates {
	start := s.pos
	s.spaces()
	switch s.peek() {
	case '-', '_', '+':
		s.pos++
	}
	s.spaces()
	bracket := s.peek() == '('
	if bracket {
		s.pos++
		s.spaces()
	}
	s.word("build")
	separated := s.pos > start
	d := s.date()
	if bracket {
		s.spaces()
		if s.peek() != ')' {
			d.n = 0
		}
		s.pos++
	}
	if !separated || d.n == 0 || s.insideWord() {
		s.pos = start
		return dates{}
	}
	return d
}
