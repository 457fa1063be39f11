package api_test

import (
	"net/http"
	"testing"

	"throughline/models"
	"throughline/models/store"
)

// packSteps are how a pack of reports is refused.
func packSteps() []forbidden {
	of := func(s *stage, squad models.Squad) given { return given{"squad": squad.ID, "season": s.Season.ID} }
	step := func(name, who, body, form, reason string, rest, page int, setup func(*testing.T, *stage) given) forbidden {
		return forbidden{name: name, who: who, setup: setup, reason: reason,
			rest: restStep{method: http.MethodPost, path: "/squads/{squad}/seasons/{season}/report-packs", body: body,
				want: rest},
			page:      pageStep{path: "/squads/{squad}/seasons/{season}/pack", form: form, want: page},
			unchanged: []string{"/audit-entries?kind=report+pack"}}
	}
	const body, form = `{"edition":"staff","pdf":false}`, "edition=staff"
	under18 := func(_ *testing.T, s *stage) given { return of(s, s.Under18) }
	return []forbidden{
		step("a pack needs every player of the squad", "ansel", body, form, "you do not see all of them",
			http.StatusForbidden, http.StatusForbidden, func(_ *testing.T, s *stage) given { return of(s, s.Under16) }),
		step("a player has no pack", "bryn", body, form, "a player may not have packs", http.StatusForbidden,
			http.StatusForbidden, under18),
		step("a guardian’s print is made one at a time", "mabyn", `{"edition":"guardian","pdf":false}`, "edition=guardian",
			"is not an edition for a pack", http.StatusUnprocessableEntity, http.StatusUnprocessableEntity, under18),
		step("a server without a Chromium prints nothing", "mabyn", `{"edition":"staff","pdf":true}`,
			"edition=staff&pdf=yes", "it has no Chromium", http.StatusUnprocessableEntity, http.StatusUnprocessableEntity,
			under18),
		step("a second pack of the same squad", "sorrel", body, form, "you already have a pack of this squad",
			http.StatusConflict, http.StatusUnprocessableEntity, func(t *testing.T, s *stage) given {
				s.as(t, "sorrel", func(tx *store.Tx) error {
					return tx.CreateReportPack(&models.ReportPack{SquadID: s.Under18.ID, SeasonID: s.Season.ID, Edition: "staff"})
				})
				return of(s, s.Under18)
			}),
	}
}
