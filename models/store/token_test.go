package store_test

import (
	"crypto/sha256"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// tokens makes so many access tokens of a user, and returns why not all could be made.
func tokens(t *testing.T, s *store.Store, who models.Who, many int) error {
	t.Helper()
	for n := range many {
		sum := sha256.Sum256(fmt.Appendf(nil, "%d %d %s", who.UserID, n, t.Name()))
		err := s.Write(t.Context(), who, func(tx *store.Tx) error {
			return tx.CreateAccessToken(&models.AccessToken{
				UserID: who.UserID, Label: "x", Scope: models.ScopeRead, ExpiresAt: tx.Now().AddDate(0, 1, 0), Hash: sum[:],
			})
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// held is how many access tokens a user has.
func held(t *testing.T, s *store.Store, who models.Who) (n int) {
	t.Helper()
	read(t, s, who, func(tx *store.Tx) error {
		all, err := tx.AccessTokens(who.UserID)
		n = len(all)
		return err
	})
	return n
}

func TestAccessTokensEndWithAResetAndWhereTheUserWantsItWithAChangeOfPassword(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		for _, who := range []models.Who{w.coach, w.selector} {
			if err := tokens(t, s, who, 3); err != nil {
				t.Fatal(err)
			}
		}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.SetPassword(w.coach.UserID, passwordHash) })
		if n := held(t, s, w.coach); n != 3 {
			t.Errorf("%d tokens after a change of password; want all three", n)
		}
		write(t, s, w.coach, (*store.Tx).EndAccessTokens)
		if n := held(t, s, w.coach); n != 0 {
			t.Errorf("%d tokens after the user has ended them", n)
		}
		hash := []byte("abcdefghabcdefghabcdefghabcdefgh")
		write(t, s, w.manager, func(tx *store.Tx) error {
			return tx.CreateLink(&models.Link{UserID: w.selector.UserID,
				Hash: hash})
		})
		if _, err := s.UseLink(t.Context(), hash, passwordHash, "192.0.2.1"); err != nil {
			t.Fatal(err)
		}
		if n := held(t, s, w.selector); n != 0 {
			t.Errorf("%d tokens after a reset; want none", n)
		}
		program := w.coach
		program.TokenID = 1
		refused(t, s, program, models.Forbidden, (*store.Tx).EndAccessTokens)
	})
}

func TestAUserHasOnlySoManyAccessTokens(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		err := tokens(t, s, w.coach, models.MostTokens+1)
		if models.CodeOf(err) != models.Conflict || !strings.Contains(err.Error(), "delete one") || held(t, s,
			w.coach) != models.MostTokens {
			t.Errorf("%v, and the user has %d; want a conflict that says to delete one", err, held(t, s, w.coach))
		}
		if err := tokens(t, s, w.selector, 1); err != nil {
			t.Errorf("another user: %v", err)
		}
	})
}

func TestAnAccessTokenChangesNoRole(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		program := w.manager
		program.TokenID = 1
		change := func(tx *store.Tx) error {
			u, err := tx.User(w.coach.UserID)
			if err != nil {
				return err
			}
			u.Role = models.RoleManager
			return tx.UpdateUser(&u)
		}
		refused(t, s, program, models.Forbidden, change)
		write(t, s, w.manager, change)
	})
}

func TestASecondFactorEndsByACodeThatWasNotUsed(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.OfferSecondFactor("JBSWY3DPEHPK3PXP") })
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.ConfirmSecondFactor(7) })
		refused(t, s, w.coach, models.Forbidden, func(tx *store.Tx) error { return tx.EndSecondFactor(7) })
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.EndSecondFactor(8) })
	})
}

// Anyone who takes over the serving role must not be able to empty the trail of a person who is still there.
func TestPayloadsOfTheTrailAreErasedOnlyOfAnErasedPlayer(t *testing.T) {
	s := storetest.Open(t, "postgres")
	w := newWorld(t, s)
	erase := func(player, user int64) (n int64) {
		write(t, s, w.manager, func(tx *store.Tx) error {
			return tx.Raw().Raw("SELECT erase_audit_payloads(?, ?)", player, user).Scan(&n).Error
		})
		return n
	}
	bram := w.bram
	write(t, s, w.manager, func(tx *store.Tx) error { bram.KnownAs = "Brammy"; return tx.UpdatePlayer(&bram) })
	if n := erase(bram.ID, 0) + erase(0, w.coach.UserID) + erase(bram.ID, w.manager.UserID); n != 0 {
		t.Errorf("%d payloads of people who are there were erased", n)
	}
	proof, err := s.ErasePlayer(t.Context(), w.manager, bram.ID, bram.Name, models.AskedByPlayer)
	if err != nil || proof.Payloads == 0 {
		t.Errorf("%d payloads of an erased player were erased, %v; want his", proof.Payloads, err)
	}
}

func TestTemporaryTablesHideNoTableOfOurs(t *testing.T) {
	s := storetest.Open(t, "postgres")
	w := newWorld(t, s)
	write(t, s, w.manager, func(tx *store.Tx) error {
		path := scan[string](t, tx.Raw(), "SHOW search_path")[0]
		if path != "public, pg_temp" {
			t.Errorf("the search path is %q", path)
		}
		_ = tx.Raw().Exec("CREATE TEMPORARY TABLE players (id bigint, academy_id bigint, deleted_at timestamptz)").Error
		if n := scan[int](t, tx.Raw(), "SELECT count(*) FROM players")[0]; n == 0 {
			t.Error("a temporary table is read instead of ours")
		}
		return nil
	})
}

func TestALoginThatMayNotWorkAsTheServingRoleIsNotServed(t *testing.T) {
	url := storetest.MigratedPostgres(t)
	stranger := storetest.As(t, url, "bystander")
	execute(t, storetest.As(t, url, "postgres"),
		"DO $$ BEGIN CREATE ROLE bystander LOGIN; EXCEPTION WHEN duplicate_object THEN NULL; END $$",
		"GRANT SELECT ON ALL TABLES IN SCHEMA public TO bystander")
	s, err := store.Open(t.Context(), stranger, store.Options{Serving: true})
	if err == nil {
		s.Close()
	}
	if err == nil || !strings.Contains(err.Error(), `GRANT throughline_serving TO "bystander"`) {
		t.Errorf("a login that is no member: %v; want it refused with the GRANT to run", err)
	}
	s, err = store.Open(t.Context(), url, store.Options{Serving: true})
	if err != nil {
		t.Fatalf("a member: %v", err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

func TestADatabaseFileThatOthersCanReadIsMadePrivateWithAWord(t *testing.T) {
	path := filepath.Join(t.TempDir(), "academy.db")
	if _, err := store.Migrate(t.Context(), "sqlite:"+path); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(path, 0o644); err != nil {
		t.Fatal(err)
	}
	var said strings.Builder
	for range 2 {
		s, err := store.Open(t.Context(), "sqlite:"+path, store.Options{Log: slog.New(slog.NewTextHandler(&said, nil))})
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the file has the rights %v, %v; want 0600", info.Mode().Perm(), err)
	}
	if strings.Count(said.String(), "could read the database file") != 1 {
		t.Errorf("said %q; want it said once", said.String())
	}
}
