package rest

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"throughline/models"
)

// descriptions says what each type and each of its fields is, by names such as models.Season and models.Season.starts.
// It is made from the comments in the source by the test TestTheDescriptionsAreThoseOfTheSource, so that there is one
// place to say it.
//
//go:embed descriptions.json
var descriptions []byte

// everyday describes members that mean the same wherever they are, and whose name says it to a programmer. It is for
// those without a comment in the source.
var everyday = map[string]string{
	"id": "The record's id, unique on this server",
	"version": "The record's version, which rises by 1 with each edit, starting at 1; the ETag is this " +
		"number in quotes",
	"created_at":     "When the record was created, in UTC",
	"changed_at":     "When the record was last changed, in UTC",
	"season_id":      "The season's id",
	"squad_id":       "The squad's id; absent if the match is one of another team",
	"player_id":      "The player's id",
	"match_id":       "The match's id",
	"goal_id":        "The goal's id",
	"involvement_id": "The id of the involvement that shows it",
	"log_id":         "The involvement log's id",
	"author_id":      "The user id of the author; in requests it is always the caller",
	"date":           "The day",
	"name":           "The name, as printed",
	"label":          "The name, as printed",
	"code":           "The code that other records use for it",
	"text":           "A remark",
	"definition":     "Its definition",
	"kind":           "The kind",
	"kinds":          "The kinds of involvement",
	"meaning":        "What it means, in plain words",
	"family":         "The kind of number: a rate, a proportion or a mean",
	"unit":           "The unit it is shown in",
	"better":         "Whether higher or lower is better",
	"position":       "The position played",
	"positions":      "The positions, the main one first; empty if not known",
	"group":          "The position group",
	"scope":          "The part of the team: all of it, the forwards or the backs",
	"opponent":       "The other side, as printed",
	"competition":    "The competition, as printed",
	"venue":          "Where the squad played: home, away or neutral",
	"difficulty":     "How hard the match was expected to be, 1 (easy) to 5 (very hard)",
	"minutes":        "Minutes of regular playing time",
	"counts":         "The counts, by their codes; a count that is left out was not recorded, which is not the same as 0",
	"clock":          "When in the match",
	"half":           "The half, from 1",
	"on":             "When the player came on",
	"off":            "When the player went off",
	"from":           "The start",
	"to":             "The end",
	"skill":          "The skill's code",
	"indicator":      "The indicator's code",
	"grade":          "1 to 5",
	"comment":        "A remark",
	"depth":          "How much detail is recorded for each involvement",
	"started":        "Whether the player started; absent if not recorded",
	"target":         "The target",
	"set_on":         "The day it was set",
	"why":            "Why this matters for the player",
	"numerator":      "The sum of what is counted",
	"denominator":    "What it is divided by",
	"source":         "The source of the numbers",
	"value":          "The value, on the indicator's natural scale",
	"matched":        "Involvements in both logs",
	"only_a":         "Involvements in the first log only",
	"only_b":         "Involvements in the second log only",
	"detail":         "The detail's code",
	"values":         "The codes that count; empty: any recorded code",
	"min":            "The lowest value allowed",
	"max":            "The highest value allowed",
	"results":        "The results",
	"known_as":       "The player's name",
	"born_on":        "The player's date of birth",
	"edition":        "Who the text is written for: the player or staff",
	"made_at":        "When it was created, in UTC",
	"player":         "The player",
	"season":         "The season",
	"summary":        "What the paper is based on",
	"sentences":      "The plain sentences at the top",
	"matches":        "The matches",
	"indicators":     "The indicators",
	"skills":         "The skills",
	"goals":          "The goals",
	"notes":          "The review notes",
	"moments":        "The moments worth showing",
	"spells":         "The spells when the player was not fully available",
	"cautions":       "What to bear in mind when reading it",
	"methods":        "How it was computed",
	"points":         "Match by match",
	"mean":           "The mean",
	"lo":             "The lower end",
	"hi":             "The upper end",
	"full_match":     "Minutes of a full match",
	"other_team":     "The other team the match was played for",
	"season_95":      "The 95 % range of the season's value",
	"median_95":      "95 % confidence limits of the median, from order statistics",
	"best":           "The best match",
	"worst":          "The worst match",
	"level":          "The player's level, as the season shows it",
	"comparison":     "How the level compares with others",
	"team_share":     "The player's share of what the team did",
	"team":           "What the team did in these matches",
	"rater":          "The name of the person who gave it",
	"rater_id":       "The user id of the person who gave it",
	"author":         "The author's name",
	"owner":          "The name of the person who follows it up",
	"shared":         "Whether it is shared with the player",
	"width":          "How far across the pitch",
	"speed":          "How fast the ball came",
	"zone":           "Where along the pitch",
	"carries":        "How many carries",
	"metres":         "The sum of their metres",
	"status":         "Whether the player can train and play",
	"interval_80":    "The 80 % range: we expect to be right four times in five",
	"interval_95":    "The 95 % range: we expect to be right nineteen times in twenty",
	"details":        "The details, by code, each with the code that was chosen",
	"self":           "Whether the player gave it themselves",
	"coaches":        "How many coaches gave a grade",
	"starts":         "The first day",
	"closed_on":      "The day it was closed",
	"follow_up":      "The day to come back to it",
	"ours":           "Whether it was the academy's side",
	"check_ins":      "The remarks on how it is going",
	"where":          "Details an involvement needs to count",
	"except":         "Details with which an involvement does not count",
	"except_results": "Results with which it does not count",
	"words":          "What it is, in words",
	"note":           "A remark",
	"measures":       "The measures, by code, each with its number",
	"video_to":       "The end, in seconds into the file",
	"video_file":     "The label of the video file; the video itself stays on the viewer's machine",
	"standard_80":    "The 80 % range of the standard distance",
	"now_80":         "The 80 % range of the value now, lower end first",
	"formula":        "The formula",
	"mean_95":        "The 95 % range of the mean",
	"other_minutes":  "Minutes for other teams",
	"user_id":        "The user's id",
	"expires_at":     "When it expires, in UTC",
}

// ours describes the types that are declared here.
var ours = map[string]string{
	"rest.List":             "One page of a list",
	"rest.Earlier":          "A record as it was before a change",
	"rest.Involvements":     "Several involvements of one log",
	"rest.Erasure":          "Whose data to erase, and who asked for it",
	"rest.Catalogue":        "The vocabulary that every academy has",
	"rest.Told":             "The medical lead who was told of a head contact",
	"rest.Word":             "What was done before the player went back into contact",
	"rest.Lift":             "The end of a stand-down",
	"rest.Merging":          "Two records of one person, to be made one",
	"rest.Packing":          "Which reports a report pack is to have",
	"rest.BuiltInIndicator": "A built-in indicator that every academy has; it is not a record",
	"rest.BuiltInSkill":     "A built-in skill that every academy has; it is not a record",
	"evidence.TrendLine":    "One indicator of a player over a season, and whether its trend is up to date",
	"models.SelfRating":     "A player's grade for one of their own skills",
	"rest.OneTimeLink":      "A one-time link for a user",
	"rest.TokenWanted":      "The access token to create",
	"rest.TokenMade":        "An access token with its secret, which is shown only once",
	"rest.FirstManager":     "The first manager of an academy",
	"rest.ManagerMade":      "The first manager of an academy, and their one-time link",
}

// codesOf lists the codes of a models.Coded type, and nil for any other.
func codesOf(t reflect.Type) []any {
	method, has := t.MethodByName("Codes")
	if !has || t.Kind() != reflect.String || method.Type.NumOut() != 1 || method.Type.Out(0) != reflect.SliceOf(t) {
		return nil
	}
	var list []any
	for _, c := range method.Func.Call([]reflect.Value{reflect.Zero(t)})[0].Seq2() {
		list = append(list, c.String())
	}
	return list
}

// listCodes says in the schema of a member which codes its type allows.
func listCodes(t reflect.Type, property *huma.Schema) {
	for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice {
		if t.Kind() == reflect.Slice && property.Items != nil {
			property = property.Items
		}
		t = t.Elem()
	}
	if codes := codesOf(t); codes != nil {
		property.Enum = codes
	}
}

// besideLimits are what a schema says about a member besides the limit that its type states, by names as in
// descriptions.
var besideLimits = map[string]func(*huma.Schema){
	"TrainingSession.start": func(s *huma.Schema) { s.Pattern = timePattern },
	// The program acts in roles that no user has.
	"AuditEntry.role": func(s *huma.Schema) { s.Enum = nil },
	// Of a player without a recorded position.
	"GroupOf.code": func(s *huma.Schema) { s.Enum = append(s.Enum, "") },
}

// publish says in a schema what models.Limit allows.
func publish(l models.Limit, s *huma.Schema) {
	if l.Each {
		s = s.Items
	}
	least, most := int(l.Least), int(l.Most)
	bounded := !math.IsInf(l.Most, 1)
	s.Pattern = patternOf(l)
	switch l.Form {
	case models.LimitNumber:
		s.Minimum, s.Maximum = &l.Least, &l.Most
		if l.OrNone { // generators understand a list of numbers, and not the choice between two ranges
			s.Minimum, s.Enum = new(float64), []any{0.0}
			for n := least; n <= most; n++ {
				s.Enum = append(s.Enum, float64(n)) // as a number of JSON is read
			}
		}
	case models.LimitItems, models.LimitSet:
		s.UniqueItems = l.Form == models.LimitSet
		counts(s, least, most, bounded)
	default:
		s.MaxLength = &most
		if least > 0 && s.Pattern != slugPattern { // which says so itself
			s.MinLength = &least
		}
	}
}

// counts says how many entries a list or a map has.
func counts(s *huma.Schema, least, most int, bounded bool) {
	min, max := &s.MinItems, &s.MaxItems
	if s.Type == huma.TypeObject {
		min, max = &s.MinProperties, &s.MaxProperties
	}
	if least > 0 {
		*min = &least
	}
	if bounded {
		*max = &most
	}
}

// schemaPrefix is what references to schemas begin with.
const schemaPrefix = "#/components/schemas/"

// newSchemas returns an empty registry of schemas that knows a date.
func newSchemas() huma.Registry {
	r := huma.NewMapRegistry(schemaPrefix, schemaName)
	r.RegisterTypeAlias(reflect.TypeFor[models.Date](), reflect.TypeFor[day]())
	return r
}

// otherName is how a schema is called where its type's name would mislead, or collide with what generators of programs
// make themselves.
var otherName = map[string]string{"Option": "Choice", "ErrorModel": "Problem", "ErrorDetail": "ProblemPlace"}

// schemaName names a type's schema after the type, with the paper in front for those that a paper declares, since
// several papers have a Report.
func schemaName(t reflect.Type, hint string) string {
	name := huma.DefaultSchemaNamer(t, hint)
	if other, ok := otherName[name]; ok {
		return other
	}
	if strings.HasPrefix(t.Name(), "List[") {
		return schemaName(t.Field(0).Type.Elem(), "") + "Page"
	}
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if _, paper, ok := strings.Cut(t.PkgPath(), "/reports/"); ok && paper != "trend" {
		paper = paper[strings.LastIndex(paper, "/")+1:]
		name = strings.ToUpper(paper[:1]) + paper[1:] + name
	}
	return name
}

// shape is what a schema cannot tell from its type.
type shape struct {
	optional []string // members that need not be sent although every answer has them
	fixed    []string // members that only the service sets
}

// describe completes the schemas of everything that was registered.
func (s *Service) describe() {
	var said map[string]string
	if err := json.Unmarshal(descriptions, &said); err != nil {
		panic(fmt.Errorf("descriptions.json: %w", err)) // it is built in
	}
	for name, schema := range s.schemas.Map() {
		t := s.schemas.TypeFromRef(schemaPrefix + name)
		if t == nil || schema.Properties == nil {
			continue
		}
		schema.Description = said[typeName(t)]
		if about, ok := ours[typeName(t)]; ok {
			schema.Description = about
		}
		for member, property := range schema.Properties {
			s.describeMember(t, member, property, said)
		}
		shaped := s.shapes[t]
		schema.Required = slices.DeleteFunc(schema.Required, func(member string) bool {
			return slices.Contains(shaped.optional, member)
		})
		for _, member := range shaped.fixed {
			schema.Properties[member].ReadOnly = true
		}
		schema.PrecomputeMessages()
	}
}

func (s *Service) describeMember(t reflect.Type, member string, property *huma.Schema, said map[string]string) {
	owner, field := fieldOf(t, member)
	property.Nullable = false // nothing is null: see marshal and decode
	if property.Items != nil {
		property.Items.Nullable = false
	}
	if property.Description == "" {
		property.Description = said[typeName(owner)+"."+member]
	}
	if property.Description == "" {
		property.Description = everyday[member]
	}
	listCodes(field.Type, property)
	if limit, ok := models.LimitOf(owner, member); ok {
		publish(limit, property)
	}
	if more, ok := besideLimits[owner.Name()+"."+member]; ok {
		more(property)
	}
	if owner == reflect.TypeFor[models.Record]() {
		property.ReadOnly = true
	} else if strings.HasSuffix(member, "_id") && strings.HasPrefix(owner.PkgPath(), "throughline/models") ||
		member == "linked_to" {
		least := 1.0
		property.Minimum = &least
	}
	if field.Type.Kind() == reflect.Map && property.AdditionalProperties == nil {
		property.AdditionalProperties = true
	}
}

// typeName is the name of a type in descriptions.
func typeName(t reflect.Type) string {
	name, _, _ := strings.Cut(t.Name(), "[")
	return t.PkgPath()[strings.LastIndex(t.PkgPath(), "/")+1:] + "." + name
}

// fieldOf returns the field that is written under a name, and the type that declares it, which t may embed.
func fieldOf(t reflect.Type, member string) (reflect.Type, reflect.StructField) {
	for i := range t.NumField() {
		f := t.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		if f.Anonymous && name == "" {
			inner := f.Type
			if owner, found := fieldOf(inner, member); owner != nil {
				return owner, found
			}
			continue
		}
		if name == member {
			return t, f
		}
	}
	return nil, reflect.StructField{}
}
