package scenario

import (
	"cmp"
	"math"
	"slices"

	"throughline/models"
)

// Truth is what no record says: how good the players really are, and what the matches and the coaches add to it. Tests
// and demonstrations may read it; nothing in the program does.
//
// Per match, with t the share of the season gone (0 to 1), d the expected difficulty and h = 1 at home, -1 away, 0 on
// neutral ground:
//
//	rate        count ~ negative binomial (variance μ + μ²/θ), log(μ / share of a full match) = η
//	proportion  successes of trials ~ beta-binomial (precision φ), logit(p) = η
//	mean        each action ~ gamma with mean exp(η): per match nearly normal, variance σ²/n
//	η = place + level + slope·t + difficulty·(d − 3) + home·h + match,   match ~ normal(0, sd)
//
// If a player stands in at another position, that place's base is used with their own level and slope.
type Truth struct {
	Levels   []Level      `json:"levels"`   // by player, then in the order of the indicator catalogue
	Effects  []Effect     `json:"effects"`  // in the order of the indicator catalogue
	Skills   []SkillLevel `json:"skills"`   // by player, then skill
	Severity []Severity   `json:"severity"` // by coach
	Readings []Reading    `json:"readings"` // of one skill by one coach
}

// Level is a player's true level of an indicator on neutral ground against an opponent of difficulty 3, at their own
// position: per full match, 0 to 1, or in the mean's unit. Indicators that follow from others or from the whole pack
// (metres over expected, last-quarter share, involvements, set pieces and mauls), and those of details that only some
// logs take down, have none.
type Level struct {
	Player    int64   `json:"player"`
	Indicator string  `json:"indicator"`
	Start     float64 `json:"start"` // at the season's first match
	Now       float64 `json:"now"`   // at its last
}

// Change is by how much the level went up, or down when it is negative.
func (l Level) Change() float64 { return l.Now - l.Start }

// Effect is what matches add to an indicator, on the link's scale (log or logit).
type Effect struct {
	Indicator  string  `json:"indicator"`
	Difficulty float64 `json:"difficulty"` // per step
	Home       float64 `json:"home"`       // half the difference between home and away
	MatchSD    float64 `json:"match_sd"`
	// θ of a rate, φ of a proportion; for a mean, the coefficient of variation of one action
	Dispersion float64 `json:"dispersion,omitempty"`
}

// Reading is by how much a coach's grades of a skill differ from what they give elsewhere, because they read its words
// differently.
type Reading struct {
	User  int64   `json:"user"`
	Skill string  `json:"skill"`
	By    float64 `json:"by"`
}

// SkillLevel is a player's true level of a skill on the scale of grades, at the season's first match and at its last.
type SkillLevel struct {
	Player int64   `json:"player"`
	Skill  string  `json:"skill"`
	Start  float64 `json:"start"`
	Now    float64 `json:"now"`
}

// Severity is by how much a coach grades above (lenient) or below (severe) the others.
type Severity struct {
	User   int64   `json:"user"`
	Grades float64 `json:"grades"`
}

// Level returns a player's level of an indicator, false if none was drawn.
func (t *Truth) Level(player int64, indicator string) (Level, bool) {
	for _, l := range t.Levels {
		if l.Player == player && l.Indicator == indicator {
			return l, true
		}
	}
	return Level{}, false
}

// A trait is drawn for each player. It is named after the indicator that shows it, or else after the count.
type trait struct {
	code                      string
	family                    models.Family
	level, slope              float64 // standard deviations between players, on the link's scale
	difficulty, home, matchSD float64
	dispersion                float64
	work                      bool // goes with how hard a player works rather than with how good they are
}

// The traits' places in the table below.
const (
	carries = iota
	passes
	offloads
	kicks
	catches
	tackles
	rucks
	supportLines
	repositions
	turnovers
	penalties
	errorsMade

	contactWon
	softContact
	overGainLine
	longPresentation
	bestChoice
	atLine
	passAccuracy
	overlapsFinished
	offloadAccuracy
	effectiveArrivals
	firstArrivals
	tackleCompletion
	tacklesWon
	inPlace
	cleanCatch
	exitsCompleted
	usefulSupport
	lastQuarter

	metres
	metresAfterContact
	tacklersCommitted
	secondsToPlay
	defendersHeld
	backToFeet
	repositionSeconds

	traitCount
)

var allTraits = [traitCount]trait{
	carries:      {"carries", models.Rate, 0.22, 0.10, -0.05, 0.03, 0.08, 9, false},
	passes:       {"passes", models.Rate, 0.15, 0.07, -0.04, 0.02, 0.08, 14, false},
	offloads:     {"offloads", models.Rate, 0.40, 0.12, -0.06, 0.03, 0.08, 4, false},
	kicks:        {"kicks", models.Rate, 0.20, 0.08, 0.05, 0, 0.12, 8, false},
	catches:      {"catches_attempted", models.Rate, 0.15, 0.05, 0.06, 0, 0.12, 8, false},
	tackles:      {"tackles", models.Rate, 0.20, 0.10, 0.09, -0.02, 0.10, 10, true},
	rucks:        {"ruck_arrivals", models.Rate, 0.18, 0.10, -0.01, 0.02, 0.07, 14, true},
	supportLines: {"support_lines", models.Rate, 0.22, 0.10, -0.03, 0.02, 0.07, 8, true},
	repositions:  {"repositions", models.Rate, 0.15, 0.08, 0.01, 0, 0.06, 16, true},
	turnovers:    {"breakdown_turnovers", models.Rate, 0.40, 0.15, -0.08, 0.05, 0.10, 4, false},
	penalties:    {"penalties_conceded", models.Rate, 0.30, 0.15, 0.10, -0.06, 0.12, 5, false},
	errorsMade:   {"errors", models.Rate, 0.25, 0.15, 0.08, -0.04, 0.12, 5, false},

	contactWon:        {"contact_won", models.Proportion, 0.38, 0.22, -0.14, 0.06, 0.10, 28, false},
	softContact:       {"soft_contact", models.Proportion, 0.40, 0.25, -0.12, 0.03, 0.10, 20, false},
	overGainLine:      {"over_gain_line", models.Proportion, 0.30, 0.18, -0.16, 0.06, 0.14, 22, false},
	longPresentation:  {"long_presentation", models.Proportion, 0.40, 0.25, -0.08, 0.02, 0.08, 18, false},
	bestChoice:        {"best_choice", models.Proportion, 0.30, 0.20, -0.10, 0.04, 0.08, 24, false},
	atLine:            {"released_at_line", models.Proportion, 0.40, 0.22, -0.06, 0.02, 0.08, 16, false},
	passAccuracy:      {"pass_accuracy", models.Proportion, 0.30, 0.16, -0.08, 0.04, 0.12, 40, false},
	overlapsFinished:  {"overlaps_finished", models.Proportion, 0.30, 0.16, -0.12, 0.05, 0.08, 16, false},
	offloadAccuracy:   {"offload_accuracy", models.Proportion, 0.30, 0.16, -0.10, 0.04, 0.10, 12, false},
	effectiveArrivals: {"effective_arrivals", models.Proportion, 0.30, 0.18, -0.12, 0.05, 0.10, 30, false},
	firstArrivals:     {"first_arrivals", models.Proportion, 0.25, 0.15, -0.03, 0.01, 0.05, 30, true},
	tackleCompletion:  {"tackle_completion", models.Proportion, 0.38, 0.20, -0.16, 0.05, 0.10, 24, false},
	tacklesWon:        {"tackles_won", models.Proportion, 0.35, 0.20, -0.14, 0.05, 0.10, 22, false},
	inPlace:           {"in_place", models.Proportion, 0.38, 0.20, -0.08, 0.03, 0.08, 30, true},
	cleanCatch:        {"clean_catch", models.Proportion, 0.35, 0.18, -0.06, 0.03, 0.15, 14, false},
	exitsCompleted:    {"exits_completed", models.Proportion, 0.30, 0.16, -0.08, 0.04, 0.12, 14, false},
	usefulSupport:     {"support_useful", models.Proportion, 0.35, 0.20, -0.08, 0.03, 0.08, 20, true},
	lastQuarter:       {"last_quarter", models.Proportion, 0.12, 0.08, -0.03, 0.01, 0.05, 120, true},

	metres:             {"metres_per_carry", models.Mean, 0.14, 0.08, -0.06, 0.02, 0.06, 0.8, false},
	metresAfterContact: {"metres_after_contact", models.Mean, 0.16, 0.09, -0.06, 0.02, 0.06, 0.8, false},
	tacklersCommitted:  {"tacklers_committed", models.Mean, 0.08, 0.04, 0.01, 0, 0.03, 0.4, false},
	secondsToPlay:      {"seconds_to_play", models.Mean, 0.10, 0.06, 0.04, -0.01, 0.05, 0.4, false},
	defendersHeld:      {"defenders_held", models.Mean, 0.18, 0.10, -0.03, 0.01, 0.05, 0.9, false},
	backToFeet:         {"back_to_feet", models.Mean, 0.14, 0.07, 0.03, -0.01, 0.04, 0.4, true},
	repositionSeconds:  {"reposition_seconds", models.Mean, 0.14, 0.07, 0.02, -0.01, 0.04, 0.4, true},
}

// breakdownShare is the part of the penalties that are conceded at rucks.
const breakdownShare = 0.55

// basesLast is the length in minutes of the match that the bases of rates are for. In a match of another length there
// is as much less, or more, to do.
const basesLast = 80

// longer is how much more there is to do in a match of a length, on the scale of logarithms; nothing but for rates.
func (t *trait) longer(minutes int) float64 {
	if t.family != models.Rate {
		return 0
	}
	return math.Log(float64(minutes) / basesLast)
}

// most is what no player of sixteen to eighteen does more often in 70 minutes. *Common practice*.
var most = map[int]int{carries: 18, passes: 75, tackles: 20, rucks: 32, kicks: 16, catches: 12}

// bases are each place's averages on the natural scale, in the order of the traits. *Common practice*, rounded.
var bases = func() [fullback + 1][traitCount]float64 {
	var b [fullback + 1][traitCount]float64
	for p, row := range map[place][traitCount]float64{
		//          car  pas  off  kck  cat  tck  ruk  sup  rep  trn  pen  err |  won  soft over pres best line pacc
		//   olap oacc effe 1st  comp twon plac ctch exit supp lq  |  met mac tkl  stp  held feet repo
		loosehead: {5.5, 2.2, 0.4, 0.0, 0.2, 7.5, 17, 3.5, 14, 0.35, 0.70, 0.6, 0.44, 0.22, 0.52, 0.50, 0.66, 0.30, 0.82,
			0.35, 0.58, 0.70, 0.28, 0.86, 0.20, 0.66, 0.60, 0.50, 0.48, 0.25, 2.9, 1.3, 1.75, 3.3, 0.70, 4.0, 6.2},
		hooker: {6.5, 3.0, 0.5, 0.0, 0.3, 8.5, 18, 4.0, 15, 0.40, 0.60, 0.7, 0.44, 0.26, 0.55, 0.52, 0.66, 0.32, 0.83,
			0.38, 0.60, 0.70, 0.30, 0.86, 0.21, 0.70, 0.62, 0.50, 0.50, 0.25, 3.2, 1.4, 1.70, 3.2, 0.72, 3.7, 5.7},
		tighthead: {4.5, 2.0, 0.3, 0.0, 0.2, 7.0, 15, 2.5, 12, 0.25, 0.75, 0.6, 0.43, 0.20, 0.50, 0.48, 0.66, 0.28, 0.80,
			0.33, 0.56, 0.68, 0.25, 0.85, 0.19, 0.62, 0.58, 0.50, 0.45, 0.25, 2.7, 1.3, 1.80, 3.4, 0.66, 4.2, 6.6},
		lock: {6.5, 2.5, 0.4, 0.0, 1.5, 10, 20, 5.0, 16, 0.35, 0.65, 0.6, 0.43, 0.24, 0.52, 0.50, 0.65, 0.30, 0.82,
			0.36, 0.58, 0.72, 0.32, 0.87, 0.22, 0.70, 0.74, 0.50, 0.50, 0.25, 3.2, 1.4, 1.70, 3.3, 0.70, 3.8, 5.8},
		blindside: {8.0, 3.0, 0.6, 0.0, 0.8, 11, 20, 6.5, 18, 0.60, 0.70, 0.7, 0.46, 0.31, 0.57, 0.53, 0.65, 0.33, 0.83,
			0.40, 0.60, 0.71, 0.36, 0.87, 0.27, 0.74, 0.70, 0.50, 0.55, 0.25, 4.2, 1.6, 1.65, 3.1, 0.75, 3.3, 5.0},
		openside: {7.5, 3.5, 0.7, 0.0, 0.6, 12, 22, 8.0, 20, 1.00, 0.75, 0.7, 0.44, 0.34, 0.56, 0.54, 0.65, 0.34, 0.84,
			0.41, 0.61, 0.72, 0.42, 0.88, 0.25, 0.76, 0.70, 0.50, 0.58, 0.25, 4.3, 1.5, 1.60, 3.0, 0.78, 3.0, 4.7},
		numberEight: {10, 4.0, 0.8, 0.1, 1.2, 9.0, 17, 6.5, 16, 0.60, 0.60, 0.8, 0.48, 0.32, 0.60, 0.54, 0.65, 0.34, 0.84,
			0.41, 0.61, 0.70, 0.34, 0.86, 0.26, 0.73, 0.72, 0.50, 0.55, 0.25, 4.6, 1.8, 1.75, 3.1, 0.78, 3.4, 5.1},
		scrumHalf: {3.5, 46, 0.4, 4.5, 0.6, 5.5, 3.5, 9.0, 14, 0.20, 0.40, 1.0, 0.32, 0.42, 0.54, 0.46, 0.68, 0.22, 0.90,
			0.46, 0.60, 0.55, 0.30, 0.77, 0.12, 0.80, 0.70, 0.62, 0.60, 0.25, 5.0, 1.0, 1.35, 3.1, 0.40, 3.0, 4.3},
		flyHalf: {6.0, 26, 0.5, 7.0, 1.5, 6.5, 5.0, 8.0, 14, 0.15, 0.35, 1.1, 0.34, 0.44, 0.52, 0.46, 0.64, 0.40, 0.88,
			0.48, 0.60, 0.56, 0.28, 0.77, 0.12, 0.78, 0.72, 0.64, 0.56, 0.25, 5.4, 1.1, 1.40, 3.1, 0.85, 3.2, 4.6},
		wing: {7.0, 3.0, 0.7, 0.7, 2.5, 4.5, 7.0, 9.5, 13, 0.20, 0.30, 0.8, 0.42, 0.50, 0.60, 0.48, 0.64, 0.38,
			0.83, 0.46, 0.60, 0.58, 0.30, 0.74, 0.15, 0.74, 0.74, 0.56, 0.54, 0.25, 8.2, 1.6, 1.40, 3.1, 0.75, 3.2, 4.8},
		insideCentre: {8.5, 9.0, 0.8, 1.2, 0.8, 9.0, 10, 8.5, 15, 0.35, 0.50, 0.9, 0.43, 0.40, 0.55, 0.50, 0.64, 0.42, 0.85,
			0.46, 0.60, 0.62, 0.30, 0.83, 0.18, 0.75, 0.72, 0.58, 0.55, 0.25, 5.2, 1.6, 1.60, 3.1, 0.90, 3.2, 4.8},
		outsideCentre: {8.0, 5.5, 0.9, 0.6, 0.9, 8.0, 10, 9.0, 14, 0.30, 0.45, 0.9, 0.43, 0.44, 0.56, 0.50, 0.64, 0.42, 0.84,
			0.47, 0.60, 0.62, 0.30, 0.81, 0.17, 0.75, 0.73, 0.56, 0.56, 0.25, 6.2, 1.6, 1.50, 3.1, 0.88, 3.2, 4.8},
		fullback: {9.0, 6.0, 0.6, 3.5, 4.5, 4.5, 6.0, 9.5, 14, 0.20, 0.30, 0.9, 0.42, 0.48, 0.60, 0.48, 0.65, 0.38, 0.85,
			0.48, 0.60, 0.58, 0.28, 0.76, 0.14, 0.78, 0.80, 0.62, 0.56, 0.25, 8.8, 1.5, 1.40, 3.1, 0.78, 3.1, 4.7},
	} {
		b[p] = row
	}
	return b
}()

// traits are a player's levels and slopes on the link's scale, without the place's base.
type traits struct{ level, slope [traitCount]float64 }

// link takes a natural value to the link's scale, and unlink back.
func (t *trait) link(x float64) float64 {
	if t.family == models.Proportion {
		return logit(x)
	}
	return math.Log(x)
}

func (t *trait) unlink(x float64) float64 {
	if t.family == models.Proportion {
		return logistic(x)
	}
	return math.Exp(x)
}

// truth draws every player's traits and keeps what they mean.
func (s *simulation) truth() {
	for i, p := range s.Players {
		d := stream(s.seed, "truth", p.ID)
		good, hard := d.normal(0, 1), d.normal(0, 1)
		s.quality = append(s.quality, good)
		var own traits
		for n := range allTraits {
			t := &allTraits[n]
			common := good
			if t.work {
				common = hard
			}
			sign := 1.0
			switch n {
			case penalties, errorsMade, secondsToPlay, backToFeet, repositionSeconds:
				sign = -1 // where less is better
			}
			own.level[n] = t.level * (0.5*sign*common + 0.87*d.NormFloat64())
			own.slope[n] = t.slope * d.NormFloat64()
		}
		shape(&own, s.parts[i])
		s.traits = append(s.traits, own)
		s.finer = append(s.finer, s.finerOf(p.ID))
	}
	s.starts = make([]float64, len(s.Players))
	s.lastPlayed = make([]models.Date, len(s.Players))
	d := stream(s.seed, "squads")
	for range s.Squads {
		s.strength = append(s.strength, d.normal(0, 0.25))
	}
	s.keepTruth()
}

// shape makes the cast interesting on purpose.
func shape(own *traits, as part) {
	switch as {
	case improver:
		for n, v := range map[int][2]float64{
			contactWon: {-0.70, 1.50}, softContact: {-0.80, 1.60}, overGainLine: {-0.40, 0.95}, metres: {-0.15, 0.38},
			metresAfterContact: {-0.15, 0.38}, longPresentation: {-0.40, 1.00}, carries: {0.05, 0.12},
			secondsToPlay: {0.05, -0.15},
			errorsMade:    {0, -0.05}, tackleCompletion: {0.10, 0.05}, inPlace: {0, 0.05},
		} {
			own.level[n], own.slope[n] = v[0], v[1]
		}
	case fading:
		for n, v := range map[int][2]float64{
			repositions: {0.10, -0.50}, inPlace: {0.30, -1.10}, supportLines: {0.15, -0.60}, usefulSupport: {0.10, -0.70},
			lastQuarter: {0.10, -0.80}, repositionSeconds: {-0.05, 0.30}, rucks: {0.05, -0.15}, firstArrivals: {0.05, -0.35},
			carries: {0.10, 0.05}, contactWon: {0.20, 0.05},
		} {
			own.level[n], own.slope[n] = v[0], v[1]
		}
	case steady:
		own.slope = [traitCount]float64{}
	case fewCarries:
		own.level[carries], own.slope[carries] = math.Log(0.33), 0
		own.level[rucks] = 0.15
	}
}

// base is the place's average of a trait on the link's scale.
func base(p place, n int) float64 {
	x := bases[p][n]
	if x <= 0 {
		return math.Inf(-1)
	}
	return allTraits[n].link(x)
}

// keepTruth writes the levels and effects down.
func (s *simulation) keepTruth() {
	for _, indicator := range models.IndicatorCatalogue() {
		n, share := -1, 1.0
		for i := range allTraits {
			if allTraits[i].code == indicator.Code && i != lastQuarter {
				n = i
			}
		}
		if indicator.Code == "breakdown_penalties" {
			n, share = penalties, breakdownShare
		}
		if n < 0 {
			continue
		}
		t := &allTraits[n]
		s.Truth.Effects = append(s.Truth.Effects, Effect{indicator.Code, t.difficulty, t.home, t.matchSD, t.dispersion})
		for i, p := range s.Players {
			at := base(s.places[i][0], n) + s.traits[i].level[n] + t.longer(2*calendars[s.squadOf[i]].halfMinutes)
			s.Truth.Levels = append(s.Truth.Levels, Level{
				Player: p.ID, Indicator: indicator.Code,
				Start: round(share*t.unlink(at), 6), Now: round(share*t.unlink(at+s.traits[i].slope[n]), 6),
			})
		}
	}
	slices.SortStableFunc(s.Truth.Levels, func(a, b Level) int { return cmp.Compare(a.Player, b.Player) })
}
