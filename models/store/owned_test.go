package store_test

import (
	"crypto/sha256"
	"fmt"
	"testing"
	"time"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

func TestEachRecordThatGoesWithAnotherHasAnEntryWithWhatItWas(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		log := models.Log{MatchID: w.match.ID, PlayerID: w.tove.ID, Depth: models.Core,
			Kinds: []models.Kind{models.KindPass}}
		first := models.Involvement{Clock: clock(1, 3, 0), Kind: models.KindPass, Note: "the first"}
		second := models.Involvement{Clock: clock(1, 4, 0), Kind: models.KindPass, Note: "the second"}
		check := models.CheckIn{GoalID: w.goal.ID, Date: "2025-11-20", Text: "On the way."}
		write(t, s, w.coach, func(tx *store.Tx) error {
			if err := tx.CreateLog(&log); err != nil {
				return err
			}
			first.LogID, second.LogID = log.ID, log.ID
			return all(func() error {
				return tx.CreateInvolvement(&first)
			}, func() error { return tx.CreateInvolvement(&second) },
				func() error { return tx.CreateCheckIn(&check) })
		})
		match := models.Match{SeasonID: w.season.ID, SquadID: &w.colts.ID, Date: "2025-11-08", Opponent: "Dunmere",
			Halves: 2, HalfMinutes: 35}
		event := models.MatchEvent{Clock: clock(1, 20, 0), Kind: models.EventTry, Ours: true}
		team := models.TeamTotals{Scope: models.WholeTeam, Counts: models.Counts{"carries": 80}}
		player := models.Player{Name: "Odd Moen"}
		member := models.Membership{SeasonID: w.season.ID, SquadID: w.colts.ID, From: w.season.Starts}
		spell := models.Spell{Status: models.Modified, From: "2025-11-01"}
		consent := models.Consent{Purpose: models.PurposeFilming, GivenBy: "Unn Moen", Relation: models.ByGuardian,
			On: "2025-09-01"}
		guardian := models.Guardian{Name: "Unn Moen", Relation: "mother"}
		review := models.RetentionReview{KeepUntil: "2030-01-01", Because: "Asked to be kept."}
		user := models.User{Login: "odd@harbour", Name: "Odd Moen", Role: models.RoleCoach}
		hash := sha256.Sum256([]byte("a link"))
		link := models.Link{Hash: hash[:]}
		other := sha256.Sum256([]byte("a token"))
		token := models.AccessToken{Label: "tablet", Hash: other[:], Scope: models.ScopeWrite,
			ExpiresAt: storetest.Now().Add(time.Hour)}
		write(t, s, models.Console(w.academy.ID), func(tx *store.Tx) error {
			if err := all(func() error { return tx.CreateMatch(&match) }, func() error { return tx.CreatePlayer(&player) },
				func() error { return tx.CreateUser(&user) }); err != nil {
				return err
			}
			event.MatchID, team.MatchID = match.ID, match.ID
			member.PlayerID, spell.PlayerID, consent.PlayerID = player.ID, player.ID, player.ID
			guardian.PlayerID, review.PlayerID = player.ID, player.ID
			link.UserID, token.UserID, consent.RecordedBy = user.ID, user.ID, w.manager.UserID
			return all(func() error { return tx.CreateMatchEvent(&event) }, func() error { return tx.CreateTeamTotals(&team) },
				func() error { return tx.CreateMembership(&member) }, func() error { return tx.CreateSpell(&spell) },
				func() error { return tx.CreateConsent(&consent) }, func() error { return tx.CreateGuardian(&guardian) },
				func() error { return tx.KeepRecord(&review) }, func() error { return tx.CreateLink(&link) },
				func() error { return tx.CreateAccessToken(&token) })
		})
		type gone struct {
			kind, says string
			id, player int64
			text       any
		}
		for _, of := range []struct {
			name   string
			remove func(tx *store.Tx) error
			with   []gone
		}{
			{"a log", func(tx *store.Tx) error { return tx.DeleteLog(log.ID, log.Version) }, []gone{
				{"involvement", "note", first.ID, w.tove.ID, "the first"}, {"involvement", "note", second.ID, w.tove.ID,
					"the second"},
			}},
			{"a goal", func(tx *store.Tx) error { return tx.DeleteGoal(w.goal.ID, w.goal.Version) }, []gone{
				{"check-in", "text", check.ID, w.bram.ID, check.Text},
			}},
			{"a match", func(tx *store.Tx) error { return tx.DeleteMatch(match.ID, match.Version) }, []gone{
				{"match event", "kind", event.ID, 0, "try"}, {"team total", "scope", team.ID, 0, string(team.Scope)},
			}},
			{"a player", func(tx *store.Tx) error { return tx.DeletePlayer(player.ID, player.Version) }, []gone{
				{"membership", "from", member.ID, player.ID, "2025-09-01"},
				{"spell of availability", "from", spell.ID, player.ID, "2025-11-01"},
				{"consent", "given_by", consent.ID, player.ID, "Unn Moen"},
				{"guardian", "relation", guardian.ID, player.ID, "mother"},
				{"retention review", "because", review.ID, player.ID, review.Because},
			}},
			{"a user", func(tx *store.Tx) error { return tx.DeleteUser(user.ID, user.Version) }, []gone{
				{"access token", "label", token.ID, 0, "tablet"},
				{"one-time link", "purpose", link.ID, 0, string(models.Invitation)},
			}},
		} {
			t.Run(of.name, func(t *testing.T) {
				write(t, s, w.manager, of.remove)
				for _, g := range of.with {
					found := entries(t, s, w.academy.ID, models.AuditFilter{Kind: g.kind, RecordID: g.id, Action: models.AuditDelete})
					if len(found) != 1 || found[0].PlayerID != g.player || found[0].UserID != w.manager.UserID {
						t.Errorf("%s %d has the entries %+v", g.kind, g.id, found)
						continue
					}
					if p := payload(t, found[0]); fmt.Sprint(p.Before[g.says]) != g.text || p.After != nil {
						t.Errorf("of the %s the trail says %+v; want that its %s was %v", g.kind, p, g.says, g.text)
					}
				}
			})
		}
	})
}
