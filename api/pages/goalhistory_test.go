package pages

import (
	"encoding/json"
	"slices"
	"testing"
	"time"

	"throughline/models"
)

func TestTheHistoryOfAGoalReadsInWordsWithUnits(t *testing.T) {
	start := 0.5
	was := models.Goal{Record: models.Record{ID: 3, Version: 1}, Indicator: "contact_won", OwnerID: 1,
		SetOn: "2025-10-01",
		By:    "2026-03-01", Target: 0.6, Baseline: &start, BaselineReason: "Seen at two sessions.", Why: "Go forward.",
		Insist: []models.GoalQuestion{models.AskFewMatches}, InsistReason: "No trend yet."}
	now := was
	closed := models.Date("2026-02-10")
	now.Target, now.By, now.OwnerID, now.Baseline, now.BaselineReason = 0.65, "2026-04-01", 2, nil, ""
	now.Insist, now.InsistReason = nil, ""
	now.ClosedOn, now.Result, now.Outcome = &closed, models.GoalNotMet, "Close."
	said, err := json.Marshal(was)
	if err != nil {
		t.Fatal(err)
	}
	in := goalWords{names: map[int64]string{1: "Idris Vane", 2: "Corin Maddle"},
		labels: models.NewLabels(models.IndicatorCatalogue(), nil), indicators: models.IndicatorCatalogue()}
	all, err := goalHistory([]models.EarlierVersion{{Kind: "goal", RecordID: 3, Version: 1, UserID: 2,
		At: time.Date(2026, 2, 10, 9, 0, 0, 0, time.UTC), Said: string(said)}}, now, in)
	want := []string{"Owner: Corin Maddle, before that Idris Vane", "Target: 65%, before that 60%",
		"To reach by: 1 Apr 2026, before that 1 Mar 2026", "Start: nothing, before that 50%",
		"Why the start was typed: nothing, before that Seen at two sessions.",
		"Questions answered: nothing, before that few matches", "Why all the same: nothing, before that No trend yet.",
		"Closed on: 10 Feb 2026, before that nothing", "Result: not met, before that nothing",
		"How it went: Close., before that nothing"}
	if err != nil || len(all) != 1 || all[0].When != "10 Feb 2026, Corin Maddle" || !slices.Equal(all[0].Changes, want) {
		t.Errorf("the history is %q, %v; want %q", all, err, want)
	}
	for _, q := range models.GoalQuestion("").Codes() {
		if questionWords[q] == "" {
			t.Errorf("the question %s has no words", q)
		}
	}
	for _, r := range models.GoalResult("").Codes() {
		if resultWords[r] == "" {
			t.Errorf("the result %s has no words", r)
		}
	}
}
