package rest

import (
	"net/http"

	"throughline/models"
)

// Catalogue is the vocabulary that every academy has.
type Catalogue struct {
	Positions  []models.PositionInfo `json:"positions" doc:"The positions, in shirt order"`
	Groups     []models.GroupInfo    `json:"groups" doc:"The position groups, from the front row to the back three"`
	Kinds      []models.KindInfo     `json:"kinds" doc:"The kinds of involvement"`
	Results    []models.ResultInfo   `json:"results" doc:"The results that an involvement can have"`
	Dangers    []models.DangerInfo   `json:"dangers" doc:"The kinds of dangerous play that can be marked"`
	Details    []models.Detail       `json:"details" doc:"What a log records besides the kind and the clock"`
	Counts     []models.Count        `json:"counts" doc:"What is counted, with the codes that totals use"`
	Indicators []BuiltInIndicator    `json:"indicators" doc:"The indicators that every academy has"`
	Parts      []models.Part         `json:"parts" doc:"Parts of a match for which some indicators are also computed"`
	Skills     []BuiltInSkill        `json:"skills" doc:"The skills that every academy has"`
	Purposes   []models.PurposeInfo  `json:"consent_purposes" doc:"What each consent is for and what it allows"`
}

// BuiltInIndicator is an indicator that every academy has. It is no record.
type BuiltInIndicator struct {
	Code        string         `json:"code"`
	Label       string         `json:"label"`
	Meaning     string         `json:"meaning"`
	Family      models.Family  `json:"family"`
	Unit        string         `json:"unit"`
	Numerator   string         `json:"numerator" doc:"The code of a count"`
	Denominator string         `json:"denominator,omitempty" doc:"The code of a count; absent for a rate"`
	Better      models.Better  `json:"better"`
	Depth       models.Depth   `json:"depth" doc:"The depth of log it needs, at least"`
	Groups      []models.Group `json:"groups,omitempty" doc:"The position groups it suits; absent: all"`
	ByPosition  bool           `json:"by_position" doc:"Compared only with others in the same position"`
}

// BuiltInSkill is a skill that every academy has. It is no record.
type BuiltInSkill struct {
	Code    string    `json:"code"`
	Label   string    `json:"label"`
	Grades  [5]string `json:"grades" doc:"What each grade from 1 to 5 looks like"`
	ActUpTo int       `json:"act_up_to" doc:"The highest grade that calls for action first; 0: none does"`
	// ContactUpTo is Skill.ContactUpTo.
	ContactUpTo int `json:"contact_up_to" doc:"The highest grade that needs action before contact; 0: none does"`

	How    string         `json:"how" doc:"How to choose a grade: what to watch, and what decides between two grades"`
	Groups []models.Group `json:"groups,omitempty" doc:"The position groups it suits; absent: all"`
}

func catalogue(s *Service) {
	all := Catalogue{
		Positions: models.Positions(), Groups: models.Groups(), Kinds: models.Kinds(), Results: models.Results(),
		Dangers: models.DangerCatalogue(), Details: models.DetailCatalogue(),
		Counts: models.CountCatalogue(), Parts: models.Parts(), Purposes: models.ConsentPurposes(),
	}
	for _, i := range models.IndicatorCatalogue() {
		all.Indicators = append(all.Indicators, BuiltInIndicator{i.Code, i.Label, i.Meaning, i.Family, i.Unit, i.Numerator,
			i.Denominator, i.Better, i.Depth, i.Groups, i.ByPosition})
	}
	for _, k := range models.SkillCatalogue() {
		all.Skills = append(all.Skills, BuiltInSkill{k.Code, k.Label, k.Grades, k.ActUpTo, k.ContactUpTo, k.How, k.Groups})
	}
	example := Catalogue{
		Positions: all.Positions[:1], Groups: all.Groups[:1], Kinds: all.Kinds[:1], Results: all.Results[:1],
		Dangers: all.Dangers[:1], Details: models.DetailsOf(models.KindCarry)[:1],
		Counts: all.Counts[:1], Indicators: all.Indicators[:1], Parts: all.Parts[:1], Skills: all.Skills[:1],
		Purposes: all.Purposes[:1],
	}
	does(s, operation{
		method: http.MethodGet, path: "/catalogue", id: "get-catalogue", summary: "Read the catalogue", part: setup,
		about: "The vocabulary that every academy has: positions, kinds of involvement, details with the definition of " +
			"each code, counts, indicators, parts of a match, and skills.",
		gives: []content{{media: jsonType, example: example}},
	}, func(r *request, _ *struct{}) (*reply, error) { return r.foundJSON("", all) })
	does(s, operation{
		method: http.MethodGet, path: "/consent-purposes", id: "list-consent-purposes",
		summary: "List what consent may be given for", part: safety,
		about: "What each consent is for and what it allows. A consent matters only if the academy's settings require " +
			"it and the player was a minor on the day in question.\n\nIn the order in which an academy would ask for them.",
		gives: listed(all.Purposes[0]),
	}, func(r *request, in *struct{ Page }) (*reply, error) {
		return whole(r, &in.Page, all.Purposes, func(p models.PurposeInfo) string { return string(p.Code) })
	})
}
