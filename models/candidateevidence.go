package models

import (
	"encoding/binary"
	"math"
	"strings"
	"time"
)

// Draws are joint draws of a player's level: draw d of one player goes with draw d of every other player in the same
// fit. Draws of two indicators are independent of each other.
type Draws []float64

// DrawsKept is how many draws of a level are kept: a chance counted off them has a standard error of at most 0.017. A
// row of them is a quarter of a page of SQLite's; a longer one would take a page of its own.
const DrawsKept = 900

// Packed draws begin with their least and greatest value, four bytes each. Those packed by older programs, of two bytes
// a draw, begin with eight bytes each.
const (
	drawsHead    = 8
	oldDrawsHead = 16
	oldDrawsKept = 1000
	oldDrawsSize = oldDrawsHead + 2*oldDrawsKept
)

// Pack writes draws in one byte each, between the least and the greatest of them: the rounding is at most a 510th of
// their width, of normal ones an 80th of their SD. No draws are nil.
func (d Draws) Pack() []byte {
	if len(d) == 0 {
		return nil
	}
	least, most := math.Inf(1), math.Inf(-1)
	for _, x := range d {
		least, most = min(least, x), max(most, x)
	}
	lo, hi := float32(least), float32(most)
	packed := make([]byte, drawsHead+len(d))
	binary.LittleEndian.PutUint32(packed, math.Float32bits(lo))
	binary.LittleEndian.PutUint32(packed[4:], math.Float32bits(hi))
	if hi > lo {
		for i, x := range d {
			step := math.Round((x - float64(lo)) / (float64(hi) - float64(lo)) * math.MaxUint8)
			packed[drawsHead+i] = uint8(min(max(step, 0), math.MaxUint8))
		}
	}
	return packed
}

// UnpackDraws reads what Pack wrote, or an older program: at most DrawsKept. What neither wrote gives none.
func UnpackDraws(packed []byte) Draws {
	if len(packed) == oldDrawsSize {
		return unpackOld(packed)
	}
	if len(packed) <= drawsHead {
		return nil
	}
	lo := float64(math.Float32frombits(binary.LittleEndian.Uint32(packed)))
	hi := float64(math.Float32frombits(binary.LittleEndian.Uint32(packed[4:])))
	d := make(Draws, min(len(packed)-drawsHead, DrawsKept))
	for i := range d {
		d[i] = lo + (hi-lo)*float64(packed[drawsHead+i])/math.MaxUint8
	}
	return d
}

func unpackOld(packed []byte) Draws {
	lo := math.Float64frombits(binary.LittleEndian.Uint64(packed))
	hi := math.Float64frombits(binary.LittleEndian.Uint64(packed[8:]))
	d := make(Draws, DrawsKept)
	for i := range d {
		step := binary.LittleEndian.Uint16(packed[oldDrawsHead+2*i:])
		d[i] = lo + (hi-lo)*float64(step)/math.MaxUint16
	}
	return d
}

// TrendDraws are the draws behind one trend, see Trend. They stand beside it because they are long.
type TrendDraws struct {
	AcademyID      int64  `gorm:"primaryKey"`
	SeasonID       int64  `gorm:"primaryKey"`
	SquadID        int64  `gorm:"primaryKey"`
	Indicator      string `gorm:"primaryKey" texts:"-"`
	Skill          string `gorm:"primaryKey" texts:"-"`
	PlayerID       int64  `gorm:"primaryKey"`
	Draws          []byte
	SelectorsDraws []byte
}

// TableName is that of the table.
func (TrendDraws) TableName() string { return "trend_draws" }

// CandidateEvidence is the evidence on a candidate as it was when the comparison was opened.
type CandidateEvidence struct {
	AcademyID int64     `json:"-" gorm:"primaryKey"`
	MeetingID int64     `json:"meeting_id" gorm:"primaryKey"`
	PlayerID  int64     `json:"player_id" gorm:"primaryKey"`
	Place     string    `json:"place" gorm:"primaryKey" texts:"-"`
	FrozenAt  time.Time `json:"frozen_at"` // when it was kept
	Late      bool      `json:"late"`      // the candidate was added after the comparison was opened
	Revision  int64     `json:"revision"`  // of the squad's season, see SquadSeason
	// LeftOut names, by PlayerList, the players without whom SelectorsLines were made.
	LeftOut        string         `json:"-" texts:"-"`
	Lines          []EvidenceLine `json:"lines" gorm:"serializer:json" texts:"-"` // by criterion
	SelectorsLines []EvidenceLine `json:"-" gorm:"serializer:json" texts:"-"`
	// what was warned of then; nil for evidence from before warnings were kept
	Warnings []Warning `json:"warnings,omitempty" gorm:"serializer:json" texts:"-"`
	// why the caller reads no figures, empty if they do
	Withheld string `json:"withheld,omitempty" gorm:"-"`
	// how the figures of other readers differ from these, in one line; absent if they do not
	OtherReaders string `json:"other_readers,omitempty" gorm:"-"`
}

// TableName is that of the table.
func (CandidateEvidence) TableName() string { return "candidate_evidence" }

// EvidenceLine is a candidate's figure for one criterion.
type EvidenceLine struct {
	Label     string  `json:"label"`
	Indicator string  `json:"indicator,omitempty"`
	Skill     string  `json:"skill,omitempty"`
	Weight    float64 `json:"weight"` // how much the criterion counts, relative to the others
	// the level at the squad's last match; absent without one
	Level   *Estimate   `json:"level,omitempty"`
	Matches int         `json:"matches"`           // how many matches have data
	Minutes float64     `json:"minutes,omitempty"` // the minutes in them
	Verdict string      `json:"verdict,omitempty"` // that of the trend
	Method  LevelMethod `json:"method,omitempty"`  // how the level was worked out
	Against string      `json:"against,omitempty"` // who the level is compared with
	Players int         `json:"players,omitempty"` // how many they are
	Mean    float64     `json:"mean,omitempty"`    // the mean of their levels
	SD      float64     `json:"sd,omitempty"`      // the spread between their levels
	// the other squad whose season the figures are of; absent for the meeting's own
	SquadID int64  `json:"squad_id,omitempty"`
	Squad   string `json:"squad,omitempty"` // its name
	// packed draws of (level − mean) / sd, positive is better; absent where nothing can be compared
	Standard []byte `json:"standard,omitempty"`
	// why nothing can be compared, inside a sentence
	Missing string `json:"missing,omitempty"`
}

// OpeningRow is a day on which a user opened a player's season report, or an overview with the player in it, and when
// they did so first that day.
type OpeningRow struct {
	AcademyID int64     `json:"-" gorm:"primaryKey"`
	PlayerID  int64     `json:"-" gorm:"primaryKey"`
	SeasonID  int64     `json:"season_id" gorm:"primaryKey"`
	UserID    int64     `json:"user_id" gorm:"primaryKey"`
	OpenedOn  Date      `json:"opened_on" gorm:"primaryKey"`
	OpenedAt  time.Time `json:"opened_at"`
}

// TableName is that of the table.
func (OpeningRow) TableName() string { return "report_openings" }

// PlaceRing is a circle of players whom the candidates for a place are compared with.
type PlaceRing struct {
	Label string
	Has   func(Player) bool
}

// Rings are those of a place, the narrowest first: its position group, forwards or backs, the whole squad. Where an
// indicator means something else in each position there is only the position.
func (p Place) Rings(byPosition bool) []PlaceRing {
	if byPosition && p.Position != "" {
		return []PlaceRing{{strings.ToLower(p.Position.Plural()), func(of Player) bool {
			return len(of.Positions) > 0 && of.Positions[0] == p.Position
		}}}
	}
	own := p.Group
	if own == "" {
		own = GroupOf(p.Position)
	}
	scope := own.Scope()
	return []PlaceRing{
		{strings.ToLower(own.Label()), func(of Player) bool { return of.Group() == own && own != GroupUnknown }},
		{string(scope), func(of Player) bool { return of.Group().Scope() == scope && scope != "" }},
		{"whole squad", func(Player) bool { return true }},
	}
}

// LeastCompared is the fewest players whose levels make a group to compare with, the candidate among them.
const LeastCompared = LeastOthers + 1

// GroupLevels are the levels of a group of players in joint draws: the mean of each draw, the mean over all, and the
// spread between players, the root of the mean variance between them within a draw.
type GroupLevels struct {
	Players  int
	Mean, SD float64
	means    Draws
}

// LevelsOf are the levels of a group. They are nil for fewer than LeastCompared players, and where all levels are the
// same in every draw.
func LevelsOf(group []Draws) *GroupLevels {
	if len(group) < LeastCompared {
		return nil
	}
	draws := len(group[0])
	for _, d := range group {
		draws = min(draws, len(d))
	}
	g := &GroupLevels{Players: len(group), means: make(Draws, draws)}
	n, variance := float64(len(group)), 0.0
	for d := range draws {
		sum, square := 0.0, 0.0
		for _, own := range group {
			sum += own[d]
		}
		mean := sum / n
		for _, own := range group {
			square += (own[d] - mean) * (own[d] - mean)
		}
		g.means[d] = mean
		g.Mean += mean / float64(draws)
		variance += square / (n - 1) / float64(draws)
	}
	if g.SD = math.Sqrt(variance); !(g.SD > 0) {
		return nil
	}
	return g
}

// Standard are the draws of a level against the group, draw by draw: (level − mean) / sd, with the sign turned where
// lower is better.
func (g *GroupLevels) Standard(own Draws, lower bool) Draws {
	sign := 1.0
	if lower {
		sign = -1
	}
	z := make(Draws, min(len(own), len(g.means)))
	for d := range z {
		z[d] = sign * (own[d] - g.means[d]) / g.SD
	}
	return z
}
