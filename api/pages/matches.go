package pages

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"throughline/api/files"
	"throughline/models"
	"throughline/models/store"
	"throughline/reports/paper"
)

// matchesPage lists the matches of a season by squad, with the forms that add some.
type matchesPage struct {
	Form    Form
	Season  *models.Season
	Seasons []models.Season
	Squads  []squadOfMatches
	Choices []field
	Teams   []field // the squads, and another team
	Venues  []field
	Preview *fixturesPreview
	Saved   string
	Manages bool
}

// squadOfMatches is a squad, or another team at the end, with its matches of a season.
type squadOfMatches struct {
	ID      int64
	Name    string
	Matches []matchRow
}

// matchRow is a match of the list.
type matchRow struct {
	models.Match
	Where, Sheet string
}

// fixturesPreview is what saving pasted fixtures comes to.
type fixturesPreview struct {
	Squad  string
	Rows   []plannedMatch
	Fresh  int
	Listed int
	Left   []string // columns that are left out
}

// plannedMatch is a row of pasted fixtures, and what becomes of it.
type plannedMatch struct {
	Line  int
	Match models.Match
	Where string
	What  string
	fresh bool
}

// venueChoices are where a match is played.
func venueChoices() []field {
	return []field{{"", "not recorded"}, {"home", "home"}, {"away", "away"}, {"neutral", "neutral"}}
}

func venueWords(m models.Match) string {
	if m.Venue == nil {
		return ""
	}
	return string(*m.Venue)
}

// keepsMatches refuses callers who may record no match.
func keepsMatches(who models.Who) error {
	if who.Reach(models.Write, models.AreaMatches) == models.ReachNone {
		return models.Errorf(models.Forbidden, "only managers and coaches keep matches")
	}
	return nil
}

func (p *Pages) matches(c *gin.Context, who models.Who) error { return p.matchesWith(c, who, Form{}) }

// matchesWith is GET /matches.
func (p *Pages) matchesWith(c *gin.Context, who models.Who, form Form) error {
	return p.showMatches(c, who, matchesPage{Form: form, Saved: c.Query("saved")})
}

func (p *Pages) showMatches(c *gin.Context, who models.Who, page matchesPage) error {
	if err := keepsMatches(who); err != nil {
		return err
	}
	page.Venues, page.Manages = venueChoices(), manages(who) == nil
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) (err error) {
		if page.Seasons, err = tx.Seasons(models.SeasonFilter{}); err != nil {
			return err
		}
		wish := cmp.Or(page.Form.sent.Get("season_id"), c.Query("season"))
		if page.Season, err = p.pick(tx.Who(), page.Seasons, wish); err != nil {
			return err
		}
		return page.read(tx)
	})
	if err != nil {
		return fmt.Errorf("matches: %w", err)
	}
	return p.render(c, page.Form.status(), "matches", "Matches", page)
}

func (page *matchesPage) read(tx *store.Tx) error {
	squads, err := ownSquads(tx)
	if err != nil {
		return err
	}
	page.Choices = squadChoices(squads)
	page.Teams = append(slices.Clone(page.Choices), field{anotherTeam, "another team, named beside"})
	if page.Season == nil {
		return nil
	}
	matches, err := tx.Matches(models.MatchFilter{SeasonID: page.Season.ID})
	if err != nil {
		return err
	}
	appearances, err := tx.Appearances(models.AppearanceFilter{SeasonID: page.Season.ID, Bare: true})
	if err != nil {
		return err
	}
	sheets := map[int64]int{}
	for _, a := range appearances {
		sheets[a.MatchID]++
	}
	others := squadOfMatches{Name: "Other teams"}
	for _, s := range squads {
		page.Squads = append(page.Squads, squadOfMatches{ID: s.ID, Name: s.Name})
	}
	for _, m := range matches {
		row := matchRow{Match: m, Where: venueWords(m), Sheet: "no team sheet yet"}
		if n := sheets[m.ID]; n > 0 {
			row.Sheet = paper.Plural(n, "player", "players")
		}
		i := slices.IndexFunc(page.Squads, func(s squadOfMatches) bool { return m.SquadID != nil && s.ID == *m.SquadID })
		switch {
		case i >= 0:
			page.Squads[i].Matches = append(page.Squads[i].Matches, row)
		case m.SquadID == nil:
			others.Matches = append(others.Matches, row)
		}
	}
	if len(others.Matches) > 0 {
		page.Squads = append(page.Squads, others)
	}
	return nil
}

// ownSquads are the squads whose matches the caller keeps: all for a manager, for a coach those they work with.
func ownSquads(tx *store.Tx) ([]models.Squad, error) {
	squads, err := tx.Squads(models.SquadFilter{})
	who := tx.Who()
	if who.Reach(models.Write, models.AreaMatches) == models.ReachAcademy {
		return squads, err
	}
	return slices.DeleteFunc(squads, func(s models.Squad) bool { return !slices.Contains(who.SquadIDs, s.ID) }), err
}

// matchOf reads a match from a form, without its season and squad.
func matchOf(f *fields) models.Match {
	m := models.Match{Date: f.day("date"), KickOff: f.text("kick_off"), Opponent: f.text("opponent"),
		Competition: f.text("competition"), Conditions: f.text("conditions"), Halves: cmp.Or(f.whole("halves"), 2),
		HalfMinutes: f.whole("half_minutes")}
	if v := models.Venue(f.text("venue")); v != "" {
		m.Venue = &v
	}
	if n := f.whole("difficulty"); n != 0 {
		m.Difficulty = &n
	}
	return m
}

// anotherTeam is the choice in place of a squad for a match that a player played for a school, a club or a county.
const anotherTeam = "another"

// addMatch is POST /matches.
func (p *Pages) addMatch(c *gin.Context, who models.Who, f *fields) (string, error) {
	m := matchOf(f)
	m.OtherTeam = f.text("other_team")
	switch {
	case f.text("squad_id") == anotherTeam && m.OtherTeam == "":
		f.refuse("other_team", "is empty; write the name of the team, such as a school, a club or a county")
	case f.text("squad_id") != anotherTeam && m.OtherTeam != "":
		f.refuse("other_team", "belongs to a match for another team; choose “another team”, or leave this empty")
	case f.text("squad_id") != anotherTeam:
		m.SquadID = f.idIfAny("squad_id")
	}
	if err := f.err(); err != nil {
		return "", err
	}
	if m.SquadID == nil && m.OtherTeam != "" {
		m.HalfMinutes = cmp.Or(m.HalfMinutes, models.LawHalfMinutesUnder19)
	}
	err := p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		if err := keepsMatches(who); err != nil {
			return err
		}
		season, err := seasonSent(tx, f)
		if err != nil {
			return err
		}
		m.SeasonID = season.ID
		return tx.CreateMatch(&m)
	})
	return matchAddress(m.ID), err
}

func matchAddress(match int64) string { return "/matches/" + strconv.FormatInt(match, 10) }

// pasteMatches is POST /matches/paste: it shows what saving pasted fixtures comes to, or saves all of them.
func (p *Pages) pasteMatches(c *gin.Context, who models.Who, f *fields) (string, error) {
	if err := keepsMatches(who); err != nil {
		return "", err
	}
	if f.text("do") == "save" {
		saved := 0
		err := p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
			plan, _, _, err := planMatches(tx, f)
			if err != nil {
				return err
			}
			var wrong rowsWrong
			for i := range plan {
				if !plan[i].fresh {
					continue
				}
				saved++
				if err := wrong.add(plan[i].Line, tx.CreateMatch(&plan[i].Match)); err != nil {
					return err
				}
			}
			return wrong.err()
		})
		return "/matches?season=" + f.text("season_id") + "&saved=" + strconv.Itoa(saved), err
	}
	preview := &fixturesPreview{}
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		plan, left, squad, err := planMatches(tx, f)
		preview.Rows, preview.Left, preview.Squad = plan, left, squad.Name
		return err
	})
	if err != nil {
		return "", err
	}
	for _, one := range preview.Rows {
		if one.fresh {
			preview.Fresh++
		} else {
			preview.Listed++
		}
	}
	return "", p.showMatches(c, who, matchesPage{Form: Form{Name: "fixtures", sent: f.values, fine: true},
		Preview: preview})
}

// planMatches finds out what becomes of each row of pasted fixtures. A match of the squad against the same opponent on
// the same day is there already.
func planMatches(tx *store.Tx, f *fields) ([]plannedMatch, []string, models.Squad, error) {
	season, err := seasonSent(tx, f)
	if err != nil {
		return nil, nil, models.Squad{}, err
	}
	rows, left, err := files.ReadFixtures(f.values.Get("rows"), season)
	wrong, err := refusedRows(err)
	if err != nil {
		return nil, nil, models.Squad{}, atRows(err)
	}
	squadID := f.idIfAny("squad_id")
	if squadID == nil {
		wrong = append(wrong, models.FieldError{Where: "squad_id", Message: "choose the squad that plays these matches"})
		return nil, nil, models.Squad{}, wrong.err()
	}
	squad, err := tx.Squad(*squadID)
	if err != nil {
		return nil, nil, squad, err
	}
	there, err := tx.Matches(models.MatchFilter{SeasonID: season.ID, SquadID: squad.ID, Bare: true})
	if err != nil {
		return nil, nil, squad, err
	}
	var plan []plannedMatch
	for _, row := range rows {
		one := plannedMatch{Line: row.Line, Match: row.Match, Where: venueWords(row.Match), What: "new match", fresh: true}
		one.Match.SquadID = squadID
		if slices.ContainsFunc(there, func(m models.Match) bool {
			return m.Date == row.Match.Date && foldName(m.Opponent) == foldName(row.Match.Opponent)
		}) {
			one.What, one.fresh = "on file already", false
		}
		plan = append(plan, one)
	}
	return plan, left, squad, wrong.err()
}
