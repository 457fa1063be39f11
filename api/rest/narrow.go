package rest

import (
	"reflect"

	"throughline/models"
)

// What lists are narrowed by has the same name and meaning everywhere. A list takes one of these by embedding it: the
// store knows from the kind of record what it means there.

// Dated narrows by the day of a record.
type Dated struct {
	From string `query:"from" format:"date" doc:"Only records from this day on."`
	To   string `query:"to" format:"date" doc:"Only records up to this day."`
}

// InSeason narrows by the season of a record, or of its match or its day.
type InSeason struct {
	Season int64 `query:"season" minimum:"1" doc:"Only records of this season, or dated in it."`
}

// InSquad narrows by the squad of a record or of its match, or else of its player.
type InSquad struct {
	Squad int64 `query:"squad" minimum:"1" doc:"Only records of this squad, or of its members."`
}

// OfPlayer narrows by the player whom a record is about.
type OfPlayer struct {
	Player int64 `query:"player" minimum:"1" doc:"Only records about this player."`
}

// InMatch narrows by match.
type InMatch struct {
	Match int64 `query:"match" minimum:"1" doc:"Only records of this match."`
}

// OnGoal narrows by goal.
type OnGoal struct {
	Goal int64 `query:"goal" minimum:"1" doc:"Only records on this goal."`
}

// OnIndicator narrows by indicator.
type OnIndicator struct {
	Indicator string `query:"indicator" maxLength:"60" pattern:"^[a-z][a-z0-9_]*$" doc:"Only this indicator, by code."`
}

// OnSkill narrows by skill.
type OnSkill struct {
	Skill string `query:"skill" maxLength:"60" pattern:"^[a-z][a-z0-9_]*$" doc:"Only records on this skill, by code."`
}

// narrowOf collects what a list is to be narrowed by from what its input embeds.
func narrowOf(in any) models.Narrow {
	var by models.Narrow
	v := reflect.ValueOf(in).Elem()
	for i := range v.NumField() {
		switch f := v.Field(i).Interface().(type) {
		case Dated:
			by.From, by.To = dayOf(f.From), dayOf(f.To)
		case InSeason:
			by.SeasonID = f.Season
		case InSquad:
			by.SquadID = f.Squad
		case OfPlayer:
			by.PlayerID = f.Player
		case InMatch:
			by.MatchID = f.Match
		case OnGoal:
			by.GoalID = f.Goal
		case OnIndicator:
			by.Indicator = f.Indicator
		case OnSkill:
			by.Skill = f.Skill
		}
	}
	return by
}

// dayOf is a day that may be left out.
func dayOf(s string) *models.Date {
	if s == "" {
		return nil
	}
	return some(models.Date(s))
}
