package api_test

import (
	"encoding/json"
	"fmt"
	"html"
	"maps"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// figuresApart compares what two readers are answered, and lists the figures that differ and that neither the record
// they belong to nor one around it has a line about, in both answers. Said counts those that have one.
type figuresApart struct {
	own    bool // the second reader is the player: what an edition for players leaves out is not compared
	unsaid []string
	said   map[string]int // by the first name of the path
}

// identities are the members by which records of a list are matched.
var identities = []string{"id", "code", "indicator", "skill", "match_id", "lead", "name", "player_id"}

// notFigures are members whose numbers are no figures about the player.
var notFigures = []string{"made_at", "id", "version", "updated_at", "revision", "version", "round", "counted"}

var number = regexp.MustCompile(`[0-9]+(\.[0-9]+)?`)

// numbersIn are the numbers of a text, whose words may be those of an edition; any other value as it is.
func numbersIn(v any) string {
	if text, is := v.(string); is {
		return fmt.Sprint(number.FindAllString(text, -1))
	}
	return fmt.Sprint(v)
}

func (f *figuresApart) walk(path string, a, b any, line bool) {
	switch one := a.(type) {
	case object:
		other, ok := b.(object)
		if !ok { // there is no record that the other's line could stand beside
			f.missing(path, a, line || one["other_readers"] != nil)
			return
		}
		line = line || one["other_readers"] != nil && other["other_readers"] != nil
		for _, key := range slices.Sorted(maps.Keys(one)) {
			if slices.Contains(notFigures, key) || key == "other_readers" {
				continue
			}
			f.walk(path+"."+key, one[key], other[key], line)
		}
	case []any:
		f.lists(path, one, b, line)
	default:
		if b == nil {
			f.missing(path, a, line)
		} else if numbersIn(a) != numbersIn(b) {
			f.differ(path, a, b, line)
		}
	}
}

// lists matches the records of two lists.
func (f *figuresApart) lists(path string, one []any, b any, line bool) {
	other, _ := b.([]any)
	for n, x := range one {
		y, at := any(nil), fmt.Sprintf("%s[%d]", path, n)
		if record, is := x.(object); is {
			y = sameIn(record, other)
			at = fmt.Sprintf("%s[%v]", path, identity(record))
		} else if n < len(other) {
			y = other[n]
		}
		f.walk(at, x, y, line)
	}
}

// identity tells a record apart from the others of its list.
func identity(of object) string {
	var all []string
	for _, name := range append(slices.Clone(identities), "date", "on", "part", "quarters", "squad_id") {
		if of[name] != nil {
			all = append(all, fmt.Sprint(of[name]))
		}
	}
	return strings.Join(all, "/")
}

func sameIn(of object, list []any) any {
	for _, x := range list {
		if o, is := x.(object); is && identity(o) == identity(of) {
			return o
		}
	}
	return nil
}

// missing notes figures that only the first reader has.
func (f *figuresApart) missing(path string, a any, line bool) {
	switch x := a.(type) {
	case object:
		for key, member := range x {
			if !slices.Contains(notFigures, key) {
				f.missing(path+"."+key, member, line)
			}
		}
	case []any:
		for _, member := range x {
			f.missing(path, member, line)
		}
	case float64:
		if !f.own {
			f.differ(path, a, nil, line)
		}
	}
}

func (f *figuresApart) differ(path string, a, b any, line bool) {
	if line {
		f.said[strings.FieldsFunc(path, func(r rune) bool { return r == '.' || r == '[' })[0]]++
		return
	}
	f.unsaid = append(f.unsaid, fmt.Sprintf("%s: %v and %v", path, a, b))
}

// othersReading is a team on a day on which readers of one player must read different figures: a round is open and
// half graded, a selector is shown only a part of the squad, and the player's levels were published before a change.
func othersReading(t *testing.T) *team {
	storetest.OneByOne(t)
	m := newTeam(t, storetest.Open(t, "sqlite"))
	hedda, err := m.Join(t, m.ID, models.User{Login: "hedda", Name: "Hedda Lorne", Role: models.RoleCoach}, m.Under18.ID)
	if err != nil {
		t.Fatal(err)
	}
	m.totals(t, models.Counts{"carries": 120, "tackles_made": 150, "tackles_missed": 30})
	m.console(t, func(tx *store.Tx) error {
		for n, game := range m.matches[:4] { // a fortnight and more ago
			for k, p := range append([]models.Player{m.Bryn}, m.mates...) {
				for c, coach := range []int64{m.users["ansel"].UserID, hedda.ID} {
					r := models.Rating{PlayerID: p.ID, RaterID: coach, Skill: "tackle", Grade: 2 + (n+k+c)%3, Date: game.Date,
						MatchID: &game.ID}
					if err := tx.CreateRating(&r); err != nil {
						return err
					}
				}
			}
		}
		last := m.matches[4]
		round := models.RatingRound{SeasonID: m.Season.ID, SquadID: m.Under18.ID, Name: "Last match", Date: last.Date,
			MatchID: &last.ID, Closes: "2026-06-30"}
		if err := tx.CreateRatingRound(&round); err != nil {
			return err
		}
		for _, skill := range []string{"tackle", "breakdown"} { // Ansel still owes both
			r := models.Rating{PlayerID: m.Bryn.ID, RaterID: hedda.ID, Skill: skill, Grade: 5, Date: last.Date,
				MatchID: &last.ID}
			if err := tx.CreateRating(&r); err != nil {
				return err
			}
		}
		for _, g := range []models.Goal{{Indicator: "carries", Target: 12}, {Skill: "tackle", Target: 4}} {
			g.PlayerID, g.OwnerID, g.SetOn, g.By, g.Why = m.Bryn.ID, hedda.ID, "2025-10-01", "2026-05-01", "To grow."
			g.Insist, g.InsistReason = models.AskFewMatches.Codes(), "Agreed."
			if err := tx.CreateGoal(&g); err != nil {
				return err
			}
		}
		return nil
	})
	m.catchUp(t)
	m.console(t, func(tx *store.Tx) error {
		p := &m.mates[5] // a minor without consent
		p.BornOn = new(models.Date("2011-05-06"))
		return tx.UpdatePlayer(p)
	})
	m.require(t, models.PurposeSelection)
	m.consent(t, m.Bryn)
	m.correct(t, m.Bryn, m.matches[4], 40)
	m.correct(t, m.mates[5], m.matches[4], 90)
	m.catchUp(t)
	return m
}

// A figure about a player never differs between two readers without a line beside it, on both sides: in the season
// report, in the trends and in goals over REST, and on the paper.
func TestAFigureNeverDiffersBetweenTwoReadersWithoutSayingSo(t *testing.T) {
	m := othersReading(t)
	season := fmt.Sprintf("/api/v1/players/%d/seasons/%d", m.Bryn.ID, m.Season.ID)
	answers := map[string]string{"report": season + "/report", "trends": season + "/trends?limit=500",
		"trend": season + "/trends/carries", "goals": fmt.Sprintf("/api/v1/goals?player=%d", m.Bryn.ID)}
	read := func(login, path string) object {
		got := m.Program(t, login).Get(path, "Accept", "application/json")
		if got.Status != http.StatusOK {
			t.Fatalf("%s reads %s: %d %s", login, path, got.Status, got.Body)
		}
		return decodedObject(t, got.Body)
	}
	for reader, differing := range map[string][]string{
		"ansel":  {"report.skills"},
		"sorrel": {"report.skills", "report.indicators", "trends.items", "trend.", "goals.items"},
		"bryn":   {"report.skills", "report.indicators", "trends.items", "trend."},
	} {
		said := map[string]int{}
		for what, path := range answers {
			f := figuresApart{own: reader == "bryn", said: map[string]int{}}
			mine, theirs := read("mabyn", path), read(reader, path)
			if what == "trend" { // the record itself is what the line stands beside
				f.walk("x", object{"trend": mine}, object{"trend": theirs}, false)
			} else {
				f.top(mine, theirs)
			}
			for _, apart := range f.unsaid {
				t.Errorf("%s and the manager read different figures, and no line says so: %s: %s", reader, what, apart)
			}
			for part, n := range f.said {
				said[what+"."+part] += n
			}
		}
		for _, part := range differing {
			if part == "trend." {
				part = "trend.x"
			}
			if said[part] == 0 {
				t.Errorf("no figure in %s differs for %s: the comparison cannot fail; it found %v", part, reader, said)
			}
		}
		m.saysSoOnPages(t, reader, read(reader, answers["report"]))
	}
}

// top compares two reports or lists. Its own line speaks for sentences, methods and cautions, not for its records.
func (f *figuresApart) top(a, b object) {
	line := a["other_readers"] != nil && b["other_readers"] != nil
	for _, key := range slices.Sorted(maps.Keys(a)) {
		words := slices.Contains([]string{"sentences", "methods", "cautions"}, key)
		if words && f.own || slices.Contains(notFigures, key) || key == "other_readers" {
			continue // an edition for players has other sentences
		}
		f.walk(key, a[key], b[key], words && line)
	}
}

// saysSoOnPages fails where the paper lacks a line that the report has.
func (m *team) saysSoOnPages(t *testing.T, reader string, report object) {
	t.Helper()
	page := m.SignIn(t, reader).Get(fmt.Sprintf("/players/%d/seasons/%d", m.Bryn.ID, m.Season.ID))
	text := strings.Join(strings.Fields(html.UnescapeString(page.Body)), " ")
	for _, part := range []string{"indicators", "skills", "goals"} {
		lines := map[string]bool{}
		for _, l := range report[part].([]any) {
			if line, is := l.(object)["other_readers"].(string); is {
				lines[line] = true
			}
		}
		if len(lines) == 0 {
			t.Errorf("%s: the report has no line beside its %s", reader, part)
		}
		for line := range lines {
			if !strings.Contains(text, line) {
				t.Errorf("%s: the paper does not say %q beside its %s", reader, line, part)
			}
		}
	}
}

func decodedObject(t *testing.T, body string) (all object) {
	t.Helper()
	if err := json.Unmarshal([]byte(body), &all); err != nil {
		t.Fatal(err)
	}
	return all
}
