package models

import (
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
	"time"
)

func TestAgeIsAttainedOnTheBirthdayAndOn1MarchWithout29February(t *testing.T) {
	born := func(d Date) Player { return Player{Name: "Bram Oakes", BornOn: &d} }
	for _, c := range []struct {
		born, on Date
		years    int
		minor    bool
	}{
		// Family Law Reform Act 1969 (England), s. 9: an age is attained at the commencement of the anniversary of birth
		// (from memory).
		{"2008-10-03", "2026-10-02", 17, true}, {"2008-10-03", "2026-10-03", 18, false},
		{"2008-10-03", "2008-10-03", 0, true},
		{"2007-12-31", "2026-01-01", 18, false}, {"2008-01-01", "2025-12-31", 17, true},
		// A person born on 29 February has their birthday on 1 March in other years (common practice).
		{"2008-02-29", "2026-02-28", 17, true}, {"2008-02-29", "2026-03-01", 18, false},
		{"2008-02-29", "2024-02-28", 15, true}, {"2008-02-29", "2024-02-29", 16, true},
		{"2010-03-01", "2028-02-29", 17, true}, {"2010-02-28", "2028-02-29", 18, false},
	} {
		years, known := born(c.born).AgeOn(c.on)
		if years != c.years || !known || born(c.born).MinorOn(c.on) != c.minor {
			t.Errorf("born %s, on %s: %d years, known %v, minor %v; want %d, %v", c.born, c.on, years, known,
				born(c.born).MinorOn(c.on), c.years, c.minor)
		}
		if by := MajorBornBy(c.on); (c.born <= by) == c.minor {
			t.Errorf("of age on %s are those born by %s, which is wrong of %s", c.on, by, c.born)
		}
	}
	for _, p := range []Player{{}, born("2030-01-01"), born("soon")} {
		if _, known := p.AgeOn("2026-01-01"); known || !p.MinorOn("2026-01-01") {
			t.Errorf("%v: an age that is not known must count as a minor's", p.BornOn)
		}
	}
}

func TestConsentMissesOnlyWhatIsRequiredForAMinorOnTheDay(t *testing.T) {
	child, adult := Date("2010-05-01"), Date("2001-05-01")
	minor, grown, unknown := Player{Record: Record{ID: 1}, Name: "Bram Oakes", BornOn: &child},
		Player{Record: Record{ID: 1}, BornOn: &adult}, Player{Record: Record{ID: 1}}
	rules := Settings{Requires: []Purpose{PurposeFilming}}
	day := func(d Date) *Date { return &d }
	given := Consent{PlayerID: 1, Purpose: PurposeFilming, Relation: ByGuardian, On: "2025-09-01"}
	with := func(change func(c *Consent)) []Consent {
		c := given
		change(&c)
		return []Consent{c}
	}
	for _, c := range []struct {
		what     string
		player   Player
		consents []Consent
		missing  bool
	}{
		{"none on file", minor, nil, true},
		{"an adult", grown, nil, false},
		{"no birth date", unknown, nil, true},
		{"given", minor, []Consent{given}, false},
		{"given from the day on", minor, with(func(c *Consent) { c.On = "2025-10-04" }), false},
		{"given the day after", minor, with(func(c *Consent) { c.On = "2025-10-05" }), true},
		{"until the day", minor, with(func(c *Consent) { c.Until = day("2025-10-04") }), false},
		{"until the day before", minor, with(func(c *Consent) { c.Until = day("2025-10-03") }), true},
		{"withdrawn before", minor, with(func(c *Consent) { c.WithdrawnOn = day("2025-10-01") }), true},
		{"withdrawn on the day", minor, with(func(c *Consent) { c.WithdrawnOn = day("2025-10-04") }), true},
		{"withdrawn since: nothing new of the time before", minor, with(func(c *Consent) {
			c.WithdrawnOn = day("2025-11-01")
		}), true},
		{"to be withdrawn tomorrow", minor, with(func(c *Consent) { c.WithdrawnOn = day("2025-12-02") }), false},
		{"by himself", minor, with(func(c *Consent) { c.Relation = BySelf }), true},
		{"for another purpose", minor, with(func(c *Consent) { c.Purpose = PurposeSelection }), true},
		{"for another player", minor, with(func(c *Consent) { c.PlayerID = 2 }), true},
	} {
		err := rules.Consented(c.player, c.consents, "2025-10-04", "2025-12-01", PurposeRecords, PurposeFilming,
			PurposeStaffDevices)
		if (err != nil) != c.missing || err != nil && CodeOf(err) != Conflict {
			t.Errorf("%s: %v, want missing %v", c.what, err, c.missing)
		}
	}
	err := rules.Consented(minor, nil, "2025-10-04", "2025-12-01", PurposeFilming)
	for _, want := range []string{"Bram Oakes is 15 on 2025-10-04", "guardian's consent to filming",
		"record the consent, or leave out the video"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("the error %q does not say %q", err, want)
		}
	}
	if err := (Settings{}).Consented(minor, nil, "2025-10-04", "2025-12-01", Purpose("").Codes()...); err != nil {
		t.Errorf("an academy that asks for nothing: %v", err)
	}
	for _, c := range []struct {
		player Player
		by     Relation
		good   bool
	}{{minor, ByGuardian, true}, {minor, BySelf, false}, {grown, BySelf, true}, {grown, ByGuardian, false},
		{unknown, ByGuardian, true}, {unknown, BySelf, false}} {
		if err := (Consent{On: "2025-09-01", Relation: c.by}).ValidateFor(c.player); (err == nil) != c.good {
			t.Errorf("%v by %s: %v", c.player.BornOn, c.by, err)
		}
	}
}

func TestARecordIsFlaggedWhenTheMonthsAreOverAndNotBefore(t *testing.T) {
	kept := Date("2027-01-31")
	for _, c := range []struct {
		months int
		left   Date
		kept   *Date
		today  Date
		want   bool
	}{
		{24, "2023-05-31", nil, "2025-05-31", false}, {24, "2023-05-31", nil, "2025-06-01", true},
		{0, "1999-05-31", nil, "2025-06-01", false},
		{24, "2023-05-31", &kept, "2027-01-31", false}, {24, "2023-05-31", &kept, "2027-02-01", true},
		{240, "2023-05-31", nil, "2043-05-31", false},
	} {
		if got := (Settings{RetentionMonths: c.months}).Flags(c.left, c.kept, c.today); got != c.want {
			t.Errorf("%d months, left %s, kept %v, on %s: %v", c.months, c.left, c.kept, c.today, got)
		}
	}
}

func TestStandDownBlocksEveryMatchFromItsDayButThatOfTheHeadContact(t *testing.T) {
	lifted, own := Date("2025-11-29"), int64(7)
	open, over := StandDown{From: "2025-11-08"}, StandDown{From: "2025-11-08", LiftedOn: &lifted}
	match := func(id int64, day Date) Match { return Match{Record: Record{ID: id}, Date: day} }
	for _, c := range []struct {
		s    StandDown
		m    Match
		in   *int64
		want bool
	}{
		{open, match(1, "2025-11-07"), nil, false}, {open, match(1, "2025-11-08"), nil, true},
		{open, match(1, "2030-01-01"), nil, true},
		{open, match(7, "2025-11-08"), &own, false}, {open, match(8, "2025-11-08"), &own, true},
		{over, match(1, "2025-11-28"), nil, true}, {over, match(1, "2025-11-29"), nil, false},
	} {
		if got := c.s.Blocks(c.m, c.in); got != c.want {
			t.Errorf("from %s, lifted %v: match %d on %s is blocked: %v", c.s.From, c.s.LiftedOn, c.m.ID, c.m.Date, got)
		}
	}
}

// TestMinutesRollOverTheDaysOfTheLimit adds up by hand what a player played for three teams.
func TestMinutesRollOverTheDaysOfTheLimit(t *testing.T) {
	season := Season{Starts: "2025-09-01", Ends: "2026-05-31"}
	played := []Played{{1, "2025-11-05", 60, 0}, {2, "2025-08-30", 80, 0}, {3, "2025-11-01", 70, 0},
		{4, "2025-09-04", 50, 0},
		{5, "2025-11-08", 30, 0}, {6, "2025-12-20", 70, 0}}
	for _, c := range []struct {
		days      int
		on        Date
		now, most float64
		to        Date
	}{
		{7, "2025-11-30", 0, 130, "2025-11-05"},   // 70 on the 1st and 60 on the 5th; on the 8th the 1st is 8 days back
		{8, "2025-11-08", 160, 160, "2025-11-08"}, // all three of them
		{7, "2025-11-04", 70, 130, "2025-09-04"},  // 80 before the season and 50 in it, five days later
		{1, "2025-12-31", 0, 70, "2025-12-20"},    // the later of two such days
		{0, "2025-11-30", 210, 210, "2025-11-08"}, // the season alone: 50 + 70 + 60 + 30
		{0, "2027-01-01", 280, 280, "2025-12-20"},
		{7, "2025-09-03", 80, 0, ""}, // nothing ended within the season so far, and 80 are in the window of the day
	} {
		got := MinutesLimit{Days: c.days, Minutes: 1000, WarnAt: 0.8}.Load(played, season, c.on)
		to := Date("")
		if got.To != nil {
			to = *got.To
		}
		if got.Now != c.now || got.Most != c.most || to != c.to {
			t.Errorf("%d days by %s: now %v, most %v up to %q; want %v, %v up to %q", c.days, c.on, got.Now, got.Most, to,
				c.now, c.most, c.to)
		}
	}
	for minutes, want := range map[float64]LoadWarning{129: LoadOver, 130: LoadNear, 162.5: LoadNear, 163: LoadWithin} {
		if got := (MinutesLimit{Name: "A week", Days: 7, Minutes: minutes, WarnAt: 0.8}).Load(played, season,
			"2025-11-30"); got.Warning != want || !strings.HasPrefix(got.Words, string(want)) {
			t.Errorf("130 of %v minutes: %s, %q; want %s", minutes, got.Warning, got.Words, want)
		}
	}
}

// A match without minutes is in no sum, and the words say how many there are. A limit that such matches may have
// brought near is not known to be kept.
func TestALimitSaysHowManyMatchesLackMinutes(t *testing.T) {
	season := Season{Starts: "2025-09-01", Ends: "2026-05-31"}
	played := []Played{{1, "2025-11-01", 60, 0}, {2, "2025-11-05", 0, 70}}
	for _, c := range []struct {
		limit     float64
		on        Date
		ever, now LoadWarning
		words     string
	}{
		{120, "2025-11-05", LoadUnknown, LoadUnknown,
			"perhaps near the limit “A week”: 60 of 120 minutes in 7 days up to 5 Nov 2025; " +
				"the minutes of 1 match were not recorded"},
		{120, "2025-11-12", LoadUnknown, LoadWithin, "within the limit “A week”: 0 of 120 minutes in 7 days"},
		{500, "2025-11-05", LoadWithin, LoadWithin,
			"within the limit “A week”: at most 60 of 500 minutes in 7 days; the minutes of 1 match were not recorded"},
		{60, "2025-11-05", LoadNear, LoadNear,
			"near the limit “A week”: 60 of 60 minutes in 7 days up to 5 Nov 2025; " +
				"the minutes of 1 match were not recorded"},
	} {
		got := MinutesLimit{Name: "A week", Days: 7, Minutes: c.limit, WarnAt: 0.8}.Load(played, season, c.on)
		if got.Warning != c.ever || got.WarningNow != c.now || got.WordsNow != c.words || got.Unrecorded != 1 ||
			got.Most != 60 || *got.To != "2025-11-01" {
			t.Errorf("of %v by %s: %+v; want %s, now %s, in the words %q", c.limit, c.on, got, c.ever, c.now, c.words)
		}
	}
}

// A limit that was passed weeks ago needs no action now; that of a season ends with it.
func TestALimitWarnsNowOnlyWhileItsWindowHolds(t *testing.T) {
	season := Season{Starts: "2025-09-01", Ends: "2026-05-31"}
	played := []Played{{1, "2025-11-01", 70, 0}, {2, "2025-11-05", 60, 0}}
	for _, c := range []struct {
		days      int
		on        Date
		ever, now LoadWarning
	}{
		{7, "2025-11-05", LoadOver, LoadOver}, {7, "2025-11-08", LoadOver, LoadWithin},
		{7, "2026-03-01", LoadOver, LoadWithin},
		{0, "2026-03-01", LoadOver, LoadOver}, {0, "2026-06-01", LoadOver, LoadWithin},
	} {
		got := MinutesLimit{Name: "A limit", Days: c.days, Minutes: 120, WarnAt: 0.8}.Load(played, season, c.on)
		if got.Warning != c.ever || got.WarningNow != c.now || !strings.HasPrefix(got.WordsNow, string(c.now)) {
			t.Errorf("%d days on %s: %s, now %s, %q; want %s, now %s", c.days, c.on, got.Warning, got.WarningNow, got.WordsNow,
				c.ever, c.now)
		}
	}
}

func TestAHeadContactIsWordedForTheDayOnWhichItIsRead(t *testing.T) {
	h := HeadContact{Date: "2025-11-08"}
	now, late := h.AskOn("2025-11-08"), h.AskOn("2025-11-29")
	if !strings.Contains(now, "goes off now") || strings.Contains(late, "goes off now") ||
		!strings.Contains(late, "should have gone off at once") || !strings.Contains(late, "Check now") {
		t.Errorf("on the day %q, three weeks later %q", now, late)
	}
	at := time.Now()
	if h.ToldAt = &at; h.AskOn("2025-11-29") != "" {
		t.Error("it asks after the medical lead was told")
	}
}

// TestFullestWindowIsTheFullestOfAll holds the sums against adding up every window by itself.
func TestFullestWindowIsTheFullestOfAll(t *testing.T) {
	dice := rand.New(rand.NewPCG(7, 11))
	season := Season{Starts: "2025-09-01", Ends: "2026-05-31"}
	for range 300 {
		played := make([]Played, dice.IntN(40))
		for i := range played {
			played[i] = Played{Date: Date("2025-06-01").AddDays(dice.IntN(330)), Minutes: float64(1 + dice.IntN(80))}
		}
		limit := MinutesLimit{Days: 1 + dice.IntN(40), Minutes: 100, WarnAt: 0.8}
		on := season.Starts.AddDays(dice.IntN(272))
		want := 0.0
		for end := season.Starts; end <= on; end = end.AddDays(1) {
			sum, last := 0.0, Date("")
			for _, p := range played {
				if p.Date <= end && p.Date.DaysUntil(end) < limit.Days {
					sum, last = sum+p.Minutes, max(last, p.Date)
				}
			}
			if last >= season.Starts { // a window with something of the season in it
				want = max(want, sum)
			}
		}
		if got := limit.Load(played, season, on); got.Most != want {
			t.Fatalf("%d days by %s: %v, want %v of %v", limit.Days, on, got.Most, want, played)
		}
	}
}

// figuresOf are the numerators and denominators of what is observed of a play, by indicator.
func figuresOf(p Play) map[string][2]float64 {
	out := map[string][2]float64{}
	seen, _ := Observe(p, IndicatorCatalogue())
	for _, o := range seen {
		out[o.Indicator] = [2]float64{o.Numerator, o.Denominator}
	}
	return out
}

// headPlay is a whole match of 70 minutes with tackles at some minutes.
func headPlay(minutes ...int) Play {
	var all []Involvement
	for _, m := range minutes {
		half := 1
		if m >= 35 {
			half = 2
		}
		all = append(all, Involvement{Clock: Clock{Half: half, Second: 60 * m}, Kind: KindTackle,
			Details: map[string]string{"result": "won"}, Measures: map[string]float64{"seconds_to_feet": 2}})
	}
	return Play{
		Match:      Match{Record: Record{ID: 5}, SquadID: new(int64(1)), Date: "2025-10-04", Halves: 2, HalfMinutes: 35},
		Appearance: Appearance{Minutes: 70, Stints: []Stint{{On: Clock{Half: 1}, Off: Clock{Half: 2, Second: 4200}}}},
		Logs:       []LoggedPlay{{Log: Log{Depth: Full, Finished: true, Kinds: allKinds()}, Involvements: all}},
	}
}

func TestFromAHeadContactOnNothingCountsForAnyFigure(t *testing.T) {
	contact := func(match *int64, date Date, clock *Clock) HeadContact {
		return HeadContact{PlayerID: 1, MatchID: match, Date: date, Clock: clock}
	}
	at := func(m int) *Clock { return &Clock{Half: 2, Second: 60 * m} }
	here, before, after := new(int64(5)), new(int64(4)), new(int64(6))
	down := func(from Date, lifted *Date, in *int64, on *Date) Down {
		return Down{StandDown: StandDown{From: from, LiftedOn: lifted}, ContactIn: in, ContactOn: on}
	}
	day := func(d Date) *Date { return &d }
	whole, half, none := [2]float64{2, 70}, [2]float64{1, 50}, [2]float64{}
	for _, c := range []struct {
		of       string
		contacts []HeadContact
		downs    []Down
		mark     int // the minute of a mark in the log
		tackles  [2]float64
		words    string
	}{
		{"nothing happened", nil, nil, 0, whole, ""},
		{"a head contact at 50:00 and a tackle at 55:00", []HeadContact{contact(here, "2025-10-04", at(50))}, nil, 0, half,
			"at half 2, 50:00"},
		{"the same, marked in the log", nil, nil, 50, half, "at half 2, 50:00"},
		{"at a moment that is not known", []HeadContact{contact(here, "2025-10-04", nil)}, nil, 0, none,
			"moment that was not recorded"},
		{"whose moment was found since", []HeadContact{contact(here, "2025-10-04", nil),
			contact(here, "2025-10-04", at(50))}, nil, 0, half, "50:00"},
		{"in training on the day", []HeadContact{contact(nil, "2025-10-04", nil)}, nil, 0, none, "earlier on the same day"},
		{"in a match before, on the day", []HeadContact{contact(before, "2025-10-04", at(50))}, nil, 0, none,
			"earlier on the same day"},
		{"in a match after, on the day", []HeadContact{contact(after, "2025-10-04", at(50))}, nil, 0, whole, ""},
		{"the day before, no stand-down", []HeadContact{contact(before, "2025-10-03", at(50))}, nil, 0, whole, ""},
		{"stood down after another match", nil, []Down{down("2025-10-02", nil, before, day("2025-10-01"))}, 0, none,
			"stood down since 2025-10-01"},
		{"stood down later than the head contact", nil, []Down{down("2025-10-20", nil, before, day("2025-10-01"))}, 0, none,
			"since 2025-10-01"},
		{"stood down without a head contact", nil, []Down{down("2025-10-04", nil, nil, nil)}, 0, none, "since 2025-10-04"},
		{"stood down from the next day", nil, []Down{down("2025-10-05", nil, nil, nil)}, 0, whole, ""},
		{"cleared for the day", nil, []Down{down("2025-09-01", day("2025-10-04"), nil, nil)}, 0, whole, ""},
		{"cleared for the day after", nil, []Down{down("2025-09-01", day("2025-10-05"), nil, nil)}, 0, none, "since"},
		{"of this match", []HeadContact{contact(here, "2025-10-04", at(50))},
			[]Down{down("2025-10-04", nil, here, day("2025-10-04"))}, 0, half, "50:00"},
	} {
		p := headPlay(20, 55)
		p.Contacts, p.Downs = c.contacts, c.downs
		if c.mark > 0 {
			marked := headPlay(c.mark).Logs[0].Involvements[0]
			marked.HeadContact = true
			p.Logs[0].Involvements = append(p.Logs[0].Involvements, marked)
		}
		got := figuresOf(p)
		if got["tackles"] != c.tackles {
			t.Errorf("%s: tackles per minutes %v, want %v", c.of, got["tackles"], c.tackles)
		}
		p.Totals = &MatchTotals{Counts: Counts{"errors": 1}}
		p.Logs = nil
		if _, counted := figuresOf(p)["errors"]; counted && c.words != "" && c.mark == 0 {
			t.Errorf("%s: totals without a clock count", c.of)
		}
		p = headPlay(20, 55)
		p.Contacts, p.Downs = c.contacts, c.downs
		switch s := p.StopIn(); {
		case c.mark > 0:
		case (s != nil) != (c.words != ""):
			t.Errorf("%s: the stop is %+v", c.of, s)
		case s != nil && (!strings.Contains(s.Words, c.words) || s.Minutes != c.tackles[1]):
			t.Errorf("%s: the stop is %+v, want %q and %g minutes", c.of, s, c.words, c.tackles[1])
		}
	}
}

// TestWhatCountsCountsTheSameOnceTheMarksAreGone is what an erasure rests on: it keeps the play as it counts.
func TestWhatCountsCountsTheSameOnceTheMarksAreGone(t *testing.T) {
	for _, stints := range []bool{true, false} {
		for _, clock := range []Clock{{1, 0}, {1, 60}, {1, 2100}, {1, 2160}, {2, 2100}, {2, 3000}, {2, 4200}, {2, 4260}} {
			p := headPlay(0, 20, 34, 36, 55, 69)
			if !stints {
				p.Appearance.Stints = nil
			}
			p.Contacts = []HeadContact{{MatchID: new(int64(5)), Date: "2025-10-04", Clock: &clock}}
			once := p.Counting()
			if !reflect.DeepEqual(figuresOf(p), figuresOf(once)) {
				t.Errorf("stints %v, stopped at %v: figures %v become %v", stints, clock, figuresOf(p), figuresOf(once))
			}
			for _, l := range once.Logs {
				if err := l.Log.ValidateIn(p.Match); err != nil || l.Log.Validate() != nil && len(l.Log.Covers) == 0 {
					t.Errorf("stopped at %v, the log covers %v: %v", clock, l.Log.Covers, err)
				}
				for _, i := range l.Involvements {
					if i.Clock.Compare(clock) >= 0 {
						t.Errorf("stopped at %v, %v still counts", clock, i.Clock)
					}
				}
			}
			if a := once.Appearance; len(a.Stints) > 0 {
				if err := a.ValidateIn(p.Match); err != nil {
					t.Errorf("stopped at %v, the stints are %v: %v", clock, a.Stints, err)
				}
			}
		}
	}
}

func TestSafetyRecordsSayWhatIsWrongWithThem(t *testing.T) {
	day := func(d Date) *Date { return &d }
	for _, c := range []struct {
		record interface{ Validate() error }
		says   string
	}{
		{Settings{RetentionMonths: 241}, "retention_months"}, {Settings{Requires: []Purpose{"singing"}}, "requires[0]"},
		{Settings{Requires: []Purpose{PurposeFilming, PurposeFilming}}, "listed twice"},
		{Consent{PlayerID: 1, Purpose: PurposeFilming, GivenBy: "A", Relation: "uncle", On: "2025-01-01"}, "relation"},
		{Consent{PlayerID: 1, Purpose: PurposeFilming, GivenBy: "A", Relation: BySelf, On: "2025-01-02",
			Until: day("2025-01-01")}, "until"},
		{Consent{PlayerID: 1, Purpose: PurposeFilming, GivenBy: "A", Relation: BySelf, On: "2025-01-02",
			WithdrawnOn: day("2025-01-01")}, "withdrawn_on"},
		{Guardian{PlayerID: 1, Name: "A"}, "relation"},
		{HeadContact{PlayerID: 1, Date: "2025-01-01", Clock: &Clock{Half: 1}}, "clock"},
		{HeadContact{PlayerID: 1, Date: "2025-01-01", MedicalLead: "A"}, "told_at"},
		{StandDown{PlayerID: 1, From: "2025-01-02", LiftedOn: day("2025-01-03")}, "cleared_by"},
		{StandDown{PlayerID: 1, From: "2025-01-02", LiftedOn: day("2025-01-01"), ClearedBy: "A"}, "lifted_on"},
		{MinutesLimit{Name: "A", Days: 366, Minutes: 1, WarnAt: 0.8}, "days"},
		{MinutesLimit{Name: "A", Minutes: 0, WarnAt: 0.8}, "minutes"},
		{MinutesLimit{Name: "A", Minutes: 1, WarnAt: 0.4}, "warn_at"}, {NoteAnswer{NoteID: 1}, "text"},
		{RetentionReview{PlayerID: 1, KeepUntil: "2025-01-01"}, "because"},
		{MatchEvent{Clock: Clock{Half: 1}, Kind: EventHeadContact, Ours: true}, "player_id"},
	} {
		if err := c.record.Validate(); CodeOf(err) != Invalid || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%+v: %v, want it to name %s", c.record, err, c.says)
		}
	}
	for _, p := range ConsentPurposes() {
		if p.Label == "" || p.For == "" || p.Blocks == "" || p.Else == "" {
			t.Errorf("%s is not explained", p.Code)
		}
	}
}
