package pages

import (
	"strings"
	"time"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/evidence"
	"throughline/reports/paper"
	"throughline/reports/season"
)

// playerNow is how a player's season goes, in what a member of staff wants first.
type playerNow struct {
	Says   []season.Sentence // what the season report opens with
	Trends []string          // who develops and who does not, a line for each squad
	Others string            // how other readers' trends differ; empty without any
	Goals  []goalView
	Due    []string // when the next review is due, a line for each squad
	Report string   // the address of the season report; empty: the player is in no squad of the season
}

// readNow reads how the season goes: what its report opens with and, for staff, how the player develops.
func (page *playerPage) readNow(tx *store.Tx, who models.Who, of models.Season, now time.Time) error {
	members, err := tx.Memberships(models.MembershipFilter{PlayerID: page.Player.ID, SeasonID: of.ID})
	if err != nil || len(members) == 0 {
		return err
	}
	page.Now.Report = seasonReportAddress(page.Player.ID, of.ID)
	if page.Reads {
		page.Now.Says, err = season.Opening(tx, season.Request{PlayerID: page.Player.ID, SeasonID: of.ID, Who: who,
			Now: now})
		if err != nil {
			return err
		}
	}
	goals, err := tx.Goals(models.GoalFilter{PlayerID: page.Player.ID})
	if err != nil {
		return err
	}
	views, err := viewGoals(tx, goals)
	if err != nil {
		return err
	}
	var open []models.Goal
	for _, v := range views {
		if v.ClosedOn == nil {
			page.Now.Goals, open = append(page.Now.Goals, v), append(open, v.Goal)
		}
	}
	if !who.Staff() {
		return nil
	}
	moves, err := evidence.NewStandouts(tx)
	if err != nil {
		return err
	}
	seen := map[int64]bool{}
	for _, m := range members {
		if seen[m.SquadID] {
			continue
		}
		seen[m.SquadID] = true
		by, err := moves.Of(of.ID, m.SquadID, []models.Player{page.Player}, open)
		if err != nil {
			return err
		}
		if d := by[page.Player.ID]; d.Words != "" {
			hidden, err := tx.PlayersHidden(of.ID, m.SquadID)
			if err != nil {
				return err
			}
			page.Now.Others = models.OtherLevels(false, hidden)
			page.Now.Trends = append(page.Now.Trends, strings.Join(filled(paper.Upper(d.Words), paper.Upper(d.Notes)), ". ")+".")
		}
	}
	if !page.MayReview || page.Today > of.Ends {
		return nil
	}
	due, err := tx.ReviewCycle(models.ReviewCycleFilter{PlayerID: page.Player.ID, SeasonID: of.ID})
	for _, d := range due {
		page.Now.Due = append(page.Now.Due, d.Words)
	}
	return err
}
