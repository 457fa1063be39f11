package season_test

import (
	"encoding/json"
	"fmt"
	"html"
	"regexp"
	"slices"
	"strings"
	"testing"

	"throughline/models"
)

func TestAllOfTheMatchesAreNeverCalledMostOfThem(t *testing.T) {
	for _, c := range []struct {
		of    int // matches of the squad, of six
		words string
	}{{6, " in 6 matches, all for the Under 18."}, {5, " in 6 matches: 1 for the Under 20 and 5 for the Under 18."},
		{4, " in 6 matches: 2 for the Under 20 and 4 for the Under 18."}} {
		a := flanker(6)
		other := int64(4)
		a.squads = []models.Squad{{Record: models.Record{ID: other}, Name: "Under 20"}}
		for i := range 6 - c.of {
			a.matches[i].SquadID = &other
		}
		if said := read(t, a, staff).Sentences[0].Text; !strings.Contains(said, c.words) {
			t.Errorf("%d of 6 matches for the squad: %q, want %q in it", c.of, said, c.words)
		}
	}
	said := read(t, flanker(1), himself).Sentences[0].Text
	if !strings.Contains(said, ", all for the ") || strings.Contains(said, "most of them") {
		t.Errorf("the only match is worded as %q", said)
	}
}

// One match shows minutes and moments. It shows no chart, no figure against others, and no chance.
func TestOneMatchHasMinutesAndMomentsAndNeitherChartsNorChances(t *testing.T) {
	chances := regexp.MustCompile(`(?i)\bchances?\b|likely`)
	for _, who := range []models.Who{staff, himself} {
		a := flanker(1)
		a.logs = []models.Log{{Record: models.Record{ID: 5}, MatchID: 100, PlayerID: 11}}
		a.moments = []models.Involvement{{Record: models.Record{ID: 77}, LogID: 5, Kind: models.KindCarry, Moment: true,
			Note: "Low and square."}}
		a.goals = []models.Goal{{Record: models.Record{ID: 6}, PlayerID: 11, Indicator: "contact_won", Target: 0.6,
			SetOn: "2025-09-07", By: "2025-12-01", Why: "More of these."}}
		a.observations = append(a.observations, models.Observation{PlayerID: 11, MatchID: 100,
			Indicator: "tackle_completion.q1", Numerator: 1, Denominator: 1})
		r := read(t, a, who)
		page := file(t, r)
		words := regexp.MustCompile(`(?s)<head>.*?</head>|<[^>]*>`).ReplaceAllString(page, " ")
		if !strings.Contains(words, "70 minutes in 1 match") || !strings.Contains(words, "Low and square.") {
			t.Errorf("%s: one match misses its minutes or its moment", who.Role)
		}
		if strings.Contains(page, "<svg") || strings.Contains(page, `id="figures-table"`) ||
			strings.Contains(page, `id="quarters-table"`) {
			t.Errorf("%s: one match has a chart or a table of figures", who.Role)
		}
		if found := chances.FindString(words); found != "" {
			t.Errorf("%s: one match speaks of %q", who.Role, found)
		}
		if data, err := json.Marshal(r); err != nil || strings.Contains(string(data), `"ahead"`) {
			t.Errorf("%s: the JSON of one match has a chance of being ahead, %v", who.Role, err)
		}
	}
}

func TestNoSkillIsBothHighestAndLowest(t *testing.T) {
	for _, c := range []struct {
		grades        map[string][]int
		highest, less string
	}{
		{map[string][]int{"tackle": {3, 3}}, "", ""},
		{map[string][]int{"tackle": {3, 3}, "breakdown": {3, 3}}, "", ""},
		{map[string][]int{"tackle": {4, 4}, "breakdown": {2, 2}, "support_lines": {}}, "tackle", "breakdown"},
		{map[string][]int{"tackle": {4, 4}, "breakdown": {2, 2}, "support_lines": {2, 2}}, "tackle", "breakdown"},
	} {
		a := flanker(6)
		a.group = nil // no figure stands out, so the sentences turn to grades
		for skill, values := range c.grades {
			a.ratings = append(a.ratings, byTwo(grades(skill, values...))...)
		}
		for _, who := range []models.Who{staff, himself} {
			r := read(t, a, who)
			if r.Sentences[1].Skill != c.highest || r.Sentences[2].Skill != c.less {
				t.Errorf("%s, %v: highest %q and lowest %q, want %q and %q", who.Role, c.grades, r.Sentences[1].Skill,
					r.Sentences[2].Skill, c.highest, c.less)
			}
		}
	}
}

// notYet is all that is said of what to work on where what goes well has already said why.
const notYet = "No figure shows yet what to work on first."

func TestWithoutFiguresOfOthersTheReportSaysWhatIsMissing(t *testing.T) {
	a := flanker(6)
	a.group = nil
	for _, who := range []models.Who{staff, himself} {
		s := read(t, a, who).Sentences
		if s[1].Text != "Too few team-mates have data to compare with yet." || s[2].Text != notYet {
			t.Errorf("%s: %+v", who.Role, s)
		}
	}
	a = flanker(6)
	for i := range a.group { // everyone alike
		a.group[i].Numerator, a.group[i].Denominator = 5, 10
	}
	for i := range a.observations {
		a.observations[i].Numerator, a.observations[i].Denominator = 5, 10
	}
	if s := read(t, a, staff).Sentences[1]; s.Text != "Nothing stands out yet." {
		t.Errorf("alike in all: %q", s.Text)
	}
	if !strings.Contains(file(t, read(t, a, staff)), "Nothing stands out yet.") {
		t.Error("alike in all: the page does not say so")
	}
}

// Every heading, caption and column of the player's edition speaks to the player. Their name stands at the top only.
func TestThePlayersEditionSpeaksToYouInHeadingsToo(t *testing.T) {
	heads := regexp.MustCompile(`(?s)<(h[1-6]|caption|summary|th|dt|title|desc)\b[^>]*>(.*?)</`)
	third := regexp.MustCompile(`(?i)\bthe player|\bperrin\b|\btheir\b|\bhis\b`)
	a := flanker(8)
	a.ratings = byTwo(grades("tackle", 3, 4, 3, 3))
	for _, code := range []string{"contact_won", "tackle_completion"} {
		a.publish(trendOf(code, "improving", 0.5, 0.7), 0.4, 0.8)
	}
	page := file(t, read(t, a, himself))
	_, body, _ := strings.Cut(page, "</h1>")
	for _, found := range heads.FindAllStringSubmatch(body, -1) {
		said := html.UnescapeString(found[2])
		if word := third.FindString(said); word != "" {
			t.Errorf("%s: %q speaks of %q", found[1], said, word)
		}
	}
	for _, want := range []string{"Where you stand", "Your season in pictures", "Your figures", "Your matches",
		"Your skills", "Keep in mind", "What your figures mean"} {
		if !strings.Contains(body, ">"+want+"<") {
			t.Errorf("the player's edition has no heading %q", want)
		}
	}
	for _, s := range read(t, a, himself).Sentences {
		if word := third.FindString(s.Text); word != "" && !strings.Contains(s.Text, "Most others") {
			t.Errorf("%q speaks of %q", s.Text, word)
		}
	}
	if page := file(t, read(t, flanker(8), staff)); !strings.Contains(page, "Where the player stands") {
		t.Error("the staff's edition does not speak about the player")
	}
}

func TestASentenceSaysHowSureItIsInOneClause(t *testing.T) {
	a := flanker(12)
	a.squadSeason = models.SquadSeason{Revision: 5, Fitted: 5}
	moved := trendOf("contact_won", "improving", 0.41, 0.63)
	a.trends = []models.Trend{moved}
	r := read(t, a, staff)
	chance := *moved.Figures.Improved
	want := fmt.Sprintf("We are %.0f%% sure the change is real.", 100*chance)
	if said := r.Sentences[1].Text; !strings.Contains(said, want) ||
		!strings.HasPrefix(said, "Contact won: improving. ") {
		t.Errorf("%q, want %q in it", said, want)
	}
}

// A player who was unavailable all season is not told to play, and the paper says since when they are out.
func TestAnUnavailablePlayerIsNotToldToPlay(t *testing.T) {
	a := flanker(0)
	a.memberships = []models.Membership{{SeasonID: 7, SquadID: 3, PlayerID: 11, From: "2025-08-01"}}
	a.spells = []models.Spell{{PlayerID: 11, Status: models.Unavailable, From: "2025-08-01"}}
	for _, who := range []models.Who{staff, himself} {
		page := file(t, read(t, a, who))
		if strings.Contains(page, "lay more matches") || strings.Contains(page, "More matches first") {
			t.Errorf("%s: a player who cannot play is told to", who.Role)
		}
		if !strings.Contains(page, "Not available since 1 Aug 2025.") {
			t.Errorf("%s: the paper does not say that the player is out", who.Role)
		}
	}
}

// A figure that a player of two squads has for one of them alone says for which.
func TestAFigureOfOneOfTwoSquadsSaysOfWhich(t *testing.T) {
	r := read(t, ofTwoSquads(), staff)
	if l := indicator(t, r, "tackle_completion"); l.Squads != nil || l.OnlySquad != "Under 18" {
		t.Errorf("by squad %v, only %q", l.Squads, l.OnlySquad)
	}
	if page := file(t, r); !strings.Contains(page, "Under 18 only, 54 of 60 in 6 matches") ||
		!strings.Contains(page, "From 6 matches for the Under 18.") {
		t.Error("the page does not say that only the Under 18 have tackles")
	}
	for _, l := range read(t, flanker(6), staff).Indicators {
		if l.OnlySquad != "" {
			t.Errorf("a player of one squad has %s of %q", l.Code, l.OnlySquad)
		}
	}
}

// Made-up players at the edges of a season, in each edition: no phrase that is wrong for them.
func TestPlayersAtTheEdgesOfASeasonAreWordedRight(t *testing.T) {
	never := regexp.MustCompile(`(?i)most of them|held against|hold the figures|nobody|somebody|\bNaN\b|\b1 matches\b`)
	member := []models.Membership{{SeasonID: 7, SquadID: 3, PlayerID: 11, From: "2025-08-01"}}
	edges := map[string]*archive{"no match": flanker(0), "grades only": flanker(0), "one match": flanker(1),
		"just arrived": flanker(2), "two squads": ofTwoSquads()}
	edges["grades only"].ratings = append(grades("tackle", 3, 4, 3), grades("breakdown", 2, 3, 2)...)
	for name, a := range edges {
		a.memberships = member
		for _, who := range []models.Who{staff, himself} {
			r := read(t, a, who)
			words := html.UnescapeString(regexp.MustCompile(`(?s)<head>.*?</head>|<[^>]*>`).ReplaceAllString(file(t, r), "|"))
			if found := never.FindString(words); found != "" {
				t.Errorf("%s, %s: the paper says %q", name, who.Role, found)
			}
			if high := r.Sentences[1].Skill; high != "" && high == r.Sentences[2].Skill {
				t.Errorf("%s, %s: %s is both highest and lowest", name, who.Role, high)
			}
			if r.Summary.Matches < 2 && len(r.Headlines) > 0 {
				t.Errorf("%s, %s: pictures of %v", name, who.Role, r.Headlines)
			}
		}
	}
}

// A player of two squads with few matches in the one that they are compared with is told that, and not that team-mates
// lack data, while comparisons stand below.
func TestTooFewMatchesInASquadAreNotCalledTooFewTeamMates(t *testing.T) {
	a := ofTwoSquads()
	late := func(match int64) bool { return match >= 103 && match < 900 }
	a.appearances = slices.DeleteFunc(a.appearances, func(p models.Appearance) bool { return late(p.MatchID) })
	a.observations = slices.DeleteFunc(a.observations, func(o models.Observation) bool { return late(o.MatchID) })
	a.squadSeason = models.SquadSeason{Revision: 5, Fitted: 5}
	a.publish(trendOf("contact_won", "unclear", 0.5, 0.5), 0.4, 0.8)
	for _, c := range []struct {
		who  models.Who
		want string
	}{
		{staff, "Perrin has too few matches with figures for the Under 18 to say what stands out. It takes 4."},
		{himself, "You have too few matches with figures for the Under 18 to say what stands out. It takes 4."},
	} {
		r := read(t, a, c.who)
		if indicator(t, r, "contact_won").Comparison == nil {
			t.Fatalf("%s: no comparison stands below", c.who.Role)
		}
		if s := r.Sentences; s[1].Text != c.want || s[2].Text != notYet {
			t.Errorf("%s: %+v, want %q and %q", c.who.Role, s[1:], c.want, notYet)
		}
	}
}

// Without matches the paper says so, and explains the making of nothing that it does not show.
func TestWithoutMatchesThereAreNoMethodsOfFiguresAndNoCountsOfNothing(t *testing.T) {
	member := []models.Membership{{SeasonID: 7, SquadID: 3, PlayerID: 11, From: "2025-08-01"}}
	for _, who := range []models.Who{staff, himself} {
		a := flanker(0)
		a.memberships = member
		r := read(t, a, who)
		page := file(t, r)
		if len(r.Methods) > 0 || strings.Contains(page, "with totals only") || strings.Contains(page, "Logged from video") ||
			!strings.Contains(page, "none yet") {
			t.Errorf("%s: methods %v, or counts of nothing", who.Role, r.Methods)
		}
		a.ratings = byTwo(grades("tackle", 3, 4, 3))
		if r = read(t, a, who); len(r.Methods) != 1 || r.Methods[0].Name != "Coaches’ grades" {
			t.Errorf("%s: of a player with grades only, methods %v", who.Role, r.Methods)
		}
		if r = read(t, flanker(6), who); len(r.Methods) < 5 {
			t.Errorf("%s: of a player with figures, only methods %v", who.Role, r.Methods)
		}
	}
}

// A player with matches who was unavailable throughout reads of the matches and of being out, and is told to play none.
func TestAPlayerWithMatchesWhoWasUnavailableThroughoutIsNotToldToPlay(t *testing.T) {
	a := flanker(3)
	a.spells = []models.Spell{{PlayerID: 11, Status: models.Unavailable, From: "2025-08-01"}}
	for _, who := range []models.Who{staff, himself} {
		page := file(t, read(t, a, who))
		if strings.Contains(page, "lay more matches") || strings.Contains(page, "More matches first") ||
			!strings.Contains(page, "210 minutes in 3 matches") || !strings.Contains(page, "Not available since 1 Aug 2025.") {
			t.Errorf("%s: a player who is out is told to play, or their matches or spell are missing", who.Role)
		}
	}
}
