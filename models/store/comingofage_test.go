package store_test

import (
	"slices"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// TestManagersAreAskedForAPlayersOwnConsentsAroundTheEighteenthBirthday follows a player born on 10 April 2008 through
// the days around 10 April 2026. Guardians' consent to filming is on file, and the academy requires that consent.
func TestManagersAreAskedForAPlayersOwnConsentsAroundTheEighteenthBirthday(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		write(t, s, w.manager, func(tx *store.Tx) error {
			bram, err := tx.Player(w.bram.ID)
			if err != nil {
				return err
			}
			bram.BornOn = ptr(models.Date("2008-04-10"))
			return tx.UpdatePlayer(&bram)
		})
		signed := false
		asked := func(who models.Who, on models.Date) (texts []string) {
			read(t, s, who, func(tx *store.Tx) error {
				items, err := tx.Items(models.ItemFilter{Kind: models.ItemComingOfAge}, on)
				for _, i := range items {
					texts = append(texts, i.Text)
					if *i.Due != "2026-04-10" || i.Since != "2026-03-10" {
						t.Errorf("on %s: due %s, since %s", on, *i.Due, i.Since)
					}
				}
				if err != nil || who.Role != models.RoleManager {
					return err
				}
				// On the list of work, what is not signed on the birthday is among the missing consents from then on.
				work, err := tx.Work(models.WorkBirthdays, &w.season, on)
				if err != nil {
					return err
				}
				if want := len(items) == 1 && on < "2026-04-10"; (len(work) == 1) != want {
					t.Errorf("on %s there are %d items, and the list of work has %d", on, len(items), len(work))
				}
				missing, err := tx.Work(models.WorkConsents, &w.season, on)
				has := slices.ContainsFunc(missing, func(m models.Work) bool {
					return m.Name == "Bram Oakes" && m.Said == "the player’s own: Filming"
				})
				if has != (on >= "2026-04-10" && !signed) {
					t.Errorf("on %s the missing consents are %v", on, missing)
				}
				return err
			})
			return texts
		}
		const before = "Bram Oakes turns 18 on 10 Apr 2026; the guardian’s consents and print end that day. " +
			"Ask the player to sign for: Filming"
		const after = "Bram Oakes turned 18 on 10 Apr 2026; the player’s own consents are missing: Filming"
		for _, c := range []struct {
			on   models.Date
			want []string
		}{
			{"2026-03-09", nil}, {"2026-03-10", []string{before}}, {"2026-04-09", []string{before}},
			{"2026-04-10", []string{after}}, {"2026-05-11", []string{after}}, {"2026-05-12", nil},
		} {
			if got := asked(w.manager, c.on); !slices.Equal(got, c.want) {
				t.Errorf("on %s a manager is asked for %q, want %q", c.on, got, c.want)
			}
		}
		for _, who := range []models.Who{w.coach, w.selector, w.bramHimself} {
			if got := asked(who, "2026-04-01"); got != nil {
				t.Errorf("a %s is asked for %q", who.Role, got)
			}
		}
		own := models.Consent{PlayerID: w.bram.ID, Purpose: models.PurposeFilming, GivenBy: "Bram Oakes",
			Relation: models.BySelf, On: "2026-04-09"}
		refused(t, s, w.manager, models.Invalid, func(tx *store.Tx) error { return tx.CreateConsent(&own) })
		own.On = "2026-04-10"
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateConsent(&own) })
		signed = true
		for _, on := range []models.Date{"2026-03-20", "2026-04-10", "2026-05-20"} {
			if got := asked(w.manager, on); got != nil {
				t.Errorf("the player has signed for the time from the birthday on, and on %s a manager is asked for %q", on, got)
			}
		}
	})
}
