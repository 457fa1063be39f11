package consistency

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"throughline/models"
)

// desk is a squad's season of grades, as a reader may see them.
type desk struct {
	grades []models.Rating
	erased int64
	logs   []models.Log
	logged map[int64][]models.Involvement // by log
}

func (d *desk) SquadGrades(int64, int64) ([]models.Rating, error) { return d.grades, nil }
func (d *desk) Season(id int64) (models.Season, error) {
	return models.Season{Record: models.Record{ID: id}, Name: "2025-26"}, nil
}
func (d *desk) Squad(id int64) (models.Squad, error) {
	return models.Squad{Record: models.Record{ID: id}, Name: "Under 18"}, nil
}
func (d *desk) Players(models.PlayerFilter) (all []models.Player, err error) {
	for id := int64(1); id <= 30; id++ {
		if id != d.erased {
			all = append(all, models.Player{Record: models.Record{ID: id}, Name: fmt.Sprint("Player ", id)})
		}
	}
	return all, nil
}
func (d *desk) Matches(models.MatchFilter) ([]models.Match, error) {
	return []models.Match{{Record: models.Record{ID: 7}, Opponent: "Harbour", Halves: 2, HalfMinutes: 35,
		Date: "2025-11-01"}}, nil
}
func (d *desk) Skills() ([]models.Skill, error)             { return models.SkillCatalogue(), nil }
func (d *desk) Logs(models.LogFilter) ([]models.Log, error) { return d.logs, nil }
func (d *desk) Involvements(f models.InvolvementFilter) (all []models.Involvement, err error) {
	for _, l := range d.logs {
		if l.MatchID == f.MatchID && l.PlayerID == f.PlayerID {
			all = append(all, d.logged[l.ID]...)
		}
	}
	return all, nil
}
func (d *desk) UserNames() (map[int64]string, error) {
	return map[int64]string{100: "Ansel", 101: "Briar", 102: "Corin", 103: "Dara", 104: "Emrys"}, nil
}

// give adds a grade of the block of a week.
func (d *desk) give(player, coach int64, skill string, week, grade int, comment string) {
	d.grades = append(d.grades, models.Rating{Record: models.Record{ID: int64(len(d.grades) + 1)}, PlayerID: player,
		RaterID: coach, Skill: skill, Grade: min(max(grade, 1), 5), Comment: comment, Block: "Block",
		Date: models.Date(fmt.Sprintf("2025-10-%02d", 1+7*week))})
}

// season is four blocks of 20 players by some coaches; each grades with a chance of share, the second one grade below
// the others.
func season(coaches int, share float64) *desk {
	random := rand.New(rand.NewPCG(4, 5))
	d := &desk{}
	for player := int64(1); player <= 20; player++ {
		level := 3.3 + 0.8*random.NormFloat64()
		for week := range 4 {
			for c := range coaches {
				strict := 0.0
				if c == 1 {
					strict = 1
				}
				g := int(level - strict + 0.4*random.NormFloat64() + 0.5)
				if random.Float64() < share {
					d.give(player, int64(100+c), "tackle", week, g, "")
				}
			}
		}
	}
	return d
}

var (
	manager = models.Who{AcademyID: 1, UserID: 9, Role: models.RoleManager}
	briar   = models.Who{AcademyID: 1, UserID: 101, Role: models.RoleCoach, SquadIDs: []int64{1}}
)

// made makes the edition that a reader gets first.
func made(t *testing.T, d *desk, who models.Who) *Report {
	t.Helper()
	e := StaffRoom
	if who.Role == models.RoleManager {
		e = Names
	}
	return madeAs(t, d, who, e)
}

func madeAs(t *testing.T, d *desk, who models.Who, e Edition) *Report {
	t.Helper()
	r, err := Read(d, Request{SeasonID: 1, SquadID: 1, Who: who, Edition: e,
		Now: time.Date(2026, 5, 1, 10, 0, 0, 5, time.UTC)})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// words are what the sentences say.
func (r *Report) words() string {
	var all []string
	for _, s := range r.Sentences {
		all = append(all, s.Text)
	}
	return strings.Join(all, " ")
}

func TestAManagerReadsHowStrictEachCoachIsByName(t *testing.T) {
	r := made(t, season(5, 0.6), manager)
	if len(r.Severity) != 5 || r.Severity[0].Coach != "Briar" || *r.Severity[0].UserID != 101 {
		t.Fatalf("severity %+v", r.Severity)
	}
	// One grade below the other four is 0.8 below the average of the five.
	if s := r.Severity[0]; !(s.Range80.Lo < 0.8 && 0.8 < s.Range80.Hi && s.Range80.Lo > 0.5 && s.Range80.Hi < 1.1) {
		t.Errorf("Briar's severity %+v, want about 0.8", s.Estimate)
	}
	if !strings.Contains(r.words(), "Briar is about three quarters of a grade stricter than the "+
		"coaches’ average.") {
		t.Errorf("sentences %q", r.Sentences)
	}
	s := r.Skills[0]
	if s.Code != "tackle" || s.Coaches != 5 || s.Graded > 80 || s.Correlations != nil || s.OneCoach == nil ||
		s.CoachesFor80 == nil || s.Alpha95 == nil || !(s.Alpha95.Lo < *s.Alpha && *s.Alpha < s.Alpha95.Hi) {
		t.Errorf("tackle: %+v", s)
	}
	if again := made(t, season(5, 0.6), manager); !reflect.DeepEqual(again.Skills, r.Skills) {
		t.Error("the same grades give other figures")
	}
}

func TestACoachReadsTheirOwnSeverityAloneAndOthersAsLetters(t *testing.T) {
	r := made(t, season(5, 0.6), briar)
	if r.Named || len(r.Severity) != 1 || r.Severity[0].Coach != "You" || r.Severity[0].UserID != nil ||
		r.WithoutSeverity != "" {
		t.Fatalf("severity %+v, %q", r.Severity, r.WithoutSeverity)
	}
	if own := r.Skills[0].Severity; len(own) != 1 || own[0].Coach != "You" {
		t.Errorf("severity in tackle %+v", own)
	}
	if len(r.Disagreements) == 0 {
		t.Fatal("no disagreement")
	}
	for _, d := range r.Disagreements {
		for _, g := range d.Grades {
			if g.Coach != "You" && !strings.HasPrefix(g.Coach, "Coach ") {
				t.Fatalf("a coach reads %q", g.Coach)
			}
		}
	}
	if !strings.Contains(r.Basis, "once its round is closed") {
		t.Errorf("basis %q", r.Basis)
	}
}

func TestWithFewerThanFourCoachesNoSeverityIsShownAndTheReasonIs(t *testing.T) {
	r := made(t, season(3, 0.8), briar)
	if len(r.Severity) != 0 || len(r.Skills[0].Severity) != 0 ||
		!strings.Contains(r.WithoutSeverity, "3 coaches graded") || !strings.Contains(r.WithoutSeverity, "fewer than 4") {
		t.Errorf("severity %+v %+v, %q", r.Severity, r.Skills[0].Severity, r.WithoutSeverity)
	}
	if said := r.words(); strings.Contains(said, "strict") || strings.Contains(said, "lenient") {
		t.Errorf("sentences %q", said)
	}
	if r := made(t, season(3, 0.8), manager); len(r.Severity) != 3 {
		t.Errorf("the manager reads %+v", r.Severity)
	}
	// Four over all skills, but two in one of them: the skill tells the other's.
	d := season(4, 0.8)
	for player := int64(1); player <= 12; player++ {
		d.give(player, 101, "breakdown", 1, int(player%4+1), "")
		d.give(player, 100, "breakdown", 1, int(player%3+2), "")
	}
	r = made(t, d, briar)
	i := slices.IndexFunc(r.Skills, func(s Skill) bool { return s.Code == "breakdown" })
	if len(r.Severity) != 1 || i < 0 || len(r.Skills[i].Severity) != 0 {
		t.Errorf("severity %+v; skills %+v", r.Severity, r.Skills)
	}
	outside := briar
	outside.UserID = 999
	if r := made(t, d, outside); len(r.Severity) != 0 || !strings.Contains(r.WithoutSeverity, "given no grades") {
		t.Errorf("a coach without grades reads %+v, %q", r.Severity, r.WithoutSeverity)
	}
}

func TestTheLargestDisagreementsComeFirstWithWhatWasSeen(t *testing.T) {
	d := &desk{erased: 3}
	d.give(1, 100, "tackle", 1, 5, "Two dominant hits")
	d.grades[0].Evidence = []int64{81}
	d.give(1, 101, "tackle", 1, 2, "Slipped off three")
	d.give(2, 100, "tackle", 1, 4, "")
	d.give(2, 101, "tackle", 1, 3, "")
	d.give(3, 100, "tackle", 1, 5, "")
	d.give(3, 101, "tackle", 1, 1, "")
	match := int64(7)
	for coach, grade := range map[int64]int{100: 2, 101: 4} {
		d.grades = append(d.grades, models.Rating{Record: models.Record{ID: 50 + coach}, PlayerID: 4, RaterID: coach,
			Skill: "breakdown", Grade: grade, MatchID: &match, Date: "2025-11-01"})
	}
	all := made(t, d, manager).Disagreements
	if len(all) != 2 {
		t.Fatalf("%+v", all)
	}
	first, second := all[0], all[1]
	tackle, _ := models.SkillOf("tackle")
	want := []Seen{{"Ansel", 5, tackle.Grades[4], "Two dominant hits", []int64{81}},
		{"Briar", 2, tackle.Grades[1], "Slipped off three", nil}}
	if first.Player != "Player 1" || first.Apart != 3 || first.On != "Block" || !reflect.DeepEqual(first.Grades, want) {
		t.Errorf("first %+v", first)
	}
	if second.On != "Harbour" || second.Apart != 2 || second.Grades[0].Coach != "Briar" {
		t.Errorf("second %+v", second)
	}
}

func TestTheSixCorrelationsAreShownWhereTheSameCoachesGradedAll(t *testing.T) {
	r := made(t, season(3, 2), manager) // a share of 2: everyone
	s := r.Skills[0]
	if s.Correlations == nil || s.Correlations.Coaches != 3 || s.Graded != 80 || s.ByTwo != 80 {
		t.Fatalf("%+v", s)
	}
	// Strictness counts in (2,1) and not in (3,1).
	if c := s.Correlations; !(c.One2 < c.One3 && c.One2 < c.Mean2) || c.One2 < *s.OneCoach-0.02 ||
		c.One2 > *s.OneCoach+0.02 {
		t.Errorf("%+v, one coach %v", c, *s.OneCoach)
	}
}

// Two coaches agree on nothing, and on tackles they say the opposite.
func TestManySkillsAreCountedAndTheOneThatCoachesAgreeLeastOnIsNamed(t *testing.T) {
	d := &desk{}
	for n, skill := range []string{"breakdown", "presentation", "support_lines", "work_off_ball", "tackle"} {
		for player := int64(1); player <= 20; player++ {
			first := int(player%4) + 1
			second := int(player/4)%4 + 1
			if n == 4 {
				second = 5 - first
			}
			d.give(player, 100, skill, 1, first, "")
			d.give(player, 101, skill, 1, second, "")
		}
	}
	const want = "Coaches agree too little to rely on one grade of all 5 skills. They agree least on tackle."
	if got := made(t, d, manager).Sentences[0].Text; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

func TestWhatCannotBeToldIsSaid(t *testing.T) {
	none := made(t, &desk{}, manager)
	if len(none.Sentences) != 1 || !strings.Contains(none.Sentences[0].Text, "too few grades") ||
		none.WithoutSeverity == "" {
		t.Errorf("no grades: %q, %q", none.Sentences, none.WithoutSeverity)
	}
	d := &desk{}
	for player := int64(1); player <= 6; player++ {
		d.give(player, 100+player%2, "tackle", 1, int(player%4)+1, "")
	}
	r := made(t, d, manager)
	if s := r.Skills[0]; s.Alpha != nil || s.OneCoach != nil || len(s.Notes) != 1 ||
		!strings.HasPrefix(s.Notes[0], "No two coaches") || len(s.Severity) != 0 {
		t.Errorf("one coach each: %+v", r.Skills[0])
	}
}
