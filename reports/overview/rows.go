package overview

import (
	"fmt"
	"slices"

	"throughline/models"
	"throughline/reports/evidence"
	"throughline/reports/paper"
)

// Evidence is what a player's row stands on: what they played for the squad, and how much of it was logged.
type Evidence struct {
	Matches int     `json:"matches"`
	Minutes float64 `json:"minutes"`
	// in how many of the matches the minutes were not recorded
	WithoutMinutes int     `json:"without_minutes,omitempty"`
	LogMinutes     float64 `json:"log_minutes"` // the part of the minutes that a log covers
	LogShare       float64 `json:"log_share"`   // the same as a share, 0 to 1; 0 without minutes
	Enough         bool    `json:"enough"`      // whether there are at least 4 matches and 160 minutes
}

// Goals count a player's goals. A closed goal counts if it was closed in the season.
type Goals struct {
	Open     int `json:"open"`     // how many are open
	Overdue  int `json:"overdue"`  // how many of the open ones are past their day
	Proposed int `json:"proposed"` // how many of the open ones look met: a coach confirms it
	Met      int `json:"met"`      // closed as met
}

// Review is when a player's next review in the squad is due.
type Review struct {
	Status      models.ReviewStatus `json:"status"`
	Due         *models.Date        `json:"due,omitempty"`          // absent while the clock stands still without an end
	OverdueDays int                 `json:"overdue_days,omitempty"` // for how many days it has been overdue
	Last        *models.Date        `json:"last,omitempty"`         // the latest shared review in this squad
	Words       string              `json:"words"`                  // the same as a sentence
}

// joinedLately is for how many days a player's row says that they have just joined.
const joinedLately = 28

func (r *reader) readMinutes() error {
	r.played = map[int64]Evidence{}
	played, err := r.src.Appearances(models.AppearanceFilter{SeasonID: r.q.SeasonID, SquadID: r.q.SquadID,
		Bare: true})
	if err != nil {
		return err
	}
	for _, a := range played {
		e := r.played[a.PlayerID]
		e.Matches++
		e.Minutes += a.CountedMinutes()
		if a.Untimed() {
			e.WithoutMinutes++
		}
		r.played[a.PlayerID] = e
	}
	cover, err := r.src.LogCover(models.ObservationFilter{SeasonID: r.q.SeasonID, SquadID: r.q.SquadID})
	for player, e := range r.played {
		e.LogMinutes = min(cover[player], e.Minutes)
		e.LogShare = shareOf(e.LogMinutes, e.Minutes)
		e.Enough = e.Matches >= evidence.LeastMatches && e.Minutes >= evidence.LeastMinutes
		r.played[player] = e
	}
	return err
}

// shareOf is a part of some minutes as a share, 0 without minutes.
func shareOf(part, minutes float64) float64 {
	if minutes == 0 {
		return 0
	}
	return part / minutes
}

func (r *reader) readGoals() error {
	r.goals = map[int64][]models.Goal{}
	if len(r.ids) == 0 {
		return nil
	}
	all, err := r.src.Goals(models.GoalFilter{PlayerIDs: r.ids})
	for _, g := range all {
		r.goals[g.PlayerID] = append(r.goals[g.PlayerID], g)
	}
	return err
}

func (r *reader) readState() (err error) {
	r.away, r.due = map[int64][]models.Spell{}, map[int64]models.DueReview{}
	if len(r.ids) == 0 {
		return nil
	}
	spells, err := r.src.Spells(models.SpellFilter{PlayerIDs: r.ids})
	if err != nil {
		return err
	}
	for _, s := range spells {
		if s.Status != models.Available && s.From <= r.day && (s.Until == nil || r.day <= *s.Until) {
			r.away[s.PlayerID] = append(r.away[s.PlayerID], s)
		}
	}
	if r.safety, err = r.src.SquadSafety(r.ids, r.day); err != nil {
		return err
	}
	due, err := r.src.SquadReviews(r.q.SeasonID, r.q.SquadID, r.day)
	for _, d := range due {
		r.due[d.PlayerID] = d
	}
	return err
}

// row is one player of a position group.
func (r *reader) row(p models.Player, columns []Column) Row {
	row := Row{PlayerID: p.ID, Name: p.Name, Positions: p.Positions, Notes: []string{}, Cells: []Cell{},
		Evidence: r.played[p.ID], Available: true}
	if row.Positions == nil {
		row.Positions = []models.Position{}
	}
	r.note(&row)
	for _, col := range columns {
		row.Cells = append(row.Cells, r.cell(p.ID, col))
	}
	row.Goals = r.counted(p.ID, !row.Available)
	if d, known := r.due[p.ID]; known {
		row.Review = &Review{Status: d.Status, Due: d.Due, OverdueDays: d.OverdueDays, Last: d.LastReview, Words: d.Words}
	}
	return row
}

// note says what to know of a player before any figure.
func (r *reader) note(row *Row) {
	add := func(format string, args ...any) { row.Notes = append(row.Notes, fmt.Sprintf(format, args...)) }
	safety := r.safety[row.PlayerID]
	for _, a := range safety.Actions {
		row.action = true
		if words := "▲ " + a.InWords(); !slices.Contains(row.Notes, words) {
			row.Notes = append(row.Notes, words)
		}
	}
	for _, d := range safety.StandDowns {
		row.Available = false
		add("stood down since %s", paper.ShortDay(string(d.From)))
	}
	for _, s := range r.away[row.PlayerID] {
		words := "with limits"
		if s.Status == models.Unavailable {
			row.Available = false
			words = "not available"
		}
		if s.Until != nil {
			add("%s until %s", words, paper.ShortDay(string(*s.Until)))
			continue
		}
		add("%s since %s", words, paper.ShortDay(string(s.From)))
	}
	first, last, stays := models.Date(""), models.Date(""), false
	for _, m := range r.members[row.PlayerID] {
		if first == "" || m.From < first {
			first = m.From
		}
		if m.Until == nil {
			stays = true
		} else {
			last = max(last, *m.Until)
		}
	}
	switch {
	case !stays && last != "" && last < r.day && last < r.o.Season.Ends:
		add("left on %s", paper.ShortDay(string(last)))
	case first > r.o.Season.Starts && first > r.day:
		add("joins on %s", paper.ShortDay(string(first)))
	case first > r.o.Season.Starts && r.day < first.AddDays(joinedLately):
		add("joined on %s", paper.ShortDay(string(first)))
	}
}

// counted counts a player's goals. One on a skill in which a grade calls for action is not taken as met, and an overdue
// one waits while the player is away.
func (r *reader) counted(player int64, away bool) (n Goals) {
	for i := range r.goals[player] {
		g := &r.goals[player][i]
		if g.ClosedOn != nil {
			if g.Result == models.GoalMet && *g.ClosedOn >= r.o.Season.Starts && *g.ClosedOn <= r.o.Season.Ends {
				n.Met++
			}
			continue
		}
		if g.SetOn > r.o.Season.Ends {
			continue
		}
		met := false
		if t := r.trends[player][key(g.Indicator, g.Skill)]; tells(t) && !r.calls[player][g.Skill] {
			met = slices.ContainsFunc(t.Figures.Goals, func(o models.GoalOutlook) bool {
				return o.GoalID == g.ID && o.Target == g.Target && o.By == g.By && o.Met
			})
		}
		n.Open++
		switch g.StatusOn(r.day, met, false, away) {
		case models.GoalIsMetProposed:
			n.Proposed++
		case models.GoalIsOverdue:
			n.Overdue++
		}
	}
	return n
}
