// Package consistency says how far coaches' grades and people's logs of a squad's season can be relied on: skill by
// skill how far coaches agree, how many would be needed, how strict each coach is, where they disagreed most, with what
// each of them saw, and how far two loggers of one match agree.
//
//	consistency.go     what is read, and the report
//	skills.go          one skill: reliability and severity
//	disagreements.go   the largest differences between grades of the same play
//	coaches.go         who is called what, and whose severity a reader is shown
//	loggers.go         matches that two people logged
//	sentences.go       the plain words
//	page.go            the sheet, with its tables
//	paper.go           how it is declared
//
// Everything is worked out from grades that the reader may read (store.Tx.SquadGrades), so nothing here tells a grade
// before the reader may see it, whatever is subtracted from what.
//
// It has two editions. The staff room's calls coaches by letters. A coach reads in it only their own severity, where
// models.LeastSeverities coaches or more have graded: with fewer it would tell the others'. A manager reads no
// severity in it, because it is handed to those coaches. The managers' edition has names and no letters, so that no
// sheet says who a letter is. Loggers have numbers of their own, which say nothing about letters: staff may read who
// made a log.
package consistency

import (
	"cmp"
	"fmt"
	"runtime"
	"slices"
	"time"

	"golang.org/x/sync/errgroup"

	"throughline/models"
	"throughline/reports/paper"
)

// Source is what the report is made from.
type Source interface {
	SquadGrades(season, squad int64) ([]models.Rating, error)
	Season(id int64) (models.Season, error)
	Squad(id int64) (models.Squad, error)
	Players(models.PlayerFilter) ([]models.Player, error)
	Matches(models.MatchFilter) ([]models.Match, error)
	Skills() ([]models.Skill, error)
	UserNames() (map[int64]string, error)
	Logs(models.LogFilter) ([]models.Log, error)
	Involvements(models.InvolvementFilter) ([]models.Involvement, error)
}

// Request says which squad's season, for whom and when.
type Request struct {
	SeasonID, SquadID int64
	Who               models.Who
	Now               time.Time
	Edition           Edition
}

// Report says how far coaches' grades and people's logs of a squad's season can be relied on.
type Report struct {
	Edition Edition       `json:"edition"` // names for managers alone, staff-room for letters
	Season  models.Season `json:"season"`
	Squad   models.Squad  `json:"squad"`   // whose players were graded
	MadeAt  time.Time     `json:"made_at"` // when the report was made
	// True in the managers' edition: coaches have their names. Otherwise they are letters, and a coach who reads is
	// “you”.
	Named bool `json:"named"`
	// one short line: which grades this is based on
	Basis     string           `json:"basis"`
	Grades    int              `json:"grades"`    // how many grades by coaches it is based on
	Coaches   int              `json:"coaches"`   // how many coaches gave them
	Sentences []paper.Sentence `json:"sentences"` // what a reader needs first, in plain words
	// How strict coaches are over all skills, in the managers' edition. In the staff room's, a coach reads only their
	// own, and none while fewer than four coaches have graded.
	Severity []Severity `json:"severity"`
	// why the reader is not shown their own severity; absent if they are
	WithoutSeverity string  `json:"without_severity,omitempty"`
	Skills          []Skill `json:"skills"` // the skills that were graded, in the order of the academy's skills
	// the largest differences between coaches' grades of the same player, skill and occasion, largest first
	Disagreements []Disagreement `json:"disagreements"`
	Loggers       LogAgreement   `json:"loggers"` // how far two loggers of one match agree

	grades   []models.Rating
	called   calling
	madeOn   models.Date // the day on which it was made, in the academy's zone
	unlinked bool        // it leaves the program as a file
}

// Read makes the report. It errs as Source does: Forbidden for selectors and players, NotFound for a coach of other
// squads.
func Read(src Source, q Request) (*Report, error) {
	r := &Report{Edition: q.Edition, MadeAt: q.Now.UTC().Truncate(time.Second), madeOn: models.DateOf(q.Now),
		Severity: []Severity{}, Skills: []Skill{}, Disagreements: []Disagreement{}}
	of, err := readRecord(src, q)
	if err != nil {
		return nil, fmt.Errorf("consistency of grades of squad %d in season %d: %w", q.SquadID, q.SeasonID, err)
	}
	r.Season, r.Squad, r.grades = of.season, of.squad, of.grades
	r.called = newCalling(of, q.Who, q.Edition)
	r.Named, r.Grades, r.Coaches = r.called.named, len(of.grades), len(r.called.order)
	r.readSkills(of)
	r.Severity, r.WithoutSeverity = r.overall()
	r.Disagreements = r.disagreements(of)
	if err := r.readLoggers(src, of); err != nil {
		return nil, fmt.Errorf("consistency of logs of squad %d in season %d: %w", q.SquadID, q.SeasonID, err)
	}
	r.Basis, r.Sentences = r.basis(), r.sentences()
	return r, nil
}

// record is what was read.
type record struct {
	season  models.Season
	squad   models.Squad
	grades  []models.Rating
	players map[int64]models.Player
	matches map[int64]models.Match
	skills  []models.Skill
	names   map[int64]string
	doubles []double
}

func readRecord(src Source, q Request) (record, error) {
	of := record{players: map[int64]models.Player{}, matches: map[int64]models.Match{}}
	var logs []models.Log
	for _, read := range []func() error{
		func() (err error) { of.grades, err = src.SquadGrades(q.SeasonID, q.SquadID); return err },
		func() (err error) { of.season, err = src.Season(q.SeasonID); return err },
		func() (err error) { of.squad, err = src.Squad(q.SquadID); return err },
		func() (err error) { of.skills, err = src.Skills(); return err },
		func() (err error) { of.names, err = src.UserNames(); return err },
		func() error {
			all, err := src.Players(models.PlayerFilter{SeasonID: q.SeasonID, SquadID: q.SquadID})
			for _, p := range all {
				of.players[p.ID] = p
			}
			return err
		},
		func() error {
			all, err := src.Matches(models.MatchFilter{SeasonID: q.SeasonID, Bare: true})
			for _, m := range all {
				of.matches[m.ID] = m
			}
			return err
		},
		func() (err error) { logs, err = src.Logs(models.LogFilter{SeasonID: q.SeasonID}); return err },
	} {
		if err := read(); err != nil {
			return of, err
		}
	}
	of.doubles = of.doublesOf(logs)
	slices.SortStableFunc(of.grades, func(a, b models.Rating) int {
		return cmp.Or(cmp.Compare(a.Date, b.Date), cmp.Compare(a.ID, b.ID))
	})
	return of, nil
}

// readSkills works out each graded skill, on all cores.
func (r *Report) readSkills(of record) {
	by := map[string][]models.Rating{}
	for _, g := range of.grades {
		by[g.Skill] = append(by[g.Skill], g)
	}
	for _, s := range of.skills {
		if len(by[s.Code]) > 0 {
			r.Skills = append(r.Skills, Skill{Code: s.Code, Label: s.Label})
		}
	}
	var workers errgroup.Group
	workers.SetLimit(runtime.GOMAXPROCS(0))
	for i := range r.Skills {
		workers.Go(func() error {
			r.Skills[i].read(by[r.Skills[i].Code], r.called)
			return nil
		})
	}
	_ = workers.Wait() // none of them errs
}
