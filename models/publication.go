package models

import (
	"math"
	"slices"
	"time"
)

// LeastOthers is the fewest other players from whom a figure may be made that a reader sees, where the reader may not
// see each of them. A figure over fewer would be one of theirs, or nearly so.
const LeastOthers = 5

// Publication is what a player sees of one indicator or skill that involves others' figures: their own trend, which
// borrows strength from the squad, and a band of the others. It is based on the matches up to a round and stays as it
// is until a later round brings new figures for at least LeastOthers other players. So a single correction never
// shows, and two publications always differ by the figures of at least LeastOthers others: no one can work out one
// player's figure. Every number is rounded to the last digit that papers print. The band does not include the
// player's own figures.
type Publication struct {
	AcademyID int64 `json:"-" gorm:"primaryKey"`
	SeasonID  int64 `json:"season_id" gorm:"primaryKey"`
	SquadID   int64 `json:"squad_id" gorm:"primaryKey"`
	PlayerID  int64 `json:"player_id" gorm:"primaryKey"`
	// An indicator's code; empty for a skill.
	Indicator string `json:"indicator,omitempty" gorm:"primaryKey" texts:"-"`
	Skill     string `json:"skill,omitempty" gorm:"primaryKey" texts:"-"`
	Round     Date   `json:"round"` // the day of the last matches or grades it is based on
	// the revision of the squad's season, see SquadSeason
	Revision int64            `json:"revision"`
	MadeAt   time.Time        `json:"made_at"`
	Figures  PublishedFigures `json:"figures" gorm:"serializer:json" texts:"-"`
	// Covers are the matches, by id, and the days of training blocks that it was made from, in order of their text.
	// All others are new.
	Covers []string `json:"-" gorm:"serializer:json" texts:"-"`
}

// PublishedFigures are the figures of a publication. All are left out if fewer than LeastOthers other players have
// data.
type PublishedFigures struct {
	// the player's own trend, see TrendFigures.Published
	Trend *TrendFigures `json:"trend,omitempty"`
	Band  *Band         `json:"band,omitempty"`
	// how many times more the others' matches vary than chance alone would make them, at least 1; it widens ranges
	Dispersion *float64 `json:"dispersion,omitempty"`
	// The player's own matches, for an indicator that is compared with the others' figures.
	Matches []PublishedMatch `json:"matches,omitempty"`
}

// Band is the range in which most of the other players are.
type Band struct {
	// who the others are: a position group, forwards, backs or whole squad
	Others  string `json:"others"`
	Range80 Range  `json:"range_80"` // the range of the middle 80 % of their levels
}

// PublishedMatch is the player's figure for one match.
type PublishedMatch struct {
	MatchID     int64   `json:"match_id"`
	Value       float64 `json:"value"`
	Denominator float64 `json:"denominator"` // trials or actions
}

// Withheld says whether the publication shows nothing.
func (p *Publication) Withheld() bool {
	return p.Figures.Trend == nil && p.Figures.Band == nil && len(p.Figures.Matches) == 0
}

// Published returns the part of a trend that may be shown to a reader who must not learn the others' figures. It
// leaves out all that depends on the others: the standing among them, the worthwhile change, which is a share of how
// much they differ, the scatter of matches, which is fitted to all of them, what was expected of each
// match, and counts over the squad. It also leaves out what staff are asked to check. The rest is rounded to the last
// digit that papers print for the unit.
//
// What remains still leans a little towards the squad's mean, most for a player with few matches. That mean is over at
// least LeastOthers others, and is no more exact than the band that the reader is shown.
func (f TrendFigures) Published(unit string) TrendFigures {
	f.Standing, f.Worthwhile, f.Variation, f.Expected = nil, nil, nil, nil
	f.Compared, f.Firm, f.Checks, f.Remarks = nil, nil, nil, nil
	grain := Grain(unit)
	for _, e := range []**Estimate{&f.Start, &f.Now, &f.Change, &f.Next} {
		if *e != nil {
			rounded := (*e).round(grain)
			*e = &rounded
		}
	}
	for _, p := range []**float64{&f.Improved, &f.Declined, &f.FalseSign} {
		if *p != nil {
			rounded := PrintedChance(**p)
			*p = &rounded
		}
	}
	f.Before = slices.Clone(f.Before)
	for i := range f.Before {
		f.Before[i].Estimate = f.Before[i].round(grain)
	}
	f.Adjusted = f.Adjusted.published(grain)
	f.Odd = slices.DeleteFunc(slices.Clone(f.Odd), func(o OddMatch) bool { return o.Season != "" })
	f.Curve, f.Goals = slices.Clone(f.Curve), slices.Clone(f.Goals)
	for i := range f.Odd {
		f.Odd[i].SetAside = false
		f.Odd[i].Expected, f.Odd[i].Tail = RoundTo(grain, f.Odd[i].Expected), PrintedChance(f.Odd[i].Tail)
	}
	for i := range f.Curve {
		f.Curve[i].Estimate = f.Curve[i].round(grain)
	}
	for i := range f.Goals {
		f.Goals[i].Reached, f.Goals[i].Now = PrintedChance(f.Goals[i].Reached), PrintedChance(f.Goals[i].Now)
	}
	return f
}

func (e Estimate) round(grain float64) Estimate {
	return Estimate{RoundTo(grain, e.Mean), e.Range80.Round(grain), e.Range95.Round(grain)}
}

// Round rounds both ends to whole grains.
func (r Range) Round(grain float64) Range { return Range{RoundTo(grain, r.Lo), RoundTo(grain, r.Hi)} }

// Grain is the last digit that papers print of an indicator's unit: one per cent of a proportion, a tenth of
// everything else. A skill's grades have the unit "".
func Grain(unit string) float64 {
	if unit == "%" {
		return 0.01
	}
	return 0.1
}

// RoundTo rounds to whole grains. The result is the number that the printed digits would be read as.
func RoundTo(grain, x float64) float64 {
	per := math.Round(1 / grain)
	return math.Round(x*per)/per + 0 // no −0
}

// PrintedChance rounds a probability as papers print it: to whole per cents, and to 0 and 1 where they print less than
// 1 % and more than 99 %.
func PrintedChance(p float64) float64 {
	switch {
	case p > 0.99:
		return 1
	case p < 0.01:
		return 0
	}
	return RoundTo(0.01, p)
}

// RoundDay counts, for one day of a squad's matches, the players who appeared and those of them with data.
type RoundDay struct {
	Day                Date
	Appeared, Observed int
}

// roundRests is how many days after a round it is taken as complete, although players who appeared have no figures.
const roundRests = 7

// ClosedRound returns the last day whose round of matches is complete, or "" for none. A round is complete once all
// players who appeared have data, once seven days have passed, or once a later round has data. Days without data do
// not count, nor do days in the future: their date is a slip. The days are in order.
func ClosedRound(days []RoundDay, today Date) Date {
	later := false
	for _, d := range slices.Backward(days) {
		if d.Observed == 0 || d.Day > today {
			continue
		}
		if later || d.Observed >= d.Appeared || d.Day.AddDays(roundRests) <= today {
			return d.Day
		}
		later = true
	}
	return ""
}
