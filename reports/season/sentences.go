package season

import (
	"fmt"
	"strings"

	"throughline/models"
	"throughline/reports/evidence"
	"throughline/reports/paper"
	"throughline/reports/trend"
)

// Sentence is one of the three plain sentences that open the report: what the season is based on, what goes well, and
// what to work on. Every number in it also appears elsewhere in the report.
type Sentence struct {
	paper.Sentence
	// the code of the indicator the sentence is about
	Indicator string `json:"indicator,omitempty"`
	Skill     string `json:"skill,omitempty"` // the code of the skill the sentence is about
	// the ids of a few moments that show it, the latest first
	Moments []int64 `json:"moments,omitempty"`
}

// clear is the probability from which a sentence names an indicator as ahead of, or behind, the group. A sentence
// picks among a handful of headline indicators, so it says how likely it is to be right, and never that the player is
// better or worse than another.
const clear = 0.80

// sentences are the opening. What is not clear is said once, under what goes well, and not again under what to work
// on.
func (r *Report) sentences() []Sentence {
	good, work := r.strength(), r.work()
	same := r.notClear()
	named := r.Own() && good.Indicator != "" // a player is not told that nothing stands out below what does
	if strings.HasPrefix(work.Text, same) && (named || strings.HasPrefix(good.Text, same)) {
		work.Text = paper.Upper(strings.TrimSpace(strings.TrimPrefix(work.Text, same)))
		if work.Text == "" {
			work.Text = "No figure shows yet what to work on first."
		}
	}
	return []Sentence{r.seasonSentence(), good, work}
}

// voice is how an edition speaks of the player.
type voice struct{ subject, possessive, verb string }

func (r *Report) voice() voice {
	if r.Own() {
		return voice{"You", "your", "have"}
	}
	return voice{r.Player.KnownAs, r.Player.KnownAs + "’s", "has"}
}

func (r *Report) seasonSentence() Sentence {
	v, s := r.voice(), r.Summary
	var b strings.Builder
	if s.Matches == 0 {
		fmt.Fprintf(&b, "%s %s not played for the academy in %s.", v.subject, v.verb, r.Season.Name)
	} else {
		b.WriteString(v.subject + " played ")
		if s.WithoutMinutes == 0 {
			b.WriteString(paper.Number(s.Minutes, 0) + " minutes in ")
		}
		b.WriteString(paper.Plural(s.Matches, "match", "matches"))
		switch {
		case s.Squads != nil:
			b.WriteString(": " + r.bySquad(func(of *evidence.SquadSummary) string { return fmt.Sprint(of.Matches) }))
		case r.Squad != nil:
			b.WriteString(", all for the " + r.Squad.Name)
		}
		b.WriteString("." + minutesKnown(s) + " " + recorded(s))
	}
	if s.OtherMatches > 0 {
		subject := v.subject
		if r.Own() {
			subject = "you"
		}
		fmt.Fprintf(&b, " With other teams %s played %s minutes in %s.", subject, paper.Number(s.OtherMinutes, 0),
			paper.Plural(s.OtherMatches, "match", "matches"))
		if n := s.OtherWithoutMinutes; n > 0 {
			fmt.Fprintf(&b, " Minutes were not recorded in %d of them.", n)
		}
	}
	if !s.Enough {
		fmt.Fprintf(&b, " It takes %d matches and %d minutes to say more.", evidence.LeastMatches, evidence.LeastMinutes)
	}
	if !r.Own() && s.Matches == 0 {
		b.WriteString(" A match counts here once the player’s minutes are entered.")
	} else if !r.Own() && r.bare() {
		b.WriteString(" Log a match from video, or enter its totals, to see figures here.")
	}
	return Sentence{Sentence: paper.Sentence{Lead: "The season", Text: b.String()}}
}

// bare tells whether no match has figures.
func (r *Report) bare() bool { return r.Summary.Logged+r.Summary.Totals == 0 }

// minutesKnown says how many minutes are recorded where some matches lack them; nothing if none does.
func minutesKnown(s evidence.Summary) string {
	switch s.WithoutMinutes {
	case 0:
		return ""
	case s.Matches:
		return " The minutes were not recorded, so nothing is counted per full match."
	}
	return fmt.Sprintf(" We have minutes for %d of them (%s in all) but not for the other %d.",
		s.Matches-s.WithoutMinutes, paper.Number(s.Minutes, 0), s.WithoutMinutes)
}

// recorded says how many of the matches have data, and from where. For a player of several squads it counts all of
// them.
func recorded(s evidence.Summary) string {
	we := "We"
	if s.Squads != nil {
		we = "In all, we"
	}
	switch {
	case s.Logged == s.Matches && s.Matches > 1:
		return "All of them were logged from video."
	case s.Logged > 0 && s.Totals > 0:
		return fmt.Sprintf("%s have video logs for %s and only totals for %d.", we,
			paper.Plural(s.Logged, "match", "matches"), s.Totals)
	case s.Logged > 0:
		return fmt.Sprintf("%s have a video log for %s.", we, paper.Plural(s.Logged, "match", "matches"))
	case s.Totals > 0:
		return fmt.Sprintf("%s have totals for %s and no video log.", we, paper.Plural(s.Totals, "match", "matches"))
	}
	if s.Matches == 1 {
		return "No figures were recorded in it."
	}
	return "No figures were recorded in them."
}

// strength is about the headline indicator that improves most surely, or else the one most likely to be ahead of the
// group.
func (r *Report) strength() Sentence {
	s := Sentence{Sentence: paper.Sentence{Lead: "Going well"}}
	best := r.extreme(func(ahead float64) float64 { return ahead })
	rising := r.mostMoved(trend.Improving, func(t *models.TrendFigures) *float64 { return t.Improved })
	switch {
	case r.bare() && r.Own():
		s.Text = "It is too early to name a strength. Ask your coaches what they saw."
	case r.bare():
		s.Text = "It is too early to name a strength. Go by what coaches and the player saw."
	case !r.Summary.Enough:
		s.Text = "It is too early to name a strength. What you and your coaches saw counts for more than these figures."
		if !r.Own() {
			s.Text = "It is too early to name a strength. What coaches and the player saw counts for more than these figures."
		}
	case rising != nil && r.Own():
		s.Indicator = rising.Code
		s.Text = r.movingToPlayer(rising, rising.Trend.Improved)
	case rising != nil:
		s.Indicator = rising.Code
		s.Text = r.moving(rising, rising.Trend.Improved)
	case best != nil && best.Comparison.Ahead >= clear && r.Own():
		s.Indicator = best.Code
		s.Text = r.aheadToPlayer(best)
	case best != nil && best.Comparison.Ahead >= clear:
		s.Indicator = best.Code
		s.Text = fmt.Sprintf("%s: %s. %s", side(best, "Most likely above the group", "Most likely ahead of the group"),
			paper.Lower(best.Label), r.standing(best))
	default:
		s.Text = r.notClear()
		if top := r.topSkill(func(a, b float64) bool { return a > b }); top != nil {
			s.Skill = top.Code
			s.Text += fmt.Sprintf(" Coaches grade %s highest, %s of 5 on average.", paper.Lower(top.Label),
				paper.Number(top.Grade(), 1))
		}
	}
	return s
}

// work is about the headline indicator that declines most surely, or else the one most likely to be behind the group
// that is not improving.
func (r *Report) work() Sentence {
	s := Sentence{Sentence: paper.Sentence{Lead: "To work on"}}
	least := r.extreme(func(ahead float64) float64 { return -ahead })
	falling := r.mostMoved(trend.Declining, func(t *models.TrendFigures) *float64 { return t.Declined })
	switch {
	case r.bare() && r.Own():
		s.Text = "There are no figures yet. Agree with your coach what to work on first."
	case r.bare():
		s.Text = "There are no figures yet. Agree a goal on what coaches and the player saw."
	case !r.Summary.Enough:
		s.Text = "There are too few matches yet. No figure here is firm enough to set a goal on."
	case falling != nil && r.Own():
		s.Indicator = falling.Code
		s.Text = r.movingToPlayer(falling, falling.Trend.Declined) + r.yourGoalOn(falling.Code)
	case least != nil && least.Comparison.Ahead <= 1-clear && r.Own():
		s.Indicator = least.Code
		s.Text = r.behindToPlayer(least) + r.yourGoalOn(least.Code)
	case falling != nil:
		s.Indicator = falling.Code
		s.Text = r.moving(falling, falling.Trend.Declined) + " " + r.goalOn(falling.Code)
	case least != nil && least.Comparison.Ahead <= 1-clear:
		s.Indicator = least.Code
		s.Text = fmt.Sprintf("%s: %s. %s %s%s",
			side(least, "Most likely below the group", "Most likely behind the group"), paper.Lower(least.Label),
			r.standing(least), r.goalOn(least.Code), r.biggestGap(least))
	default:
		s.Text = r.notClear()
		low := r.topSkill(func(a, b float64) bool { return a < b })
		switch {
		case low == nil || low.Next == "":
		case low.Acts():
			s.Skill = low.Code
			s.Text += fmt.Sprintf(" %s comes first. Your coach will go through the next step with you.", low.Label)
		default:
			s.Skill = low.Code
			s.Text += fmt.Sprintf(" Coaches grade %s lowest, %s of 5 on average. This is the next step. %s",
				paper.Lower(low.Label), paper.Number(low.Grade(), 1), sentence(low.Next))
		}
	}
	for i := range r.Skills {
		if l := &r.Skills[i]; len(l.Calls) > 0 {
			s.Text += fmt.Sprintf(" %s %s.", l.Label, l.CallsInWords())
		}
	}
	return s
}

// wideGap is how far behind the others a gap is named by its size, in standard deviations between players. Our choice:
// half a standard deviation, and more than twice what is worthwhile.
const wideGap = 0.5

// biggestGap names the headline indicator whose level is furthest behind the others, in standard deviations between
// players, if it is more likely behind than not. It is empty if no gap is wide. It is about the size of a gap; the
// sentence before it is about how likely one is.
func (r *Report) biggestGap(likely *evidence.IndicatorLine) string {
	var widest *evidence.IndicatorLine
	for i := range r.Indicators {
		l := &r.Indicators[i]
		if !r.compared(l) || improving(l) || l.Comparison.Standard == nil || l.Comparison.Ahead >= 0.5 ||
			*l.Comparison.Standard > -wideGap {
			continue
		}
		if widest == nil || *l.Comparison.Standard < *widest.Comparison.Standard {
			widest = l
		}
	}
	switch {
	case widest == nil:
		return ""
	case widest == likely:
		return " It is also the biggest gap."
	}
	scale := paper.ScaleOf(widest.Unit)
	return fmt.Sprintf(" Biggest gap: %s. %s is %s%s. %s", paper.Lower(widest.Label), r.level(),
		scale.Value(widest.Level.Mean), per(widest), widest.Comparison.Sentence(scale))
}

// standing says where the player's level is, how sure that is, and where the group is.
func (r *Report) standing(l *evidence.IndicatorLine) string {
	scale, c := paper.ScaleOf(l.Unit), l.Comparison
	who := "the player is"
	if r.Own() {
		who = "you are"
	}
	return fmt.Sprintf("%s is %s%s, likely %s. %s The chance that %s ahead of %s is %s.",
		r.level(), scale.Value(l.Level.Mean), per(l), scale.Range(l.Level.Range80.Lo, l.Level.Range80.Hi), c.Sentence(scale),
		who, middle(c), paper.Chance(c.Ahead))
}

// level begins a sentence on a level, with the squad that it is of where the player has several.
func (r *Report) level() string {
	return paper.Upper(r.voice().possessive) + " level" + r.of.ForSquad()
}

// side returns the first words, or the second for a figure where lower is better: a player with fewer penalties than
// the group is ahead of it, not above it.
func side(l *evidence.IndicatorLine, words, lowerIsBetter string) string {
	if l.Better == models.Lower {
		return lowerIsBetter
	}
	return words
}

// middle is what a chance of being ahead is of.
func middle(c *evidence.Comparison) string {
	if c.Mean == nil {
		return "the middle of them"
	}
	return "it"
}

// improving says whether the indicator's trend is for the better, so that it is not what to work on first.
func improving(l *evidence.IndicatorLine) bool {
	return evidence.Firm(l.Trend, trend.Improving) || evidence.Firm(l.Trend, trend.ProbablyImproving)
}

// mostMoved returns the headline indicator with a verdict that is surest of it; the first of equals; nil for none.
func (r *Report) mostMoved(v trend.Verdict, chance func(*models.TrendFigures) *float64) *evidence.IndicatorLine {
	var most *evidence.IndicatorLine
	for i := range r.Indicators {
		l := &r.Indicators[i]
		if !l.Headline || l.Better == models.Neither || !evidence.Firm(l.Trend, v) || l.Trend.Start == nil ||
			chance(l.Trend) == nil {
			continue
		}
		if most == nil || *chance(l.Trend) > *chance(most.Trend) {
			most = l
		}
	}
	return most
}

// moving says from where to where a level went, and how sure it is that the change is real.
func (r *Report) moving(l *evidence.IndicatorLine, chance *float64) string {
	scale, t := paper.ScaleOf(l.Unit), l.Trend
	words := fmt.Sprintf(
		"%s: %s. %s went from %s to %s%s over the season. It is likely %s now. We are %s sure the "+
			"change is real.", l.Label, r.of.VerdictWords(t, l.Better), r.level(),
		scale.Value(t.Start.Mean), scale.Value(t.Now.Mean), per(l), scale.Range(t.Now.Range80.Lo, t.Now.Range80.Hi),
		paper.Chance(*chance))
	if c := l.Comparison; c != nil {
		words += " " + c.Sentence(scale)
	}
	return words
}

// The sentences to a player say what goes well or what to work on first, and the numbers last. How sure we are is in a
// word: chances stand in the table.

// sure is the probability from which the player is told without "probably".
const sure = 0.95

// movingToPlayer says from where to where a level went.
func (r *Report) movingToPlayer(l *evidence.IndicatorLine, chance *float64) string {
	scale, t := paper.ScaleOf(l.Unit), l.Trend
	words := fmt.Sprintf("%s: %s.%s ", l.Label, r.of.VerdictWords(t, l.Better), lowerIsBetter(l))
	if *chance < sure {
		words += "The change is probably real. "
	}
	return words + fmt.Sprintf("%s went from %s to %s%s over the season.", r.level(), scale.Value(t.Start.Mean),
		scale.Value(t.Now.Mean), per(l))
}

// aheadToPlayer is about a figure that is likely to be ahead of the middle of the group.
func (r *Report) aheadToPlayer(l *evidence.IndicatorLine) string {
	kind := "probably one of your strong points"
	if l.Comparison.Ahead >= sure {
		kind = "one of your strong points"
	}
	return fmt.Sprintf("%s: %s.%s %s", l.Label, kind, lowerIsBetter(l), r.besideOthers(l))
}

// behindToPlayer is about a figure that is likely to be behind the middle of the group.
func (r *Report) behindToPlayer(l *evidence.IndicatorLine) string {
	kind := "probably where you can gain most"
	if l.Comparison.Ahead <= 1-sure {
		kind = "where you can gain most"
	}
	return fmt.Sprintf("%s: %s.%s %s", l.Label, kind, lowerIsBetter(l), r.besideOthers(l))
}

// besideOthers says where the player's level is and where most others are.
func (r *Report) besideOthers(l *evidence.IndicatorLine) string {
	scale := paper.ScaleOf(l.Unit)
	return fmt.Sprintf("%s is %s%s. %s", r.level(), scale.Value(l.Level.Mean), per(l), l.Comparison.Sentence(scale))
}

// yourGoalOn says to the player that an open goal is on an indicator; nothing of none.
func (r *Report) yourGoalOn(code string) string {
	for _, g := range r.openGoals() {
		if g.Indicator == code {
			return " You have a goal on it."
		}
	}
	return ""
}

// lowerIsBetter says so where it is.
func lowerIsBetter(l *evidence.IndicatorLine) string {
	return side(l, "", " Fewer is better.")
}

// per is what a rate is counted per.
func per(l *evidence.IndicatorLine) string {
	if l.Family == models.Rate {
		return " per full match"
	}
	return ""
}

func (r *Report) goalOn(code string) string {
	closed := false
	for _, g := range r.Goals {
		if g.Indicator != code {
			continue
		}
		if g.ClosedOn == nil {
			return "There is an open goal on it."
		}
		closed = true
	}
	if closed {
		return "An earlier goal on it is closed."
	}
	return "There is no goal on it yet."
}

// notClear says that no headline indicator stands on one side of the group, that the player has too few matches in the
// squad that they are compared with, or that there is no group yet.
func (r *Report) notClear() string {
	few := false
	for i := range r.Indicators {
		l := &r.Indicators[i]
		if r.compared(l) {
			return "Nothing stands out yet."
		}
		few = few || l.Headline && l.Comparison != nil && r.of.CountedFor(l) < evidence.LeastMatches
	}
	if few {
		v := r.voice()
		return fmt.Sprintf("%s %s too few matches with figures%s to say what stands out. It takes %d.", v.subject, v.verb,
			r.of.ForSquad(), evidence.LeastMatches)
	}
	return "Too few team-mates have data to compare with yet."
}

// compared says whether a sentence may pick the indicator.
func (r *Report) compared(l *evidence.IndicatorLine) bool {
	return l.Headline && l.Comparison != nil && l.Better != models.Neither && r.of.CountedFor(l) >= evidence.LeastMatches
}

// extreme returns the headline indicator with the highest score of its probability of being ahead; the first of
// equals; nil for none. Where being behind scores higher, those that improve are left out.
func (r *Report) extreme(score func(ahead float64) float64) *evidence.IndicatorLine {
	var best *evidence.IndicatorLine
	for i := range r.Indicators {
		l := &r.Indicators[i]
		if r.compared(l) && !(score(0) > score(1) && improving(l)) &&
			(best == nil || score(l.Comparison.Ahead) > score(best.Comparison.Ahead)) {
			best = l
		}
	}
	return best
}

// oneGrade says whether coaches grade all skills alike, so that none is highest and none lowest.
func (r *Report) oneGrade() bool {
	var first *evidence.SkillLine
	for i := range r.Skills {
		s := &r.Skills[i]
		switch {
		case s.Ratings < 2:
		case first == nil:
			first = s
		case s.Grade() != first.Grade():
			return false
		}
	}
	return true
}

// topSkill returns the skill whose grade is foremost among those with at least two grades by coaches, or nil; also nil
// if all are alike, for a skill is never both highest and lowest. A skill with a grade that calls for action is never
// highest.
func (r *Report) topSkill(before func(a, b float64) bool) *evidence.SkillLine {
	var top *evidence.SkillLine
	for i := range r.Skills {
		s := &r.Skills[i]
		if before(2, 1) && s.Acts() {
			continue
		}
		if s.Ratings >= 2 && !r.oneGrade() && (top == nil || before(s.Grade(), top.Grade())) {
			top = s
		}
	}
	return top
}

// sentence ends a text with a full stop, once.
func sentence(text string) string {
	if strings.HasSuffix(text, ".") {
		return text
	}
	return text + "."
}
