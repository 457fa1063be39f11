package scenario

import "throughline/models"

// A possession is an unbroken stretch with the ball for one side.
type possession struct {
	number  int
	ours    bool
	started string // codes of possession_start and possession_end
	ended   string
	phases  []phase
	against bool // of an end by penalty: it was given against the side with the ball
	fifty22 bool // of an end by kick: the side with the ball throws in, deep in the opponents' 22
}

// A phase is one passage from where the ball was last brought into play to the next ruck, or to the end of the
// possession.
type phase struct {
	of       *possession
	number   int
	half     int
	from, to int // clock seconds; to is when it is over
	zone     string
	width    string
	side     string
	source   string // empty if the catalogue has none that fits
	speed    string // of a ball from a ruck; empty otherwise
	broken   bool   // a carrier got through the first line
	last     bool   // of its possession
	blamed   bool   // it is known whose doing its end was
	done     []models.Kind
}

// taken is how many of the squad's involvements of a kind the phase holds so far.
func (p *phase) taken(kind models.Kind) int {
	n := 0
	for _, k := range p.done {
		if k == kind {
			n++
		}
	}
	return n
}

func (p *phase) clock(second int) models.Clock { return models.Clock{Half: p.half, Second: second} }

// regular is a clock second of the phase as a second of regular playing time: added time counts for the end of the
// half.
func (p *phase) regular(second, half int) int { return min(second, p.half*half-1) }

// flow is a whole match from kick-off to the last whistle, seen from the squad.
type flow struct {
	possessions []*possession
	phases      []*phase // of all of them, in order
	scores      []score
	fifty22     float64 // the chance that a kick from the kicker's own half is a 50:22
}

// A score is a try, a conversion, or a penalty or dropped goal.
type score struct {
	kind  models.EventKind
	ours  bool
	clock models.Clock
	at    int         // second of regular playing time
	from  *possession // of a try
}

const lastAdded = 170 // seconds of added time after which the referee has blown

// flowOf plays a match: the sides keep the ball phase by phase until they score, kick, lose it or a player is
// penalised. Edge is by how many metres a phase the squad gains more than its opponents; fifty22 is the chance that a
// kick from the kicker's own half is a 50:22.
func flowOf(d dice, m *models.Match, edge, fifty22 float64) flow {
	f := flow{fifty22: fifty22}
	half := m.HalfMinutes * 60
	kicksOff := d.chance(0.5) // whether the squad kicks off
	for h := 1; h <= m.Halves; h++ {
		second := (h-1)*half + d.between(1, 3)
		ours, start, x := kicksOff != (h == 1), "restart", d.normal(22, 5)
		for {
			p := &possession{number: len(f.possessions) + 1, ours: ours, started: start}
			f.possessions = append(f.possessions, p)
			if len(f.phases) > 0 && f.phases[len(f.phases)-1].half == h {
				second += setUp(d, start)
			}
			gain := edge
			if !ours {
				gain = -edge
			}
			end := f.run(d, p, h, half, &second, &x, gain)
			over := second >= h*half
			if over && (end == "kick" || end == "turnover") || second >= h*half+lastAdded {
				if end != "try" {
					p.ended = "half"
					break
				}
			}
			if end == "try" {
				f.try(d, p, h, half, &second)
				if over || second >= h*half {
					break
				}
				start, x = "restart", d.normal(22, 5) // the side that conceded kicks off
				continue
			}
			ours, start, x = f.next(d, p, end, x, h, half, &second)
			if start == "" {
				break
			}
		}
	}
	return f
}

// run plays the phases of one possession and returns how it ended. The ball's place x is in metres from the goal line
// of the side that has it.
func (f *flow) run(d dice, p *possession, h, half int, second *int, x *float64, edge float64) string {
	source, speed := sources[p.started], ""
	side := pick(d, []string{"left", "right"})
	for {
		*x = min(max(*x, 2), 99)
		ph := &phase{
			of: p, number: len(p.phases) + 1, half: h, from: *second,
			zone: zoneOf(*x, p.ours), width: d.of(odds{{"close", 0.5}, {"midfield", 0.3}, {"wide", 0.2}}), side: side,
			source: source, speed: speed,
		}
		length := d.between(5, 10)
		gain := d.normal(2.9+edge, 3.8)
		if d.chance(0.045 + 0.006*edge) {
			ph.broken = true
			gain += d.positive(16, 0.6)
			length += 4
		}
		*x += gain
		*second += length
		ph.to = *second
		p.phases = append(p.phases, *ph)
		end := ""
		kick := 0.03
		switch {
		case *x >= 100:
			end = "try"
		case *x < 24:
			kick = 0.42
		case *x < 50:
			kick = 0.19
		case *x < 76:
			kick = 0.07
		}
		stolen := 0.085
		if ph.number == 1 && (p.started == "lineout" || p.started == "scrum") {
			stolen = 0.14
		}
		if end == "" {
			end = d.of(odds{{"kick", kick}, {"turnover", stolen}, {"penalty", 0.115}, {"", 1 - kick - stolen - 0.115}})
		}
		if end == "" && *second >= h*half+lastAdded {
			end = "kick"
		}
		if end != "" {
			p.ended = end
			for i := range p.phases {
				p.phases[i].last = i == len(p.phases)-1
				f.phases = append(f.phases, &p.phases[i])
			}
			return end
		}
		source, speed = "ruck", d.of(odds{{"quick", 0.55}, {"slow", 0.45}})
		if d.chance(0.35) {
			side = pick(d, []string{"left", "right"})
		}
		if speed == "slow" {
			*second += d.between(2, 4)
		}
	}
}

// next says who has the ball next, how that possession starts and where; no start means that the half is over.
func (f *flow) next(d dice, p *possession, end string, x float64, h, half int, second *int) (ours bool, start string,
	at float64) {
	ours = p.ours
	switch end {
	case "kick":
		if x < 50 && f.fifty22 > 0 && d.chance(f.fifty22) {
			p.fifty22 = true
			return ours, "lineout", d.normal(86, 3)
		}
		length := d.normal(33, 9)
		if d.chance(0.06) {
			return ours, "kick_return", min(x+length*0.6, 95) // regained
		}
		landed := min(max(100-x-length, 4), 95)
		if d.chance(0.4) {
			return !ours, "lineout", max(landed, 8)
		}
		return !ours, "kick_return", landed
	case "turnover":
		if d.chance(0.45) {
			return !ours, "scrum", min(max(100-x, 8), 92)
		}
		return !ours, "turnover", 100 - x
	}
	// A penalty: more often to the side with the ball.
	p.against = d.chance(0.5)
	if p.against {
		ours, x = !ours, 100-x
	}
	if x > 62 && d.chance(0.25) {
		*second += d.between(50, 75)
		if d.chance(0.72) {
			f.score(models.EventPenaltyGoal, ours, h, half, *second, nil)
		}
		if *second >= h*half {
			return ours, "", 0
		}
		return ours, "restart", 22 // kicked off, or dropped out, by the other side
	}
	switch d.of(odds{{"lineout", 0.66}, {"tap", 0.16}, {"scrum", 0.18}}) {
	case "lineout":
		return ours, "lineout", min(x+d.normal(24, 6), 95)
	case "tap":
		return ours, "tap", x
	}
	return ours, "scrum", min(x, 95)
}

// try adds a try, unless the half's clock is out of hand, and its conversion.
func (f *flow) try(d dice, p *possession, h, half int, second *int) {
	f.score(models.EventTry, p.ours, h, half, *second, p)
	*second += d.between(55, 85)
	if d.chance(0.62) {
		f.score(models.EventConversion, p.ours, h, half, *second, nil)
	}
}

func (f *flow) score(kind models.EventKind, ours bool, h, half, second int, from *possession) {
	f.scores = append(f.scores, score{kind, ours, models.Clock{Half: h, Second: second}, min(second, h*half-1), from})
}

// setUp is how many seconds go by before the ball is in play again.
func setUp(d dice, start string) int {
	switch start {
	case "scrum":
		return d.between(50, 75)
	case "lineout":
		return d.between(28, 45)
	case "restart":
		return d.between(25, 45)
	case "tap":
		return d.between(4, 10)
	}
	return d.between(2, 6)
}

// sources says which source of the ball each start of a possession is.
var sources = map[string]string{
	"scrum": "scrum", "lineout": "lineout", "restart": "restart", "tap": "restart", "kick_return": "kick",
	"turnover": "turnover",
}

// zoneOf returns the zone, seen from the squad, of a ball x metres from the goal line of the side that has it.
func zoneOf(x float64, ours bool) string {
	if !ours {
		x = 100 - x
	}
	switch {
	case x < 22:
		return "own_22"
	case x < 50:
		return "own_22_to_half"
	case x < 78:
		return "half_to_their_22"
	}
	return "their_22"
}
