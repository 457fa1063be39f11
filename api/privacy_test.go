package api_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
	"throughline/reports/fits"
)

// team is the academy of the tests with six more flankers in the under 18s. Each has totals of carries, and measured
// carries, in every match.
type team struct {
	*apitest.Academy
	matches []models.Match
	mates   []models.Player
	users   map[string]models.Who
}

func newTeam(t *testing.T, s *store.Store) *team {
	t.Helper()
	m := &team{Academy: apitest.Serve(t, s), users: map[string]models.Who{}}
	m.console(t, func(tx *store.Tx) error {
		found, err := tx.Matches(models.MatchFilter{SeasonID: m.Season.ID, SquadID: m.Under18.ID})
		if err != nil {
			return err
		}
		m.matches = found
		for n := range 6 {
			p := models.Player{Name: fmt.Sprint("Flanker ", n), BornOn: new(models.Date("2004-05-06")),
				Positions: []models.Position{models.Flanker}}
			if err := tx.CreatePlayer(&p); err != nil {
				return err
			}
			m.mates = append(m.mates, p)
			err := tx.CreateMembership(&models.Membership{SeasonID: m.Season.ID, SquadID: m.Under18.ID, PlayerID: p.ID,
				From: m.Season.Starts})
			if err != nil {
				return err
			}
		}
		return nil
	})
	for _, game := range m.matches {
		for n := range m.mates {
			m.play(t, game, n, float64(6+n))
		}
	}
	for _, login := range []string{"mabyn", "ansel", "sorrel", "bryn", "owen"} {
		var err error
		if _, m.users[login], err = s.UserByLogin(t.Context(), login); err != nil {
			t.Fatal(err)
		}
	}
	m.log(t, m.Bryn, 7)
	m.catchUp(t)
	return m
}

// console writes as the console does.
func (m *team) console(t *testing.T, fn func(tx *store.Tx) error) {
	t.Helper()
	if err := m.Store.Write(t.Context(), models.Console(m.ID), fn); err != nil {
		t.Fatal(err)
	}
}

// play records that one of the mates made so many carries in a match.
func (m *team) play(t *testing.T, game models.Match, mate int, carries float64) {
	t.Helper()
	player := m.mates[mate]
	m.console(t, func(tx *store.Tx) error {
		if err := tx.CreateAppearance(&models.Appearance{MatchID: game.ID, PlayerID: player.ID, Minutes: 70}); err != nil {
			return err
		}
		return tx.CreateMatchTotals(&models.MatchTotals{MatchID: game.ID, PlayerID: player.ID, Source: "test",
			Counts: models.Counts{"carries": carries, "tackles_made": 8 + carries, "tackles_missed": 2}})
	})
	m.log(t, player, carries, game)
}

// log logs one carry of so many metres in matches, or in all.
func (m *team) log(t *testing.T, player models.Player, metres float64, games ...models.Match) {
	t.Helper()
	if games == nil {
		games = m.matches
	}
	m.console(t, func(tx *store.Tx) error {
		coach, err := tx.Users(models.UserFilter{Login: "ansel"})
		if err != nil {
			return err
		}
		for _, game := range games {
			log := models.Log{MatchID: game.ID, PlayerID: player.ID, LoggerID: coach[0].ID, Depth: models.Full, Finished: true,
				Kinds: []models.Kind{models.KindCarry}}
			if err := tx.CreateLog(&log); err != nil {
				return err
			}
			err := tx.CreateInvolvement(&models.Involvement{LogID: log.ID, Clock: models.Clock{Half: 1, Second: 60},
				Kind:    models.KindCarry,
				Details: map[string]string{"contact": "won", "gain_line": "over"}, Measures: map[string]float64{"metres": metres}})
			if err != nil {
				return err
			}
		}
		return nil
	})
}

// catchUp makes the trends that are behind, and publishes what is due.
func (m *team) catchUp(t *testing.T) {
	t.Helper()
	m.console(t, func(tx *store.Tx) error {
		behind, err := tx.StaleSquadSeasons()
		for _, of := range behind {
			data, err := fits.Read(tx, of.SeasonID, of.SquadID)
			if err != nil {
				return err
			}
			trends, err := data.Fit(t.Context())
			if err != nil {
				return err
			}
			if err := tx.KeepTrends(data.SquadSeason(), trends); err != nil {
				return err
			}
		}
		return err
	})
}

// correct makes a hundredfold correction of one player's totals in a match, or takes it back.
func (m *team) correct(t *testing.T, player models.Player, game models.Match, carries float64) {
	t.Helper()
	m.console(t, func(tx *store.Tx) error {
		found, err := tx.Totals(models.TotalsFilter{MatchID: game.ID, PlayerID: player.ID})
		if err != nil || len(found) != 1 {
			return fmt.Errorf("%d totals, %w", len(found), err)
		}
		found[0].Counts = models.Counts{"carries": carries, "tackles_made": 20, "tackles_missed": 9}
		return tx.UpdateMatchTotals(&found[0])
	})
}

// newRound plays another match, with data of Bryn and the first so many mates.
func (m *team) newRound(t *testing.T, day models.Date, mates int) {
	t.Helper()
	game := models.Match{SeasonID: m.Season.ID, SquadID: &m.Under18.ID, Date: day, Opponent: "Saltby", Halves: 2,
		HalfMinutes: 35}
	m.console(t, func(tx *store.Tx) error {
		if err := tx.CreateMatch(&game); err != nil {
			return err
		}
		if err := tx.CreateAppearance(&models.Appearance{MatchID: game.ID, PlayerID: m.Bryn.ID, Minutes: 70}); err != nil {
			return err
		}
		return tx.CreateMatchTotals(&models.MatchTotals{MatchID: game.ID, PlayerID: m.Bryn.ID, Source: "test",
			Counts: models.Counts{"carries": 9}})
	})
	m.matches = append(m.matches, game)
	for n := range mates {
		m.play(t, game, n, float64(20+n))
	}
}

// all is everything that a player gets of their season, by where: pages, the file and JSON.
func (m *team) all(t *testing.T, login string, player models.Player) map[string]string {
	t.Helper()
	person, program := m.SignIn(t, login), m.Program(t, login)
	of := fmt.Sprintf("/players/%d/seasons/%d", player.ID, m.Season.ID)
	got := map[string]string{}
	for _, path := range []string{"/", fmt.Sprintf("/players/%d", player.ID), of} {
		got["page "+path] = person.Get(path).Body
	}
	for _, path := range []string{of + "/report", of + "/trends", of + "/trends/carries", "/observations",
		"/carry-cells"} {
		answer := program.Get("/api/v1" + path)
		if answer.Status != 200 {
			t.Fatalf("%s: %d %s", path, answer.Status, answer.Body)
		}
		got["JSON "+path] = answer.Body
	}
	got["file"] = program.Get("/api/v1"+of+"/report", "Accept", "text/html").Body
	return got
}

// record is what a player's archive has of figures and trends.
func (m *team) record(t *testing.T, login string, player models.Player) (text string) {
	t.Helper()
	record, err := m.Store.ExportPlayer(t.Context(), m.users[login], player.ID, models.AskedByPlayer)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range record.Parts {
		if slices.Contains([]string{"trends", "publications", "observations", "carry_cells"}, p.Code) {
			for _, item := range p.Items {
				text += p.Code + " " + string(item) + "\n"
			}
		}
	}
	if !strings.Contains(text, "publications ") || strings.Contains(text, "trends {") {
		t.Fatalf("the archive of %s has not what is published, or more: %.300s", login, text)
	}
	return text
}

// A player reads, another's figures are corrected, the player reads again: nothing has changed, wherever they look.
func TestWhatIsRecordedOfOnePlayerIsNotToldByWhatAnotherReads(t *testing.T) {
	storetest.OneByOne(t)
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		m := newTeam(t, s)
		before, archive := m.all(t, "bryn", m.Bryn), m.record(t, "bryn", m.Bryn)
		if !strings.Contains(before["JSON "+fmt.Sprintf("/players/%d/seasons/%d/trends/carries", m.Bryn.ID, m.Season.ID)],
			`"against":"back row"`) {
			t.Fatal("the player is not compared with anybody: there is nothing to find out")
		}
		last := m.matches[len(m.matches)-1]
		for _, change := range []struct {
			what string
			make func()
		}{
			{"another's totals are corrected", func() { m.correct(t, m.mates[0], last, 99) }},
			{"one of another position is corrected", func() { m.correct(t, m.Owen, last, 77) }},
			{"a sixth leaves the squad's list", func() {
				m.console(t, func(tx *store.Tx) error {
					members, err := tx.Memberships(models.MembershipFilter{SeasonID: m.Season.ID, SquadID: m.Under18.ID,
						PlayerID: m.mates[5].ID})
					if err != nil {
						return err
					}
					return tx.DeleteMembership(members[0].ID, members[0].Version)
				})
			}},
			{"another is put on it", func() {
				m.console(t, func(tx *store.Tx) error {
					return tx.CreateMembership(&models.Membership{SeasonID: m.Season.ID, SquadID: m.Under18.ID, PlayerID: m.Tam.ID,
						From: m.Season.Starts})
				})
			}},
			{"another's carries are logged late", func() { m.log(t, m.Owen, 55, last) }},
		} {
			change.make()
			for _, when := range []string{"before", "after"} {
				now := m.all(t, "bryn", m.Bryn)
				for _, where := range slices.Sorted(maps.Keys(before)) {
					if now[where] != before[where] {
						t.Errorf("%s, and %s the trends are made again %s tells another thing:\n%s", change.what, when, where,
							difference(before[where], now[where]))
					}
				}
				m.catchUp(t)
			}
		}
		if now := m.record(t, "bryn", m.Bryn); now != archive {
			t.Errorf("the archive tells another thing:\n%s", difference(archive, now))
		}
		if found := banned.FindString(archive); found != "" {
			t.Errorf("the archive has %s", found)
		}
		const carries = "carries"
		was := m.published(t, carries)
		m.newRound(t, "2025-11-15", 4) // the fifth is missing
		m.catchUp(t)
		if now := m.published(t, carries); now != was {
			t.Errorf("a round of four others changed what is published:\n%s", difference(was, now))
		}
		m.correct(t, m.Bryn, m.matches[0], 30) // the player's own correction does not help
		m.catchUp(t)
		if now := m.published(t, carries); now != was {
			t.Errorf("the player's own correction changed what is published:\n%s", difference(was, now))
		}
		m.newRound(t, "2025-11-29", 5)
		m.catchUp(t)
		if now := m.published(t, carries); now == was {
			t.Error("a round with figures of five others published nothing: no test above could fail")
		}
	})
}

// published is what Bryn is shown of an indicator beyond their own record.
func (m *team) published(t *testing.T, code string) string {
	t.Helper()
	var line map[string]json.RawMessage
	answer := m.Program(t, "bryn").Get(fmt.Sprintf("/api/v1/players/%d/seasons/%d/trends/%s", m.Bryn.ID, m.Season.ID,
		code))
	if err := json.Unmarshal([]byte(answer.Body), &line); err != nil {
		t.Fatal(err)
	}
	return fmt.Sprintf("%s\n%s\n%s", line["level"], line["trend"], line["comparison"])
}

// difference is the first place in which two texts differ.
func difference(a, b string) string {
	i := 0
	for i < min(len(a), len(b)) && a[i] == b[i] {
		i++
	}
	from := max(0, i-80)
	return fmt.Sprintf("… %s\n… %s", a[from:min(len(a), i+80)], b[from:min(len(b), i+80)])
}

// banned are the members that say something of others: whatever a player gets has none of them.
var banned = regexp.MustCompile(
	`"(own_weight|above_group|standing|worthwhile|variation|running_level|players|fitted|covers)":`)

// Every player of a squad is told of the others a band over five or more, and no member that could say more. Coaches
// are told.
func TestAPlayersPapersHaveNoMemberThatTellsOfOthers(t *testing.T) {
	storetest.OneByOne(t)
	m := newTeam(t, storetest.Open(t, "sqlite"))
	of := fmt.Sprintf("/api/v1/players/%d/seasons/%d", m.Bryn.ID, m.Season.ID)
	for _, path := range []string{of + "/report", of + "/trends"} {
		body := m.Program(t, "bryn").Get(path).Body
		if found := banned.FindString(body); found != "" {
			t.Errorf("%s has %s", path, found)
		}
		if staff := m.Program(t, "ansel").Get(path).Body; !strings.Contains(staff, `"standing":`) ||
			!strings.Contains(staff, `"worthwhile":`) {
			t.Errorf("the staff's %s has no standing: the search above finds nothing anywhere", path)
		}
	}
}
