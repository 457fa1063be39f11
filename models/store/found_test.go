package store_test

import (
	"testing"

	"github.com/alexedwards/argon2id"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

func TestTheFirstAcademyIsMadeWithItsManagerAndOnlyIfThereIsNone(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		hash := hashOfAPassword(t)
		u := models.User{Login: "mabyn", Name: "Mabyn Orrell", PasswordHash: hash}
		who, err := s.Found(t.Context(), "Eastmoor", &u, "192.0.2.1")
		if err != nil || who.Role != models.RoleManager || who.UserID != u.ID || who.AcademyID == models.Deployment {
			t.Fatalf("%+v, %v", who, err)
		}
		other := models.User{Login: "other", Name: "Other", PasswordHash: hash}
		if _, err := s.Found(t.Context(), "Westmoor", &other, ""); models.CodeOf(err) != models.Conflict {
			t.Errorf("a second one: %v; want a conflict", err)
		}
		for academy, kind := range map[int64]string{models.Deployment: "academy", who.AcademyID: "user"} {
			trail := entriesOf(t, s, academy)
			if len(trail) != 1 || trail[0].Kind != kind {
				t.Errorf("the audit trail of academy %d: %+v; want that of the %s", academy, trail, kind)
			}
		}
	})
}

func entriesOf(t *testing.T, s *store.Store, academy int64) (all []models.AuditEntry) {
	t.Helper()
	err := s.Read(t.Context(), models.Console(academy), func(tx *store.Tx) (err error) {
		if all, err = tx.AuditEntries(models.AuditFilter{}); err == nil {
			_, err = tx.VerifyTrail(nil)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func hashOfAPassword(t *testing.T) string {
	t.Helper()
	hash, err := argon2id.CreateHash("tawny-owl-29-fence", argon2id.DefaultParams)
	if err != nil {
		t.Fatal(err)
	}
	return hash
}
