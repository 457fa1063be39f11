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
		"Tip-on to the lock inside you, with no one in front of the lock.",
		"Pull-back to the fly half; two backs free outside.", "Three on two to the left if you look up.",
		"Pass before contact: their winger had come in.", "Space behind the ten for a chip.",
		"Settle and go again; the ruck was three against one.",
	},
	models.KindPass: {
		"Carry: the guard had drifted and there were eight metres in front.", "Short line inside was free.",
		"Hit the hard runner; the wide ball went into two tacklers.",
		"Kick into the corner, full back up in the line.", "One more pass to the wing, two metres of touchline to spare.",
	},
	models.KindOffload: {"Go to ground and present; you had no support behind you.",
		"Second support runner, on your left, was free.", "Keep it and drive on; only one tackler left."},
	models.KindKick: {
		"Hands: four on three on the far side.", "Box kick instead, chasers were set on the other side.",
		"Run it: their chase was broken.", "Longer, to touch; the lineout had been going well.",
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
		onResult(models.ResultTry, "You stay low, keep the ball in the far arm and reach. Finish earned two phases "+
			"earlier, by getting back to your feet."),
		onResult(models.ResultTry, "You take the ball at pace because you started deep. That is the whole try."),
		onResult(models.ResultTry, "You see the fold late and change your line for it. No one lays a hand on you."),
		onResult(models.ResultTry,
			"You back yourself one on one, then lean through the last metre with both hands on the ball."),
		onResult(models.ResultLineBreak, "Look where your eyes are: through before the inside defender can turn."),
		onResult(models.ResultLineBreak, "You hold your depth until the pass is in the air. The defence has stopped "+
			"and you have not."),
		onResult(models.ResultLineBreak,
			"Through the first line, then straightens. Next time look left: support was there."),
		onResult(models.ResultLineBreak, "You run at the gap, not at the tackler. Now find the support a second sooner."),
		where("contact_point", "clear", "Short step, long step, gone. You moved the tackler before the ball came."),
		where("contact_point", "clear", "You keep your shoulders square until the last moment, so the defender has "+
			"nothing to read."),
		where("approach", "fend", "Hand low on the shoulder, ball in the other arm. Textbook."),
		where("approach", "step", "Gets to the soft shoulder with one late step, and the legs keep going. Two metres that "+
			"were not there."),
		where("approach", "step", "One step off the outside foot, close enough that the tackler cannot adjust. The "+
			"other foot next."),
		where("approach", "late_angle", "Late change of angle takes you off the chest of the first defender. The second "+
			"cannot get set."),
		where("approach", "spin", "Spins out of a tackle that was lost, and keeps the ball away from it. Not too often, "+
			"but here it was right."),
		where("presentation", "long", "Attacks the space beside the tackler instead of the tackler; lands facing us, ball "+
			"a full arm away."),
		where("body_height", "low", "Body height beats a bigger tackler. Low before contact, not in it."),
		where("pace", "at_pace", "Pace onto the ball does the work: you are already moving when it comes."),
		where("leg_drive", "yes", "You win the collision and keep your feet going until the next two arrive."),
		always("You pick your shoulder before the ball comes. Anyone can see you do it."),
	},
	models.KindPass: {
		where("released", "at_line", "You take the ball to the line, hold the inside defender with your shoulders, and "+
			"give at the last moment. The receiver runs free."),
		where("released", "at_line", "Two defenders turn to you because you ran at the gap. That is where the space "+
			"outside comes from."),
		where("released", "deep", "Sees it early and gives it early: no need to go to the line when the overlap is two.",
			"near"),
		where("result", "accurate", "Soft hands, in front of the runner, chest height. The runner never breaks stride."),
		onResult(models.ResultTryAssist, "You could have gone alone. You look, hold the last defender for half a "+
			"second, and give it."),
		always("Scans twice before the ball comes. That is why it looks easy."),
	},
	models.KindOffload: {
		always("Wins the contact first, frees both hands, and waits for the support to be there. In that order."),
		always("You turn your chest to the support before going to ground. Easy pass because of it."),
		where("zone", "half_to_their_22", "Draws two and gives it behind them. Right one to try: we were in their half.",
			"their_22"),
	},
	models.KindKick: {
		where("result", "regained", "Hang time gives the chase four seconds. Contest won in the air, and the next "+
			"phase is ours."),
		where("result", "space", "Looks at the back three, not at the ball, and puts it where they are not."),
		where("purpose", "exit", "Exit done in one kick, and the line comes up together behind it."),
		where("purpose", "territory", "Low and end over end into the corner. Their full back has to turn.", "space"),
	},
	models.KindCatch: {
		where("from", "high_ball", "Calls early, takes off from one foot, knee up for safety, ball above the eyes. Chaser "+
			"bounces off."),
		where("from", "kick_off", "Reads the kick-off from the kicker's first step and is under it before it drops."),
		always("Moves to where it will land and not to where it is. Clean take under a chaser."),
		always("Catches and is moving forward in the same step."),
	},
	models.KindTackle: {
		where("role", "first", "Feet close, head to the near side, shoulder below the ball. You decide where it ends."),
		where("role", "first", "Tracks from the inside, takes away the step and hits through the hips. Up again before "+
			"their clear-out is there."),
		where("role", "first", "Chop at the knees on a much bigger carrier; the next player has a free go at the ball "+
			"because of it."),
		where("role", "first", "You come off the line with the player beside you. Carrier and ball behind the gain line."),
		where("role", "assist", "Second man in, wraps the ball. They cannot move it, and we reload."),
		where("role", "assist", "You stay on your feet after the assist and are first to the ball."),
		onResult(models.ResultTurnoverWon, "Hits through the ball and it comes loose. Legal, low and worth seven points "+
			"at the other end."),
	},
	models.KindAttackRuck: {
		where("arrival", "first", "You are first there, low, and take the player over the ball, not the nearest one."),
		where("effect", "cleared", "You hit from behind the last foot, drive past the ball, stay on your feet. Scrum half "+
			"has a clean picture."),
		always("You leave your own opponent, see the threat and get there. No one had to ask."),
		always("Short approach, long bind, legs pumping. Three-second ball becomes two."),
	},
	models.KindDefenceRuck: {
		onResult(models.ResultPenaltyWon, "Over the ball, hands clean, lifts it and is held off it. Referee has no choice."),
		onResult(models.ResultPenaltyWon, "You wait for the tackle, show the referee your hands, survive the first "+
			"clear-out. Ours."),
		onResult(models.ResultTurnoverWon, "Reads that the carrier is alone. Four steps, over the ball, feet wide."),
		onResult(models.ResultTurnoverWon, "You pick the one you can win, and left the two before. That is the whole art."),
		onResult(models.ResultTurnoverWon, "Tackler rolls, you step in at once through the gate and it is gone before "+
			"they look up."),
	},
	models.KindScrum: {
		always("Hit and hold, backs flat, second shove on the call. They go back a metre and a half."),
		always("You take the pressure, find your feet again, and we go forward together."),
	},
	models.KindLineout: {
		where("role", "jumper", "Calls the change at the line, early jump, clean hands. Worth more than it looks."),
		where("role", "jumper", "Up before their jumper because you watched the hooker's feet."),
		where("role", "lifter", "Lift is straight and stays up until the catch is safe. The jumper could choose."),
		where("role", "lifter", "Turns and lifts in one movement. Half a second is all there was."),
		where("role", "thrower", "Back ball into the wind, flat and hard. Practice shows."),
		where("role", "thrower", "You wait for the lift and put it into the jumper's hands."),
	},
	models.KindMaul: {
		always("You bind low and drive through the second row. No one stands up in it."),
		always("Feels it turn and brings it back; five metres after that."),
	},
	models.KindSupportLine: {
		where("received", "no", "You never get the ball and make the room all the same: two defenders go with you."),
		where("line", "hard", "You run the hard line as if the ball were yours. The pass behind you works because of it."),
		where("line", "trail", "Trails on the inside shoulder from thirty metres away. Be there again next time."),
		where("line", "inside", "You come back inside when all eyes are outside. Their ten does not see you."),
		where("received", "yes", "Calls, changes line once, takes the ball flat out."),
	},
	models.KindReposition: {
		where("from", "ground", "Up from the ground and into the next place at once. The ball comes straight to you."),
		where("to", "outside", "No walking: you fold round the corner while others are looking at the ruck."),
		where("from", "ruck", "You get out of the ruck, look up, talk, and are there. This is what we mean by work."),
		where("to", "guard", "Back into guard before they have the ball. Nothing on, and they go the other way."),
		where("to", "backfield", "Drops into the backfield before the kick is on, and is under it when it comes."),
		where("offered", "yes", "Hand up, voice up. The pass goes to you because you asked."),
	},
}

var badRemarks = map[models.Kind][]said{
	models.KindCarry: {
		onResult(models.ResultError, "Ball on the wrong side going into contact; knocked out. Switch arms before you "+
			"get there."),
		onResult(models.ResultError, "Looks at the tackler and not at the pass. Hands first, then feet."),
		onResult(models.ResultError, "Reaches for extra metres with one hand. Take the tackle and present."),
		onResult(models.ResultPenaltyConceded, "You hold on because no one is with you. Slow down for the support, or go "+
			"to ground later."),
		where("body_height", "upright", "Upright into two tacklers. Look at your hips five metres out."),
		where("pace", "standing", "You take the ball standing still, so the defence decides. Start two metres deeper."),
		where("presentation", "poor", "Ball not placed: it is under you, and their seven says thank you."),
		where("presentation", "poor", "Fights for half a metre more and pays with slow ball. Land, place, done."),
		where("approach", "step", "Good intention, feet too early; the defender has time to move with you.", "late_angle"),
		where("approach", "straight", "Straight at a set defender with room on both sides. Pick a shoulder."),
		where("choice", "better_on", "Two free outside. Have a look before the ball comes."),
		where("choice", "better_on", "Head down a step too early: the tip-on was the ball."),
		where("choice", "better_on", "Tell me what you saw; then we look at the wide angle."),
		always("You go in alone. Either slow down for the support or find the pass."),
	},
	models.KindPass: {
		where("result", "lost", "You pass before you have looked. It goes behind the runner and the chance is gone."),
		where("result", "lost", "Forced under pressure. Keep it and we go again."),
		where("numbers", "overlap", "Overlap, and you drift across with it. Straighten, hold one, give."),
		where("released", "deep", "Deep and slow: they could all see where it was going."),
	},
	models.KindOffload: {
		always("One hand, and your team-mate was not ready for it. Look first."),
		always("Loses the contact and then offloads. Win it first."),
	},
	models.KindKick: {
		onResult(models.ResultError, "Out on the full. Ask where you are before you kick."),
		where("result", "charged_down", "Too long between catch and kick; charged down. One step less."),
	},
	models.KindCatch: {
		where("result", "spilled", "Your eyes leave the ball when you hear the chaser. Hands are too low."),
		where("result", "beaten", "Lets it bounce. Ours to call, ours to go for."),
		where("result", "beaten", "Two of ours under it and no call."),
	},
	models.KindTackle: {
		where("result", "missed", "Your feet stop and you reach. The step beats you every time you do that."),
		where("result", "missed", "You come up alone, out of the line, and they go through where you were."),
		where("result", "missed", "Right decision, wrong shoulder. Head goes behind the legs, and the arms follow."),
		where("height", "high", "Too high. Drop the hips two steps earlier; we have talked about it, and it comes first "+
			"in training this week."),
		where("height", "high", "Bends at the waist, not at the knees, and slides up. A danger to both of them; we work "+
			"on it on Tuesday before anything else."),
	},
	models.KindAttackRuck: {
		where("effect", "ineffective", "First there and upright; their player is under you already. Get lower than "+
			"the player on the ball."),
		where("effect", "ineffective", "Cleans the one who was already beaten. The threat came from the other side."),
		where("effect", "penalised", "In from the side in front of the referee. Two more steps round was all it took."),
		where("effect", "penalised", "Off your feet over the ball. Drive past it, stay up."),
	},
	models.KindDefenceRuck: {
		always("Hands on after the call of ruck. You heard it. Choose the next one."),
		always("Does not let the tackled player go first. Show daylight, then go."),
	},
	models.KindScrum: {
		always("Shape goes on the second shove and we go back. Feet first, then the hit."),
		always("Too high at the set; they are under us."),
	},
	models.KindLineout: {
		where("role", "thrower", "Throw over the top of the lift. Wind was across; take the front ball."),
		where("role", "lifter", "Walks before the jumper goes. Slow it down and do it again in training."),
		where("role", "jumper", "Your feet give the call away, and they go up with you."),
		where("role", "jumper", "Half a step early. The ball was good."),
	},
	models.KindMaul: {
		always("Joins where it is not going, and slips off. Go round."),
		always("Stands up to look for the ball, and that is where they come through."),
	},
	models.KindSupportLine: {
		always("Break made, and you stop to watch. Five steps and it is a try."),
		always("Ahead of the ball; cannot be passed to. Hold the run."),
		always("Too flat to be an option. You want it, but look at the picture the passer has."),
	},
	models.KindReposition: {
		where("from", "ground", "Still on one knee when the ball is played past you. That is the metre they go through."),
		where("from", "ruck", "Stays at the ruck and admires it. Next job is six metres to the left."),
		where("from", "chase", "You turn your back on the play to walk back. The gap is yours.", "maul"),
		where("to", "guard", "Guard is empty, because you are looking for another player to do it."),
		always("Gets there, but facing the wrong way. Late is late."),
	},
}
