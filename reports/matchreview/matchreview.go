// Package matchreview is the player match review: one player, one match, on one page. Its data first (Read), then its
// sentences and the lines for a coach to edit, then its page. A Report is the whole content: the page, the
// self-contained file and the JSON say the same.
//
//	matchreview.go what is read, and the content
//	jobs.go        the involvements: their effect, what comes between, where they led
//	figures.go     the match's figures beside the level then, and shares of the team's work
//	sentences.go   the plain words, and what to keep and to work on
//	clock.go       the picture along the match clock
//	page.go        the sheet
//	paper.go       how it is declared
//
// A log that covers a part of the player's time is never read as a whole one: each number says what it stands on.
package matchreview

import (
	"context"
	"fmt"
	"slices"
	"time"

	"throughline/models"
	"throughline/reports/evidence"
	"throughline/reports/paper"
)

// Source is what a match review reads. The source knows the caller and answers with what the caller may see.
type Source interface {
	evidence.PlayerSource
	evidence.TrendSource
	evidence.FigureSource
	evidence.MomentSource
	evidence.SafetySource
	Match(id int64) (models.Match, error)
	MatchEvents(match int64) ([]models.MatchEvent, error)
	Totals(models.TotalsFilter) ([]models.MatchTotals, error)
	CarryCells(models.ObservationFilter) ([]models.CarryCell, error)
	// OpenedMatchReview notes that the caller opened the match review of a player.
	OpenedMatchReview(player int64)
}

// Edition is one of the ways in which a match review is made.
type Edition string

// The editions.
const (
	StaffEdition  Edition = "staff"
	PlayerEdition Edition = "player"
)

// Codes lists the editions.
func (Edition) Codes() []Edition { return []Edition{StaffEdition, PlayerEdition} }

func (e Edition) reads() evidence.Edition {
	if e == PlayerEdition {
		return evidence.PlayerEdition
	}
	return evidence.StaffEdition
}

// Basis is what a review stands on.
type Basis string

// What a review can stand on.
const (
	WholeLog Basis = "log"         // logs of all kinds over all of the player's time
	PartLog  Basis = "part_of_log" // logs of a part of it, or of some kinds
	OnTotals Basis = "totals"
	Bare     Basis = "minutes" // the player appeared, and nothing else is recorded
	Absent   Basis = "none"    // the player has no minutes in this match
)

// Codes lists what a review can stand on.
func (Basis) Codes() []Basis { return []Basis{WholeLog, PartLog, OnTotals, Bare, Absent} }

// Report is what one match says of one player.
type Report struct {
	Edition Edition            `json:"edition"`
	MadeAt  time.Time          `json:"made_at"`
	Player  evidence.Person    `json:"player"`
	Season  models.Season      `json:"season"`
	Match   evidence.MatchLine `json:"match"` // the match, with its score and difficulty
	// what to know before any figure, in plain words
	Alerts    []string         `json:"alerts"`
	Basis     Basis            `json:"basis"` // what the review stands on
	Cover     Cover            `json:"cover"` // what the finished logs watched
	Sentences []paper.Sentence `json:"sentences"`
	Stints    []models.Span    `json:"stints"`  // the player's own time on the pitch
	Jobs      []Job            `json:"jobs"`    // every involvement, by the match clock
	Events    []Event          `json:"events"`  // scores and cards, by the match clock
	Tallies   []Tally          `json:"tallies"` // how many of each kind, and what they led to
	Work      Work             `json:"work"`    // what comes between the involvements
	// the possessions in which the player did something
	Possessions []Possession `json:"possessions"`
	Carries     []CarryLine  `json:"carries"`
	Choices     Choices      `json:"choices"`  // choices to pass or carry
	Arrivals    []Arrival    `json:"arrivals"` // arrivals at breakdowns
	Shares      []ShareLine  `json:"shares"`   // shares of the team’s work in the minutes watched
	Figures     []Figure     `json:"figures"`  // the match’s figures beside the level then
	// the headline figures of the position beside what the trend expected of this match; for staff
	Expected []ExpectedFigure `json:"expected"`
	// what was out of the ordinary for the trend, the opponent considered: recorded and expected; for staff
	Unusual []string `json:"unusual"`
	// what is recorded that may explain it
	MayExplain []string              `json:"may_explain"`
	Counts     []Count               `json:"counts"`  // of totals
	Keep       []Line                `json:"keep"`    // at most three
	WorkOn     []Line                `json:"work_on"` // at most two
	Moments    []evidence.MomentLine `json:"moments"`
	Cautions   []string              `json:"cautions"`
	Methods    []string              `json:"methods"` // how it was worked out, in plain words

	madeOn   models.Date
	away     bool // the player was not available on the day
	halves   int
	half     int  // seconds of a half
	write    bool // the reader may write a note
	unlinked bool // it leaves the program as a file
}

// Cover says what the logs of the match cover.
type Cover struct {
	// the minutes that count; 0 if they are not recorded
	Minutes float64 `json:"minutes"`
	// the part of them that a log covers; without the times on and off, of the match
	Watched float64 `json:"watched"`
	Share   float64 `json:"share"` // Watched as a share of Minutes, 0 to 1; 0 if that is not known
	// the kinds of involvement that no log covers
	Unwatched []string `json:"unwatched,omitempty"`
	// the stretches that a log covers
	Stretches []models.Span `json:"stretches,omitempty"`
	Depth     models.Depth  `json:"depth,omitempty"` // full only if all of it is
}

// Event is a score or a card.
type Event struct {
	Clock models.Clock     `json:"clock"`
	Kind  models.EventKind `json:"kind"`
	Ours  bool             `json:"ours"`
	Own   bool             `json:"own"` // the player's own
}

// Count is a count of totals.
type Count struct {
	Code  string  `json:"code"`
	Label string  `json:"label"`
	Value float64 `json:"value"`
}

// Request says which review is wanted, for whom and when.
type Request struct {
	PlayerID, MatchID int64
	Who               models.Who
	Now               time.Time
	Edition           Edition
}

// Read makes the review. Errors are the source's; NotFound where the player or the match is not to be seen, or the
// player had nothing to do with the match.
func Read(ctx context.Context, src Source, q Request) (*Report, error) {
	r, err := read(ctx, src, q)
	if err != nil {
		return nil, fmt.Errorf("match review of player %d in match %d: %w", q.PlayerID, q.MatchID, err)
	}
	return r, nil
}

func read(ctx context.Context, src Source, q Request) (*Report, error) {
	m, err := src.Match(q.MatchID)
	if err != nil {
		return nil, err
	}
	of, err := evidence.Of(src, q.PlayerID, m.SeasonID, q.Edition.reads())
	if err != nil {
		return nil, err
	}
	r := &Report{
		Edition: q.Edition, MadeAt: q.Now.UTC().Truncate(time.Second), madeOn: models.DateOf(q.Now),
		Player: of.Person, Season: of.Season, Match: evidence.LineOf(m), Basis: Absent,
		Stints: []models.Span{}, Jobs: []Job{}, Events: []Event{}, Tallies: []Tally{}, Possessions: []Possession{},
		Carries: []CarryLine{}, Arrivals: []Arrival{}, Shares: []ShareLine{}, Figures: []Figure{},
		Expected: []ExpectedFigure{}, Counts: []Count{},
		Unusual: []string{}, MayExplain: []string{},
		Work: Work{Quarters: []Quarter{}, Chains: []Chain{}}, Choices: Choices{Else: []Choice{}},
		Keep: []Line{}, WorkOn: []Line{}, Moments: []evidence.MomentLine{}, Cautions: []string{}, Alerts: []string{},
		halves: m.Halves, half: 60 * m.HalfMinutes,
		write: q.Edition == StaffEdition && q.Who.Reach(models.Write, models.AreaNotes) != models.ReachNone,
	}
	if line := of.Match(m.ID); line != nil {
		r.Match = *line
		r.Match.Score = m.Score
	} else if err := belongs(src, q.PlayerID, m); err != nil {
		return nil, err
	} else if s := of.SpellOn(m.Date); s != nil {
		r.away = s.Status == models.Unavailable
	}
	src.OpenedMatchReview(q.PlayerID)
	for _, step := range []func() error{
		func() error { return of.ReadSafety(src, models.DateOf(q.Now)) },
		func() error { return r.readEvents(src) },
		func() error { return r.readPlay(src, m) },
		func() error { return r.readFigures(src, of) },
		func() error { return r.readMoments(src, of) },
	} {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if err := step(); err != nil {
			return nil, err
		}
	}
	r.Alerts = append(r.Alerts, of.Alerts...)
	r.choose()
	r.Sentences, r.Methods, r.Cautions = r.sentences(), r.methods(), r.cautions()
	return r, nil
}

// belongs refuses a match that the player could not have been picked for.
func belongs(src Source, player int64, m models.Match) error {
	members, err := src.Memberships(models.MembershipFilter{PlayerID: player, SeasonID: m.SeasonID})
	if err != nil {
		return err
	}
	if m.SquadID != nil && slices.ContainsFunc(members, func(x models.Membership) bool {
		return x.SquadID == *m.SquadID && x.From <= m.Date && (x.Until == nil || *x.Until >= m.Date)
	}) {
		return nil
	}
	return models.Errorf(models.NotFound, "the player is not on the team sheet of match %d, nor in its squad", m.ID)
}

func (r *Report) readEvents(src Source) error {
	all, err := src.MatchEvents(r.Match.ID)
	for _, e := range all {
		if e.Kind.Points() == 0 && e.Kind != models.EventYellowCard && e.Kind != models.EventRedCard ||
			r.Match.Stop.Has(e.Clock) {
			continue
		}
		r.Events = append(r.Events, Event{Clock: e.Clock, Kind: e.Kind, Ours: e.Ours,
			Own: e.Ours && e.PlayerID != nil && *e.PlayerID == r.Player.ID})
	}
	slices.SortStableFunc(r.Events, func(a, b Event) int { return a.Clock.Compare(b.Clock) })
	return err
}

// readPlay reads what is recorded of the player in the match.
func (r *Report) readPlay(src Source, m models.Match) error {
	found, err := src.Appearances(models.AppearanceFilter{PlayerID: r.Player.ID, MatchID: m.ID})
	if err != nil || len(found) == 0 {
		return err
	}
	play := models.Play{Match: m, Appearance: found[0]}
	if stop := found[0].Stop; stop != nil { // a stop without a moment stops the whole match
		play.Contacts = []models.HeadContact{{MatchID: &m.ID, Date: m.Date, Clock: stop.From}}
	}
	logs, err := src.Logs(models.LogFilter{PlayerID: r.Player.ID, MatchID: m.ID})
	if err != nil {
		return err
	}
	involvements, err := src.Involvements(models.InvolvementFilter{PlayerID: r.Player.ID, MatchID: m.ID})
	if err != nil {
		return err
	}
	for _, l := range logs {
		lp := models.LoggedPlay{Log: l}
		for _, i := range involvements {
			if i.LogID == l.ID {
				lp.Involvements = append(lp.Involvements, i)
			}
		}
		play.Logs = append(play.Logs, lp)
	}
	totals, err := src.Totals(models.TotalsFilter{PlayerID: r.Player.ID, MatchID: m.ID})
	if err != nil {
		return err
	}
	counting := play.Counting()
	r.Basis, r.Cover.Minutes = Bare, found[0].CountedMinutes()
	for _, s := range counting.Appearance.Stints {
		r.Stints = append(r.Stints, models.Span{From: s.On, To: s.Off})
	}
	if found[0].Stop == nil && len(totals) > 0 {
		r.readTotals(totals[0].Counts)
	}
	if w := play.InOrder().Watched(); w != nil {
		r.readWatched(w, m)
	}
	return nil
}

func (r *Report) readTotals(counts models.Counts) {
	r.Basis = OnTotals
	for _, c := range models.CountCatalogue() {
		if v, given := counts[c.Code]; given {
			r.Counts = append(r.Counts, Count{c.Code, c.Label, v})
		}
	}
}

// readMoments keeps the season's moments that are of this match.
func (r *Report) readMoments(src Source, of *evidence.Player) error {
	if of.Match(r.Match.ID) == nil {
		return nil
	}
	if err := of.ReadMoments(src); err != nil {
		return err
	}
	for _, m := range of.Moments {
		if m.MatchID == r.Match.ID {
			r.Moments = append(r.Moments, m)
		}
	}
	return nil
}

// own says whether the review speaks to the player.
func (r *Report) own() bool { return r.Edition == PlayerEdition }
