package store

import (
	"cmp"
	"fmt"
	"slices"

	"throughline/models"
)

// AddPlays adds appearances with their stints, match totals, logs and involvements, many at once, of players who do
// not yet appear in the match. The matches, players and loggers exist. It is for files and examples. Each record meets
// the same rules as on its own, and nothing is written unless all are good. Only the id of a play's Match is read.
//
// An involvement that another of its log is linked to carries an id of the caller's choice, above 0 and unique in the
// log; the store gives its own and keeps the links. In an error, fields begin with "plays[n].", n counting from 0.
// Parts of a refused record are not checked.
func (tx *Tx) AddPlays(plays []models.Play) error {
	for _, err := range []error{appearances().mayChange(tx), matchTotals().mayChange(tx), logs().mayChange(tx)} {
		if err != nil {
			return err
		}
	}
	if err := tx.observe(); err != nil { // what a deleted appearance left must be gone before
		return err
	}
	b := batch{tx: tx, plays: clonePlays(plays)}
	if err := b.admit(); err != nil {
		tx.book = nil // it has become that of records that are not written
		return err
	}
	if err := b.write(); err != nil {
		return err
	}
	b.gather()
	for _, p := range b.plays {
		tx.note(models.AuditCreate, "play", p.Appearance.ID, p.Appearance.PlayerID, nil, noted(p))
	}
	copy(plays, b.plays)
	return tx.observe()
}

// noted returns what the audit trail says about a play that was added with many others: all of it, but of the
// involvements only their number. These came from a file, which can be read again.
func noted(p models.Play) any {
	type logged struct {
		models.Log
		Involvements int `json:"involvements"`
	}
	n := struct {
		Appearance models.Appearance   `json:"appearance"`
		Totals     *models.MatchTotals `json:"totals,omitempty"`
		Logs       []logged            `json:"logs,omitempty"`
	}{Appearance: p.Appearance, Totals: p.Totals}
	for _, l := range p.Logs {
		n.Logs = append(n.Logs, logged{l.Log, len(l.Involvements)})
	}
	return n
}

// clonePlays copies plays, whose records name the match and the player of their appearance.
func clonePlays(plays []models.Play) []models.Play {
	all := make([]models.Play, len(plays))
	for n, p := range plays {
		if p.Match.ID == 0 {
			p.Match.ID = p.Appearance.MatchID
		}
		a := &p.Appearance
		a.MatchID, a.Stints = p.Match.ID, slices.Clone(a.Stints)
		if p.Totals != nil {
			totals := *p.Totals
			totals.MatchID, totals.PlayerID = a.MatchID, a.PlayerID
			p.Totals = &totals
		}
		p.Logs = slices.Clone(p.Logs)
		for l := range p.Logs {
			p.Logs[l].Involvements = slices.Clone(p.Logs[l].Involvements)
			p.Logs[l].Log.MatchID, p.Logs[l].Log.PlayerID = a.MatchID, a.PlayerID
		}
		all[n] = p
	}
	return all
}

// batch is plays on their way into the database: each kind of their records is one batch, see createAll.
type batch struct {
	tx           *Tx
	plays        []models.Play
	appearances  part[models.Appearance]
	totals       part[models.MatchTotals]
	logs         part[models.Log]
	involvements part[models.Involvement]
	faults       []fault
}

// part is the records of one kind of a batch.
type part[T any] struct {
	kind    *kind[T]
	name    func(place) string // where a record is in its play
	at      []place
	all     []*T
	changes []change[T]
}

// place is where a record is in the batch: its play, its log in the play, and its involvement in the log.
type place struct{ play, log, involvement int }

// fault is why a record of a batch is refused.
type fault struct {
	at  place
	of  string
	err error
}

// mostWrong is how many faults of a batch are listed.
const mostWrong = 200

func (p *part[T]) add(at place, r *T) { p.at, p.all = append(p.at, at), append(p.all, r) }

// number copies the records and gives them ids.
func (p *part[T]) number(tx *Tx) (err error) {
	if len(p.all) == 0 {
		return nil
	}
	if err := p.kind.mayChange(tx); err != nil {
		return err
	}
	p.all, err = p.kind.drawn(tx, p.all, true)
	return err
}

// admit checks the records, and returns the places of those that are refused.
func (p *part[T]) admit(b *batch) (bad map[place]bool, err error) {
	bad = map[place]bool{}
	changes, refused, err := p.kind.admitAll(b.tx, p.all)
	for n, err := range refused {
		if err != nil {
			bad[p.at[n]] = true
			b.faults = append(b.faults, fault{p.at[n], p.name(p.at[n]), err})
		}
	}
	p.changes = changes
	return bad, err
}

// write writes the records, and does what follows from them.
func (p *part[T]) write(tx *Tx) error {
	some := slices.DeleteFunc(slices.Clone(p.changes), func(c change[T]) bool { return c.same != nil })
	if len(some) == 0 {
		return nil
	}
	if err := p.kind.put(tx, some); err != nil {
		return err
	}
	return p.kind.follow(tx, some)
}

// now returns the nth record as it is written, or as it was already.
func (p *part[T]) now(n int) *T {
	if same := p.changes[n].same; same != nil {
		return same
	}
	return p.changes[n].now
}

// admit checks all records of the plays, the ones that others belong to first.
func (b *batch) admit() error {
	b.appearances = part[models.Appearance]{kind: appearances(), name: func(place) string { return "appearance" }}
	b.totals = part[models.MatchTotals]{kind: matchTotals(), name: func(place) string { return "totals" }}
	b.logs = part[models.Log]{kind: logs(), name: func(at place) string { return fmt.Sprintf("logs[%d]", at.log) }}
	b.involvements = part[models.Involvement]{kind: involvements(), name: func(at place) string {
		return fmt.Sprintf("logs[%d].involvements[%d]", at.log, at.involvement)
	}}
	for n := range b.plays {
		b.appearances.add(place{play: n}, &b.plays[n].Appearance)
	}
	if err := b.appearances.number(b.tx); err != nil || len(b.plays) == 0 {
		return err
	}
	out, err := b.appearances.admit(b)
	if err != nil {
		return err
	}
	for n := range b.plays {
		if p := &b.plays[n]; !out[place{play: n}] {
			if p.Totals != nil {
				b.totals.add(place{play: n}, p.Totals)
			}
			for l := range p.Logs {
				b.logs.add(place{play: n, log: l}, &p.Logs[l].Log)
			}
		}
	}
	if err := b.admitTotals(); err != nil {
		return err
	}
	if err := b.admitLogs(); err != nil {
		return err
	}
	return b.refusal()
}

func (b *batch) admitTotals() error {
	if err := b.totals.number(b.tx); err != nil || len(b.totals.all) == 0 {
		return err
	}
	_, err := b.totals.admit(b)
	return err
}

func (b *batch) admitLogs() error {
	if err := b.logs.number(b.tx); err != nil || len(b.logs.all) == 0 {
		return err
	}
	out, err := b.logs.admit(b)
	if err != nil {
		return err
	}
	for n, at := range b.logs.at {
		if out[at] {
			continue
		}
		log := b.logs.now(n).ID
		logged := b.plays[at.play].Logs[at.log].Involvements
		for i := range logged {
			logged[i].LogID = log
			b.involvements.add(place{at.play, at.log, i}, &logged[i])
		}
	}
	if len(b.involvements.all) == 0 {
		return nil
	}
	return b.admitInvolvements()
}

// admitInvolvements checks linked involvements last. If the other one is refused, the link is not checked.
func (b *batch) admitInvolvements() error {
	p := &b.involvements
	given := p.all
	if err := p.number(b.tx); err != nil {
		return err
	}
	plain := part[models.Involvement]{kind: p.kind, name: p.name}
	linked := plain
	to := b.link(given)
	for n, i := range p.all {
		switch {
		case i.LinkedTo == nil:
			plain.add(p.at[n], i)
		case to[n] == nil:
			unknown := wrong("linked_to", "there is no involvement %d in the log", *i.LinkedTo)
			b.faults = append(b.faults, fault{p.at[n], p.name(p.at[n]), cmp.Or(i.Validate(), unknown)})
		}
	}
	out, err := plain.admit(b)
	if err != nil {
		return err
	}
	for n, i := range p.all {
		if to[n] != nil && !out[*to[n]] {
			linked.add(p.at[n], i)
		}
	}
	if _, err := linked.admit(b); err != nil {
		return err
	}
	p.at, p.all = slices.Concat(plain.at, linked.at), nil
	p.changes = slices.Concat(plain.changes, linked.changes)
	return nil
}

// link has links lead to the ids that the store gave, in place of the caller's. It returns the places that they
// lead to; nil for what is linked to nothing, or to no involvement of its log.
func (b *batch) link(given []*models.Involvement) (to []*place) {
	type own struct {
		play, log int
		id        int64
	}
	p := &b.involvements
	ids := map[own]int{}
	for n, i := range given {
		if i.ID == 0 {
			continue
		}
		of := own{p.at[n].play, p.at[n].log, i.ID}
		if _, twice := ids[of]; twice {
			twin := wrong("id", "two involvements in the log have the id %d", i.ID)
			b.faults = append(b.faults, fault{p.at[n], p.name(p.at[n]), twin})
		}
		ids[of] = n
	}
	to = make([]*place, len(given))
	for n, i := range p.all {
		if i.LinkedTo == nil {
			continue
		}
		if carry, there := ids[own{p.at[n].play, p.at[n].log, *i.LinkedTo}]; there {
			id := p.all[carry].ID
			i.LinkedTo, to[n] = &id, &p.at[carry]
		}
	}
	return to
}

// refusal is the error for all that is refused, in the order of the plays.
func (b *batch) refusal() error {
	slices.SortStableFunc(b.faults, func(a, b fault) int { return cmp.Compare(a.at.play, b.at.play) })
	var all models.Faults
	for _, f := range b.faults[:min(len(b.faults), mostWrong)] {
		if err := all.Add(fmt.Sprintf("plays[%d].%s", f.at.play, f.of), f.err); err != nil {
			return err
		}
	}
	return all.Err("nothing was added")
}

func (b *batch) write() error {
	if err := b.appearances.write(b.tx); err != nil {
		return err
	}
	if err := b.totals.write(b.tx); err != nil {
		return err
	}
	if err := b.logs.write(b.tx); err != nil {
		return err
	}
	return b.involvements.write(b.tx)
}

// gather puts the records as they were written into the plays.
func (b *batch) gather() {
	for n, at := range b.appearances.at {
		b.plays[at.play].Appearance = *b.appearances.now(n)
		b.plays[at.play].Match = *b.tx.facts().matches[b.plays[at.play].Appearance.MatchID]
	}
	for n, at := range b.totals.at {
		b.plays[at.play].Totals = b.totals.now(n)
	}
	for n, at := range b.logs.at {
		b.plays[at.play].Logs[at.log].Log = *b.logs.now(n)
	}
	for n, at := range b.involvements.at {
		b.plays[at.play].Logs[at.log].Involvements[at.involvement] = *b.involvements.now(n)
	}
}
