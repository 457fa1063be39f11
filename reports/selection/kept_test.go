package selection

import (
	"slices"
	"strings"
	"testing"
	"time"

	"throughline/models"
)

// kept is a source of one meeting with one candidate.
type kept struct {
	m        models.Meeting
	evidence models.CandidateEvidence
	spells   []models.Spell
	trends   []models.Trend
}

func (k *kept) Meeting(int64) (models.Meeting, error) { return k.m, nil }
func (k *kept) CandidateEvidence(int64) ([]models.CandidateEvidence, error) {
	return []models.CandidateEvidence{k.evidence}, nil
}
func (k *kept) Player(id int64) (models.Player, error) {
	born := models.Date("2008-05-05")
	return models.Player{Record: models.Record{ID: id}, Name: "Ask Lunde", BornOn: &born}, nil
}
func (k *kept) Season(int64) (models.Season, error) {
	return models.Season{Starts: "2025-07-01", Ends: "2026-06-30"}, nil
}
func (k *kept) Squad(int64) (models.Squad, error) {
	return models.Squad{Record: models.Record{ID: 2}}, nil
}
func (k *kept) Squads(models.SquadFilter) ([]models.Squad, error) {
	return []models.Squad{{Record: models.Record{ID: 4}, Name: "Under 16"}}, nil
}
func (k *kept) SquadSeason(int64, int64) (models.SquadSeason, error) {
	return models.SquadSeason{Revision: 9}, nil
}
func (k *kept) Trends(f models.TrendFilter) ([]models.Trend, error) {
	return slices.DeleteFunc(slices.Clone(k.trends), func(t models.Trend) bool {
		return !slices.Contains(f.PlayerIDs, t.PlayerID)
	}), nil
}
func (k *kept) Skills() ([]models.Skill, error) {
	return []models.Skill{{Code: "pass", Label: "Pass"}, {Code: "tackle", Label: "Tackle"}}, nil
}
func (k *kept) Recommendations(models.RecommendationFilter) ([]models.Recommendation, error) {
	return nil, nil
}
func (k *kept) Safety(int64, int64, models.Date) (models.Safety, error) { return models.Safety{}, nil }
func (k *kept) Spells(models.SpellFilter) ([]models.Spell, error)       { return k.spells, nil }
func (k *kept) Memberships(models.MembershipFilter) ([]models.Membership, error) {
	return nil, nil
}

func opened() *kept {
	at := time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC)
	until := models.Date("2026-03-20")
	return &kept{
		m: models.Meeting{Record: models.Record{ID: 3}, SeasonID: 1, SquadID: 2, Status: models.MeetingOpened, OpenedAt: &at,
			Criteria:   []models.Criterion{{Label: "Contact", Indicator: "contact_won", Weight: 1}},
			Places:     []models.Place{{Name: "Back row", Group: models.GroupBackRow, Wanted: 1}},
			Candidates: []models.Candidate{{PlayerID: 5, Place: "Back row"}}},
		evidence: models.CandidateEvidence{PlayerID: 5, Place: "Back row", FrozenAt: at,
			Lines: []models.EvidenceLine{{Label: "Contact", Indicator: "contact_won", Weight: 1, Matches: 6, SquadID: 4,
				Squad: "Under 16", Level: &models.Estimate{Mean: 0.41, Range80: models.Range{Lo: 0.35, Hi: 0.47}},
				Missing: "from the season of Under 16, so it is not compared with this squad’s figures"}},
			Warnings: []models.Warning{{Kind: models.WarnUnavailable,
				Text: "Unavailable from 10 Mar 2026 until 20 Mar 2026."}}},
		spells: []models.Spell{{PlayerID: 5, Status: models.Unavailable, From: "2026-03-10", Until: &until}},
		trends: []models.Trend{{PlayerID: 5, SquadID: 2, Indicator: "contact_won",
			Figures: models.TrendFigures{Now: &models.Estimate{Mean: 0.9}}},
			{PlayerID: 5, SquadID: 4, Indicator: "contact_won",
				Figures: models.TrendFigures{Now: &models.Estimate{Mean: 0.44}}}},
	}
}

func readOn(t *testing.T, k *kept, day string) *Comparison {
	t.Helper()
	now, err := time.Parse(time.DateOnly, day)
	if err != nil {
		t.Fatal(err)
	}
	c, err := Read(k, 3, now)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestWhatWasWarnedOfStandsBesideTodaysWarningsWhenTheyDiffer(t *testing.T) {
	for day, differ := range map[string]bool{"2026-03-02": false, "2026-03-21": true} {
		c := readOn(t, opened(), day).Places[0].Candidates[0]
		if c.WarningsDiffer != differ || len(c.WarnedThen) != 1 || !c.WarningsKept || len(c.Warnings) != len(c.WarnedThen) &&
			!differ {
			t.Errorf("on %s: today %q, then %q, differ %v; want %v", day, c.Warnings, c.WarnedThen, c.WarningsDiffer, differ)
		}
	}
	old := opened()
	old.evidence.Warnings = nil
	if c := readOn(t, old, "2026-03-02").Places[0].Candidates[0]; c.WarningsKept || c.WarningsDiffer ||
		len(c.Warnings) != 1 {
		t.Errorf("warnings that were not kept: %+v; want today’s alone, and that they are", c)
	}
}

func TestFiguresOfAnotherSquadAreSaidToBeAndChangeWithThatSquad(t *testing.T) {
	c := readOn(t, opened(), "2026-03-02").Places[0].Candidates[0]
	if words := c.Lines[0].Words; !strings.Contains(words, "41%") ||
		!strings.Contains(words, "from the season of Under 16") {
		t.Errorf("the line reads %q", words)
	}
	if c.Composite != nil || len(c.Changed) != 1 || c.Changed[0] != "Contact: 41% then, 44% today." {
		t.Errorf("composite %v, changed %q; want none, and the change in the other squad’s season", c.Composite, c.Changed)
	}
}

func TestAMeetingFromBeforeEvidenceWasKeptSaysSoAndComparesNothing(t *testing.T) {
	old := opened()
	old.m.OpenedAt, old.m.Status = nil, models.MeetingClosed
	if c := readOn(t, old, "2026-03-02"); !c.Unkept || len(c.Places) != 0 || c.FrozenAt != nil {
		t.Errorf("the comparison is %+v; want one that says that nothing was kept", c)
	}
}

// Grades of skills that are no criterion are there too: those of the meeting's squad where it has some, and with whose
// coaches where they are another squad's.
func TestACandidatesGradesAreThereWhateverTheCriteria(t *testing.T) {
	k := opened()
	grade := func(squad int64, skill string, mean float64) models.Trend {
		return models.Trend{PlayerID: 5, SquadID: squad, Skill: skill, Figures: models.TrendFigures{
			Adjusted: &models.AdjustedGrade{Grades: 6, Coaches: 1, Estimate: models.Estimate{Mean: mean,
				Range80: models.Range{Lo: mean - 0.5, Hi: mean + 0.5}}}}}
	}
	other := grade(2, "pass", 5)
	other.PlayerID = 6
	k.trends = append(k.trends, grade(4, "tackle", 2), grade(2, "tackle", 3), grade(4, "pass", 4), other)
	var said []string
	for _, g := range readOn(t, k, "2026-03-02").Places[0].Candidates[0].Grades {
		said = append(said, g.Words)
	}
	if want := []string{"Pass 4.0 (3.5 to 4.5, 6 by one coach, in Under 16)",
		"Tackle 3.0 (2.5 to 3.5, 6 by one coach)"}; !slices.Equal(said, want) {
		t.Errorf("the grades are %q; want %q", said, want)
	}
}
