package rest

import (
	"encoding/json"
	"fmt"
	"strings"

	"throughline/models"
	"throughline/models/store"
)

type goalsWanted struct {
	Page
	Dated
	InSeason
	InSquad
	OnIndicator
	OnSkill
	Player int64 `query:"player" minimum:"1" doc:"Only goals of this player."`
}

func goals(s *Service) {
	add(s, resource[models.Goal, goalsWanted]{
		name: "goal", many: "goals", path: "/goals", part: development, order: "by the day they were set",
		about: "A goal is what a player works on, agreed with a coach: an indicator or a skill, where the player starts, " +
			"where they want to get to, by when and how. It cannot move to another player.\n\nLeave the baseline out: it is " +
			"taken from the trend, with its range, its day and the trend's revision. A goal is questioned before it is " +
			"saved: when it is met already, asks for more than four times what players of the squad differ by, rests on " +
			"fewer than four matches, counts contact, rewards getting up fast, or is a fourth open goal. The refusal (422) " +
			"lists the questions; send the goal again with their codes in insist and the reason in insist_reason.\n\nThe " +
			"program proposes that a goal is met (status met_proposed) when the level is there with a probability of at " +
			"least 0.9. A coach confirms it by closing the goal with the result met; the program never closes one. A " +
			"closed goal stays as it is. Status and prospect follow from the trends that the caller may read.",
		list: func(tx *store.Tx, in *goalsWanted) ([]models.Goal, error) {
			all, err := tx.Goals(models.GoalFilter{PlayerID: in.Player})
			if err != nil {
				return nil, err
			}
			return all, tx.GoalsToday(all)
		},
		get: goalToday, create: func(tx *store.Tx, g *models.Goal) error {
			if err := tx.CreateGoal(g); err != nil {
				return err
			}
			return fillToday(tx, g)
		}, update: func(tx *store.Tx, g *models.Goal) error {
			if err := tx.UpdateGoal(g); err != nil {
				return err
			}
			return fillToday(tx, g)
		},
		tag: func(g *models.Goal) string {
			follows, err := json.Marshal([]any{g.Status, g.Prospect})
			if err != nil {
				panic(err) // they are ours
			}
			return fmt.Sprintf(`"%d-%s"`, g.Version, strings.Trim(bodyTag(follows), `"`))
		},
		derived:  true,
		remove:   (*store.Tx).DeleteGoal,
		record:   func(r *models.Goal) *models.Record { return &r.Record },
		optional: []string{"owner_id", "actions"},
		fixed:    []string{"baseline_80", "baseline_on", "baseline_revision", "status", "prospect"},
		keep: func(now, sent *models.Goal) {
			if sent.OwnerID == 0 {
				sent.OwnerID = now.OwnerID
			}
		},
		kept: true,
		example: models.Goal{
			Record: exampleRecord(exampleGoal), PlayerID: examplePlayer, OwnerID: exampleUser, Indicator: "contact_won",
			SetOn: "2025-10-10", By: "2026-03-01",
			Baseline: some(0.48), BaselineReason: "From last season's videos.", Target: 0.6,
			Why:          "You get over the line when your feet move first.",
			Actions:      "Ten live carries a week, two steps before contact.",
			Insist:       []models.GoalQuestion{models.AskFewMatches, models.AskTooMany},
			InsistReason: "The season has just begun, and another goal ends this week.",
			Status:       models.GoalIsOpen, Prospect: &models.Prospect{Reached: 0.64,
				Assumes: (&models.GoalOutlook{}).Assumes(),
				Now:     0.08, Level: models.Estimate{Mean: 0.5, Range80: models.Range{Lo: 0.44, Hi: 0.57},
					Range95: models.Range{Lo: 0.4, Hi: 0.6}}, Matches: 6, SeasonID: 1, SquadID: 2},
		},
	})
}

// goalToday is a goal with where it stands.
func goalToday(tx *store.Tx, id int64) (models.Goal, error) {
	g, err := tx.Goal(id)
	if err != nil {
		return g, err
	}
	return g, fillToday(tx, &g)
}

func fillToday(tx *store.Tx, g *models.Goal) error {
	one := []models.Goal{*g}
	if err := tx.GoalsToday(one); err != nil {
		return err
	}
	*g = one[0]
	return nil
}
