package knowledge

import (
	"reflect"

	"github.com/invopop/jsonschema"
)

// Schema describes a pack file as JSON Schema, made from the Go types, so
// that an editor can complete and check while typing.
func Schema() *jsonschema.Schema {
	r := &jsonschema.Reflector{FieldNameTag: "yaml", RequiredFromJSONSchemaTags: true, ExpandedStruct: true}
	r.Mapper = func(t reflect.Type) *jsonschema.Schema { return mapped(r, t) }
	s := r.ReflectFromType(reflect.TypeFor[file]())
	s.ID = ""
	s.Title = "A file of a Ferrule pack"
	return s
}

// mapped describes the types that the decoder treats in its own way.
func mapped(r *jsonschema.Reflector, t reflect.Type) *jsonschema.Schema {
	scalar := func() *jsonschema.Schema {
		return &jsonschema.Schema{OneOf: []*jsonschema.Schema{{Type: "string"}, {Type: "number"}, {Type: "boolean"}}}
	}
	switch t {
	case strType:
		return scalar()
	case exprType:
		return &jsonschema.Schema{OneOf: []*jsonschema.Schema{{Type: "string"}, {Type: "boolean"}}}
	case scalarType:
		return &jsonschema.Schema{OneOf: []*jsonschema.Schema{scalar(), {Type: "array", Items: scalar()}}}
	case bandType:
		properties := jsonschema.NewProperties()
		properties.Set("name", &jsonschema.Schema{Type: "string"})
		properties.Set("when", &jsonschema.Schema{Type: "string"})
		return &jsonschema.Schema{OneOf: []*jsonschema.Schema{
			{Const: "rest"},
			{Type: "object", Properties: properties, Required: []string{"when"}, AdditionalProperties: jsonschema.FalseSchema},
		}}
	case wordsType:
		phrases := &jsonschema.Schema{OneOf: []*jsonschema.Schema{{Type: "string"}, {Type: "array", Items: &jsonschema.Schema{Type: "string"}}}}
		return &jsonschema.Schema{Type: "object", AdditionalProperties: phrases}
	}
	if t.Kind() == reflect.Slice && t.Elem().Implements(markerType) {
		value, _ := t.Elem().FieldByName("Value")
		return &jsonschema.Schema{Type: "object", AdditionalProperties: elementSchema(r, value.Type)}
	}
	if values := enumOf(t); values != nil {
		return &jsonschema.Schema{Type: "string", Enum: values}
	}
	return nil
}

func elementSchema(r *jsonschema.Reflector, t reflect.Type) *jsonschema.Schema {
	if s := mapped(r, t); s != nil {
		return s
	}
	switch t.Kind() {
	case reflect.Float64:
		return &jsonschema.Schema{Type: "number"}
	case reflect.Slice:
		return &jsonschema.Schema{Type: "array", Items: elementSchema(r, t.Elem())}
	}
	return jsonschema.TrueSchema
}

func enumOf(t reflect.Type) []any {
	names := map[reflect.Type][]string{
		reflect.TypeFor[Kind](): kinds, reflect.TypeFor[Class](): classes,
		reflect.TypeFor[Place](): places, reflect.TypeFor[RuleKind](): ruleKinds,
	}[t]
	var values []any
	for _, n := range names {
		values = append(values, n)
	}
	return values
}
