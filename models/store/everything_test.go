package store_test

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// changeEverything creates, changes and deletes one record of each kind that the world does not need.
func (w *world) changeEverything(t testing.TB) {
	t.Helper()
	cycle := func(who models.Who, create, update, remove func(tx *store.Tx) error) {
		t.Helper()
		for _, step := range []func(tx *store.Tx) error{create, update, remove} {
			write(t, w.s, who, step)
		}
	}
	season := models.Season{Name: "2026-27", Starts: "2026-09-01", Ends: "2027-05-31"}
	cycle(w.manager, func(tx *store.Tx) error { return tx.CreateSeason(&season) },
		func(tx *store.Tx) error { return tx.UpdateSeason(&season) },
		func(tx *store.Tx) error { return tx.DeleteSeason(season.ID, season.Version) })
	squad := models.Squad{Name: "Sevens"}
	cycle(w.manager, func(tx *store.Tx) error { return tx.CreateSquad(&squad) },
		func(tx *store.Tx) error { return tx.UpdateSquad(&squad) },
		func(tx *store.Tx) error { return tx.DeleteSquad(squad.ID, squad.Version) })
	player := models.Player{Name: "Odd Moen"}
	cycle(w.manager, func(tx *store.Tx) error { return tx.CreatePlayer(&player) },
		func(tx *store.Tx) error { return tx.UpdatePlayer(&player) },
		func(tx *store.Tx) error { return tx.DeletePlayer(player.ID, player.Version) })
	twin, merge := models.Player{Name: "Brim Oakes"}, models.PlayerMerge{PlayerID: w.bram.ID}
	cycle(w.manager, func(tx *store.Tx) error { return tx.CreatePlayer(&twin) },
		func(tx *store.Tx) error { merge.OtherID = twin.ID; return tx.MergePlayers(&merge, "") },
		func(tx *store.Tx) error { _, err := tx.UndoMerge(merge.ID); return err })
	write(t, w.s, w.manager, func(tx *store.Tx) error { return tx.DeletePlayer(twin.ID, twin.Version+2) })
	member := models.Membership{SeasonID: w.season.ID, SquadID: w.juniors.ID, PlayerID: w.bram.ID, From: "2025-11-01",
		Until: ptr(models.Date("2025-11-30"))}
	cycle(w.manager, func(tx *store.Tx) error { return tx.CreateMembership(&member) },
		func(tx *store.Tx) error { return tx.UpdateMembership(&member) },
		func(tx *store.Tx) error { return tx.DeleteMembership(member.ID, member.Version) })
	spell := models.Spell{PlayerID: w.bram.ID, Status: models.Modified, From: "2025-11-01",
		Until: ptr(models.Date("2025-11-20"))}
	cycle(w.manager, func(tx *store.Tx) error { return tx.CreateSpell(&spell) },
		func(tx *store.Tx) error { return tx.UpdateSpell(&spell) },
		func(tx *store.Tx) error { return tx.DeleteSpell(spell.ID, spell.Version) })
	match := models.Match{SeasonID: w.season.ID, SquadID: &w.colts.ID, Date: "2025-11-08", Opponent: "Dunmere", Halves: 2,
		HalfMinutes: 35}
	cycle(w.coach, func(tx *store.Tx) error { return tx.CreateMatch(&match) },
		func(tx *store.Tx) error { match.HalfMinutes = 40; return tx.UpdateMatch(&match) },
		func(tx *store.Tx) error { return tx.DeleteMatch(match.ID, match.Version) })
	event := models.MatchEvent{MatchID: w.match.ID, Clock: clock(1, 20, 0), Kind: models.EventTry, Ours: true,
		PlayerID: &w.bram.ID}
	cycle(w.coach, func(tx *store.Tx) error { return tx.CreateMatchEvent(&event) },
		func(tx *store.Tx) error { return tx.UpdateMatchEvent(&event) },
		func(tx *store.Tx) error { return tx.DeleteMatchEvent(event.ID, event.Version) })
	team := models.TeamTotals{MatchID: w.match.ID, Scope: models.WholeTeam, Counts: models.Counts{"carries": 80}}
	cycle(w.coach, func(tx *store.Tx) error { return tx.CreateTeamTotals(&team) },
		func(tx *store.Tx) error { return tx.UpdateTeamTotals(&team) },
		func(tx *store.Tx) error { return tx.DeleteTeamTotals(team.ID, team.Version) })
	plays := models.Appearance{MatchID: w.schoolMatch.ID, PlayerID: w.bram.ID, Minutes: 50, Started: ptr(true),
		Shirt: ptr(7)}
	cycle(w.coach, func(tx *store.Tx) error { return tx.CreateAppearance(&plays) },
		func(tx *store.Tx) error { return tx.UpdateAppearance(&plays) },
		func(tx *store.Tx) error { return tx.DeleteAppearance(plays.ID, plays.Version) })
	log := models.Log{MatchID: w.match.ID, PlayerID: w.tove.ID, Depth: models.Core, Kinds: []models.Kind{models.KindPass},
		Key: "log-1"}
	write(t, w.s, w.coach, func(tx *store.Tx) error { return tx.CreateLog(&log) })
	pass := models.Involvement{LogID: w.log.ID, Clock: clock(1, 12, 33), Kind: models.KindPass, LinkedTo: &w.carry.ID,
		Key:     "pass-1",
		Details: map[string]string{"result": "accurate"}}
	cycle(w.coach, func(tx *store.Tx) error { return tx.CreateInvolvement(&pass) },
		func(tx *store.Tx) error { return tx.UpdateInvolvement(&pass) },
		func(tx *store.Tx) error { return tx.DeleteInvolvement(pass.ID, pass.Version) })
	cycle(w.coach, func(*store.Tx) error { return nil },
		func(tx *store.Tx) error { log.Finished, log.Key = true, "log-2"; return tx.UpdateLog(&log) },
		func(tx *store.Tx) error { return tx.DeleteLog(log.ID, log.Version) })
	totals := models.MatchTotals{MatchID: w.juniorMatch.ID, PlayerID: w.iver.ID, Source: "by hand",
		Counts: models.Counts{"carries": 3}}
	cycle(w.juniorCoach, func(tx *store.Tx) error { return tx.CreateMatchTotals(&totals) },
		func(tx *store.Tx) error { return tx.UpdateMatchTotals(&totals) },
		func(tx *store.Tx) error { return tx.DeleteMatchTotals(totals.ID, totals.Version) })
	training := models.TrainingObservation{PlayerID: w.bram.ID, Date: "2025-10-21", GoalID: &w.goal.ID,
		Text: "Two late steps in three carries."}
	cycle(w.coach, func(tx *store.Tx) error { return tx.CreateTrainingObservation(&training) },
		func(tx *store.Tx) error { return tx.UpdateTrainingObservation(&training) },
		func(tx *store.Tx) error { return tx.DeleteTrainingObservation(training.ID, training.Version) })
	skill := models.Skill{Code: "restart_chase", Label: "Restart chase", Grades: [5]string{"a", "b", "c", "d", "e"}}
	cycle(w.manager, func(tx *store.Tx) error { return tx.CreateSkill(&skill) },
		func(tx *store.Tx) error { return tx.UpdateSkill(&skill) },
		func(tx *store.Tx) error { return tx.DeleteSkill(skill.ID, skill.Version) })
	indicator := models.Indicator{Code: "line_breaks", Label: "Line breaks", Meaning: "How often you get through.",
		Family: models.Rate,
		Unit:   "per match", Numerator: "line_breaks", Better: models.Higher, Depth: models.Core}
	cycle(w.manager, func(tx *store.Tx) error { return tx.CreateIndicator(&indicator) },
		func(tx *store.Tx) error { return tx.UpdateIndicator(&indicator) },
		func(tx *store.Tx) error { return tx.DeleteIndicator(indicator.ID, indicator.Version) })
	rating := models.Rating{PlayerID: w.bram.ID, Skill: "tackle", Grade: 3, Date: w.match.Date, MatchID: &w.match.ID}
	cycle(w.coach, func(tx *store.Tx) error { return tx.CreateRating(&rating) },
		func(tx *store.Tx) error { return tx.UpdateRating(&rating) },
		func(tx *store.Tx) error { return tx.DeleteRating(rating.ID, rating.Version) })
	block := models.Rating{PlayerID: w.bram.ID, Skill: "tackle", Grade: 3, Date: "2025-11-30", Block: "Autumn"}
	cycle(w.coach, func(tx *store.Tx) error { return tx.CreateRating(&block) },
		func(tx *store.Tx) error { return tx.UpdateRating(&block) },
		func(tx *store.Tx) error { return tx.DeleteRating(block.ID, block.Version) })
	for _, of := range []models.RatingRound{
		{Name: "After Fellmoor", Date: w.match.Date, MatchID: &w.match.ID},
		{Name: "Autumn", Date: "2025-11-30", Block: "Autumn"},
	} {
		round := of
		round.SeasonID, round.SquadID, round.Closes = w.season.ID, w.colts.ID, "2026-03-20"
		cycle(w.coach, func(tx *store.Tx) error { return tx.CreateRatingRound(&round) },
			func(tx *store.Tx) error {
				round.MatchID, round.Block = nil, "Spring"
				return tx.UpdateRatingRound(&round)
			},
			func(tx *store.Tx) error { return tx.DeleteRatingRound(round.ID, round.Version) })
	}
	for _, of := range []models.Rating{{Date: w.match.Date, MatchID: &w.match.ID},
		{Date: "2025-11-30", Block: "Autumn"}} {
		self := models.SelfRating{Rating: of}
		self.Skill, self.Grade = "tackle", 4
		cycle(w.bramHimself, func(tx *store.Tx) error { return tx.CreateSelfRating(&self) },
			func(tx *store.Tx) error { return tx.UpdateSelfRating(&self) },
			func(tx *store.Tx) error { return tx.DeleteSelfRating(self.ID, self.Version) })
	}
	meeting := w.meeting()
	cycle(w.selector, func(tx *store.Tx) error { return tx.CreateMeeting(&meeting) },
		func(tx *store.Tx) error { return tx.UpdateMeeting(&meeting) },
		func(tx *store.Tx) error { return tx.DeleteMeeting(meeting.ID, meeting.Version) })
	goal := models.Goal{PlayerID: w.bram.ID, Skill: "tackle", SetOn: "2025-11-01", By: "2026-02-01", Target: 4,
		Why: "Misses too many.", Insist: insisted, InsistReason: "It is plain to see."}
	check := models.CheckIn{Date: "2025-11-20", Text: "On the way."}
	write(t, w.s, w.coach, func(tx *store.Tx) error {
		if err := tx.CreateGoal(&goal); err != nil {
			return err
		}
		check.GoalID = goal.ID
		return tx.CreateCheckIn(&check)
	})
	cycle(w.coach, func(tx *store.Tx) error { return tx.UpdateCheckIn(&check) },
		func(tx *store.Tx) error { return tx.UpdateGoal(&goal) },
		func(tx *store.Tx) error { return tx.DeleteGoal(goal.ID, goal.Version) })
	note := models.ReviewNote{PlayerID: w.bram.ID, Date: "2025-10-20", MatchID: &w.match.ID, InvolvementID: &w.carry.ID,
		Skill: "tackle", GoalID: &w.goal.ID, Text: "See this one."}
	cycle(w.coach, func(tx *store.Tx) error { return tx.CreateReviewNote(&note) },
		func(tx *store.Tx) error { return tx.UpdateReviewNote(&note) },
		func(tx *store.Tx) error { return tx.DeleteReviewNote(note.ID, note.Version) })
	user := models.User{Login: "odd", Name: "Odd Moen", Role: models.RoleCoach}
	write(t, w.s, w.manager, func(tx *store.Tx) error { return tx.CreateUser(&user) })
	token := models.AccessToken{UserID: w.manager.UserID, Label: "analysis laptop", Scope: models.ScopeWrite,
		ExpiresAt: storetest.Now().AddDate(0, 1, 0),
		Hash:      []byte("01234567890123456789012345678901")}
	cycle(w.manager, func(tx *store.Tx) error { return tx.CreateAccessToken(&token) },
		func(tx *store.Tx) error { return tx.UpdateAccessToken(&token) },
		func(tx *store.Tx) error { return tx.DeleteAccessToken(token.ID, token.Version) })
	w.changeAccounts(t, user.ID)
	read(t, w.s, w.manager, func(tx *store.Tx) (err error) { user, err = tx.User(user.ID); return err })
	cycle(w.manager, func(tx *store.Tx) error { return tx.AddSquadStaff(user.ID, w.colts.ID) },
		func(tx *store.Tx) error { return tx.RemoveSquadStaff(user.ID, w.colts.ID) },
		func(tx *store.Tx) error { return tx.DeleteUser(user.ID, user.Version) })
	for range 2 { // decided for the first time, and again
		write(t, w.s, w.manager, func(tx *store.Tx) error {
			s, err := tx.Settings()
			if err != nil {
				return err
			}
			s.Requires = []models.Purpose{models.PurposeFilming, models.PurposeSelection}
			return tx.SaveSettings(&s)
		})
	}
	consent := models.Consent{PlayerID: w.tove.ID, Purpose: models.PurposeSelection, GivenBy: "Ask Lind",
		Relation: models.ByGuardian, On: "2025-10-01"}
	cycle(w.manager, func(tx *store.Tx) error { return tx.CreateConsent(&consent) },
		func(tx *store.Tx) error { return tx.UpdateConsent(&consent) },
		func(tx *store.Tx) error { return tx.DeleteConsent(consent.ID, consent.Version) })
	guardian := models.Guardian{PlayerID: w.tove.ID, Name: "Ask Lind", Relation: "father"}
	cycle(w.manager, func(tx *store.Tx) error { return tx.CreateGuardian(&guardian) },
		func(tx *store.Tx) error { return tx.UpdateGuardian(&guardian) },
		func(tx *store.Tx) error { return tx.DeleteGuardian(guardian.ID, guardian.Version) })
	limit := models.MinutesLimit{Name: "A month", Days: 30, Minutes: 400, SquadID: &w.colts.ID}
	cycle(w.manager, func(tx *store.Tx) error { return tx.CreateMinutesLimit(&limit) },
		func(tx *store.Tx) error { return tx.UpdateMinutesLimit(&limit) },
		func(tx *store.Tx) error { return tx.DeleteMinutesLimit(limit.ID, limit.Version) })
	contact := models.HeadContact{PlayerID: w.tove.ID, Date: "2025-11-11"}
	cycle(w.manager, func(tx *store.Tx) error { return tx.CreateHeadContact(&contact) },
		func(tx *store.Tx) (err error) {
			contact, err = tx.TellMedicalLead(contact.ID, "Dr Ina Fold")
			return err
		},
		func(tx *store.Tx) error { return tx.DeleteHeadContact(contact.ID, contact.Version) })
	blow := models.MatchEvent{MatchID: w.match.ID, Clock: clock(1, 20, 0), Kind: models.EventHeadContact, Ours: true,
		PlayerID: &w.bram.ID}
	cycle(w.coach, func(tx *store.Tx) error { return tx.CreateMatchEvent(&blow) },
		func(tx *store.Tx) error { return tx.UpdateMatchEvent(&blow) },
		func(tx *store.Tx) error { return tx.DeleteMatchEvent(blow.ID, blow.Version) })
	knock := models.Involvement{LogID: w.log.ID, Clock: clock(1, 14, 0), Kind: models.KindTackle, HeadContact: true}
	cycle(w.coach, func(tx *store.Tx) error { return tx.CreateInvolvement(&knock) },
		func(tx *store.Tx) error { return tx.UpdateInvolvement(&knock) },
		func(tx *store.Tx) error { return tx.DeleteInvolvement(knock.ID, knock.Version) })
	down := models.StandDown{PlayerID: w.bram.ID, From: "2025-11-11"}
	cycle(w.coach, func(tx *store.Tx) error { return tx.CreateStandDown(&down) },
		func(tx *store.Tx) error { _, err := tx.StandDown(down.ID); return err },
		func(tx *store.Tx) error { _, err := tx.Safety(w.bram.ID, w.season.ID, "2025-11-12"); return err })
	cycle(w.manager, func(tx *store.Tx) error {
		_, err := tx.LiftStandDown(down.ID, "2025-11-20", "Dr Ina Fold")
		return err
	},
		func(tx *store.Tx) error { m := w.match; m.Date = "2025-10-06"; return tx.UpdateMatch(&m) },
		func(tx *store.Tx) error { m := w.match; m.Version++; return tx.UpdateMatch(&m) })
	write(t, w.s, w.manager, func(tx *store.Tx) error { _, err := tx.SeeNoteAnswer(w.answer.ID); return err })
	write(t, w.s, w.manager, func(tx *store.Tx) error { _, err := tx.Retention(); return err })
	write(t, w.s, w.bramHimself, func(tx *store.Tx) error { return tx.MarkReviewNoteRead(w.note.ID) })
	write(t, w.s, w.manager, func(tx *store.Tx) error {
		return tx.AddPlays([]models.Play{{Match: w.juniorMatch, Appearance: models.Appearance{PlayerID: w.noor.ID,
			Minutes: 20, Shirt: ptr(20)},
			Totals: &models.MatchTotals{Source: "by hand", Counts: models.Counts{"carries": 2}}}})
	})
	write(t, w.s, w.manager, func(tx *store.Tx) error {
		return tx.KeepTrends(models.SquadSeason{SeasonID: w.season.ID, SquadID: w.colts.ID, Revision: 1},
			[]models.Trend{{PlayerID: w.bram.ID, Indicator: "carries", Figures: models.TrendFigures{Verdict: "unclear"},
				Publication: &models.Publication{PlayerID: w.bram.ID, Indicator: "carries", Round: "2025-10-04",
					Covers: []string{"1"}}}})
	})
	write(t, w.s, w.manager, func(tx *store.Tx) error {
		on := models.Date("2025-10-11")
		return tx.KeepScore(models.SquadSeason{SeasonID: w.season.ID, SquadID: w.colts.ID, Revision: 1}, models.Score{
			Said: []models.Forecast{{PlayerID: w.bram.ID, Indicator: "carries", Origin: "2025-10-04", Family: models.Rate,
				Next: models.ForecastCame{On: &on, Matches: 1, Value: 4, Of: 1, Below: 0.4, UpTo: 0.5}}},
			SaidPairs: []models.ForecastPair{{PlayerID: w.bram.ID, OtherID: w.tove.ID, Indicator: "carries",
				Origin: "2025-10-04", Family: models.Rate, Chance: 0.6, SettledOn: &on, Value: 5, OtherValue: 4}},
		})
	})
	write(t, w.s, w.manager, func(tx *store.Tx) error { _, _, err := tx.Recompute(w.season.ID); return err })
	write(t, w.s, w.manager, func(tx *store.Tx) error { _, _, err := tx.Recompute(0); return err })
}

// changeAccounts does once everything that is about coming in, and to no one whom the world needs.
func (w *world) changeAccounts(t testing.TB, user int64) {
	t.Helper()
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	who, err := w.s.WhoByID(t.Context(), w.academy.ID, user)
	must(err)
	hash := []byte("abcdefghabcdefghabcdefghabcdefgh")
	session := models.Session{Key: strings.Repeat("k", 43), AcademyID: w.academy.ID, UserID: user, Data: []byte{1}}
	write(t, w.s, w.manager, func(tx *store.Tx) error { return tx.CreateLink(&models.Link{UserID: user, Hash: hash}) })
	_, err = w.s.Invited(t.Context(), hash)
	must(err)
	_, err = w.s.UseLink(t.Context(), hash, passwordHash, "192.0.2.1")
	must(err)
	must(w.s.SignInRefused(t.Context(), who))
	_, err = w.s.TryToSignIn(t.Context(), store.SignInTry{AcademyID: w.academy.ID, UserID: user, Part: models.PartCode,
		Devices: [][]byte{hash}})
	must(err)
	must(w.s.SignedIn(t.Context(), who, [][]byte{hash}, []byte("ABCDEFGHabcdefghABCDEFGHabcdefgh")))
	must(w.s.SignedOut(t.Context(), who))
	must(w.s.KeepSession(t.Context(), session, time.Hour))
	kept, err := w.s.Session(t.Context(), session.Key)
	must(err)
	must(w.s.ProlongSession(t.Context(), kept, 2*time.Hour, 12*time.Hour))
	write(t, w.s, who, func(tx *store.Tx) error { return tx.SetPassword(user, passwordHash) })
	write(t, w.s, who, func(tx *store.Tx) error { return tx.RememberDevice(hash) })
	write(t, w.s, who, func(tx *store.Tx) error { return tx.OfferSecondFactor("JBSWY3DPEHPK3PXP") })
	write(t, w.s, who, func(tx *store.Tx) error { return tx.ConfirmSecondFactor(7) })
	write(t, w.s, who, func(tx *store.Tx) error { return tx.UseCode(8) })
	write(t, w.s, who, func(tx *store.Tx) error { return tx.EndSecondFactor(9) })
	write(t, w.s, w.manager, func(tx *store.Tx) error { return tx.EndSecondFactorOf(user) })
	must(w.s.KeepSession(t.Context(), session, time.Hour))
	write(t, w.s, who, func(tx *store.Tx) error { return tx.EndOtherSessions("") })
	must(w.s.KeepSession(t.Context(), session, time.Hour))
	must(w.s.EndSession(t.Context(), session.Key))
	must(w.s.SignedOut(t.Context(), who))
}

// passwordHash is no one's: what matters here is its form.
const passwordHash = "$argon2id$v=19$m=19456,t=2,p=1$c2FsdHNhbHRzYWx0c2FsdA$aGFzaGhhc2hoYXNoaGFzaGhhc2hoYXNoaGFzaGhhc2g"

// readEverything reads every list by every filter, and returns how many records there were of each. The lists of kinds
// are found (readLists); what else the store reads stands here.
func (w *world) readEverything(t testing.TB, who models.Who) map[string]int {
	t.Helper()
	seen := map[string]int{}
	read(t, w.s, who, func(tx *store.Tx) error {
		list := func(name string, n int, err error) {
			t.Helper()
			if err != nil && models.CodeOf(err) != models.Forbidden && models.CodeOf(err) != models.NotFound {
				t.Errorf("%s: %v", name, err)
			}
			seen[name] = max(seen[name], n)
		}
		season, squad, player, match := w.season.ID, w.colts.ID, w.bram.ID, w.match.ID
		w.readLists(tx, list)
		events, err := tx.MatchEvents(match)
		list("match events", len(events), err)
		skills, err := tx.Skills()
		list("skills", len(skills), err)
		indicators, err := tx.Indicators()
		list("indicators", len(indicators), err)
		checks, err := tx.CheckIns(w.goal.ID)
		list("check-ins", len(checks), err)
		for _, user := range []int64{0, who.UserID} {
			staff, err := tx.SquadStaff(user)
			list("squad staff", len(staff), err)
			tokens, err := tx.AccessTokens(user)
			list("access tokens", len(tokens), err)
		}
		if _, err := tx.AcademyName(); err != nil {
			t.Error(err)
		}
		sessions, err := tx.Sessions()
		list("sessions", len(sessions), err)
		_, err = tx.Account()
		list("account", 0, err)
		names, err := tx.UserNames()
		list("names", len(names), err)
		decided, err := tx.Settings()
		list("settings", int(decided.Version), err)
		limits, err := tx.MinutesLimits()
		list("limits of minutes", len(limits), err)
		for _, note := range []int64{0, w.note.ID} {
			answers, err := tx.NoteAnswers(note)
			list("answers", len(answers), err)
		}
		for _, of := range []int64{0, w.noor.ID} {
			reviews, err := tx.RetentionReviews(of)
			list("retention reviews", len(reviews), err)
		}
		left, err := tx.Retention()
		list("departed", len(left), err)
		waiting, err := tx.WorkCounts(&w.season, "2026-01-10")
		n := 0
		for _, one := range waiting {
			n += one.N
		}
		list("work", n, err)
		birthdays, err := tx.Items(models.ItemFilter{Kind: models.ItemComingOfAge}, "2026-03-20")
		list("birthdays", len(birthdays), err)
		loads, err := tx.PlayerLoad(player, "2025-12-01")
		list("loads", len(loads), err)
		several, err := tx.Loads(season, "2025-12-01", []int64{player, w.tove.ID})
		list("loads", len(several), err)
		several, err = tx.LoadsNow(season, "2025-12-01", []int64{player, w.tove.ID})
		list("loads", len(several), err)
		safety, err := tx.Safety(player, season, "2025-12-01")
		list("safety", len(safety.HeadContacts)+len(safety.StandDowns)+len(safety.Missing)+len(safety.Loads), err)
		err = tx.Consented(player, "2025-12-01", models.PurposeFilming)
		list("consented", 0, err)
		for _, f := range []models.ObservationFilter{{}, {PlayerID: player}, {SeasonID: season}, {MatchID: match},
			{SquadID: squad}, {SquadID: squad, SeasonID: season}, {PlayerID: player, SeasonID: season}} {
			all, err := tx.Observations(f)
			list("observations", len(all), err)
			cells, err := tx.CarryCells(f)
			list("carry cells", len(cells), err)
		}
		group := models.GroupFilter{SeasonID: season, SquadID: squad}
		if tx.Who().Role != models.RolePlayer { // a player reads what is published
			mates, err := tx.GroupObservations(group)
			list("group observations", len(mates), err)
		}
		over, err := tx.OverExpected(player, season, squad)
		list("metres over expected", len(over), err)
		withheld, err := tx.TrendsWithheld(season, squad)
		list("withheld trends", map[bool]int{true: 1}[withheld], err)
		for _, f := range []models.TrendFilter{{}, {PlayerID: player}, {SeasonID: season},
			{SquadID: squad, SeasonID: season}, {PlayerID: player, SeasonID: season, SquadID: squad},
			{SeasonID: season, Verdicts: []string{"improving", "declining"}}} {
			all, err := tx.Trends(f)
			list("trends", len(all), err)
			published, err := tx.Publications(f)
			if models.CodeOf(err) != models.Forbidden {
				list("publications", len(published), err)
			}
			of := models.ForecastFilter{PlayerID: f.PlayerID, SeasonID: f.SeasonID, SquadID: f.SquadID}
			said, err := tx.Forecasts(of)
			pairs, err2 := tx.ForecastPairs(of)
			if models.CodeOf(err) != models.Forbidden { // which managers and the console alone read
				list("forecasts", len(said), err)
				list("forecasts of pairs", len(pairs), err2)
			}
		}
		for _, f := range []models.AuditFilter{{}, {PlayerID: player}, {UserID: w.coach.UserID},
			{PlayerID: player, Action: models.AuditChange}, {From: ptr(models.Date("2025-11-01"))}} {
			all, err := tx.AuditEntries(f)
			if tx.Who().Role == models.RoleConsole || tx.Who().Role == models.RoleManager { // no one else reads the trail
				list("audit entries", len(all), err)
				latest, err := tx.LatestAuditEntries(f, 1000, 50)
				list("latest audit entries", len(latest), err)
			}
		}
		requests, err := tx.DataRequests()
		if models.CodeOf(err) != models.Forbidden {
			list("data requests", len(requests), err)
		}
		past, err := tx.Earlier("goal", w.goal.ID)
		list("earlier versions", len(past), err)
		_, err = tx.SquadSeason(season, squad)
		list("squads' seasons", 0, err)
		behind, err := tx.StaleSquadSeasons()
		list("squads' seasons", len(behind), err)
		return nil
	})
	return seen
}

// unlisted are the kinds without a list: a one-time link is answered once, and an academy has one record of settings.
var unlisted = []string{"links", "academy_settings"}

// listing is a list of the records of a kind.
type listing struct {
	name string
	// narrowings are the narrowings of the list itself, by its filter: none, each, and each two.
	narrowings []func() ([]any, error)
}

// listings are the lists of all kinds: that which every kind has, and each function of a transaction that takes a
// filter and returns records of a kind. So a new kind is among them without a word here.
func (w *world) listings(tx *store.Tx) (all []listing) {
	rows := map[reflect.Type]bool{}
	for _, d := range store.DeclaredTables() {
		if d.Kind && !slices.Contains(unlisted, d.Name) {
			rows[reflect.SliceOf(reflect.TypeOf(d.Row))] = true
			all = append(all, listing{d.Name, []func() ([]any, error){func() ([]any, error) { return d.List(tx) }}})
		}
	}
	of := reflect.ValueOf(tx)
	for i := range of.NumMethod() {
		call, name := of.Method(i), of.Type().Method(i).Name
		t := call.Type()
		if t.NumIn() != 1 || t.NumOut() != 2 || !rows[t.Out(0)] || !strings.HasSuffix(t.In(0).Name(), "Filter") {
			continue
		}
		l := listing{name: strings.ToLower(name)}
		for _, filter := range w.filters(t.In(0)) {
			l.narrowings = append(l.narrowings, func() ([]any, error) {
				got := call.Call([]reflect.Value{filter})
				found := make([]any, got[0].Len())
				for n := range found {
					found[n] = got[0].Index(n).Interface()
				}
				err, _ := got[1].Interface().(error)
				return found, err
			})
		}
		all = append(all, l)
	}
	return all
}

// filters are an empty filter of a type, those with one field, and those with two.
func (w *world) filters(t reflect.Type) []reflect.Value {
	all := []reflect.Value{reflect.Zero(t)}
	for a := range t.NumField() {
		for b := a; b < t.NumField(); b++ {
			filter := reflect.New(t).Elem()
			for _, n := range []int{a, b} {
				filter.Field(n).Set(w.filled(t.Field(n)))
			}
			all = append(all, filter)
		}
	}
	return all
}

// filled is what a filter asks for in a field.
func (w *world) filled(f reflect.StructField) reflect.Value {
	ids := map[string]int64{"SeasonID": w.season.ID, "SquadID": w.colts.ID, "PlayerID": w.bram.ID, "MatchID": w.match.ID,
		"LogID": w.log.ID, "GoalID": w.goal.ID, "UserID": w.coach.UserID}
	switch v := reflect.New(f.Type).Elem(); {
	case f.Type.Kind() == reflect.Int64:
		v.SetInt(max(ids[f.Name], 1))
		return v
	case f.Type.Kind() == reflect.Int:
		v.SetInt(3)
		return v
	case f.Type.Kind() == reflect.Bool:
		v.SetBool(true)
		return v
	case f.Type == reflect.TypeFor[models.Date]():
		return reflect.ValueOf(w.match.Date)
	case f.Type.Kind() == reflect.String:
		v.SetString("coach")
		return v
	case f.Type == reflect.TypeFor[[]int64]():
		return reflect.ValueOf([]int64{w.bram.ID, w.tove.ID})
	case f.Type == reflect.TypeFor[*models.Date]():
		return reflect.ValueOf(ptr(w.match.Date))
	default:
		panic(fmt.Sprintf("models/store/everything_test.go: filled knows no value for %s %v; add one", f.Name, f.Type))
	}
}

// readLists reads all lists of kinds by every filter, and tells how many records each has.
func (w *world) readLists(tx *store.Tx, told func(name string, n int, err error)) {
	for _, l := range w.listings(tx) {
		for _, read := range l.narrowings {
			found, err := read()
			told(l.name, len(found), err)
		}
	}
}
