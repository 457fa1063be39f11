package scenario

import (
	"cmp"
	"slices"
	"time"

	"throughline/models"
)

// A written note is a coach's note on one of the cast.
type written struct {
	day    models.Date
	author int64
	shared bool
	skill  string
	goal   int  // which of the player's goals it is on, from 1; 0 for none
	about  bool // the last match before the day
	text   string
	follow models.Date
}

// castNotes tell the story of those who were made interesting on purpose.
var castNotes = map[part][]written{
	improver: {
		{"2025-09-23", vaomotu, true, "footwork_into_contact", 0, true,
			"You go through the front door because you're strong. In two years they'll all be as strong. Look at your carry " +
				"just before half-time: there was a metre of grass next to the tackler. Come ten minutes early on Tuesday and " +
				"we'll start on your feet.", ""},
		{"2025-11-10", vaomotu, true, "footwork_into_contact", 1, true,
			"When you went to the soft shoulder we got over the gain line with quick ball. The other carries were still dead " +
				"straight. Same two cues: pick a shoulder before the ball comes, last step late.", "2025-12-08"},
		{"2025-12-09", lanyon, false, "", 0, false, "Takes coaching better than anyone in this group. Careful with the " +
			"extra sessions: they'd be every day if we let them. Two a week, no more.", ""},
		{"2026-01-20", vaomotu, true, "footwork_into_contact", 1, true,
			"That was a hard match and you still did it. I counted four steps off the left foot. Now keep them guessing: " +
				"right foot as well.", ""},
		{"2026-02-23", lanyon, true, "presentation", 2, true,
			"You get in behind them more often than not now. Have a look at what happens next: the ball is under you too " +
				"often. We'll work on it the way we did your feet, five falls a side before we start.", "2026-03-23"},
		{"2026-03-24", lanyon, true, "pass_or_carry", 3, true,
			"They sent two at you all afternoon, so one of us was free. When you saw it you gave it, and you had time. More " +
				"of that, please.", ""},
		{"2026-04-28", tindle, false, "", 0, false, "I'd put this name forward for the spring meeting. We've seen it all " +
			"season, and not only against the weaker sides. Don't go on the numbers alone: watch the Brackwater match.",
			"2026-05-12"},
	},
	fading: {
		{"2025-10-07", lanyon, true, "work_off_ball", 0, true,
			"In September you did the best work off the ball in the squad. People notice your carries. I notice where you " +
				"are before them.",
			""},
		{"2025-12-16", lanyon, true, "work_off_ball", 0, true,
			"In the last two matches you were walking after your tackles. That's not like you. How are things outside rugby? " +
				"Come and see me whenever suits. No one's cross.", "2026-01-12"},
		{"2026-01-20", lanyon, false, "work_off_ball", 1, false,
			"We talked. Mock exams, and two school matches a week on top of ours. Agreed one match with the school. Let's " +
				"not chase this until February.", "2026-02-16"},
		{"2026-03-10", tindle, false, "work_off_ball", 1, true,
			"The carries are as good as ever, which hides it. In between, late to nearly everything, and it gets worse " +
				"towards the end. I'd give them a fortnight off.", "2026-03-24"},
		{"2026-04-14", lanyon, true, "work_off_ball", 1, true,
			"No lecture. Pick ten minutes of the second half, just ten, and be where you'd have been in September. Then " +
				"we'll look at them together.", "2026-05-05"},
	},
	steady: {
		{"2025-11-04", tindle, true, "pass_or_carry", 1, true,
			"You do nothing badly. I'd like to see you take the ball one step closer to them before you give it. One brave " +
				"one per half.", ""},
		{"2026-03-31", lanyon, true, "", 1, false, "We took an honest look at your goal: about the same as in November. " +
			"That's not a failure, the step was just too big. Week in, week out, there's no more reliable centre in the squad.",
			""},
	},
	lateJoiner: {
		{"2026-04-14", lanyon, true, "pass_or_carry", 0, true,
			"Welcome. Good first outing. It's early days, so I won't say more than that until we've seen you a few times.",
			"2026-05-11"},
	},
	backFromSpell: {
		{"2026-01-19", vaomotu, false, "", 0, false,
			"Back in limited training from today, and cleared for it. No contact until the medical lead says so. Please " +
				"don't ask them when they'll play.", "2026-02-02"},
		{"2026-02-17", lanyon, true, "catch_under_pressure", 1, true,
			"Good to have you back. Your hands were there, and your timing will come. You went up for everything, and that's " +
				"what I wanted to see.", ""},
		{"2026-04-07", lanyon, true, "catch_under_pressure", 1, true,
			"You're as good in the air as you were before, I'd say, and you're calling louder.", ""},
	},
	fewCarries: {
		{"2025-10-21", vaomotu, true, "footwork_into_contact", 1, true,
			"It takes two or three to stop you when you carry, and you hardly ever do. We need to find you more often, and " +
				"you need to ask. Loudly.", ""},
		{"2026-02-10", vaomotu, true, "", 1, true, "The rucks you cleared gave us quick ball. That counts as much as " +
			"carries do. Both, please.", "2026-03-09"},
		{"2026-04-21", tindle, false, "", 0, false, "Careful with the carry numbers: one or two a match don't tell you " +
			"much. Look at scrums and rucks.", ""},
	},
}

// notes fills in review notes.
func (s *simulation) notes() {
	for i, p := range s.Players {
		d := stream(s.seed, "notes", p.ID)
		if s.parts[i] != ordinary {
			var own []models.Goal
			for _, g := range s.Goals {
				if g.PlayerID == p.ID {
					own = append(own, g)
				}
			}
			for _, w := range castNotes[s.parts[i]] {
				n := models.ReviewNote{PlayerID: p.ID, AuthorID: w.author, Date: w.day, Skill: w.skill, Shared: w.shared,
					Text: w.text}
				if w.about {
					if play := s.lastPlay(p.ID, w.day); play != nil {
						id := play.Match.ID
						n.MatchID = &id
					}
				}
				if w.goal > 0 && w.goal <= len(own) {
					id := own[w.goal-1].ID
					n.GoalID = &id
				}
				if w.follow != "" {
					follow := w.follow
					n.FollowUp = &follow
				}
				s.note(d, n)
			}
		}
		s.momentNotes(d, p)
	}
	slices.SortStableFunc(s.Notes, func(a, b models.ReviewNote) int { return cmp.Compare(a.Date, b.Date) })
	for i := range s.Notes {
		s.Notes[i].Record = local(int64(i + 1))
	}
}

// momentNotes are notes on moments of matches, a day or two after them.
func (s *simulation) momentNotes(d dice, p models.Player) {
	most := d.between(0, 2)
	if s.parts[p.ID-1] != ordinary {
		most = 2
	}
	var logged []*models.Play
	for i := range s.Plays {
		if play := &s.Plays[i]; play.Appearance.PlayerID == p.ID && len(play.Logs) > 0 {
			logged = append(logged, play)
		}
	}
	for range most {
		if len(logged) == 0 {
			return
		}
		n := d.IntN(len(logged))
		play := logged[n]
		logged = slices.Delete(logged, n, n+1)
		shown := slices.DeleteFunc(slices.Clone(play.Logs[0].Involvements), func(v models.Involvement) bool {
			return !v.Moment
		})
		if len(shown) == 0 {
			continue
		}
		v := pick(d, shown)
		match, involvement := play.Match.ID, v.ID
		note := models.ReviewNote{
			PlayerID: p.ID, AuthorID: play.Logs[0].Log.LoggerID, Date: play.Match.Date.AddDays(d.between(1, 4)),
			MatchID: &match, InvolvementID: &involvement,
			Skill: skillOfKind[v.Kind], Shared: d.chance(0.8),
			Text: pick(d, openings) + v.Note + " " + pick(d, closings),
		}
		if goals := s.openGoals(p.ID, note.Date); len(goals) > 0 && d.chance(0.4) {
			id := goals[0].ID
			note.GoalID = &id
		}
		if d.chance(0.3) {
			follow := note.Date.AddDays(d.between(14, 35))
			note.FollowUp = &follow
		}
		s.note(d, note)
	}
}

// note keeps a note. Players who sign in read what is shared with them, most of it and soon.
func (s *simulation) note(d dice, n models.ReviewNote) {
	if n.Date > s.Today {
		return
	}
	if _, signsIn := s.userOf[n.PlayerID]; signsIn && n.Shared && d.chance(0.85) {
		if day, err := n.Date.Time(); err == nil {
			read := day.Add(time.Duration(d.between(20, 90)) * time.Hour).Truncate(time.Minute)
			if models.DateOf(read) <= s.Today {
				n.ReadAt = &read
			}
		}
	}
	s.Notes = append(s.Notes, n)
}

// lastPlay is the last match that a player played before a day.
func (s *simulation) lastPlay(player int64, day models.Date) *models.Play {
	for i := len(s.Plays) - 1; i >= 0; i-- {
		if p := &s.Plays[i]; p.Appearance.PlayerID == player && p.Match.Date < day && p.Match.SquadID != nil {
			return p
		}
	}
	return nil
}

// skillOfKind is the skill that an involvement of a kind shows best.
var skillOfKind = map[models.Kind]string{
	models.KindCarry: "footwork_into_contact", models.KindPass: "pass_or_carry", models.KindOffload: "pass_or_carry",
	models.KindKick:  "pass_or_carry",
	models.KindCatch: "catch_under_pressure", models.KindTackle: "tackle", models.KindAttackRuck: "breakdown",
	models.KindDefenceRuck: "breakdown",
	models.KindScrum:       "scrum", models.KindLineout: "lineout", models.KindMaul: "maul",
	models.KindSupportLine: "support_lines", models.KindReposition: "work_off_ball",
}

var (
	openings = []string{"", "", "Have a look at this one. ", "For Tuesday: ", "One for your folder. ",
		"We can talk about it before training. "}
	closings = []string{
		"Tell me what you saw.", "Look at it once more before Tuesday.", "It's a small thing, but it will matter.",
		"Tell me if you see it differently.", "No hurry.",
	}
)

// sessions are what was being done when a training observation was made.
var sessions = map[string][]string{
	"footwork_into_contact": {"Late feet into pads: ", "Two on two, ten-metre channel: "},
	"pass_or_carry":         {"Three on two, both sides: ", "Scanning game: "},
	"breakdown":             {"Arrival drill in pairs: ", "Live rucks, short block: "},
	"presentation":          {"Falls and placement: ", "Pick-and-go lanes: "},
	"work_off_ball":         {"Eight-phase shape: ", "Last game of the evening: "},
	"support_lines":         {"Breakout drill: ", "Unstructured attack: "},
	"tackle":                {"Tracking drill: ", "Chop tackles on pads: "},
	"catch_under_pressure":  {"High balls with a chaser: ", "Kick-off reception: "},
	"scrum":                 {"Machine, five hits: ", "Three against three: "},
	"lineout":               {"Lineout walk-through, then live: ", "Contested throws: "},
	"maul":                  {"Maul set-up, eight against six: ", "Defending the drive: "},
}

// training fills in what coaches noted at training, on Tuesdays and Thursdays.
func (s *simulation) training() {
	for i, p := range s.Players {
		d := stream(s.seed, "training", p.ID)
		_, headline := models.Headlines(p.Group())
		count := d.between(2, 4)
		if s.parts[i] != ordinary {
			count = 6
		}
		for range count {
			day := firstTraining.AddDays(7*d.between(0, 34) + 2*d.IntN(2))
			if day >= breakFrom && day <= breakUntil {
				continue // no training
			}
			if day > s.Today || day < s.joined(p.ID) || s.status(p.ID, day) == models.Unavailable {
				continue
			}
			o := models.TrainingObservation{PlayerID: p.ID, CoachID: pick(d, coachesOf(s.squadOf[i])), Date: day,
				Skill: pick(d, headline), SessionID: s.sessionOn(s.squadOf[i], day), Shared: day.AddDays(7*3) < s.Today ||
					i%3 > 0}
			g := 3
			for _, l := range s.Truth.Skills {
				if l.Player == p.ID && l.Skill == o.Skill {
					g = grade(d, l, day, 0, 0.5)
				}
			}
			said := comments[o.Skill]
			words := said.fair
			if g <= 2 {
				words = said.poor
			} else if g >= 4 {
				words = said.good
			}
			o.Text = pick(d, sessions[o.Skill]) + lower(pick(d, words))
			if goals := s.openGoals(p.ID, day); len(goals) > 0 && d.chance(0.4) {
				id := goals[0].ID
				o.GoalID, o.Skill = &id, ""
				o.Text = pick(d, goalSessions)
			}
			s.Training = append(s.Training, o)
		}
	}
	slices.SortStableFunc(s.Training, func(a, b models.TrainingObservation) int {
		return cmp.Or(cmp.Compare(a.Date, b.Date), cmp.Compare(a.PlayerID, b.PlayerID))
	})
	for i := range s.Training {
		s.Training[i].Record = local(int64(i + 1))
	}
}

// goalSessions are what is noted at training on a goal.
var goalSessions = []string{
	"Did the extra work we agreed before the session, without being asked.",
	"Worked on it in the small-sided game. Two good ones, then got tired.",
	"Does it when I give the cue. Next week I won't give it.",
	"Explained it to a younger player, which is the best sign there is.",
	"Skipped the extra work today: sore from the weekend. Right call.",
}
