// Package brief is the selection brief: what a selection meeting has on the table, place by place, and afterwards its
// record. A Report is the whole content: the page, the self-contained file and the JSON say the same.
//
//	brief.go       what is read, and the content
//	sentences.go   the plain words
//	page.go        the sheet
//	paper.go       how it is declared
//
// The candidates are compared by reports/selection, on the evidence that was kept when the comparison was opened.
// Before that, the brief has the criteria, the places and the names, and no figure. It is for staff; players never
// read it.
package brief

import (
	"cmp"
	"slices"
	"time"

	"throughline/models"
	"throughline/reports/paper"
	"throughline/reports/selection"
)

// Source is what a brief reads. It knows the caller, and answers with what they may see.
type Source interface {
	selection.Source
	Matches(models.MatchFilter) ([]models.Match, error)
	Appearances(models.AppearanceFilter) ([]models.Appearance, error)
	Goals(models.GoalFilter) ([]models.Goal, error)
	Indicators() ([]models.Indicator, error)
	Skills() ([]models.Skill, error)
	UserNames() (map[int64]string, error)
	Corrections(models.CorrectionFilter) ([]models.Correction, error)
}

// Report is the brief of one meeting.
type Report struct {
	MeetingID int64                `json:"meeting_id"` // the meeting’s id
	Purpose   string               `json:"purpose"`    // what the meeting is for
	Date      models.Date          `json:"date"`       // its day
	Status    models.MeetingStatus `json:"status"`     // how far it is
	Season    models.Season        `json:"season"`
	Squad     models.Squad         `json:"squad"` // the squad that the meeting is for
	MadeAt    time.Time            `json:"made_at"`
	// when the evidence was kept; absent before, and for a meeting from before evidence was kept
	FrozenAt *time.Time `json:"frozen_at,omitempty"`
	// the last day whose matches are counted in the minutes
	Until models.Date `json:"until"`
	// true when records have changed since the evidence was kept
	Changed  bool        `json:"changed"`
	Present  []string    `json:"present"`  // who was there
	Steps    []Step      `json:"steps"`    // taken so far, with who recorded each
	Criteria []Criterion `json:"criteria"` // what the candidates are compared by
	Places   []Place     `json:"places"`   // in the meeting's order
	// what was corrected after the record was closed, in words
	Corrections []string         `json:"corrections"`
	Sentences   []paper.Sentence `json:"sentences"` // what to know first
	Cautions    []string         `json:"cautions"`
	// how it was computed, in plain words
	Method []string `json:"method"`

	madeOn models.Date
	unkept bool
}

// Step is a step of the meeting that was taken.
type Step struct {
	Words string      `json:"words"` // what was done
	By    string      `json:"by"`    // the name of the user who recorded it
	On    models.Date `json:"on"`    // the day
}

// Criterion is what the candidates are compared by.
type Criterion struct {
	Label  string  `json:"label"`
	Words  string  `json:"words,omitempty"` // what it means
	Weight float64 `json:"weight"`          // how much it counts, relative to the others
	Share  float64 `json:"share"`           // of all weights, 0 to 1
	Typed  bool    `json:"in_words"`        // it is judged in words, and has no figure
}

// Place is one place and its candidates.
type Place struct {
	Name       string           `json:"name"`
	Wanted     int              `json:"wanted"`     // how many players are wanted
	Candidates []Candidate      `json:"candidates"` // in the meeting's order, which says nothing about them
	Pairs      []selection.Pair `json:"pairs"`      // each two candidates with a composite
	Sentences  []string         `json:"sentences"`  // what the figures say
	Changes    []string         `json:"changes"`    // what would change the order
	Notes      []string         `json:"notes"`      // what enters and what does not
	selection.Shifts
}

// Candidate is what is known of one candidate for a place.
type Candidate struct {
	PlayerID int64            `json:"player_id"`
	Name     string           `json:"name"`
	Matches  int              `json:"matches"` // played in the season up to Until
	Minutes  float64          `json:"minutes"` // in those whose minutes were recorded
	Untimed  int              `json:"untimed"` // in how many they were not
	Lines    []selection.Line `json:"lines"`   // by criterion; none before the comparison is opened
	// the weighted mean of the criteria; absent where too much is missing
	Composite *models.Estimate `json:"composite,omitempty"`
	First     *float64         `json:"first,omitempty"`  // the probability of being first of those compared
	Second    *float64         `json:"second,omitempty"` // likewise of being second
	Third     *float64         `json:"third,omitempty"`  // likewise of being third
	Warnings  []string         `json:"warnings"`         // what must be known before the player is chosen, as of today
	// what was warned of when the evidence was kept, where it differs
	Then []string `json:"warned_then"`
	// whether the player can train and play, as of today
	Availability string            `json:"availability"`
	Grades       []selection.Grade `json:"grades"` // of today; none before the comparison is opened
	Notes        []string          `json:"notes"`
	Moved        []string          `json:"moved"`              // figures that are others today
	Goals        []Goal            `json:"goals"`              // open on the day of the meeting
	Coaches      []Recommendation  `json:"recommendations"`    // what coaches recommend for this meeting
	Decision     models.Decision   `json:"decision,omitempty"` // absent until decided
	Reason       string            `json:"reason,omitempty"`   // why
	Dissent      string            `json:"dissent,omitempty"`  // who disagreed, and why
}

// Goal is what a player works on.
type Goal struct {
	On     string      `json:"on"`     // what the goal is on
	Target float64     `json:"target"` // on the scale of the figure
	By     models.Date `json:"by"`     // the day to reach it by
	Words  string      `json:"words"`  // the goal in a line
}

// Recommendation is what a coach recommends for this meeting.
type Recommendation struct {
	By    string `json:"by"`    // the coach’s name
	Words string `json:"words"` // what they recommend, in words
	Text  string `json:"text"`  // what they saw
}

// Request says which brief is wanted, for whom and when.
type Request struct {
	MeetingID int64
	Who       models.Who
	Now       time.Time
}

// Read reads a brief. Errors are the source's.
func Read(src Source, q Request) (*Report, error) {
	m, err := src.Meeting(q.MeetingID)
	if err != nil {
		return nil, err
	}
	r := reader{src: src, q: q, m: &m, report: &Report{MeetingID: m.ID, Purpose: m.Purpose,
		Date: m.Date, Status: m.Status, MadeAt: q.Now.UTC().Truncate(time.Second), madeOn: models.DateOf(q.Now),
		FrozenAt: m.OpenedAt, Until: min(m.Date, models.DateOf(q.Now)), Present: []string{}, Steps: []Step{},
		Criteria: []Criterion{},
		Places:   []Place{}, Corrections: []string{}, Cautions: cautions, Method: method[:1]}}
	if m.OpenedAt != nil {
		r.report.Until = models.DateOf(q.Who.Local(*m.OpenedAt))
	}
	for _, read := range []func() error{r.readFrame, r.readPlayed, r.readSpells, r.readGoals, r.readPlaces,
		r.readCorrections} {
		if err := read(); err != nil {
			return nil, err
		}
	}
	r.report.Sentences = r.report.sentences()
	return r.report, nil
}

// reader reads one brief.
type reader struct {
	src     Source
	q       Request
	m       *models.Meeting
	report  *Report
	names   map[int64]string
	played  map[int64]played
	goals   map[int64][]Goal
	spells  map[int64][]models.Spell
	on      labels
	compare *selection.Comparison
}

type played struct {
	matches, untimed int
	minutes          float64
}

// labels say what goals are on.
type labels struct {
	models.Labels
	units map[string]string
}

// readFrame reads what stands around the candidates.
func (r *reader) readFrame() (err error) {
	b := r.report
	if b.Season, err = r.src.Season(r.m.SeasonID); err != nil {
		return err
	}
	if b.Squad, err = r.src.Squad(r.m.SquadID); err != nil {
		return err
	}
	if r.names, err = r.src.UserNames(); err != nil {
		return err
	}
	for _, a := range r.m.Present {
		b.Present = append(b.Present, a.Name)
	}
	for _, s := range r.m.Steps {
		b.Steps = append(b.Steps, Step{Words: s.Words(), By: s.Name, On: models.DateOf(r.q.Who.Local(s.At))})
	}
	total := r.m.Weight()
	for _, c := range r.m.Criteria {
		b.Criteria = append(b.Criteria, Criterion{Label: c.Label, Words: c.Words, Weight: c.Weight, Share: c.Weight / total,
			Typed: c.InWords()})
	}
	if r.m.Comparable() != nil {
		return nil
	}
	if r.compare, err = selection.Read(r.src, r.m.ID, r.q.Now); err != nil {
		return err
	}
	b.Changed, b.unkept = r.compare.Revision != r.compare.Today, r.compare.Unkept
	b.Method = append(slices.Clone(r.compare.Method), method...)
	return nil
}

// readPlayed reads who played how much in the season for the academy's squads, up to the day of the evidence.
func (r *reader) readPlayed() error {
	matches, err := r.src.Matches(models.MatchFilter{SeasonID: r.m.SeasonID, Bare: true})
	if err != nil {
		return err
	}
	counted := map[int64]bool{}
	for _, m := range matches {
		counted[m.ID] = m.SquadID != nil && m.Date <= r.report.Until
	}
	all, err := r.src.Appearances(models.AppearanceFilter{SeasonID: r.m.SeasonID, Bare: true})
	if err != nil {
		return err
	}
	r.played = map[int64]played{}
	for _, a := range all {
		if !counted[a.MatchID] {
			continue
		}
		p := r.played[a.PlayerID]
		p.matches++
		p.minutes += a.CountedMinutes()
		if a.Untimed() {
			p.untimed++
		}
		r.played[a.PlayerID] = p
	}
	return nil
}

// ids are the candidates, each once.
func (r *reader) ids() []int64 {
	ids := []int64{}
	for _, c := range r.m.Candidates {
		ids = append(ids, c.PlayerID)
	}
	slices.Sort(ids)
	return slices.Compact(ids)
}

// readSpells reads what is recorded of the candidates' availability.
func (r *reader) readSpells() error {
	r.spells = map[int64][]models.Spell{}
	if len(r.m.Candidates) == 0 {
		return nil
	}
	all, err := r.src.Spells(models.SpellFilter{PlayerIDs: r.ids()})
	for _, s := range all {
		r.spells[s.PlayerID] = append(r.spells[s.PlayerID], s)
	}
	return err
}

// readGoals reads what the candidates work on, for those who may read goals.
func (r *reader) readGoals() error {
	r.goals = map[int64][]Goal{}
	if r.q.Who.Reach(models.Read, models.AreaGoals) == models.ReachNone || len(r.m.Candidates) == 0 {
		return nil
	}
	indicators, err := r.src.Indicators()
	if err != nil {
		return err
	}
	skills, err := r.src.Skills()
	if err != nil {
		return err
	}
	r.on = labels{models.NewLabels(indicators, skills), map[string]string{}}
	for _, i := range indicators {
		r.on.units[i.Code] = i.Unit
	}
	all, err := r.src.Goals(models.GoalFilter{PlayerIDs: r.ids()})
	if err != nil {
		return err
	}
	for _, g := range all {
		if g.SetOn > r.m.Date || g.ClosedOn != nil && *g.ClosedOn < r.m.Date {
			continue
		}
		on := Goal{On: r.on.Of(g.Indicator, g.Skill, models.GroupUnknown), Target: g.Target, By: g.By}
		unit := cmp.Or(r.on.units[g.Indicator], "grade")
		on.Words = on.On + ": to " + paper.ScaleOf(unit).Value(g.Target) + " by " + paper.Day(string(g.By))
		r.goals[g.PlayerID] = append(r.goals[g.PlayerID], on)
	}
	return nil
}

// readPlaces puts the candidates into their places.
func (r *reader) readPlaces() error {
	for _, p := range r.m.Places {
		place := Place{Name: p.Name, Wanted: p.Wanted, Candidates: []Candidate{}, Pairs: []selection.Pair{},
			Sentences: []string{}, Changes: []string{}, Notes: []string{}, Shifts: selection.NoShifts()}
		compared := map[int64]*selection.Candidate{}
		if of := r.comparedAt(p.Name); of != nil {
			place.Pairs, place.Sentences, place.Changes, place.Notes = of.Pairs, of.Sentences, of.Changes, of.Notes
			place.Shifts = of.Shifts
			for i := range of.Candidates {
				compared[of.Candidates[i].PlayerID] = &of.Candidates[i]
			}
		}
		for _, one := range r.m.Candidates {
			if one.Place != p.Name {
				continue
			}
			person, err := r.src.Player(one.PlayerID)
			if models.CodeOf(err) == models.NotFound {
				continue // a player whom the caller does not read
			}
			if err != nil {
				return err
			}
			place.Candidates = append(place.Candidates, r.candidate(one, person, compared[one.PlayerID]))
		}
		place.shareNotes()
		r.report.Places = append(r.report.Places, place)
	}
	return nil
}

// shareNotes has what is noted of every candidate stand once, with the place.
func (p *Place) shareNotes() {
	if len(p.Candidates) < 2 {
		return
	}
	for _, note := range slices.Clone(p.Candidates[0].Notes) {
		if slices.ContainsFunc(p.Candidates, func(c Candidate) bool { return !slices.Contains(c.Notes, note) }) {
			continue
		}
		p.Notes = append(p.Notes, note)
		for i := range p.Candidates {
			c := &p.Candidates[i]
			c.Notes = slices.DeleteFunc(c.Notes, func(n string) bool { return n == note })
		}
	}
}

func (r *reader) comparedAt(place string) *selection.Place {
	if r.compare == nil {
		return nil
	}
	i := slices.IndexFunc(r.compare.Places, func(p selection.Place) bool { return p.Name == place })
	if i < 0 {
		return nil
	}
	return &r.compare.Places[i]
}

// candidate is one candidate, with the evidence of the comparison where it is open.
func (r *reader) candidate(one models.Candidate, person models.Player, of *selection.Candidate) Candidate {
	p := r.played[person.ID]
	c := Candidate{PlayerID: person.ID, Name: person.Name, Matches: p.matches, Minutes: p.minutes, Untimed: p.untimed,
		Lines: []selection.Line{}, Warnings: []string{}, Then: []string{}, Notes: []string{}, Moved: []string{},
		Availability: availability(models.DateOf(r.q.Now), r.spells[person.ID]), Grades: []selection.Grade{},
		Goals: []Goal{}, Coaches: []Recommendation{}, Decision: one.Decision, Reason: one.Reason, Dissent: one.Dissent}
	c.Goals = append(c.Goals, r.goals[person.ID]...)
	if of == nil {
		return c
	}
	c.Lines, c.Composite, c.First, c.Second, c.Third = of.Lines, of.Composite, of.First, of.Second, of.Third
	c.Warnings, c.Grades, c.Notes, c.Moved = of.Warnings, of.Grades, of.Notes, of.Changed
	if of.WarningsDiffer {
		c.Then = of.WarnedThen
	}
	for _, n := range of.Recommendations {
		c.Coaches = append(c.Coaches, Recommendation{By: r.names[n.AuthorID], Words: n.View.Words(), Text: n.Text})
	}
	return c
}

// readCorrections reads what was corrected once the record was closed.
func (r *reader) readCorrections() error {
	if r.m.Status != models.MeetingClosed {
		return nil
	}
	all, err := r.src.Corrections(models.CorrectionFilter{MeetingID: r.m.ID})
	if err != nil {
		return err
	}
	for _, c := range all {
		r.report.Corrections = append(r.report.Corrections, c.Text+" Why: "+c.Why)
	}
	return nil
}
