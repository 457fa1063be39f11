package brief

import (
	"strings"
	"testing"
	"time"

	"throughline/models"
	"throughline/reports/selection"
)

var now = time.Date(2026, time.February, 10, 9, 0, 0, 0, time.UTC)

// agreed is a source of a meeting whose comparison is not open: what is not answered here must not be asked for.
type agreed struct {
	Source
	status models.MeetingStatus
	goals  int // how often goals were asked for
}

func (a *agreed) Meeting(int64) (models.Meeting, error) {
	return models.Meeting{Record: models.Record{ID: 6}, SeasonID: 7, SquadID: 3, Date: "2026-03-02", Status: a.status,
		Purpose:  "Spring trial",
		Criteria: []models.Criterion{{Label: "Contact", Indicator: "contact_won", Weight: 3}, {Label: "Coaching", Weight: 1}},
		Places:   []models.Place{{Name: "Back row", Wanted: 2}, {Name: "Captain", Wanted: 1}},
		Candidates: []models.Candidate{{PlayerID: 5, Place: "Back row"}, {PlayerID: 9, Place: "Back row"},
			{PlayerID: 8, Place: "Back row"}}}, nil
}

func (a *agreed) Season(int64) (models.Season, error) {
	return models.Season{Starts: "2025-07-01", Ends: "2026-06-30"}, nil
}
func (a *agreed) Squad(int64) (models.Squad, error)    { return models.Squad{Name: "Under 18"}, nil }
func (a *agreed) UserNames() (map[int64]string, error) { return nil, nil }
func (a *agreed) Indicators() ([]models.Indicator, error) {
	return []models.Indicator{{Code: "contact_won", Label: "Contact won", Unit: "%"}}, nil
}
func (a *agreed) Skills() ([]models.Skill, error) { return nil, nil }
func (a *agreed) Spells(models.SpellFilter) ([]models.Spell, error) {
	until := models.Date("2026-03-01")
	return []models.Spell{{PlayerID: 5, Status: models.Modified, From: "2026-02-08", Until: &until}}, nil
}

func (a *agreed) Player(id int64) (models.Player, error) {
	if id == 9 {
		return models.Player{}, models.Errorf(models.NotFound, "there is no player 9")
	}
	return models.Player{Record: models.Record{ID: id}, Name: map[int64]string{5: "Tam Okell", 8: "Bryn Ask"}[id]}, nil
}

func (a *agreed) Matches(models.MatchFilter) ([]models.Match, error) {
	ours := int64(3)
	return []models.Match{{Record: models.Record{ID: 1}, Date: "2026-01-10", SquadID: &ours},
		{Record: models.Record{ID: 2}, Date: "2026-01-17"}, // another team's
		{Record: models.Record{ID: 3}, Date: "2026-02-10", SquadID: &ours},
		{Record: models.Record{ID: 4}, Date: "2026-02-11", SquadID: &ours}}, nil
}

func (a *agreed) Appearances(models.AppearanceFilter) ([]models.Appearance, error) {
	return []models.Appearance{{MatchID: 1, PlayerID: 5, Minutes: 40}, {MatchID: 2, PlayerID: 5, Minutes: 70},
		{MatchID: 3, PlayerID: 5, MinutesNotRecorded: true}, {MatchID: 4, PlayerID: 5, Minutes: 70}}, nil
}

func (a *agreed) Goals(models.GoalFilter) ([]models.Goal, error) {
	a.goals++
	closed := models.Date("2026-02-01")
	return []models.Goal{
		{PlayerID: 5, Indicator: "contact_won", SetOn: "2025-10-01", By: "2026-04-01", Target: 0.6},
		{PlayerID: 5, Indicator: "contact_won", SetOn: "2025-09-01", By: "2026-02-01", Target: 0.5, ClosedOn: &closed}}, nil
}

// Before the comparison is opened there are names, minutes up to today and goals that are open, and no figure. A
// candidate whom the reader may not read is not there.
func TestABriefBeforeTheComparisonHasNoFigures(t *testing.T) {
	src := &agreed{status: models.MeetingLocked}
	b, err := Read(src, Request{MeetingID: 6, Who: models.Who{Role: models.RoleManager}, Now: now})
	if err != nil {
		t.Fatal(err)
	}
	if len(b.Places) != 2 || len(b.Places[0].Candidates) != 2 || len(b.Places[1].Candidates) != 0 {
		t.Fatalf("the places are %+v; want two candidates at the first, none at the second", b.Places)
	}
	tam := b.Places[0].Candidates[0]
	if tam.Matches != 2 || tam.Minutes != 40 || tam.Untimed != 1 || len(tam.Lines) != 0 || tam.Composite != nil {
		t.Errorf("Tam is %+v; want two of the squads' matches up to today, no figure", tam)
	}
	if len(tam.Goals) != 1 || tam.Goals[0].Words != "Contact won: to 60% by 1 Apr 2026" {
		t.Errorf("Tam's goals are %+v; want the open one", tam.Goals)
	}
	if b.Until != "2026-02-10" || b.Criteria[0].Share != 0.75 || !b.Criteria[1].Typed {
		t.Errorf("the brief stands on %s, %+v", b.Until, b.Criteria)
	}
	page, err := NewPage()
	if err != nil {
		t.Fatal(err)
	}
	sheet, err := page.Sheet(t.Context(), b)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Figures come once the comparison is opened", "2 matches, 40 min; not recorded in 1",
		"Bryn Ask", "no match up to",
		"Trains or plays with limits from 8 Feb 2026 until 1 Mar 2026.",
		"No absence or limit is recorded from 10 Feb 2026 on.", "No candidate yet.", "75%", "Decision, and why"} {
		if !strings.Contains(string(sheet.Body), want) {
			t.Errorf("the sheet has no %q", want)
		}
	}
	if strings.Contains(string(sheet.Body), "composite") {
		t.Error("the sheet speaks of composites where there are none")
	}
}

// A reader without goals gets a brief without them: they are not even asked for.
func TestABriefHasGoalsOnlyForThoseWhoReadThem(t *testing.T) {
	src := &agreed{status: models.MeetingDraft}
	if _, err := Read(src, Request{MeetingID: 6, Who: models.Who{Role: models.RoleOperator}, Now: now}); err != nil {
		t.Fatal(err)
	}
	if src.goals != 0 {
		t.Errorf("goals were asked for %d times", src.goals)
	}
}

func TestTheFirstSentencesSayHowFarTheMeetingIsAndWhatIsMissing(t *testing.T) {
	at, estimate := now, &models.Estimate{Mean: 0.4}
	known, unknown, warned := Candidate{Composite: estimate}, Candidate{},
		Candidate{Composite: estimate, Warnings: []string{"Stood down."}}
	for about, c := range map[string]struct {
		of   Report
		want string
		not  string
	}{
		"a draft":          {Report{Status: models.MeetingDraft}, "still being agreed", "Missing."},
		"locked criteria":  {Report{Status: models.MeetingLocked}, "once the comparison is opened", "evidence is of"},
		"old, no evidence": {Report{Status: models.MeetingClosed, unkept: true}, "cannot be compared", "Missing."},
		"an open one": {Report{Status: models.MeetingOpened, FrozenAt: &at, Until: "2026-02-10",
			Places: []Place{{Candidates: []Candidate{known, known}}}}, "evidence is of 10 Feb 2026", "Missing."},
		"no candidate": {Report{Status: models.MeetingOpened, FrozenAt: &at}, "no candidate yet", "cannot be compared"},
		"one without": {Report{Status: models.MeetingOpened, FrozenAt: &at,
			Places: []Place{{Candidates: []Candidate{known, unknown}}}}, "1 of 2 candidates cannot be compared", "No candidate"},
		"none with": {Report{Status: models.MeetingOpened, FrozenAt: &at,
			Places: []Place{{Candidates: []Candidate{unknown}}}}, "No candidate has enough figures", "1 of"},
		"a warning": {Report{Status: models.MeetingOpened, FrozenAt: &at,
			Places: []Place{{Candidates: []Candidate{warned, known}}}}, "known of one candidate", "Missing."},
		"two warnings": {Report{Status: models.MeetingOpened, FrozenAt: &at,
			Places: []Place{{Candidates: []Candidate{warned, warned}}}}, "known of 2 candidates", "Missing."},
		"records that changed": {Report{Status: models.MeetingOpened, FrozenAt: &at, Changed: true}, "have changed since",
			"decided:"},
		"a closed record": {Report{Status: models.MeetingClosed, FrozenAt: &at, Until: "2026-02-10",
			Places: []Place{{Candidates: []Candidate{known}}}}, "record is closed", "Nothing is decided"},
	} {
		said := ""
		for _, s := range c.of.sentences() {
			said += s.Lead + " " + s.Text + " "
		}
		if !strings.Contains(said, c.want) || strings.Contains(said, c.not) {
			t.Errorf("%s: %q; want %q and no %q", about, said, c.want, c.not)
		}
	}
}

// A chance is never said as certain, and what is ahead of one is behind for the other.
func TestPairsAreSaidFromBothSides(t *testing.T) {
	e := &models.Estimate{}
	p := Place{Candidates: []Candidate{{PlayerID: 1, Name: "A", Composite: e}, {PlayerID: 2, Name: "B", Composite: e},
		{PlayerID: 3, Name: "C"}}}
	p.Pairs = append(p.Pairs, pairOf(1, 2, 0.999))
	table := p.pairs("place-1")
	if len(table.Rows) != 2 || table.Rows[0][2].Text != "more than 99%" || table.Rows[1][1].Text != "less than 1%" ||
		table.Rows[0][1].Text != "–" {
		t.Errorf("the table is %+v", table.Rows)
	}
	if (Place{}).pairs("place-1") != nil {
		t.Error("a place without pairs has a table of them")
	}
}

// What is noted of every candidate of a place stands once; what is noted of one stays with them.
func TestWhatIsNotedOfAllStandsOnce(t *testing.T) {
	p := Place{Candidates: []Candidate{{Notes: []string{"All.", "One."}}, {Notes: []string{"All."}}}}
	p.shareNotes()
	if len(p.Notes) != 1 || p.Notes[0] != "All." || len(p.Candidates[0].Notes) != 1 || len(p.Candidates[1].Notes) != 0 {
		t.Errorf("the place is %+v", p)
	}
	alone := Place{Candidates: []Candidate{{Notes: []string{"One."}}}}
	if alone.shareNotes(); len(alone.Notes) != 0 {
		t.Error("a note of the only candidate left them")
	}
}

func pairOf(one, other int64, ahead float64) selection.Pair {
	return selection.Pair{PlayerID: one, OtherID: other, Ahead: ahead}
}

// compared is a source of a meeting whose comparison is open, with criteria in words alone.
type compared struct {
	agreed
	candidates []models.Candidate
}

func (c *compared) Meeting(int64) (models.Meeting, error) {
	at := now
	return models.Meeting{Record: models.Record{ID: 6}, SeasonID: 7, SquadID: 3, Date: "2026-03-02",
		Status: models.MeetingOpened, OpenedAt: &at, Purpose: "Captain", Candidates: c.candidates,
		Steps:    []models.StepTaken{{To: models.MeetingLocked, At: now, Name: "Sorrel Vance"}},
		Criteria: []models.Criterion{{Label: "Coaching", Weight: 1}},
		Places:   []models.Place{{Name: "Captain", Wanted: 1}}}, nil
}

func (c *compared) CandidateEvidence(int64) (all []models.CandidateEvidence, err error) {
	for _, one := range c.candidates {
		all = append(all, models.CandidateEvidence{PlayerID: one.PlayerID, Place: one.Place, FrozenAt: now,
			Lines: []models.EvidenceLine{{Label: "Coaching", Weight: 1}}})
	}
	return all, nil
}
func (c *compared) Squads(models.SquadFilter) ([]models.Squad, error) { return nil, nil }
func (c *compared) SquadSeason(int64, int64) (models.SquadSeason, error) {
	return models.SquadSeason{}, nil
}
func (c *compared) Trends(models.TrendFilter) ([]models.Trend, error) { return nil, nil }
func (c *compared) Recommendations(models.RecommendationFilter) ([]models.Recommendation, error) {
	return nil, nil
}
func (c *compared) Safety(int64, int64, models.Date) (models.Safety, error) {
	return models.Safety{}, nil
}
func (c *compared) Memberships(models.MembershipFilter) ([]models.Membership, error) { return nil, nil }

// An open brief with one candidate, with criteria in words alone, and with no candidate is read and drawn: without
// composites it says why nothing is compared, and shows no empty table.
func TestAnOpenBriefWithNothingToCompareIsWhole(t *testing.T) {
	tam, bryn := models.Candidate{PlayerID: 5, Place: "Captain"}, models.Candidate{PlayerID: 8, Place: "Captain"}
	marked := tam
	marked.Marks = map[string]int{"Coaching": 4}
	page, err := NewPage()
	if err != nil {
		t.Fatal(err)
	}
	for about, c := range map[string]struct {
		candidates []models.Candidate
		want, not  string
	}{
		"all in words":  {[]models.Candidate{tam, bryn}, "nothing is compared", "First</th>"},
		"one candidate": {[]models.Candidate{marked}, "There is one candidate, and no one to compare them with.", "pairs"},
		"no candidate":  {nil, "No candidate yet.", "nothing is compared"},
	} {
		b, err := Read(&compared{candidates: c.candidates}, Request{MeetingID: 6, Who: models.Who{Role: models.RoleManager},
			Now: now})
		if err != nil {
			t.Fatal(err)
		}
		sheet, err := page.Sheet(t.Context(), b)
		if err != nil {
			t.Fatal(err)
		}
		body := string(sheet.Body)
		if !strings.Contains(body, c.want) || strings.Contains(body, c.not) ||
			strings.Contains(body, "What would change the order</h3>") ||
			!strings.Contains(body, "locked (Sorrel Vance, 10 Feb 2026)") {
			t.Errorf("%s: %s; want %q and no %q", about, body, c.want, c.not)
		}
	}
}
