// Package overview is the overview of a squad: every player of one squad's season on one sheet, by position group. Its
// data first (Read), then its sentences, then its page. A Report is the whole content: the page, the self-contained
// file and the JSON say the same.
//
//	overview.go    what is read, and the content
//	columns.go     which figures a position group shows, and each player's level in them
//	rows.go        what else stands in a player's row: minutes, goals, review, availability
//	sentences.go   the plain words
//	page.go        the sheet, with its small drawings
//	paper.go       how it is declared
//
// It has the whole season and no filter by period or competition. A level is fitted to all matches of the squad's
// season, so each choice of matches would take seconds of fitting before the page could be shown. Up to an earlier day,
// reports/asof makes such fits for a command.
//
// It is for staff: selectors read it without the players hidden from them, players never.
package overview

import (
	"context"
	"fmt"
	"slices"
	"time"

	"throughline/models"
	"throughline/reports/evidence"
	"throughline/reports/paper"
)

// Source is what an overview reads: each of it for all players at once. The source knows the caller and answers with
// what the caller may see.
type Source interface {
	Season(id int64) (models.Season, error)
	Squad(id int64) (models.Squad, error)
	Players(models.PlayerFilter) ([]models.Player, error)
	Memberships(models.MembershipFilter) ([]models.Membership, error)
	Appearances(models.AppearanceFilter) ([]models.Appearance, error)
	Spells(models.SpellFilter) ([]models.Spell, error)
	Indicators() ([]models.Indicator, error)
	Skills() ([]models.Skill, error)
	Ratings(models.RatingFilter) ([]models.Rating, error)
	Goals(models.GoalFilter) ([]models.Goal, error)
	SquadSeason(season, squad int64) (models.SquadSeason, error)
	Trends(models.TrendFilter) ([]models.Trend, error)
	TrendsWithheld(season, squad int64) (bool, error)
	PlayersHidden(season, squad int64) (bool, error)
	// MembersHidden says whether members of the squad's season are hidden from the caller.
	MembersHidden(season, squad int64) (bool, error)
	// LogCover returns, by player, the minutes on the pitch that logs covered.
	LogCover(models.ObservationFilter) (map[int64]float64, error)
	// SquadSafety returns, by player, the stand-downs of a day and the actions before contact that waited on it.
	SquadSafety(players []int64, day models.Date) (map[int64]models.Safety, error)
	// SquadReviews returns how each member stands in the squad's review cycle on a day of the season.
	SquadReviews(season, squad int64, day models.Date) ([]models.DueReview, error)
	// OpenedOverview notes that the caller opened an overview in which players stand with their figures.
	OpenedOverview(players []int64, season int64)
}

// Report is every player of one squad's season.
type Report struct {
	MadeAt time.Time `json:"made_at"`
	// the last day of data in the overview, as recorded today; absent for one of today
	AsOf   models.Date   `json:"as_of,omitempty"`
	Season models.Season `json:"season"`
	Squad  models.Squad  `json:"squad"` // whose players these are
	// True if some members are hidden from the reader. They are left out, and nothing says who or how many.
	Hidden bool `json:"hidden"`
	// whether there are trends, and when they were made; without trends there are no levels
	Trends    evidence.TrendState `json:"trends"`
	Sentences []paper.Sentence    `json:"sentences"`
	Summary   Summary             `json:"summary"`
	Groups    []Group             `json:"groups"` // the position groups with players, from the front row back
	Cautions  []string            `json:"cautions"`
	Methods   []string            `json:"methods"` // how it was worked out, in plain words
	// how the levels of other readers differ from these, in one line
	OtherReaders string `json:"other_readers,omitempty"`

	madeOn   models.Date // the day on which it was made, in the academy's zone
	unlinked bool        // it leaves the program as a file
}

// Summary counts what the sentences say.
type Summary struct {
	Players int `json:"players"` // how many have a row
	Enough  int `json:"enough"`  // how many have at least 4 matches and 160 minutes
	// how many are neither unavailable nor stood down on the day of the overview
	Available int `json:"available"`
	// how many need action before their next contact session
	Action     int     `json:"action"`
	Minutes    float64 `json:"minutes"`     // played by all of them for the squad
	LogMinutes float64 `json:"log_minutes"` // the part of those minutes that a log covers
	LogShare   float64 `json:"log_share"`   // the same as a share, 0 to 1; 0 without minutes
	Levels     int     `json:"levels"`      // how many levels are shown
	// how many of those are improving, probably improving and so on, as the engine says; without skills in which a
	// grade calls for action
	Verdicts       map[string]int `json:"verdicts"`
	OpenGoals      int            `json:"open_goals"`      // how many goals are open
	OverdueGoals   int            `json:"overdue_goals"`   // how many of the open ones are past their day
	ProposedGoals  int            `json:"proposed_goals"`  // how many of the open ones look met: a coach confirms it
	ReviewsOverdue int            `json:"reviews_overdue"` // how many reviews are overdue
	ReviewsSoon    int            `json:"reviews_soon"`    // how many are due today or within seven days
}

// Group is a position group of the squad.
type Group struct {
	Code    models.Group `json:"code"` // empty for players without a recorded position
	Label   string       `json:"label"`
	Columns []Column     `json:"columns"` // indicators first, then skills, each in the group's order of headlines
	Players []Row        `json:"players"` // by name
}

// Column is an indicator or a skill that a position group shows.
type Column struct {
	Indicator string        `json:"indicator,omitempty"` // the indicator's code; absent for a skill
	Skill     string        `json:"skill,omitempty"`     // the skill's code
	Label     string        `json:"label"`
	Unit      string        `json:"unit"`
	Better    models.Better `json:"better"`
	Meaning   string        `json:"meaning"` // what it counts, in one line
	// the ends of the scale that its drawings share, in every group: the lowest and the highest end of a likely range;
	// absent without levels
	Scale *models.Range `json:"scale,omitempty"`
}

// Cell is a player's level in the figure of a column.
type Cell struct {
	// how many matches, or graded occasions, the level stands on; absent without one
	Matches int `json:"matches,omitempty"`
	// the level now and its likely range; absent with too little data
	Level   *float64      `json:"level,omitempty"`
	Range80 *models.Range `json:"range_80,omitempty"` // the central 80 % range of the level
	// which way it goes and how sure that is: improving, probably improving, steady, probably declining, declining,
	// unclear, or too little to say; absent without data
	Verdict string `json:"verdict,omitempty"`
	// the same as it is printed: of figures that are neither better nor worse rising or falling; of a skill in which a
	// grade calls for action that it does
	Words    string   `json:"words,omitempty"`
	Improved *float64 `json:"improved,omitempty"` // the probability of a worthwhile improvement
	Declined *float64 `json:"declined,omitempty"` // the probability of a worthwhile decline
	// the average level of the players that it is compared with
	Average *float64 `json:"average,omitempty"`
	// who those are: "back row", "forwards" or "whole squad"
	Against string `json:"against,omitempty"`
	// true if a match is so far out that the level leaves it out: check the record
	ToCheck bool `json:"to_check,omitempty"`
	// true if a grade of the season calls for action; no verdict is printed then
	Calls bool `json:"calls,omitempty"`
}

// Row is one player.
type Row struct {
	PlayerID  int64             `json:"player_id"`
	Name      string            `json:"name"`
	Positions []models.Position `json:"positions"`
	// what to know first: action before contact, stood down, unavailable, just joined, left
	Notes     []string `json:"notes"`
	Available bool     `json:"available"` // neither unavailable nor stood down on the day of the overview
	Evidence  Evidence `json:"evidence"`  // what the row stands on
	Cells     []Cell   `json:"cells"`     // one for each column of the group
	Goals     Goals    `json:"goals"`
	Review    *Review  `json:"review,omitempty"` // absent outside the season, and for players who left

	action bool // they need some before their next contact session
}

// Request says which overview is wanted, for whom and when.
type Request struct {
	SquadID, SeasonID int64
	Who               models.Who
	Now               time.Time
	AsOf              models.Date // the last day of what the source reads; empty if it reads the record as it is
}

// day is the day of the overview: today, or the last day of what it reads.
func (q Request) day() models.Date {
	if q.AsOf != "" {
		return q.AsOf
	}
	return models.DateOf(q.Now)
}

// Read makes the overview. Errors are the source's; NotFound for a squad that the caller does not work with, and for
// players.
func Read(ctx context.Context, src Source, q Request) (*Report, error) {
	o := &Report{MadeAt: q.Now.UTC().Truncate(time.Second), madeOn: models.DateOf(q.Now), AsOf: q.AsOf,
		Cautions: cautions, Groups: []Group{}}
	if err := reaches(q.Who, q.SquadID); err != nil {
		return nil, err
	}
	r := reader{src: src, q: q, day: q.day(), o: o}
	for _, step := range []struct {
		what string
		read func() error
	}{
		{"the squad", r.readSquad},
		{"the minutes", r.readMinutes},
		{"the goals", r.readGoals},
		{"the trends", r.readTrends},
		{"the grades", r.readCalls},
		{"availability and reviews", r.readState},
	} {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if err := step.read(); err != nil {
			return nil, fmt.Errorf("overview of squad %d in season %d, %s: %w", q.SquadID, q.SeasonID, step.what, err)
		}
	}
	r.layOut()
	o.summarise()
	o.Methods, o.Sentences = o.methods(), o.sentences()
	return o, nil
}

// reaches refuses a squad that the caller does not work with.
func reaches(who models.Who, squad int64) error {
	switch who.Reach(models.Read, models.AreaPerformance) {
	case models.ReachAcademy:
		return nil
	case models.ReachSquads:
		if slices.Contains(who.SquadIDs, squad) {
			return nil
		}
	}
	return models.Errorf(models.NotFound, "there is no squad %d", squad)
}

// reader reads one overview.
type reader struct {
	src Source
	q   Request
	day models.Date
	o   *Report

	players    []models.Player // by name
	ids        []int64
	members    map[int64][]models.Membership
	played     map[int64]Evidence
	indicators map[string]models.Indicator
	skills     map[string]models.Skill
	trends     map[int64]map[string]*models.Trend // by player and key
	calls      map[int64]map[string]bool          // by player and skill
	goals      map[int64][]models.Goal
	away       map[int64][]models.Spell
	safety     map[int64]models.Safety
	due        map[int64]models.DueReview
}

// key names an indicator or a skill: an academy may call one of each alike.
func key(indicator, skill string) string { return indicator + "/" + skill }

func (r *reader) readSquad() (err error) {
	if r.o.Season, err = r.src.Season(r.q.SeasonID); err != nil {
		return err
	}
	if r.o.Squad, err = r.src.Squad(r.q.SquadID); err != nil {
		return err
	}
	if r.o.Hidden, err = r.src.MembersHidden(r.q.SeasonID, r.q.SquadID); err != nil {
		return err
	}
	r.players, err = r.src.Players(models.PlayerFilter{SeasonID: r.q.SeasonID, SquadID: r.q.SquadID})
	if err != nil {
		return err
	}
	for _, p := range r.players {
		r.ids = append(r.ids, p.ID)
	}
	r.src.OpenedOverview(r.ids, r.q.SeasonID)
	members, err := r.src.Memberships(models.MembershipFilter{SeasonID: r.q.SeasonID, SquadID: r.q.SquadID})
	r.members = map[int64][]models.Membership{}
	for _, m := range members {
		r.members[m.PlayerID] = append(r.members[m.PlayerID], m)
	}
	return err
}

// layOut puts the players into their position groups.
func (r *reader) layOut() {
	groups := append(models.Groups(), models.GroupInfo{Code: models.GroupUnknown, Label: models.GroupUnknown.Label()})
	for _, g := range groups {
		group := Group{Code: g.Code, Label: g.Label, Players: []Row{}}
		var players []models.Player
		for _, p := range r.players {
			if p.Group() == g.Code {
				players = append(players, p)
			}
		}
		if len(players) == 0 {
			continue
		}
		group.Columns = r.columns(g.Code, players)
		for _, p := range players {
			group.Players = append(group.Players, r.row(p, group.Columns))
		}
		r.o.Groups = append(r.o.Groups, group)
	}
	r.o.scales()
}

// rows calls fn for every row of the overview.
func (o *Report) rows(fn func(*Group, *Row)) {
	for i := range o.Groups {
		for k := range o.Groups[i].Players {
			fn(&o.Groups[i], &o.Groups[i].Players[k])
		}
	}
}

// summarise counts what the sentences say.
func (o *Report) summarise() {
	s := Summary{Verdicts: map[string]int{}}
	o.rows(func(_ *Group, row *Row) {
		s.Players++
		s.Minutes, s.LogMinutes = s.Minutes+row.Evidence.Minutes, s.LogMinutes+row.Evidence.LogMinutes
		if row.Evidence.Enough {
			s.Enough++
		}
		if row.Available {
			s.Available++
		}
		if row.action {
			s.Action++
		}
		for _, c := range row.Cells {
			if c.Level == nil {
				continue
			}
			s.Levels++
			if !c.Calls {
				s.Verdicts[c.Verdict]++
			}
		}
		s.OpenGoals, s.OverdueGoals = s.OpenGoals+row.Goals.Open, s.OverdueGoals+row.Goals.Overdue
		s.ProposedGoals += row.Goals.Proposed
		if row.Review != nil {
			switch row.Review.Status {
			case models.ReviewOverdue:
				s.ReviewsOverdue++
			case models.ReviewDue, models.ReviewDueSoon:
				s.ReviewsSoon++
			}
		}
	})
	s.LogShare = shareOf(s.LogMinutes, s.Minutes)
	o.Summary = s
}
