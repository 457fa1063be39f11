package api_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v5"

	"throughline/api/apitest"
	"throughline/api/rest"
	"throughline/models"
	"throughline/models/scenario"
	"throughline/models/store"
	"throughline/models/store/storetest"
	"throughline/reports"
	"throughline/reports/paper"
)

// described is the description of the service, read by a validator of JSON Schema 2020-12, which OpenAPI 3.1 is built
// on.
type described struct {
	compiler *jsonschema.Compiler
	schemas  map[string]*jsonschema.Schema
}

func describedTo(t *testing.T, c *apitest.Client) *described {
	t.Helper()
	d := &described{compiler: jsonschema.NewCompiler(), schemas: map[string]*jsonschema.Schema{}}
	d.compiler.Draft, d.compiler.AssertFormat = jsonschema.Draft2020, true
	if err := d.compiler.AddResource("openapi.json", strings.NewReader(c.Get("/openapi.json").Body)); err != nil {
		t.Fatal(err)
	}
	return d
}

// check compares an answer to a GET with what the description says about the operation.
func (d *described) check(t *testing.T, path, body string) error {
	t.Helper()
	s := d.schemas[path]
	if s == nil {
		place := strings.NewReplacer("/", "~1", "{", "%7B", "}", "%7D").Replace(path)
		var err error
		if s, err = d.compiler.Compile("openapi.json#/paths/" + place +
			"/get/responses/200/content/application~1json/schema"); err != nil {
			t.Fatal(err)
		}
		d.schemas[path] = s
	}
	var v any
	if err := json.Unmarshal([]byte(body), &v); err != nil {
		return err
	}
	return s.Validate(v)
}

// Every paper of every player of the demonstration, and the player's trends, are what the description says: as staff
// and as the player read them, with trends and while these are behind.
func TestEveryPaperOfEveryPlayerKeepsToTheDescription(t *testing.T) {
	storetest.OneByOne(t)
	a, demo := demoServed(t)
	d := describedTo(t, a.Stranger(t))
	staff := a.ProgramOf(t, demo.Academy.ID, demo.Manager.ID)
	players, readers := demoPlayers(t, a, demo)
	papers, err := reports.Papers(nil)
	if err != nil {
		t.Fatal(err)
	}
	compared := map[int64]bool{} // with others, in what the player reads
	for _, round := range []string{"with trends", "while the trends are behind"} {
		read := map[string]int{}
		if round != "with trends" {
			changeEverySquad(t, a, demo)
		}
		for i, p := range players {
			if round != "with trends" && i%8 != 0 {
				continue
			}
			for as, c := range map[string]*apitest.Client{"staff": staff, "the player": readers[p.ID]} {
				for _, path := range playersPaths(papers) {
					address := strings.NewReplacer("{id}", fmt.Sprint(p.ID), "{season}", fmt.Sprint(demo.SeasonID), "{indicator}",
						"carries").Replace(path)
					got := c.Get(address)
					if got.Status != http.StatusOK {
						continue
					}
					read[path+" as "+as]++
					if err := d.check(t, path, got.Body); err != nil {
						t.Errorf("%s %s as %s: %#v", address, round, as, err)
					}
					if i%16 == 0 && strings.HasSuffix(path, "/trends") {
						checkTrends(t, c, address, got, round == "with trends", as == "staff")
					}
					if as != "the player" {
						continue
					}
					if found := banned.FindString(got.Body); found != "" {
						t.Errorf("%s %s tells the player of others: %s", address, round, found)
					}
					if strings.Contains(got.Body, `"comparison":`) {
						compared[p.ID] = true
					}
				}
			}
		}
		for _, path := range playersPaths(papers) {
			for _, as := range []string{"staff", "the player"} {
				if n := read[path+" as "+as]; n < len(players)/8 {
					t.Errorf("%s: %s as %s was read of %d players alone", round, path, as, n)
				}
			}
		}
	}
	if len(compared) < len(players)/2 {
		t.Errorf("only %d of %d players are shown a band over others", len(compared), len(players))
	}
}

// changeEverySquad changes what the trends of each squad's season stand on, which leaves them behind.
func changeEverySquad(t *testing.T, a *apitest.Academy, demo scenario.Loaded) {
	t.Helper()
	err := a.Store.Write(t.Context(), models.Console(demo.Academy.ID), func(tx *store.Tx) error {
		matches, err := tx.Matches(models.MatchFilter{SeasonID: demo.SeasonID})
		if err != nil {
			return err
		}
		changed := map[int64]bool{}
		for _, m := range matches {
			if m.SquadID == nil || changed[*m.SquadID] {
				continue
			}
			changed[*m.SquadID] = true
			hard := 5
			if m.Difficulty != nil {
				hard = 1 + *m.Difficulty%5
			}
			m.Difficulty = &hard
			if err := tx.UpdateMatch(&m); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// checkTrends compares a list of trends with each trend fetched by itself, which reads no more than it needs, and
// checks what they say about being current.
func checkTrends(t *testing.T, c *apitest.Client, address string, list apitest.Answer, current, staff bool) {
	t.Helper()
	var all struct{ Items []json.RawMessage }
	if err := json.Unmarshal([]byte(list.Body), &all); err != nil {
		t.Fatal(err)
	}
	for _, item := range all.Items {
		var line struct {
			Code     string
			Current  bool
			MadeAt   *time.Time `json:"made_at"`
			Revision int64
			Level    *struct{ Method models.LevelMethod }
			Trend    json.RawMessage
		}
		if err := json.Unmarshal(item, &line); err != nil {
			t.Fatal(err)
		}
		alone := c.Get(address + "/" + line.Code)
		if alone.Body != string(item) {
			t.Errorf("%s/%s alone is\n%s\nand in the list\n%s", address, line.Code, alone.Body, item)
		}
		if l := line.Level; l != nil && (l.Method == models.FittedTrend) != (line.Trend != nil) {
			t.Errorf("%s/%s: the level is by %s, and the trend %s", address, line.Code, l.Method, line.Trend)
		}
		if !staff {
			if line.Revision != 0 || alone.Header.Get("Retry-After") != "" {
				t.Errorf("%s/%s tells a player of every change: %s", address, line.Code, item)
			}
			continue
		}
		retry := map[bool]string{true: "", false: "10"}[current]
		if line.Current != current || line.Revision == 0 || current && line.MadeAt == nil ||
			alone.Header.Get("Retry-After") != retry || list.Header.Get("Retry-After") != retry {
			t.Errorf("%s/%s, current %t: Retry-After %q, %+v", address, line.Code, current, alone.Header.Get("Retry-After"),
				line)
		}
	}
}

// playersPaths are the resources about a player's season.
func playersPaths(papers paper.Papers) []string {
	paths := []string{rest.Path + "/players/{id}/seasons/{season}/trends", rest.Path +
		"/players/{id}/seasons/{season}/trends/{indicator}"}
	for _, p := range papers {
		if p.Of[0] == paper.OfPlayer && (len(p.Of) == 1 || p.Of[1] == paper.OfSeason) {
			paths = append(paths, rest.Path+p.Resource())
		}
	}
	return paths
}

// demoPlayers are the players of the demonstration, each with a program that acts as the player.
func demoPlayers(t *testing.T, a *apitest.Academy, demo scenario.Loaded) (players []models.Player,
	readers map[int64]*apitest.Client) {
	t.Helper()
	users := map[int64]int64{}
	err := a.Store.Write(t.Context(), models.Console(demo.Academy.ID), func(tx *store.Tx) (err error) {
		if players, err = tx.Players(models.PlayerFilter{}); err != nil {
			return err
		}
		known, err := tx.Users(models.UserFilter{})
		if err != nil {
			return err
		}
		for _, u := range known {
			if u.PlayerID != nil {
				users[*u.PlayerID] = u.ID
			}
		}
		for _, p := range players {
			if users[p.ID] != 0 {
				continue
			}
			u := models.User{Login: fmt.Sprintf("player-%d", p.ID), Name: p.Name, Role: models.RolePlayer, PlayerID: &p.ID}
			if err := tx.CreateUser(&u); err != nil {
				return err
			}
			users[p.ID] = u.ID
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	readers = map[int64]*apitest.Client{}
	for player, user := range users {
		readers[player] = a.ProgramOf(t, demo.Academy.ID, user)
	}
	return players, readers
}
