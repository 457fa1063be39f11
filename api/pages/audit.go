package pages

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/paper"
)

// auditPage is part of the audit trail, the last entry first.
type auditPage struct {
	Of      string // whose entries they are, if one player or person was asked for
	Entries paper.Table
	All     string // where all entries are, when only some were asked for
	Earlier string // where those before are; empty at the beginning
}

// auditAtOnce is how many entries a page shows.
const auditAtOnce = 50

// audit is GET /audit: the audit trail, about one player with ?player=, of one person with ?user=, and before an entry
// with ?before=.
func (p *Pages) audit(c *gin.Context, who models.Who) error {
	var page auditPage
	var filter models.AuditFilter
	asked := url.Values{}
	numbers := map[string]*int64{"player": &filter.PlayerID, "user": &filter.UserID, "before": new(int64)}
	for name, into := range numbers {
		text := c.Query(name)
		if text == "" {
			continue
		}
		n, err := strconv.ParseInt(text, 10, 64)
		if err != nil || n < 1 {
			return models.Errorf(models.NotFound, "no such page")
		}
		*into = n
		if name != "before" {
			asked.Set(name, text)
		}
	}
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		entries, err := tx.LatestAuditEntries(filter, *numbers["before"], auditAtOnce+1)
		if err != nil {
			return err
		}
		if len(entries) > auditAtOnce {
			entries = entries[:auditAtOnce]
			earlier := url.Values{"before": {strconv.FormatInt(entries[auditAtOnce-1].Number, 10)}}
			for name, values := range asked {
				earlier[name] = values
			}
			page.Earlier = "/audit?" + earlier.Encode()
		}
		names, err := auditNames(tx, entries)
		if err != nil {
			return err
		}
		switch {
		case filter.PlayerID != 0:
			page.Of = "about " + names.player(filter.PlayerID)
		case filter.UserID != 0:
			page.Of = "of " + names.user(filter.UserID, "")
		}
		page.Entries = auditTable(who, entries, names)
		return nil
	})
	if err != nil {
		return fmt.Errorf("audit page: %w", err)
	}
	if page.Of != "" || *numbers["before"] != 0 {
		page.All = "/audit"
	}
	return p.render(c, http.StatusOK, "audit", "Audit trail", page)
}

// namesInTrail are the people whom entries name by id.
type namesInTrail struct{ players, users map[int64]string }

func auditNames(tx *store.Tx, entries []models.AuditEntry) (*namesInTrail, error) {
	n := &namesInTrail{players: map[int64]string{}}
	users, err := tx.UserNames()
	if err != nil {
		return nil, err
	}
	n.users = users
	var ids []int64
	for _, e := range entries {
		if e.PlayerID != 0 {
			ids = append(ids, e.PlayerID)
		}
	}
	if len(ids) == 0 {
		return n, nil
	}
	players, err := tx.Players(models.PlayerFilter{IDs: ids})
	for _, p := range players {
		n.players[p.ID] = p.Name
	}
	return n, err
}

func (n *namesInTrail) player(id int64) string {
	if name := n.players[id]; name != "" {
		return name
	}
	return "player " + strconv.FormatInt(id, 10)
}

func (n *namesInTrail) user(id int64, role models.Role) string {
	switch {
	case id == 0:
		return "the console"
	case n.users[id] != "":
		return n.users[id]
	case role == models.RolePlayer:
		return "a player, user " + strconv.FormatInt(id, 10)
	}
	return "user " + strconv.FormatInt(id, 10)
}

func auditTable(reader models.Who, entries []models.AuditEntry, names *namesInTrail) paper.Table {
	t := paper.Table{
		Caption: "Latest first; times of " + reader.TimeZone().String(), Stack: true,
		Columns: []paper.Column{{Label: "Number"}, {Label: "When"}, {Label: "Who"}, {Label: "What"}, {Label: "About"},
			{Label: "Before and after"}},
	}
	for _, e := range entries {
		from, words := inTrail(e)
		who := paper.Cell{Text: names.user(e.UserID, e.Role), Under: from}
		if e.UserID != 0 {
			who.Link = "/audit?user=" + strconv.FormatInt(e.UserID, 10)
		}
		about := paper.Cell{}
		if e.PlayerID != 0 {
			about = paper.Cell{Text: names.player(e.PlayerID), Link: "/audit?player=" + strconv.FormatInt(e.PlayerID, 10)}
		}
		at := reader.Local(e.At)
		what := string(e.Action) + " " + e.Kind
		if e.RecordID != 0 && e.Action != models.AuditRead {
			what += " " + strconv.FormatInt(e.RecordID, 10)
		}
		t.Rows = append(t.Rows, []paper.Cell{
			{Text: strconv.FormatInt(e.Number, 10)}, {Text: dayOf(at),
				Under: at.Format("15:04:05 MST")}, who, {Text: what}, about, {Text: words},
		})
	}
	return t
}

// inTrail is where an entry came from, and how the record was and is, in a few words: of a change only what is
// another.
func inTrail(e models.AuditEntry) (from, words string) {
	if e.Payload == nil {
		return "", "erased with the person's data"
	}
	var p struct {
		From          string
		Before, After map[string]json.RawMessage
	}
	if err := json.Unmarshal([]byte(*e.Payload), &p); err != nil {
		return "", *e.Payload
	}
	var all []string
	for _, name := range membersOf(p.Before, p.After) {
		before, after := plain(p.Before[name]), plain(p.After[name])
		switch {
		case before == after:
			continue
		case p.Before == nil || p.After == nil:
			all = append(all, strings.ReplaceAll(name, "_", " ")+": "+before+after)
		default:
			all = append(all, fmt.Sprintf("%s: %s → %s", strings.ReplaceAll(name, "_", " "), orNothing(before),
				orNothing(after)))
		}
	}
	return p.From, strings.Join(all, "; ")
}

// membersOf are the names of the members of two versions of a record that tell a person something.
func membersOf(versions ...map[string]json.RawMessage) []string {
	var names []string
	for _, v := range versions {
		for name := range v {
			if !slices.Contains([]string{"id", "version", "created_at", "changed_at", "key"}, name) {
				names = append(names, name)
			}
		}
	}
	slices.Sort(names)
	return slices.Compact(names)
}

// longestSaid is how much of a value an overview needs; the service for programs has it whole.
const longestSaid = 160

func plain(value json.RawMessage) string {
	var text string
	var several []string
	if json.Unmarshal(value, &several) == nil {
		text = strings.Join(several, ", ")
	} else if json.Unmarshal(value, &text) != nil {
		text = string(value)
	}
	if letters := []rune(text); len(letters) > longestSaid {
		text = string(letters[:longestSaid]) + "…"
	}
	return text
}

func orNothing(text string) string {
	if text == "" {
		return "nothing"
	}
	return text
}
