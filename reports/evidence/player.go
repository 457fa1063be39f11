// Package evidence is what several papers need of a player, a squad, or a season: figures, levels, comparisons,
// trends, skills, goals, notes and moments, and the pictures and words that show them. A paper reads the parts that it
// needs and says them in its own way.
//
// A Player begins with Of, which knows who is meant and in which matches they played. Each Read method adds one part
// and names, as its own small interface, what it reads. The order matters in two places: trends come before the levels
// and goals that stand on them (ReadTrends, ReadIndicators, ReadSkills, ReadGoals).
package evidence

import (
	"cmp"
	"slices"
	"time"

	"throughline/models"
	"throughline/reports/paper"
)

// PlayerSource is what Of reads. The source knows the caller: it answers with what the caller may see, and with a
// *models.Error of code NotFound for the rest.
type PlayerSource interface {
	Player(id int64) (models.Player, error)
	Season(id int64) (models.Season, error)
	Squads(models.SquadFilter) ([]models.Squad, error)
	Memberships(models.MembershipFilter) ([]models.Membership, error)
	Matches(models.MatchFilter) ([]models.Match, error)
	Appearances(models.AppearanceFilter) ([]models.Appearance, error)
	Spells(models.SpellFilter) ([]models.Spell, error)
}

// ScoreSource is what ReadScores reads.
type ScoreSource interface {
	// Scores are those of the player's matches of a season, by match.
	Scores(player, season int64) (map[int64]models.MatchScore, error)
}

// The least evidence for a statement: fewer matches or minutes are "too little to say".
const (
	LeastMatches = 4
	LeastMinutes = 160
)

// Player is the evidence on one player in one season. The parts that no Read method has filled are empty.
type Player struct {
	Edition Edition
	Person  Person
	Season  models.Season
	Squad   *models.Squad // the squad that the player is compared with: that of most of their minutes
	Group   GroupOf
	Summary Summary
	Matches []MatchLine
	Spells  []models.Spell
	Alerts  []string   // ReadSafety: what must be known before any figure, in plain words
	Loads   []string   // ReadSafety: how near the player is to limits of minutes, for staff
	Trends  TrendState // ReadTrends
	Skills  []SkillLine
	Goals   []GoalLine
	Notes   []NoteLine
	// ReadReviews
	Reviewed Reviewed
	Moments  []MomentLine
	Dangers  []MomentLine // dangerous play, for staff
	// Indicators are in the catalogue's order, the headlines of the player's position group first.
	Indicators []IndicatorLine
	Parts      []PartLine // some indicators by quarter, and before and in long passages

	record     models.Player
	offered    models.Opportunities // by the squad's matches
	numerators map[string]string    // count by indicator
	squads     map[int64]string     // names of the squads that the player played for
	inSquads   []squadTime          // of a player who played for several squads
	byPosition map[string]bool      // indicators that are compared within the position
}

// Edition says for whom the report is worded. The player's own has no staff-only note, and of others only
// what is published, see models.Publication.
type Edition string

// The editions.
const (
	StaffEdition  Edition = "staff"
	PlayerEdition Edition = "player"
)

// Codes lists the editions.
func (Edition) Codes() []Edition { return []Edition{StaffEdition, PlayerEdition} }

// EditionFor is the edition that the caller reads.
func EditionFor(who models.Who) Edition {
	if who.Role == models.RolePlayer {
		return PlayerEdition
	}
	return StaffEdition
}

// Person is the player, as shown in papers.
type Person struct {
	ID        int64             `json:"id"`
	Name      string            `json:"name"`
	KnownAs   string            `json:"known_as"` // the name used in sentences
	Positions []models.Position `json:"positions"`
	// the quarter of the age band's year the player was born in, 1 to 4; 0 if not known
	BirthQuarter int `json:"birth_quarter,omitempty"`
	// whether the player is young enough for the age band below the squad's
	PlaysUp bool `json:"plays_up"`
}

// GroupOf is the group the player is compared with: their position group if five of its players have data, otherwise
// the forwards or the backs, otherwise the whole squad. Each indicator says which group it uses.
type GroupOf struct {
	Code  models.Group `json:"code"` // empty if no position is recorded
	Label string       `json:"label"`
	// the minutes of a full match, as in most of the matches; rates are per full match
	FullMatch int `json:"full_match"`
}

// Summary says what the season's figures are based on.
type Summary struct {
	Matches int `json:"matches"` // how many matches the player had for the academy's squads
	// how many of them were for the squad the player is compared with
	ForSquad int `json:"for_squad"`
	// how many of them the player started; absent if no match says
	Started *int    `json:"started,omitempty"`
	Minutes float64 `json:"minutes"` // the recorded minutes
	// How many matches for the academy's squads have no recorded minutes. They do not count for rates, shares of the
	// team's count, or trends of rates
	WithoutMinutes int `json:"without_minutes,omitempty"`
	// how many matches for school, club or loan teams; only their minutes count
	OtherMatches int     `json:"other_matches"`
	OtherMinutes float64 `json:"other_minutes"`
	// how many matches for other teams have no recorded minutes
	OtherWithoutMinutes int  `json:"other_without_minutes,omitempty"`
	Logged              int  `json:"logged"`  // how many matches with figures from an involvement log
	Totals              int  `json:"totals"`  // how many matches with figures from totals
	Bare                int  `json:"bare"`    // how many matches have no figures
	Differs             int  `json:"differs"` // how many figures differ between a log and totals
	Enough              bool `json:"enough"`  // whether there are enough matches and minutes for a report

	// each squad's part, if the player played for several; the other figures cover all squads together
	Squads []SquadSummary `json:"squads,omitempty"`
}

// MatchLine is one match of the player.
type MatchLine struct {
	ID         int64         `json:"id"`
	Date       models.Date   `json:"date"`
	Opponent   string        `json:"opponent"`
	Venue      *models.Venue `json:"venue,omitempty"`
	Difficulty *int          `json:"difficulty,omitempty"`
	Conditions string        `json:"conditions,omitempty"` // such as "wet, strong wind"
	FullMatch  int           `json:"full_match"`
	// the minutes that count; absent if not recorded, or if none count
	Minutes float64 `json:"minutes,omitempty"`
	// whether the player appeared but their minutes were not recorded
	MinutesNotRecorded bool `json:"minutes_not_recorded,omitempty"`
	// the totals of a match without minutes: there are counts but no rates
	Counts models.Counts `json:"counts,omitempty"`
	// The score according to the match's events; absent if none was recorded. No figure uses it.
	Score *models.MatchScore `json:"score,omitempty"`
	// the moment from which nothing in the match counts, after a head contact; absent if all of it counts
	Stop    *models.Stop `json:"stop,omitempty"`
	Started *bool        `json:"started,omitempty"`
	Other   string       `json:"other_team,omitempty"`
	SquadID *int64       `json:"squad_id,omitempty"`
	// which squad the match was for, if the player is in several
	Squad string `json:"squad,omitempty"`
	// log if any figure comes from a log, otherwise totals
	Source models.Source `json:"source,omitempty"`
	Spell  *models.Spell `json:"-"` // the spell that the match's date falls in
}

// LineOf is a match as papers name it, without what it was for the player.
func LineOf(m models.Match) MatchLine {
	return MatchLine{
		ID: m.ID, Date: m.Date, Opponent: m.Opponent, Venue: m.Venue, Difficulty: m.Difficulty, Conditions: m.Conditions,
		FullMatch: m.FullMatch(),
		Score:     m.Score, Other: m.OtherTeam, SquadID: m.SquadID,
	}
}

// Of reads who a player is in a season: the person, the squad and group that they are compared with, and their
// matches. Errors are the source's; NotFound where the player or the season is not to be seen, or the player has
// neither a membership nor an appearance in the season.
func Of(src PlayerSource, player, season int64, edition Edition) (*Player, error) {
	p := &Player{Edition: edition}
	who, err := src.Player(player)
	if err != nil {
		return nil, err
	}
	if p.Season, err = src.Season(season); err != nil {
		return nil, err
	}
	p.record = who
	p.Person = Person{ID: who.ID, Name: who.Name, KnownAs: who.KnownAs, Positions: who.Positions}
	if p.Person.KnownAs == "" {
		p.Person.KnownAs = who.Name
	}
	if p.Group.Code = who.Group(); p.Group.Known() {
		p.Group.Label = paper.Lower(p.Group.Code.Label())
	}
	return p, p.readMatches(src, who)
}

// MinorOn is models.Player.MinorOn of the player.
func (p *Player) MinorOn(day models.Date) bool { return p.record.MinorOn(day) }

func (p *Player) readMatches(src PlayerSource, who models.Player) error {
	appearances, err := src.Appearances(models.AppearanceFilter{PlayerID: p.Person.ID, SeasonID: p.Season.ID})
	if err != nil {
		return err
	}
	matches, err := src.Matches(models.MatchFilter{PlayerID: p.Person.ID, SeasonID: p.Season.ID, Bare: true})
	if err != nil {
		return err
	}
	memberships, err := src.Memberships(models.MembershipFilter{PlayerID: p.Person.ID, SeasonID: p.Season.ID})
	if err != nil {
		return err
	}
	if len(memberships) == 0 && len(appearances) == 0 {
		return models.Errorf(models.NotFound, "%s is in no squad and no match of season %s", who.Name, p.Season.Name)
	}
	squads, err := src.Squads(models.SquadFilter{})
	if err != nil {
		return err
	}
	if id := mainSquad(appearances, matches, memberships); id != 0 {
		if i := slices.IndexFunc(squads, func(s models.Squad) bool { return s.ID == id }); i >= 0 {
			p.Squad = &squads[i]
		}
	}
	if who.BornOn != nil && p.Squad != nil {
		p.Person.BirthQuarter, p.Person.PlaysUp = birthQuarter(*who.BornOn, *p.Squad, p.Season)
	}
	spells, err := src.Spells(models.SpellFilter{PlayerID: p.Person.ID})
	if err != nil {
		return err
	}
	p.Spells = []models.Spell{}
	for _, s := range spells {
		if s.Status != models.Available && s.From <= p.Season.Ends && (s.Until == nil || *s.Until >= p.Season.Starts) {
			p.Spells = append(p.Spells, s)
		}
	}
	p.addMatches(appearances, matches)
	p.nameSquads(squads, memberships)
	return nil
}

// ReadScores adds their scores to the matches.
func (p *Player) ReadScores(src ScoreSource) error {
	scores, err := src.Scores(p.Person.ID, p.Season.ID)
	if err != nil {
		return err
	}
	for i := range p.Matches {
		if s, ok := scores[p.Matches[i].ID]; ok {
			p.Matches[i].Score = &s
		}
	}
	return nil
}

// CountSource is what ReadCounts reads.
type CountSource interface {
	Totals(models.TotalsFilter) ([]models.MatchTotals, error)
}

// ReadCounts adds the totals of matches without minutes: those matches have counts, and no rate.
func (p *Player) ReadCounts(src CountSource) error {
	if p.Summary.WithoutMinutes == 0 {
		return nil
	}
	all, err := src.Totals(models.TotalsFilter{PlayerID: p.Person.ID, SeasonID: p.Season.ID})
	for _, t := range all {
		for i := range p.Matches {
			if m := &p.Matches[i]; m.ID == t.MatchID && m.untimed() {
				m.Counts = t.Counts
			}
		}
	}
	return err
}

// untimed says whether the match counts for figures and its minutes were not recorded.
func (m *MatchLine) untimed() bool { return m.MinutesNotRecorded && m.Stop == nil && m.Other == "" }

// mainSquad is the squad of most of the player's minutes, or else of most matches, or, before the player has played,
// of their first membership; 0 for none. A tie goes to the lower id.
func mainSquad(appearances []models.Appearance, matches []models.Match, memberships []models.Membership) int64 {
	squadOf := make(map[int64]int64, len(matches))
	for _, m := range matches {
		if m.SquadID != nil {
			squadOf[m.ID] = *m.SquadID
		}
	}
	minutes, games := map[int64]float64{}, map[int64]int{}
	for _, a := range appearances {
		if s := squadOf[a.MatchID]; s != 0 {
			minutes[s] += a.CountedMinutes()
			games[s]++
		}
	}
	var best int64
	for s := range minutes {
		if best == 0 || cmp.Or(cmp.Compare(minutes[s], minutes[best]), cmp.Compare(games[s], games[best]),
			cmp.Compare(best, s)) > 0 {
			best = s
		}
	}
	if best == 0 && len(memberships) > 0 {
		best = memberships[0].SquadID
	}
	return best
}

// birthQuarter is the quarter of the age band's year in which a player was born (1: the oldest of the band), and
// whether they are young enough for the band one year below. The band's year begins on the first of the squad's
// BandMonth.
func birthQuarter(born models.Date, squad models.Squad, season models.Season) (quarter int, playsUp bool) {
	b, err := born.Time()
	if err != nil || squad.BandMonth == 0 {
		return 0, false
	}
	months := (int(b.Month()) - squad.BandMonth + 12) % 12
	quarter = months/3 + 1
	starts, err1 := season.Starts.Time()
	ends, err2 := season.Ends.Time()
	if err1 != nil || err2 != nil || squad.AgeBand == 0 {
		return quarter, false
	}
	middle := starts.Add(ends.Sub(starts) / 2) // the band year that holds the middle of the season is the season's
	bandYear := middle.Year()
	if int(middle.Month()) < squad.BandMonth {
		bandYear--
	}
	// The youngest year of the band: born on or after the band's day, AgeBand − 1 years before.
	youngest := time.Date(bandYear-squad.AgeBand+1, time.Month(squad.BandMonth), 1, 0, 0, 0, 0, time.UTC)
	return quarter, !b.Before(youngest)
}

func (p *Player) addMatches(appearances []models.Appearance, matches []models.Match) {
	byID := make(map[int64]models.Match, len(matches))
	for _, m := range matches {
		byID[m.ID] = m
	}
	p.Matches = []MatchLine{}
	lengths := map[int]float64{}
	for _, a := range appearances {
		m, ok := byID[a.MatchID]
		if !ok {
			continue
		}
		line := LineOf(m)
		line.Minutes, line.MinutesNotRecorded = a.CountedMinutes(), a.MinutesNotRecorded
		line.Stop, line.Started, line.Spell = a.Stop, a.Started, p.SpellOn(m.Date)
		p.Matches = append(p.Matches, line)
		if m.SquadID == nil {
			p.Summary.OtherMatches++
			p.Summary.OtherMinutes += a.CountedMinutes()
			if a.Untimed() {
				p.Summary.OtherWithoutMinutes++
			}
			continue
		}
		lengths[line.FullMatch] += a.CountedMinutes()
		p.Summary.Matches++
		if p.Squad != nil && *m.SquadID == p.Squad.ID {
			p.Summary.ForSquad++
		}
		p.Summary.Minutes += a.CountedMinutes()
		if a.Untimed() {
			p.Summary.WithoutMinutes++
		}
		if a.Started != nil {
			if p.Summary.Started == nil {
				p.Summary.Started = new(int)
			}
			if *a.Started {
				*p.Summary.Started++
			}
		}
	}
	slices.SortStableFunc(p.Matches, func(a, b MatchLine) int {
		return cmp.Or(cmp.Compare(a.Date, b.Date), cmp.Compare(a.ID, b.ID))
	})
	for length, minutes := range lengths {
		if most := lengths[p.Group.FullMatch]; minutes > most || minutes == most && length > p.Group.FullMatch {
			p.Group.FullMatch = length
		}
	}
	p.Summary.Enough = p.Summary.Matches >= LeastMatches && p.Summary.Minutes >= LeastMinutes
}

// squad is whose match it was, 0 for another team's.
func (m *MatchLine) squad() int64 {
	if m.SquadID == nil {
		return 0
	}
	return *m.SquadID
}

// nameSquads names the squad of each match, and the times in each squad, of a player who played for several.
func (p *Player) nameSquads(squads []models.Squad, memberships []models.Membership) {
	p.squads = map[int64]string{}
	for i := range p.Matches {
		if id := p.Matches[i].squad(); id != 0 {
			p.squads[id] = unnamed
		}
	}
	for i := range squads {
		if _, played := p.squads[squads[i].ID]; played {
			p.squads[squads[i].ID] = squads[i].Name
		}
	}
	for i := range p.Matches {
		if m := &p.Matches[i]; len(p.squads) > 1 {
			m.Squad = p.squads[m.squad()]
		}
	}
	if len(p.squads) < 2 {
		return
	}
	for _, m := range memberships {
		time := squadTime{squad: unnamed, from: m.From, until: m.Until}
		if i := slices.IndexFunc(squads, func(s models.Squad) bool { return s.ID == m.SquadID }); i >= 0 {
			time.squad = squads[i].Name
		}
		p.inSquads = append(p.inSquads, time)
	}
}

// squadTime is a time in a squad.
type squadTime struct {
	squad string
	from  models.Date
	until *models.Date // nil for the end of the season
}

// squadOn names the only squad that a player of several was a member of on a day; empty for none or several.
func (p *Player) squadOn(day models.Date) (only string) {
	for _, t := range p.inSquads {
		if day < t.from || t.until != nil && *t.until < day {
			continue
		}
		if only != "" && only != t.squad {
			return ""
		}
		only = t.squad
	}
	return only
}

// SpellOn returns the spell of availability that a day falls in, or nil.
func (p *Player) SpellOn(d models.Date) *models.Spell {
	for i, s := range p.Spells {
		if s.From <= d && (s.Until == nil || d <= *s.Until) {
			return &p.Spells[i]
		}
	}
	return nil
}
