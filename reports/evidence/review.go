package evidence

import (
	"cmp"
	"slices"

	"throughline/models"
	"throughline/reports/paper"
)

// Reviewed is what a report says of a player's reviews: the latest one shared with the player, and the next.
type Reviewed struct {
	Latest *ReviewLine  `json:"latest,omitempty"` // absent if none of the season was shared
	Next   []NextReview `json:"next"`             // by squad; empty outside the season
}

// ReviewLine is the latest shared review.
type ReviewLine struct {
	ID       int64       `json:"id"`
	Date     models.Date `json:"date"`
	Author   string      `json:"author"`
	Squad    string      `json:"squad,omitempty"` // whose cycle it is part of, if the player is in several
	NextStep string      `json:"next_step"`       // what the player and the coach agreed to do next
	Read     bool        `json:"read"`            // the player has marked it as read
	// what the player replied, for callers who may read replies
	Replies []ReplyLine `json:"replies"`
}

// ReplyLine is a reply.
type ReplyLine struct {
	Date models.Date `json:"date"`
	Text string      `json:"text"`
	By   string      `json:"by,omitempty"` // the name of the member of staff; absent for the player
}

// NextReview is the day of the next review in a squad's cycle.
type NextReview struct {
	Squad  string              `json:"squad,omitempty"` // if the player is in several
	Status models.ReviewStatus `json:"status"`
	Due    *models.Date        `json:"due,omitempty"` // absent while the clock stands still without an end
	// why the clock stands still, without medical detail
	PausedBy models.PauseReason `json:"paused_by,omitempty"`
	Words    string             `json:"words"` // as a sentence
}

// ReviewSource is what ReadReviews reads.
type ReviewSource interface {
	Reviews(models.ReviewFilter) ([]models.Review, error)
	ReviewAnswers(review int64) ([]models.ReviewAnswer, error)
	NextReviews(player, season int64, day models.Date) ([]models.DueReview, error)
	UserNames() (map[int64]string, error)
	Squads(models.SquadFilter) ([]models.Squad, error)
}

// ReadReviews reads the latest shared review of the season, and the day of the next.
func (p *Player) ReadReviews(src ReviewSource, who models.Who, day models.Date) error {
	p.Reviewed.Next = []NextReview{}
	all, err := src.Reviews(models.ReviewFilter{PlayerID: p.Person.ID, SeasonID: p.Season.ID, SharedOnly: true})
	if err != nil {
		return err
	}
	squads, err := src.Squads(models.SquadFilter{})
	if err != nil {
		return err
	}
	names := map[int64]string{}
	for _, s := range squads {
		names[s.ID] = s.Name
	}
	next, err := src.NextReviews(p.Person.ID, p.Season.ID, day)
	if err != nil {
		return err
	}
	several := len(next) > 1
	for _, d := range next {
		line := NextReview{Status: d.Status, Due: d.Due, PausedBy: d.PausedBy, Words: p.nextInWords(&d)}
		if several {
			line.Squad = names[d.SquadID]
		}
		p.Reviewed.Next = append(p.Reviewed.Next, line)
	}
	all = slices.DeleteFunc(all, func(r models.Review) bool { return !r.Shared }) // a second lock costs nothing
	if len(all) == 0 {
		return nil
	}
	last := slices.MaxFunc(all, func(a, b models.Review) int {
		return cmp.Or(cmp.Compare(a.Date, b.Date), cmp.Compare(a.ID, b.ID))
	})
	return p.readReview(src, who, &last, map[bool]string{true: names[last.SquadID]}[several])
}

// readReview reads a review, with the player's replies for callers who may read them.
func (p *Player) readReview(src ReviewSource, who models.Who, r *models.Review, squad string) error {
	users, err := src.UserNames()
	if err != nil {
		return err
	}
	line := ReviewLine{ID: r.ID, Date: r.Date, Author: users[r.AuthorID], Squad: squad, NextStep: r.NextStep,
		Read: r.ReadAt != nil, Replies: []ReplyLine{}}
	p.Reviewed.Latest = &line
	if who.Reach(models.Read, models.AreaAnswers) == models.ReachNone {
		return nil
	}
	answers, err := src.ReviewAnswers(r.ID)
	for _, a := range answers {
		// users have no player's name, except the caller's own
		if users[a.AuthorID] == "" || who.Role == models.RolePlayer && a.AuthorID == who.UserID {
			line.Replies = append(line.Replies, ReplyLine{Date: who.Day(a.CreatedAt), Text: a.Text})
		}
	}
	return err
}

// nextInWords says when the next review is due: to the player, or of the player.
func (p *Player) nextInWords(d *models.DueReview) string {
	own := p.Edition == PlayerEdition
	say := func(toPlayer, toStaff string) string {
		if own {
			return toPlayer
		}
		return toStaff
	}
	day := ""
	if d.Due != nil {
		day = paper.Day(string(*d.Due))
	}
	switch d.Status {
	case models.ReviewOverdue:
		return say("Your next review was due on "+day+". Ask your coach for it.", "The next review was due on "+day+".")
	case models.ReviewDue:
		return say("Your next review is due today.", "The next review is due today.")
	case models.ReviewPaused:
		until := say("you are back", "the player is back")
		if d.Due != nil {
			return say("Your next review waits until "+until+": it is due on "+day+".",
				"The next review waits until "+until+": it is due on "+day+".")
		}
		return say("Your next review waits until "+until+".", "The next review waits until "+until+".")
	case models.ReviewLeaving:
		return say("You leave the squad before your next review.", "The player leaves the squad before the next review.")
	}
	if d.Due == nil {
		return say("Your next review has no day yet.", "The next review has no day yet.")
	}
	return say("Your next review is due on "+day+".", "The next review is due on "+day+".")
}
