package bot

import (
	"strings"

	"ferrule/bot/calc"
)

// calculates answers "calc cable 40 m of 0.22 mm2, 85 mA": arithmetic needs no
// case, and changes none.
func (t *turn) calculates(clean string) bool {
	words := strings.Fields(clean)
	if len(words) == 0 || !strings.EqualFold(words[0], "calc") {
		return false
	}
	var kind calc.Kind
	found := false
	if len(words) > 1 {
		kind, found = calc.Find(strings.ToLower(words[1]))
	}
	if !found {
		t.reply.Headline = t.say("calc_which")
		for _, k := range calc.Kinds() {
			t.reply.Details = append(t.reply.Details, "calc "+k.Name+" "+k.Examples[0])
		}
		return true
	}
	in, err := kind.Read(strings.Join(words[2:], " "))
	if err != nil {
		t.refuseCalc(kind, err)
		return true
	}
	sheet, err := kind.Work(in)
	if err != nil {
		t.refuseCalc(kind, err)
		return true
	}
	t.reply.Headline = sheet.Answer[0]
	t.reply.Cautions = sheet.Cautions
	t.reply.Details = sheet.Answer[1:]
	if values := short(sheet.Given); values != "" {
		t.reply.Details = append(t.reply.Details, t.say("calc_understood", "Values", values))
	}
	if values := short(sheet.Assumed); values != "" {
		t.reply.Details = append(t.reply.Details, t.say("calc_assumed", "Values", values))
	}
	if len(sheet.Unused) > 0 {
		t.reply.Details = append(t.reply.Details, t.say("calc_unused", "Values", strings.Join(sheet.Unused, ", ")))
	}
	return true
}

func (t *turn) refuseCalc(kind calc.Kind, err error) {
	t.reply.Headline = t.say("calc_refused", "Reason", err.Error())
	t.reply.Details = []string{"calc " + kind.Name + " " + kind.Examples[0]}
}

// short is a list of quantities without their sources, and without what only
// matters for a drawing, since a conversation has none.
func short(items []calc.Item) string {
	var parts []string
	for _, item := range items {
		if item.Name != calc.DrawnPlaces {
			parts = append(parts, item.Name+" "+item.Value)
		}
	}
	return strings.Join(parts, "; ")
}
