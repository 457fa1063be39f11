package models

import (
	"fmt"
	"slices"
	"strings"
)

// Goal is what a player works on, agreed with a coach: an indicator or a skill, where the player starts, where they
// want to get to, by when and how.
type Goal struct {
	Record
	PlayerID int64 `json:"player_id"`
	OwnerID  int64 `json:"owner_id"` // the coach or manager who follows it up
	// an indicator's code; give either this or Skill
	Indicator string `json:"indicator,omitempty" texts:"-" limit:"slug 0..60"`
	Skill     string `json:"skill,omitempty" texts:"-" limit:"slug 0..60"`
	SetOn     Date   `json:"set_on"`
	By        Date   `json:"by" gorm:"column:by_date"` // the day to reach it by; after SetOn
	// The starting value, on the indicator's natural scale: per full match, 0 to 1, or the mean's unit. Leave it out: it
	// is then the player's level when the goal is set, from the trend. If you type one, say why in BaselineReason
	Baseline *float64 `json:"baseline,omitempty"`
	// why the starting value was typed and not taken from the trend
	BaselineReason string `json:"baseline_reason,omitempty" limit:"text 0..500"`
	// the 80 % range of the starting value, if it is from the trend
	Baseline80 *Range `json:"baseline_80,omitempty" gorm:"column:baseline_80;serializer:json"`
	// the day of the last match that the starting value is based on, if it is from the trend
	BaselineOn *Date `json:"baseline_on,omitempty"`
	// the revision of the squad's season that it is based on
	BaselineRevision int64   `json:"baseline_revision,omitempty" limit:"0..1000000000"`
	Target           float64 `json:"target"`
	Why              string  `json:"why" limit:"text 1..1000"`
	// what the player and the coach agreed to do
	Actions string `json:"actions" limit:"text 0..2000"`
	// The questions about the goal that the coach has answered; a goal that raises others is refused
	Insist []GoalQuestion `json:"insist,omitempty" gorm:"serializer:json" limit:"set 0..6"`
	// why the goal is right in spite of these questions; required with them
	InsistReason string `json:"insist_reason,omitempty" limit:"text 0..500"`
	ClosedOn     *Date  `json:"closed_on,omitempty"`
	// How it ended; given when the goal is closed. It is met only if the program has proposed that
	Result GoalResult `json:"result,omitempty"`
	// how it went; given when the goal is closed
	Outcome string `json:"outcome,omitempty" limit:"text 0..1000"`
	// where the goal stands today, by the trend and the date
	Status GoalStatus `json:"status,omitempty" gorm:"-"`
	// how likely the player is to reach an open goal; absent while there is too little to say
	Prospect *Prospect `json:"prospect,omitempty" gorm:"-"`
}

// GoalResult is how a goal ended.
type GoalResult string

// The results.
const (
	GoalMet     GoalResult = "met"     // proposed by the program, confirmed by a coach
	GoalNotMet  GoalResult = "not_met" // the date came first
	GoalDropped GoalResult = "dropped" // other things matter more now
)

// Codes lists the results.
func (GoalResult) Codes() []GoalResult { return []GoalResult{GoalMet, GoalNotMet, GoalDropped} }

// GoalStatus is where a goal stands.
type GoalStatus string

// The statuses. The program proposes that a goal is met when the level is there with a probability of MetChance; a
// coach confirms it.
const (
	GoalIsOpen        GoalStatus = "open"
	GoalIsMetProposed GoalStatus = "met_proposed"
	GoalIsOverdue     GoalStatus = "overdue"           // open, and its day has passed
	GoalIsTooLittle   GoalStatus = "too_little_to_say" // open, with too few matches or no trend
	GoalIsMet         GoalStatus = "met"               // closed, confirmed by a coach
	GoalIsClosed      GoalStatus = "closed"            // closed, and not met
	MetChance                    = 0.9                 // the probability from which the level is there
	MostOpenGoals                = 3                   // a player has at most so many open goals, unless a coach insists
	leastGoalMatches             = 4                   // a goal rests on at least so many matches
	mostSpreads                  = 4.0                 // a goal asks for at most so many times the squad's spread
	WorthwhileShare              = 0.2                 // a worthwhile change, as a share of the squad's spread
)

// Codes lists the statuses.
func (GoalStatus) Codes() []GoalStatus {
	return []GoalStatus{GoalIsOpen, GoalIsMetProposed, GoalIsOverdue, GoalIsTooLittle, GoalIsMet, GoalIsClosed}
}

// Words say the status to staff.
func (s GoalStatus) Words() string {
	return map[GoalStatus]string{GoalIsOpen: "open", GoalIsMetProposed: "met, as the figures say: a coach confirms it",
		GoalIsOverdue: "overdue", GoalIsTooLittle: "too little to say yet", GoalIsMet: "met",
		GoalIsClosed: "closed"}[s]
}

// Prospect is how likely a player is to reach an open goal.
type Prospect struct {
	// the probability that the level is at or beyond the target by the goal's date
	Reached float64 `json:"reached"`
	// what that assumes, in one clause
	Assumes string   `json:"assumes"`
	Now     float64  `json:"now"`     // the probability that the level is there now
	Level   Estimate `json:"level"`   // the level now
	Matches int      `json:"matches"` // how many matches it is based on
	// the season and the squad of the trend
	SeasonID int64 `json:"season_id"`
	SquadID  int64 `json:"squad_id"`
	// how the figures of other readers differ from these, in one line
	OtherReaders string `json:"other_readers,omitempty"`
}

// GoalQuestion is a question that a goal raises before it is saved.
type GoalQuestion string

// The questions.
const (
	AskAlreadyMet GoalQuestion = "already_met"
	AskFar        GoalQuestion = "far"
	AskFewMatches GoalQuestion = "few_matches"
	AskVolume     GoalQuestion = "volume_of_contact"
	AskGettingUp  GoalQuestion = "getting_up"
	AskTooMany    GoalQuestion = "too_many_open"
)

// Codes lists the questions.
func (GoalQuestion) Codes() []GoalQuestion {
	return []GoalQuestion{AskAlreadyMet, AskFar, AskFewMatches, AskVolume, AskGettingUp, AskTooMany}
}

// Question is a question about what is to be saved: its code, and the question in plain words.
type Question struct {
	Code GoalQuestion `json:"code"`
	Text string       `json:"text"`
}

// GoalFacts are what is known of a player when a goal is questioned.
type GoalFacts struct {
	Level   *float64 // the level now, or the typed starting value; nil if there is neither
	Spread  float64  // the standard deviation of levels between players of the squad; 0 if it is not known
	Matches int      // how many matches of the player have data
	Open    int      // how many other goals of the player are open
	Now     float64  // the probability that the level is at or beyond the target; 0 if it is not known
}

// Questions returns what to ask before a goal on an indicator or, for a skill, on no indicator is saved.
func (g *Goal) Questions(on Indicator, f GoalFacts) []Question {
	var all []Question
	ask := func(code GoalQuestion, format string, args ...any) {
		all = append(all, Question{code, fmt.Sprintf(format, args...)})
	}
	if f.Level != nil {
		step := g.Target - *f.Level
		if on.Better == Lower {
			step = -step
		}
		switch far := mostSpreads * f.Spread; {
		case step <= 0 || f.Now >= MetChance:
			ask(AskAlreadyMet, "The player is there already: the level is %s and the target %s. What would the goal change?",
				on.said(*f.Level), on.said(g.Target))
		case f.Spread > 0 && step > far:
			ask(AskFar, "The target is %s away, more than four times what players of the squad differ by (%s). Can the player "+
				"get there by %s?", on.said(step), on.said(f.Spread), g.By.inWords())
		}
	}
	if f.Matches < leastGoalMatches {
		ask(AskFewMatches, "The goal rests on %s. Four are the fewest from which a level can be told. Is there another "+
			"reason to set it now?", matchesInWords(f.Matches))
	}
	switch on.asksAbout() {
	case AskVolume:
		ask(AskVolume, "%s counts how much contact a player takes. More is not better, and tired players get hurt. Would a "+
			"goal on how well they do it serve the player better?", on.Label)
	case AskGettingUp:
		ask(AskGettingUp, "%s rewards getting up fast. After a knock to the head a player must stay down. Is the goal safe?",
			on.Label)
	}
	if f.Open >= MostOpenGoals {
		ask(AskTooMany, "The player has %d open goals. Three are the most that a player can work on at once. Which one can "+
			"be closed first?", f.Open)
	}
	return all
}

func matchesInWords(n int) string {
	switch n {
	case 0:
		return "no match with figures"
	case 1:
		return "1 match"
	}
	return fmt.Sprintf("%d matches", n)
}

// said is a value on the indicator's scale, as a question says it.
func (ind *Indicator) said(v float64) string {
	if ind.Unit == "%" {
		return number(RoundTo(0.1, 100*v)) + " %"
	}
	return strings.TrimSpace(number(RoundTo(0.01, v)) + " " + strings.TrimPrefix(ind.Unit, "grade"))
}

// asksAbout is what a goal on the indicator is questioned for. An academy's own rate of what a built-in one counts is
// questioned like it.
func (ind *Indicator) asksAbout() GoalQuestion {
	for i := range indicators {
		if of := &indicators[i]; of.Asks != "" && of.Family == ind.Family && of.Numerator == ind.Numerator &&
			of.Denominator == ind.Denominator {
			return of.Asks
		}
	}
	return ""
}

// Unanswered returns the questions that the goal's coach has not answered.
func (g *Goal) Unanswered(asked []Question) []Question {
	return slices.DeleteFunc(slices.Clone(asked), func(q Question) bool { return slices.Contains(g.Insist, q.Code) })
}

// Answered keeps of the goal's answers those to questions that were asked, and the reason if there are any.
func (g *Goal) Answered(asked []Question) {
	g.Insist = slices.DeleteFunc(slices.Clone(g.Insist), func(code GoalQuestion) bool {
		return !slices.ContainsFunc(asked, func(q Question) bool { return q.Code == code })
	})
	if len(g.Insist) == 0 {
		g.Insist, g.InsistReason = nil, ""
	}
}

// Questioned is the refusal of what raises questions: each with its code, to be sent again in insist with a reason.
func Questioned(questions []Question) error {
	e := &Error{Code: Invalid, Questions: questions, Message: "the goal raises questions; answer them, or insist and " +
		"say why"}
	for _, q := range questions {
		e.Fields = append(e.Fields, FieldError{Where: "insist", Message: fmt.Sprintf("%s To save it all the same, add %q "+
			"to insist and write why in insist_reason.", q.Text, q.Code)})
	}
	return e
}

// StatusOn is where the goal stands on a day. Proposed says that the level is there, by the trend; little that there is
// no trend or that it has too little to say; paused that the player is unavailable, which an overdue mark waits for.
func (g *Goal) StatusOn(today Date, proposed, little, paused bool) GoalStatus {
	switch {
	case g.ClosedOn != nil && g.Result == GoalMet:
		return GoalIsMet
	case g.ClosedOn != nil:
		return GoalIsClosed
	case proposed:
		return GoalIsMetProposed
	case g.By < today && !paused:
		return GoalIsOverdue
	case little:
		return GoalIsTooLittle
	}
	return GoalIsOpen
}

// Assumes is what a chance to reach a goal assumes, in one clause.
func (o *GoalOutlook) Assumes() string {
	if o.Observed {
		return "by the matches up to that day"
	}
	return "if the level keeps moving as it has this season"
}

// CheckIn is a dated remark on how a goal is going.
type CheckIn struct {
	Record
	GoalID   int64 `json:"goal_id"`
	AuthorID int64 `json:"author_id"`
	Date     Date  `json:"date"`
	// Whether the player reads it. If not, it is for staff only
	Shared bool `json:"shared"`
	// Write a shared one to the player, as if you were talking to them. Do not write about a safeguarding concern here:
	// tell the academy's safeguarding lead at once, in person
	Text string `json:"text" limit:"text 1..1000"`
}

// Validate checks the goal's own fields and, where its indicator is a built-in one or it is on a skill, the scale of
// its figures.
func (g Goal) Validate() error {
	var f findings
	f.limits("", &g)
	f.ref("player_id", g.PlayerID)
	switch {
	case g.Indicator == "" && g.Skill == "":
		f.add("indicator", "is missing; give an indicator or a skill")
	case g.Indicator != "" && g.Skill != "":
		f.add("skill", "a goal is for an indicator or a skill, not both; leave one out")
	}
	set, by := f.date("set_on", g.SetOn), f.date("by", g.By)
	if set && by && g.By <= g.SetOn {
		f.add("by", "%s is not after the day the goal was set, %s", g.By, g.SetOn)
	}
	if g.Skill != "" {
		f.onGrades("target", &g.Target)
		f.onGrades("baseline", g.Baseline)
	} else {
		ind, known := IndicatorOf(g.Indicator)
		if !known {
			ind = Indicator{Family: Mean}
		}
		f.onScale(ind, &g)
	}
	f.dateIfAny("baseline_on", g.BaselineOn)
	if g.Status != "" {
		oneOf(&f, "status", g.Status)
	}
	if g.Baseline == nil && g.BaselineReason != "" {
		f.add("baseline_reason", "is for a typed starting value; give it in baseline, or leave the reason out")
	}
	for i, q := range g.Insist {
		oneOf(&f, at("insist", i), q)
	}
	if len(g.Insist) > 0 && g.InsistReason == "" {
		f.add("insist_reason", "is missing; say why the goal is right in spite of the questions")
	}
	if len(g.Insist) == 0 && g.InsistReason != "" {
		f.add("insist_reason", "is for answered questions; name them in insist, or leave the reason out")
	}
	f.ending(&g, set)
	return f.err("goal")
}

// ending checks how a goal ended.
func (f *findings) ending(g *Goal, set bool) {
	if f.dateIfAny("closed_on", g.ClosedOn) && set && *g.ClosedOn < g.SetOn {
		f.add("closed_on", "%s is before the day the goal was set, %s", *g.ClosedOn, g.SetOn)
	}
	if g.ClosedOn == nil {
		const open = "is for a closed goal; give the day in closed_on, or leave the %s out"
		if g.Outcome != "" {
			f.add("outcome", open, "outcome")
		}
		if g.Result != "" {
			f.add("result", open, "result")
		}
		return
	}
	if g.Outcome == "" {
		f.add("outcome", "is missing; to close the goal, say how it went")
	}
	if g.Result == "" {
		f.add("result", "is missing; to close the goal, say whether it was met, not_met or dropped")
	} else {
		oneOf(f, "result", g.Result)
	}
}

// ValidateFor checks the goal's figures against the scale of its indicator, which may be one of the academy's own.
func (g Goal) ValidateFor(ind Indicator) error {
	var f findings
	f.onScale(ind, &g)
	return f.err("goal")
}

func (f *findings) onGrades(where string, v *float64) {
	if v != nil && f.finite(where, *v) && (*v < 1 || *v > 5) {
		f.add(where, "%s is not a grade; write 1 to 5", number(*v))
	}
}

func (f *findings) onScale(ind Indicator, g *Goal) {
	for _, figure := range []struct {
		where string
		v     *float64
	}{{"target", &g.Target}, {"baseline", g.Baseline}} {
		if figure.v == nil || !f.finite(figure.where, *figure.v) {
			continue
		}
		switch {
		case ind.Family == Proportion && (*figure.v < 0 || *figure.v > 1):
			f.add(figure.where, "%s is not a proportion; write 0 to 1, such as 0.6 for 60 %%", number(*figure.v))
		case ind.Family == Rate && *figure.v < 0:
			f.add(figure.where, "%s is less than 0; write how many per full match", number(*figure.v))
		}
	}
}

// Validate checks the check-in's own fields.
func (c CheckIn) Validate() error {
	var f findings
	f.limits("", &c)
	f.ref("goal_id", c.GoalID)
	f.date("date", c.Date)
	return f.err("check-in")
}

// ValidateIn checks that the check-in is not earlier than its goal.
func (c CheckIn) ValidateIn(g Goal) error {
	var f findings
	if c.Date < g.SetOn {
		f.add("date", "%s is before the day the goal was set, %s", c.Date, g.SetOn)
	}
	if g.ClosedOn != nil && c.Date > *g.ClosedOn {
		f.add("date", "%s is after the goal was closed, on %s", c.Date, *g.ClosedOn)
	}
	return f.err("check-in")
}
