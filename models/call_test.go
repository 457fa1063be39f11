package models

import (
	"fmt"
	"strings"
	"testing"
)

// The lowest grades of tackle, scrum and lineout describe danger to the player or to another one. Averaged with
// better grades, they would be described by the words of a safe grade.
func TestAGradeThatCallsForActionIsNeverAveragedIntoAReassuringWord(t *testing.T) {
	given := [][]int{{1, 2}, {1, 4}, {1, 5}, {2, 4}, {2, 5}, {1, 1}, {2, 2}, {5, 5, 5, 5, 5, 1}}
	for _, code := range []string{"tackle", "scrum", "lineout"} {
		s, ok := SkillOf(code)
		if !ok || s.ActUpTo < 1 {
			t.Fatalf("%s: no grade of it calls for action", code)
		}
		for _, grades := range given {
			calling := false
			for _, g := range grades {
				calling = calling || g <= s.ActUpTo
			}
			looks, next := s.InWords(grades...)
			if (looks == "") != calling || (next == "") != calling {
				t.Errorf("%s %v: looks %q, next %q; want words only where no grade calls for action", code, grades, looks,
					next)
			}
		}
	}
}

// Where no grade calls for action, the words are those of the grade nearest to the mean; a half goes up.
func TestTheMeanOfGradesIsDescribedByTheNearestGrade(t *testing.T) {
	for _, test := range []struct {
		code   string
		grades []int
		want   int
	}{
		{"scrum", []int{2, 4}, 3}, {"scrum", []int{2, 5}, 4}, {"scrum", []int{4, 5}, 5}, {"tackle", []int{4, 5}, 5},
		{"support_lines", []int{1, 2}, 2}, {"support_lines", []int{1, 4}, 3}, {"support_lines", []int{1, 5}, 3},
		{"support_lines", []int{2, 2, 3}, 2}, {"maul", []int{1}, 1},
	} {
		t.Run(fmt.Sprint(test.code, test.grades), func(t *testing.T) {
			s, _ := SkillOf(test.code)
			looks, next := s.InWords(test.grades...)
			above := ""
			if test.want < 5 {
				above = s.Grades[test.want]
			}
			if looks != s.Grades[test.want-1] || next != above {
				t.Errorf("looks %q, next %q; want those of grade %d", looks, next, test.want)
			}
		})
	}
}

func TestAnAcademysOwnSkillSaysWhichGradesCallForAction(t *testing.T) {
	s := Skill{Code: "falling", Label: "Falling", Grades: [5]string{"a", "b", "c", "d", "e"}, ActUpTo: 2}
	if err := s.Validate(); err != nil {
		t.Error(err)
	}
	if looks, _ := s.InWords(2, 5); looks != "" {
		t.Errorf("looks %q, want nothing", looks)
	}
	s.ActUpTo = 5
	if err := s.Validate(); err == nil || !strings.Contains(err.Error(), "act_up_to") {
		t.Errorf("every grade calls for action: %v", err)
	}
}
