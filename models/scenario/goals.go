package scenario

import (
	"slices"

	"throughline/models"
)

// A plan is a goal as coaches word it. Step is by how much the level should move, on the indicator's natural scale or
// in grades.
type plan struct {
	indicator, skill string
	step             float64
	why, actions     string
}

// plans are goals by position group. Those that only suit some groups stand with them.
var plans = map[models.Group][]plan{
	models.GroupFrontRow: {
		{indicator: "tackle_completion", step: 0.05, why: "You miss tackles close in, where you should be at your best.",
			actions: "Tracking drill twice a week, ten each side. In matches: feet first, then shoulder."},
		{indicator: "long_presentation", step: 0.10,
			why:     "When you win contact the ball is slow all the same, because it stays under you.",
			actions: "Five falls a side before every session. Reach for the toes of the scrum half."},
		{skill: "scrum", step: 0.5, why: "You will meet heavier packs in the spring and must keep your shape against them.",
			actions: "Two shape sessions a week with the front-row coach; one live, loads as agreed."},
		{indicator: "effective_arrivals", step: 0.06, why: "You are at many rucks and change too few of them.",
			actions: "Name the threat out loud before arriving. Review ten arrivals after each match."},
	},
	models.GroupSecondRow: {
		{indicator: "effective_arrivals", step: 0.06,
			why:     "You work hard to get there and then lean. The next step is to move an opponent.",
			actions: "Low approach from five metres, three times a week. Hips under shoulders."},
		{indicator: "first_arrivals", step: 0.06, why: "You are second to too many rucks after lineouts that you won.",
			actions: "On landing: look, go. Two good ones a week go into your folder at the club."},
		{skill: "lineout", step: 0.5, why: "You should run the calls next season.",
			actions: "Sit with the forwards' coach for the Thursday plan. Call the second-half lineouts in training."},
	},
	models.GroupBackRow: {
		{indicator: "tackles_won", step: 0.06, why: "You bring carriers down, but where they want to be.",
			actions: "Close the last two metres; shoulder on the ball side. Six live tackles a week within the load plan."},
		{indicator: "best_choice", step: 0.06, why: "You carry on autopilot when the player beside you is free.",
			actions: "Look before and after the catch. Say afterwards what you saw; the coach says nothing until then."},
		{indicator: "in_place", step: 0.07, why: "Your first job is good, the second is late.",
			actions: "Name the next place while getting up. Count your own in one match of three."},
	},
	models.GroupHalfBack: {
		{indicator: "pass_accuracy", step: 0.03, why: "The wide runners have to check for the ball.",
			actions: "Sixty passes a day off each hand, last twenty after a shuttle run."},
		{indicator: "released_at_line", step: 0.07, why: "You pass early, and their drift is never asked a question.",
			actions: "Two against two in the narrow channel. See the defender's number before you give it."},
		{indicator: "exits_completed", step: 0.08, why: "Exits come back at us through the middle.",
			actions: "Video of five exits each week with the back three. Ball and target named before the ruck."},
	},
	models.GroupCentre: {
		{indicator: "soft_contact", step: 0.08, why: "You are fast enough to be past people, and you run at them.",
			actions: "Late-feet ladder into pads; in matches pick a shoulder before the ball comes."},
		{indicator: "overlaps_finished", step: 0.08, why: "We get to the edge and do not use it.",
			actions: "Three on two, both sides, every Tuesday. Straighten before the pass."},
		{indicator: "best_choice", step: 0.06, why: "The right pass is seen a second late.",
			actions: "Scanning game in warm-ups. Two looks before each ball; team-mates call your misses."},
	},
	models.GroupBackThree: {
		{indicator: "clean_catch", step: 0.08, why: "Kicks at you are a plan that works at the moment.",
			actions: "Twenty contested high balls a week, ten in the rain if it rains. Call first."},
		{indicator: "tackle_completion", step: 0.06, why: "One on one in space your feet stop.",
			actions: "Channel drill, five metres wide, with the defence coach. Inside shoulder, feet alive."},
		{skill: "support_lines", step: 0.5, why: "Breaks are made inside you and you watch them.",
			actions: "Trailing runs at the end of each attack drill until it is a habit."},
	},
}

// castPlans are the goals of those who were made interesting on purpose, with the day on which each was set and by
// when.
var castPlans = map[part][]struct {
	plan
	set, by models.Date
	closed  models.Date // empty: still open
	outcome string
}{
	improver: {
		{plan{indicator: "contact_won", step: 0.10, why: "You are strong and willing, and go through the front door " +
			"every time. With feet you will win half of these.",
			actions: "Footwork into pads on Tuesdays with Siosaia. Pick a shoulder before the ball comes. Clips of your " +
				"best three after each match."},
			"2025-10-06", "2026-02-20", "2026-02-20", "Met, and it held over the harder matches too. Next: the same when " +
				"you are tired."},
		{plan{indicator: "long_presentation", step: 0.12,
			why:     "You win the contact now. The ball has to come back as well as you went in.",
			actions: "Five falls each side before training. Land facing our posts, ball at arm's length, one second."},
			"2026-01-12", "2026-05-09", "", ""},
		{plan{skill: "pass_or_carry", step: 0.5, why: "Defenders wait for you now. So a team-mate beside you must be free.",
			actions: "Two looks before each ball. In Thursday's game your carries only count after a pass."},
			"2026-02-23", "2026-05-16", "", ""},
	},
	fading: {
		{plan{indicator: "in_place", step: 0.08, why: "Your work between the moments was the best in the squad in " +
			"September and has slipped since.",
			actions: "Talk about sleep, school and load first. Then name the next place while getting up, in ten-minute " +
				"blocks, not whole matches."},
			"2026-01-19", "2026-04-24", "", ""},
	},
	steady: {
		{plan{indicator: "released_at_line", step: 0.06,
			why:     "You are reliable in all you do. This is what could make you dangerous.",
			actions: "Narrow-channel two on two, twice a week. One brave pass a half in matches."},
			"2025-11-03", "2026-03-27", "2026-03-30", "Not reached; about where you were. Keep it, with a smaller step, " +
				"after the summer."},
	},
	backFromSpell: {
		{plan{indicator: "clean_catch", step: 0.06, why: "You come back after two months. The ball in the air is where " +
			"you feel it.",
			actions: "Catching alone, then with a bag, then with a chaser; a step further only when you say so."},
			"2026-01-26", "2026-04-30", "", ""},
	},
	girlsFlyHalf: {
		{plan{indicator: "exits_completed", step: 0.07, why: "You see the space behind them before anyone. The ball does " +
			"not always get there.",
			actions: "Ten kicks to a marked channel after each session, five off each foot. Name the target first."},
			"2025-10-13", "2026-04-18", "", ""},
	},
	fewCarries: {
		{plan{indicator: "carries", step: 1.5, why: "You carry once or twice a match. You are hard to stop when you do, " +
			"and we do not find you.",
			actions: "Call for the ball from the second pod. The half-backs know: twice a half."},
			"2025-10-20", "2026-04-18", "", ""},
	},
}

// goals fills in goals and check-ins.
func (s *simulation) goals() {
	for i, p := range s.Players {
		d := stream(s.seed, "goals", p.ID)
		if planned, ok := castPlans[s.parts[i]]; ok {
			for _, c := range planned {
				g := s.goal(d, p, c.plan, c.set, c.by)
				if c.closed != "" {
					closed := c.closed
					g.ClosedOn, g.Outcome = &closed, c.outcome
				}
				s.agree(d, g)
			}
			continue
		}
		if s.parts[i] != ordinary || !d.chance(0.45) {
			continue
		}
		set := models.Date("2025-09-29").AddDays(d.between(0, 130))
		by := set.AddDays(d.between(70, 130))
		g := s.goal(d, p, pick(d, plans[p.Group()]), set, min(by, seasonEnd))
		if g.By < s.Today && d.chance(0.65) {
			closed := min(g.By.AddDays(d.between(0, 4)), s.Today)
			g.ClosedOn, g.Outcome = &closed, pick(d, outcomes[s.moved(&g)])
		}
		s.agree(d, g)
	}
}

// goal words a plan for a player. The baseline is what the coach believes the level to be.
func (s *simulation) goal(d dice, p models.Player, with plan, set, by models.Date) models.Goal {
	g := models.Goal{
		PlayerID: p.ID, OwnerID: pick(d, coachesOf(s.squadOf[p.ID-1])), Indicator: with.indicator, Skill: with.skill,
		SetOn: set, By: by, Why: with.why, Actions: with.actions,
	}
	baseline := 0.0
	if with.skill != "" {
		for _, l := range s.Truth.Skills {
			if l.Player == p.ID && l.Skill == with.skill {
				baseline = round(l.Start+d.normal(0, 0.2), 1)
			}
		}
		g.Target = min(baseline+with.step, 5)
	} else {
		l, _ := s.Truth.Level(p.ID, with.indicator)
		t := min(max(elapsed(set), 0), 1)
		baseline = round(l.Start+t*l.Change()+d.normal(0, with.step/4), 2)
		g.Target = round(baseline+with.step, 2)
		if with.step < 1 {
			g.Target = min(g.Target, 0.97)
			baseline = min(baseline, g.Target-0.02)
		}
	}
	baseline = round(max(baseline, 0), 2)
	if with.skill != "" {
		baseline = min(max(baseline, 1), 5)
	}
	g.Baseline = &baseline
	return g
}

// The ways in which a goal goes.
const (
	goingWell = iota
	goingOn
	goingBadly
)

// moved says how a goal goes, by what the player's true level does.
func (s *simulation) moved(g *models.Goal) int {
	change, step := 0.0, g.Target-*g.Baseline
	for _, l := range s.Truth.Skills {
		if l.Player == g.PlayerID && l.Skill == g.Skill {
			change = l.Now - l.Start
		}
	}
	if g.Indicator != "" {
		l, _ := s.Truth.Level(g.PlayerID, g.Indicator)
		change = l.Change()
	}
	switch {
	case change > 0.5*step:
		return goingWell
	case change < -0.3*step:
		return goingBadly
	}
	return goingOn
}

// agree keeps a goal, and checks in on it every few weeks.
func (s *simulation) agree(d dice, g models.Goal) {
	g.Record = local(int64(len(s.Goals) + 1))
	s.Goals = append(s.Goals, g)
	last := min(g.By, s.Today)
	if g.ClosedOn != nil {
		last = min(*g.ClosedOn, last)
	}
	said := -1
	for day := g.SetOn.AddDays(d.between(18, 30)); day < last; day = day.AddDays(d.between(24, 42)) {
		texts := checkInTexts[s.moved(&g)]
		n := d.IntN(len(texts))
		if n == said {
			n = (n + 1) % len(texts)
		}
		said = n
		text := texts[n]
		if d.chance(0.35) {
			text += " You said: " + pick(d, own)
		}
		s.checkIn(g.ID, g.OwnerID, day, text)
	}
}

func (s *simulation) checkIn(goal, author int64, day models.Date, text string) {
	s.CheckIns = append(s.CheckIns, models.CheckIn{
		Record: local(int64(len(s.CheckIns) + 1)), GoalID: goal, AuthorID: author, Date: day, Text: text,
	})
}

var checkInTexts = [...][]string{
	goingWell: {
		"You can see it in matches now, not only in training. Keep going.",
		"Three good ones in a row against strong opponents. The habit is coming.",
		"Ahead of where we hoped to be. Good that you ask for the clips.",
		"Good block. Next step: the same in the last twenty minutes.",
	},
	goingOn: {
		"You work at it every session. Not in the matches yet; give it time.",
		"Up one week, down the next. We stay with the same two cues.",
		"Fewer chances to show it than we thought. We talked about how you can make more.",
		"Steady. Changed the drill so that it looks more like the match.",
	},
	goingBadly: {
		"Going the wrong way, and you know. We took one of the two cues away.",
		"We talked about the rest first: school, sleep, how many matches. Then about this.",
		"Tired at the moment. Less of it, better.",
	},
}

// own is what players say themselves.
var own = []string{
	"you felt it in the second half on Saturday, and still think about it too much.",
	"it is easier on the left, and you want extra on the right.",
	"it is better when you look before the ball comes, and you forget when it gets quick.",
	"you want to see the clips.",
}

var outcomes = [...][]string{
	goingWell: {"Met. It holds up against good opponents.", "Met, and early. You chose the next one.",
		"Close enough to call it done; the level is there, match after match."},
	goingOn: {"Not reached. Some of it is there; we go on with a smaller step.",
		"About where you were. The drill was right, the matches gave few chances.",
		"Half way. We keep the actions and drop the date."},
	goingBadly: {"Not reached. Other things come first at the moment.", "Put aside: too much at once."},
}

// openGoals returns the goals of a player that are open on a day.
func (s *simulation) openGoals(player int64, day models.Date) []models.Goal {
	return slices.DeleteFunc(slices.Clone(s.Goals), func(g models.Goal) bool {
		return g.PlayerID != player || g.SetOn > day || g.ClosedOn != nil && *g.ClosedOn < day
	})
}
