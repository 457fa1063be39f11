package season_test

import (
	"fmt"
	"html"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"throughline/models"
	"throughline/reports/season"
)

// opening is what the player's edition shows without opening anything, as text.
func opening(t *testing.T, page string) string {
	t.Helper()
	_, rest, found := strings.Cut(page, `<div class="opening">`)
	open, _, end := strings.Cut(rest, `<details class="fold">`)
	if !found || !end {
		t.Fatal("the player's edition has no opening")
	}
	open = regexp.MustCompile(`(?s)<svg.*?</svg>|<details>.*?</details>`).ReplaceAllString(open, " ")
	open = html.UnescapeString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(open, " "))
	return strings.Join(strings.Fields(open), " ")
}

// What goes well is shown by a moment of it, what to work on by one where it failed, each the right way round.
func TestThePlayersEditionShowsAStrengthAndAJobByMoments(t *testing.T) {
	r := readAs(t, full(), staff, season.PlayerEdition)
	if s := r.Sentences[1]; s.Indicator != "contact_won" || !slices.Equal(s.Moments, []int64{71}) {
		t.Errorf("going well: %+v, want the carry that won the contact", s)
	}
	if s := r.Sentences[2]; s.Indicator != "tackle_completion" || !slices.Equal(s.Moments, []int64{72}) {
		t.Errorf("to work on: %+v, want the missed tackle", s)
	}
	a := full()
	a.moments[0].Details, a.moments[1].Details = map[string]string{"contact": "lost"}, map[string]string{"result": "won"}
	for _, s := range readAs(t, a, staff, season.PlayerEdition).Sentences {
		if len(s.Moments) > 0 {
			t.Errorf("%q is shown by a moment of the contrary", s.Text)
		}
	}
}

// A penalty shows what to work on, and never what goes well. No one is told that nothing stands out
// below what does.
func TestMomentsAndWordsOfThePlayersEditionFitTheFigure(t *testing.T) {
	for _, better := range []bool{true, false} {
		a, level := flanker(12), 20.0
		if better {
			level = 2
		}
		a.publish(trendOf("penalties_conceded", "steady", level, level), 9.1, 14.9)
		a.logs = []models.Log{{Record: models.Record{ID: 5}, MatchID: 100, PlayerID: 11}}
		a.moments = []models.Involvement{{Record: models.Record{ID: 71}, LogID: 5, Kind: models.KindCarry, Moment: true,
			Results: []models.Result{models.ResultPenaltyConceded}}}
		said := readAs(t, a, staff, season.PlayerEdition).Sentences
		s := said[map[bool]int{true: 1, false: 2}[better]]
		if s.Indicator != "penalties_conceded" || len(s.Moments) > 0 == better {
			t.Errorf("fewer penalties than others %v: %+v", better, s)
		}
		if better && said[2].Text != notYet {
			t.Errorf("there is a strength, and what to work on says %q", said[2].Text)
		}
	}
}

// The opening has the goals and how they stand, the latest review, a strength, a job and three pictures, in that order,
// and says no chance, no rank and no formula, and that nothing declines.
func TestThePlayersEditionOpensWithWhatThePlayerNeeds(t *testing.T) {
	page := file(t, readAs(t, full(), staff, season.PlayerEdition))
	open, at := opening(t, page), 0
	for _, want := range []string{"Contact won: 70% by 1 Jun 2026", "Now 63% (likely 58 to 68%).",
		"Agreed: Late footwork, every Tuesday.", "What you agreed to do next: Ten tackles a week",
		"Going well Contact won: improving. Your level went from 41% to 63% over the season.", "Low and square.",
		"Your next job Tackle completion: needs attention.", "Too high, slipped off.", "Your season in pictures",
		"After a knock to the head", "How this is worked out"} {
		next := strings.Index(open[at:], want)
		if next < 0 {
			t.Fatalf("the opening does not say %q after %q", want, open[:at])
		}
		at += next
	}
	for _, never := range []string{"declin", "chance", "rank", "θ", "Σ", "formula"} {
		if strings.Contains(strings.ToLower(open), never) {
			t.Errorf("the opening says %q", never)
		}
	}
	if n := strings.Count(strings.SplitN(page, `<details class="fold">`, 2)[0], "<svg"); n != 3 {
		t.Errorf("%d pictures, want 3", n)
	}
	if strings.Contains(page, "<code>") || strings.Contains(page, "Biometrika") {
		t.Error("the player's edition has formulas")
	}
}

// However much people write, the opening stays short, and all of it stands further down.
func TestTheOpeningStaysShortHoweverMuchPeopleWrite(t *testing.T) {
	a := full()
	long := strings.TrimSpace(strings.Repeat("again and again and ", 90))
	for n := range 6 {
		a.goals = append(a.goals, models.Goal{Record: models.Record{ID: int64(20 + n)}, PlayerID: 11, Indicator: "carries",
			Target: 12, SetOn: "2025-10-01", By: models.Date(fmt.Sprintf("2026-06-%02d", 10+n)), Why: long, Actions: long})
	}
	a.reviews[0].NextStep = long
	for n := range 2 { // two to each of the strength and the job
		another := a.moments[n]
		another.ID += 10
		a.moments = append(a.moments, another)
	}
	for i := range a.moments {
		a.moments[i].Note = long
	}
	page := file(t, readAs(t, a, staff, season.PlayerEdition))
	if words := len(strings.Fields(opening(t, page))); words > 450 {
		t.Errorf("the opening has %d words, want 450 at most: %s", words, opening(t, page))
	}
	if n := strings.Count(page, long); n < 17 { // of goals, the review and the moments
		t.Errorf("what was written stands %d times in full", n)
	}
}

// A text that is cut ends with a sentence, not within one.
func TestTheOpeningEndsATextWithASentence(t *testing.T) {
	a := full()
	a.moments[0].Note = "You clear out the one who was already beaten. The next defender is the one to go for, every time."
	page := opening(t, file(t, readAs(t, a, staff, season.PlayerEdition)))
	if want := "already beaten. …"; !strings.Contains(page, want) || strings.Contains(page, "beaten. The") {
		t.Errorf("the opening lacks %q: %s", want, page)
	}
}

// A guardian's print has what the player reads, open, and the replies; it is made of minors only, and noted.
func TestAGuardiansPrintHasWhatThePlayerReadsAndTheReplies(t *testing.T) {
	a := full()
	a.notes = append(a.notes, models.ReviewNote{Record: models.Record{ID: 2}, PlayerID: 11, AuthorID: 1,
		Date: "2025-10-02", Text: "For staff alone."})
	a.answers = []models.NoteAnswer{
		{Record: models.Record{ID: 1, CreatedAt: time.Date(2025, 10, 3, 9, 0, 0, 0, time.UTC)}, NoteID: 1, AuthorID: 9,
			Text: "I saw it on the video."},
		{Record: models.Record{ID: 2, CreatedAt: time.Date(2025, 10, 4, 9, 0, 0, 0, time.UTC)}, NoteID: 1, AuthorID: 2,
			Text: "Keep at it."},
		{Record: models.Record{ID: 3}, NoteID: 2, AuthorID: 2, Text: "Not for the player."}}
	page := file(t, readAs(t, a, staff, season.GuardianPrint))
	for _, want := range []string{"For a parent or guardian.", "You replied on 3 Oct 2025: I saw it on the video.",
		"Corin Maddle replied on 4 Oct 2025: Keep at it.", "Good line on the switch.", `<details class="fold" open>`} {
		if !strings.Contains(page, want) {
			t.Errorf("the print does not have %q", want)
		}
	}
	if strings.Contains(page, "staff alone") || strings.Contains(page, "Not for the player") ||
		strings.Contains(page, `<details class="fold">`) {
		t.Error("the print has what is for staff, or leaves out what is folded")
	}
	if !slices.Equal(a.printed, []int64{11}) {
		t.Errorf("noted for the audit trail: %v, want player 11 once", a.printed)
	}
	grown := models.Date("2007-01-01")
	a.player.BornOn, a.printed = &grown, nil
	_, err := season.Read(t.Context(), a, season.Request{PlayerID: 11, SeasonID: 7, Who: staff,
		Edition: season.GuardianPrint, Now: time.Date(2026, 5, 2, 0, 0, 0, 0, time.UTC)})
	if models.CodeOf(err) != models.Conflict || a.printed != nil {
		t.Errorf("of a player of age: %v, noted %v", err, a.printed)
	}
	// It ends with the eighteenth birthday: the day before it is still made.
	for at, want := range map[time.Time]models.Code{
		time.Date(2024, 12, 31, 12, 0, 0, 0, time.UTC): "",
		time.Date(2025, 1, 1, 12, 0, 0, 0, time.UTC):   models.Conflict,
	} {
		_, err := season.Read(t.Context(), a, season.Request{PlayerID: 11, SeasonID: 7, Who: staff,
			Edition: season.GuardianPrint, Now: at})
		if models.CodeOf(err) != want {
			t.Errorf("on %s: %v, want %q", at.Format(time.DateOnly), err, want)
		}
	}
}
