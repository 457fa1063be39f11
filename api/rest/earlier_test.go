package rest_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

func TestTheSecondEditorGets412WithWhatChanged(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		manager := a.Program(t, "mabyn")
		w := &walk{t: t, a: a, ids: map[string]int64{}, served: map[string]bool{}}
		w.spec = describedBy(t, a.Stranger(t))
		for _, name := range []string{"seasons", "squads", "players", "memberships"} {
			w.create(manager, "/api/v1/"+name)
		}
		goal := w.create(manager, "/api/v1/goals")
		put := func(what string, status int, tag string, changed object) apitest.Answer {
			return w.expect(manager, what, status, http.MethodPut, goal.resource+"/{id}", goal.path, text(changed), "If-Match",
				tag)
		}
		put("the first editor", http.StatusOK, `"1"`, merged(goal.body, "why", "Feet first."))
		got := put("the second editor", http.StatusPreconditionFailed, `"1"`, merged(goal.body, "target", 0.9))
		var p struct {
			Type    string
			Changed struct {
				By     string
				At     string
				Fields []object
			}
		}
		if err := json.Unmarshal([]byte(got.Body), &p); err != nil {
			t.Fatal(err)
		}
		if p.Type != "/problems/stale" || p.Changed.By == "" || !strings.HasSuffix(p.Changed.At, "Z") ||
			len(p.Changed.Fields) != 1 {
			t.Fatalf("412 says %s; want who changed it, when, and one field", got.Body)
		}
		f := p.Changed.Fields[0]
		if f["field"] != "why" || f["yours"] != goal.body["why"] || f["now"] != "Feet first." ||
			f["sent"] != goal.body["why"] || f["by"] != p.Changed.By {
			t.Errorf("the field is %v; want the why as it was and as it is", f)
		}
		deleted := w.expect(manager, "a deletion of the first version", http.StatusPreconditionFailed, http.MethodDelete,
			goal.resource+"/{id}", goal.path, "", "If-Match", `"1"`)
		if !strings.Contains(deleted.Body, `"field":"why"`) || strings.Contains(deleted.Body, `"sent"`) {
			t.Errorf("a deletion of the first version is told %s", deleted.Body)
		}
		// A record without kept versions is compared with what was sent, and fields that only the service sets are left out.
		season := w.create(manager, "/api/v1/seasons")
		at := season.path
		renamed := merged(season.body, "name", "Second")
		w.expect(manager, "the first", http.StatusOK, http.MethodPut, season.resource+"/{id}", at,
			text(merged(season.body, "name", "First")), "If-Match", `"1"`)
		got = w.expect(manager, "the second", http.StatusPreconditionFailed, http.MethodPut, season.resource+"/{id}", at,
			text(renamed), "If-Match", `"1"`)
		if want := `"field":"name","yours":"Second","sent":"Second","now":"First"`; !strings.Contains(got.Body, want) {
			t.Errorf("of a season 412 says %s; want %s", got.Body, want)
		}
		if got := manager.Get(fmt.Sprintf("%s/earlier", goal.path)); !strings.Contains(got.Body, `"by":`) {
			t.Errorf("the past of the goal is %s; want who replaced it", got.Body)
		}
	})
}
