// Package season is the season report: one player, one season. Its data first (Read), then its sentences, then its page. A Report is the
// whole content: the page, the self-contained file and the JSON say the same.
package season

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"throughline/models"
)

// Source is what a season report reads. Whoever is asking is known to the source: it answers with what he may see, and with a
// *models.Error of code NotFound for the rest.
type Source interface {
	Player(id int64) (models.Player, error)
	Season(id int64) (models.Season, error)
	Squads(models.SquadFilter) ([]models.Squad, error)
	Memberships(models.MembershipFilter) ([]models.Membership, error)
	Matches(models.MatchFilter) ([]models.Match, error)
	Appearances(models.AppearanceFilter) ([]models.Appearance, error)
	Spells(models.SpellFilter) ([]models.Spell, error)
	TeamTotals(models.TeamTotalsFilter) ([]models.TeamTotals, error)
	Indicators() ([]models.Indicator, error)
	Skills() ([]models.Skill, error)
	Observations(models.ObservationFilter) ([]models.Observation, error)
	CarryCells(models.ObservationFilter) ([]models.CarryCell, error)
	GroupObservations(models.GroupFilter) ([]models.GroupObservation, error)
	SquadCarryCells(models.GroupFilter) ([]models.GroupCell, error)
	Ratings(models.RatingFilter) ([]models.Rating, error)
	Goals(models.GoalFilter) ([]models.Goal, error)
	CheckIns(goal int64) ([]models.CheckIn, error)
	ReviewNotes(models.ReviewNoteFilter) ([]models.ReviewNote, error)
	Logs(models.LogFilter) ([]models.Log, error)
	Involvements(models.InvolvementFilter) ([]models.Involvement, error)
	UserNames() (map[int64]string, error)
	SquadSeason(season, squad int64) (models.SquadSeason, error)
	Trends(models.TrendFilter) ([]models.Trend, error)
	Safety(player, season int64, day models.Date) (models.Safety, error)
}

// Request says which report is wanted, for whom and when.
type Request struct {
	PlayerID, SeasonID int64
	Who                models.Who
	Now                time.Time // printed on the report, so that the same request gives the same bytes
}

// The least evidence from which anything is said: fewer matches or minutes are "too little to say".
const (
	LeastMatches = 4
	LeastMinutes = 160
)

// leastBand is the fewest players over which a group's figures are shown to a player: over fewer they would be somebody's own.
const leastBand = 5

// Report is a season report.
type Report struct {
	Edition    Edition         `json:"edition"`
	MadeAt     time.Time       `json:"made_at"`
	Player     Person          `json:"player"`
	Season     models.Season   `json:"season"`
	Squad      *models.Squad   `json:"squad,omitempty"` // the squad he is held against: that of most of his minutes
	Group      GroupOf         `json:"group"`
	Summary    Summary         `json:"summary"`
	Trends     TrendState      `json:"trends"` // whether there are trends, and when they were made
	Sentences  []Sentence      `json:"sentences"`
	Matches    []MatchLine     `json:"matches"`
	Headlines  []string        `json:"headlines"` // codes of the indicators drawn, in order
	Indicators []IndicatorLine `json:"indicators"`
	Skills     []SkillLine     `json:"skills"`
	Goals      []GoalLine      `json:"goals"`
	Notes      []NoteLine      `json:"notes"`
	Moments    []MomentLine    `json:"moments"`
	Spells     []models.Spell  `json:"spells"`
	Cautions   []string        `json:"cautions"`
	Methods    []Method        `json:"methods"`
	// Alerts are what must be known before any figure, in plain words: head contacts of which nobody told the medical lead, stand-downs, missing consents.
	// The player's edition has his stand-down only.
	Alerts []string `json:"alerts"`
	loads  []string // how near he is to limits of minutes, for staff
}

// Edition says for whom the report is worded. The player's own has no staff-only note and no figure over fewer than five players.
type Edition string

// The editions.
const (
	StaffEdition  Edition = "staff"
	PlayerEdition Edition = "player"
)

// Person is the player, as printed.
type Person struct {
	ID           int64             `json:"id"`
	Name         string            `json:"name"`
	KnownAs      string            `json:"known_as"` // what he is called in sentences
	Positions    []models.Position `json:"positions"`
	BirthQuarter int               `json:"birth_quarter,omitempty"` // 1 to 4 within the age band's year, 0 when not known
	PlaysUp      bool              `json:"plays_up"`                // is young enough for the band below his squad's
}

// GroupOf is whom the player's figures are held against: his position group where five of it have figures, else the forwards or the
// backs, else the whole squad; each indicator says which.
type GroupOf struct {
	Code      models.Group `json:"code"` // empty when no position is recorded
	Label     string       `json:"label"`
	FullMatch int          `json:"full_match"` // minutes of most of his matches; his rates are per full match
}

// Summary is what the season was made of.
type Summary struct {
	Matches      int     `json:"matches"`           // for the academy's squads
	Started      *int    `json:"started,omitempty"` // absent where no match says
	Minutes      float64 `json:"minutes"`
	OtherMatches int     `json:"other_matches"` // for school, club or loan teams: they count for minutes only
	OtherMinutes float64 `json:"other_minutes"`
	Logged       int     `json:"logged"`  // matches with figures from an involvement log
	Totals       int     `json:"totals"`  // matches with figures from totals
	Bare         int     `json:"bare"`    // matches without any figure
	Differs      int     `json:"differs"` // figures on which a log and totals disagree
	Enough       bool    `json:"enough"`  // at least LeastMatches and LeastMinutes
}

// MatchLine is one match of the player.
type MatchLine struct {
	ID         int64         `json:"id"`
	Date       models.Date   `json:"date"`
	Opponent   string        `json:"opponent"`
	Venue      *models.Venue `json:"venue,omitempty"`
	Difficulty *int          `json:"difficulty,omitempty"`
	FullMatch  int           `json:"full_match"`
	Minutes    float64       `json:"minutes"`
	Started    *bool         `json:"started,omitempty"`
	Other      string        `json:"other_team,omitempty"`
	Source     models.Source `json:"source,omitempty"` // log where any figure is from a log
	Spell      *models.Spell `json:"-"`                // the spell that the match's date falls in
}

// Read makes the report. Errors are the source's; NotFound where the player or the season is not to be seen, or the player has neither a membership nor an
// appearance in the season.
func Read(ctx context.Context, src Source, q Request) (*Report, error) {
	r := &Report{Edition: StaffEdition, MadeAt: q.Now.UTC().Truncate(time.Second)}
	if q.Who.Role == models.RolePlayer {
		r.Edition = PlayerEdition
	}
	for _, step := range []struct {
		what string
		read func(Source, Request) error
	}{
		{"the player", r.readPlayer},
		{"what keeps him safe", r.readSafety},
		{"the trends", r.readTrends},
		{"the indicators", r.readIndicators},
		{"the ratings", r.readSkills},
		{"the goals", r.readGoals},
		{"the notes", r.readNotes},
		{"the moments", r.readMoments},
	} {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if err := step.read(src, q); err != nil {
			return nil, fmt.Errorf("season report of player %d in season %d, %s: %w", q.PlayerID, q.SeasonID, step.what, err)
		}
	}
	r.Sentences = r.sentences()
	r.chooseFigures()
	r.chooseMoments()
	r.Cautions = cautions(r)
	r.Methods = methods(r)
	return r, nil
}

func (r *Report) readPlayer(src Source, q Request) error {
	player, err := src.Player(q.PlayerID)
	if err != nil {
		return err
	}
	if r.Season, err = src.Season(q.SeasonID); err != nil {
		return err
	}
	r.Player = Person{ID: player.ID, Name: player.Name, KnownAs: player.KnownAs, Positions: player.Positions}
	if r.Player.KnownAs == "" {
		r.Player.KnownAs = player.Name
	}
	if r.Group.Code = player.Group(); r.Group.known() {
		r.Group.Label = lower(r.Group.Code.Label())
	}

	appearances, err := src.Appearances(models.AppearanceFilter{PlayerID: q.PlayerID, SeasonID: q.SeasonID})
	if err != nil {
		return err
	}
	matches, err := src.Matches(models.MatchFilter{PlayerID: q.PlayerID, SeasonID: q.SeasonID})
	if err != nil {
		return err
	}
	memberships, err := src.Memberships(models.MembershipFilter{PlayerID: q.PlayerID, SeasonID: q.SeasonID})
	if err != nil {
		return err
	}
	if len(memberships) == 0 && len(appearances) == 0 {
		return models.Errorf(models.NotFound, "%s is in no squad and no match of season %s", player.Name, r.Season.Name)
	}
	squads, err := src.Squads(models.SquadFilter{})
	if err != nil {
		return err
	}
	if id := mainSquad(appearances, matches, memberships); id != 0 {
		if i := slices.IndexFunc(squads, func(s models.Squad) bool { return s.ID == id }); i >= 0 {
			r.Squad = &squads[i]
		}
	}
	if player.BornOn != nil && r.Squad != nil {
		r.Player.BirthQuarter, r.Player.PlaysUp = birthQuarter(*player.BornOn, *r.Squad, r.Season)
	}
	spells, err := src.Spells(models.SpellFilter{PlayerID: q.PlayerID})
	if err != nil {
		return err
	}
	r.Spells = []models.Spell{}
	for _, s := range spells {
		if s.Status != models.Available && s.From <= r.Season.Ends && (s.Until == nil || *s.Until >= r.Season.Starts) {
			r.Spells = append(r.Spells, s)
		}
	}
	r.addMatches(appearances, matches)
	return nil
}

// mainSquad is the squad of most of the player's minutes, or, before he has played, of his first membership; 0 for none. A tie goes to
// the lower id.
func mainSquad(appearances []models.Appearance, matches []models.Match, memberships []models.Membership) int64 {
	squadOf := make(map[int64]int64, len(matches))
	for _, m := range matches {
		if m.SquadID != nil {
			squadOf[m.ID] = *m.SquadID
		}
	}
	minutes := map[int64]float64{}
	for _, a := range appearances {
		if s := squadOf[a.MatchID]; s != 0 {
			minutes[s] += a.Minutes
		}
	}
	var best int64
	for s, n := range minutes {
		if best == 0 || n > minutes[best] || n == minutes[best] && s < best {
			best = s
		}
	}
	if best == 0 && len(memberships) > 0 {
		best = memberships[0].SquadID
	}
	return best
}

// birthQuarter is the quarter of the age band's year in which a player was born (1: the oldest of the band), and whether he is young
// enough for the band one year below. The band's year begins on the first of the squad's BandMonth.
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

func (r *Report) addMatches(appearances []models.Appearance, matches []models.Match) {
	byID := make(map[int64]models.Match, len(matches))
	for _, m := range matches {
		byID[m.ID] = m
	}
	r.Matches = []MatchLine{}
	lengths := map[int]float64{}
	for _, a := range appearances {
		m, ok := byID[a.MatchID]
		if !ok {
			continue
		}
		line := MatchLine{
			ID: m.ID, Date: m.Date, Opponent: m.Opponent, Venue: m.Venue, Difficulty: m.Difficulty, FullMatch: m.FullMatch(),
			Minutes: a.Minutes, Started: a.Started, Other: m.OtherTeam, Spell: r.spellOn(m.Date),
		}
		r.Matches = append(r.Matches, line)
		if m.SquadID == nil {
			r.Summary.OtherMatches++
			r.Summary.OtherMinutes += a.Minutes
			continue
		}
		lengths[line.FullMatch] += a.Minutes
		r.Summary.Matches++
		r.Summary.Minutes += a.Minutes
		if a.Started != nil {
			if r.Summary.Started == nil {
				r.Summary.Started = new(int)
			}
			if *a.Started {
				*r.Summary.Started++
			}
		}
	}
	slices.SortStableFunc(r.Matches, func(a, b MatchLine) int {
		return cmp.Or(cmp.Compare(a.Date, b.Date), cmp.Compare(a.ID, b.ID))
	})
	for length, minutes := range lengths {
		if most := lengths[r.Group.FullMatch]; minutes > most || minutes == most && length > r.Group.FullMatch {
			r.Group.FullMatch = length
		}
	}
	r.Summary.Enough = r.Summary.Matches >= LeastMatches && r.Summary.Minutes >= LeastMinutes
}

func (r *Report) spellOn(d models.Date) *models.Spell {
	for i, s := range r.Spells {
		if s.From <= d && (s.Until == nil || d <= *s.Until) {
			return &r.Spells[i]
		}
	}
	return nil
}
