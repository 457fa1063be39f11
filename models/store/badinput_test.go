package store_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// badInputs are records that break one rule each, and a part of what the person who sent them must be told.
func badInputs(w *world) []struct {
	name string
	code models.Code
	says string
	make func(tx *store.Tx) error
} {
	tackle := models.Involvement{LogID: w.log.ID, Clock: clock(1, 20, 0), Kind: models.KindTackle}
	with := func(change func(i *models.Involvement)) func(tx *store.Tx) error {
		i := tackle
		change(&i)
		return func(tx *store.Tx) error { return tx.CreateInvolvement(&i) }
	}
	appear := func(a models.Appearance) func(tx *store.Tx) error {
		return func(tx *store.Tx) error { return tx.CreateAppearance(&a) }
	}
	player := func(name string) func(tx *store.Tx) error {
		return func(tx *store.Tx) error { return tx.CreatePlayer(&models.Player{Name: name}) }
	}
	rate := func(change func(r *models.Rating)) func(tx *store.Tx) error {
		r := models.Rating{PlayerID: w.bram.ID, RaterID: w.coach.UserID, Skill: "tackle", Grade: 3, Date: w.match.Date,
			MatchID: &w.match.ID}
		change(&r)
		return func(tx *store.Tx) error { return tx.CreateRating(&r) }
	}
	round := func(change func(r *models.RatingRound)) func(tx *store.Tx) error {
		r := models.RatingRound{SeasonID: w.season.ID, SquadID: w.colts.ID, Name: "After Fellmoor", Date: w.match.Date,
			MatchID: &w.match.ID, Closes: "2025-10-12"}
		change(&r)
		return func(tx *store.Tx) error { return tx.CreateRatingRound(&r) }
	}
	meet := func(change func(m *models.Meeting)) func(tx *store.Tx) error {
		m := w.meeting()
		change(&m)
		return func(tx *store.Tx) error { return tx.CreateMeeting(&m) }
	}
	return []struct {
		name string
		code models.Code
		says string
		make func(tx *store.Tx) error
	}{
		{"too many minutes", models.Invalid, "95 is more than the 70 minutes of a full match",
			appear(models.Appearance{MatchID: w.match.ID, PlayerID: w.noor.ID, Minutes: 95})},
		{"minutes that are no number", models.Invalid, "minutes",
			appear(models.Appearance{MatchID: w.match.ID, PlayerID: w.noor.ID, Minutes: math.NaN()})},
		{"stints that overlap", models.Invalid, "overlaps",
			appear(models.Appearance{MatchID: w.match.ID, PlayerID: w.noor.ID,
				Stints: []models.Stint{{On: clock(1, 0, 0), Off: clock(1, 20, 0)}, {On: clock(1, 15, 0), Off: clock(1, 35, 0)}}})},
		{"a stint beyond the match", models.Invalid, "stints[0]",
			appear(models.Appearance{MatchID: w.match.ID, PlayerID: w.noor.ID,
				Stints: []models.Stint{{On: clock(3, 70, 0), Off: clock(3, 80, 0)}}})},
		{"a duplicate shirt", models.Conflict, "already has shirt 7",
			appear(models.Appearance{MatchID: w.match.ID, PlayerID: w.noor.ID, Minutes: 5, Shirt: ptr(7)})},
		{"a second appearance", models.Conflict, "already has an appearance in this match",
			appear(models.Appearance{MatchID: w.match.ID, PlayerID: w.bram.ID, Minutes: 5})},
		{"a match outside its season", models.Invalid, "not in the season", func(tx *store.Tx) error {
			return tx.CreateMatch(&models.Match{SeasonID: w.season.ID, SquadID: &w.colts.ID, Date: "2026-07-04",
				Opponent: "Fellmoor", Halves: 2, HalfMinutes: 35})
		}},
		{"a match on no day", models.Invalid, "date", func(tx *store.Tx) error {
			return tx.CreateMatch(&models.Match{SeasonID: w.season.ID, SquadID: &w.colts.ID, Date: "2025-02-30",
				Opponent: "Fellmoor", Halves: 2, HalfMinutes: 35})
		}},
		{"a membership outside its season", models.Invalid, "not in the season", func(tx *store.Tx) error {
			return tx.CreateMembership(&models.Membership{SeasonID: w.season.ID, SquadID: w.colts.ID, PlayerID: w.noor.ID,
				From: "2025-08-01"})
		}},
		{"a membership twice", models.Conflict, "is already in Colts at that time", func(tx *store.Tx) error {
			return tx.CreateMembership(&models.Membership{SeasonID: w.season.ID, SquadID: w.colts.ID, PlayerID: w.bram.ID,
				From: "2025-10-01"})
		}},
		{"a season that leaves its matches out", models.Conflict, "outside the season", func(tx *store.Tx) error {
			s := w.season
			s.Ends = "2025-09-30"
			return tx.UpdateSeason(&s)
		}},
		{"a log of a player without an appearance", models.Invalid, "has no appearance", func(tx *store.Tx) error {
			return tx.CreateLog(&models.Log{MatchID: w.match.ID, PlayerID: w.noor.ID, LoggerID: w.coach.UserID,
				Depth: models.Core, Kinds: []models.Kind{models.KindCarry}})
		}},
		{"a second log by the same person", models.Conflict, "already", func(tx *store.Tx) error {
			return tx.CreateLog(&models.Log{MatchID: w.match.ID, PlayerID: w.bram.ID, LoggerID: w.coach.UserID,
				Depth: models.Core, Kinds: []models.Kind{models.KindCarry}})
		}},
		{"totals of a player without an appearance", models.Invalid, "has no appearance", func(tx *store.Tx) error {
			return tx.CreateMatchTotals(&models.MatchTotals{MatchID: w.match.ID, PlayerID: w.noor.ID, Source: "by hand",
				Counts: models.Counts{"carries": 1}})
		}},
		{"an involvement outside his stints", models.Invalid, "on the pitch", with(func(i *models.Involvement) {
			i.Clock = clock(2, 68, 0)
		})},
		{"an involvement outside the match", models.Invalid, "clock", with(func(i *models.Involvement) {
			i.Clock = clock(3, 71, 0)
		})},
		{"an involvement of a kind that is not logged", models.Invalid, "is not a kind that the log covers",
			with(func(i *models.Involvement) {
				i.Kind = models.KindScrum
			})},
		{"an unknown kind", models.Invalid, `"hug" is unknown`, with(func(i *models.Involvement) { i.Kind = "hug" })},
		{"an unknown detail", models.Invalid, "details.mood", with(func(i *models.Involvement) {
			i.Details = map[string]string{"mood": "good"}
		})},
		{"an unknown code of a detail", models.Invalid, "unknown", with(func(i *models.Involvement) {
			i.Details = map[string]string{"result": "splendid"}
		})},
		{"metres on a tackle", models.Invalid, "measures.metres", with(func(i *models.Involvement) {
			i.Measures = map[string]float64{"metres": 4}
		})},
		{"a result twice", models.Invalid, "twice", with(func(i *models.Involvement) {
			i.Results = []models.Result{models.ResultError, models.ResultError}
		})},
		{"a link from a tackle", models.Invalid, "linked_to", with(func(i *models.Involvement) {
			i.LinkedTo = &w.carry.ID
		})},
		{"a link to nothing", models.Invalid, "there is no involvement", with(func(i *models.Involvement) {
			i.Kind, i.LinkedTo = models.KindPass, ptr(int64(99_999))
		})},
		{"an unknown count", models.Invalid, "counts.hugs", func(tx *store.Tx) error {
			return tx.CreateTeamTotals(&models.TeamTotals{MatchID: w.match.ID, Scope: models.WholeTeam,
				Counts: models.Counts{"hugs": 1}})
		}},
		{"a grade of 6", models.Invalid, "grade: 6 is not allowed; write 1 to 5", rate(func(r *models.Rating) {
			r.Grade = 6
		})},
		{"a rating of an unknown skill", models.Invalid, "there is no skill", rate(func(r *models.Rating) {
			r.Skill = "charm"
		})},
		{"a rating on another day than its match", models.Invalid, "not the day of the match", rate(func(r *models.Rating) {
			r.Date = "2025-10-05"
		})},
		{"a self-rating by a coach", models.Invalid, "the player's own user", rate(func(r *models.Rating) {
			r.Self = true
		})},
		{"a self-rating in another's name", models.Forbidden, "can give this self-rating", rate(func(r *models.Rating) {
			r.Self, r.RaterID = true, w.bramHimself.UserID
		})},
		{"a round that closes before its match", models.Invalid, "before the day the grades are for",
			round(func(r *models.RatingRound) {
				r.Closes = "2025-10-01"
			})},
		{"a round for another squad's match", models.Invalid, "another squad", round(func(r *models.RatingRound) {
			r.SquadID = w.juniors.ID
		})},
		{"a round in another season than its match", models.Invalid, "season_id", round(func(r *models.RatingRound) {
			r.SeasonID = w.last.ID
		})},
		{"a round on another day than its match", models.Invalid, "not the day of the match",
			round(func(r *models.RatingRound) {
				r.Date = "2025-10-05"
			})},
		{"a round for a block outside its season", models.Invalid, "not in the season", round(func(r *models.RatingRound) {
			r.MatchID, r.Block, r.Date, r.Closes = nil, "Summer", "2026-07-01", "2026-07-02"
		})},
		{"a second round for the same match", models.Conflict, "already a round for Colts", func(tx *store.Tx) error {
			return all(func() error {
				return round(func(*models.RatingRound) {})(tx)
			}, func() error { return round(func(r *models.RatingRound) { r.Name = "x" })(tx) })
		}},
		{"a candidate who does not exist", models.Invalid, "candidates[1].player_id: there is no player 99999",
			meet(func(m *models.Meeting) {
				m.Candidates[1].PlayerID = 99_999
			})},
		{"a decision before the comparison is open", models.Conflict, "not open yet", meet(func(m *models.Meeting) {
			m.Candidates[0].Decision, m.Candidates[0].Reason = models.Deferred, "Not seen enough."
		})},
		{"a criterion on an unknown skill", models.Invalid, "criteria[1].skill: there is no skill",
			meet(func(m *models.Meeting) {
				m.Criteria[1].Skill = "charm"
			})},
		{"a criterion on an unknown indicator", models.Invalid, "criteria[0].indicator: there is no indicator",
			meet(func(m *models.Meeting) {
				m.Criteria[0].Indicator = "charm"
			})},
		{"a player at a meeting", models.Invalid, "not one of the staff", meet(func(m *models.Meeting) {
			m.Present[0].UserID = &w.bramHimself.UserID
		})},
		{"a new meeting that is closed", models.Conflict, "the criteria are not locked", meet(func(m *models.Meeting) {
			m.Status = models.MeetingClosed
		})},
		{"a goal on an unknown indicator", models.Invalid, "there is no indicator", func(tx *store.Tx) error {
			return tx.CreateGoal(&models.Goal{PlayerID: w.bram.ID, OwnerID: w.coach.UserID, Indicator: "charm",
				SetOn: "2025-10-10", By: "2026-01-01", Target: 1, Why: "x"})
		}},
		{"another player's goal", models.Invalid, "another player", func(tx *store.Tx) error {
			return tx.CreateTrainingObservation(&models.TrainingObservation{PlayerID: w.tove.ID, CoachID: w.coach.UserID,
				Date: "2025-10-21", GoalID: &w.goal.ID, Text: "x"})
		}},
		{"another player's involvement", models.Invalid, "another player", func(tx *store.Tx) error {
			return tx.CreateReviewNote(&models.ReviewNote{PlayerID: w.tove.ID, AuthorID: w.coach.UserID, Date: "2025-10-21",
				InvolvementID: &w.carry.ID, Text: "x"})
		}},
		{"overlapping availability", models.Invalid, "overlaps another one", func(tx *store.Tx) error {
			for range 2 {
				if err := tx.CreateSpell(&models.Spell{PlayerID: w.bram.ID, Status: models.Modified,
					From: "2025-11-01"}); err != nil {
					return err
				}
			}
			return nil
		}},
		{"a login that is taken", models.Conflict, "is taken", func(tx *store.Tx) error {
			return tx.CreateUser(&models.User{Login: "coach@harbour", Name: "Somebody Else", Role: models.RoleCoach})
		}},
		{"a second user of a player", models.Conflict, "already has a user", func(tx *store.Tx) error {
			return tx.CreateUser(&models.User{Login: "bram2", Name: "Bram Oakes", Role: models.RolePlayer,
				PlayerID: &w.bram.ID})
		}},
		{"an indicator that every academy has", models.Conflict, "is the code of a built-in", func(tx *store.Tx) error {
			return tx.CreateIndicator(&models.Indicator{Code: "carries", Label: "Carries", Meaning: "x", Family: models.Rate,
				Unit:      "per match",
				Numerator: "carries", Better: models.Higher, Depth: models.Core})
		}},
		{"a season of the same name", models.Conflict, "already a season", func(tx *store.Tx) error {
			return tx.CreateSeason(&models.Season{Name: "2025-26", Starts: "2025-09-01", Ends: "2026-05-31"})
		}},
		{"broken UTF-8", models.Invalid, "UTF-8", player("Bram \xff Oakes")},
		{"a NUL", models.Invalid, "control character", player("Bram\x00Oakes")},
		{"a formula as a name", models.Invalid, "formula", player("=HYPERLINK(1)")},
		{"a name too long", models.Invalid, "characters", player(strings.Repeat("é", 101))},
		{"NUL in a note", models.Invalid, "control character", func(tx *store.Tx) error {
			return tx.CreateReviewNote(&models.ReviewNote{PlayerID: w.bram.ID, AuthorID: w.coach.UserID, Date: "2025-10-21",
				Text: "a\x00b"})
		}},
		{"NUL in a key", models.Invalid, "key", with(func(i *models.Involvement) { i.Key = "a\x00" })},
	}
}

func TestBadInputIsRefusedAndNothingIsHalfWritten(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		before := content(t, s, w.academy.ID)
		for _, bad := range badInputs(w) {
			t.Run(bad.name, func(t *testing.T) {
				err := refused(t, s, w.manager, bad.code, func(tx *store.Tx) error {
					squad := models.Squad{Name: "Sevens"} // good, and must go with the bad one
					if err := tx.CreateSquad(&squad); err != nil {
						return err
					}
					return bad.make(tx)
				})
				if err != nil && !strings.Contains(err.Error(), bad.says) {
					t.Errorf("error %q does not say %q", err, bad.says)
				}
			})
		}
		if after := content(t, s, w.academy.ID); !slices.Equal(before, after) {
			t.Errorf("something was written: %d rows before, %d after", len(before), len(after))
		}
	})
}

func TestRefusedRecordLeavesTheRestOfTheTransactionGood(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		for _, bad := range badInputs(w) {
			if bad.name == "overlapping availability" || bad.name == "a second round for the same match" {
				continue // its first half is good
			}
			t.Run(bad.name, func(t *testing.T) {
				kept := models.Squad{Name: "After " + bad.name}
				write(t, s, w.manager, func(tx *store.Tx) error {
					if err := bad.make(tx); err == nil {
						t.Error("the bad record is not refused")
					}
					return tx.CreateSquad(&kept)
				})
				read(t, s, w.manager, func(tx *store.Tx) error { _, err := tx.Squad(kept.ID); return err })
			})
		}
	})
}

func TestBulkRefusesWhatOneAtATimeRefuses(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		good := models.Appearance{PlayerID: w.noor.ID, Minutes: 20, Shirt: ptr(21)}
		play := func(change func(p *models.Play)) models.Play {
			p := models.Play{Match: w.match, Appearance: good}
			change(&p)
			return p
		}
		logged := func(l models.Log, all ...models.Involvement) models.Play {
			return play(func(p *models.Play) { p.Logs = []models.LoggedPlay{{Log: l, Involvements: all}} })
		}
		log := models.Log{LoggerID: w.coach.UserID, Depth: models.Core,
			Kinds: []models.Kind{models.KindCarry, models.KindPass}}
		conflicts := []string{"a shirt worn before", "a shirt worn in the same file", "a player twice",
			"a player in the match already"}
		var before []string
		for _, bad := range []struct {
			name, where string
			plays       []models.Play
		}{
			{"too many minutes", "plays[0].appearance.minutes", []models.Play{play(func(p *models.Play) {
				p.Appearance.Minutes = 95
			})}},
			{"no minutes", "plays[0].appearance.minutes", []models.Play{play(func(p *models.Play) {
				p.Appearance.Minutes = 0
			})}},
			{"a shirt worn before", "plays[0].appearance.shirt", []models.Play{play(func(p *models.Play) {
				p.Appearance.Shirt = ptr(7)
			})}},
			{"a shirt worn in the same file", "plays[1].appearance.shirt", []models.Play{play(func(*models.Play) {}),
				play(func(p *models.Play) {
					p.Appearance.PlayerID = w.iver.ID
				})}},
			{"a player twice", "plays[1].appearance.player_id", []models.Play{play(func(*models.Play) {}),
				play(func(p *models.Play) {
					p.Appearance.Shirt = nil
				})}},
			{"a player in the match already", "plays[0].appearance.player_id", []models.Play{play(func(p *models.Play) {
				p.Appearance.PlayerID = w.bram.ID
			})}},
			{"no such match", "plays[0].appearance.match_id", []models.Play{play(func(p *models.Play) { p.Match.ID = 9999 })}},
			{"no such player", "plays[0].appearance.player_id", []models.Play{play(func(p *models.Play) {
				p.Appearance.PlayerID = 9999
			})}},
			{"an unknown count", "plays[0].totals.counts.hugs", []models.Play{play(func(p *models.Play) {
				p.Totals = &models.MatchTotals{Source: "x", Counts: models.Counts{"hugs": 1}}
			})}},
			{"no such logger", "plays[0].logs[0].logger_id",
				[]models.Play{logged(models.Log{LoggerID: 9999, Depth: models.Core, Kinds: log.Kinds})}},
			{"a player as a logger", "plays[0].logs[0].logger_id",
				[]models.Play{logged(models.Log{LoggerID: w.bramHimself.UserID, Depth: models.Core, Kinds: log.Kinds})}},
			{"metres on a pass", "plays[0].logs[0].involvements[0].measures.metres", []models.Play{logged(log,
				models.Involvement{Clock: clock(1, 1, 0), Kind: models.KindPass, Measures: map[string]float64{"metres": 3}})}},
			{"a kind that is not logged", "plays[0].logs[0].involvements[1].kind", []models.Play{logged(log,
				models.Involvement{Clock: clock(1, 1, 0), Kind: models.KindPass}, models.Involvement{Clock: clock(1, 2, 0),
					Kind: models.KindTackle})}},
			{"a link to a pass", "plays[0].logs[0].involvements[1].linked_to", []models.Play{logged(log,
				models.Involvement{Record: models.Record{ID: 1}, Clock: clock(1, 1, 0), Kind: models.KindPass},
				models.Involvement{Clock: clock(1, 2, 0), Kind: models.KindPass, LinkedTo: ptr(int64(1))})}},
			{"a link into another log", "plays[0].logs[0].involvements[0].linked_to", []models.Play{logged(log,
				models.Involvement{Clock: clock(1, 2, 0), Kind: models.KindPass, LinkedTo: &w.carry.ID})}},
			{"too many starters", "plays[14].appearance.started", func() (many []models.Play) {
				for n := range 15 { // one of the match has started already
					player := models.Player{Name: fmt.Sprint("Starter ", n)}
					write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreatePlayer(&player) })
					many = append(many, play(func(p *models.Play) {
						p.Appearance.PlayerID, p.Appearance.Started, p.Appearance.Shirt = player.ID, ptr(true), ptr(30+n)
					}))
				}
				return many
			}()},
		} {
			t.Run(bad.name, func(t *testing.T) {
				if before == nil {
					before = content(t, s, w.academy.ID)
				}
				code := models.Invalid
				if slices.Contains(conflicts, bad.name) {
					code = models.Conflict
				}
				err := refused(t, s, w.manager, code, func(tx *store.Tx) error { return tx.AddPlays(bad.plays) })
				if err != nil && !strings.Contains(err.Error(), bad.where+": ") {
					t.Errorf("error %q does not name %s", err, bad.where)
				}
			})
		}
		if after := content(t, s, w.academy.ID); !slices.Equal(before, after) {
			t.Errorf("something was written: %d rows before, %d after", len(before), len(after))
		}
	})
}

func TestNothingIsCommittedAfterAFailureThatWasPassedOver(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		before := content(t, s, w.academy.ID)
		err := s.Write(t.Context(), w.manager, func(tx *store.Tx) error {
			if err := tx.CreateSquad(&models.Squad{Name: "Sevens"}); err != nil {
				return err
			}
			if err := tx.Fail(); err == nil {
				t.Error("no failure")
			}
			if err := tx.CreateSquad(&models.Squad{Name: "Tens"}); err == nil {
				t.Error("the transaction goes on after a failure")
			}
			if _, err := tx.Squads(models.SquadFilter{}); err == nil {
				t.Error("the transaction reads on after a failure")
			}
			if _, err := tx.Count("SELECT count(*) FROM squads"); err == nil {
				t.Error("the transaction counts on after a failure")
			}
			return nil
		})
		if err == nil {
			t.Error("the transaction is committed")
		}
		if after := content(t, s, w.academy.ID); !slices.Equal(before, after) {
			t.Error("something was written")
		}
	})
}

func TestPanicRollsBack(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		before := content(t, s, w.academy.ID)
		func() {
			defer func() {
				if recover() == nil {
					t.Error("the panic is swallowed")
				}
			}()
			_ = s.Write(t.Context(), w.manager, func(tx *store.Tx) error {
				if err := tx.CreateSquad(&models.Squad{Name: "Sevens"}); err != nil {
					t.Error(err)
				}
				panic("in the middle")
			})
		}()
		if after := content(t, s, w.academy.ID); !slices.Equal(before, after) {
			t.Error("something was written")
		}
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateSquad(&models.Squad{Name: "Tens"}) })
	})
}
