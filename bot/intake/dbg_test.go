package intake
import ("testing";"os";"strings";"ferrule/knowledge";"ferrule/knowledge/starter")
func TestDbg(t *testing.T){
 p,_:=knowledge.Load(starter.FS); r:=New(p)
 name:=map[int32]string{}
 for k,v:=range r.lexicon.concepts.ids { name[v]=k }
 for _,text:=range strings.Split(os.Getenv("DBG"),"|") {
  s := &scan{Reader: r, text: text, tokens: tokenize(text), boundNames: map[int]bool{}, mentions: map[knowledge.Class][]mention{}}
  m:=s.read()
  t.Log(text, m.Language)
  for _,x:=range s.meant { t.Log("  ", s.tokens[x.token].text, x.ids) }
  for _,y:=range []layer{complaint,answer} { for _,c:=range s.looseIn(y) { rd:=""; if c.sense.reading!=nil {rd=c.sense.reading.Name.S}
    var ns []string; for i:=range r.lexicon.loose.phrases { ph:=&r.lexicon.loose.phrases[i]; if &ph.sense==c.sense { for _,n:=range ph.needs { if nm,ok:=name[n];ok {ns=append(ns,nm)} else {ns=append(ns,"#")} } } }
    t.Log("  loose", c.sense.symptom, rd, c.sense.choice, c.weight, s.raw(c.first,c.last), ns, c.negated) } }
  for _,g:=range m.Readings { t.Log("  =>", g.Reading, g.Value.Text, g.Value.Low, g.Text) }
  for _,g:=range m.Symptoms { t.Log("  =>", g.Symptom) }
 }
}
