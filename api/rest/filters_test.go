package rest_test

import (
	"slices"
	"strings"
	"testing"

	"throughline/api/apitest"
)

// commonFilters are the filters that mean the same in every list.
var commonFilters = strings.Fields("season squad player from to indicator skill")

// filtersOfLists says of lists that take other common filters than the members of their records allow which they take,
// and why no others. A list that takes just those has no line here.
var filtersOfLists = []struct{ path, takes, why string }{
	{"/appearances", "season squad player from to", "an appearance has no indicator and no skill"},
	{"/audit-entries", "player from to", "an entry has a day; it belongs to the academy and not to a squad"},
	{"/availability", "season squad player from to", "a spell has no indicator and no skill"},
	{"/carry-cells", "season squad player from to", "all cells serve one indicator"},
	{"/check-ins", "season squad player from to", "a check-in has the goal's indicator or skill: use goal"},
	{"/contact-actions", "season squad player from to skill", "an action is in a skill"},
	{"/data-requests", "", "a proof names no player any more, and there are few"},
	{"/involvements", "season squad player from to", "an involvement counts for many indicators"},
	{"/logs", "season squad player from to", "a log counts for many indicators"},
	{"/match-events", "season squad player from to", "an event has no indicator and no skill"},
	{"/match-totals", "season squad player from to", "totals count for many indicators"},
	{"/matches", "season squad player from to", "a match has no indicator and no skill"},
	{"/meetings", "season squad player from to", "a meeting has criteria for many indicators and skills"},
	{"/observations", "season squad player from to indicator", "an observation is of an indicator"},
	{"/player-merges", "", "the few there are; each is of two records"},
	{"/players", "season squad", "a player has no day; they are found by name or id"},
	{"/players/{id}/seasons/{season}/trends", "indicator", "player and season are in the address; a trend is of the " +
		"whole season, over all the player's squads; a skill's trend stands in the report"},
	{"/players/{id}/load", "", "the player is in the address, and date says by which day"},
	{"/retention", "", "the few who left; each stands for one player"},
	{"/stand-downs", "season squad player from to", "a stand-down has no indicator and no skill"},
	{"/team-totals", "season squad from to", "totals are of a team and count for many indicators"},
	{"/users", "", "a user is found by login or role"},
	{"/users/{id}/squads", "", "the user is in the address"},
}

func TestEveryListSaysWhichCommonFiltersItTakes(t *testing.T) {
	s := describedBy(t, apitest.OnSQLite(t).Stranger(t))
	listed := map[string]bool{}
	for _, d := range s.operations() {
		if id, _ := d.op["operationId"].(string); !strings.HasPrefix(id, "list-") {
			continue
		}
		path := strings.TrimPrefix(d.path, "/api/v1")
		listed[path] = true
		var takes []string
		params, _ := d.op["parameters"].([]any)
		for _, name := range commonFilters {
			if slices.ContainsFunc(params, func(p any) bool { return s.at(p, "name") == name && s.at(p, "in") == "query" }) {
				takes = append(takes, name)
			}
		}
		i := slices.IndexFunc(filtersOfLists, func(l struct{ path, takes, why string }) bool { return l.path == path })
		if i < 0 && slices.Equal(takes, s.filtersAllowed(d)) {
			continue
		}
		if i < 0 {
			t.Errorf("api/rest/filters_test.go: add {%q, %q, \"why no others\"} to filtersOfLists", path,
				strings.Join(takes, " "))
			continue
		}
		row := filtersOfLists[i]
		if slices.Equal(takes, s.filtersAllowed(d)) {
			t.Errorf("api/rest/filters_test.go: take %s out of filtersOfLists: its filters follow from its records", path)
		}
		if got := strings.Join(takes, " "); got != row.takes {
			t.Errorf("%s takes the filters %q; filtersOfLists says %q", path, got, row.takes)
		}
		if row.why == "" && len(takes) < len(commonFilters) {
			t.Errorf("api/rest/filters_test.go: say in filtersOfLists why %s takes only %v", path, takes)
		}
	}
	for _, row := range filtersOfLists {
		if !listed[row.path] {
			t.Errorf("filtersOfLists has %s, which is no list of the description", row.path)
		}
	}
}

// filtersAllowed are the common filters that the records of a list allow by their members.
func (s spec) filtersAllowed(d described) (all []string) {
	members, _ := s.at(d.op, "responses", "200", "content", "application/json", "schema", "properties", "items", "items",
		"properties").(object)
	for _, name := range commonFilters {
		for member := range members {
			allows := slices.Contains(allow[member], name) || member == "player_id" && name == "squad"
			if allows && !slices.Contains(all, name) {
				all = append(all, name)
			}
		}
	}
	return all
}
