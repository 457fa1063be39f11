package api_test

import (
	"encoding/json"
	"fmt"
	"net/url"
	"slices"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// narrowedBy says which members of a record a filter looks at, the first that is there.
var narrowedBy = map[string][]string{
	"player": {"player_id"}, "squad": {"squad_id"}, "season": {"season_id"}, "match": {"match_id"}, "goal": {"goal_id"},
	"log":       {"log_id"},
	"indicator": {"indicator"}, "skill": {"skill"}, "from": {"date", "set_on", "on", "from"},
	"to": {"date", "set_on", "on", "from"},
}

// TestAFilterFindsWhatItsNameSaysInEveryList narrows every list, which has records of every place, by each value that
// a record has, and compares with what the records themselves say.
func TestAFilterFindsWhatItsNameSaysInEveryList(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		c := newCast(t, apitest.Serve(t, s))
		manager := c.person("manager")
		items := func(path string) []object {
			t.Helper()
			got := c.ask(manager, "GET", path, nil)
			var page struct{ Items []object }
			if err := json.Unmarshal([]byte(got.Body), &page); err != nil || got.Status != 200 {
				t.Fatalf("%s: %d %s", path, got.Status, got.Body)
			}
			return page.Items
		}
		tried := 0
		for _, o := range c.spec.operations() {
			params := c.spec.parameters(o, "query")
			if o.method != "GET" || params["cursor"] == nil || strings.Contains(o.path, "{") ||
				strings.HasSuffix(o.path, "/academies") {
				continue
			}
			all := items(o.path + "?limit=500")
			for name := range params {
				if narrowedBy[name] == nil {
					continue
				}
				at := slices.IndexFunc(narrowedBy[name], func(m string) bool { return len(all) > 0 && all[0][m] != nil })
				if at < 0 {
					narrow := map[string]string{"from": "2025-01-01", "to": "2025-12-31", "indicator": "carries",
						"skill": "tackle"}[name]
					if narrow == "" {
						narrow = "1"
					}
					if found := items(o.path + "?limit=500&" + name + "=" + narrow); len(found) > len(all) {
						t.Errorf("%s narrowed by %s has more than the whole", o.path, name)
					}
					continue
				}
				member := narrowedBy[name][at]
				value := all[len(all)/2][member]
				if value == nil {
					continue
				}
				tried++
				var want []object
				for _, item := range all {
					text, _ := item[member].(string)
					day, _ := value.(string)
					if name == "from" && text >= day || name == "to" && text <= day || name != "from" && name != "to" &&
						item[member] == value {
						want = append(want, item)
					}
				}
				asked := fmt.Sprint(value)
				if n, ok := value.(float64); ok {
					asked = fmt.Sprint(int64(n))
				}
				found := items(o.path + "?limit=500&" + name + "=" + url.QueryEscape(asked))
				if fmt.Sprint(found) != fmt.Sprint(want) {
					t.Errorf("%s?%s=%s: %d of %d items; want %d", o.path, name, asked, len(found), len(all), len(want))
				}
			}
		}
		if tried < 50 {
			t.Errorf("%d filters were compared; want those of every list", tried)
		}
	})
}
