// Package season is the season report: one player, one season. Its data first (Read), then its sentences, then its
// page. A Report is the whole content: the page, the self-contained file and the JSON say the same.
package season

import (
	"cmp"
	"context"
	"fmt"
	"time"

	"throughline/models"
	"throughline/reports/evidence"
)

// Source is what a season report reads. The source knows the caller: it answers with what the caller may see, and with
// a *models.Error of code NotFound for the rest.
type Source interface {
	evidence.PlayerSource
	evidence.ScoreSource
	evidence.SafetySource
	evidence.TrendSource
	evidence.EarlierSource
	evidence.FigureSource
	evidence.CountSource
	evidence.SkillSource
	evidence.GoalSource
	evidence.NoteSource
	evidence.ReviewSource
	evidence.MomentSource
	evidence.ReplySource
	// Opened notes that the caller opened the report of a player's season.
	Opened(player, season int64)
	// PrintedForGuardian notes in the audit trail that the caller made a print of a player's record for a guardian.
	PrintedForGuardian(player int64)
}

// Request says which report is wanted, for whom and when.
type Request struct {
	PlayerID, SeasonID int64
	Who                models.Who
	Now                time.Time // printed on the report, so that the same request gives the same bytes
	// AsOf is the last day of what the source reads; empty if it reads the record as it is.
	AsOf    models.Date
	Edition Edition // empty for the caller's own
}

// day is the day of the report: today, or the last day of what it reads.
func (q Request) day() models.Date {
	if q.AsOf != "" {
		return q.AsOf
	}
	return models.DateOf(q.Now)
}

// Report is a season report.
type Report struct {
	Edition Edition   `json:"edition"`
	MadeAt  time.Time `json:"made_at"`
	// The last day of data in the report, as recorded today; absent for a report of today.
	AsOf   models.Date     `json:"as_of,omitempty"`
	Player evidence.Person `json:"player"`
	Season models.Season   `json:"season"`
	// the squad the player is compared with: the one they played most minutes for
	Squad   *models.Squad    `json:"squad,omitempty"`
	Group   evidence.GroupOf `json:"group"`
	Summary evidence.Summary `json:"summary"`
	// whether there are trends, and when they were made
	Trends    evidence.TrendState  `json:"trends"`
	Sentences []Sentence           `json:"sentences"`
	Matches   []evidence.MatchLine `json:"matches"`
	// the codes of the indicators drawn as charts, in order
	Headlines  []string                 `json:"headlines"`
	Indicators []evidence.IndicatorLine `json:"indicators"`
	// some of the indicators by quarter, and in phases 1 to 3 and from phase 4 on
	Parts  []evidence.PartLine  `json:"parts"`
	Skills []evidence.SkillLine `json:"skills"`
	Goals  []evidence.GoalLine  `json:"goals"`
	Notes  []evidence.NoteLine  `json:"notes"`
	// the latest shared review with the agreed next step, and the day of the next review
	Reviews evidence.Reviewed     `json:"reviews"`
	Moments []evidence.MomentLine `json:"moments"`
	// dangerous play, for staff; each counts as a penalty
	Dangers  []evidence.MomentLine `json:"dangers,omitempty"`
	Spells   []models.Spell        `json:"spells"`
	Cautions []string              `json:"cautions"`
	Methods  []evidence.Method     `json:"methods"`
	// What to know before any figure, in plain words: head contacts not yet reported to the medical lead, stand-downs,
	// missing consents. The player's edition shows only their stand-down.
	Alerts []string `json:"alerts"`
	// how the levels and comparisons of other readers differ from those in the sentences, methods and cautions, in one
	// line; absent if they do not. Indicators, skills and goals have lines of their own
	OtherReaders string `json:"other_readers,omitempty"`

	of *evidence.Player

	minor  bool        // on the day that it was made
	madeOn models.Date // the day of MadeAt where the academy is

	unlinked bool // it leaves the program as a file
}

// Lacks says whether an edition is not made of the player: a guardian's of a player who is of age.
func (r *Report) Lacks(edition string) bool { return edition == string(GuardianPrint) && !r.minor }

// Read makes the report. Errors are the source's; NotFound where the player or the season is not to be seen, or the
// player has neither a membership nor an appearance in the season.
func Read(ctx context.Context, src Source, q Request) (*Report, error) {
	of, err := evidence.Of(src, q.PlayerID, q.SeasonID, q.edition().reads())
	if err != nil {
		return nil, failed(q, "the player", err)
	}
	guardian := q.edition() == GuardianPrint
	if guardian && !of.MinorOn(models.DateOf(q.Now)) {
		return nil, models.Errorf(models.Conflict, "%s is %d or older, so a guardian’s print is refused: adults decide "+
			"for themselves who reads their record. Print the player’s own report and give it to the player",
			of.Person.Name, models.Majority)
	}
	src.Opened(q.PlayerID, q.SeasonID)
	if guardian {
		src.PrintedForGuardian(q.PlayerID)
	}
	for _, step := range []struct {
		what string
		read func() error
	}{
		{"what keeps the player safe", func() error { return of.ReadSafety(src, models.DateOf(q.Now)) }},
		{"the scores", func() error { return of.ReadScores(src) }},
		{"the totals", func() error { return of.ReadCounts(src) }},
		{"the trends", func() error { return of.ReadTrends(src) }},
		{"the indicators", func() error { return of.ReadIndicators(src) }},
		{"the ratings", func() error { return of.ReadSkills(src) }},
		{"the earlier seasons", func() error { return of.ReadEarlier(src) }},
		{"the goals", func() error { return of.ReadGoals(src) }},
		{"the notes", func() error { return of.ReadNotes(src) }},
		{"the reviews", func() error { return of.ReadReviews(src, q.Who, q.day()) }},
		{"the replies", func() error {
			if !guardian {
				return nil
			}
			return of.ReadReplies(src, q.Who)
		}},
		{"the moments", func() error { return of.ReadMoments(src) }},
	} {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if err := step.read(); err != nil {
			return nil, failed(q, step.what, err)
		}
	}
	r := made(of, q)
	for _, l := range r.Indicators {
		r.OtherReaders = l.OtherReaders
	}
	r.Sentences = r.sentences()
	r.showSentences()
	r.chooseFigures()
	r.chooseMoments()
	return r, nil
}

// Opening is what the report of a request opens with, and no more: it is not noted as opened.
func Opening(src Source, q Request) ([]Sentence, error) {
	of, err := evidence.Of(src, q.PlayerID, q.SeasonID, q.edition().reads())
	if err != nil {
		return nil, failed(q, "the player", err)
	}
	for _, read := range []func() error{
		func() error { return of.ReadCounts(src) }, func() error { return of.ReadTrends(src) },
		func() error { return of.ReadIndicators(src) }, func() error { return of.ReadSkills(src) },
		func() error { return of.ReadGoals(src) },
	} {
		if err := read(); err != nil {
			return nil, failed(q, "the opening", err)
		}
	}
	return made(of, q).sentences(), nil
}

// made is a report of what was read, without what is chosen from it.
func made(of *evidence.Player, q Request) *Report {
	r := &Report{
		AsOf:    q.AsOf,
		madeOn:  models.DateOf(q.Now),
		Edition: q.edition(), MadeAt: q.Now.UTC().Truncate(time.Second), Player: of.Person, Season: of.Season,
		Squad: of.Squad, Group: of.Group,
		Summary: of.Summary, Trends: of.Trends, Matches: of.Matches, Indicators: of.Indicators, Parts: of.Parts,
		Skills: of.Skills,
		Goals:  of.Goals, Notes: of.Notes, Reviews: of.Reviewed,
		Moments: of.Moments, Dangers: of.Dangers, Spells: of.Spells, Alerts: of.Alerts, Cautions: of.Cautions(),
		Methods: of.Methods(), of: of, minor: of.MinorOn(models.DateOf(q.Now)),
	}
	if r.Summary.Matches == 1 {
		r.leaveOutChances()
	}
	return r
}

// leaveOutChances takes out what one match cannot show: comparisons, figures by part of the match, where the player
// is on a goal, and chances to reach it.
func (r *Report) leaveOutChances() {
	for i := range r.Indicators {
		r.Indicators[i].Comparison = nil
	}
	for i := range r.Goals {
		g := &r.Goals[i]
		g.Outlook = nil
		if g.Indicator != "" {
			g.Now, g.Now80, g.Method = nil, nil, ""
		}
	}
	r.Parts, r.Methods = []evidence.PartLine{}, []evidence.Method{}
}

// Own says whether the report speaks to the player.
func (r *Report) Own() bool { return r.Edition.own() }

// today is the day that the report stands on.
func (r *Report) today() models.Date {
	if r.AsOf != "" {
		return r.AsOf
	}
	return cmp.Or(r.madeOn, models.DateOf(r.MadeAt))
}

func failed(q Request, what string, err error) error {
	return fmt.Errorf("season report of player %d in season %d, %s: %w", q.PlayerID, q.SeasonID, what, err)
}
