package api

import (
	"slices"
	"strings"

	"github.com/danielgtaylor/huma/v2"
)

// Call is one call of the interface, for people.
type Call struct {
	Method, Path, Summary string
	Inputs                []Field
	Answer                []Field
}

// Field is one input or one field of an answer.
type Field struct {
	Name, Type, Text string
}

// Describe lists every call of an OpenAPI document by its path.
func Describe(document *huma.OpenAPI) []Call {
	var calls []Call
	for path, item := range document.Paths {
		for method, op := range map[string]*huma.Operation{"GET": item.Get, "POST": item.Post, "DELETE": item.Delete} {
			if op != nil {
				calls = append(calls, describe(document, method, path, op))
			}
		}
	}
	slices.SortFunc(calls, func(a, b Call) int { return strings.Compare(a.Path+" "+a.Method, b.Path+" "+b.Method) })
	return calls
}

func describe(document *huma.OpenAPI, method, path string, op *huma.Operation) Call {
	c := Call{Method: method, Path: path, Summary: op.Summary}
	for _, p := range op.Parameters {
		c.Inputs = append(c.Inputs, Field{p.Name, typeOf(p.Schema), firstOf(p.Description, textOf(p.Schema))})
	}
	if op.RequestBody != nil {
		if media, ok := op.RequestBody.Content["application/json"]; ok {
			c.Inputs = append(c.Inputs, fieldsOf(document, media.Schema)...)
		}
	}
	if answer, ok := op.Responses["200"]; ok {
		if media, ok := answer.Content["application/json"]; ok {
			c.Answer = fieldsOf(document, media.Schema)
		}
	}
	return c
}

// fieldsOf lists the fields of an object, or of the objects of a list.
func fieldsOf(document *huma.OpenAPI, s *huma.Schema) []Field {
	s = resolved(document, s)
	if s != nil && s.Type == "array" {
		s = resolved(document, s.Items)
	}
	if s == nil {
		return nil
	}
	var fields []Field
	for name, property := range s.Properties {
		fields = append(fields, Field{name, typeOf(property), textOf(property)})
	}
	slices.SortFunc(fields, func(a, b Field) int { return strings.Compare(a.Name, b.Name) })
	return fields
}

func resolved(document *huma.OpenAPI, s *huma.Schema) *huma.Schema {
	if s != nil && s.Ref != "" {
		return document.Components.Schemas.SchemaFromRef(s.Ref)
	}
	return s
}

// typeOf says what a field is: its format, or the name of its objects.
func typeOf(s *huma.Schema) string {
	switch {
	case s == nil:
		return ""
	case s.Ref != "":
		return s.Ref[strings.LastIndexByte(s.Ref, '/')+1:]
	case s.Type == "array":
		return "list of " + typeOf(s.Items)
	case s.Format != "" && s.Type == "string":
		return s.Format
	}
	return s.Type
}

func textOf(s *huma.Schema) string {
	if s == nil {
		return ""
	}
	var values []string
	for _, v := range s.Enum {
		if text, ok := v.(string); ok {
			values = append(values, text)
		}
	}
	return firstOf(s.Description, strings.Join(values, ", "))
}

func firstOf(a, b string) string {
	if a != "" {
		return a
	}
	return b
}
