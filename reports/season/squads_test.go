package season_test

import (
	"html"
	"regexp"
	"strings"
	"testing"

	"throughline/models"
)

// A grade and a note of a player of two squads are of the squad whose match they are about. A grade of a training block
// is of the only squad that the player was in on its day.
func TestGradesAndNotesOfAPlayerOfTwoSquadsNameTheSquad(t *testing.T) {
	first, second := int64(100), int64(900)
	change := models.Date("2025-10-31")
	for _, who := range []models.Who{staff, himself} {
		a := ofTwoSquads()
		a.memberships = []models.Membership{{SeasonID: 7, SquadID: 3, PlayerID: 11, From: "2025-08-01"},
			{SeasonID: 7, SquadID: 4, PlayerID: 11, From: change}}
		give := func(grade int, day models.Date, match *int64, block string) {
			a.ratings = append(a.ratings, models.Rating{PlayerID: 11, RaterID: int64(1 + len(a.ratings)%2), Skill: "tackle",
				Grade: grade, Date: day, MatchID: match, Block: block})
		}
		give(3, "2025-09-06", &first, "")
		give(1, "2025-12-01", &second, "")
		give(4, "2025-10-30", nil, "Autumn block")
		give(4, "2025-11-10", nil, "Late block")
		a.notes = []models.ReviewNote{{PlayerID: 11, AuthorID: 1, Date: "2025-12-02", MatchID: &second, Shared: true,
			Text: "Feet first."}}
		if who.Role == models.RolePlayer {
			a.ratings = byTwo(a.ratings)
		}
		page := html.UnescapeString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(file(t, read(t, a, who)), "|"))
		want := []string{
			"6 Sep 2025 Opponent A, Under 18", "1 Dec 2025 Oldfield, Under 20", "30 Oct 2025 Autumn block, Under 18",
			"10 Nov 2025 Late block|", "about the match with Oldfield, Under 20",
		}
		if who.Role != models.RolePlayer {
			want = append(want, "calls for action: grade 1 on 1 Dec 2025 for the Under 20",
				"4 grades by 2 coaches: 2 for the Under 18, 1 for the Under 20, 1 not tied to one squad")
		}
		for _, words := range want {
			if !strings.Contains(page, words) {
				t.Errorf("%s: the page does not say %q", who.Role, words)
			}
		}
	}
	one := flanker(6)
	one.ratings = grades("tackle", 3, 4)
	page := file(t, read(t, one, staff))
	if strings.Contains(page, "coaches: ") || strings.Contains(page, "block, Under") {
		t.Error("the grades of a player of one squad name it")
	}
}

// What is not clear is said once: what to work on does not open with the sentence that what goes well opens with.
func TestGoingWellAndToWorkOnNeverOpenWithTheSameSentence(t *testing.T) {
	few := ofTwoSquads()
	few.appearances, few.observations = few.appearances[3:], nil
	level := flanker(6)
	level.group, level.observations = nil, nil
	graded := ofTwoSquads()
	graded.group = nil
	graded.ratings = append(grades("tackle", 4, 4), grades("breakdown", 2, 2)...)
	first := func(text string) string { return strings.SplitAfter(text, ".")[0] }
	for name, a := range map[string]*archive{"few matches": few, "no figures": level, "with grades": graded} {
		for _, who := range []models.Who{staff, himself} {
			s := read(t, a, who).Sentences
			if first(s[1].Text) == first(s[2].Text) || s[1].Text == "" || s[2].Text == "" {
				t.Errorf("%s, %s: %q and %q open alike", name, who.Role, s[1].Text, s[2].Text)
			}
		}
	}
}

// A print leaves out the folded moments of each match, and so the heading where none is to be looked at first.
func TestAPrintHasNoHeadingOverFoldedMomentsAlone(t *testing.T) {
	a := flanker(12)
	a.logs = []models.Log{{Record: models.Record{ID: 5}, MatchID: 100, PlayerID: 11}}
	a.moments = []models.Involvement{{Record: models.Record{ID: 77}, LogID: 5, Kind: models.KindKick, Moment: true}}
	r := read(t, a, staff)
	if len(r.Moments) != 1 || r.Moments[0].First {
		t.Fatalf("%+v; want one moment, not to be looked at first", r.Moments)
	}
	page := file(t, r)
	if strings.Contains(page, "Moments to look at") || !strings.Contains(page, "<h2>More moments</h2>") {
		t.Error("a print has the heading of moments over nothing")
	}
}

// byTwo are grades with the same ones of a second coach: a player is shown no grade that one coach alone gave.
func byTwo(given []models.Rating) []models.Rating {
	var all []models.Rating
	for _, g := range given {
		second := g
		second.RaterID += 50
		all = append(all, g, second)
	}
	return all
}
