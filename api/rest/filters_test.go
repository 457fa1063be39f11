package rest_test

import (
	"slices"
	"strings"
	"testing"

	"throughline/api/apitest"
)

// commonFilters are the filters that mean the same in every list.
var commonFilters = strings.Fields("season squad player from to indicator skill")

// filtersOfLists says of every list of the description which of the common filters it takes, and why it takes no
// others.
var filtersOfLists = []struct{ path, takes, why string }{
	{"/academies", "", "an academy belongs to the deployment, not to a season or a squad"},
	{"/access-tokens", "", "a token belongs to a user; it says nothing about play"},
	{"/appearances", "season squad player from to", "an appearance has no indicator and no skill"},
	{"/audit-entries", "player from to", "an entry has a day; it belongs to the academy and not to a squad"},
	{"/availability", "season squad player from to", "a spell has no indicator and no skill"},
	{"/carry-cells", "season squad player from to", "all cells serve one indicator"},
	{"/check-ins", "season squad player from to", "a check-in has the goal's indicator or skill: use goal"},
	{"/consent-purposes", "", "the program's own list"},
	{"/consents", "season squad player from to", "a consent has no indicator and no skill"},
	{"/data-requests", "", "a proof names no player any more, and there are few"},
	{"/goals", "season squad player from to indicator skill", ""},
	{"/guardians", "squad player", "a guardian has no day"},
	{"/head-contacts", "season squad player from to", "a head contact has no indicator and no skill"},
	{"/indicators", "", "an indicator belongs to the academy"},
	{"/involvements", "season squad player from to", "an involvement counts for many indicators"},
	{"/logs", "season squad player from to", "a log counts for many indicators"},
	{"/match-events", "season squad player from to", "an event has no indicator and no skill"},
	{"/match-totals", "season squad player from to", "totals count for many indicators"},
	{"/matches", "season squad player from to", "a match has no indicator and no skill"},
	{"/meetings", "season squad player from to", "a meeting has criteria for many indicators and skills"},
	{"/memberships", "season squad player from to", "a membership has no indicator and no skill"},
	{"/minutes-limits", "squad", "a limit is for a squad, or for all, at any time"},
	{"/observations", "season squad player from to indicator", "an observation is of an indicator"},
	{"/players", "season squad", "a player has no day; they are found by name or id"},
	{"/players/{id}/load", "", "the player is in the address, and date says by which day"},
	{"/players/{id}/seasons/{season}/trends", "indicator", "player and season are in the address; a trend is of the " +
		"whole season, over all the player's squads; a skill's trend stands in the report"},
	{"/rating-rounds", "season squad from to", "a round is about a squad and all skills"},
	{"/ratings", "season squad player from to skill", "a rating is of a skill"},
	{"/retention", "", "the few who left; each stands for one player"},
	{"/review-notes", "season squad player from to skill", "a note may name a skill, and no indicator"},
	{"/review-notes/{id}/answers", "", "all answers are to the note in the address"},
	{"/seasons", "", "a season is found by its name"},
	{"/self-ratings", "season squad player from to skill", "a rating is of a skill"},
	{"/skills", "", "a skill belongs to the academy"},
	{"/squads", "", "a squad is found by its name"},
	{"/stand-downs", "season squad player from to", "a stand-down has no indicator and no skill"},
	{"/team-totals", "season squad from to", "totals are of a team and count for many indicators"},
	{"/training-observations", "season squad player from to skill", "an observation at training may name a skill"},
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
		if i < 0 {
			t.Errorf("api/rest/filters_test.go: add {%q, %q, \"why no others\"} to filtersOfLists", path,
				strings.Join(takes, " "))
			continue
		}
		row := filtersOfLists[i]
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
