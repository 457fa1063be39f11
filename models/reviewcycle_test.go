package models

import (
	"strings"
	"testing"
	"time"
)

// Each day is counted by hand: six weeks are 42 days, and the first day that counts is the one after the start.
func TestTheClockOfAReviewCountsTheDaysOnWhichThePlayerIsThere(t *testing.T) {
	end := func(d Date) *Date { return &d }
	in := func(from Date, until *Date) Membership { return Membership{SeasonID: 1, From: from, Until: until} }
	all := []Membership{in("2026-08-15", nil)}
	review := func(id int64, day Date, shared bool) Review {
		return Review{Record: Record{ID: id}, Date: day, Shared: shared}
	}
	one := []Review{review(1, "2026-09-01", true)}
	away := func(from Date, until *Date) Spell { return Spell{Status: Unavailable, From: from, Until: until} }
	entered := func(on string) Membership {
		m := in("2026-08-15", nil)
		m.CreatedAt, _ = time.Parse(time.DateOnly, on)
		return m
	}
	for _, c := range []struct {
		rule   string
		r      Reviewable
		today  Date
		status ReviewStatus
		due    Date // empty: none
		over   int
		words  string
	}{
		{"six weeks after a review", Reviewable{Reviews: one}, "2026-10-01", ReviewNotDue, "2026-10-13", 0,
			"Next due on 13 Oct 2026. Last review on 1 Sep 2026."},
		{"eight days before", Reviewable{Reviews: one}, "2026-10-05", ReviewNotDue, "2026-10-13", 0, "Next due"},
		{"soon within a week", Reviewable{Reviews: one}, "2026-10-06", ReviewDueSoon, "2026-10-13", 0, "Due on 13 Oct"},
		{"on the day", Reviewable{Reviews: one}, "2026-10-13", ReviewDue, "2026-10-13", 0, "Due today"},
		{"the day after", Reviewable{Reviews: one}, "2026-10-14", ReviewOverdue, "2026-10-13", 1, "Overdue by 1 day:"},
		{"a squad's own cycle", Reviewable{Squad: Squad{ReviewWeeks: 2}, Reviews: one}, "2026-09-15", ReviewDue,
			"2026-09-15", 0, "Due today"},
		{"the last shared review counts", Reviewable{Reviews: append([]Review{review(2, "2026-09-20", true),
			review(3, "2026-10-12", false)}, one...)}, "2026-10-13", ReviewNotDue, "2026-11-01", 0, "20 Sep"},
		{"never reviewed, from the membership", Reviewable{}, "2026-09-26", ReviewDue, "2026-09-26", 0,
			"Never reviewed in this squad; counted from 15 Aug 2026."},
		{"reviewed before they joined again", Reviewable{Memberships: []Membership{in("2026-08-15", end("2026-09-10")),
			in("2026-10-01", nil)}, Reviews: one}, "2026-11-12", ReviewDue, "2026-11-12", 0, "Last review on 1 Sep"},
		{"a membership that goes on is one", Reviewable{Memberships: []Membership{in("2026-08-15", end("2026-09-09")),
			in("2026-09-10", nil)}}, "2026-09-26", ReviewDue, "2026-09-26", 0, "15 Aug"},

		{"a spell of ten days", Reviewable{Reviews: one, Spells: []Spell{away("2026-09-11", end("2026-09-20"))}},
			"2026-10-14", ReviewNotDue, "2026-10-23", 0, ""},
		{"training with limits stops nothing", Reviewable{Reviews: one,
			Spells: []Spell{{Status: Modified, From: "2026-09-11"}}}, "2026-10-13", ReviewDue, "2026-10-13", 0, ""},
		{"a spell from before the review", Reviewable{Reviews: one, Spells: []Spell{away("2026-08-20", end("2026-09-05"))}},
			"2026-10-17", ReviewDue, "2026-10-17", 0, ""}, // four days, 2 to 5 September, do not count
		{"a spell that ended on the day of the review", Reviewable{Reviews: one,
			Spells: []Spell{away("2026-08-20", end("2026-09-01"))}}, "2026-10-13", ReviewDue, "2026-10-13", 0, ""},
		{"a spell on what was the day", Reviewable{Reviews: one, Spells: []Spell{away("2026-10-13", end("2026-10-13"))}},
			"2026-10-14", ReviewDue, "2026-10-14", 0, ""},
		{"a spell after the day makes nothing later", Reviewable{Reviews: one,
			Spells: []Spell{away("2026-10-14", end("2026-10-20"))}}, "2026-10-21", ReviewOverdue, "2026-10-13", 1, ""},
		{"a stand-down counts again from the day it is lifted", Reviewable{Reviews: one,
			StandDowns: []StandDown{{From: "2026-09-11", LiftedOn: end("2026-09-21")}}}, "2026-10-23", ReviewDue,
			"2026-10-23", 0, ""},
		{"lifted on its own day", Reviewable{Reviews: one, StandDowns: []StandDown{{From: "2026-09-11",
			LiftedOn: end("2026-09-11")}}}, "2026-10-13", ReviewDue, "2026-10-13", 0, ""},
		{"a spell and a stand-down that overlap count once", Reviewable{Reviews: one,
			Spells:     []Spell{away("2026-09-11", end("2026-09-20"))},
			StandDowns: []StandDown{{From: "2026-09-16", LiftedOn: end("2026-09-26")}}}, "2026-10-28", ReviewDue,
			"2026-10-28", 0, ""}, // 11 to 25 September: 15 days
		{"two spells", Reviewable{Reviews: one, Spells: []Spell{away("2026-10-10", end("2026-10-19")),
			away("2026-09-11", end("2026-09-15"))}}, "2026-10-28", ReviewDue, "2026-10-28", 0, ""},

		{"paused, with an end", Reviewable{Reviews: one, Spells: []Spell{away("2026-10-01", end("2026-10-10"))}},
			"2026-10-10", ReviewPaused, "2026-10-23", 0,
			"Paused: not available since 1 Oct 2026, until 10 Oct 2026. Next due on 23 Oct 2026."},
		{"paused without an end", Reviewable{Reviews: one, Spells: []Spell{away("2026-10-01", nil)}}, "2027-02-01",
			ReviewPaused, "", 0, "Paused: not available since 1 Oct 2026. Last review"},
		{"paused by a stand-down", Reviewable{Reviews: one, StandDowns: []StandDown{{From: "2026-10-01"}}}, "2026-12-24",
			ReviewPaused, "", 0, "Paused: stood down since 1 Oct 2026."},
		{"overdue before the pause", Reviewable{Reviews: one, StandDowns: []StandDown{{From: "2026-10-17"}}},
			"2026-11-30", ReviewPaused, "2026-10-13", 3, "It was overdue by 3 days then."},
		{"a pause to come without an end", Reviewable{Reviews: one, Spells: []Spell{away("2026-10-12", nil)}},
			"2026-10-11", ReviewNotDue, "", 0, "Not due yet."},
		{"a pause to come moves the day", Reviewable{Reviews: one, Spells: []Spell{away("2026-10-12", end("2026-10-14"))}},
			"2026-10-11", ReviewDueSoon, "2026-10-16", 0, ""},

		{"entered here after the player had joined", Reviewable{Memberships: []Membership{entered("2026-12-01")}},
			"2026-12-02", ReviewNotDue, "2027-01-12", 0, "counted from 1 Dec 2026, when the player was entered here."},
		{"entered before the player joins", Reviewable{Memberships: []Membership{entered("2026-07-20")}},
			"2026-09-26", ReviewDue, "2026-09-26", 0, "counted from 15 Aug 2026."},
		{"entered after the season stands as it was", Reviewable{Memberships: []Membership{entered("2027-07-20")}},
			"2026-09-27", ReviewOverdue, "2026-09-26", 1, "counted from 15 Aug 2026."},
		{"a review counts, whenever the membership was entered", Reviewable{Reviews: one,
			Memberships: []Membership{entered("2026-12-01")}}, "2026-10-14", ReviewOverdue, "2026-10-13", 1, "Last review"},

		{"leaving before the day", Reviewable{Memberships: []Membership{in("2026-08-15", end("2026-10-12"))},
			Reviews: one}, "2026-10-06", ReviewLeaving, "2026-10-13", 0, "Leaves the squad on 12 Oct 2026"},
		{"leaving on the day", Reviewable{Memberships: []Membership{in("2026-08-15", end("2026-10-13"))},
			Reviews: one}, "2026-10-13", ReviewDue, "2026-10-13", 0, ""},
		{"overdue on the last day", Reviewable{Memberships: []Membership{in("2026-08-15", end("2026-10-20"))},
			Reviews: one}, "2026-10-20", ReviewOverdue, "2026-10-13", 7, ""},
	} {
		if c.r.Memberships == nil {
			c.r.Memberships = all
		}
		c.r.Ends = map[int64]Date{1: "2027-06-30"}
		got, member := c.r.On(c.today)
		due := Date("")
		if got.Due != nil {
			due = *got.Due
		}
		if !member || got.Status != c.status || due != c.due || got.OverdueDays != c.over ||
			!strings.Contains(got.Words, c.words) {
			t.Errorf("%s, on %s: %v, %s, due %q, overdue %d, %q; want %s, %q, %d, %q", c.rule, c.today, member, got.Status,
				due, got.OverdueDays, got.Words, c.status, c.due, c.over, c.words)
		}
	}
	for day, members := range map[Date][]Membership{"2026-08-14": all,
		"2026-10-01": {in("2026-08-15", end("2026-09-30"))}, "2026-09-15": {in("2026-08-15", end("2026-09-01")),
			in("2026-10-01", nil)}, "2026-09-01": nil} {
		if got, member := (Reviewable{Memberships: members}).On(day); member {
			t.Errorf("%v is no member of %v, and yet %+v", day, members, got)
		}
	}
}

func TestTheWriterOfAReviewIsOneWhoStillSeesThePlayer(t *testing.T) {
	coaches, managers := []int64{3, 4}, []int64{9}
	for _, c := range []struct {
		r    Reviewers
		by   []int64
		word ByBecause
	}{
		{Reviewers{LastAuthor: 4, GoalOwner: 3, Lead: 3, Coaches: coaches, Managers: managers}, []int64{4}, ByLastAuthor},
		{Reviewers{LastAuthor: 9, GoalOwner: 3, Coaches: coaches, Managers: managers}, []int64{9}, ByLastAuthor},
		{Reviewers{LastAuthor: 7, GoalOwner: 4, Lead: 3, Coaches: coaches, Managers: managers}, []int64{4}, ByGoalOwner},
		{Reviewers{LastAuthor: 7, GoalOwner: 7, Lead: 3, Coaches: coaches, Managers: managers}, []int64{3}, ByLeadCoach},
		{Reviewers{Lead: 7, Coaches: coaches, Managers: managers}, coaches, ByCoaches},
		{Reviewers{LastAuthor: 7, Managers: managers}, managers, ByManager},
	} {
		by, word := c.r.Choose()
		if word != c.word || len(by) != len(c.by) || by[0] != c.by[0] {
			t.Errorf("%+v: %v, %s; want %v, %s", c.r, by, word, c.by, c.word)
		}
	}
}
