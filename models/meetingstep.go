package models

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
)

// MeetingStatus is how far the record of a meeting is.
type MeetingStatus string

// The statuses, in their order.
const (
	MeetingDraft   MeetingStatus = "draft"   // criteria, weights and places are being agreed
	MeetingLocked  MeetingStatus = "locked"  // they are agreed, and no one has compared the candidates
	MeetingOpened  MeetingStatus = "opened"  // the comparison is open, on evidence that was kept
	MeetingDecided MeetingStatus = "decided" // every candidate has a decision, if only deferred
	MeetingClosed  MeetingStatus = "closed"  // only corrections follow
)

// taken says what was done by a step to a status.
var taken = map[MeetingStatus]string{
	MeetingDraft: "Begun", MeetingLocked: "Criteria, weights and places locked",
	MeetingOpened:  "Comparison opened, and a copy of the evidence kept",
	MeetingDecided: "Every candidate decided", MeetingClosed: "Record closed",
}

// Words say what was done, at the beginning of a line.
func (s StepTaken) Words() string { return taken[s.To] }

// MeetingStep is a step from one status to another. Why is the reason for which it is refused, empty if it is allowed.
type MeetingStep struct {
	From, To MeetingStatus
	Why      string
}

// The reasons for which steps are refused.
const (
	lockFirst = "the criteria are not locked: agree criteria, weights and places and lock them first, then open " +
		"the comparison"
	openFirst   = "the comparison is not open yet: open it first, then decide"
	decideFirst = "not every candidate is decided: decide first, then close the record"
	staysLocked = "criteria, weights and places are locked and stay so: for others, start a new meeting"
	staysOpen   = "the comparison was opened and stays so: what was known cannot be unknown"
	staysClosed = "the meeting is closed: add a correction instead"
)

// MeetingSteps is every step between two statuses, and why it is refused. To stay is no step.
func MeetingSteps() []MeetingStep {
	return []MeetingStep{
		{MeetingDraft, MeetingLocked, ""},
		{MeetingDraft, MeetingOpened, lockFirst},
		{MeetingDraft, MeetingDecided, lockFirst},
		{MeetingDraft, MeetingClosed, lockFirst},

		{MeetingLocked, MeetingDraft, staysLocked},
		{MeetingLocked, MeetingOpened, ""},
		{MeetingLocked, MeetingDecided, openFirst},
		{MeetingLocked, MeetingClosed, openFirst},

		{MeetingOpened, MeetingDraft, staysLocked},
		{MeetingOpened, MeetingLocked, staysOpen},
		{MeetingOpened, MeetingDecided, ""},
		{MeetingOpened, MeetingClosed, decideFirst},

		{MeetingDecided, MeetingDraft, staysLocked},
		{MeetingDecided, MeetingLocked, staysOpen},
		{MeetingDecided, MeetingOpened, "every candidate is decided: change a decision as it stands, until the record is " +
			"closed"},
		{MeetingDecided, MeetingClosed, ""},

		{MeetingClosed, MeetingDraft, staysClosed},
		{MeetingClosed, MeetingLocked, staysClosed},
		{MeetingClosed, MeetingOpened, staysClosed},
		{MeetingClosed, MeetingDecided, staysClosed},
	}
}

// MeetingPart is a part of a meeting's record, and in which statuses it may change. Why is the reason for which it is
// refused in the others.
type MeetingPart struct {
	Name string
	In   []MeetingStatus
	Why  string
	same func(old, now *Meeting) bool
}

// MeetingParts are the parts of a meeting's record.
func MeetingParts() []MeetingPart {
	draft := []MeetingStatus{MeetingDraft}
	before := []MeetingStatus{MeetingDraft, MeetingLocked}
	deciding := []MeetingStatus{MeetingOpened, MeetingDecided}
	running := slices.Concat(before, deciding)
	return []MeetingPart{
		{"season and squad", draft, "the season and squad of a meeting stay once its criteria are locked",
			func(old, now *Meeting) bool { return old.SeasonID == now.SeasonID && old.SquadID == now.SquadID }},
		{"criteria", draft, staysLocked,
			func(old, now *Meeting) bool { return slices.Equal(old.Criteria, now.Criteria) }},
		{"places", draft, staysLocked,
			func(old, now *Meeting) bool { return slices.Equal(old.Places, now.Places) }},
		{"candidates removed", before, "the comparison was opened with this candidate: decide on every candidate, even " +
			"if only to defer", func(old, now *Meeting) bool { return len(without(old, now)) == 0 }},
		{"candidates added", running, staysClosed,
			func(old, now *Meeting) bool { return len(without(now, old)) == 0 }},
		{"decisions", deciding, openFirst, sameDecisions},
		{"details", running, staysClosed, func(old, now *Meeting) bool {
			return old.Date == now.Date && old.Purpose == now.Purpose &&
				slices.EqualFunc(old.Present, now.Present, Attendee.same)
		}},
	}
}

func (a Attendee) same(o Attendee) bool {
	if a.UserID == nil || o.UserID == nil {
		return a.UserID == o.UserID && a.Name == o.Name
	}
	return *a.UserID == *o.UserID
}

// without are the candidacies of one meeting that another does not have.
func without(one, other *Meeting) (left []Candidate) {
	for _, c := range one.Candidates {
		if other.Candidate(c.PlayerID, c.Place) == nil {
			left = append(left, c)
		}
	}
	return left
}

// Candidate returns the candidacy of a player for a place, nil for none.
func (m *Meeting) Candidate(player int64, place string) *Candidate {
	for i := range m.Candidates {
		if c := &m.Candidates[i]; c.PlayerID == player && c.Place == place {
			return c
		}
	}
	return nil
}

// sameDecisions says whether no decision, reason, dissent or mark differs.
func sameDecisions(old, now *Meeting) bool {
	for _, c := range now.Candidates {
		was := old.Candidate(c.PlayerID, c.Place)
		if was == nil {
			was = &Candidate{}
		}
		if !c.sameDecision(*was) {
			return false
		}
	}
	return true
}

// Follows is a Conflict, with the reason, if a meeting may not become what now is: a step that MeetingSteps refuses,
// or a part that may not change in the status that it was in. A new meeting is compared with an empty draft.
func (m *Meeting) Follows(old *Meeting) error {
	if old.Status == MeetingClosed {
		return Errorf(Conflict, "%s", staysClosed)
	}
	for _, s := range MeetingSteps() {
		if s.From == old.Status && s.To == m.Status && s.Why != "" {
			return Errorf(Conflict, "%s", s.Why)
		}
	}
	for _, p := range MeetingParts() {
		if !p.same(old, m) && !slices.Contains(p.In, old.Status) {
			return Errorf(Conflict, "%s", p.Why)
		}
	}
	return nil
}

// Comparable is a Conflict if the comparison of a meeting is not open yet.
func (m *Meeting) Comparable() error {
	switch m.Status {
	case MeetingDraft:
		return Errorf(Conflict, "%s", lockFirst)
	case MeetingLocked:
		return Errorf(Conflict, "the comparison is not open yet: open it first")
	}
	return nil
}

// Deletable is a Conflict if a meeting may not be deleted any more. Only a manager deletes one whose comparison was
// opened.
func (m *Meeting) Deletable() error {
	if m.Status == MeetingClosed {
		return Errorf(Conflict, "%s", staysClosed)
	}
	return nil
}

// steps refuses what a record cannot have in its status.
func (f *findings) steps(m *Meeting) {
	for i, s := range m.Steps {
		oneOf(f, at("steps", i)+".to", s.To)
	}
	for i, o := range m.OpenedBefore {
		f.date(at("opened_before", i)+".on", o.On)
	}
	if m.Status == MeetingDraft || !slices.Contains(m.Status.Codes(), m.Status) {
		return
	}
	if len(m.Criteria) == 0 {
		f.add("criteria", "is empty; before you lock them, agree at least one criterion with its weight")
	}
	if len(m.Places) == 0 {
		f.add("places", "is empty; before you lock them, agree at least one place")
	}
	if m.Status == MeetingClosed && len(m.Present) == 0 {
		f.add("present", "is empty; before you close the record, write who was there")
	}
	for i, c := range m.Candidates {
		for label, mark := range c.Marks {
			where := at("candidates", i) + ".marks"
			k := slices.IndexFunc(m.Criteria, func(c Criterion) bool { return c.Label == label })
			switch {
			case k < 0:
				f.add(where, "%q is not one of the criteria", clip(label))
			case !m.Criteria[k].InWords():
				f.add(where, "%q has figures of its own; only a criterion in words takes a mark", clip(label))
			case mark < 1 || mark > 5:
				f.add(where, "%d is not a mark; give 1 to 5", mark)
			}
		}
	}
}

// InWords says whether a criterion has no figures: a meeting may give marks for it.
func (c Criterion) InWords() bool { return c.Indicator == "" && c.Skill == "" }

var (
	digit   = regexp.MustCompile(`\d`)
	letters = regexp.MustCompile(`\p{L}[\p{L}'’]*`)
)

// figureWords are words that say no more than a figure does.
var figureWords = strings.Fields(`a all ahead an and at average be below best better but by candidate candidates
	chance composite criteria criterion first figure figures for full good grade grades greatest group has have her
	high higher highest in is it its last level levels likely low lower lowest match matches mean minutes more most
	of on or out over overall per percent percentage player players points probability rank ranked ranking rate rated
	rating second score scored scores scoring season she squad standard sum than that the their them there they third
	this to top total under value versus vs was weight weighted weights were with worst z`)

// OnlyFigures says whether a reason has a figure, or names a composite, rank or score, and beside figures fewer than
// three words of its own: the names of the criteria and the words in which figures are told do not count.
func OnlyFigures(reason string, criteria []Criterion) bool {
	lower := strings.ToLower(reason)
	known := map[string]bool{}
	for _, w := range figureWords {
		known[w] = true
	}
	for _, c := range criteria {
		for _, w := range letters.FindAllString(strings.ToLower(c.Label), -1) {
			known[w] = true
		}
	}
	own, told := map[string]bool{}, digit.MatchString(reason)
	for _, w := range letters.FindAllString(lower, -1) {
		if !known[w] {
			own[w] = true
			continue
		}
		told = told || slices.Contains([]string{"composite", "rank", "ranked", "ranking", "score", "scored", "scores",
			"highest", "lowest", "total", "top", "probability", "percent", "percentage"}, w)
	}
	return told && len(own) < 3
}

// DraftFeedback is the first draft of what a player is told about a decision, from its reason. A coach makes it their
// own before it is shown.
func DraftFeedback(m *Meeting, c *Candidate) string {
	news := map[Decision]string{
		Chosen:    "You were chosen for this place: %s.",
		Reserve:   "You are in reserve for this place: %s.",
		NotChosen: "You were not chosen for this place this time: %s.",
		Deferred:  "We have not decided yet about you and this place: %s.",
	}[c.Decision]
	if news == "" {
		return ""
	}
	return fmt.Sprintf(news, c.Place) + " This is why: " + strings.TrimSpace(c.Reason)
}
