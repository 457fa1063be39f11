package models

import (
	"slices"
	"testing"
)

// reached is what the keys of a kind can fill: each option of each choice, and each measure.
func reached(t *testing.T, k KindKeys) map[string]map[string]bool {
	t.Helper()
	all := map[string]map[string]bool{}
	fill := func(code, value string) {
		if all[code] == nil {
			all[code] = map[string]bool{}
		}
		all[code][value] = true
	}
	for _, s := range slices.Concat(k.Steps, k.Carried) {
		if s.Measure != "" {
			fill(s.Measure, "")
			continue
		}
		keys := map[string]bool{}
		for r, row := range s.Rows {
			for c, column := range s.Columns {
				key := StepKey(r, c)
				if keys[key] {
					t.Errorf("%s: %v has the key %s twice", k.Kind, s.Details(), key)
				}
				keys[key] = true
				for n, value := range slices.Concat(row, column) {
					fill(s.Details()[n], value)
				}
			}
		}
	}
	return all
}

func TestEveryDetailOfEveryKindIsReachedByAKey(t *testing.T) {
	for _, k := range LogKeys().Kinds {
		got := reached(t, k)
		for _, d := range DetailsOf(k.Kind) {
			if d.Measure != nil && got[d.Code] == nil {
				t.Errorf("%s: no key fills the measure %s", k.Kind, d.Code)
			}
			for _, o := range d.Options {
				if !got[d.Code][o.Code] {
					t.Errorf("%s: no key fills %s %s", k.Kind, d.Code, o.Code)
				}
			}
		}
		for code := range got {
			if _, there := DetailOf(k.Kind, code); !there {
				t.Errorf("%s: the keys fill %s, which the kind does not have", k.Kind, code)
			}
		}
	}
}

func TestNoTwoKeysOfTheLogCollide(t *testing.T) {
	table := LogKeys()
	open := map[string]string{}
	take := func(key, name string) {
		if other, taken := open[key]; taken {
			t.Errorf("%q is the key of %s and of %s", key, other, name)
		}
		open[key] = name
	}
	for _, k := range table.Kinds {
		take(k.Key, string(k.Kind))
	}
	for _, c := range table.Commands {
		take(c.Key, c.Code)
	}
	if len(table.Kinds) != len(kinds) {
		t.Errorf("%d kinds have keys; want %d", len(table.Kinds), len(kinds))
	}
	shifted := map[string]bool{}
	for _, m := range table.Marks {
		if shifted[m.Key] {
			t.Errorf("Shift+%s marks two things", m.Key)
		}
		shifted[m.Key] = true
	}
	if want := len(results) + len(dangers) + 3; len(table.Marks) != want {
		t.Errorf("%d marks; want %d", len(table.Marks), want)
	}
	onBoard := map[string]bool{}
	for _, row := range KeyRows {
		for _, key := range row {
			onBoard[string(key)] = true
		}
	}
	for _, f := range table.Filling {
		if onBoard[f.Key] {
			t.Errorf("%s is a key of every board and of %s", f.Key, f.Name)
		}
	}
}

// A coach logs while the match runs: few keys, whatever happened.
func TestCoreTakesFourKeysAndAFullCarryTwelve(t *testing.T) {
	for _, k := range LogKeys().Kinds {
		core := 1 // the kind's own key
		for _, s := range k.Steps {
			if s.Depth == Core {
				core++
			}
		}
		if core++; core > 4 { // and Enter, where the log is full
			t.Errorf("%s takes %d keys at core depth; want 4 at the most", k.Kind, core)
		}
		if full := 1 + len(k.Steps); k.Kind == KindCarry && full > 12 {
			t.Errorf("a full carry takes %d keys; want 12 at the most", full)
		}
		for i, s := range k.Steps {
			if i > 0 && s.Depth == Core && k.Steps[i-1].Depth != Core {
				t.Errorf("%s asks %v after details of full depth", k.Kind, s.Details())
			}
		}
	}
}

func TestASourceFollowsFromEveryBeginningOfAPossession(t *testing.T) {
	start, _ := DetailOf(KindCarry, "possession_start")
	source, _ := DetailOf(KindCarry, "source")
	for _, o := range start.Options {
		if _, there := source.Option(LogKeys().SourceOf[o.Code]); !there {
			t.Errorf("a possession from a %s begins with the source %q", o.Code, LogKeys().SourceOf[o.Code])
		}
	}
}

// Not recorded is never the same as no: what contradicts every value of a detail can be chosen without it.
func TestABoardThatWouldContradictItselfHasAWayToLeaveTheDetailOut(t *testing.T) {
	for _, k := range LogKeys().Kinds {
		for _, s := range k.Steps {
			for _, down := range s.Down {
				for _, across := range s.Across {
					one, _ := DetailOf(k.Kind, down)
					other, _ := DetailOf(k.Kind, across)
					blank := slices.ContainsFunc(s.Columns, func(v []string) bool { return slices.Contains(v, "") })
					if excluded(k.Kind, &one, &other) && !blank {
						t.Errorf("%s: %v cannot be filled without %s", k.Kind, s.Details(), across)
					}
				}
			}
		}
	}
}
