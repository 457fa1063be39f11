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
		{indicator: "tackle_completion", step: 0.05,
			why:     "You're missing tackles close in, where you should be at your best.",
			actions: "Tracking drill twice a week, ten each side. In matches: feet first, then shoulder."},
		{indicator: "long_presentation", step: 0.10,
			why:     "Even when you win the contact the ball comes back slowly, because it stays under you.",
			actions: "Five falls a side before every session. Reach for the scrum half's toes."},
		{skill: "scrum", step: 0.5, why: "You'll meet heavier packs in the spring, and you need to hold your shape " +
			"against them.",
			actions: "Two shape sessions a week with the front-row coach, one of them live, at the load we agreed."},
		{indicator: "effective_arrivals", step: 0.06, why: "You get to a lot of rucks but don't change enough of them.",
			actions: "Call out the threat before you arrive. Go through ten arrivals after each match."},
	},
	models.GroupSecondRow: {
		{indicator: "effective_arrivals", step: 0.06,
			why:     "You work hard to get there and then you just lean. The next step is to move an opponent.",
			actions: "Come in low from five metres, three times a week. Hips below shoulders."},
		{indicator: "first_arrivals", step: 0.06, why: "You're second to too many rucks after lineouts you've won.",
			actions: "When you land: look, then go. Put two good ones a week in your folder."},
		{skill: "lineout", step: 0.5, why: "I'd like you to run the calls next season.",
			actions: "Sit in on the forwards' plan on Thursdays. Call the second-half lineouts in training."},
	},
	models.GroupBackRow: {
		{indicator: "tackles_won", step: 0.06, why: "You bring carriers down, but on their terms.",
			actions: "Close the last two metres, shoulder on the ball side. Six live tackles a week, within your load plan."},
		{indicator: "best_choice", step: 0.06, why: "You carry on autopilot when the player next to you is free.",
			actions: "Look before and after the catch. Then tell us what you saw, before we say anything."},
		{indicator: "in_place", step: 0.07, why: "Your first job is good. Your second one is late.",
			actions: "Say where you're going while you get up. Count your own in every third match."},
	},
	models.GroupHalfBack: {
		{indicator: "pass_accuracy", step: 0.03, why: "Your wide runners have to slow down for the ball.",
			actions: "Sixty passes a day off each hand, the last twenty after a shuttle run."},
		{indicator: "released_at_line", step: 0.07, why: "You pass so early that their drift never has to make a decision.",
			actions: "Two against two in a narrow channel. See the defender's number before you pass."},
		{indicator: "exits_completed", step: 0.08, why: "Our exits keep coming back at us through the middle.",
			actions: "Watch five exits a week with the back three. Call the kick and the target before the ruck."},
	},
	models.GroupCentre: {
		{indicator: "soft_contact", step: 0.08, why: "You're fast enough to go past people, and you run at them.",
			actions: "Late-feet ladder into pads. In matches, pick a shoulder before the ball comes."},
		{indicator: "overlaps_finished", step: 0.08, why: "We get to the edge and then waste it.",
			actions: "Three on two, both sides, every Tuesday. Straighten before you pass."},
		{indicator: "best_choice", step: 0.06, why: "You see the right pass a second late.",
			actions: "Scanning game in warm-ups. Two looks before each ball; your team-mates call the ones you miss."},
	},
	models.GroupBackThree: {
		{indicator: "clean_catch", step: 0.08, why: "Teams are kicking at you, and at the moment it works.",
			actions: "Twenty contested high balls a week, ten of them in the rain if we get any. Call first."},
		{indicator: "tackle_completion", step: 0.06, why: "One on one in space, your feet stop.",
			actions: "Channel drill with the defence coach, five metres wide. Inside shoulder, feet alive."},
		{skill: "support_lines", step: 0.5, why: "We make breaks inside you and you stand and watch.",
			actions: "Trail the ball at the end of every attack drill until it's a habit."},
	},
}

// castPlans are the goals of those who were made interesting on purpose, with the day on which each was set and by
// when.
var castPlans = map[part][]struct {
	plan
	set, by models.Date
	closed  models.Date // empty: still open
	result  models.GoalResult
	outcome string
}{
	improver: {
		{plan{indicator: "contact_won", step: 0.10, why: "You're strong and you want it, but you go through the front " +
			"door every time. With better feet you'll win half of these.",
			actions: "Footwork into pads on Tuesdays with Siosaia. Pick a shoulder before the ball comes. Clips of your " +
				"best three after each match."},
			"2025-10-06", "2026-02-20", "2026-02-20", models.GoalMet,
			"Done, and it held up in the harder matches too. Next: do it when " +
				"you're tired."},
		{plan{indicator: "long_presentation", step: 0.12,
			why:     "You win the contact now. Next, make the ball come back as well as you went in.",
			actions: "Five falls each side before training. Land facing our posts, ball at arm's length within a second."},
			"2026-01-12", "2026-05-09", "", "", ""},
		{plan{skill: "pass_or_carry", step: 0.5, why: "Defenders wait for you now, so someone next to you must be free.",
			actions: "Two looks before each ball. In Thursday's game your carries only count after a pass."},
			"2026-02-23", "2026-05-16", "", "", ""},
	},
	fading: {
		{plan{indicator: "in_place", step: 0.08, why: "In September your work between the big moments was the best in the " +
			"squad. It's slipped since.",
			actions: "First we talk about sleep, school and load. Then, in ten-minute blocks, say where you're going while " +
				"you get up."},
			"2026-01-19", "2026-04-24", "", "", ""},
	},
	steady: {
		{plan{indicator: "released_at_line", step: 0.06,
			why:     "You're reliable in everything you do. This could make you dangerous.",
			actions: "Narrow-channel two on two, twice a week. In matches, one brave pass per half."},
			"2025-11-03", "2026-03-27", "2026-03-30", models.GoalNotMet,
			"Not there yet, about the same as when we started. Let's keep it after " +
				"the summer, with a smaller step."},
	},
	backFromSpell: {
		{plan{indicator: "clean_catch", step: 0.06, why: "You're back after two months out, and you feel it most under " +
			"the high ball.",
			actions: "Catch on your own, then with a bag, then with a chaser. We go a step further only when you say so."},
			"2026-01-26", "2026-04-30", "", "", ""},
	},
	girlsFlyHalf: {
		{plan{indicator: "exits_completed", step: 0.07,
			why:     "You see the space behind them before anyone else. The ball doesn't always get there.",
			actions: "Ten kicks into a marked channel after each session, five off each foot. Call the target first."},
			"2025-10-13", "2026-04-18", "", "", ""},
	},
	fewCarries: {
		{plan{indicator: "carries", step: 1.5, why: "You only carry once or twice a match. You're hard to stop when you " +
			"do, but we don't find you.",
			actions: "Call for the ball from the second pod, twice a half. The half-backs know."},
			"2025-10-20", "2026-04-18", "", "", ""},
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
					g.ClosedOn, g.Result, g.Outcome = &closed, c.result, c.outcome
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
			way := s.moved(&g)
			g.ClosedOn, g.Result, g.Outcome = &closed, results[way], pick(d, outcomes[way])
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
	g.Baseline, g.BaselineReason = &baseline, pick(d, baselineReasons)
	return g
}

// baselineReasons are why coaches typed where a player starts: these goals are older than the trends.
var baselineReasons = []string{
	"Set from video before there was a trend.",
	"What I saw in the first matches; there was no trend yet.",
	"Agreed with the other coaches, before the figures were fitted.",
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
			text += " You said " + pick(d, own)
		}
		s.checkIn(g.ID, g.OwnerID, day, text)
	}
}

func (s *simulation) checkIn(goal, author int64, day models.Date, text string) {
	s.CheckIns = append(s.CheckIns, models.CheckIn{
		Record: local(int64(len(s.CheckIns) + 1)), GoalID: goal, AuthorID: author, Date: day, Text: text,
		Shared: true,
	})
}

var checkInTexts = [...][]string{
	goingWell: {
		"You can see it in matches now, not just in training. Keep going.",
		"Three good ones in a row against strong sides. It's becoming a habit.",
		"You're ahead of where we hoped you'd be. I like that you ask for the clips.",
		"Good block. Now do it in the last twenty minutes.",
	},
	goingOn: {
		"You work at it every session. It's not there in matches yet; give it time.",
		"Up one week, down the next. We'll stick to the same two cues.",
		"You've had fewer chances to show it than we thought. We talked about how to make more.",
		"Steady. We changed the drill to make it more like a match.",
	},
	goingBadly: {
		"It's going the wrong way, and you know it. We've dropped one of the two cues.",
		"We talked about everything else first: school, sleep, how many matches. Then about this.",
		"You're tired at the moment. Do less, but do it well.",
	},
}

// own is what players say themselves.
var own = []string{
	"you felt it in the second half on Saturday, but you still think about it too much.",
	"it's easier on the left, and you want extra work on the right.",
	"it's better when you look before the ball comes, but you forget when it gets quick.",
	"you want to see the clips.",
}

// results are how a goal ends, by the way that it goes.
var results = [...]models.GoalResult{goingWell: models.GoalMet, goingOn: models.GoalNotMet,
	goingBadly: models.GoalDropped}

var outcomes = [...][]string{
	goingWell: {"Done. It holds up against good sides.", "Done, and early. You chose the next one.",
		"Close enough to call it done. You're there match after match."},
	goingOn: {"Not there yet, but part of it is. Let's carry on with a smaller step.",
		"About where you were. The drill was right, but you got few chances in matches.",
		"Halfway there. We'll keep the work and drop the date."},
	goingBadly: {"Not there yet. Other things come first at the moment.", "We've parked it: too much at once."},
}

// openGoals returns the goals of a player that are open on a day.
func (s *simulation) openGoals(player int64, day models.Date) []models.Goal {
	return slices.DeleteFunc(slices.Clone(s.Goals), func(g models.Goal) bool {
		return g.PlayerID != player || g.SetOn > day || g.ClosedOn != nil && *g.ClosedOn < day
	})
}
