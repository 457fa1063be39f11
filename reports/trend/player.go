package trend

import "math"

// Player is what a fit says about one player. Everything from Start on is of season fits and on the indicator's
// natural scale (per full match, a share, the value's unit); what a fit cannot say is nil, or NaN for a bare number.
type Player struct {
	Name, Group              string
	LevelMode, SlopeMode     float64 // predicted effects on the scale of the linear predictor (season fits: means)
	LevelModeSD, SlopeModeSD float64

	Matches         int     // with an opportunity
	Minutes, Trials float64 // in them
	Start, Now      *Estimate
	Change          *Estimate
	// Probabilities that the change is a worthwhile improvement and a worthwhile decline, see Result.Worthwhile.
	Improved, Declined float64
	// FalseSign is the local false-sign rate of the change: the probability that the true change is zero or has the other
	// sign than the likelier one (Stephens 2017, Biostatistics 18). At most 0.5 for a change that varies.
	FalseSign float64
	Verdict   Verdict
	Standing  *Standing
	Before    []Before // levels at the ends of earlier seasons, the latest first
	Variation float64  // SD of one full match's figure about the level now
	Next      *Estimate
	Odd       []OddMatch
	// rows of earlier seasons that the levels of those seasons are fitted without: to be checked
	AsideBefore []OddMatch
	Note        string // what a reader must know of these figures

	unknown bool // minutes of a match are not recorded
}

// Before is a player's level at the end of an earlier season: the last when Back is 1.
type Before struct {
	Back int
	Estimate
}

// Estimate is a quantity with its uncertainty: posterior mean and central intervals.
type Estimate struct {
	Mean                   float64
	Interval80, Interval95 Interval
}

// Standing is the rank of a player's level now among the players with data of the position group (of the squad, if
// groups are not known). Rank 1 is the best. It is nil with fewer than five others.
type Standing struct {
	Of      int
	Rank    float64 // mean
	Rank80  Interval
	Chances []float64 // of each rank, the best first
}

// OddMatch is a match out of the ordinary: its figure would be at least this far out on that side in a share Tail of
// such matches, judged by everything but the match itself.
type OddMatch struct {
	Row      int // of the data, from 0
	Match    string
	Value    float64
	Expected float64
	Tail     float64
	Back     int  // 0: of the season that is fitted, 1: of the season before, whose rows Row then counts
	Aside    bool // so far out that the levels are fitted without it: to be checked
}

// newPlayer is a player of whom nothing is known yet.
func newPlayer(name string) Player {
	nan := math.NaN()
	return Player{
		Name: name, LevelMode: nan, SlopeMode: nan, LevelModeSD: nan, SlopeModeSD: nan,
		Improved: nan, Declined: nan, FalseSign: nan, Verdict: TooLittle, Variation: nan,
	}
}

// roster lists the players of the data, those without any opportunity too, in order of first appearance, with their
// matches, minutes, trials and last group.
func roster(d Data) []Player {
	var players []Player
	at := map[string]int{}
	type played struct {
		player int
		match  string
	}
	seen := map[played]bool{}
	lastTime := map[int]float64{}
	for i, name := range d.Player {
		j, ok := at[name]
		if !ok {
			j = len(players)
			at[name] = j
			players = append(players, newPlayer(name))
		}
		p := &players[j]
		if d.Group != nil && (p.Group == "" || d.Time == nil || d.Time[i] >= lastTime[j]) {
			p.Group = d.Group[i]
			if d.Time != nil {
				lastTime[j] = d.Time[i]
			}
		}
		if !d.HasOpportunity(i) {
			continue
		}
		first := true // two coaches' grades of one match are one match
		if d.Match != nil {
			k := played{j, d.Match[i]}
			first = !seen[k]
			seen[k] = true
		}
		if first {
			p.Matches++
		}
		if d.Minutes != nil && first {
			if math.IsNaN(d.Minutes[i]) {
				p.unknown = true
			} else {
				p.Minutes += d.Minutes[i]
			}
		}
		if d.Trials != nil {
			p.Trials += d.Trials[i]
		}
	}
	return players
}
