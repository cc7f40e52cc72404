package intake

// declined tells why a request is turned down, or "". It looks at one
// sentence at a time.
func (s *scan) declined() string {
	for n := 0; n < len(s.clauses); {
		last := n
		for last+1 < len(s.clauses) && s.clauses[last+1].sentence == s.clauses[n].sentence {
			last++
		}
		w := s.requested(s.clauses[n].first, s.clauses[last].last)
		reason := ""
		switch {
		case w.defeats():
			reason = "defeat_alarm"
		case w.wantsCode():
			reason = "code_request"
		case w.worksLive():
			reason = "live_work"
		}
		if reason != "" {
			for ; n <= last; n++ {
				s.clauses[n].question = true // it states nothing
			}
			return reason
		}
		n = last + 1
	}
	return ""
}

// request is what the words of a sentence are by themselves, and in which
// order those that matter stand.
type request struct {
	roles    roles
	question bool
	words    int
	ask      int // the place of the words that ask for something, or -1
	code     int // of the word for a code
	owned    bool
}

func (s *scan) requested(first, last int) request {
	r := request{ask: -1, code: -1}
	owner := -1
	for i := first; i < last; i++ {
		if s.is(i, "?") {
			r.question = true
		}
		if s.kind(i) != mark && !s.roleOf(i).has(filler) {
			r.words++
		}
		r.roles |= s.roleOf(i)
		m := s.found.covering(speech, i)
		if m == nil || m.first != i {
			continue
		}
		for _, x := range m.senses {
			r.roles |= 1 << x.role
		}
		if m.has(askFor) && r.ask < 0 {
			r.ask = i
		}
		if m.has(codeOwner) {
			owner = i
		}
		if m.has(codeNoun) && !m.has(codeHarmless) {
			r.code = i
			r.owned = r.owned || owner >= 0 && i-owner <= 3 || s.roleOf(i-1).has(codeOwner)
		}
	}
	return r
}

// defeats: how to put an alarm out of action that is not the asker's job.
func (r request) defeats() bool {
	if !r.roles.has(defeatObject) {
		return false
	}
	verb := r.roles.has(defeatVerb)
	switch {
	case verb && r.roles.has(othersParty):
		return true
	case r.roles.has(defeatPlain) && r.roles.has(askHow):
		return true
	}
	return false
}

// wantsCode: somebody's code, or a way to get at it.
func (r request) wantsCode() bool {
	if r.code < 0 || r.roles.has(codeHarmless) {
		return false
	}
	if r.ask >= 0 && r.ask < r.code && (r.owned || r.question || r.code-r.ask <= 3) {
		return true
	}
	return r.owned && r.question && r.words <= 4 // "default installer code?"
}

// worksLive: guidance for work on live mains parts.
func (r request) worksLive() bool {
	return r.roles.has(livePart) && r.roles.has(liveState) && r.roles.has(liveAct) && (r.question || r.roles.has(askHow))
}
