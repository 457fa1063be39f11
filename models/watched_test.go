package models

import "testing"

// A match of two halves of ten minutes, worked out by hand: the player is on from 2:00 of the first half to the end,
// and the log covers the first half alone.
func TestWatchedSaysWhatALogCoversAndWhatComesBetween(t *testing.T) {
	var every []Kind
	for _, k := range Kinds() {
		every = append(every, k.Code)
	}
	at := func(half, second int) Clock { return Clock{Half: half, Second: second} }
	job := func(id int64, half, second int, kind Kind, detail, code string) Involvement {
		return Involvement{Record: Record{ID: id}, Clock: at(half, second), Kind: kind,
			Details: map[string]string{detail: code}}
	}
	carry := int64(3)
	pass := job(4, 1, 205, KindPass, "result", "accurate")
	pass.LinkedTo = &carry
	p := Play{
		Match: Match{Record: Record{ID: 1}, Halves: 2, HalfMinutes: 10},
		Appearance: Appearance{Stints: []Stint{{On: at(1, 120), Off: at(1, 600)}, {On: at(2, 600), Off: at(2, 1200)}},
			Minutes: 18},
		Logs: []LoggedPlay{{
			Log: Log{Record: Record{ID: 9}, Depth: Full, Kinds: every, Finished: true, Covers: []Span{{From: at(1, 0),
				To: at(1, 600)}}},
			Involvements: []Involvement{job(1, 1, 150, KindTackle, "result", "won"),
				job(2, 1, 162, KindReposition, "in_place", "no"), job(3, 1, 200, KindCarry, "contact", "won"), pass,
				job(5, 1, 260, KindTackle, "result", "even")},
		}},
	}
	w := p.Watched()
	if w == nil || w.Played != 1080 || w.Seconds != 480 || w.Whole {
		t.Fatalf("played, watched and whole: %+v; want 1080, 480 and a part", w)
	}
	gaps := []int{12, 38, 60, 0, 0} // from the carry to the next tackle: the pass out of it is part of it
	for i, want := range gaps {
		switch got := w.Jobs[i].Gap; {
		case want == 0 && got != nil:
			t.Errorf("job %d has a gap of %d; want none", i+1, *got)
		case want > 0 && (got == nil || *got != want):
			t.Errorf("job %d: gap %v; want %d", i+1, got, want)
		}
	}
	if !w.Jobs[1].Missed || w.Jobs[0].Missed || w.Jobs[0].Quarter != 1 {
		t.Errorf("missed and quarters: %+v", w.Jobs)
	}
	p.Logs[0].Log.Covers = nil
	if w := p.Watched(); !w.Whole || w.Seconds != 1080 {
		t.Errorf("a log of the whole match: whole %v, %d s; want 1080 of 1080", w.Whole, w.Seconds)
	}
	p.Logs[0].Log.Kinds = []Kind{KindTackle}
	if w := p.Watched(); w.Whole || w.Seconds != 1080 || len(w.Jobs) != 2 || w.Jobs[0].Gap != nil ||
		!w.Stretches[0].Full {
		t.Errorf("a full log of tackles alone: %+v; want a part in full depth, two tackles and no gaps", w)
	}
	p.Logs[0].Log.Kinds = every
	p.Contacts = []HeadContact{{MatchID: &p.Match.ID, Clock: &Clock{Half: 1, Second: 180}}}
	if w := p.Watched(); len(w.Jobs) != 2 || w.Played != 60 {
		t.Errorf("after a head contact at 3:00: %d jobs, %d s; want 2 and 60", len(w.Jobs), w.Played)
	}
}
