package scenario

import (
	"slices"

	"throughline/models"
)

// moments marks what is worth showing in a log made from video, and says why; it also fills in what else was on.
func (g *game) moments(d dice, a *actor, l *models.Log, acts []*act, seen []models.Involvement) {
	most := 4
	if l.Depth == models.Full {
		most = 7
	}
	if g.parts[a.player-1] != ordinary {
		most += 2
	}
	var worth []float64
	for i, x := range acts {
		good, bad := judged(x)
		w := 0.0
		switch {
		case len(x.Results) > 0 && (good || bad):
			w = 1
		case good || bad:
			w = 0.3
		}
		if x.Kind == models.KindScrum || x.Kind == models.KindMaul {
			w *= 0.3
		}
		worth = append(worth, w)
		if l.Depth == models.Full && seen[i].Details["choice"] == "better_on" && d.chance(0.5) {
			seen[i].Options = pick(d, options[x.Kind])
		}
	}
	shown := map[string]bool{}
	for range min(most, len(acts)/5+1) {
		i := d.weighted(worth)
		if i < 0 {
			return
		}
		worth[i] = 0
		good, _ := judged(acts[i])
		text := remark(d, acts[i], good)
		if text == "" || shown[text] {
			continue
		}
		shown[text] = true
		v := &seen[i]
		v.Moment, v.Note = true, text
		if l.LoggerID%2 == 0 { // two of the coaches work with a file beside them
			v.VideoFile = string(g.match.Date) + " " + g.match.Opponent + ".mp4"
			at := float64(acts[i].Clock.Second + 45)
			if acts[i].Clock.Half == 2 {
				at += 780
			}
			from, to := at-6, at+9
			v.VideoFrom, v.VideoTo = &from, &to
		}
	}
}

// judged says whether an act went clearly well or clearly badly; most are neither.
func judged(x *act) (good, bad bool) {
	is := func(detail string, values ...string) bool { return slices.Contains(values, x.Details[detail]) }
	switch x.Kind {
	case models.KindCarry:
		good = x.has(models.ResultTry) || x.has(models.ResultLineBreak) || is("contact", "won") &&
			is("contact_point", "soft_shoulder", "clear")
		bad = is("contact", "lost") || is("presentation", "poor") || is("choice", "better_on")
	case models.KindPass, models.KindOffload:
		good = x.has(models.ResultTryAssist) || x.has(models.ResultLineBreak) || is("overlap_finished", "yes") ||
			is("released", "at_line") && x.Measures["defenders_held"] >= 2
		bad = is("result", "lost") || is("overlap_finished", "no") && is("choice", "better_on")
	case models.KindKick:
		good, bad = is("result", "regained", "space"), x.has(models.ResultError) || is("result", "charged_down")
	case models.KindCatch:
		good, bad = is("result", "clean") && is("under_pressure", "yes"), is("result", "spilled", "beaten")
	case models.KindTackle:
		good, bad = is("result", "won"), is("result", "missed") || x.has(models.ResultPenaltyConceded)
	case models.KindAttackRuck:
		good, bad = is("effect", "cleared") && is("arrival", "first"), is("effect", "penalised") ||
			is("effect", "ineffective") && is("arrival", "first")
	case models.KindDefenceRuck:
		good, bad = is("effect", "turnover"), is("effect", "penalised")
	case models.KindScrum, models.KindLineout, models.KindMaul:
		good, bad = is("effect", "gained"), is("effect", "lost")
	case models.KindSupportLine:
		good, bad = is("effect", "created"), is("effect", "none") && x.phase.broken
	case models.KindReposition:
		good, bad = is("in_place", "yes") && is("ball_came", "yes"), is("in_place", "no") && is("ball_came", "yes")
	}
	return good, bad && !good
}

// options is what else was on when something better was.
var options = map[models.Kind][]string{
	models.KindCarry: {
		"Tip it on to the lock inside you, who had no one in front.",
		"Pull it back to the fly half: two backs were free outside.", "Three on two on the left, if you look up.",
		"Pass before contact: their winger had come in.", "Chip over: there was space behind the ten.",
		"Keep it and go again: they had three at the ruck to our one.",
	},
	models.KindPass: {
		"Carry: the guard had drifted and you had eight metres in front of you.", "The short line inside was free.",
		"Hit the hard runner: your wide pass went into two tacklers.",
		"Kick to the corner: their full back was up in the line.",
		"One more pass to the wing, who had two metres to spare on the touchline.",
	},
	models.KindOffload: {"Go to ground and present: you had no support behind you.",
		"The second support runner, on your left, was free.", "Keep it and drive on: there was only one tackler left."},
	models.KindKick: {
		"Move it wide: four on three on the far side.", "Box kick instead: the chasers were set on the other side.",
		"Run it: their chase was all over the place.", "Kick longer, to touch: our lineout was going well.",
	},
}

// said is something that a coach says about an act: of any of its kind, or only where a detail is one of some codes,
// or a result came of it.
type said struct {
	text   string
	detail string
	codes  []string
	result models.Result
}

func always(text string) said { return said{text: text} }
func where(detail, code, text string, or ...string) said {
	return said{text: text, detail: detail, codes: append(or, code)}
}
func onResult(result models.Result, text string) said { return said{text: text, result: result} }

// remark is what a coach would say about an act: what came of it first, then what fits its details, then what could be
// said about any.
func remark(d dice, x *act, good bool) string {
	bank := badRemarks[x.Kind]
	if good {
		bank = goodRemarks[x.Kind]
	}
	var any, fitting, resulting []string
	for _, s := range bank {
		switch {
		case s.result != "":
			if x.has(s.result) {
				resulting = append(resulting, s.text)
			}
		case s.detail == "":
			any = append(any, s.text)
		case slices.Contains(s.codes, x.Details[s.detail]):
			fitting = append(fitting, s.text)
		}
	}
	for _, better := range [][]string{fitting, resulting} {
		if len(any) == 0 || len(better) > 0 && d.chance(0.8) {
			any = better
		}
	}
	if len(any) == 0 {
		return ""
	}
	return pick(d, any)
}

var goodRemarks = map[models.Kind][]said{
	models.KindCarry: {
		onResult(models.ResultTry, "You stay low, keep the ball in the far arm and reach. You earned that finish two "+
			"phases earlier, by getting back to your feet."),
		onResult(models.ResultTry, "You take the ball at pace because you started deep. That makes the try."),
		onResult(models.ResultTry, "You see late that they've folded and you change your line. No one lays a hand on you."),
		onResult(models.ResultTry,
			"You back yourself one on one, then lean through the last metre with both hands on the ball."),
		onResult(models.ResultLineBreak, "Look where your eyes are: you're through before the inside defender can turn."),
		onResult(models.ResultLineBreak, "You hold your depth until the pass is in the air. The defence has stopped; "+
			"you haven't."),
		onResult(models.ResultLineBreak,
			"You get through the first line, then straighten. Next time look left: support was there."),
		onResult(models.ResultLineBreak, "You run at the gap, not at the tackler. Now find your support a second sooner."),
		where("contact_point", "clear", "Short step, long step, gone. You moved the tackler before the ball came."),
		where("contact_point", "clear", "You keep your shoulders square until the last moment, so the defender "+
			"can't read you."),
		where("approach", "fend", "Hand-off low on the shoulder, ball in the other arm. Textbook."),
		where("approach", "step", "You get to the soft shoulder with one late step, and your legs keep going. You make "+
			"two metres out of nothing."),
		where("approach", "step", "One step off the outside foot, so close that the tackler can't adjust. Now try the "+
			"other foot."),
		where("approach", "late_angle", "Your late change of angle takes you away from the first defender's chest. The "+
			"second can't get set."),
		where("approach", "spin", "You spin out of a tackle you were losing and keep the ball away from it. Don't do it "+
			"too often, but here it was right."),
		where("presentation", "long", "You attack the space beside the tackler, and you land facing us with the ball a "+
			"full arm away."),
		where("body_height", "low", "Your body height beats a bigger tackler. You get low before the contact, not in it."),
		where("pace", "at_pace", "Your pace onto the ball does the work: you're already moving when it comes."),
		where("leg_drive", "yes", "You win the collision and keep your feet going until the next two arrive."),
		always("You pick your shoulder before the ball comes. I can see you do it."),
	},
	models.KindPass: {
		where("released", "at_line", "You take the ball to the line, hold the inside defender with your shoulders and "+
			"pass at the last moment. Your runner is free."),
		where("released", "at_line", "Two defenders turn to you because you run at the gap. That makes the space outside."),
		where("released", "deep", "You see it early and give it early. With two over, there's no need to go to the line.",
			"near"),
		where("result", "accurate", "Soft hands, in front of the runner, at chest height. The runner never breaks stride."),
		onResult(models.ResultTryAssist, "You could have gone on your own. You look, hold the last defender for half a "+
			"second, and give it."),
		always("You scan twice before the ball comes. That's why it looks easy."),
	},
	models.KindOffload: {
		always("You win the contact first, free both hands, then wait for your support. In that order."),
		always("You turn your chest to your support before you go to ground. That makes it an easy pass."),
		where("zone", "half_to_their_22", "You draw two and give it behind them. The right time to try it: we were in "+
			"their half.",
			"their_22"),
	},
	models.KindKick: {
		where("result", "regained", "Your hang time gives the chase four seconds. We win it in the air, and the next "+
			"phase is ours."),
		where("result", "space", "You look at their back three, not at the ball, and put it where they aren't."),
		where("purpose", "exit", "Out in one kick, and the line comes up together behind it."),
		where("purpose", "territory", "Low, end over end, into the corner. Their full back has to turn.", "space"),
	},
	models.KindCatch: {
		where("from", "high_ball", "You call early, take off from one foot, knee up for safety, ball above your eyes. The "+
			"chaser bounces off."),
		where("from", "kick_off", "You read the kick-off from the kicker's first step and you're under it before it drops."),
		always("You move to where it will land, not to where it is. Clean take under a chaser."),
		always("You catch it and go forward in the same step."),
	},
	models.KindTackle: {
		where("role", "first", "Feet close, head to the near side, shoulder below the ball. You decide where the "+
			"tackle ends."),
		where("role", "first", "You track from the inside, take away the step and hit through the hips. You're up again "+
			"before their clear-out arrives."),
		where("role", "first", "You chop a much bigger carrier at the knees, and the next player in gets a free go."),
		where("role", "first", "You come off the line together with the player next to you. Carrier and ball end up "+
			"behind the gain line."),
		where("role", "assist", "You're second in and you wrap the ball. They can't move it, and we reload."),
		where("role", "assist", "You stay on your feet after the assist and are first to the ball."),
		onResult(models.ResultTurnoverWon, "You hit through the ball and it comes loose. Legal, low, and worth seven "+
			"points at the other end."),
	},
	models.KindAttackRuck: {
		where("arrival", "first", "You're there first, low, and you take the player over the ball, not the nearest one."),
		where("effect", "cleared", "You come in from behind the last foot, drive past the ball and stay on your feet. The "+
			"scrum half gets clean ball."),
		always("You see the threat, leave your own opponent and get there. No one had to ask."),
		always("Short approach, long bind, legs pumping. You turn three-second ball into two-second ball."),
	},
	models.KindDefenceRuck: {
		onResult(models.ResultPenaltyWon, "You're over the ball with clean hands, and they hold on to it. The referee "+
			"has no choice."),
		onResult(models.ResultPenaltyWon, "You wait for the tackle, show the referee your hands and survive the first "+
			"clear-out. Our ball."),
		onResult(models.ResultTurnoverWon, "You see that the carrier is isolated. Four steps, over the ball, feet wide."),
		onResult(models.ResultTurnoverWon, "You left the two before and picked the one you could win. That's the skill."),
		onResult(models.ResultTurnoverWon, "The tackler rolls, you step straight in through the gate, and the ball is "+
			"gone before they look up."),
	},
	models.KindScrum: {
		always("Hit and hold, backs flat, second shove on the call. They go back a metre."),
		always("You take the pressure, find your feet again, and we go forward together."),
	},
	models.KindLineout: {
		where("role", "jumper", "You call the change at the line, jump early and take it clean. That's worth more "+
			"than it looks."),
		where("role", "jumper", "Up before their jumper because you watched the hooker's feet."),
		where("role", "lifter", "Your lift is straight and stays up until the catch is safe. The jumper had all day."),
		where("role", "lifter", "You turn and lift in one movement. You only had half a second."),
		where("role", "thrower", "Back ball into the wind, flat and hard. The practice shows."),
		where("role", "thrower", "You wait for the lift and put it into the jumper's hands."),
	},
	models.KindMaul: {
		always("You bind low and drive through the second row. No one stands up."),
		always("You feel it turn and bring it back. We make five metres after that."),
	},
	models.KindSupportLine: {
		where("received", "no", "You never get the ball, but you make the space: two defenders go with you."),
		where("line", "hard", "You run the hard line as if you were getting the ball. That's why the pass behind you works."),
		where("line", "trail", "You trail on the inside shoulder from thirty metres away. Be there again next time."),
		where("line", "inside", "You come back inside when everyone is looking outside. Their ten doesn't see you."),
		where("received", "yes", "You call, change your line once and take the ball flat out."),
	},
	models.KindReposition: {
		where("from", "ground", "Straight up off the ground and into your next place. The ball comes right to you."),
		where("to", "outside", "No walking: you fold round the corner while the others are still looking at the ruck."),
		where("from", "ruck", "You get out of the ruck, look up, talk, and you're there. That's what we mean by work rate."),
		where("to", "guard", "You're back in guard before they have the ball. They go the other way."),
		where("to", "backfield", "You drop into the backfield before the kick is on, and you're under it when it comes."),
		where("offered", "yes", "Hand up, voice up. The pass goes to you because you asked."),
	},
}

var badRemarks = map[models.Kind][]said{
	models.KindCarry: {
		onResult(models.ResultError, "You go into contact with the ball in the wrong arm, and it gets knocked out. Switch "+
			"arms before you get there."),
		onResult(models.ResultError, "You look at the tackler and not at the pass. Hands first, then feet."),
		onResult(models.ResultError, "You reach for extra metres with one hand. Take the tackle and present."),
		onResult(models.ResultPenaltyConceded, "You hold on because no one is with you. Slow down for your support, or "+
			"stay on your feet longer."),
		where("body_height", "upright", "You go into two tacklers upright. Look at your hips five metres out."),
		where("pace", "standing", "You take the ball standing still, so the defence decides. Start two metres deeper."),
		where("presentation", "poor", "You don't place the ball. It's under you, and their seven says thank you."),
		where("presentation", "poor", "You fight for another half a metre and it costs us slow ball. Land, place, done."),
		where("approach", "step", "Right idea, but you step too early, so the defender has time to move with you.",
			"late_angle"),
		where("approach", "straight", "You run straight at a set defender with space on both sides. Pick a shoulder."),
		where("choice", "better_on", "Two free outside. Have a look before the ball comes."),
		where("choice", "better_on", "Your head goes down a step too early: the tip-on was on."),
		where("choice", "better_on", "Tell me what you saw, then we'll look at the wide angle."),
		always("You go in on your own. Either slow down for your support or find the pass."),
	},
	models.KindPass: {
		where("result", "lost", "You pass before you've looked. It goes behind the runner and the chance is gone."),
		where("result", "lost", "You forced it under pressure. Keep it and we go again."),
		where("numbers", "overlap", "We have an overlap and you drift across with it. Straighten, hold one, give."),
		where("released", "deep", "Too deep and too slow: they could all see where it was going."),
	},
	models.KindOffload: {
		always("One hand, and your team-mate was not ready for it. Look first."),
		always("You lose the contact and then offload. Win it first."),
	},
	models.KindKick: {
		onResult(models.ResultError, "Out on the full. Check where you are before you kick."),
		where("result", "charged_down", "Too long between catch and kick, so it gets charged down. Take one step less."),
	},
	models.KindCatch: {
		where("result", "spilled", "Your eyes leave the ball when you hear the chaser. Hands are too low."),
		where("result", "beaten", "You let it bounce. That's ours to call and ours to go for."),
		where("result", "beaten", "Two of us under it and no call."),
	},
	models.KindTackle: {
		where("result", "missed", "Your feet stop and you reach. The step beats you every time you do that."),
		where("result", "missed", "You come up out of the line on your own, and they go through the hole."),
		where("result", "missed", "Right decision, wrong shoulder. Your head goes behind the legs, and your arms follow."),
		where("height", "high", "Too high. Drop your hips two steps earlier. We've talked about it, and it comes first in "+
			"training this week."),
		where("height", "high", "You bend at the waist, not the knees, and slide up. That's dangerous for both of you. "+
			"We'll work on it on Tuesday before anything else."),
	},
	models.KindAttackRuck: {
		where("effect", "ineffective", "You're first there but upright, and their player is already under you. Get lower "+
			"than the player on the ball."),
		where("effect", "ineffective", "You clear out the one who was already beaten. The threat came from the other side."),
		where("effect", "penalised", "You come in from the side right in front of the referee. It only took two more "+
			"steps to go round."),
		where("effect", "penalised", "Off your feet over the ball. Drive past it, stay up."),
	},
	models.KindDefenceRuck: {
		always("Hands on after the call of ruck. You heard it. Choose the next one."),
		always("You don't let the tackled player go first. Show daylight, then go."),
	},
	models.KindScrum: {
		always("Your shape goes on the second shove and we go back. Feet first, then the hit."),
		always("You're too high at the set, and they get under us."),
	},
	models.KindLineout: {
		where("role", "thrower", "You throw it over the top of the lift. With a crosswind, take the front ball."),
		where("role", "lifter", "You move before the jumper goes. Slow it down and do it again in training."),
		where("role", "jumper", "Your feet give the call away, and they go up with you."),
		where("role", "jumper", "Half a step early. The ball was good."),
	},
	models.KindMaul: {
		always("You join where it isn't going, and you slip off. Go round."),
		always("You stand up to look for the ball, and that's where they come through."),
	},
	models.KindSupportLine: {
		always("We make a break and you stop to watch. Five more steps and it's a try."),
		always("You're ahead of the ball, so no one can pass to you. Hold your run."),
		always("You're too flat to be an option. You want it, but think what the passer can see."),
	},
	models.KindReposition: {
		where("from", "ground", "You're still on one knee when the ball is played past you. That's the gap they go through."),
		where("from", "ruck", "You stay at the ruck and admire it. Your next job is six metres to the left."),
		where("from", "chase", "You turn your back on play and walk. That gap is yours to fill.", "maul"),
		where("to", "guard", "There's no guard, because you wait for someone else to do it."),
		always("You get there, but facing the wrong way. That still counts as late."),
	},
}
