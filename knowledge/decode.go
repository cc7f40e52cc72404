package knowledge

import (
	"cmp"
	"math"
	"reflect"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"
)

// decoder fills the pack types from a YAML tree. Libraries that decode YAML
// either stop at the first fault, or lose the written text of scalars (4.10
// becomes 4.1) and the place of each value; so the tree is theirs and the
// last step is ours.
type decoder struct {
	file     string
	problems *Problems
}

func (d *decoder) pos(n ast.Node) Pos {
	return d.posToken(n.GetToken())
}

func (d *decoder) posToken(t *token.Token) Pos {
	if t == nil || t.Position == nil {
		return Pos{File: d.file, Line: 1, Column: 1}
	}
	return Pos{File: d.file, Line: t.Position.Line, Column: t.Position.Column}
}

// entry is one key of a mapping with its value.
type entry struct {
	label Str
	value ast.Node
}

// plain reports a tag, an anchor or an alias, and returns the node below it.
func (d *decoder) plain(n ast.Node) ast.Node {
	switch n := n.(type) {
	case *ast.TagNode:
		d.problems.Add(d.pos(n), "put the whole value in quotes, or write not instead of !",
			"%s starts a YAML tag, and what follows it would be cut off silently", n.Start.Value)
		return nil
	case *ast.AnchorNode, *ast.AliasNode:
		d.problems.Add(d.pos(n), "write the value out", "anchors and aliases are not used in packs")
		return nil
	}
	return n
}

func (d *decoder) entries(n ast.Node) ([]entry, bool) {
	var values []*ast.MappingValueNode
	switch n := n.(type) {
	case *ast.MappingNode:
		values = n.Values
	case *ast.MappingValueNode:
		values = []*ast.MappingValueNode{n}
	default:
		return nil, false
	}
	out := make([]entry, 0, len(values))
	for _, v := range values {
		if v.Key != nil && v.Key.IsMergeKey() {
			d.problems.Add(d.pos(v.Key), "write the entries out", "merge keys are not used in packs")
			continue
		}
		out = append(out, entry{Str{keyText(v.Key), d.pos(v.Key)}, v.Value})
	}
	return out, true
}

func keyText(k ast.MapKeyNode) string {
	if s, ok := k.(ast.ScalarNode); ok {
		return scalarText(s)
	}
	return strings.TrimSuffix(strings.TrimSpace(k.String()), ":")
}

// scalarText is the text as written, without quotes.
func scalarText(n ast.ScalarNode) string {
	switch n := n.(type) {
	case *ast.StringNode:
		return n.Value
	case *ast.LiteralNode:
		return n.Value.Value
	}
	return strings.TrimSpace(n.GetToken().Value)
}

// scalar returns a scalar by its text.
func (d *decoder) scalar(n ast.Node, want string) (Str, bool) {
	n = d.plain(n)
	if n == nil {
		return Str{}, false
	}
	s, ok := n.(ast.ScalarNode)
	if _, null := n.(*ast.NullNode); !ok || null {
		d.problems.Add(d.pos(n), "", "%s is wanted here, not %s", want, describe(n))
		return Str{}, false
	}
	return Str{scalarText(s), d.pos(n)}, true
}

func describe(n ast.Node) string {
	switch n.(type) {
	case *ast.MappingNode, *ast.MappingValueNode:
		return "a mapping"
	case *ast.SequenceNode:
		return "a list"
	case *ast.NullNode:
		return "nothing"
	}
	return "a single value"
}

// expression is a scalar for which YAML must not have cut anything off.
func (d *decoder) expression(n ast.Node) (Str, bool) {
	s, ok := d.scalar(n, "an expression")
	if !ok {
		return s, false
	}
	if _, literal := n.(*ast.LiteralNode); !literal && n.GetComment() != nil {
		d.problems.Add(d.pos(n), "put the expression in quotes, or the comment on a line of its own",
			"a # after an expression starts a comment, so that the rest is cut off silently")
		return s, false
	}
	return s, true
}

type namedMarker interface{ isNamed() }

var (
	strType    = reflect.TypeFor[Str]()
	exprType   = reflect.TypeFor[Expr]()
	scalarType = reflect.TypeFor[Scalar]()
	bandType   = reflect.TypeFor[Band]()
	wordsType  = reflect.TypeFor[Words]()
	markerType = reflect.TypeFor[namedMarker]()
)

// decode fills v from n, and reports each fault.
func (d *decoder) decode(n ast.Node, v reflect.Value) {
	if n = d.plain(n); n == nil {
		return
	}
	switch v.Type() {
	case strType:
		if s, ok := d.scalar(n, "a word or a number"); ok {
			v.Set(reflect.ValueOf(s))
		}
		return
	case exprType:
		if s, ok := d.expression(n); ok {
			v.Set(reflect.ValueOf(Expr(s)))
		}
		return
	case scalarType:
		d.decodeScalar(n, v)
		return
	case bandType:
		if s, ok := n.(*ast.StringNode); ok && s.Value == "rest" {
			v.Set(reflect.ValueOf(Band{At: d.pos(n), Name: "rest"}))
			return
		}
	case wordsType:
		d.decodeWords(n, v)
		return
	}
	switch v.Kind() {
	case reflect.Pointer:
		p := reflect.New(v.Type().Elem())
		d.decode(n, p.Elem())
		v.Set(p)
	case reflect.Struct:
		d.decodeStruct(n, v)
	case reflect.Slice:
		if v.Type().Elem().Implements(markerType) {
			d.decodeNamed(n, v)
		} else {
			d.decodeList(n, v)
		}
	default:
		d.decodePlain(n, v)
	}
}

func (d *decoder) decodeScalar(n ast.Node, v reflect.Value) {
	out := Scalar{Pos: d.pos(n)}
	if seq, ok := n.(*ast.SequenceNode); ok {
		out.List = []Str{}
		for _, e := range seq.Values {
			if s, ok := d.scalar(e, "a word"); ok {
				out.List = append(out.List, s)
			}
		}
	} else if s, ok := d.scalar(n, "a value"); ok {
		out.S = s.S
	}
	v.Set(reflect.ValueOf(out))
}

// decodeWords takes a mapping of languages to phrases; a single phrase may
// stand without brackets.
func (d *decoder) decodeWords(n ast.Node, v reflect.Value) {
	entries, ok := d.entries(n)
	if !ok {
		d.problems.Add(d.pos(n), "write words: {en: [level, signal]}", "a mapping of languages to phrases is wanted here, not %s", describe(n))
		return
	}
	words := Words{}
	for _, e := range entries {
		list := []string{}
		if seq, ok := e.value.(*ast.SequenceNode); ok {
			for _, w := range seq.Values {
				if s, ok := d.scalar(w, "a phrase"); ok {
					list = append(list, s.S)
				}
			}
		} else if s, ok := d.scalar(e.value, "a phrase or a list of phrases"); ok {
			list = append(list, s.S)
		}
		words[e.label.S] = append(words[e.label.S], list...)
	}
	v.Set(reflect.ValueOf(words))
}

func (d *decoder) decodeStruct(n ast.Node, v reflect.Value) {
	entries, ok := d.entries(n)
	if !ok {
		d.problems.Add(d.pos(n), "", "a mapping is wanted here, not %s", describe(n))
		return
	}
	fields := yamlFields(v.Type())
	if at := v.FieldByName("At"); at.IsValid() {
		at.Set(reflect.ValueOf(d.structPos(n, entries)))
	}
	seen, unknown := map[string]bool{}, false
	for _, e := range entries {
		i, ok := fields[e.label.S]
		switch {
		case !ok:
			names := make([]string, 0, len(fields))
			for name := range fields {
				names = append(names, name)
			}
			d.problems.Add(e.label.Pos, cmp.Or(quotesAdvice(e.label.S), nearestOrAll(e.label.S, names)), "unknown key %q", e.label.S)
			unknown = true
		case seen[e.label.S]:
			d.problems.Add(e.label.Pos, "keep one of them", "the key %q stands here twice", e.label.S)
		default:
			seen[e.label.S] = true
			d.decode(e.value, v.Field(i))
		}
	}
	for i := range v.NumField() {
		f := v.Type().Field(i)
		if name := f.Tag.Get("yaml"); f.Tag.Get("need") != "" && !seen[name] {
			if !unknown { // else it is that one, misspelt
				d.problems.Add(d.structPos(n, entries), "write "+name+": "+f.Tag.Get("need"), "%s: is missing", name)
			}
			v.Field(i).SetFloat(math.NaN()) // told: nobody complains of a zero
		}
	}
}

// quotesAdvice is for what was read as a key and is a piece of an expression or of
// a number.
func quotesAdvice(key string) string {
	switch {
	case strings.ContainsAny(key, "()<>=."):
		return "put the whole expression into quotes"
	case key != "" && strings.Trim(key, "0123456789") == "":
		return "write numbers with a point, such as 12.5"
	}
	return ""
}

func (d *decoder) structPos(n ast.Node, entries []entry) Pos {
	if len(entries) > 0 {
		return entries[0].label.Pos
	}
	return d.pos(n)
}

func yamlFields(t reflect.Type) map[string]int {
	fields := map[string]int{}
	for i := range t.NumField() {
		if name := t.Field(i).Tag.Get("yaml"); name != "" && name != "-" {
			fields[name] = i
		}
	}
	return fields
}

func (d *decoder) decodeNamed(n ast.Node, v reflect.Value) {
	entries, ok := d.entries(n)
	if !ok {
		d.problems.Add(d.pos(n), "", "a mapping is wanted here, not %s", describe(n))
		return
	}
	seen := map[string]bool{}
	for _, e := range entries {
		if seen[e.label.S] {
			d.problems.Add(e.label.Pos, "keep one of them", "the key %q stands here twice", e.label.S)
			continue
		}
		seen[e.label.S] = true
		item := reflect.New(v.Type().Elem()).Elem()
		item.FieldByName("Name").Set(reflect.ValueOf(e.label))
		d.decode(e.value, item.FieldByName("Value"))
		v.Set(reflect.Append(v, item))
	}
}

func (d *decoder) decodeList(n ast.Node, v reflect.Value) {
	seq, ok := n.(*ast.SequenceNode)
	if !ok {
		d.problems.Add(d.pos(n), "start each item with a dash, or use [brackets]", "a list is wanted here, not %s", describe(n))
		return
	}
	for _, e := range seq.Values {
		item := reflect.New(v.Type().Elem()).Elem()
		if item.Kind() == reflect.Struct {
			if at := item.FieldByName("At"); at.IsValid() {
				at.Set(reflect.ValueOf(d.pos(e))) // also where the item can't be read
			}
		}
		d.decode(e, item)
		v.Set(reflect.Append(v, item))
	}
}

func (d *decoder) decodePlain(n ast.Node, v reflect.Value) {
	want := map[reflect.Kind]string{reflect.Float64: "a number", reflect.Int: "a whole number", reflect.Bool: "yes or no"}[v.Kind()]
	if want == "" {
		want = "a text"
	}
	s, ok := d.scalar(n, want)
	if !ok {
		return
	}
	switch v.Kind() {
	case reflect.String:
		v.SetString(s.S)
	case reflect.Float64:
		f, err := strconv.ParseFloat(s.S, 64)
		if err != nil || f != f || f-f != 0 {
			d.problems.Add(s.Pos, "write it with a point and without a unit, such as 0.25", "%q is not a number", s.S)
			v.SetFloat(math.NaN())
			return
		}
		v.SetFloat(f)
	case reflect.Int:
		i, err := strconv.Atoi(s.S)
		if err != nil {
			d.problems.Add(s.Pos, "", "%q is not a whole number", s.S)
			return
		}
		v.SetInt(int64(i))
	case reflect.Bool:
		b, ok := ParseYesNo(s.S)
		if !ok {
			d.problems.Add(s.Pos, "write yes or no", "%q is neither yes nor no", s.S)
			return
		}
		v.SetBool(b)
	}
}

// ParseYesNo reads yes, no, true or false as a pack writes them.
func ParseYesNo(s string) (value, ok bool) {
	switch s {
	case "yes", "true":
		return true, true
	case "no", "false":
		return false, true
	}
	return false, false
}
