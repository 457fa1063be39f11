package rest_test

import (
	"slices"
	"strings"
	"testing"

	"throughline/api/apitest"
)

// allow are the filters that a member of a record allows for its list.
var allow = map[string][]string{
	"player_id": {"player"}, "squad_id": {"squad"}, "season_id": {"season"}, "match_id": {"match"}, "goal_id": {"goal"},
	"log_id": {"log"}, "indicator": {"indicator"}, "skill": {"skill"},
	"date": {"season", "from", "to"}, "set_on": {"season", "from", "to"}, "on": {"season", "from", "to"},
	"from": {"from", "to"},
}

// A list has the filters that the members of its records allow, under the same names everywhere.
func TestEveryListHasTheFiltersThatItsRecordsAllow(t *testing.T) {
	// What is not filtered by a member that it has, and why.
	but := map[string]bool{
		"/api/v1/data-requests player": true, // a proof is about no one any more
		"/api/v1/retention player":     true, // the few who left
		"/api/v1/users player":         true, // a user is found by the login
		"/api/v1/audit-entries squad":  true, // the trail is the academy's
		"/api/v1/player-merges player": true, // the few there are; each is of two records
	}
	s := describedBy(t, apitest.OnSQLite(t).Stranger(t))
	lists := 0
	for _, d := range s.operations() {
		params, _ := d.op["parameters"].([]any)
		has := func(name string) bool {
			return slices.ContainsFunc(params, func(p any) bool { return s.at(p, "name") == name && s.at(p, "in") == "query" })
		}
		if !has("cursor") || strings.Contains(d.path, "{") {
			continue
		}
		lists++
		members, _ := s.at(d.op, "responses", "200", "content", "application/json", "schema", "properties", "items", "items",
			"properties").(object)
		for member := range members {
			for _, name := range allow[member] {
				if !has(name) && !but[d.path+" "+name] {
					t.Errorf("%v has no filter %s, although its records have %s: embed the filter that has it "+
						"(api/rest/narrow.go) in what its list takes", d, name, member)
				}
			}
		}
		if has("player") && members["player_id"] != nil && !has("squad") && !but[d.path+" squad"] {
			t.Errorf("%v can be narrowed to a player, and not to the players of a squad", d)
		}
	}
	if lists < 30 {
		t.Errorf("%d lists; want those of all resources", lists)
	}
}
