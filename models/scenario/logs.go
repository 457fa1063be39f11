package scenario

import (
	"cmp"
	"maps"
	"slices"

	"throughline/models"
)

// How likely it is that an appearance is logged from video, by what the player was made to be: about a third of all.
const (
	logOrdinary = 0.30
	logCast     = 0.85
	logImprover = 0.97
)

var (
	everyKind = func() []models.Kind {
		var kinds []models.Kind
		for _, k := range models.Kinds() {
			kinds = append(kinds, k.Code)
		}
		return kinds
	}()
	withTheBall = []models.Kind{models.KindCarry, models.KindPass, models.KindOffload, models.KindKick,
		models.KindAttackRuck}
	defending    = []models.Kind{models.KindTackle, models.KindDefenceRuck}
	betweenBalls = []models.Kind{models.KindSupportLine, models.KindReposition}
)

// record writes the game down: every appearance, with a log, totals, both or neither.
func (g *game) record() {
	for _, a := range g.team {
		d := stream(g.seed, "recording", g.match.ID, a.player)
		a.drawFiner()
		play := models.Play{Match: *g.match, Appearance: a.out.appearance(g.match)}
		play.Appearance.Record = local(int64(len(g.Plays) + 1))
		likely := logOrdinary
		switch g.parts[a.player-1] {
		case improver:
			likely = logImprover
		case ordinary:
			if a.out.seconds() < 12*60 {
				likely = 0.05
			}
		default:
			likely = logCast
		}
		whole := false
		if d.chance(likely) {
			l := g.plan(d, a)
			play.Logs = append(play.Logs, g.write(d, a, l, false))
			whole = len(l.Covers) == 0 && len(l.Kinds) == len(everyKind)
			if d.chance(0.06) {
				second := l
				for second.LoggerID == l.LoggerID {
					second.LoggerID = pick(d, coachesOf(*g.match.SquadID))
				}
				play.Logs = append(play.Logs, g.write(d, a, second, true))
			}
		}
		if whole && play.Logs[0].Log.Depth == models.Full && !g.compared && g.parts[a.player-1] == improver {
			g.compared = true
			play.Logs = append(play.Logs, g.compare(a, play.Logs)...)
		}
		have := 0.93 // without a log
		switch {
		case whole:
			have = 0.25
		case len(play.Logs) > 0:
			have = 0.75
		}
		if d.chance(have) {
			play.Totals = g.totals(d, a, len(play.Logs) > 0)
		}
		g.Plays = append(g.Plays, play)
	}
}

// compare is how every other coach of the squad logs what one has logged whole, so that their logs can be compared.
// The first of them reads a definition differently.
func (g *game) compare(a *actor, of []models.LoggedPlay) []models.LoggedPlay {
	var all []models.LoggedPlay
	for _, coach := range coachesOf(*g.match.SquadID) {
		if slices.ContainsFunc(of, func(l models.LoggedPlay) bool { return l.Log.LoggerID == coach }) {
			continue
		}
		l := of[0].Log
		l.LoggerID = coach
		seen := g.write(stream(g.seed, "compared", g.match.ID, a.player, coach), a, l, true)
		if len(all) == 0 {
			misreads.apply(seen.Involvements)
		}
		all = append(all, seen)
	}
	return all
}

// misreading is a definition that a logger reads differently: they record one code for two in three of another.
type misreading struct {
	kind             models.Kind
	detail, of, code string
}

// misreads is whether the player is in place when the ball is played, or only on the way there.
var misreads = misreading{models.KindReposition, "in_place", "yes", "no"}

func (m misreading) apply(all []models.Involvement) {
	n := 0
	for i := range all {
		if v := &all[i]; v.Kind == m.kind && v.Details[m.detail] == m.of {
			if n++; n%3 != 0 {
				v.Details[m.detail] = m.code
			}
		}
	}
}

// plan says who logs a player and what of the match.
func (g *game) plan(d dice, a *actor) models.Log {
	l := models.Log{
		MatchID: g.match.ID, PlayerID: a.player, LoggerID: pick(d, coachesOf(*g.match.SquadID)), Depth: models.Full,
		Kinds: everyKind, Covers: []models.Span{}, Finished: true,
	}
	full := 0.45
	if g.parts[a.player-1] != ordinary {
		full = 0.75
	}
	if !d.chance(full) {
		l.Depth = models.Core
	}
	switch d.of(odds{{"all", 0.62}, {"ball", 0.12}, {"defence", 0.05}, {"between", 0.03}, {"half", 0.12},
		{"end", 0.06}}) {
	case "ball":
		l.Kinds = withTheBall
	case "defence":
		l.Kinds = defending
	case "between":
		l.Kinds = betweenBalls
	case "half":
		half := 1
		if a.minutesIn(0, g.half()) < a.minutesIn(g.half(), 2*g.half()) {
			half = 2
		}
		l.Covers = []models.Span{{From: clockOn(g.match, (half-1)*g.half()), To: clockOff(g.match, half*g.half())}}
	case "end":
		if from := 2*g.half() - 20*60; a.minutesIn(from, 2*g.half()) >= 10 {
			l.Covers = []models.Span{{From: clockOn(g.match, from), To: clockOff(g.match, 2*g.half())}}
		}
	}
	if g.parts[a.player-1] == ordinary && d.chance(0.02) {
		l.Finished = false
	}
	return l
}

// minutesIn is the actor's playing time between two seconds of regular playing time.
func (a *actor) minutesIn(from, to int) int {
	n := 0
	for _, s := range a.out.stays {
		n += max(0, min(s.to, to)-max(s.from, from))
	}
	return n / 60
}

// write makes a log of what an actor did. Another logger sees a little of it differently.
func (g *game) write(d dice, a *actor, l models.Log, again bool) models.LoggedPlay {
	g.logs++
	l.Record = local(g.logs)
	skipped := map[string]bool{} // details that this logger did not take here
	for _, code := range []string{"seconds_to_feet", "seconds_to_play", "numbers", "body_height", "offered",
		"tacklers_committed"} {
		skipped[code] = d.chance(0.12)
	}
	seen := models.LoggedPlay{Log: l, Involvements: []models.Involvement{}}
	ids, finer := map[*act]int64{}, g.takesFiner(&l)
	var acts []*act
	for _, x := range a.acts {
		if !slices.Contains(l.Kinds, x.Kind) || !covered(&l, x.Clock) || again && d.chance(0.03) {
			continue
		}
		g.actions++
		v := x.Involvement
		v.Record, v.LogID = local(g.actions), l.ID
		ids[x] = v.ID
		v.Details, v.Measures, v.Results = maps.Clone(x.Details), maps.Clone(x.Measures), slices.Clone(x.Results)
		g.pare(d, &v, l.Depth, skipped)
		if again {
			a.disagree(d, x, &v)
		}
		if finer {
			a.refine(x, &v)
		}
		if id, ok := ids[x.from]; ok && x.from != nil {
			v.LinkedTo = &id
		}
		acts = append(acts, x)
		seen.Involvements = append(seen.Involvements, v)
	}
	if !again {
		g.moments(d, a, &l, acts, seen.Involvements)
	}
	slices.SortStableFunc(seen.Involvements, func(x, y models.Involvement) int {
		return cmp.Or(cmp.Compare(x.Clock.Half, y.Clock.Half), cmp.Compare(x.Clock.Second, y.Clock.Second))
	})
	return seen
}

// covered says whether a log covers a clock. A stretch that ends with a half's regular time holds the added time too.
func covered(l *models.Log, c models.Clock) bool {
	if len(l.Covers) == 0 {
		return true
	}
	for _, s := range l.Covers {
		if s.From.Compare(c) <= 0 && c.Half <= s.To.Half {
			return true
		}
	}
	return false
}

// pare leaves of an involvement what a log of a depth records. Even a full one misses a detail now and then.
func (g *game) pare(d dice, v *models.Involvement, depth models.Depth, skipped map[string]bool) {
	keep := func(code string) bool {
		if coreDetails[v.Kind][code] {
			return true
		}
		return depth == models.Full && !skipped[code] && !d.chance(0.02)
	}
	for _, code := range slices.Sorted(maps.Keys(v.Details)) {
		if !keep(code) {
			delete(v.Details, code)
		}
	}
	for _, code := range slices.Sorted(maps.Keys(v.Measures)) {
		if !keep(code) {
			delete(v.Measures, code)
		}
	}
	if v.Details["numbers"] != "overlap" {
		delete(v.Details, "overlap_finished")
	}
	if depth == models.Core {
		v.Possession, v.Phase = nil, nil
	}
	if len(v.Measures) == 0 {
		v.Measures = nil
	}
}

// coreDetails holds by kind the codes that every log records.
var coreDetails = func() map[models.Kind]map[string]bool {
	core := map[models.Kind]map[string]bool{}
	for _, k := range models.Kinds() {
		core[k.Code] = map[string]bool{}
		for _, detail := range models.DetailsOf(k.Code) {
			core[k.Code][detail.Code] = detail.Depth == models.Core
		}
	}
	return core
}()

// disagree is how another logger sees an involvement: a second earlier or later, and now and then on the other side of
// a threshold.
func (a *actor) disagree(d dice, x *act, v *models.Involvement) {
	if second := v.Clock.Second + d.between(-1, 1); v.Kind != models.KindCarry && x.from == nil &&
		second >= x.phase.from && a.on(x.phase, second) {
		v.Clock.Second = second
	}
	if len(v.Results) > 0 || !d.chance(0.07) {
		return
	}
	for _, near := range thresholds {
		for i, code := range near.codes {
			if near.kind == v.Kind && v.Details[near.detail] == code {
				v.Details[near.detail] = near.codes[(i+1)%len(near.codes)]
				return
			}
		}
	}
}

// thresholds are codes that are told apart by a metre, a second or a glance.
var thresholds = []struct {
	kind   models.Kind
	detail string
	codes  []string
}{
	{models.KindCarry, "gain_line", []string{"over", "level"}},
	{models.KindPass, "result", []string{"accurate", "recoverable"}},
	{models.KindTackle, "result", []string{"even", "lost"}},
	{models.KindAttackRuck, "effect", []string{"secured", "cleared", "ineffective"}},
	{models.KindDefenceRuck, "effect", []string{"slowed", "no_effect"}},
	{models.KindSupportLine, "effect", []string{"option", "none"}},
	{models.KindReposition, "in_place", []string{"yes", "no"}},
}
