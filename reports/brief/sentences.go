package brief

import (
	"fmt"
	"slices"
	"strings"

	"throughline/models"
	"throughline/reports/paper"
)

// cautions stand on every brief.
var cautions = []string{
	"No one is selected or released on a number alone. Figures are evidence beside what coaches saw; every decision has " +
		"a reason in words.",
	"Many candidates are minors, and young players develop at different times. Look at birth dates and time away before " +
		"you read a level as final.",
	"Who may play is for licensed medical staff and your union’s rules to say, not for this paper.",
	"Tell a player in person before anything appears on a screen. Keep this paper to the meeting.",
}

// method says how the brief's own figures are made.
var method = []string{
	"Matches and minutes are those that a candidate played for the academy’s squads in this season, up to the day " +
		"that is given.",
	"An adjusted grade is what the squad’s coaches would give on average over the season: how strict each of them is " +
		"has been taken out. Grades count up to the day on which this paper was made, and so does availability.",
}

// sentences are what to know first: how far the meeting is, on what the figures stand, and what is missing.
func (r *Report) sentences() []paper.Sentence {
	said := []paper.Sentence{{Lead: "How far.", Text: r.stage()}}
	if r.FrozenAt != nil && r.Changed {
		said = append(said, paper.Sentence{Lead: "Since then.", Text: "Records of this season have changed since the " +
			"evidence was kept. Where a candidate’s figure is another today, it says so."})
	}
	if text := r.missing(); text != "" {
		said = append(said, paper.Sentence{Lead: "Missing.", Text: text})
	}
	if text := r.warned(); text != "" {
		said = append(said, paper.Sentence{Lead: "First of all.", Text: text})
	}
	return said
}

// stage says how far the meeting is.
func (r *Report) stage() string {
	switch r.Status {
	case models.MeetingDraft:
		return "The criteria are still being agreed. Figures come once they are locked and the comparison is opened."
	case models.MeetingLocked:
		return "The criteria are locked. Figures come once the comparison is opened."
	}
	kept := "This meeting is from before evidence was kept, so its candidates cannot be compared."
	if r.FrozenAt != nil && !r.unkept {
		kept = "The evidence is of " + paper.Day(string(r.Until)) + ", when the comparison was opened."
	}
	switch r.Status {
	case models.MeetingDecided:
		return kept + " Every candidate is decided."
	case models.MeetingClosed:
		return kept + " The record is closed: what was decided, and why, stands with each candidate."
	}
	return kept + " Nothing is decided until the meeting has talked."
}

// missing says how many candidates cannot be compared.
func (r *Report) missing() string {
	if r.FrozenAt == nil || r.unkept {
		return ""
	}
	all, without := 0, 0
	for _, p := range r.Places {
		for _, c := range p.Candidates {
			all++
			if c.Composite == nil {
				without++
			}
		}
	}
	switch {
	case all == 0:
		return "There is no candidate yet."
	case without == 0:
		return ""
	case without == all:
		return "No candidate has enough figures to be compared: decide by what you have seen."
	}
	return fmt.Sprintf("%d of %s cannot be compared: too much is missing, or nothing enters.", without,
		paper.Plural(all, "candidate", "candidates"))
}

// warned says of how many candidates something must be known first.
func (r *Report) warned() string {
	n := 0
	for _, p := range r.Places {
		for _, c := range p.Candidates {
			if len(c.Warnings) > 0 {
				n++
			}
		}
	}
	switch n {
	case 0:
		return ""
	case 1:
		return "Something must be known of one candidate before they are chosen: see “Before you choose”."
	}
	return fmt.Sprintf("Something must be known of %d candidates before they are chosen: see “Before you choose”.", n)
}

// availability says what is recorded of whether a player can train and play, from a day on.
func availability(day models.Date, spells []models.Spell) string {
	said := []string{}
	for _, w := range (models.Warned{Day: day, Spells: spells}).Warnings() {
		said = append(said, w.Text)
	}
	if len(said) == 0 {
		return "No absence or limit is recorded from " + paper.Day(string(day)) + " on."
	}
	return strings.Join(said, " ")
}

// free is the availability where the warnings do not say it.
func (c Candidate) free() string {
	if slices.ContainsFunc(c.Warnings, func(w string) bool { return strings.Contains(c.Availability, w) }) {
		return ""
	}
	return c.Availability
}

// recorded says which steps of the meeting were taken, by whom and when, empty before the first.
func (r *Report) recorded() string {
	said := []string{}
	for _, s := range r.Steps {
		said = append(said, s.Words+" ("+s.By+", "+paper.Day(string(s.On))+").")
	}
	return strings.Join(said, " ")
}

// playedWords say how much a candidate played.
func (c Candidate) playedWords() string {
	if c.Matches == 0 {
		return "no match"
	}
	said := paper.Plural(c.Matches, "match", "matches")
	if c.Untimed == c.Matches {
		return said + ", minutes not recorded"
	}
	said += ", " + paper.Number(c.Minutes, 0) + " min"
	if c.Untimed > 0 {
		said += fmt.Sprintf("; not recorded in %d", c.Untimed)
	}
	return said
}

// decided says a decision at the beginning of a line.
func decided(d models.Decision) string {
	return map[models.Decision]string{models.Chosen: "Chosen", models.Reserve: "Reserve",
		models.NotChosen: "Not chosen", models.Deferred: "Deferred"}[d]
}
