package pages

import (
	"strings"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/evidence"
	"throughline/reports/paper"
)

// playerNow is how a player's season goes, in what a member of staff wants first.
type playerNow struct {
	Trends []string // the firm ones, a line for each squad that has any
	Others string   // how other readers' trends differ; empty without any
	Goals  []goalView
	Due    []string // when the next review is due, a line for each squad
	Report string   // the address of the season report; empty: the player is in no squad of the season
}

// readNow reads how the season goes. Firm trends are for staff: a player reads them worded in the season report.
func (page *playerPage) readNow(tx *store.Tx, who models.Who, season models.Season) error {
	members, err := tx.Memberships(models.MembershipFilter{PlayerID: page.Player.ID, SeasonID: season.ID})
	if err != nil || len(members) == 0 {
		return err
	}
	page.Now.Report = seasonReportAddress(page.Player.ID, season.ID)
	goals, err := tx.Goals(models.GoalFilter{PlayerID: page.Player.ID})
	if err != nil {
		return err
	}
	views, err := viewGoals(tx, goals)
	if err != nil {
		return err
	}
	for _, v := range views {
		if v.ClosedOn == nil {
			page.Now.Goals = append(page.Now.Goals, v)
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
		by, err := moves.Of(season.ID, m.SquadID, []models.Player{page.Player}, goals)
		if err != nil {
			return err
		}
		if d := by[page.Player.ID]; d.Words != "" {
			hidden, err := tx.PlayersHidden(season.ID, m.SquadID)
			if err != nil {
				return err
			}
			page.Now.Others = models.OtherLevels(false, hidden)
			page.Now.Trends = append(page.Now.Trends, strings.Join(filled(paper.Upper(d.Words), paper.Upper(d.Notes)), ". ")+".")
		}
	}
	if !page.MayReview || page.Today > season.Ends {
		return nil
	}
	due, err := tx.ReviewCycle(models.ReviewCycleFilter{PlayerID: page.Player.ID, SeasonID: season.ID})
	for _, d := range due {
		page.Now.Due = append(page.Now.Due, d.Words)
	}
	return err
}
