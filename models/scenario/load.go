package scenario

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"throughline/models"
	"throughline/models/store"
)

// Loaded says where the academy is in a database, and whom it is interesting to be.
type Loaded struct {
	Academy  models.Academy
	SeasonID int64
	SquadID  int64 // the demo player's
	PlayerID int64 // the demo player, see Cast.Improver
	// Users who sign in: the manager, the head coach of the demo player's squad, the selector, and the demo player.
	Manager, Coach, Selector, Player models.User
	// Already is set when the academy was there before and nothing was written.
	Already bool
}

// playsAtOnce is how many plays are added between two reports of progress.
const playsAtOnce = 150

// Load writes an academy into a database, all of it or nothing, as the operator would by way of files and forms. Hash
// gives each user's password hash. Progress, which may be nil, is told how many of all records are written. If the
// academy is in the database already, Load changes nothing and says where it is.
//
// That players have read the notes shared with them, and that staff have seen answers, is recorded in their own names,
// after the rest is committed.
func Load(ctx context.Context, s *store.Store, a *Academy, hash func(models.User) string,
	progress func(done, total int)) (Loaded, error) {
	academy, err := academyNamed(ctx, s, a.Name)
	if err != nil {
		return Loaded{}, fmt.Errorf("load the scenario: %w", err)
	}
	there := false
	err = s.Read(ctx, models.Console(academy.ID), func(tx *store.Tx) error {
		seasons, err := tx.Seasons(models.SeasonFilter{Name: a.Season.Name})
		there = len(seasons) > 0
		return err
	})
	if err == nil && !there {
		l := &loader{Academy: a, ids: map[string]map[int64]int64{}, hash: hash, progress: progress}
		if err = s.Write(ctx, models.Console(academy.ID), l.write); err == nil {
			if err = l.markRead(ctx, s, academy.ID); err == nil {
				err = l.markSeen(ctx, s, academy.ID)
			}
			if err == nil {
				err = l.agreeAnew(ctx, s, academy.ID)
			}
		}
	}
	if err != nil {
		return Loaded{}, fmt.Errorf("load the scenario: %w", err)
	}
	loaded, err := find(ctx, s, a, academy)
	if err != nil {
		return Loaded{}, fmt.Errorf("find the scenario: %w", err)
	}
	loaded.Already = there
	return loaded, nil
}

// academyNamed returns the academy of a name, and creates it if needed.
func academyNamed(ctx context.Context, s *store.Store, name string) (models.Academy, error) {
	all, err := s.Academies(ctx)
	if err != nil {
		return models.Academy{}, err
	}
	for _, a := range all {
		if a.Name == name {
			return a, nil
		}
	}
	return s.CreateAcademy(ctx, name)
}

// find looks up the people of a loaded academy.
func find(ctx context.Context, s *store.Store, a *Academy, academy models.Academy) (Loaded, error) {
	demo := a.Players[a.Cast.Improver-1]
	squad := a.Memberships[a.Cast.Improver-1].SquadID
	l := Loaded{Academy: academy}
	err := s.Read(ctx, models.Console(academy.ID), func(tx *store.Tx) error {
		seasons, err := tx.Seasons(models.SeasonFilter{Name: a.Season.Name})
		if err != nil {
			return err
		}
		squads, err := tx.Squads(models.SquadFilter{Name: a.Squads[squad-1].Name})
		if err != nil {
			return err
		}
		players, err := tx.Players(models.PlayerFilter{Name: demo.Name})
		if err != nil {
			return err
		}
		if len(seasons) != 1 || len(squads) != 1 || len(players) != 1 {
			return models.Errorf(models.Conflict, "the academy %s was changed and its season, squad or demo player no longer "+
				"exists; remove the academy and load it again", a.Name)
		}
		l.SeasonID, l.SquadID, l.PlayerID = seasons[0].ID, squads[0].ID, players[0].ID
		for _, user := range []struct {
			name string
			into *models.User
		}{
			{staff[managerUser-1].name, &l.Manager}, {staff[headCoach[squad]-1].name, &l.Coach},
			{staff[selectorUser-1].name, &l.Selector}, {demo.Name, &l.Player},
		} {
			found, err := tx.Users(models.UserFilter{Login: login(user.name)})
			if err != nil {
				return err
			}
			if len(found) != 1 {
				return models.Errorf(models.Conflict, "the academy %s no longer has the user %s; remove the academy and "+
					"load it again",
					a.Name, login(user.name))
			}
			*user.into = found[0]
		}
		return nil
	})
	return l, err
}

// loader writes an academy, exchanging local ids for the database's.
type loader struct {
	*Academy
	ids         map[string]map[int64]int64 // by the name of the list
	hash        func(models.User) string
	progress    func(done, total int)
	done, total int
}

// wrote notes the id that a record of a list was given.
func (l *loader) wrote(list string, local, given int64) {
	if l.ids[list] == nil {
		l.ids[list] = map[int64]int64{}
	}
	l.ids[list][local] = given
	l.step(1)
}

func (l *loader) step(n int) {
	l.done += n
	if l.progress != nil {
		l.progress(l.done, l.total)
	}
}

func (l *loader) id(list string, local int64) int64 { return l.ids[list][local] }

// refer is id for a reference that may be absent.
func (l *loader) refer(list string, local *int64) *int64 {
	if local == nil {
		return nil
	}
	id := l.id(list, *local)
	return &id
}

// each writes every record of a list, after making its references the database's.
func each[T any](l *loader, list string, all []T, record func(*T) *models.Record, refer func(*T),
	create func(*T) error) error {
	for i := range all {
		r := all[i]
		local := record(&r).ID
		refer(&r)
		if err := create(&r); err != nil {
			return fmt.Errorf("%s %d: %w", list, local, err)
		}
		l.wrote(list, local, record(&r).ID)
	}
	return nil
}

func (l *loader) write(tx *store.Tx) error {
	l.total = 1 + len(l.Squads) + len(l.Players) + len(l.Memberships) + len(l.Users) + len(l.Staff) + len(l.Spells) +
		len(l.Matches) + len(l.Events) +
		len(l.TeamTotals) + len(l.Plays) + len(l.Rounds) + len(l.Ratings) + len(l.Meetings) + len(l.Goals) +
		len(l.CheckIns) + len(l.Notes) + len(l.Sessions) + len(l.Attendance) + len(l.Training) +
		1 + len(l.Consents) + len(l.Guardians) + len(l.Limits) + len(l.HeadContacts) + len(l.StandDowns) + len(l.Answers)
	for _, part := range []func(*store.Tx) error{l.people, l.games, l.safeguards, l.trainingSessions, l.addPlays,
		l.judgements, l.skills} {
		if err := part(tx); err != nil {
			return err
		}
	}
	return nil
}

func (l *loader) people(tx *store.Tx) error {
	season := l.Season
	if err := tx.CreateSeason(&season); err != nil {
		return err
	}
	l.wrote("season", l.Season.ID, season.ID)
	err := each(l, "squad", l.Squads, func(r *models.Squad) *models.Record {
		return &r.Record
	}, func(*models.Squad) {}, tx.CreateSquad)
	if err != nil {
		return err
	}
	err = each(l, "player", l.Players, func(r *models.Player) *models.Record {
		return &r.Record
	}, func(*models.Player) {}, tx.CreatePlayer)
	if err != nil {
		return err
	}
	err = each(l, "membership", l.Memberships, func(r *models.Membership) *models.Record {
		return &r.Record
	}, func(r *models.Membership) {
		r.SeasonID, r.SquadID, r.PlayerID = l.id("season", r.SeasonID), l.id("squad", r.SquadID), l.id("player", r.PlayerID)
	}, tx.CreateMembership)
	if err != nil {
		return err
	}
	err = each(l, "user", l.Users, func(r *models.User) *models.Record { return &r.Record }, func(r *models.User) {
		r.PlayerID = l.refer("player", r.PlayerID)
		r.PasswordHash = l.hash(*r)
	}, tx.CreateUser)
	if err != nil {
		return err
	}
	for _, s := range l.Staff {
		if err := tx.AddSquadStaff(l.id("user", s.UserID), l.id("squad", s.SquadID)); err != nil {
			return fmt.Errorf("staff of squad %d: %w", s.SquadID, err)
		}
		if s.Leads {
			if err := tx.SetLeadCoach(l.id("user", s.UserID), l.id("squad", s.SquadID)); err != nil {
				return fmt.Errorf("lead coach of squad %d: %w", s.SquadID, err)
			}
		}
		l.step(1)
	}
	return each(l, "spell", l.Spells, func(r *models.Spell) *models.Record { return &r.Record }, func(r *models.Spell) {
		r.PlayerID = l.id("player", r.PlayerID)
	}, tx.CreateSpell)
}

func (l *loader) games(tx *store.Tx) error {
	err := each(l, "match", l.Matches, func(r *models.Match) *models.Record { return &r.Record }, func(r *models.Match) {
		r.SeasonID, r.SquadID = l.id("season", r.SeasonID), l.refer("squad", r.SquadID)
	}, tx.CreateMatch)
	if err != nil {
		return err
	}
	err = each(l, "event", l.Events, func(r *models.MatchEvent) *models.Record {
		return &r.Record
	}, func(r *models.MatchEvent) {
		r.MatchID, r.PlayerID, r.OffID = l.id("match", r.MatchID), l.refer("player", r.PlayerID), l.refer("player", r.OffID)
	}, tx.CreateMatchEvent)
	if err != nil {
		return err
	}
	return each(l, "team totals", l.TeamTotals, func(r *models.TeamTotals) *models.Record {
		return &r.Record
	}, func(r *models.TeamTotals) {
		r.MatchID = l.id("match", r.MatchID)
	}, tx.CreateTeamTotals)
}

// safeguards come before what is played: no film of a minor without consent, and no appearance of who is stood down.
func (l *loader) safeguards(tx *store.Tx) error {
	settings := l.Settings
	if err := tx.SaveSettings(&settings); err != nil {
		return err
	}
	l.wrote("settings", 1, settings.ID)
	err := each(l, "limit of minutes", l.Limits, func(r *models.MinutesLimit) *models.Record {
		return &r.Record
	}, func(r *models.MinutesLimit) {
		r.SquadID = l.refer("squad", r.SquadID)
	}, tx.CreateMinutesLimit)
	if err != nil {
		return err
	}
	err = each(l, "guardian", l.Guardians, func(r *models.Guardian) *models.Record {
		return &r.Record
	}, func(r *models.Guardian) {
		r.PlayerID = l.id("player", r.PlayerID)
	}, tx.CreateGuardian)
	if err != nil {
		return err
	}
	err = each(l, "consent", l.Consents, func(r *models.Consent) *models.Record {
		return &r.Record
	}, func(r *models.Consent) {
		r.PlayerID, r.RecordedBy = l.id("player", r.PlayerID), l.id("user", r.RecordedBy)
	}, tx.CreateConsent)
	if err != nil {
		return err
	}
	err = each(l, "head contact", l.HeadContacts, func(r *models.HeadContact) *models.Record {
		return &r.Record
	}, func(r *models.HeadContact) {
		r.PlayerID, r.MatchID, r.MarkedBy = l.id("player", r.PlayerID), l.refer("match", r.MatchID),
			l.refer("user", r.MarkedBy)
	}, tx.CreateHeadContact)
	if err != nil {
		return err
	}
	return each(l, "stand-down", l.StandDowns, func(r *models.StandDown) *models.Record {
		return &r.Record
	}, func(r *models.StandDown) {
		r.PlayerID, r.HeadContactID, r.SetBy = l.id("player", r.PlayerID), l.refer("head contact", r.HeadContactID),
			l.id("user", r.SetBy)
	}, func(r *models.StandDown) error {
		lifted, by := r.LiftedOn, r.ClearedBy
		if err := tx.CreateStandDown(r); err != nil || lifted == nil {
			return err
		}
		_, err := tx.LiftStandDown(r.ID, *lifted, by)
		return err
	})
}

// trainingSessions writes each session with its attendance as a whole.
func (l *loader) trainingSessions(tx *store.Tx) error {
	err := each(l, "training session", l.Sessions, func(r *models.TrainingSession) *models.Record {
		return &r.Record
	}, func(r *models.TrainingSession) {
		r.SquadID = l.id("squad", r.SquadID)
	}, tx.CreateTrainingSession)
	if err != nil {
		return err
	}
	for from := 0; from < len(l.Attendance); {
		session := l.Attendance[from].SessionID
		var all []*models.Attendance
		for ; from < len(l.Attendance) && l.Attendance[from].SessionID == session; from++ {
			a := l.Attendance[from]
			a.Record, a.PlayerID = models.Record{}, l.id("player", a.PlayerID)
			all = append(all, &a)
		}
		refused, err := tx.RecordAttendance(l.id("training session", session), all)
		if err := errors.Join(append(refused, err)...); err != nil {
			return fmt.Errorf("attendance of training session %d: %w", session, err)
		}
		l.step(len(all))
	}
	return nil
}

// addPlays adds the plays some at a time. The store gives its own ids to copies, in the same order.
func (l *loader) addPlays(tx *store.Tx) error {
	l.ids["involvement"] = map[int64]int64{}
	for from := 0; from < len(l.Plays); from += playsAtOnce {
		local := l.Plays[from:min(from+playsAtOnce, len(l.Plays))]
		plays := make([]models.Play, len(local))
		for i := range local {
			p := local[i]
			p.Match.ID = l.id("match", p.Match.ID)
			p.Appearance.MatchID, p.Appearance.PlayerID = p.Match.ID, l.id("player", p.Appearance.PlayerID)
			p.Logs = append([]models.LoggedPlay(nil), p.Logs...)
			for n := range p.Logs {
				p.Logs[n].Log.LoggerID = l.id("user", p.Logs[n].Log.LoggerID)
			}
			plays[i] = p
		}
		if err := tx.AddPlays(plays); err != nil {
			return err
		}
		for i := range plays {
			for n := range plays[i].Logs {
				for k, v := range plays[i].Logs[n].Involvements {
					l.ids["involvement"][local[i].Logs[n].Involvements[k].ID] = v.ID
				}
			}
		}
		l.step(len(plays))
	}
	return nil
}

func (l *loader) judgements(tx *store.Tx) error {
	err := each(l, "goal", l.Goals, func(r *models.Goal) *models.Record { return &r.Record }, func(r *models.Goal) {
		r.PlayerID, r.OwnerID = l.id("player", r.PlayerID), l.id("user", r.OwnerID)
	}, tx.CreateGoal)
	if err != nil {
		return err
	}
	err = each(l, "check-in", l.CheckIns, func(r *models.CheckIn) *models.Record {
		return &r.Record
	}, func(r *models.CheckIn) {
		r.GoalID, r.AuthorID = l.id("goal", r.GoalID), l.id("user", r.AuthorID)
	}, tx.CreateCheckIn)
	if err != nil {
		return err
	}
	err = each(l, "round", l.Rounds, func(r *models.RatingRound) *models.Record {
		return &r.Record
	}, func(r *models.RatingRound) {
		r.SeasonID, r.SquadID, r.MatchID = l.id("season", r.SeasonID), l.id("squad", r.SquadID), l.refer("match", r.MatchID)
	}, tx.CreateRatingRound)
	if err != nil {
		return err
	}
	err = each(l, "meeting", l.Meetings, func(r *models.Meeting) *models.Record {
		return &r.Record
	}, func(r *models.Meeting) {
		r.SeasonID, r.SquadID = l.id("season", r.SeasonID), l.id("squad", r.SquadID)
		r.Present, r.Candidates = slices.Clone(r.Present), slices.Clone(r.Candidates)
		for i := range r.Present {
			r.Present[i].UserID = l.refer("user", r.Present[i].UserID)
		}
		for i := range r.Candidates { // what is decided comes later, see Meet
			c := &r.Candidates[i]
			*c = models.Candidate{PlayerID: l.id("player", c.PlayerID), Place: c.Place}
		}
		r.Status = models.MeetingDraft
	}, tx.CreateMeeting)
	if err != nil {
		return err
	}
	err = each(l, "rating", l.Ratings, func(r *models.Rating) *models.Record {
		return &r.Record
	}, func(r *models.Rating) {
		r.PlayerID, r.RaterID, r.MatchID = l.id("player", r.PlayerID), l.id("user", r.RaterID), l.refer("match", r.MatchID)
	}, tx.CreateRating)
	if err != nil {
		return err
	}
	err = each(l, "note", l.Notes, func(r *models.ReviewNote) *models.Record {
		return &r.Record
	}, func(r *models.ReviewNote) {
		r.PlayerID, r.AuthorID = l.id("player", r.PlayerID), l.id("user", r.AuthorID)
		r.MatchID, r.InvolvementID, r.GoalID = l.refer("match", r.MatchID), l.refer("involvement", r.InvolvementID),
			l.refer("goal", r.GoalID)
	}, tx.CreateReviewNote)
	if err != nil {
		return err
	}
	err = each(l, "answer", l.Answers, func(r *models.NoteAnswer) *models.Record {
		return &r.Record
	}, func(r *models.NoteAnswer) {
		r.NoteID, r.AuthorID = l.id("note", r.NoteID), l.id("user", r.AuthorID)
	}, tx.AnswerNote)
	if err != nil {
		return err
	}
	return each(l, "training observation", l.Training, func(r *models.TrainingObservation) *models.Record {
		return &r.Record
	}, func(r *models.TrainingObservation) {
		r.PlayerID, r.CoachID, r.GoalID = l.id("player", r.PlayerID), l.id("user", r.CoachID), l.refer("goal", r.GoalID)
		r.SessionID = l.refer("training session", r.SessionID)
	}, tx.CreateTrainingObservation)
}

// markSeen marks answers as seen, each in the name of the member of staff who has seen it.
func (l *loader) markSeen(ctx context.Context, s *store.Store, academy int64) error {
	for _, a := range l.Answers {
		if a.SeenBy == nil {
			continue
		}
		who, err := s.WhoByID(ctx, academy, l.id("user", *a.SeenBy))
		if err != nil {
			return err
		}
		err = s.Write(ctx, who, func(tx *store.Tx) error {
			_, err := tx.SeeNoteAnswer(l.id("answer", a.ID))
			return err
		})
		if err != nil {
			return fmt.Errorf("answer %d, seen by %s: %w", a.ID, who.Name, err)
		}
	}
	return nil
}

// agreeAnew changes what was agreed on the improver's open goals, in the name of the coach who follows them up, so
// that they have a history.
func (l *loader) agreeAnew(ctx context.Context, s *store.Store, academy int64) error {
	for _, g := range l.Goals {
		if g.PlayerID != l.Cast.Improver || g.ClosedOn != nil {
			continue
		}
		who, err := s.WhoByID(ctx, academy, l.id("user", g.OwnerID))
		if err != nil {
			return err
		}
		err = s.Write(ctx, who, func(tx *store.Tx) error {
			now, err := tx.Goal(l.id("goal", g.ID))
			if err != nil {
				return err
			}
			now.Actions += " From now on in matches too: one look back at each after the whistle."
			if err := tx.UpdateGoal(&now); err != nil {
				return err
			}
			return tx.CreateCheckIn(&models.CheckIn{GoalID: now.ID, Date: min(l.Today, now.By),
				Text: "Ask the physio about the load before we add more of this."})
		})
		if err != nil {
			return fmt.Errorf("goal %d, agreed anew by %s: %w", g.ID, who.Name, err)
		}
	}
	return nil
}

// markRead marks notes as read, each in the name of the player who has read it.
func (l *loader) markRead(ctx context.Context, s *store.Store, academy int64) error {
	for _, u := range l.Users {
		if u.PlayerID == nil {
			continue
		}
		who, err := s.WhoByID(ctx, academy, l.id("user", u.ID))
		if err != nil {
			return err
		}
		err = s.Write(ctx, who, func(tx *store.Tx) error {
			for _, n := range l.Notes {
				if n.PlayerID != *u.PlayerID || n.ReadAt == nil {
					continue
				}
				if err := tx.MarkReviewNoteRead(l.id("note", n.ID)); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			return fmt.Errorf("notes read by %s: %w", u.Name, err)
		}
	}
	return nil
}
