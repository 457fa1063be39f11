package rest

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/danielgtaylor/huma/v2"
)

// docsMember is a member of a body, with those that it is within, such as stints[].on.half.
type docsMember struct {
	Name, Form, About, Set string
}

// members lists the members of a body in place: those of a member that is an object follow it. Within names what is
// around them; a schema that is within itself is not followed again.
func (s *Service) members(schema *huma.Schema, within string, around []*huma.Schema) []docsMember {
	if schema.Ref != "" {
		schema = s.schemas.SchemaFromRef(schema.Ref)
	}
	if slices.Contains(around, schema) {
		return nil
	}
	around = append(slices.Clone(around), schema)
	var all []docsMember
	for _, name := range inOrder(schema) {
		p := schema.Properties[name]
		m := docsMember{Name: within + name, Form: s.form(p), About: p.Description}
		switch {
		case p.ReadOnly:
			m.Set = "set by the server"
		case !slices.Contains(schema.Required, name):
			m.Set = "optional"
		}
		all = append(all, m)
		switch {
		case p.Items != nil && p.Items.Ref != "":
			all = append(all, s.members(p.Items, m.Name+"[].", around)...)
		case p.Ref != "":
			all = append(all, s.members(p, m.Name+".", around)...)
		}
		if values, ok := p.AdditionalProperties.(*huma.Schema); ok && values.Ref != "" {
			all = append(all, s.members(values, m.Name+".*.", around)...)
		}
	}
	return all
}

// inOrder are the members of an object by name, those that must be there first and those that the service sets last.
func inOrder(s *huma.Schema) []string {
	rank := func(name string) int {
		switch {
		case s.Properties[name].ReadOnly:
			return 2
		case slices.Contains(s.Required, name):
			return 0
		}
		return 1
	}
	names := slices.Sorted(maps.Keys(s.Properties))
	slices.SortStableFunc(names, func(a, b string) int { return rank(a) - rank(b) })
	return names
}

// form says what a member looks like; what is an object is followed by its own members.
func (s *Service) form(p *huma.Schema) string {
	switch {
	case p.Ref != "" && s.schemas.SchemaFromRef(p.Ref).Properties != nil:
		return "object"
	case p.Ref != "":
		return typeInWords(s.schemas.SchemaFromRef(p.Ref))
	case p.Items != nil:
		return strings.TrimSpace("list " + rangeInWords(p.MinItems, p.MaxItems, "items") + " of " + plural(s.form(p.Items)))
	}
	return typeInWords(p)
}

func plural(form string) string {
	if form == "object" {
		return "objects"
	}
	return form
}

// typeInWords says what a value looks like.
func typeInWords(p *huma.Schema) string {
	if p == nil {
		return ""
	}
	switch {
	case len(p.Enum) > 0:
		codes := make([]string, len(p.Enum))
		for i, e := range p.Enum {
			if codes[i] = fmt.Sprint(e); codes[i] == "" {
				codes[i] = "nothing"
			}
		}
		return "one of " + strings.Join(codes, ", ")
	case p.Format == "date":
		return "date, such as 2026-09-05"
	case p.Format == "date-time":
		return "time in UTC, such as 2026-09-05T14:30:00Z"
	case p.Pattern != "" && inWords[p.Pattern] != "":
		_, about, is := strings.Cut(inWords[p.Pattern], ": ")
		if !is {
			about = inWords[p.Pattern]
		}
		return strings.TrimSpace("text " + rangeInWords(p.MinLength, p.MaxLength, "characters") + ", " + about)
	}
	switch p.Type {
	case huma.TypeString:
		return strings.TrimSpace("text " + rangeInWords(p.MinLength, p.MaxLength, "characters"))
	case huma.TypeInteger:
		return strings.TrimSpace("whole number " + rangeInWords(p.Minimum, p.Maximum, ""))
	case huma.TypeNumber:
		return strings.TrimSpace("number " + rangeInWords(p.Minimum, p.Maximum, ""))
	case huma.TypeBoolean:
		return "true or false"
	case huma.TypeArray:
		return "list"
	}
	return p.Type
}

// rangeInWords says from where to where something may go.
func rangeInWords[N int | float64](least, most *N, of string) string {
	words := ""
	switch {
	case least != nil && most != nil:
		words = fmt.Sprintf("from %v to %v", *least, *most)
	case least != nil:
		words = fmt.Sprintf("from %v", *least)
	case most != nil:
		words = fmt.Sprintf("up to %v", *most)
	default:
		return ""
	}
	return strings.TrimSpace(words + " " + of)
}
