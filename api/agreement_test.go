package api_test

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"strings"
	"testing"

	"throughline/models"
)

// cohen is the table of two judges' choices in Cohen 1960, Educational and Psychological Measurement 20, table 2b: 200
// cases, κ = .492. Rows are the first judge's choice.
var cohen = [3][3]int{{88, 14, 18}, {10, 40, 10}, {2, 6, 12}}

// compare has two coaches log 200 carries of a player whose contacts they read as Cohen's judges do, the second coach
// a tackle more than the first, and a third coach the carries as the first one has them.
func (s *stage) compare(t *testing.T) (logs []int64) {
	t.Helper()
	m := models.Match{SeasonID: s.Season.ID, SquadID: &s.Under18.ID, Date: "2025-11-08", Opponent: "Harbour",
		Halves: 2, HalfMinutes: 35}
	s.as(t, "", func(tx txOf) error {
		if err := tx.CreateMatch(&m); err != nil {
			return err
		}
		return tx.CreateAppearance(&models.Appearance{MatchID: m.ID, PlayerID: s.Bryn.ID, Minutes: 70})
	})
	contacts := []string{"won", "even", "lost"}
	for n, login := range []string{"ansel", "isolde", "wenna"} {
		log := models.Log{MatchID: m.ID, PlayerID: s.Bryn.ID, Depth: models.Core, Finished: true,
			LoggerID: s.user(t, login).UserID, Kinds: []models.Kind{models.KindCarry, models.KindTackle}}
		var all []*models.Involvement
		for first := range cohen {
			for second, times := range cohen[first] {
				for range times {
					contact := contacts[[]int{first, second, first}[n]]
					at := models.Clock{Half: 1 + len(all)/100, Second: 2100*(len(all)/100) + 20*(1+len(all)%100)}
					all = append(all, &models.Involvement{Kind: models.KindCarry, Clock: at,
						Details: map[string]string{"contact": contact}})
				}
			}
		}
		for tackle := range 1 + n%2 {
			all = append(all, &models.Involvement{Kind: models.KindTackle, Details: map[string]string{"result": "won"},
				Clock: models.Clock{Half: 2, Second: 4140 + 20*tackle}})
		}
		s.as(t, "", func(tx txOf) error {
			if err := tx.CreateLog(&log); err != nil {
				return err
			}
			refused, err := tx.CreateInvolvements(log.ID, all)
			for _, r := range refused {
				if r != nil {
					return r
				}
			}
			return err
		})
		logs = append(logs, log.ID)
	}
	return logs
}

// By REST and on the page: kappa by kind and by detail, counts within one, and the definition that two read
// differently with its options. Where three people logged a match, the reader chooses which two.
func TestTwoLogsOfAMatchAreComparedAsCohenDoesAndTheReaderChoosesWhichTwo(t *testing.T) {
	eachStage(t, func(t *testing.T, s *stage) {
		s.coach(t, "isolde", s.Under18.ID)
		s.coach(t, "wenna", s.Under18.ID)
		logs := s.compare(t)
		pair := func(a, b int) string { return fmt.Sprintf("/logs/%d/agreement/%d", logs[a], logs[b]) }
		var found models.Agreement
		got := s.Program(t, "ansel").Get("/api/v1" + pair(0, 1))
		if err := json.Unmarshal([]byte(got.Body), &found); got.Status != http.StatusOK || err != nil {
			t.Fatalf("%d %v %s", got.Status, err, got.Body)
		}
		if len(found.Details) == 0 || found.Details[0].Kappa == nil || math.Abs(*found.Details[0].Kappa-.492) > .0005 ||
			found.Details[0].Both != 200 || found.CountsEqual != 1 || found.CountsWithinOne != 2 {
			t.Errorf("%+v; want a kappa of .492 of 200 contacts, one kind equal and two within one", found)
		}
		m := found.Misread
		if m == nil || m.Kind != models.KindCarry || m.Detail != "contact" || m.Disagreed != 60 || m.Times != 24 ||
			m.First.Code != "won" || m.Second.Code != "even" {
			t.Errorf("misread %+v", m)
		}
		page := s.browser(t, "ansel").Get(pair(0, 1)).Body
		for _, want := range []string{"Carry 200 in both 200 200 equal", "Tackle 1 in both 1 2 within one",
			"Carry: contact 200 140 0.49", "the counts of 1 are equal and of 2 within one",
			"they name its kind with a kappa of 1.00.", "1 detail that both recorded alike every time",
			"They read “contact” of a carry most differently: 60 of 200 are not the same"} {
			if !strings.Contains(spoken(page), want) {
				t.Errorf("the page does not say %q: %s", want, spoken(page))
			}
		}
		squad := fmt.Sprintf("/squads/%d/seasons/%d/consistency", s.Under18.ID, s.Season.ID)
		for _, body := range []string{page, s.browser(t, "ansel").Get(squad).Body} {
			for _, other := range []string{pair(0, 1), pair(0, 2), pair(1, 2)} {
				if !strings.Contains(body, `href="`+other+`"`) {
					t.Errorf("no way to %s", other)
				}
			}
		}
		if got := spoken(s.browser(t, "ansel").Get(pair(0, 2)).Body); !strings.Contains(got, "No definition stands out") ||
			!strings.Contains(got, "Two logs of Bryn Calder By Ansel Brock and Coach wenna") {
			t.Errorf("the first and the third agree in everything: %s", got)
		}
	})
}
