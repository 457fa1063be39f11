package models

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"
)

// Records that are right, for tests to spoil.
func season25() Season {
	return Season{Record: Record{ID: 3}, Name: "2025-26", Starts: "2025-08-01", Ends: "2026-05-31"}
}
func goodAppearance() Appearance {
	return Appearance{MatchID: 9, PlayerID: 7, Minutes: 60, Shirt: ptr(6), Position: Flanker,
		Stints: []Stint{{On: clk(1, 0, 0), Off: clk(2, 60, 0)}}}
}
func goodLog() Log {
	return Log{MatchID: 9, PlayerID: 7, LoggerID: 2, Depth: Full, Kinds: []Kind{KindCarry, KindTackle},
		Covers: []Span{{clk(1, 0, 0), clk(1, 40, 0)}, {clk(2, 40, 0), clk(2, 60, 0)}}}
}
func goodCarry() Involvement {
	return Involvement{LogID: 5, Clock: clk(1, 12, 30), Kind: KindCarry,
		Details: map[string]string{"contact": "won", "gain_line": "over", "finish": "ground", "presentation": "long",
			"width": "close"},
		Measures: map[string]float64{"metres": 4.5, "tacklers_committed": 2}, Results: []Result{ResultLineBreak},
		Possession: ptr(14), Phase: ptr(3), Note: "stayed low\nand drove", VideoFile: "first half", VideoFrom: ptr(752.0),
		VideoTo: ptr(760.5)}
}
func goodTackle() Involvement {
	return Involvement{Clock: clk(2, 44, 0), Kind: KindTackle, Details: map[string]string{"result": "even"}}
}
func goodRound() RatingRound {
	return RatingRound{SeasonID: 3, SquadID: 4, Name: "After Saltby", Date: "2025-10-04", MatchID: ptr(int64(9)),
		Opens: ptr(Date("2025-10-05")), Closes: "2025-10-12"}
}
func goodMeeting() Meeting {
	return Meeting{SeasonID: 3, SquadID: 4, Date: "2026-03-01", Purpose: "The county trial", Status: MeetingClosed,
		Present: []Attendee{{UserID: ptr(int64(2)), Name: "Robin Hale"}, {UserID: ptr(int64(5))}, {Name: "Ebba Storm"}},
		Criteria: []Criterion{{Label: "Contact", Indicator: "contact_won", Weight: 0.5},
			{Label: "Tackle", Skill: "tackle", Weight: 1000}, {Label: "Head", Words: "Stays calm.", Weight: 2}},
		Places: []Place{{Name: "Back row", Group: GroupBackRow, Wanted: 1}, {Name: "Hooker", Position: Hooker, Wanted: 2}},
		Candidates: []Candidate{{PlayerID: 7, Place: "Back row", Decision: Chosen, Reason: "Ready."},
			{PlayerID: 8, Place: "Back row", Decision: NotChosen, Reason: "Not yet.", Dissent: "R. Hale."},
			{PlayerID: 7, Place: "Hooker", Decision: Reserve, Reason: "Can throw."},
			{PlayerID: 9, Place: "Hooker", Decision: Deferred, Reason: "Not seen enough."}}}
}
func goodGoal() Goal {
	return Goal{PlayerID: 7, OwnerID: 2, Indicator: "contact_won", SetOn: "2025-10-01", By: "2026-02-01",
		Baseline: ptr(0.4), Target: 0.55, Why: "wins ground only in space", Actions: "footwork, twice a week"}
}
func goodRating() Rating {
	return Rating{PlayerID: 7, RaterID: 2, Skill: "tackle", Grade: 4, Date: "2025-10-04", MatchID: ptr(int64(9))}
}
func goodNote() ReviewNote {
	return ReviewNote{PlayerID: 7, AuthorID: 2, Date: "2025-10-05", Text: "Ask about the second carry."}
}
func goodIndicator() Indicator {
	return Indicator{Code: "line_breaks", Label: "Line breaks", Meaning: "How often you went through.", Family: Rate,
		Unit: "per match", Numerator: "line_breaks", Better: Higher, Depth: Core}
}
func goodSkill() Skill {
	return Skill{Code: "leadership", Label: "Leadership", Grades: [5]string{"a", "b", "c", "d", "e"},
		Groups: []Group{GroupCentre}}
}
func goodUser() User { return User{Login: "r.hale", Name: "Robin Hale", Role: RoleCoach} }
func goodSpell() Spell {
	return Spell{Record: Record{ID: 1}, PlayerID: 7, Status: Modified, From: "2025-11-01", Until: ptr(Date("2025-11-20"))}
}

func with[T any](v T, spoil func(*T)) T {
	spoil(&v)
	return v
}

func TestWhatIsRightPasses(t *testing.T) {
	a := goodAppearance()
	for name, err := range map[string]error{
		"academy": Academy{Name: "Ostermoor Academy"}.Validate(), "season": season25().Validate(),
		"squad":                Squad{Name: "Under 18", AgeBand: 18, BandMonth: 9}.Validate(),
		"membership":           Membership{SeasonID: 3, SquadID: 4, PlayerID: 7, From: "2025-08-01"}.Validate(),
		"membership in season": Membership{From: "2025-08-01", Until: ptr(Date("2026-05-31"))}.ValidateIn(season25()),
		"player": Player{Name: "Siân O’Dúill-Łuk", BornOn: ptr(Date("2008-10-11")),
			Positions: []Position{Flanker, NumberEight}}.Validate(),
		"spell": goodSpell().Validate(),
		"spell among": goodSpell().ValidateAmong([]Spell{goodSpell(),
			{Record: Record{ID: 2}, PlayerID: 7, From: "2025-11-21"},
			{Record: Record{ID: 3}, PlayerID: 8, From: "2025-11-01"}}),
		"match": match80().Validate(), "match in season": match80().ValidateIn(season25()),
		"other team": with(match80(), func(m *Match) { m.SquadID, m.OtherTeam = nil, "Harrowgate School" }).Validate(),
		"event": MatchEvent{Clock: clk(2, 66, 0), Kind: EventSubstitution, PlayerID: ptr(int64(3)),
			OffID: ptr(int64(7))}.Validate(),
		"team totals": TeamTotals{Scope: Forwards, Counts: Counts{"carries": 40}}.Validate(),
		"appearance":  a.Validate(), "appearance in match": a.ValidateIn(match80()),
		"totals-only appearance": Appearance{MatchID: 9, PlayerID: 7, Minutes: 80}.Validate(),
		"log":                    goodLog().Validate(), "log in match": goodLog().ValidateIn(match80()),
		"carry": goodCarry().Validate(), "tackle": goodTackle().Validate(),
		"untouched": Involvement{Clock: clk(1, 1, 1), Kind: KindCarry, Details: map[string]string{"contact": "none"},
			Measures: map[string]float64{"tacklers_committed": 0}}.Validate(),
		"carry in log": goodCarry().ValidateIn(match80(), a, goodLog()), "tackle in log": goodTackle().ValidateIn(match80(),
			a, goodLog()),
		"offload": Involvement{Clock: clk(1, 1, 1), Kind: KindOffload, LinkedTo: ptr(int64(88)),
			Details: map[string]string{"numbers": "overlap", "overlap_finished": "no"}}.Validate(),
		"penalised": Involvement{Clock: clk(1, 1, 1), Kind: KindAttackRuck,
			Details: map[string]string{"effect": "penalised"}, Results: []Result{ResultPenaltyConceded}}.Validate(),
		"totals": MatchTotals{Source: "round 4.csv", Counts: Counts{"carries": 8, "contacts_won": 3, "metres": 31.5,
			"errors": 0}}.Validate(),
		"rating":       goodRating().Validate(),
		"block rating": with(goodRating(), func(r *Rating) { r.MatchID, r.Block = nil, "pre-season" }).Validate(),
		"match rating": goodRating().ValidateIn(match80()),
		"round":        goodRound().Validate(), "round in season": goodRound().ValidateIn(season25()),
		"round of match": goodRound().ValidateOf(match80()),
		"round of a day": with(goodRound(), func(r *RatingRound) {
			r.MatchID, r.Block, r.Opens, r.Closes = nil, "Autumn", nil, r.Date
		}).Validate(),
		"meeting": goodMeeting().Validate(), "meeting on nobody": Meeting{SeasonID: 3, SquadID: 4, Date: "2026-03-01",
			Purpose: "x", Status: MeetingDraft}.Validate(),
		"undecided": with(goodMeeting(), func(m *Meeting) {
			m.Status, m.Candidates[0] = MeetingOpened, Candidate{PlayerID: 7, Place: "Back row"}
		}).Validate(),
		"goal": goodGoal().Validate(),
		"goal on skill": with(goodGoal(), func(g *Goal) {
			g.Indicator, g.Skill, g.Baseline, g.Target = "", "tackle", ptr(2.5), 3.5
		}).Validate(),
		"closed goal": with(goodGoal(), func(g *Goal) {
			g.ClosedOn, g.Result, g.Outcome = ptr(Date("2026-01-15")), GoalNotMet, "not yet"
		}).Validate(),
		"check-in":         CheckIn{GoalID: 1, Date: "2025-11-01", Text: "On the way."}.Validate(),
		"check-in in goal": CheckIn{Date: "2025-11-01"}.ValidateIn(goodGoal()),
		"session":          session(func(*TrainingSession) {}),
		"attendance":       attends(func(*Attendance) {}),
		"training on nothing": TrainingObservation{PlayerID: 7, Date: "2025-11-01", Text: "Encouraged the others.",
			Shared: true}.Validate(),
		"training": TrainingObservation{PlayerID: 7, Date: "2025-11-01", Skill: "tackle",
			Text: "Head on the right side."}.Validate(),
		"note": goodNote().Validate(), "user": goodUser().Validate(), "player's user": User{Login: "s.lee2", Name: "Sam Lee",
			Role: RolePlayer, PlayerID: ptr(int64(7)), PasswordHash: "$argon2id$v=19$…"}.Validate(),
		"staff": SquadStaff{UserID: 2, SquadID: 4}.Validate(), "token": AccessToken{UserID: 2, Label: "import",
			Scope: ScopeRead, ExpiresAt: time.Unix(1, 0), Hash: make([]byte, 32)}.Validate(),
		"link":      Link{UserID: 2, Purpose: Invitation, ExpiresAt: time.Unix(1, 0), Hash: make([]byte, 32)}.Validate(),
		"indicator": goodIndicator().Validate(), "skill": goodSkill().Validate(),
		"shirts": ValidateShirts([]Appearance{{Shirt: ptr(1)}, {Shirt: ptr(2)}, {}, {}}),
	} {
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Each row is a rule: what is wrong, the place of the error, and what the message must say.
func TestWhatIsWrongIsRefusedWithWhereAndWhy(t *testing.T) {
	inMatch := func(spoil func(*Appearance)) error {
		a := goodAppearance()
		spoil(&a)
		return a.ValidateIn(match80())
	}
	carry := func(spoil func(*Involvement)) error { return with(goodCarry(), spoil).Validate() }
	tackle := func(spoil func(*Involvement)) error { return with(goodTackle(), spoil).Validate() }
	placed := func(spoil func(*Involvement)) error {
		return with(goodCarry(), spoil).ValidateIn(match80(), goodAppearance(), goodLog())
	}
	match := func(spoil func(*Match)) error { return with(match80(), spoil).Validate() }
	logged := func(spoil func(*Log)) error { return with(goodLog(), spoil).Validate() }
	covers := func(spans ...Span) error {
		return with(goodLog(), func(l *Log) { l.Covers = spans }).ValidateIn(match80())
	}
	player := func(name string) error { return Player{Name: name}.Validate() }
	goal := func(spoil func(*Goal)) error { return with(goodGoal(), spoil).Validate() }
	ind := func(spoil func(*Indicator)) error { return with(goodIndicator(), spoil).Validate() }
	user := func(spoil func(*User)) error { return with(goodUser(), spoil).Validate() }
	round := func(spoil func(*RatingRound)) error { return with(goodRound(), spoil).Validate() }
	meeting := func(spoil func(*Meeting)) error { return with(goodMeeting(), spoil).Validate() }
	sixteen := make([]Appearance, 16)
	for i := range sixteen {
		sixteen[i] = Appearance{Started: ptr(true), Shirt: ptr(i + 1)}
	}

	for _, c := range []struct {
		rule  string
		err   error
		where string
		says  string // parts of the message, apart by a bar
	}{
		// Time on the pitch.
		{"too many minutes", inMatch(func(a *Appearance) {
			a.Stints, a.Minutes = nil, 95
		}), "minutes", "95 is more than the 80 minutes of a full match"},
		{"minutes below 0", Appearance{MatchID: 9, PlayerID: 7, Minutes: -1}.Validate(), "minutes",
			"-1 is not allowed|write 0 to 160"},
		{"minutes of less than a second", Appearance{MatchID: 9, PlayerID: 7, Minutes: 1e-300}.Validate(), "minutes",
			"less than a second|0.02"},
		{"no minutes", Appearance{MatchID: 9, PlayerID: 7}.Validate(), "minutes", "missing|minutes played"},
		{"minutes that are no number", Appearance{MatchID: 9, PlayerID: 7, Minutes: math.NaN()}.Validate(), "minutes",
			"not a number"},
		{"stints that overlap", inMatch(func(a *Appearance) {
			a.Stints = append(a.Stints, Stint{On: clk(2, 55, 0), Off: clk(2, 80, 0)})
		}), "stints[1].on", "half 2, 55:00 overlaps|until half 2, 60:00"},
		{"a stint in the added time of the one before", inMatch(func(a *Appearance) {
			a.Stints = []Stint{{On: clk(1, 0, 0), Off: clk(1, 40, 0)}, {On: clk(1, 41, 0), Off: clk(2, 60, 0)}}
		}), "stints[1].on", "overlaps|half 1, 40:00, including added time"},
		{"stints out of order", inMatch(func(a *Appearance) {
			a.Stints = []Stint{{On: clk(2, 60, 0), Off: clk(2, 80, 0)}, {On: clk(1, 0, 0), Off: clk(1, 20, 0)}}
		}), "stints[1].on", "is listed after|in order of time"},
		{"stint turned round", inMatch(func(a *Appearance) {
			a.Stints[0] = Stint{On: clk(1, 30, 0), Off: clk(1, 20, 0)}
		}), "stints[0].off", "ends (half 1, 20:00) before it begins (half 1, 30:00)"},
		{"stint in a half that is not played", inMatch(func(a *Appearance) {
			a.Stints[0].Off = Clock{3, 4900}
		}), "stints[0].off", "there is no half 3|halves 1 to 2"},
		{"stint with the wrong half", inMatch(func(a *Appearance) {
			a.Stints[0].Off = clk(1, 75, 0)
		}), "stints[0].off", "75:00 is more than 20 minutes after half 1 should end, at 40:00|check the half"},
		{"stint before its half begins", inMatch(func(a *Appearance) {
			a.Stints[0].Off = clk(2, 20, 0)
		}), "stints[0].off", "20:00 is before half 2 begins|40:00"},
		{"stint in added time only", inMatch(func(a *Appearance) {
			a.Stints[0] = Stint{On: clk(2, 81, 0), Off: clk(2, 84, 0)}
		}), "stints", "no regular playing time"},
		{"stint clock of no match", with(goodAppearance(), func(a *Appearance) {
			a.Stints[0].On = Clock{0, -3}
		}).Validate(), "stints[0].on.second", "-3 is not allowed; write 0 to 12000"},
		{"unknown position of a stint", with(goodAppearance(), func(a *Appearance) {
			a.Stints[0].Position = "libero"
		}).Validate(), "stints[0].position", "libero|prop, hooker, lock"},
		{"shirt 100", with(goodAppearance(), func(a *Appearance) {
			a.Shirt = ptr(100)
		}).Validate(), "shirt", "100 is not allowed; write 1 to 99"},
		{"a shirt worn twice", ValidateShirts([]Appearance{{Shirt: ptr(7)}, {Shirt: nil}, {Shirt: ptr(7)}}),
			"appearances[2].shirt", "7 is already used in appearances[0]"},
		{"sixteen starters", ValidateShirts(sixteen), "appearances[15].started", "16 starters|at most 15|Law 3"},
		{"no player", Appearance{MatchID: 9, Minutes: 10}.Validate(), "player_id", "missing"},

		// Matches and seasons.
		{"match outside its season", with(match80(), func(m *Match) {
			m.Date = "2026-06-01"
		}).ValidateIn(season25()), "date", "2026-06-01 is not in the season 2025-26, which runs from 2025-08-01 " +
			"to 2026-05-31"},
		{"match before its season", with(match80(), func(m *Match) {
			m.Date = "2025-07-31"
		}).ValidateIn(season25()), "date", "not in the season"},
		{"match on no day", match(func(m *Match) { m.Date = "2025-02-30" }), "date", "2025-02-30|such as 2026-09-05"},
		{"match of two teams", match(func(m *Match) { m.OtherTeam = "Harrowgate School" }), "other_team", "not both"},
		{"match of no team", match(func(m *Match) { m.SquadID = nil }), "squad_id", "missing"},
		{"no opponent", match(func(m *Match) { m.Opponent = "" }), "opponent", "missing; write 1 to 100"},
		{"unknown venue", match(func(m *Match) { m.Venue = ptr(Venue("abroad")) }), "venue", "abroad|home, away, neutral"},
		{"difficulty 6", match(func(m *Match) { m.Difficulty = ptr(6) }), "difficulty", "6 is not allowed; write 1 to 5"},
		{"five halves", match(func(m *Match) { m.Halves = 5 }), "halves", "write 1 to 4"},
		{"half of 45 minutes", match(func(m *Match) {
			m.HalfMinutes = 45
		}), "half_minutes", "45 is not allowed; write 5 to 40"},
		{"event of no kind", MatchEvent{Clock: clk(1, 1, 0), Kind: "goal"}.Validate(), "kind", "goal|try, conversion"},
		{"a try with somebody going off", MatchEvent{Clock: clk(1, 1, 0), Kind: EventTry, OffID: ptr(int64(1))}.Validate(),
			"off_id", "only a substitution"},
		{"a player for himself", MatchEvent{Clock: clk(1, 1, 0), Kind: EventSubstitution, PlayerID: ptr(int64(1)),
			OffID: ptr(int64(1))}.Validate(), "off_id", "same player"},
		{"event outside its match", MatchEvent{Clock: clk(3, 81, 0)}.ValidateIn(match80()), "clock", "half 3"},
		{"season of two years", with(season25(), func(s *Season) {
			s.Ends = "2027-05-31"
		}).Validate(), "ends", "668 days|at most 400"},
		{"season turned round", with(season25(), func(s *Season) {
			s.Ends = "2025-05-31"
		}).Validate(), "ends", "before the season starts, on 2025-08-01"},
		{"season without a day", with(season25(), func(s *Season) {
			s.Starts = ""
		}).Validate(), "starts", "missing|2026-09-05"},
		{"membership outside its season", Membership{From: "2025-07-01"}.ValidateIn(season25()), "from",
			"2025-07-01 is not in the season"},
		{"membership that ends too late",
			Membership{From: "2025-09-01", Until: ptr(Date("2026-07-01"))}.ValidateIn(season25()), "until",
			"not in the season"},
		{"membership turned round", Membership{SeasonID: 1, SquadID: 1, PlayerID: 1, From: "2025-09-02",
			Until: ptr(Date("2025-09-01"))}.Validate(), "until", "before the first day, 2025-09-02"},
		{"age band 3", Squad{Name: "Tots", AgeBand: 3}.Validate(), "age_band", "5 to 30"},
		{"month 13", Squad{Name: "U16", AgeBand: 16, BandMonth: 13}.Validate(), "band_month", "write 0 to 12"},
		{"spell of no status", with(goodSpell(), func(s *Spell) {
			s.Status = "injured"
		}).Validate(), "status", "injured|available, modified, unavailable"},
		{"spells that overlap", goodSpell().ValidateAmong([]Spell{{Record: Record{ID: 2}, PlayerID: 7, Status: Unavailable,
			From: "2025-11-20"}}), "from", "unavailable, from 2025-11-20 with no end date"},

		// Logs.
		{"log of no depth", logged(func(l *Log) { l.Depth = "deep" }), "depth", "deep|core, full"},
		{"log of no kinds", logged(func(l *Log) { l.Kinds = nil }), "kinds", "empty"},
		{"log of an unknown kind", logged(func(l *Log) {
			l.Kinds[1] = "scramble"
		}), "kinds[1]", "scramble|carry, pass, offload"},
		{"log of a kind twice", logged(func(l *Log) { l.Kinds = []Kind{KindCarry, KindCarry} }), "kinds[1]", "twice"},
		{"coverage turned round", covers(Span{clk(2, 60, 0), clk(1, 10, 0)}), "covers[0].to", "before it begins"},
		{"coverage that overlaps", covers(Span{clk(1, 0, 0), clk(1, 20, 0)}, Span{clk(1, 19, 0), clk(1, 30, 0)}),
			"covers[1].from", "half 1, 19:00|half 1, 20:00|in order"},
		{"coverage outside the match", covers(Span{clk(1, 0, 0), Clock{4, 9000}}), "covers[0].to", "there is no half 4"},
		{"key with a space", logged(func(l *Log) { l.Key = "my log" }), "key", "without spaces"},

		// Involvements.
		{"involvement off the pitch", placed(func(i *Involvement) {
			i.Clock = clk(2, 62, 10)
		}), "clock", "not on the pitch at half 2, 62:10; they were on from half 1, 00:00 to half 2, 60:00"},
		{"involvement in minutes not watched", with(goodCarry(), func(i *Involvement) {
			i.Clock = clk(1, 30, 0)
		}).ValidateIn(match80(), goodAppearance(), with(goodLog(), func(l *Log) {
			l.Covers = []Span{{clk(1, 0, 0), clk(1, 30, 0)}}
		})), "clock", "does not cover half 1, 30:00; it covers half 1, 00:00 up to half 1, 30:00"},
		{"involvement of a kind not logged", placed(func(i *Involvement) {
			i.Kind = KindKick
		}), "kind", "kick is not a kind that the log covers|carry, tackle"},
		{"involvement outside the match", placed(func(i *Involvement) {
			i.Clock = clk(2, 12, 0)
		}), "clock", "12:00 is before half 2 begins"},
		{"unknown kind", carry(func(i *Involvement) {
			i.Kind = "dance"
		}), "kind", "dance|carry, pass, offload, kick, catch, tackle, attack_ruck"},
		{"unknown code of a detail", carry(func(i *Involvement) {
			i.Details["contact"] = "big"
		}), "details.contact", "big|won, even, lost, none"},
		{"empty code of a detail", carry(func(i *Involvement) {
			i.Details["contact"] = ""
		}), "details.contact", "won, even, lost, none"},
		{"unknown detail", carry(func(i *Involvement) {
			i.Details["mood"] = "good"
		}), "details.mood", "carry has no such detail|contact, gain_line"},
		{"metres on a tackle", tackle(func(i *Involvement) {
			i.Measures = map[string]float64{"metres": 3}
		}), "measures.metres", "tackle has no such measure|seconds_to_feet"},
		{"metres on a scrum", Involvement{Clock: clk(1, 1, 0), Kind: KindScrum,
			Measures: map[string]float64{"metres": 3}}.Validate(), "measures.metres", "a scrum has no measures"},
		{"a measure among the choices", carry(func(i *Involvement) {
			i.Details["metres"] = "4"
		}), "details.metres", "measures.metres"},
		{"a choice among the measures", carry(func(i *Involvement) {
			i.Measures["contact"] = 1
		}), "measures.contact", "won, even, lost, none|details.contact"},
		{"metres past the pitch", carry(func(i *Involvement) {
			i.Measures["metres"] = 400
		}), "measures.metres", "400 is not allowed; write 0 to 110 m"},
		{"metres that are no number", carry(func(i *Involvement) {
			i.Measures["metres"] = math.Inf(1)
		}), "measures.metres", "not a number"},
		{"half a tackler", carry(func(i *Involvement) {
			i.Measures["tacklers_committed"] = 1.5
		}), "measures.tacklers_committed", "1.5 is not a whole number of tacklers"},
		{"unknown result", carry(func(i *Involvement) {
			i.Results = []Result{"goal"}
		}), "results[0]", "goal|try, try_assist, line_break"},
		{"a result twice", carry(func(i *Involvement) {
			i.Results = []Result{ResultError, ResultError}
		}), "results[1]", "twice"},
		{"penalised without a penalty", Involvement{Clock: clk(1, 1, 0), Kind: KindDefenceRuck,
			Details: map[string]string{"effect": "penalised"}}.Validate(), "results",
			"penalty conceded|add the result penalty_conceded"},
		{"scored without a try", carry(func(i *Involvement) {
			i.Details["outcome"] = "scored"
		}), "results", "add the result try"},
		{"a try that was lost", carry(func(i *Involvement) {
			i.Details["outcome"], i.Results = "lost", []Result{ResultTry}
		}), "details.outcome", "outcome scored"},
		{"a high tackle won", tackle(func(i *Involvement) {
			i.Details = map[string]string{"result": "won", "height": "high"}
		}), "details.result", "never won"},
		{"presentation out of a maul", carry(func(i *Involvement) {
			i.Details["finish"] = "maul"
		}), "details.presentation", "Law 16|Law 14"},
		{"presentation on the feet", carry(func(i *Involvement) {
			i.Details["finish"] = "on_feet"
		}), "details.presentation", "did not go to ground"},
		{"contact point without contact", carry(func(i *Involvement) {
			i.Details["contact"], i.Details["contact_point"] = "none", "square"
		}), "details.contact_point", "no defender touched"},
		{"tacklers without contact", carry(func(i *Involvement) {
			i.Details["contact"] = "none"
		}), "measures.tacklers_committed", "write 0 tacklers"},
		{"a finished overlap without one", Involvement{Clock: clk(1, 1, 0), Kind: KindPass,
			Details: map[string]string{"numbers": "short", "overlap_finished": "yes"}}.Validate(), "details.overlap_finished",
			"no overlap"},
		{"a linked tackle", tackle(func(i *Involvement) {
			i.LinkedTo = ptr(int64(3))
		}), "linked_to", "only a pass or an offload"},
		{"possession 0", carry(func(i *Involvement) { i.Possession = ptr(0) }), "possession", "1 to 1000"},
		{"a moment that ends before it begins", carry(func(i *Involvement) {
			i.VideoTo = ptr(700.0)
		}), "video_to", "before the moment begins, at 752"},
		{"a moment without a beginning", carry(func(i *Involvement) { i.VideoFrom = nil }), "video_from", "missing"},
		{"options of 201 characters", carry(func(i *Involvement) {
			i.Options = strings.Repeat("ß", 201)
		}), "options", "201 characters; write at most 200"},
		{"half 0", carry(func(i *Involvement) { i.Clock.Half = 0 }), "clock.half", "0 is not allowed; write 1 to 4"},

		// Counts.
		{"unknown count", Counts{"carys": 3}.Validate(), "carys", "not a count|carries"},
		{"count below 0", MatchTotals{Source: "x", Counts: Counts{"carries": -1}}.Validate(), "counts.carries",
			"-1 is less than 0"},
		{"count that is no number", Counts{"carries": math.NaN()}.Validate(), "carries", "not a number"},
		{"half a carry", Counts{"carries": 2.5}.Validate(), "carries", "2.5 is not a whole number"},
		{"half a tackler in totals", Counts{"tacklers_committed": 2.5}.Validate(), "tacklers_committed", "whole number"},
		{"a part more than its whole", Counts{"contacts_won": 5, "contacts_recorded": 4, "carries": 9}.Validate(),
			"contacts_won", "5 is more than the 4 of contacts_recorded"},
		{"a part more than the whole's whole", Counts{"contacts_won": 5, "carries": 4}.Validate(), "contacts_won",
			"5 is more than the 4 of carries"},
		{"more recorded than there was", Counts{"contacts_recorded": 5, "carries": 4}.Validate(), "contacts_recorded",
			"more than the 4 of carries"},
		{"metres past belief", Counts{"metres": 500, "metres_recorded": 4}.Validate(), "metres",
			"500 is more than 110 for each of the 4"},
		{"no counts", TeamTotals{Scope: Backs}.Validate(), "counts", "is empty; give at least 1"},
		{"no source", MatchTotals{Counts: Counts{"carries": 1}}.Validate(), "source", "missing"},
		{"scope of nobody", TeamTotals{Scope: "bench", Counts: Counts{"carries": 1}}.Validate(), "scope",
			"bench|team, forwards, backs"},

		// Opinions.
		{"a grade of 6", with(goodRating(), func(r *Rating) {
			r.Grade = 6
		}).Validate(), "grade", "6 is not allowed; write 1 to 5"},
		{"a grade of 0", with(goodRating(), func(r *Rating) { r.Grade = 0 }).Validate(), "grade", "1 to 5"},
		{"a rating of nothing", with(goodRating(), func(r *Rating) {
			r.MatchID = nil
		}).Validate(), "match_id", "missing|block"},
		{"a rating of match and block", with(goodRating(), func(r *Rating) {
			r.Block = "pre-season"
		}).Validate(), "block", "not both"},
		{"a rating on another day", with(goodRating(), func(r *Rating) {
			r.Date = "2025-10-05"
		}).ValidateIn(match80()), "date", "2025-10-04"},
		{"a round of nothing", round(func(r *RatingRound) { r.MatchID = nil }), "match_id", "missing|block"},
		{"a round of match and block", round(func(r *RatingRound) { r.Block = "Autumn" }), "block", "not both"},
		{"a round without an end", round(func(r *RatingRound) { r.Closes = "" }), "closes", "missing"},
		{"a round of a match with a first day", round(func(r *RatingRound) { r.Begins = ptr(Date("2025-10-01")) }),
			"begins", "a match has one day"},
		{"a block that begins after its end", round(func(r *RatingRound) {
			r.MatchID, r.Block, r.Begins = nil, "Autumn", ptr(Date("2025-10-05"))
		}), "begins", "after the last day"},
		{"a round that asks a coach twice", round(func(r *RatingRound) {
			r.Coaches = []RoundCoach{{CoachID: 3}, {CoachID: 3, Groups: []Group{GroupCentre}}}
		}), "coaches[1].coach_id", "listed twice"},
		{"a round that asks for an unknown group", round(func(r *RatingRound) {
			r.Coaches = []RoundCoach{{CoachID: 3, Groups: []Group{"pack"}}}
		}), "coaches[0].groups[0]", "pack"},
		{"a round that ends before what it is for", round(func(r *RatingRound) {
			r.Opens, r.Closes = nil, "2025-10-03"
		}), "closes", "2025-10-03 is before the day the grades are for, 2025-10-04"},
		{"a round that ends before it opens", round(func(r *RatingRound) {
			r.Opens = ptr(Date("2025-10-13"))
		}), "closes", "before the round opens, on 2025-10-13"},
		{"a round outside its season", with(goodRound(), func(r *RatingRound) {
			r.Date = "2026-06-01"
		}).ValidateIn(season25()), "date", "not in the season"},
		{"a round on another day than its match", with(goodRound(), func(r *RatingRound) {
			r.Date = "2025-10-05"
		}).ValidateOf(match80()), "date", "not the day of the match, 2025-10-04"},
		{"a round for another squad's match", with(goodRound(), func(r *RatingRound) {
			r.SquadID = 99
		}).ValidateOf(match80()), "match_id", "another squad"},
		{"a round in another season than its match", with(goodRound(), func(r *RatingRound) {
			r.SeasonID = 99
		}).ValidateOf(match80()), "season_id", "another season"},
		{"a meeting for nothing", meeting(func(m *Meeting) { m.Purpose = "" }), "purpose", "missing; write 1 to 300"},
		{"a meeting of no status", meeting(func(m *Meeting) {
			m.Status = ""
		}), "status", "draft, locked, opened, decided, closed"},
		{"nobody at a meeting", meeting(func(m *Meeting) { m.Present[2].Name = "" }), "present[2].name", "missing"},
		{"the same person twice at a meeting", meeting(func(m *Meeting) {
			m.Present[1].UserID = ptr(int64(2))
		}), "present[1].user_id", "twice"},
		{"a criterion without a name", meeting(func(m *Meeting) {
			m.Criteria[0].Label = ""
		}), "criteria[0].label", "missing"},
		{"a criterion twice", meeting(func(m *Meeting) { m.Criteria[1].Label = "Contact" }), "criteria[1].label", "twice"},
		{"a criterion on two things", meeting(func(m *Meeting) {
			m.Criteria[0].Skill = "tackle"
		}), "criteria[0].skill", "not both"},
		{"a weight of 0", meeting(func(m *Meeting) {
			m.Criteria[0].Weight = 0
		}), "criteria[0].weight", "0 is not allowed; write 0.001 to 1000"},
		{"a weight below 0", meeting(func(m *Meeting) {
			m.Criteria[0].Weight = -1
		}), "criteria[0].weight", "write 0.001 to 1000"},
		{"a weight past sense", meeting(func(m *Meeting) {
			m.Criteria[0].Weight = 1000.5
		}), "criteria[0].weight", "write 0.001 to 1000"},
		{"a weight that is no number", meeting(func(m *Meeting) {
			m.Criteria[0].Weight = math.NaN()
		}), "criteria[0].weight", "not a number"},
		{"a place of no position", meeting(func(m *Meeting) {
			m.Places[0].Group = ""
		}), "places[0].group", "missing|position"},
		{"a place of two positions", meeting(func(m *Meeting) {
			m.Places[0].Position = Hooker
		}), "places[0].position", "not both"},
		{"a place of an unknown group", meeting(func(m *Meeting) {
			m.Places[0].Group = "bench"
		}), "places[0].group", "bench|front_row"},
		{"a place of an unknown position", meeting(func(m *Meeting) {
			m.Places[1].Position = "libero"
		}), "places[1].position", "libero|prop, hooker"},
		{"a place for nobody", meeting(func(m *Meeting) {
			m.Places[0].Wanted = 0
		}), "places[0].wanted", "0 is not allowed; write 1 to 50"},
		{"a place twice", meeting(func(m *Meeting) { m.Places[1].Name = "Back row" }), "places[1].name", "twice"},
		{"a candidate for no place", meeting(func(m *Meeting) {
			m.Candidates[0].Place = ""
		}), "candidates[0].place", "missing"},
		{"a candidate for a place that there is not", meeting(func(m *Meeting) {
			m.Candidates[0].Place = "Bench"
		}), "candidates[0].place", "Bench|not one of the places"},
		{"a candidate twice for one place", meeting(func(m *Meeting) {
			m.Candidates[1].PlayerID = 7
		}), "candidates[1].player_id", "already"},
		{"a candidate who is nobody", meeting(func(m *Meeting) {
			m.Candidates[0].PlayerID = 0
		}), "candidates[0].player_id", "missing"},
		{"an unknown decision", meeting(func(m *Meeting) {
			m.Candidates[0].Decision = "maybe"
		}), "candidates[0].decision", "maybe|chosen, reserve, not_chosen, deferred"},
		{"chosen without a reason", meeting(func(m *Meeting) {
			m.Candidates[0].Reason = ""
		}), "candidates[0].reason", "on a number alone"},
		{"a reserve without a reason", meeting(func(m *Meeting) {
			m.Candidates[2].Reason = " \n"
		}), "candidates[2].reason", "on a number alone"},
		{"not chosen without a reason", meeting(func(m *Meeting) {
			m.Candidates[1].Reason = ""
		}), "candidates[1].reason", "on a number alone"},
		{"deferred without a reason", meeting(func(m *Meeting) {
			m.Candidates[3].Reason = ""
		}), "candidates[3].reason", "on a number alone"},
		{"closed with somebody undecided", meeting(func(m *Meeting) {
			m.Candidates[0].Decision = Undecided
		}), "candidates[0].decision", "even if only to defer"},
		{"more chosen than wanted", meeting(func(m *Meeting) {
			m.Candidates[1].Decision = Chosen
		}), "candidates[1].decision", "You chose 2; this place has 1. Choose fewer"},
		{"a reason of 2,001 characters", meeting(func(m *Meeting) {
			m.Candidates[0].Reason = strings.Repeat("x", 2001)
		}), "candidates[0].reason", "at most 2000"},
		{"a NUL in a dissent", meeting(func(m *Meeting) {
			m.Candidates[0].Dissent = "a\x00"
		}), "candidates[0].dissent", "U+0000"},
		{"a crowd of candidates", meeting(func(m *Meeting) {
			m.Candidates = make([]Candidate, 201)
		}), "candidates", "has 201; give at most 200"},
		{"a goal on nothing", goal(func(g *Goal) { g.Indicator = "" }), "indicator", "missing"},
		{"a goal on two things", goal(func(g *Goal) { g.Skill = "tackle" }), "skill", "not both"},
		{"a goal in the past", goal(func(g *Goal) {
			g.By = g.SetOn
		}), "by", "not after the day the goal was set, 2025-10-01"},
		{"a target of 60 on a proportion", goal(func(g *Goal) {
			g.Target = 60
		}), "target", "60 is not a proportion; write 0 to 1"},
		{"a baseline that is no number", goal(func(g *Goal) { g.Baseline = ptr(math.NaN()) }), "baseline", "not a number"},
		{"a target below 0", goal(func(g *Goal) {
			g.Indicator, g.Baseline, g.Target = "errors", nil, -1
		}), "target", "less than 0"},
		{"a target of grade 7", goal(func(g *Goal) {
			g.Indicator, g.Skill, g.Baseline, g.Target = "", "tackle", nil, 7
		}), "target", "1 to 5"},
		{"a target off its own indicator's scale", with(goodGoal(), func(g *Goal) {
			g.Target = 1.2
		}).ValidateFor(Indicator{Family: Proportion}), "target", "1.2 is not a proportion"},
		{"a goal closed without a word", goal(func(g *Goal) {
			g.ClosedOn = ptr(Date("2026-01-01"))
		}), "outcome", "say how it went"},
		{"a goal closed before it was set", goal(func(g *Goal) {
			g.ClosedOn, g.Outcome = ptr(Date("2025-01-01")), "x"
		}), "closed_on", "before the day"},
		{"an outcome of an open goal", goal(func(g *Goal) { g.Outcome = "met" }), "outcome", "closed_on"},
		{"a check-in before its goal", CheckIn{Date: "2025-09-30"}.ValidateIn(goodGoal()), "date",
			"before the day the goal was set"},
		{"an empty check-in", CheckIn{GoalID: 1, Date: "2025-11-01", Text: " \n"}.Validate(), "text", "missing"},
		{"a start that is no time", session(func(s *TrainingSession) { s.Start = "6pm" }), "start", "such as 18:30"},
		{"minutes of contact without contact", session(func(s *TrainingSession) { s.Contact = false }), "contact_minutes",
			"leave it out, or set contact"},
		{"more contact than training", session(func(s *TrainingSession) { s.ContactMinutes = ptr(76) }), "contact_minutes",
			"76 is more than the session's 75 minutes"},
		{"absent for forty minutes", attends(func(a *Attendance) {
			a.Status, a.Minutes = AttendedAbsent, ptr(40)
		}), "minutes",
			"modified for one who took part"},
		{"present for a reason", attends(func(a *Attendance) {
			a.Status = AttendedPresent
			a.Reason = ReasonLoad
		}), "reason",
			"write modified or absent"},
		{"present without contact", attends(func(a *Attendance) { a.Status = AttendedPresent; a.WithoutContact = true }),
			"without_contact", "write the status modified"},
		{"a diagnosis as reason", attends(func(a *Attendance) { a.Reason = "concussion" }), "reason", "unknown|allowed are"},
		{"longer than the session", Attendance{Minutes: ptr(90)}.ValidateIn(TrainingSession{Minutes: 75}), "minutes",
			"more than the session's 75 minutes"},
		{"a limit of something else", MinutesLimit{Name: "x", Counts: "beer", Minutes: 10, WarnAt: 0.8}.Validate(), "counts",
			"matches, training_contact"},
		{"a training observation on two things", TrainingObservation{PlayerID: 7, Date: "2025-11-01", Skill: "tackle",
			GoalID: ptr(int64(1)), Text: "x"}.Validate(), "goal_id", "not both"},
		{"a note of 4,001 characters", with(goodNote(), func(n *ReviewNote) {
			n.Text = strings.Repeat("x", 4001)
		}).Validate(), "text", "4001 characters; write at most 4000"},
		{"a follow-up before the note", with(goodNote(), func(n *ReviewNote) {
			n.FollowUp = ptr(Date("2025-10-04"))
		}).Validate(), "follow_up", "before the date of the note"},
		{"an id of 0", with(goodNote(), func(n *ReviewNote) {
			n.GoalID = ptr(int64(0))
		}).Validate(), "goal_id", "write a whole number from 1 up"},

		// Users, indicators, skills.
		{"a login in capitals", user(func(u *User) { u.Login = "R.Hale" }), "login", "capital letter|lower case"},
		{"a login of one character", user(func(u *User) { u.Login = "r" }), "login", "has 1 characters; write 2 to 100"},
		{"a login with a space", user(func(u *User) { u.Login = "r hale" }), "login", "lower-case letters, digits"},
		{"a login that begins with a sign", user(func(u *User) { u.Login = "@hale" }), "login", "starting with a letter"},
		{"the console as user", user(func(u *User) {
			u.Role = RoleConsole
		}), "role", "console|manager, coach, selector, player, operator"},
		{"a player's user without a player", user(func(u *User) { u.Role = RolePlayer }), "player_id", "missing"},
		{"a coach's user with a player", user(func(u *User) {
			u.PlayerID = ptr(int64(7))
		}), "player_id", "only a user with role player"},
		{"a password as it was typed", user(func(u *User) { u.PasswordHash = "secret" }), "password", "argon2id"},
		{"a token as it was made", AccessToken{UserID: 1, Label: "x", Scope: ScopeRead, ExpiresAt: time.Unix(1, 0),
			Hash: []byte("token")}.Validate(), "hash", "has 5 bytes; a SHA-256 hash has 32"},
		{"a token for anything", AccessToken{UserID: 1, Label: "x", Scope: "all", ExpiresAt: time.Unix(1, 0),
			Hash: make([]byte, 32)}.Validate(), "scope", "is unknown"},
		{"a token for ever", AccessToken{UserID: 1, Label: "x", Scope: ScopeRead, Hash: make([]byte, 32)}.Validate(),
			"expires_at", "at most 366 days"},
		{"a token for 367 days", AccessToken{Record: Record{CreatedAt: time.Unix(0, 0)}, UserID: 1, Label: "x",
			Scope: ScopeRead, ExpiresAt: time.Unix(367*86_400, 0), Hash: make([]byte, 32)}.Validate(), "expires_at",
			"at most 366 days"},
		{"a token that has expired", AccessToken{Record: Record{CreatedAt: time.Unix(9, 0)}, UserID: 1, Label: "x",
			Scope: ScopeRead, ExpiresAt: time.Unix(9, 0), Hash: make([]byte, 32)}.Validate(), "expires_at",
			"after the token is created"},
		{"a link as it was made", Link{UserID: 1, Purpose: Reset, ExpiresAt: time.Unix(1, 0),
			Hash: []byte("link")}.Validate(), "hash", "has 4 bytes; a SHA-256 hash has 32"},
		{"a link for nothing", Link{UserID: 1, ExpiresAt: time.Unix(1, 0), Hash: make([]byte, 32)}.Validate(), "purpose",
			"is unknown"},
		{"staff of nobody", SquadStaff{SquadID: 4}.Validate(), "user_id", "missing"},
		{"an indicator of an unknown count", ind(func(i *Indicator) { i.Numerator = "wins" }), "numerator", "wins|carries"},
		{"a rate over a count", ind(func(i *Indicator) { i.Denominator = "carries" }), "denominator", "minutes"},
		{"a share of something else", ind(func(i *Indicator) {
			i.Family, i.Numerator, i.Denominator = Proportion, "tackles_won", "carries"
		}), "denominator", "not part of carries|tackles_made"},
		{"a share of metres", ind(func(i *Indicator) {
			i.Family, i.Numerator, i.Denominator = Proportion, "metres", "carries"
		}), "numerator", "sum of m"},
		{"a mean of events", ind(func(i *Indicator) {
			i.Family, i.Numerator, i.Denominator = Mean, "contacts_won", "carries"
		}), "numerator", "proportion"},
		{"a mean over what was not measured", ind(func(i *Indicator) {
			i.Family, i.Numerator, i.Denominator, i.Depth = Mean, "metres", "carries", Full
		}), "denominator", "must be metres_recorded"},
		{"a depth that does not do", ind(func(i *Indicator) { i.Numerator = "choices_best" }), "depth", "write full"},
		{"a code in capitals", ind(func(i *Indicator) { i.Code = "LineBreaks" }), "code", "lower-case"},
		{"an unknown group", ind(func(i *Indicator) { i.Groups = []Group{"bench"} }), "groups[0]", "bench|front_row"},
		{"a skill without a grade", with(goodSkill(), func(s *Skill) {
			s.Grades[3] = ""
		}).Validate(), "grades[3]", "missing"},
		{"a skill of no code", with(goodSkill(), func(s *Skill) { s.Code = "" }).Validate(), "code", "not a code"},

		// Text.
		{"broken UTF-8", player("Jo\xffhn"), "name", "not valid UTF-8"},
		{"a NUL", player("Jo\x00hn"), "name", "U+0000"},
		{"a line end in a name", player("Jo\nhn"), "name", "U+000A"},
		{"a delete character", player("Jo\x7fhn"), "name", "U+007F"},
		{"text turned around", player("Jo\u202ehn"), "name", "U+202E"},
		{"a NUL in a note", with(goodNote(), func(n *ReviewNote) { n.Text = "a\x00b" }).Validate(), "text", "U+0000"},
		{"broken UTF-8 in a comment", with(goodRating(), func(r *Rating) {
			r.Comment = "\xc3\x28"
		}).Validate(), "comment", "UTF-8"},
		{"a formula in a name", player("=HYPERLINK(1)"), "name", "formula|start with a letter"},
		{"a sum in a name", player("+1+1"), "name", "formula"},
		{"a minus in a name", player("-2"), "name", "formula"},
		{"an at sign in a name", player("@SUM(A1)"), "name", "formula"},
		{"a tab in a name", player("\t=1"), "name", "tab"},
		{"a formula in an opponent", match(func(m *Match) { m.Opponent = "=1+1" }), "opponent", "formula"},
		{"a formula in a source", MatchTotals{Source: "=cmd", Counts: Counts{"carries": 1}}.Validate(), "source", "formula"},
		{"a space before a name", player(" Jo"), "name", "starts or ends with a space"},
		{"no name", player(""), "name", "missing"},
		{"a name of 101 characters", player(strings.Repeat("é", 101)), "name", "101 characters; write at most 100"},
		{"a position twice", Player{Name: "Jo", Positions: []Position{Lock, Lock}}.Validate(), "positions[1]", "twice"},
		{"an unknown position", Player{Name: "Jo", Positions: []Position{"libero"}}.Validate(), "positions[0]",
			"libero|prop, hooker"},
		{"a birthday that is none", Player{Name: "Jo", BornOn: ptr(Date("08-10-11"))}.Validate(), "born_on", "08-10-11"},
		{"an academy without a name", Academy{}.Validate(), "name", "missing"},
	} {
		var e *Error
		if !errors.As(c.err, &e) || e.Code != Invalid {
			t.Errorf("%s: %v, want an Invalid error", c.rule, c.err)
			continue
		}
		found := ""
		for _, f := range e.Fields {
			if f.Where == c.where {
				found += f.Message + "\n"
			}
		}
		if found == "" {
			t.Errorf("%s: nothing at %s but %v", c.rule, c.where, e.Fields)
			continue
		}
		for part := range strings.SplitSeq(c.says, "|") {
			if !strings.Contains(found, part) {
				t.Errorf("%s: %q does not say %q", c.rule, found, part)
			}
		}
	}
}

// A person sees all that is wrong at once.
func TestAllFindingsAreReported(t *testing.T) {
	var e *Error
	if err := (Match{Halves: 9, HalfMinutes: 90}).Validate(); !errors.As(err, &e) || len(e.Fields) < 5 {
		t.Errorf("an empty match has %v", err)
	}
}

func TestAppearanceTakesItsMinutesFromItsStints(t *testing.T) {
	a := goodAppearance()
	a.Minutes = 12
	a.Stints = []Stint{{On: clk(1, 0, 0), Off: clk(1, 42, 0)}, {On: clk(2, 61, 30), Off: clk(2, 80, 0)}}
	if err := a.ValidateIn(match80()); err != nil || a.Minutes != 58.5 {
		t.Errorf("%v minutes, %v; want 58.5", a.Minutes, err)
	}
	b := Appearance{Minutes: 71}
	if err := b.ValidateIn(match80()); err != nil || b.Minutes != 71 {
		t.Errorf("without stints %v minutes, %v; want the 71 given", b.Minutes, err)
	}
}

// The half's last minutes belong to who was on at its regular end, and the last second of a stint to who goes off.
func TestInvolvementsInAddedTimeAndAtASubstitution(t *testing.T) {
	m, l := match80(), Log{Kinds: []Kind{KindTackle}}
	a := Appearance{Stints: []Stint{{On: clk(1, 0, 0), Off: clk(1, 40, 0)}, {On: clk(2, 50, 0), Off: clk(2, 60, 0)}}}
	for c, want := range map[Clock]bool{
		clk(1, 43, 20): true, clk(2, 49, 59): false, clk(2, 50, 0): true, clk(2, 60, 0): true, clk(2, 60, 1): false,
	} {
		i := Involvement{Clock: c, Kind: KindTackle}
		if err := i.ValidateIn(m, a, l); (err == nil) != want {
			t.Errorf("%s: %v", c, err)
		}
	}
}

// session is the error of a changed training session.
func session(change func(*TrainingSession)) error {
	s := TrainingSession{SquadID: 2, Date: "2025-11-04", Start: "18:30", Minutes: 75, Purpose: "Live attack",
		Contact:        true,
		ContactMinutes: ptr(15)}
	change(&s)
	return s.Validate()
}

// attends is the error of a changed attendance.
func attends(change func(*Attendance)) error {
	a := Attendance{SessionID: 4, PlayerID: 7, Status: AttendedModified, Minutes: ptr(40), WithoutContact: true}
	change(&a)
	return a.Validate()
}
