package models

import (
	"crypto/sha256"
	"encoding/hex"
	"strings"
	"testing"
	"time"
)

// trail is three sealed entries.
func trail(t *testing.T) []*AuditEntry {
	t.Helper()
	var all []*AuditEntry
	var previous *AuditEntry
	for i, said := range []string{`{"salt":"a"}`, `{"salt":"b","after":{"name":"Bram Oakes"}}`, `{"salt":"c"}`} {
		e := &AuditEntry{AcademyID: 4, At: time.Date(2025, 11, 3, 18, 4, 5, 123456000, time.UTC), UserID: 9, Role: RoleCoach,
			Action: AuditChange,
			Kind:   "rating", RecordID: int64(70 + i), PlayerID: 12, Payload: &said}
		if err := e.Seal(previous); err != nil {
			t.Fatal(err)
		}
		all, previous = append(all, e), e
	}
	return all
}

// verify checks a chain from its beginning.
func verify(all []*AuditEntry) error {
	var previous *AuditEntry
	for _, e := range all {
		if err := e.Follows(previous); err != nil {
			return err
		}
		previous = e
	}
	return nil
}

// The hash is put together again here, byte by byte, from the formula in Seal's comment, so that another program can
// check a trail. The two SHA-256 values of the empty text and of "abc" are those of FIPS 180-4's examples
// (csrc.nist.gov, SHA256.pdf).
func TestAnEntrysHashIsTheOneOfTheFormula(t *testing.T) {
	for text, want := range map[string]string{
		"":    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
		"abc": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
	} {
		if sum := sha256.Sum256([]byte(text)); hex.EncodeToString(sum[:]) != want {
			t.Fatalf("SHA-256 of %q is %x", text, sum)
		}
	}
	all := trail(t)
	before := make([]byte, 32)
	for i, e := range all {
		payload := sha256.Sum256([]byte(*e.Payload))
		text := `[4,` + string(rune('1'+i)) + `,"2025-11-03T18:04:05.123456Z",9,0,"coach","change","rating",` +
			[]string{"70", "71", "72"}[i] + `,12,"` +
			hex.EncodeToString(payload[:]) + `"]`
		want := sha256.Sum256(append(before, text...))
		if hex.EncodeToString(e.Hash) != hex.EncodeToString(want[:]) {
			t.Errorf("entry %d has the hash %x, want %x", e.Number, e.Hash, want)
		}
		before = want[:]
	}
}

func TestATrailVerifiesAlsoWithoutErasedPayloads(t *testing.T) {
	all := trail(t)
	all[1].Payload = nil
	if err := verify(all); err != nil {
		t.Error(err)
	}
}

func TestNothingOfATrailCanBeChanged(t *testing.T) {
	for what, change := range map[string]func([]*AuditEntry) []*AuditEntry{
		"a payload": func(all []*AuditEntry) []*AuditEntry {
			said := strings.Replace(*all[1].Payload, "Bram", "Tove", 1)
			all[1].Payload = &said
			return all
		},
		"a payload with its hash": func(all []*AuditEntry) []*AuditEntry {
			said := `{}`
			sum := sha256.Sum256([]byte(said))
			all[1].Payload, all[1].PayloadHash = &said, sum[:]
			return all
		},
		"an entry sealed anew": func(all []*AuditEntry) []*AuditEntry {
			all[1].UserID = 3
			_ = all[1].Seal(all[0])
			return all
		},
		"who it was": func(all []*AuditEntry) []*AuditEntry { all[0].UserID = 3; return all },
		"when it was": func(all []*AuditEntry) []*AuditEntry {
			all[2].At = all[2].At.Add(time.Microsecond)
			return all
		},
		"whom it is about":           func(all []*AuditEntry) []*AuditEntry { all[2].PlayerID = 13; return all },
		"what was done":              func(all []*AuditEntry) []*AuditEntry { all[2].Action = AuditDelete; return all },
		"an entry that is taken out": func(all []*AuditEntry) []*AuditEntry { return []*AuditEntry{all[0], all[2]} },
		"a beginning that is cut":    func(all []*AuditEntry) []*AuditEntry { return all[1:] },
		"the order":                  func(all []*AuditEntry) []*AuditEntry { return []*AuditEntry{all[1], all[0], all[2]} },
		"the academy":                func(all []*AuditEntry) []*AuditEntry { all[2].AcademyID = 5; return all },
	} {
		if err := verify(change(trail(t))); err == nil {
			t.Errorf("%s: the trail still verifies", what)
		}
	}
}

func TestAgeIsThatOfTheDay(t *testing.T) {
	for _, c := range []struct {
		born, day Date
		years     int
		minor     bool
	}{
		{"2008-10-03", "2026-10-02", 17, true},
		{"2008-10-03", "2026-10-03", 18, false}, // attained at the beginning of the day
		{"2008-02-29", "2026-02-28", 17, true},
		{"2008-02-29", "2026-03-01", 18, false}, // no 29 February in that year: on the day after the 28th
		{"2008-02-29", "2028-02-29", 20, false},
		{"2008-10-03", "2008-10-03", 0, true},
	} {
		p := Player{BornOn: &c.born}
		if years, known := p.AgeOn(c.day); !known || years != c.years || p.MinorOn(c.day) != c.minor {
			t.Errorf("born on %s, on %s: %d years, known %v, a minor %v; want %d and %v", c.born, c.day, years, known,
				p.MinorOn(c.day), c.years, c.minor)
		}
	}
	if _, known := (Player{}).AgeOn("2025-01-01"); known || !(Player{}).MinorOn("2025-01-01") {
		t.Error("one without a day of birth is to be taken for a minor of unknown age")
	}
}
