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
		{indicator: "tackle_completion", step: 0.05, why: "Tackles are missed close in, where he should be at his best.",
			actions: "Tracking drill twice a week, ten each side. In matches: feet first, then shoulder."},
		{indicator: "long_presentation", step: 0.10,
			why:     "When he wins contact the ball is slow all the same, because it stays under him.",
			actions: "Five falls a side before every session. Reach for the toes of the scrum half."},
		{skill: "scrum", step: 0.5, why: "Will meet heavier packs in the spring and must keep his shape against them.",
			actions: "Two shape sessions a week with the front-row coach; one live, loads as agreed."},
		{indicator: "effective_arrivals", step: 0.06, why: "Is at many rucks and changes too few of them.",
			actions: "Name the threat out loud before arriving. Review ten arrivals after each match."},
	},
	models.GroupSecondRow: {
		{indicator: "effective_arrivals", step: 0.06,
			why:     "Works hard to get there and then leans. The next step is to move somebody.",
			actions: "Low approach from five metres, three times a week. Hips under shoulders."},
		{indicator: "first_arrivals", step: 0.06, why: "Second to too many rucks after lineouts that he won himself.",
			actions: "On landing: look, go. Clip of two good ones a week to his phone-free folder at the club."},
		{skill: "lineout", step: 0.5, why: "Should run the calls next season.",
			actions: "Sits with the forwards' coach for the Thursday plan; calls the second-half lineouts in training."},
	},
	models.GroupBackRow: {
		{indicator: "tackles_won", step: 0.06, why: "Brings carriers down, but where they want to be.",
			actions: "Close the last two metres; shoulder on the ball side. Six live tackles a week within the load plan."},
		{indicator: "best_choice", step: 0.06, why: "Carries on autopilot when somebody beside him is free.",
			actions: "Look before and after the catch. Says afterwards what he saw; the coach says nothing until then."},
		{indicator: "in_place", step: 0.07, why: "The first job is good, the second is late.",
			actions: "Name the next place while getting up. Counts his own for one match in three."},
	},
	models.GroupHalfBack: {
		{indicator: "pass_accuracy", step: 0.03, why: "The wide runners have to check for the ball.",
			actions: "Sixty passes a day off each hand, last twenty after a shuttle run."},
		{indicator: "released_at_line", step: 0.07, why: "Passes early, and their drift is never asked a question.",
			actions: "Two against two in the narrow channel. Sees the defender's number before he gives it."},
		{indicator: "exits_completed", step: 0.08, why: "Exits come back at us through the middle.",
			actions: "Video of five exits each week with the back three. Ball and target named before the ruck."},
	},
	models.GroupCentre: {
		{indicator: "soft_contact", step: 0.08, why: "Fast enough to be past people, and runs at them.",
			actions: "Late-feet ladder into pads; in matches pick a shoulder before the ball comes."},
		{indicator: "overlaps_finished", step: 0.08, why: "We get to the edge and do not use it.",
			actions: "Three on two, both sides, every Tuesday. Straighten before the pass."},
		{indicator: "best_choice", step: 0.06, why: "The right pass is seen a second late.",
			actions: "Scanning game in warm-ups. Two looks before each ball; team-mates call his misses."},
	},
	models.GroupBackThree: {
		{indicator: "clean_catch", step: 0.08, why: "Kicks at him are a plan that works at the moment.",
			actions: "Twenty contested high balls a week, ten in the rain if it rains. Call first."},
		{indicator: "tackle_completion", step: 0.06, why: "One on one in space he stops his feet.",
			actions: "Channel drill, five metres wide, with the defence coach. Inside shoulder, feet alive."},
		{skill: "support_lines", step: 0.5, why: "Breaks are made inside him and he watches them.",
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
		{plan{indicator: "contact_won", step: 0.10, why: "Strong and willing, and goes through the front door every time. " +
			"With feet he will win half of these.",
			actions: "Footwork into pads on Tuesdays with Siosaia; picks a shoulder before the ball comes; clips of his own " +
				"best three after each match."},
			"2025-10-06", "2026-02-20", "2026-02-20", "Met, and it held over the harder matches too. Next: the same when " +
				"he is tired."},
		{plan{indicator: "long_presentation", step: 0.12,
			why:     "Wins the contact now. The ball has to come back as well as he went in.",
			actions: "Five falls each side before training. Land facing our posts, ball at arm's length, one second."},
			"2026-01-12", "2026-05-09", "", ""},
		{plan{skill: "pass_or_carry", step: 0.5, why: "Defenders wait for him now. Somebody beside him must be free.",
			actions: "Two looks before each ball. In Thursday's game his carries only count after a pass."},
			"2026-02-23", "2026-05-16", "", ""},
	},
	fading: {
		{plan{indicator: "in_place", step: 0.08, why: "His work between the moments was the best in the squad in " +
			"September and has slipped since.",
			actions: "Talk about sleep, school and load first. Then: next place named while getting up; ten-minute blocks, " +
				"not whole matches."},
			"2026-01-19", "2026-04-24", "", ""},
	},
	steady: {
		{plan{indicator: "released_at_line", step: 0.06,
			why:     "Reliable in all he does. This is what could make him dangerous.",
			actions: "Narrow-channel two on two, twice a week. One brave pass a half in matches."},
			"2025-11-03", "2026-03-27", "2026-03-30", "Not reached; about where he was. Keep it, with a smaller step, after " +
				"the summer."},
	},
	backFromSpell: {
		{plan{indicator: "clean_catch", step: 0.06, why: "Comes back after two months. The ball in the air is where " +
			"he feels it.",
			actions: "Catching alone, then with a bag, then with a chaser; a step further only when he says so."},
			"2026-01-26", "2026-04-30", "", ""},
	},
	fewCarries: {
		{plan{indicator: "carries", step: 1.5, why: "Carries once or twice a match. He is hard to stop when he does, and " +
			"nobody finds him.",
			actions: "Calls for the ball from the second pod. Half-backs know: twice a half."},
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
			closed := g.By.AddDays(d.between(0, 4))
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
			text += " He says: " + pick(d, own)
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
		"Ahead of where we hoped to be. He asks for the clips himself.",
		"Good block. Next step: the same in the last twenty minutes.",
	},
	goingOn: {
		"Works at it every session. Not in the matches yet; give it time.",
		"Up one week, down the next. We stay with the same two cues.",
		"Fewer chances to show it than we thought. Talked about how he can make more.",
		"Steady. Changed the drill so that it looks more like the match.",
	},
	goingBadly: {
		"Going the wrong way, and he knows. Took one of the two cues away.",
		"Talked first about everything else: school, sleep, how many matches. Then about this.",
		"Tired at the moment. Less of it, better.",
	},
}

// own is what players say themselves.
var own = []string{
	"felt it in the second half on Saturday, and still think about it too much.",
	"easier on the left; wants extra on the right.",
	"better when looking before the ball comes, and forgotten when it gets quick.",
	"wants to see the clips.",
}

var outcomes = [...][]string{
	goingWell: {"Met. It holds up against good opponents.", "Met, and early. He chose the next one himself.",
		"Close enough to call it done; the level is there, match after match."},
	goingOn: {"Not reached. Some of it is there; carried on with a smaller step.",
		"About where he was. The drill was right, the matches gave few chances.",
		"Half way. We keep the actions and drop the date."},
	goingBadly: {"Not reached. Other things come first at the moment.", "Put aside: too much at once."},
}

// openGoals returns the goals of a player that are open on a day.
func (s *simulation) openGoals(player int64, day models.Date) []models.Goal {
	return slices.DeleteFunc(slices.Clone(s.Goals), func(g models.Goal) bool {
		return g.PlayerID != player || g.SetOn > day || g.ClosedOn != nil && *g.ClosedOn < day
	})
}
