package scenario

import (
	"maps"
	"math"
	"slices"

	"throughline/models"
)

// blocks are the training blocks of the year, each with its last day.
var blocks = []struct {
	name string
	last models.Date
}{
	{"Pre-season", "2025-09-03"},
	{"Autumn block", "2025-10-22"},
	{"Winter block", "2025-12-17"},
	{"New Year block", "2026-02-11"},
	{"Spring block", "2026-04-22"},
}

// Grades: between players and coaches, and what is left over.
const (
	skillSD      = 0.55
	skillSlope   = 0.30
	severitySD   = 0.35
	gradeNoise   = 0.55
	matchNoise   = 0.65
	selfNoise    = 0.60
	selfOptimism = 0.25 // players grade themselves a little higher than coaches do (*common practice*)
)

// reads is what coaches read otherwise than the words of one skill: by how much their grades of it differ from what
// they give elsewhere. One of the two looks for the clear-out, the other for who stays out of a lost ruck, so that
// there is something to talk about.
var reads = map[int64]map[string]float64{lanyon: {"breakdown": 0.6}, vaomotu: {"breakdown": -0.7}}

// skillTraits are the traits that a skill shows: a coach grades a player by what the player does.
var skillTraits = map[string][]int{
	"footwork_into_contact": {softContact, contactWon},
	"pass_or_carry":         {bestChoice, overlapsFinished},
	"breakdown":             {effectiveArrivals, firstArrivals},
	"presentation":          {longPresentation},
	"work_off_ball":         {inPlace, repositions},
	"support_lines":         {supportLines, usefulSupport},
	"tackle":                {tackleCompletion, tacklesWon},
	"catch_under_pressure":  {cleanCatch},
}

// skillTruth draws a player's true level of a skill on the scale of grades. It leans on the traits that the skill
// shows, in units of their standard deviations.
func (s *simulation) skillTruth(player int64, skill string, number int64) SkillLevel {
	d := stream(s.seed, "skill", player, number)
	i := player - 1
	level, slope := 0.4*s.quality[i]+0.8*d.NormFloat64(), 0.6*d.NormFloat64()
	if shown := skillTraits[skill]; len(shown) > 0 {
		level, slope = 0.5*level, 0.4*slope
		for _, n := range shown {
			level += 0.7 * s.traits[i].level[n] / allTraits[n].level / float64(len(shown))
			slope += 0.8 * s.traits[i].slope[n] / allTraits[n].slope / float64(len(shown))
		}
	}
	if s.parts[i] == steady {
		slope = 0
	}
	start := 2.8 + skillSD*level
	return SkillLevel{player, skill, round(start, 6), round(min(max(start+skillSlope*slope, 1), 5), 6)}
}

// ratings is what coaches and some players think: two or three coaches for every training block and some of the
// matches.
func (s *simulation) ratings() {
	d := stream(s.seed, "severity")
	severity := map[int64]float64{}
	for _, coach := range []int64{tindle, lanyon, brackett, vaomotu, oldcastle} {
		severity[coach] = round(d.normal(0, severitySD), 6)
	}
	// One is known to be hard to please and one to be kind, whatever the seed.
	severity[vaomotu], severity[tindle] = -0.45, 0.4
	for _, coach := range []int64{tindle, lanyon, brackett, vaomotu, oldcastle} {
		s.Truth.Severity = append(s.Truth.Severity, Severity{coach, severity[coach]})
	}
	for _, coach := range slices.Sorted(maps.Keys(reads)) {
		for _, skill := range slices.Sorted(maps.Keys(reads[coach])) {
			s.Truth.Readings = append(s.Truth.Readings, Reading{coach, skill, reads[coach][skill]})
		}
	}
	skills := map[int64][]SkillLevel{}
	for _, p := range s.Players {
		for n, skill := range models.SkillCatalogue() {
			if len(skill.Groups) > 0 && !slices.Contains(skill.Groups, p.Group()) {
				continue
			}
			level := s.skillTruth(p.ID, skill.Code, int64(n))
			s.Truth.Skills = append(s.Truth.Skills, level)
			skills[p.ID] = append(skills[p.ID], level)
		}
	}
	for n, block := range blocks {
		for _, p := range s.Players {
			s.blockRatings(stream(s.seed, "block", int64(n), p.ID), p, n, block.name, block.last, skills[p.ID], severity)
		}
	}
	for _, squad := range []int64{under16, under18, senior, under18Girls} {
		for n, m := range s.matchesOf(squad) {
			if n%6 == 3 {
				s.matchRatings(m, skills, severity)
			}
		}
	}
}

// grade is a grade that a coach gives: from the player's level on the day, how severe the coach is, and what they
// happened to see.
func grade(d dice, l SkillLevel, day models.Date, severity, noise float64) int {
	t := min(max(elapsed(day), 0), 1)
	x := l.Start + (l.Now-l.Start)*t + severity + d.normal(0, noise)
	return int(min(max(math.Round(x), 1), 5))
}

func (s *simulation) blockRatings(d dice, p models.Player, n int, name string, last models.Date, levels []SkillLevel,
	severity map[int64]float64) {
	squad := s.squadOf[p.ID-1]
	if s.joined(p.ID) > last || s.status(p.ID, last) == models.Unavailable {
		return
	}
	_, headline := models.Headlines(p.Group())
	coaches := coachesOf(squad)
	if s.parts[p.ID-1] == ordinary {
		other := 1 + d.IntN(len(coaches)-1)
		coaches = []int64{coaches[0], coaches[other]}
	}
	count := 3
	if s.parts[p.ID-1] != ordinary {
		count = 5
	}
	// Not every skill every time: they take turns.
	var chosen []string
	for i := range count {
		chosen = append(chosen, headline[(i+n*2)%len(headline)])
	}
	if s.parts[p.ID-1] == improver && !slices.Contains(chosen, "footwork_into_contact") {
		chosen[len(chosen)-1] = "footwork_into_contact"
	}
	for _, coach := range coaches {
		for _, l := range levels {
			if !slices.Contains(chosen, l.Skill) || d.chance(0.06) {
				continue
			}
			g := grade(d, l, last, severity[coach]+reads[coach][l.Skill], gradeNoise)
			s.rate(models.Rating{PlayerID: p.ID, RaterID: coach, Skill: l.Skill, Grade: g, Comment: comment(d, l.Skill, g),
				Date: last, Block: name})
		}
	}
	user, signsIn := s.userOf[p.ID]
	if !signsIn || n%2 == 1 && d.chance(0.5) {
		return
	}
	for _, l := range levels {
		if slices.Contains(chosen, l.Skill) {
			g := grade(d, l, last, selfOptimism, selfNoise)
			s.rate(models.Rating{PlayerID: p.ID, RaterID: user, Skill: l.Skill, Grade: g, Date: last, Block: name, Self: true})
		}
	}
}

// matchRatings is what two coaches gave after a match to everybody who played for half of it.
func (s *simulation) matchRatings(m *models.Match, skills map[int64][]SkillLevel, severity map[int64]float64) {
	coaches := coachesOf(*m.SquadID)
	for i := range s.Plays {
		a := &s.Plays[i].Appearance
		if a.MatchID != m.ID || a.Minutes < float64(m.FullMatch())/2 {
			continue
		}
		d := stream(s.seed, "match rating", m.ID, a.PlayerID)
		_, headline := models.Headlines(s.Players[a.PlayerID-1].Group())
		skill := headline[d.IntN(min(4, len(headline)))]
		for _, l := range skills[a.PlayerID] {
			if l.Skill != skill {
				continue
			}
			for _, coach := range []int64{coaches[0], coaches[1+d.IntN(len(coaches)-1)]} {
				id := m.ID
				g := grade(d, l, m.Date, severity[coach]+reads[coach][skill], matchNoise)
				s.rate(models.Rating{PlayerID: a.PlayerID, RaterID: coach, Skill: skill, Grade: g, Comment: comment(d, skill, g),
					Date: m.Date, MatchID: &id})
			}
		}
	}
}

func (s *simulation) rate(r models.Rating) {
	r.Record = local(int64(len(s.Ratings) + 1))
	s.Ratings = append(s.Ratings, r)
}

// joined is the day on which a player joined their own squad.
func (s *simulation) joined(player int64) models.Date {
	for _, m := range s.Memberships {
		if m.PlayerID == player {
			return m.From
		}
	}
	return seasonStart
}

// comment is a word with a grade; most grades go without.
func comment(d dice, skill string, grade int) string {
	if !d.chance(0.12) {
		return ""
	}
	said, ok := comments[skill]
	if !ok {
		return ""
	}
	switch {
	case grade <= 2:
		return pick(d, said.poor)
	case grade == 3:
		return pick(d, said.fair)
	}
	return pick(d, said.good)
}

// comments are what coaches say about a skill, in training and in review.
var comments = map[string]struct{ poor, fair, good []string }{
	"footwork_into_contact": {
		[]string{"Sees the tackler, not the space next to them.", "Upright just when it matters.",
			"Steps in the warm-up, not in the game."},
		[]string{"Finds a shoulder when there is room. Needs to do it in traffic too.",
			"Left foot is fine. Right foot next.",
			"Better in the first half than in the second."},
		[]string{"Late feet, low hips, and wins ground after contact.", "Picks the move to suit the tackler.",
			"Makes set defenders turn."},
	},
	"pass_or_carry": {
		[]string{"Has decided before the ball comes.", "Does not look outside once.",
			"Takes contact when a pass is on."},
		[]string{"Chooses right with time, plays safe without it.", "Looks once. Needs to look twice.",
			"Chooses well close in, less well out wide."},
		[]string{"Holds the defender, then gives.", "Changes plan when the picture changes.",
			"Gets the ball to others when they are free."},
	},
	"breakdown": {
		[]string{"Gets there late and high.", "Gives away one penalty too many.", "Stays lying where the tackle ends."},
		[]string{"Finds the threat most of the time.", "On their feet and legal. Could be a step quicker.",
			"Leaves the lost ones alone now. Good."},
		[]string{"First there, and low.", "Knows which ones can be won.", "Clear-outs speed up our ball."},
	},
	"presentation": {
		[]string{"The ball stays under the body.", "Loses the ball on the ground when hit side-on."},
		[]string{"Good after winning contact, slow after losing it.", "Long, but a second late."},
		[]string{"Long and quick, even from two tacklers.", "Scrum half never has to dig."},
	},
	"work_off_ball": {
		[]string{"Walks once the job is done.", "Watches the ruck instead of getting to the next place.",
			"Has to be called every time."},
		[]string{"In place in most phases. Drops off in long passages.", "Talks well when fresh.",
			"Second half is a different player."},
		[]string{"Up and gone before the ball is played.", "Gets others into place too.",
			"Same effort in the last ten as in the first."},
	},
	"support_lines": {
		[]string{"Ahead of the ball too often.", "Follows play instead of reading it."},
		[]string{"An option in most phases.", "Good depth. Call earlier."},
		[]string{"Defenders have to watch the run whether or not the ball comes.", "There after every break."},
	},
	"tackle": {
		[]string{"Feet stop, arms reach. Back to basics this block.",
			"Head on the wrong side twice. Stopped and corrected at once."},
		[]string{"Brings them down, but on their terms.", "Safe and honest. Now needs to decide where the tackle ends."},
		[]string{"Closes the space first, hits low.", "Dominant without being reckless."},
	},
	"catch_under_pressure": {
		[]string{"Lets it bounce.", "Hands come up late under a chaser."},
		[]string{"Good on the ground, unsure in the air.", "Needs to call louder."},
		[]string{"Owns the air.", "Lands ready to play."},
	},
	"scrum": {
		[]string{"Loses shape when the weight comes on.", "Too high at the set."},
		[]string{"Steady on our ball.", "Holds firm. Wants to learn the second shove."},
		[]string{"Goes forward against equal packs.", "Solves a problem in two scrums."},
	},
	"lineout": {
		[]string{"Doesn't know the calls.", "Timing with the throw is off."},
		[]string{"Does the job. Slow when the call changes.", "Safe lift, could be quicker."},
		[]string{"Reliable under contest.", "Reads their call before they throw."},
	},
	"maul": {
		[]string{"Stands up in the maul.", "Joins where it is not going."},
		[]string{"Binds low and drives with us.", "Useful in defence now."},
		[]string{"Steers it.", "Takes theirs apart, and legally."},
	},
}
