package store

import (
	"context"
	"errors"
	"slices"
	"sync"
	"time"

	"throughline/models"
)

// sights are reads by staff on their way to the audit trail. A reader does not wait: a moment later all reads that
// came together are written at once, one entry for each reader and player. The same reader, player and kind of record
// is written once an hour. A program that is killed loses the last moment's reads.
type sights struct {
	mu      sync.Mutex
	waiting []look
	room    int                  // how many may wait
	known   map[looked]time.Time // when what was or will be written was seen; nothing that was lost
	timer   *time.Timer
	writing sync.Mutex // one flush at a time
}

// look is what one transaction of a person has seen.
type look struct {
	who  models.Who
	at   time.Time
	seen map[sight]struct{}
}

// looked is who has seen what.
type looked struct {
	academy, user, token int64
	sight
}

func (l look) of(s sight) looked { return looked{l.who.AcademyID, l.who.UserID, l.who.TokenID, s} }

const (
	// moment is how long reads gather before they are written.
	moment = 2 * time.Second
	// retry is how long is waited after the trail could not be written.
	retry = 10 * time.Second
	// again is how long the same is not written a second time.
	again = time.Hour
	// mostLooks limits how many reads wait while the database is away. More are lost, and the log says so; the next
	// such reads are written again.
	mostLooks = 100_000
)

// add takes over what was seen.
func (s *sights) add(st *Store, l look) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.known == nil {
		s.known = map[looked]time.Time{}
	}
	fresh := map[sight]struct{}{}
	for sight := range l.seen {
		if last, ok := s.known[l.of(sight)]; !ok || l.at.Sub(last) >= again {
			fresh[sight] = struct{}{}
		}
	}
	if len(fresh) == 0 {
		return
	}
	if len(s.waiting) >= s.room {
		st.log.Error("a read is missing from the audit trail, because reads could not be written for too long")
		return
	}
	for sight := range fresh {
		s.known[l.of(sight)] = l.at
	}
	l.seen = fresh
	s.waiting = append(s.waiting, l)
	s.wake(st, moment)
}

// wake has the reads written in a while, unless they will be anyway.
func (s *sights) wake(st *Store, in time.Duration) {
	if s.timer != nil {
		return
	}
	s.timer = time.AfterFunc(in, func() {
		if err := s.flush(context.Background(), st); err != nil {
			st.log.Error("write reads to the audit trail", "error", err)
		}
	})
}

// flush writes what is waiting. What could not be written goes on waiting.
func (s *sights) flush(ctx context.Context, st *Store) error {
	s.writing.Lock()
	defer s.writing.Unlock()
	s.mu.Lock()
	looks := s.waiting
	s.waiting = nil
	if s.timer != nil {
		s.timer.Stop()
		s.timer = nil
	}
	now := st.now()
	for key, at := range s.known {
		if now.Sub(at) >= again {
			delete(s.known, key)
		}
	}
	s.mu.Unlock()

	byAcademy := map[int64][]look{}
	var academies []int64
	for _, l := range looks {
		if byAcademy[l.who.AcademyID] == nil {
			academies = append(academies, l.who.AcademyID)
		}
		byAcademy[l.who.AcademyID] = append(byAcademy[l.who.AcademyID], l)
	}
	var errs []error
	var left []look
	for _, academy := range academies {
		err := st.Write(ctx, models.Console(academy), func(tx *Tx) error {
			if err := tx.noteOpenings(byAcademy[academy]); err != nil {
				return err
			}
			return tx.noteLooks(byAcademy[academy])
		})
		if err != nil {
			errs = append(errs, err)
			left = append(left, byAcademy[academy]...)
		}
	}
	if len(left) > 0 {
		s.mu.Lock()
		s.waiting = append(left, s.waiting...)
		s.wake(st, retry)
		s.mu.Unlock()
	}
	return errors.Join(errs...)
}

// close writes what is waiting and stops.
func (s *sights) close(st *Store) error {
	ctx, cancel := context.WithTimeout(context.Background(), retry)
	defer cancel()
	err := s.flush(ctx, st)
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.timer != nil {
		s.timer.Stop()
	}
	return err
}

// noteLooks adds the reads of minors' records to the trail: one entry for each person, place and player.
func (tx *Tx) noteLooks(looks []look) error {
	type reading struct {
		academy, user, token, player int64
		from                         string
	}
	kinds := map[reading][]string{}
	first := map[reading]look{}
	var readings []reading
	var people []int64
	for _, l := range looks {
		for sight := range l.seen {
			r := reading{l.who.AcademyID, l.who.UserID, l.who.TokenID, sight.player, l.who.From}
			if kinds[r] == nil {
				readings = append(readings, r)
				first[r] = l
				people = append(people, sight.player)
			}
			kinds[r] = append(kinds[r], sight.kind)
		}
	}
	slices.Sort(people)
	minors := map[int64]bool{}
	for some := range slices.Chunk(slices.Compact(people), idsAtOnce) {
		found, err := rows[models.Player](tx, "find who is a minor",
			"SELECT id, born_on FROM players WHERE academy_id = ? AND id IN ?", tx.who.AcademyID, some)
		if err != nil {
			return err
		}
		for _, p := range found {
			minors[p.ID] = p.MinorOn(tx.today())
		}
	}
	slices.SortFunc(readings, func(a, b reading) int {
		if c := first[a].at.Compare(first[b].at); c != 0 {
			return c
		}
		return order(a.user, b.user, int(a.player), int(b.player))
	})
	for _, r := range readings {
		if !minors[r.player] {
			continue
		}
		slices.Sort(kinds[r])
		tx.trail = append(tx.trail, entry{
			who: first[r].who, at: first[r].at.UTC().Truncate(time.Microsecond), action: models.AuditRead, kind: "player",
			id: r.player, player: r.player,
			after: map[string]any{"read": slices.Compact(kinds[r])},
		})
	}
	return nil
}
