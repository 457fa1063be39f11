package matchreview

import (
	"context"

	"throughline/models"
	"throughline/reports/chart"
	"throughline/reports/evidence"
	"throughline/reports/paper"
)

// Paper declares the match review.
func Paper(*chart.Renderer) (paper.Paper, error) {
	page, err := NewPage()
	if err != nil {
		return paper.Paper{}, err
	}
	return paper.Kind[Source, *Report]{
		Facts: paper.Facts{
			Code: "match-review", Word: "review", Name: "match review",
			Of:    []paper.Subject{paper.OfPlayer, paper.OfMatch},
			Areas: []models.Area{models.AreaPlayers, models.AreaPerformance}, Example: example(),
			About: "What one match says of one player: every involvement along the match clock with its effect, the work " +
				"between them, what possessions led to, carries, choices, arrivals, shares of the team’s work, figures, and " +
				"proposed lines to keep and to work on. It says what a log covers, and works for totals or minutes alone.",
			Editions: []paper.Edition{
				{Code: string(StaffEdition), Name: "staff edition", Roles: paper.Staff(),
					About: "For staff, with levels of the trend beside the match’s figures."},
				{Code: string(PlayerEdition), Name: "player’s edition", Roles: append(paper.Writers(), models.RolePlayer),
					About: "What the player reads, without what is for staff only."},
			},
		},
		Read: func(ctx context.Context, src Source, a paper.Asked) (*Report, error) {
			return Read(ctx, src, Request{PlayerID: a.IDs[paper.OfPlayer], MatchID: a.IDs[paper.OfMatch], Who: a.Who,
				Now: a.Now, Edition: Edition(a.Edition)})
		},
		Sheet: page.Sheet, HandedOver: (*Report).asFile,
		Trends: func(src Source, a paper.Asked) ([]models.SquadSeason, error) {
			m, err := src.Match(a.IDs[paper.OfMatch])
			if err != nil {
				return nil, err
			}
			return evidence.SquadSeasons(src, a.IDs[paper.OfPlayer], m.SeasonID)
		},
	}.Paper(), nil
}

// Title is the title of its page.
func (r *Report) Title() string {
	return r.Player.Name + ": match review " + r.Match.Against() + ", " + paper.Day(string(r.Match.Date))
}

// FileName is what a file of it is called.
func (r *Report) FileName() string {
	name := []string{"match-review", r.Player.Name, string(r.Match.Date), r.Match.Opponent}
	if r.own() {
		name = append(name, string(r.Edition))
	}
	return paper.FileName(name...)
}

// asFile is the review as it leaves the program: a file leads nowhere.
func (r *Report) asFile() *Report {
	file := *r
	file.unlinked = true
	return &file
}

// example is a review of a short stretch of a match.
func example() *Report {
	of := evidence.Example()
	clock := func(half, second int) models.Clock { return models.Clock{Half: half, Second: second} }
	match := models.Match{Halves: 2, HalfMinutes: 35}
	match.ID = of.Matches[0].ID
	r := &Report{
		Edition: StaffEdition, MadeAt: evidence.ExampleTime, Player: of.Person, Season: of.Season, Match: of.Matches[0],
		Alerts: of.Alerts, Basis: PartLog, Cover: Cover{Minutes: of.Matches[0].Minutes},
		Stints:  []models.Span{{From: clock(1, 0), To: clock(2, 3000)}},
		Events:  []Event{{Clock: clock(1, 700), Kind: models.EventTry, Ours: true}},
		Unusual: []string{}, MayExplain: []string{}, Counts: []Count{{"carries", "Carries", 6}},
		Shares:  []ShareLine{{"Carries", 6, 48, 0.125, models.FromLog}},
		Moments: of.Moments, halves: 2, half: 35 * 60,
	}
	r.Player.Positions = of.Person.Positions
	possession, level := 4, 0.61
	job := func(id int64, second int, kind models.Kind, detail, code string) models.WatchedJob {
		return models.WatchedJob{Quarter: 1, Involvement: models.Involvement{Record: models.Record{ID: id},
			Clock: clock(1, second), Kind: kind, Details: map[string]string{detail: code}, Possession: &possession}}
	}
	jobs := []models.WatchedJob{
		job(101, 600, models.KindTackle, "result", "won"), job(102, 612, models.KindReposition, "in_place", "yes"),
		job(103, 640, models.KindCarry, "contact", "won"), job(104, 660, models.KindAttackRuck, "effect", "cleared"),
	}
	jobs[0].Gap, jobs[1].Gap, jobs[2].Gap = new(12), new(28), new(20)
	r.readWatched(&models.Watched{Jobs: jobs, Played: 3000, Seconds: 2100, Stretches: []models.WatchedStretch{{
		Span: models.Span{From: clock(1, 0), To: clock(1, 2100)}, Seconds: 2100, All: true, Full: true,
		Kinds: []models.Kind{models.KindTackle, models.KindReposition, models.KindCarry, models.KindAttackRuck}}}}, match)
	f := of.Indicators[0]
	r.Figures = []Figure{{Code: f.Code, Label: f.Label, Unit: f.Unit, Better: f.Better, Headline: true,
		Value: f.Points[0].Value, Numerator: f.Points[0].Numerator, Denominator: f.Points[0].Denominator,
		Source: models.FromLog, Level: &level, Fits: &models.Range{Lo: 0.4558, Hi: 0.8267}}}
	r.Expected = []ExpectedFigure{{Code: f.Code, Label: f.Label, Unit: f.Unit, Better: f.Better, Recorded: 7, Of: 10,
		Expected: 5.8, Range80: models.Range{Lo: 4, Hi: 8}, Opponent: true, Reads: Within}}
	r.choose()
	r.Sentences, r.Methods, r.Cautions = r.sentences(), r.methods(), r.cautions()
	return r
}
