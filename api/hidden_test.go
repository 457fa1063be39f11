package api_test

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// require has the academy ask for consent to be considered for selection.
func (m *team) require(t *testing.T, purposes ...models.Purpose) {
	t.Helper()
	m.console(t, func(tx *store.Tx) error {
		rules, err := tx.Settings()
		if err != nil {
			return err
		}
		rules.Requires = purposes
		return tx.SaveSettings(&rules)
	})
}

// consent records a guardian's consent to be considered for selection.
func (m *team) consent(t *testing.T, players ...models.Player) {
	t.Helper()
	m.as(t, "mabyn", func(tx *store.Tx) error {
		for _, p := range players {
			c := models.Consent{PlayerID: p.ID, Purpose: models.PurposeSelection, GivenBy: "A guardian",
				Relation: models.ByGuardian, On: "2025-08-01"}
			if err := tx.CreateConsent(&c); err != nil {
				return err
			}
		}
		return nil
	})
}

// as writes as a user.
func (m *team) as(t *testing.T, login string, fn func(tx *store.Tx) error) {
	t.Helper()
	if err := m.Store.Write(t.Context(), m.users[login], fn); err != nil {
		t.Fatal(err)
	}
}

// everyKind records something of every kind about a player in a match, with a mark in every text.
func (m *team) everyKind(t *testing.T, p models.Player, game models.Match, mark string) {
	t.Helper()
	m.as(t, "mabyn", func(tx *store.Tx) error {
		goal := models.Goal{PlayerID: p.ID, OwnerID: tx.Who().UserID, Indicator: "carries", SetOn: "2025-09-01",
			By:     "2026-05-01",
			Target: 9.1, Why: mark, Actions: mark,
			Insist: models.AskFewMatches.Codes(), InsistReason: "There is no trend yet."}
		meeting := models.Meeting{SeasonID: m.Season.ID, SquadID: m.Under18.ID, Date: "2025-11-20",
			Purpose:    "The county trial",
			Places:     []models.Place{{Name: "Back row", Group: models.GroupBackRow, Wanted: 1}},
			Candidates: []models.Candidate{{PlayerID: p.ID, Place: "Back row", Reason: mark}}}
		for _, create := range []func() error{
			func() error { return tx.CreateGoal(&goal) },
			func() error {
				return tx.CreateCheckIn(&models.CheckIn{GoalID: goal.ID, Shared: true, AuthorID: tx.Who().UserID,
					Date: "2025-10-01",
					Text: mark})
			},
			func() error {
				return tx.CreateReviewNote(&models.ReviewNote{PlayerID: p.ID, AuthorID: tx.Who().UserID, Date: "2025-10-01",
					Shared: true, Text: mark})
			},
			func() error {
				return tx.CreateTrainingObservation(&models.TrainingObservation{PlayerID: p.ID, CoachID: tx.Who().UserID,
					Date: "2025-10-01", Skill: "tackle", Shared: true, Text: mark})
			},
			func() error {
				return tx.CreateRating(&models.Rating{PlayerID: p.ID, Skill: "tackle", Grade: 2, Date: game.Date,
					MatchID: &game.ID,
					Comment: mark})
			},
			func() error {
				return tx.CreateMatchEvent(&models.MatchEvent{MatchID: game.ID, Clock: models.Clock{Half: 1, Second: 300},
					Kind: models.EventTry, PlayerID: &p.ID})
			},
			func() error {
				return tx.CreateMatchEvent(&models.MatchEvent{MatchID: game.ID, Clock: models.Clock{Half: 2, Second: 3000},
					Kind: models.EventSubstitution, PlayerID: &m.mates[0].ID, OffID: &p.ID})
			},
			func() error {
				return tx.CreateStandDown(&models.StandDown{PlayerID: p.ID, From: "2025-11-02"})
			},
			func() error { return storetest.Hold(tx, &meeting, models.MeetingOpened) },
		} {
			if err := create(); err != nil {
				return err
			}
		}
		return nil
	})
}

// totals records totals of the team in every match.
func (m *team) totals(t *testing.T, counts models.Counts) {
	t.Helper()
	m.console(t, func(tx *store.Tx) error {
		for _, game := range m.matches {
			total := models.TeamTotals{MatchID: game.ID, Scope: models.WholeTeam, Counts: counts}
			if err := tx.CreateTeamTotals(&total); err != nil {
				return err
			}
		}
		return nil
	})
}

// A selector from whom two minors of the squad are hidden reads everything there is: neither is in any of it, nothing
// of it moves when what is recorded about them does, no filter knows them, and no total is left to subtract from.
func TestWhatASelectorIsAnsweredHoldsNothingOfAHiddenMinor(t *testing.T) {
	storetest.OneByOne(t)
	m := newTeam(t, storetest.Open(t, "sqlite"))
	const mark = "Quillwort"
	hidden := []models.Player{m.Owen, m.mates[5]}
	last := m.matches[len(m.matches)-1]
	m.console(t, func(tx *store.Tx) error {
		p := &hidden[1]
		p.Name, p.BornOn = "Flanker "+mark, new(models.Date("2011-05-06"))
		return tx.UpdatePlayer(p)
	})
	m.everyKind(t, hidden[1], last, mark)
	m.totals(t, models.Counts{"carries": 120, "tackles_made": 150, "tackles_missed": 30})
	m.catchUp(t)
	carries := fmt.Sprintf("/api/v1/players/%d/seasons/%d/trends/carries", m.Bryn.ID, m.Season.ID)
	everyone := m.sweep(t, "sorrel")
	if where := everyone.holds(mark); len(where) < 8 {
		t.Fatalf("where no consent is asked for, the mark is found only in %v: the search below finds too little", where)
	}
	whole := everyone["application/json "+carries]
	if shares := decoded(t, whole, "share"); len(shares) == 0 {
		t.Fatalf("no share of the team is shown where no one is hidden: %.300s", whole)
	}

	m.require(t, models.PurposeSelection)
	m.consent(t, m.Bryn)
	m.catchUp(t)
	before := m.sweep(t, "sorrel")
	if where := before.holds(mark, "Owen Tarrant"); len(where) > 0 {
		t.Errorf("names or words of hidden players are in %v", where)
	}
	for what, answer := range before {
		for _, p := range hidden {
			if found := memberWith(p.ID).FindString(answer); found != "" {
				t.Errorf("%s has %s", what, found)
			}
			if strings.Contains(what, fmt.Sprintf("/players/%d/", p.ID)) && !strings.HasPrefix(answer, "404 ") {
				t.Errorf("%s of a hidden player: %.100s", what, answer)
			}
		}
	}
	answer := before["application/json "+carries]
	if shares := decoded(t, answer, "share"); len(shares) != 0 {
		t.Errorf("the player's share of what the team did tells what the hidden did: %v", shares)
	}
	trends := decoded(t, answer, "trend")
	if len(trends) != 1 || trends[0] == nil || fmt.Sprint(trends) == fmt.Sprint(decoded(t, whole, "trend")) {
		t.Errorf("the trend without the hidden is %v, of the whole squad %v", trends, decoded(t, whole, "trend"))
	}
	if current := decoded(t, answer, "current"); len(current) != 1 || current[0] != true {
		t.Errorf("the trends without the hidden are not current: %.300s", answer)
	}
	m.filters(t, "sorrel", hidden...)

	staff := m.sweep(t, "ansel")
	for _, change := range []struct {
		what string
		make func()
	}{
		{"totals of hidden players are corrected", func() {
			m.correct(t, hidden[0], last, 99)
			m.correct(t, hidden[1], last, 77)
		}},
		{"carries of a hidden player are logged", func() { m.log(t, hidden[0], 55, last) }},
		{"a hidden player is graded", func() {
			m.as(t, "ansel", func(tx *store.Tx) error {
				return tx.CreateRating(&models.Rating{PlayerID: hidden[1].ID, Skill: "tackle", Grade: 5, Date: last.Date,
					MatchID: &last.ID})
			})
		}},
	} {
		t.Run(change.what, func(t *testing.T) {
			change.make()
			m.catchUp(t)
			before.differs(t, m.sweep(t, "sorrel"), nil)
		})
	}
	if now := m.sweep(t, "ansel"); now["application/json "+carries] == staff["application/json "+carries] {
		t.Error("the corrections move nothing that the staff read either: the comparisons above cannot fail")
	}
}

// others are the members that only a reader of others' figures may be given.
var others = regexp.MustCompile(
	`"(own_weight|above_group|standing|worthwhile|variation|running_level|players|fitted)":`)

// A player reads everything there is: none of it has another's name, figures or a member that tells about others,
// nothing of it moves when another's figures are corrected, and no filter knows another player.
func TestWhatAPlayerIsAnsweredHoldsNothingOfAnother(t *testing.T) {
	storetest.OneByOne(t)
	m := newTeam(t, storetest.Open(t, "sqlite"))
	const mark = "Quillwort"
	last := m.matches[len(m.matches)-1]
	m.console(t, func(tx *store.Tx) error {
		p := &m.mates[5]
		p.Name = "Flanker " + mark
		return tx.UpdatePlayer(p)
	})
	m.everyKind(t, m.mates[5], last, mark)
	m.catchUp(t)
	before := m.sweep(t, "bryn")
	names := []string{mark, "Owen Tarrant", "Tam Veale"}
	for _, p := range m.mates[:5] {
		names = append(names, p.Name)
	}
	if where := before.holds(names...); len(where) > 0 {
		t.Errorf("names or words of others are in %v", where)
	}
	for what, answer := range before {
		for _, id := range m.players(t) {
			if id == m.Bryn.ID {
				continue
			}
			if found := memberWith(id).FindString(answer); found != "" {
				t.Errorf("%s has %s", what, found)
			}
			if strings.Contains(what, fmt.Sprintf("/players/%d", id)) && strings.HasPrefix(answer, "200 ") {
				t.Errorf("%s of another player: %.100s", what, answer)
			}
		}
		if found := others.FindString(answer); found != "" && !strings.Contains(what, "openapi") {
			t.Errorf("%s has %s", what, found)
		}
	}
	if found := others.FindString(m.sweep(t, "ansel")["application/json "+
		fmt.Sprintf("/api/v1/players/%d/seasons/%d/report",
			m.Bryn.ID, m.Season.ID)]); found == "" {
		t.Error("the staff's report has none of the members either: the search above finds nothing anywhere")
	}
	m.filters(t, "bryn", slices.Concat(m.mates, []models.Player{m.Owen, m.Tam})...)
	m.correct(t, m.mates[0], last, 99)
	m.log(t, m.Owen, 55, last)
	m.as(t, "ansel", func(tx *store.Tx) error {
		return tx.CreateRating(&models.Rating{PlayerID: m.mates[5].ID, Skill: "tackle", Grade: 5, Date: last.Date,
			MatchID: &last.ID})
	})
	m.catchUp(t)
	before.differs(t, m.sweep(t, "bryn"), nil)
}

// made finds when something was made, and from what revision of the data. These reveal only that something was
// recorded.
var made = regexp.MustCompile(`"(revision|made_at)":("[^"]*"|\d+)|2026-03-14T[0-9:.]+Z,\d+`)

// A coach from whom a colleague's grades are hidden reads everything there is: nothing of it moves when a grade does,
// and the outlook of a goal on the skill stands on the grades of rounds that are over.
func TestWhatACoachIsAnsweredHoldsNothingOfAGradeHiddenFromThem(t *testing.T) {
	storetest.OneByOne(t)
	m := newTeam(t, storetest.Open(t, "sqlite"))
	second, err := m.Join(t, m.ID, models.User{Login: "second", Name: "Second Coach", Role: models.RoleCoach},
		m.Under18.ID)
	if err != nil {
		t.Fatal(err)
	}
	if m.users["second"], err = m.Store.WhoByID(t.Context(), m.ID, second.ID); err != nil {
		t.Fatal(err)
	}
	round := models.RatingRound{SeasonID: m.Season.ID, SquadID: m.Under18.ID, Name: "The last match"}
	var grades []models.Rating
	goal := models.Goal{PlayerID: m.Bryn.ID, Skill: "tackle", SetOn: "2025-09-01", By: "2026-05-01", Target: 4,
		Why:    "To tackle lower",
		Insist: models.AskFewMatches.Codes(), InsistReason: "There is no trend yet."}
	last := m.matches[len(m.matches)-1]
	round.Date, round.MatchID, round.Closes = last.Date, &last.ID, "2026-06-30"
	m.as(t, "mabyn", func(tx *store.Tx) error {
		goal.OwnerID = tx.Who().UserID
		if err := tx.CreateGoal(&goal); err != nil {
			return err
		}
		return tx.CreateRatingRound(&round)
	})
	give := func(login string, grade func(player, match int) int, games []models.Match, keep bool) {
		m.as(t, login, func(tx *store.Tx) error {
			for i, p := range slices.Concat([]models.Player{m.Bryn, m.Owen}, m.mates) {
				for j, game := range games {
					r := models.Rating{PlayerID: p.ID, Skill: "tackle", Grade: grade(i, j), Date: game.Date, MatchID: &game.ID}
					if err := tx.CreateRating(&r); err != nil {
						return err
					}
					if keep {
						grades = append(grades, r)
					}
				}
			}
			return nil
		})
	}
	early := m.matches[:len(m.matches)-1]
	for _, login := range []string{"ansel", "second"} {
		give(login, func(player, match int) int { return 1 + (player+match)%4 }, early, false)
	}
	give("second", func(player, _ int) int { return 1 + player%3 }, []models.Match{last}, true)
	m.catchUp(t)
	report := fmt.Sprintf("application/json /api/v1/players/%d/seasons/%d/report", m.Bryn.ID, m.Season.ID)
	outlook := func(s sweep) string {
		return fmt.Sprint(decoded(t, s[report], "outlook"), decoded(t, s[report], "reached"))
	}

	before, open := m.sweep(t, "ansel"), m.sweep(t, "second")
	was := outlook(before)
	m.as(t, "second", func(tx *store.Tx) error {
		for i := range grades {
			grades[i].Grade = 5
			if err := tx.UpdateRating(&grades[i]); err != nil {
				return err
			}
		}
		return nil
	})
	m.catchUp(t)
	before.differs(t, m.sweep(t, "ansel"), made)
	if now := m.sweep(t, "second"); now[report] == open[report] {
		t.Error("the grades move nothing that the coach who gave them reads: the comparison above cannot fail")
	} else if outlook(now) == "[] []" {
		t.Errorf("the coach who gave all grades sees no outlook of the goal: %s", outlook(now))
	}
	give("ansel", func(int, int) int { return 3 }, []models.Match{last}, false)
	m.catchUp(t)
	if now := outlook(m.sweep(t, "ansel")); now == "[] []" || was == "[] []" {
		t.Errorf("the goal has the outlook %s, and %s once the coach has graded", was, now)
	}
}
