package calc

import (
	"fmt"
	"slices"

	"ferrule/knowledge/power"
)

// cellKind is the battery calculation for the cells of a wireless device: the
// same name, but fields of its own, so that no current of a device goes to the
// sums of a standby battery.
func cellKind(w *words) *Kind {
	asleep := []string{"sleep", "asleep", "sleeps", "sleeping", "quiescent"}
	if !slices.ContainsFunc(*w, func(b bit) bool { return slices.Contains(asleep, b.Text) }) {
		return nil
	}
	k := batteryKind()
	k.Fields = []Field{
		{Name: "capacity", Help: "capacity of the cells", Unit: "Ah"},
		{Name: "sleep-current", Help: "current of a wireless device asleep", Unit: "uA", Words: asleep},
		{Name: "send-current", Help: "current of a wireless device while it sends", Unit: "mA", Words: []string{"transmitting", "sending", "sends", "send", "transmits", "transmit", "tx", "reports"}},
		{Name: "send-time", Help: "how long one report takes", Unit: "s", Before: []string{"for", "takes"}},
		{Name: "send-interval", Help: "time between two reports", Unit: "min", Leads: []string{"interval"}, Before: []string{"every", "each"}, After: []string{"apart"}},
	}
	k.another, k.claim = nil, claimCell
	return &k
}

// claimCell takes intervals without a number: once an hour.
func claimCell(in *Input, w *words) error {
	for i := range *w {
		for _, often := range []struct {
			phrases []string
			minutes float64
		}{
			{[]string{"once hour", "once per hour", "every hour", "each hour", "hourly"}, 60},
			{[]string{"once minute", "once per minute", "every minute", "each minute"}, 1},
			{[]string{"once day", "once per day", "every day", "each day", "daily"}, 24 * 60},
		} {
			length := w.longest(i, often.phrases)
			if length == 0 || in.has("send-interval") {
				continue
			}
			w.use(i, i+length)
			k := slices.IndexFunc(in.kind.Fields, func(f Field) bool { return f.Name == "send-interval" })
			if err := in.put(&in.kind.Fields[k], often.minutes); err != nil {
				return err
			}
		}
	}
	return nil
}

func cellLife(in *Input, s *Sheet) (bool, error) {
	sleep, ok := in.numbers["sleep-current"]
	if !ok {
		return false, nil
	}
	capacity, err := in.need("capacity", "capacity of the cells", "2.4 Ah")
	if err != nil {
		return false, err
	}
	send := in.or("send-current", "current while it sends", 35, "mA", habit)
	seconds := in.or("send-time", "length of one report", 0.08, "s", habit)
	minutes := in.or("send-interval", "time between two reports", 10, "min", habit)
	const usable, selfDischarge = 0.85, 0.01
	in.assume("of the cells' charge that is usable", "85 %", habit)
	in.assume("lost by itself each year", "1 %", "common practice for lithium cells, no source")
	life, err := power.Duty{
		Sleep: sleep / 1e6, Report: power.Pulse{Current: send / 1000, Seconds: seconds}, ReportSeconds: minutes * 60,
	}.Life(power.Cell{Capacity: capacity, Usable: usable, SelfDischarge: selfDischarge})
	if err != nil {
		return false, err
	}
	s.step("mean current", "sleep + reports a day x current x time", 1e6*life.MeanCurrent, "uA", "charge is current x time")
	s.step("lasts", "usable charge / (mean current + self-discharge)", life.Years, "years", habit)
	s.step("used asleep", "", 100*life.Sleep, "%", "")
	s.step("used by reports", "", 100*life.Reports, "%", "")
	s.step("lost by itself", "", 100*life.SelfDischarge, "%", "")
	s.say(fmt.Sprintf("The cells last about %s, events and alarms not counted.", Show(life.Years, "years")))
	return true, nil
}
