// Package selection is the comparison of a selection meeting's candidates: for each place, what is known of each of
// them on each criterion, as it was kept when the comparison was opened, and how sure any order of them is.
//
// # How candidates are compared
//
// A criterion's level is that of the trend, at the squad's last match. Levels of one criterion come from one fit of
// the whole squad's season, drawn jointly, so what players share cancels out. Draw by draw a level is standardised
// against the group of the place: z = (level − the group's mean) / the spread between its players, with the sign
// turned where lower is better. The composite is the mean of the z, weighted as the meeting agreed. Draws of different
// criteria are independent: each is fitted on its own. A criterion in words enters once every candidate of the place
// has a mark of the meeting: 3 is the group's level, and a mark is one spread.
//
// A missing figure is not zero. It stands as any player of the group might: z ~ N(0, 1). Where more than half of the
// weight is missing, the candidate has no composite.
//
// Candidates stand in the order in which the meeting wrote them down, never in one of their figures.
package selection

import (
	"cmp"
	"errors"
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"slices"
	"time"

	"throughline/models"
	"throughline/reports/paper"
)

// Source is what a comparison reads. It knows the caller, and answers with what they may see.
type Source interface {
	Meeting(id int64) (models.Meeting, error)
	CandidateEvidence(meeting int64) ([]models.CandidateEvidence, error)
	Player(id int64) (models.Player, error)
	Season(id int64) (models.Season, error)
	Squad(id int64) (models.Squad, error)
	Squads(models.SquadFilter) ([]models.Squad, error)
	SquadSeason(season, squad int64) (models.SquadSeason, error)
	Trends(models.TrendFilter) ([]models.Trend, error)
	Recommendations(models.RecommendationFilter) ([]models.Recommendation, error)
	Safety(player, season int64, day models.Date) (models.Safety, error)
	Spells(models.SpellFilter) ([]models.Spell, error)
	Memberships(models.MembershipFilter) ([]models.Membership, error)
	Skills() ([]models.Skill, error)
}

// Comparison is the comparison of a meeting's candidates, by place.
type Comparison struct {
	MeetingID int64       `json:"meeting_id"` // the meeting whose candidates are compared
	Date      models.Date `json:"date"`       // the day of the meeting
	Purpose   string      `json:"purpose"`    // what the meeting is for
	// when the comparison was opened and its evidence kept; absent for a meeting from before evidence was kept
	FrozenAt *time.Time `json:"frozen_at,omitempty"`
	// true for a meeting from before evidence was kept: nothing can be compared then
	Unkept bool `json:"unkept"`
	// the revision of the squad's season that the evidence stands on
	Revision int64   `json:"revision"`
	Today    int64   `json:"revision_today"` // the revision of the squad's season today
	Places   []Place `json:"places"`         // in the meeting's order
	// how it was computed, in plain words
	Method []string `json:"method"`
}

// Place is the candidates for one place, side by side.
type Place struct {
	Name       string      `json:"name"`       // what the meeting calls it
	Wanted     int         `json:"wanted"`     // how many players are wanted
	Candidates []Candidate `json:"candidates"` // in the meeting's order, which says nothing about them
	// what the figures say, in plain words: who cannot be told apart, and who most likely is ahead
	Sentences []string `json:"sentences"`
	// what would change who is most likely first
	Changes []string `json:"changes"`
	Notes   []string `json:"notes"` // what enters and what does not
	Pairs   []Pair   `json:"pairs"` // each two candidates with a composite
	Shifts
}

// Shifts are what would change the order of a place's candidates, see Turn and Resolved. They are empty where fewer
// than two candidates have a composite.
type Shifts struct {
	Order []int64 `json:"order"` // the players by their composites, the greatest first
	// how many of the order are looked at together: as many as are wanted, or 1 where all could be chosen
	First int `json:"looked_at"`
	// each two neighbours in the order with each criterion that enters
	Turns []Turn `json:"turns"`
	// by criterion, the nearest shares at which others would be the first ones
	Leads []Turn `json:"leads"`
	// each candidate with each criterion that enters with a figure
	Resolved []Resolved `json:"resolved"`
}

// NoShifts are those of a place where nothing is compared.
func NoShifts() Shifts {
	return Shifts{Order: []int64{}, Turns: []Turn{}, Leads: []Turn{}, Resolved: []Resolved{}}
}

// Pair is the probability that one candidate is ahead of another.
type Pair struct {
	PlayerID int64   `json:"player_id"` // one candidate
	OtherID  int64   `json:"other_id"`  // the other
	Ahead    float64 `json:"ahead"`     // the probability that the first is ahead
}

// Candidate is what is known of one candidate for a place.
type Candidate struct {
	PlayerID int64  `json:"player_id"`
	Name     string `json:"name"`
	Lines    []Line `json:"lines"` // by criterion
	// the weighted mean, in spreads between the players of the group; absent where too much is missing
	Composite *models.Estimate `json:"composite,omitempty"`
	First     *float64         `json:"first,omitempty"`  // the probability of being first of the candidates shown
	Second    *float64         `json:"second,omitempty"` // likewise of being second
	Third     *float64         `json:"third,omitempty"`  // likewise of being third
	Notes     []string         `json:"notes"`
	// what must be known before the player is chosen, as of today
	Warnings []string `json:"warnings"`
	// what was warned of when the evidence was kept
	WarnedThen     []string `json:"warned_then"`
	WarningsKept   bool     `json:"warnings_kept"`   // false for evidence from before warnings were kept
	WarningsDiffer bool     `json:"warnings_differ"` // warnings are others today
	// what coaches recommend for this meeting
	Recommendations []models.Recommendation `json:"recommendations"`
	// coaches' grades of today, of every skill that has some
	Grades []Grade `json:"grades"`
	// figures that are others today
	Changed  []string  `json:"changed"`
	FrozenAt time.Time `json:"frozen_at"` // when the evidence was kept

	z       []models.Draws // by criterion; nil where missing
	drawn   models.Draws   // of the composite
	missing float64        // share of the weight
}

// Line is a candidate's evidence on one criterion.
type Line struct {
	models.EvidenceLine
	Mark  int    `json:"mark,omitempty"` // the meeting's, for a criterion in words
	Words string `json:"words"`          // the value and its likely range
}

// Grade is what the coaches of a squad would give a candidate for a skill on average over the season.
type Grade struct {
	Skill string `json:"skill"`           // its code
	Label string `json:"label"`           // what the academy calls it
	Squad string `json:"squad,omitempty"` // whose coaches, where it is not the meeting's squad
	models.AdjustedGrade
	Words string `json:"words"` // the grade, its likely range, and how many grades it stands on
}

// Read makes the comparison. Before it is opened that is a Conflict which says what to do first.
func Read(src Source, meeting int64, now time.Time) (*Comparison, error) {
	kept, err := src.CandidateEvidence(meeting)
	if err != nil {
		return nil, err
	}
	m, err := src.Meeting(meeting)
	if err != nil {
		return nil, err
	}
	c := &Comparison{MeetingID: m.ID, Date: m.Date, Purpose: m.Purpose, FrozenAt: m.OpenedAt, Revision: m.Revision,
		Method: method}
	of, err := src.SquadSeason(m.SeasonID, m.SquadID)
	if err != nil {
		return nil, err
	}
	c.Today = of.Revision
	r := reader{src: src, m: &m, day: models.DateOf(now)}
	if err := r.readMore(); err != nil {
		return nil, err
	}
	if m.OpenedAt == nil {
		c.Unkept, c.Places, c.Method = true, []Place{}, []string{}
		return c, nil
	}
	for _, p := range m.Places {
		place, err := r.place(p, kept)
		if err != nil {
			return nil, err
		}
		c.Places = append(c.Places, place)
	}
	return c, nil
}

var method = []string{
	"A level is that of the trend at the squad’s last match, as it was kept when the comparison was opened.",
	"Levels are compared with the group of the place at the same time, in the spread between its players.",
	"The composite is the mean over the criteria, weighted as the meeting agreed. Its likely range is expected to be " +
		"right four times in five.",
	fmt.Sprintf("Chances are counted off %d joint draws. Criteria are fitted one by one, so their draws are independent.",
		models.DrawsKept),
	"A missing figure counts as any player’s of the group might be. If more than half of the weight is missing, there " +
		"is no composite.",
	"A mark of 3 stands at the group’s level, and each mark is one spread between players.",
	"Only the candidates whom you may read are compared.",
	"What would change the order: one weight changes and the others keep their proportions, with all levels at their " +
		"most likely values. More evidence: the candidate’s level on one criterion is taken as known, at each of its " +
		"draws in turn, and all others at what is then expected of them.",
}

// reader reads one meeting's comparison.
type reader struct {
	src             Source
	m               *models.Meeting
	day             models.Date
	season          models.Season
	squad           models.Squad
	squads          map[int64]models.Squad
	recommendations map[int64][]models.Recommendation
	skills          []models.Skill
	today           map[string]*models.Estimate // levels of today, by player and criterion
	grades          map[int64][]models.Trend    // of today, those with an adjusted grade, by player
}

func (r *reader) readMore() (err error) {
	if r.season, err = r.src.Season(r.m.SeasonID); err != nil {
		return err
	}
	if r.squad, err = r.src.Squad(r.m.SquadID); err != nil {
		return err
	}
	squads, err := r.src.Squads(models.SquadFilter{})
	if err != nil {
		return err
	}
	r.squads, r.recommendations = map[int64]models.Squad{}, map[int64][]models.Recommendation{}
	for _, s := range squads {
		r.squads[s.ID] = s
	}
	notes, err := r.src.Recommendations(models.RecommendationFilter{MeetingID: r.m.ID})
	if err != nil {
		return err
	}
	for _, n := range notes {
		r.recommendations[n.PlayerID] = append(r.recommendations[n.PlayerID], n)
	}
	if r.skills, err = r.src.Skills(); err != nil {
		return err
	}
	return r.readToday()
}

// readToday reads the candidates' levels and grades of today, in all squads' seasons: some come from another one.
func (r *reader) readToday() error {
	r.today, r.grades = map[string]*models.Estimate{}, map[int64][]models.Trend{}
	f := models.TrendFilter{SeasonID: r.m.SeasonID, Parts: models.TrendsWithoutCurves}
	for _, c := range r.m.Candidates {
		f.PlayerIDs = append(f.PlayerIDs, c.PlayerID)
	}
	if len(f.PlayerIDs) == 0 {
		return nil
	}
	trends, err := r.src.Trends(f)
	if err != nil {
		return err
	}
	for i := range trends {
		t := &trends[i]
		r.today[named(t.SquadID, t.PlayerID, t.Indicator, t.Skill)] = t.Figures.Now
		if t.Figures.Adjusted != nil {
			r.grades[t.PlayerID] = append(r.grades[t.PlayerID], *t)
		}
	}
	return nil
}

// gradesOf are a candidate's adjusted grades by skill: those of the meeting's squad, or else of another.
func (r *reader) gradesOf(person models.Player) []Grade {
	all := []Grade{}
	for _, skill := range r.skills {
		var found *models.Trend
		for i := range r.grades[person.ID] {
			t := &r.grades[person.ID][i]
			if t.Skill == skill.Code && (found == nil || t.SquadID == r.m.SquadID) {
				found = t
			}
		}
		if found == nil {
			continue
		}
		g := Grade{Skill: skill.Code, Label: skill.For(person.Group()).Label, AdjustedGrade: *found.Figures.Adjusted}
		if found.SquadID != r.m.SquadID {
			g.Squad = r.squads[found.SquadID].Name
		}
		g.Words = g.words()
		all = append(all, g)
	}
	return all
}

// named is a player's figure in the season of a squad.
func named(squad, player int64, indicator, skill string) string {
	return fmt.Sprint(squad, "/", player, "/", indicator, "/", skill)
}

// place puts the candidates for a place side by side.
func (r *reader) place(p models.Place, kept []models.CandidateEvidence) (Place, error) {
	place := Place{Name: p.Name, Wanted: p.Wanted, Candidates: []Candidate{}, Sentences: []string{}, Changes: []string{},
		Notes: []string{}, Pairs: []Pair{}, Shifts: NoShifts()}
	for _, one := range r.m.Candidates {
		if one.Place != p.Name {
			continue
		}
		for i := range kept {
			if kept[i].PlayerID != one.PlayerID || kept[i].Place != one.Place {
				continue
			}
			c, err := r.candidate(p, one, &kept[i])
			if err != nil {
				return place, err
			}
			if c != nil {
				place.Candidates = append(place.Candidates, *c)
			}
		}
	}
	r.compose(&place)
	return place, nil
}

// candidate is one candidate's evidence, nil for a player whom the caller does not read.
func (r *reader) candidate(p models.Place, one models.Candidate, e *models.CandidateEvidence) (*Candidate, error) {
	person, err := r.src.Player(one.PlayerID)
	if models.CodeOf(err) == models.NotFound {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	c := &Candidate{PlayerID: one.PlayerID, Name: person.Name, Notes: []string{}, Warnings: []string{},
		WarnedThen:      []string{},
		Recommendations: []models.Recommendation{}, Changed: []string{}, FrozenAt: e.FrozenAt, Lines: []Line{}}
	c.Recommendations = append(c.Recommendations, r.recommendations[one.PlayerID]...)
	c.Grades = r.gradesOf(person)
	if e.Late {
		c.Notes = append(c.Notes, "Added after the comparison was opened; the evidence is of that moment.")
	}
	if e.Withheld != "" {
		c.Notes = append(c.Notes, paper.Upper(e.Withheld)+".")
	}
	if e.OtherReaders != "" && e.Withheld == "" {
		c.Notes = append(c.Notes, e.OtherReaders)
	}
	for _, criterion := range r.m.Criteria {
		l := Line{EvidenceLine: models.EvidenceLine{Label: criterion.Label, Indicator: criterion.Indicator,
			Skill: criterion.Skill, Weight: criterion.Weight}}
		for _, frozen := range e.Lines {
			if frozen.Label == criterion.Label {
				l.EvidenceLine = frozen
			}
		}
		var z models.Draws
		if criterion.InWords() {
			l.Mark = one.Marks[criterion.Label]
			l.Words = "no mark yet"
			if l.Mark > 0 {
				l.Words = fmt.Sprintf("%d of 5, the meeting’s mark", l.Mark)
			}
		} else {
			z = models.UnpackDraws(l.Standard)
			l.Words = words(&l)
			r.changed(c, &l)
		}
		l.Standard = nil
		c.Lines, c.z = append(c.Lines, l), append(c.z, z)
	}
	return c, r.warn(c, p, person, e)
}

// words say a level with its likely range.
func words(l *Line) string {
	switch {
	case l.Level == nil && l.Missing != "":
		return l.Missing
	case l.Level == nil:
		return "not known"
	}
	e, scale := l.Level, scaleOf(l)
	said := fmt.Sprintf("%s (likely %s)", scale.Value(e.Mean), scale.Range(e.Range80.Lo, e.Range80.Hi))
	if l.Missing != "" {
		said += "; " + l.Missing
	}
	return said
}

// scaleOf is how figures of a criterion are printed. What an academy counts itself has two decimals.
func scaleOf(l *Line) paper.Scale {
	if l.Skill != "" {
		return paper.ScaleOf("grade")
	}
	if in, known := models.IndicatorOf(l.Indicator); known {
		return paper.ScaleOf(in.Unit)
	}
	return paper.Scale{Factor: 1, Decimals: 2}
}

// changed notes that a figure is another today.
func (r *reader) changed(c *Candidate, l *Line) {
	now, scale := r.today[named(cmp.Or(l.SquadID, r.m.SquadID), c.PlayerID, l.Indicator, l.Skill)], scaleOf(l)
	if l.Level == nil || now == nil {
		return
	}
	if then, today := scale.Value(l.Level.Mean), scale.Value(now.Mean); then != today {
		c.Changed = append(c.Changed, fmt.Sprintf("%s: %s then, %s today.", l.Label, then, today))
	}
}

// filled is what stands for a missing figure: any player of the group, the same at each reading.
func (r *reader) filled(player int64, label string, n int) models.Draws {
	h := fnv.New64a()
	_, _ = fmt.Fprint(h, label)
	random := rand.New(rand.NewPCG(uint64(r.m.ID)<<32^uint64(player), h.Sum64()))
	z := make(models.Draws, n)
	for d := range z {
		z[d] = random.NormFloat64()
	}
	return z
}

// warn says what must be known before a player is chosen: today, and when the evidence was kept if that is other.
func (r *reader) warn(c *Candidate, p models.Place, person models.Player, e *models.CandidateEvidence) error {
	safety, err := r.src.Safety(person.ID, r.m.SeasonID, r.day)
	spells, err2 := r.src.Spells(models.SpellFilter{PlayerID: person.ID})
	members, err3 := r.src.Memberships(models.MembershipFilter{PlayerID: person.ID, SeasonID: r.m.SeasonID})
	if err := errors.Join(err, err2, err3); err != nil {
		return err
	}
	of := models.Warned{Day: r.day, Player: person, Place: p, Season: r.season, Squad: r.squad, Squads: r.squads,
		Safety: safety, Spells: spells, Members: members}
	c.Warnings, c.WarnedThen, c.WarningsKept = texts(of.Warnings()), texts(e.Warnings), e.Warnings != nil
	c.WarningsDiffer = c.WarningsKept && !slices.Equal(c.Warnings, c.WarnedThen)
	return nil
}

// texts are what warnings say.
func texts(all []models.Warning) []string {
	said := []string{}
	for _, w := range all {
		said = append(said, w.Text)
	}
	return said
}

// Example is a short comparison.
func Example() *Comparison {
	at := time.Date(2026, time.March, 2, 18, 0, 0, 0, time.UTC)
	first, second := 0.71, 0.29
	level := &models.Estimate{Mean: 0.58, Range80: models.Range{Lo: 0.53, Hi: 0.63},
		Range95: models.Range{Lo: 0.5, Hi: 0.66}}
	return &Comparison{MeetingID: 6, Date: "2026-03-02", Purpose: "The county trial on 14 March", FrozenAt: &at,
		Revision: 41, Today: 43, Method: method[:1], Places: []Place{{
			Name: "Back row", Wanted: 2, Sentences: []string{
				"Tamsin Okell and Bryony Wake cannot be told apart by these figures.", "Decide by what you have seen."},
			Changes: []string{}, Notes: []string{}, Shifts: Shifts{Order: []int64{17, 18}, First: 1,
				Turns: []Turn{{PlayerID: 17, OtherID: 18, Criterion: "Wins contact", Share: 1}}, Leads: []Turn{},
				Resolved: []Resolved{{PlayerID: 17, Criterion: "Wins contact", Chance: 0.24}}},
			Pairs: []Pair{{PlayerID: 17, OtherID: 18, Ahead: first}},
			Candidates: []Candidate{{PlayerID: 17, Name: "Tamsin Okell", Composite: &models.Estimate{Mean: 0.8,
				Range80: models.Range{Lo: 0.1, Hi: 1.5}, Range95: models.Range{Lo: -0.3, Hi: 1.9}}, First: &first, Second: &second,
				Notes: []string{}, Warnings: []string{}, WarnedThen: []string{}, WarningsKept: true,
				Recommendations: []models.Recommendation{}, Changed: []string{}, Grades: exampleGrades(),
				FrozenAt: at, Lines: []Line{{EvidenceLine: models.EvidenceLine{Label: "Wins contact", Indicator: "contact_won",
					Weight: 2, Level: level, Matches: 9, Against: "back row", Players: 8, Mean: 0.52, SD: 0.05},
					Words: "58% (likely 53 to 63%)"}}}},
		}}}
}

// exampleGrades are those of a short comparison.
func exampleGrades() []Grade {
	g := Grade{Skill: "tackle", Label: "Tackle", AdjustedGrade: models.AdjustedGrade{Grades: 6, Coaches: 3,
		Estimate: models.Estimate{Mean: 3.4, Range80: models.Range{Lo: 3, Hi: 3.8}, Range95: models.Range{Lo: 2.8, Hi: 4}}}}
	g.Words = g.words()
	return []Grade{g}
}
