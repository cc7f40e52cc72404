package demo_test

import (
	"context"
	"errors"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"ferrule/bot/demo"
	"ferrule/knowledge"
	"ferrule/knowledge/starter"
	"ferrule/rules"
	"ferrule/rules/check"
	"ferrule/store"
)

func program(t testing.TB) *rules.Program {
	t.Helper()
	p, err := knowledge.Load(starter.FS)
	if err != nil {
		t.Fatal(err)
	}
	c, err := check.Pack(p)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func written(t testing.TB, p *rules.Program, seed uint64) []store.Case {
	t.Helper()
	st := store.NewMemory()
	if _, err := demo.Write(context.Background(), st, p, seed, nil); err != nil {
		t.Fatal(err)
	}
	var all []store.Case
	for after := store.Cursor(""); ; {
		page, err := st.Cases(context.Background(), store.Query{Limit: 1000}, after)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, page.Cases...)
		if after = page.Next; after == "" {
			break
		}
	}
	if _, err := demo.Write(context.Background(), st, p, seed, nil); !errors.Is(err, demo.ErrNotEmpty) {
		t.Errorf("a second year: %v", err)
	}
	return all
}

func TestSameSeedSameYear(t *testing.T) {
	p := program(t)
	a, b, other := written(t, p, 7), written(t, p, 7), written(t, p, 8)
	if d := cmp.Diff(a[:50], b[:50]); d != "" || len(a) != len(b) {
		t.Errorf("the same seed gives another year: %s", d)
	}
	if cmp.Equal(a[:50], other[:50]) {
		t.Error("another seed gives the same year")
	}
}

// TestYear holds the year to what the package says of it.
func TestYear(t *testing.T) {
	all := written(t, program(t), 1)
	if n := len(all); n < 2450 || n > 2600 {
		t.Errorf("%d visits, want about 2,500", n)
	}
	sites := map[store.SiteRef]int{}
	retired, before, leaves, leavesSummer := 0, 0, 0, 0
	switchedOff := time.Date(2026, 9, 1, 0, 0, 0, 0, time.UTC)
	for _, c := range all {
		sites[c.Site]++
		if !c.Last.Before(demo.Ends().Add(24*time.Hour)) || c.Opened.Before(demo.Ends().AddDate(-1, 0, -1)) {
			t.Fatalf("case %d is outside the year: %s to %s", c.ID, c.Opened, c.Last)
		}
		if c.Outcome == nil {
			continue
		}
		switch c.Outcome.Cause {
		case "mobile_network_retired":
			retired++
			if c.Opened.Before(switchedOff) {
				before++
			}
		case "foliage_or_wet":
			leaves++
			if m := c.Opened.Month(); m >= time.June && m <= time.September {
				leavesSummer++
			}
		}
	}
	if n := len(sites); n < 300 || n > 341 {
		t.Errorf("%d sites, want about 340", n)
	}
	if retired < 5 || before > 0 {
		t.Errorf("%d communicators of the old network, %d before it was switched off", retired, before)
	}
	if 2*leavesSummer < leaves {
		t.Errorf("%d of %d leaf faults in summer", leavesSummer, leaves)
	}
	if at := all[len(all)-1].Opened; at.Weekday() != time.Sunday {
		t.Errorf("the last case was opened on a %s", at.Weekday())
	}
}
