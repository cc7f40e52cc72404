package review

import (
	"fmt"
	"time"
)

// Week is an ISO 8601 week in UTC, such as 2026-W47.
type Week string

// ParseWeek reads a week. Weeks that a year does not have are refused.
func ParseWeek(s string) (Week, error) {
	var year, week int
	if _, err := fmt.Sscanf(s, "%4d-W%2d", &year, &week); err != nil || len(s) != len("2026-W47") {
		return "", fmt.Errorf("%q is no week; write it as 2026-W47", s)
	}
	w := Week(s)
	if week < 1 || WeekOf(w.From()) != w {
		return "", fmt.Errorf("the year %d has no week %d", year, week)
	}
	return w, nil
}

// WeekOf is the week of a time.
func WeekOf(t time.Time) Week {
	year, week := t.UTC().ISOWeek()
	return Week(fmt.Sprintf("%d-W%02d", year, week))
}

// From is the Monday on which the week begins, at midnight UTC. The fourth of
// January is always in week 1 (ISO 8601-1:2019, 3.1.1.23).
func (w Week) From() time.Time {
	var year, week int
	if _, err := fmt.Sscanf(string(w), "%4d-W%2d", &year, &week); err != nil {
		return time.Time{}
	}
	fourth := time.Date(year, time.January, 4, 0, 0, 0, 0, time.UTC)
	monday := fourth.AddDate(0, 0, -(int(fourth.Weekday())+6)%7)
	return monday.AddDate(0, 0, 7*(week-1))
}

// To is when the next week begins.
func (w Week) To() time.Time { return w.From().AddDate(0, 0, 7) }

// Before is the week so many weeks before.
func (w Week) Before(n int) Week { return WeekOf(w.From().AddDate(0, 0, -7*n)) }

// String says the week in words: "week 47 of 2026 (16 to 22 November)".
func (w Week) String() string {
	from, last := w.From(), w.To().AddDate(0, 0, -1)
	_, n := from.ISOWeek()
	year, _ := from.ISOWeek()
	begin := fmt.Sprint(from.Day())
	if from.Month() != last.Month() {
		begin = from.Format("2 January")
	}
	return fmt.Sprintf("week %d of %d (%s to %s)", n, year, begin, last.Format("2 January"))
}
