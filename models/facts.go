package models

import (
	"fmt"
	"slices"
)

// This file has the rules between records of play, each once. They check a record against facts: what is recorded
// already, read for many records at a time. An admitted record joins the facts, so the next one is checked against it
// too.

// clashing is an error of code Conflict at one field.
func clashing(field, format string, args ...any) error {
	return &Error{Code: Conflict, Fields: []FieldError{{field, fmt.Sprintf(format, args...)}}}
}

// wrong is an error of code Invalid at one field.
func wrong(field, format string, args ...any) error {
	return &Error{Code: Invalid, Fields: []FieldError{{field, fmt.Sprintf(format, args...)}}}
}

// Down is a stand-down with the match and the day of its head contact.
type Down struct {
	StandDown
	ContactIn *int64
	ContactOn *Date
}

// Sheet is who appears in a match.
type Sheet struct {
	Match   Match
	Appears []Appearance // without their stints
}

// Admit refuses an appearance that its match cannot have beside the others: minutes or stints that do not fit
// (Invalid), a player who is stood down or appears already, a shirt that is worn (Conflict), a sixteenth who
// starts (Invalid). The appearance with the same id is what it replaces. Where there are stints, it sets the
// minutes.
func (s *Sheet) Admit(a *Appearance, p Player, downs []Down) error {
	if err := a.ValidateIn(s.Match); err != nil {
		return err
	}
	for _, d := range downs {
		if d.Blocks(s.Match, d.ContactIn) {
			return d.Refusal(p.Name, s.Match)
		}
	}
	starts := func(a *Appearance) bool { return a.Started != nil && *a.Started }
	appears, worn, started := false, false, 0
	for i := range s.Appears {
		other := &s.Appears[i]
		if other.ID == a.ID && a.ID != 0 {
			continue
		}
		appears = appears || other.PlayerID == a.PlayerID
		worn = worn || a.Shirt != nil && other.Shirt != nil && *other.Shirt == *a.Shirt
		if starts(other) {
			started++
		}
	}
	switch {
	case appears:
		return clashing("player_id", "%s already has an appearance in this match: change that one", p.Name)
	case worn:
		return clashing("shirt", "another player in this match already has shirt %d", *a.Shirt)
	case starts(a) && started >= LawPlayersASide:
		return wrong("started", "this match already has %d starters: a side has no more players on the pitch (Law 3)",
			LawPlayersASide)
	}
	return nil
}

// Has says whether a player is on the sheet.
func (s *Sheet) Has(player int64) bool {
	return slices.ContainsFunc(s.Appears, func(a Appearance) bool { return a.PlayerID == player })
}

// Put adds an appearance, or replaces the one with its id.
func (s *Sheet) Put(a Appearance) {
	a.Stints = nil
	if i := slices.IndexFunc(s.Appears, func(b Appearance) bool { return b.ID == a.ID }); i >= 0 {
		s.Appears[i] = a
		return
	}
	s.Appears = append(s.Appears, a)
}

// Facts are what the rules ask about one player in one match.
type Facts struct {
	Play
	Appears  bool // whether the player has an appearance in the match; without it the play has nothing but the match
	Player   Player
	Rules    Settings
	Consents []Consent // of the player, for purposes that the academy requires
	Today    Date
}

// appeared refuses what is recorded about a player who has no appearance in the match.
func (f *Facts) appeared() error {
	if f.Appears {
		return nil
	}
	return wrong("player_id", "this player has no appearance in the match against %s on %s: add the player to its "+
		"team sheet first", f.Match.Opponent, f.Match.Date)
}

// consented is an error if the player lacks a consent that the purposes need. An erased player needs none.
func (f *Facts) consented(wanted ...Purpose) error {
	if f.Player.DeletedAt != nil {
		return nil
	}
	return f.Rules.Consented(f.Player, f.Consents, f.Match.Date, f.Today, wanted...)
}

// AdmitAppearance refuses another version of the player's appearance that leaves out what is logged of it, as a
// Conflict.
func (f *Facts) AdmitAppearance(a Appearance) error {
	if !f.Appears {
		return nil
	}
	p := f.Play
	p.Appearance = a
	if err := p.Fits(); err != nil {
		return Errorf(Conflict, "what is logged for %s does not fit: %v", f.Player.Name, err)
	}
	return nil
}

// AdmitTotals refuses totals of a player without an appearance (Invalid) or without consent, and a second row
// (Conflict). Totals with the same id are what they replace.
func (f *Facts) AdmitTotals(t MatchTotals) error {
	if err := f.appeared(); err != nil {
		return err
	}
	if err := f.consented(PurposeRecords); err != nil {
		return err
	}
	if f.Totals != nil && (f.Totals.ID != t.ID || t.ID == 0) {
		return clashing("player_id", "the player already has totals for this match: change those")
	}
	return nil
}

// AdmitLog checks a log, which replaces the one with the same id. It is Invalid if the player has no appearance or the
// log covers more than the match. It is a Conflict without consent, if the same person made another log, and if the
// log leaves out an involvement that it has.
func (f *Facts) AdmitLog(l Log) error {
	if err := f.appeared(); err != nil {
		return err
	}
	if err := l.ValidateIn(f.Match); err != nil {
		return err
	}
	if err := f.consented(PurposeRecords); err != nil {
		return err
	}
	for i := range f.Logs {
		other := &f.Logs[i]
		switch {
		case other.Log.ID == l.ID && l.ID != 0:
			if err := fits(f.Match, f.Appearance, l, other.Involvements); err != nil {
				return Errorf(Conflict, "an involvement of the log does not fit: %v", err)
			}
		case other.Log.LoggerID == l.LoggerID:
			return clashing("logger_id", "this person already has a log of this player and match: continue that one")
		}
	}
	return nil
}

// AdmitInvolvement checks an involvement, which replaces the one with the same id. The facts must have its log. It is
// Invalid outside the log's coverage or the player's time on the pitch, after a head contact if the log gives no
// reason for going on, and with a link to anything but a carry of the same log. It is a Conflict without a consent
// that it needs, with another involvement's key, and if a carry with a pass linked to it becomes another kind.
func (f *Facts) AdmitInvolvement(i Involvement) error {
	l := f.logOf(i.LogID)
	if i.LinkedTo != nil {
		carry, there := f.Involvement(i.LogID, *i.LinkedTo)
		switch {
		case !there:
			return wrong("linked_to", "there is no involvement %d in the log", *i.LinkedTo)
		case carry.Kind != KindCarry:
			return wrong("linked_to", "link a pass or offload to the carry it came out of, not to a %s", carry.Kind)
		}
	}
	if err := i.ValidateIn(f.Match, f.Appearance, l.Log); err != nil {
		return err
	}
	if err := f.consented(i.Uses()...); err != nil {
		return err
	}
	if err := f.loggedOn(i, l.Log); err != nil {
		return err
	}
	for n := range l.Involvements {
		other := &l.Involvements[n]
		switch {
		case other.ID == i.ID && i.ID != 0:
		case i.Key != "" && other.Key == i.Key:
			return clashing("key", "another involvement in the log already has this key; choose a different key")
		case i.ID != 0 && other.LinkedTo != nil && *other.LinkedTo == i.ID && i.Kind != KindCarry:
			return clashing("kind", "a pass or offload is linked to this carry: unlink it first")
		}
	}
	return nil
}

// loggedOn is an error if the involvement is after the play's stop and the log does not say why it goes on. What was
// logged before may still be changed. If the moment of the head contact is unknown, the log may find it.
func (f *Facts) loggedOn(i Involvement, l Log) error {
	stop, why := f.stop()
	after := func(i Involvement) bool {
		return instantOf(i.Clock) > stop || stop <= f.Match.all().from && !i.HeadContact
	}
	if why == "" || why == unknownMoment || l.LoggedOnBecause != "" || !after(i) {
		return nil
	}
	if old, there := f.Involvement(i.LogID, i.ID); there && i.ID != 0 && after(old) {
		return nil
	}
	since := "in this match"
	if stop > f.Match.all().from {
		since = "from " + stop.clock().Time() + " on"
	}
	return wrong("clock", "%s is after a safety stop (%s): nothing the player does %s counts for any figure. To log it "+
		"for the safety record, first give the reason in logged_on_because of the log", i.Clock, why, since)
}

func (f *Facts) logOf(id int64) *LoggedPlay {
	for i := range f.Logs {
		if f.Logs[i].Log.ID == id {
			return &f.Logs[i]
		}
	}
	return nil
}

// Log returns a log of the play, and false if it has none of that id.
func (f *Facts) Log(id int64) (Log, bool) {
	if l := f.logOf(id); l != nil {
		return l.Log, true
	}
	return Log{}, false
}

// Involvement returns an involvement of a log, and false if the log has none of that id.
func (f *Facts) Involvement(log, id int64) (Involvement, bool) {
	return f.find(log, func(i *Involvement) bool { return i.ID == id })
}

// Keyed returns the involvement with a key in a log, and false if the log has none.
func (f *Facts) Keyed(log int64, key string) (Involvement, bool) {
	return f.find(log, func(i *Involvement) bool { return i.Key == key })
}

func (f *Facts) find(log int64, is func(*Involvement) bool) (Involvement, bool) {
	if l := f.logOf(log); l != nil {
		for n := range l.Involvements {
			if is(&l.Involvements[n]) {
				return l.Involvements[n], true
			}
		}
	}
	return Involvement{}, false
}

// PutLog adds a log, or replaces the one with its id, whose involvements stay.
func (f *Facts) PutLog(l Log) {
	if at := f.logOf(l.ID); at != nil {
		at.Log = l
		return
	}
	f.Logs = append(f.Logs, LoggedPlay{Log: l})
}

// PutInvolvement adds an involvement to its log, or replaces the one with its id. It changes a copy of the log's list:
// earlier copies of the facts stay as they were.
func (f *Facts) PutInvolvement(i Involvement) {
	l := f.logOf(i.LogID)
	if at := slices.IndexFunc(l.Involvements, func(j Involvement) bool { return j.ID == i.ID }); at >= 0 {
		l.Involvements = slices.Clone(l.Involvements)
		l.Involvements[at] = i
		return
	}
	l.Involvements = append(l.Involvements, i)
}
