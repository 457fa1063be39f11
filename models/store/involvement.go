package store

import "throughline/models"

func involvements() *kind[models.Involvement] {
	return &kind[models.Involvement]{
		name: "involvement", table: "involvements", area: models.AreaPerformance,
		joins: "JOIN logs ON logs.academy_id = involvements.academy_id AND logs.id = involvements.log_id " +
			joinMatches("logs"),
		order: "matches.date, matches.id, logs.player_id, involvements.log_id, involvements.half, involvements.second, " +
			"involvements.id",
		record:   func(i *models.Involvement) *models.Record { return &i.Record },
		player:   func(tx *Tx, i *models.Involvement) (int64, error) { return tx.playerOf("logs", i.LogID) },
		whose:    "logs.player_id",
		validate: (*models.Involvement).Validate,
		within:   byAuthor(ofPlayerInMatch("logs"), "logs.logger_id"),
		facts:    involvementFacts,
		again:    involvementAgain,
		load:     askForInvolvements,
		check:    checkInvolvement,
		keep: func(tx *Tx, _, i *models.Involvement) {
			k := tx.facts().facts[tx.facts().logs[i.LogID]]
			k.PutInvolvement(*i)
			k.sent[i.ID] = i
		},
		owner: func(tx *Tx, i *models.Involvement) bool {
			k := tx.facts().facts[tx.facts().logs[i.LogID]]
			return k != nil && k.mine[i.LogID]
		},
		follows: involvementsFollow,
		holds: []hold{
			{name: "a pass or offload linked to it", table: "involvements", column: "linked_to"},
			{name: "review notes", table: "review_notes", column: "involvement_id"},
			{table: "head_contacts", column: "involvement_id", stays: "a head contact stays after its mark is removed"},
		},
	}
}

func askForInvolvements(tx *Tx, all []models.Involvement) error {
	return askFor(tx, `SELECT h.*, i.id AS mark_id FROM involvements AS i
		JOIN logs AS l ON l.academy_id = i.academy_id AND l.id = i.log_id
		JOIN head_contacts AS h ON h.academy_id = i.academy_id AND h.player_id = l.player_id AND h.match_id = l.match_id
		WHERE i.academy_id = ? AND i.id IN ? AND h.deleted_at IS NULL`, all,
		func(h *headed) *int64 { return h.InvolvementID },
		func(i *models.Involvement) mark { return mark{i.ID, i.HeadContact, i.Clock, &i.Ask, &i.Proposal} })
}

// involvementFacts reads what is recorded in the matches of involvements' logs.
func involvementFacts(tx *Tx, all []*models.Involvement) error {
	keys := make([]logKey, len(all))
	for n, i := range all {
		keys[n] = logKey{i.LogID, i.Key}
	}
	if err := tx.learnLogs(keys); err != nil {
		return err
	}
	var pairs []pair
	var uses []models.Purpose
	for _, i := range all {
		pairs, uses = append(pairs, tx.facts().logs[i.LogID]), append(uses, i.Uses()...)
	}
	return tx.learnAsked(pairs, uses...)
}

// involvementAgain finds the involvement of the log that has the key already. The key of a deleted one is Gone.
func involvementAgain(tx *Tx, i *models.Involvement) (*models.Involvement, error) {
	b := tx.facts()
	k := b.facts[b.logs[i.LogID]]
	if i.Key == "" || k == nil {
		return nil, nil
	}
	if same, there := k.Keyed(i.LogID, i.Key); there {
		if sent := k.sent[same.ID]; sent != nil {
			return sent, nil
		}
		found, _, err := first(involvements().find(tx, where{}, that("involvements.id = ?", same.ID)))
		return &found, err
	}
	if b.gone[logKey{i.LogID, i.Key}] && k.mine[i.LogID] {
		return nil, involvements().gone(i.Key)
	}
	return nil, nil
}

func checkInvolvement(tx *Tx, old, i *models.Involvement) error {
	if old != nil && i.LogID != old.LogID {
		return stays("log_id", "an involvement", "its log")
	}
	of := tx.facts().logs[i.LogID]
	if of == (pair{}) {
		return wrong("log_id", "there is no involvement log %d", i.LogID)
	}
	k, err := tx.factsOf(of)
	if err != nil {
		return err
	}
	i.Ask, i.Proposal = "", nil
	return k.AdmitInvolvement(*i)
}

// involvementsFollow marks whose observations change, and makes the records of head contacts that involvements
// are marked with.
func involvementsFollow(tx *Tx, all []change[models.Involvement]) error {
	var lost []int64
	var marked []*models.Involvement
	for _, c := range all {
		if c.now == nil {
			lost = append(lost, c.old.LogID)
			continue
		}
		tx.changed(tx.facts().logs[c.now.LogID])
		if c.now.HeadContact {
			marked = append(marked, c.now)
		}
	}
	if len(lost) > 0 {
		return tx.touchLogs(lost)
	}
	if len(marked) == 0 {
		return nil
	}
	return tx.markInvolvements(marked)
}

// markInvolvements makes the records of the head contacts that involvements are marked with.
func (tx *Tx) markInvolvements(all []*models.Involvement) error {
	facts := tx.facts()
	ones := make([]models.Involvement, len(all))
	for n, i := range all {
		k := facts.facts[facts.logs[i.LogID]]
		l, _ := k.Log(i.LogID)
		clock := i.Clock
		h := models.HeadContact{PlayerID: l.PlayerID, Date: k.Match.Date, MatchID: &k.Match.ID, Clock: &clock,
			InvolvementID: &i.ID, MarkedBy: &l.LoggerID, StandDown: i.StandDown}
		if err := tx.marked(h); err != nil {
			return err
		}
		facts.putContact(h)
		if h.StandDown {
			downs, err := tx.downs([]int64{h.PlayerID})
			if err != nil {
				return err
			}
			facts.putDowns(h.PlayerID, downs[h.PlayerID])
		}
		i.StandDown = false
		ones[n] = *i
	}
	tx.book = facts // it has the head contacts
	err := askForInvolvements(tx, ones)
	for n, i := range all {
		i.Ask, i.Proposal = ones[n].Ask, ones[n].Proposal
	}
	return err
}

// Involvement returns an involvement.
func (tx *Tx) Involvement(id int64) (models.Involvement, error) { return involvements().get(tx, id) }

// Involvements returns involvements by the date of the match, then player, log and clock.
func (tx *Tx) Involvements(f models.InvolvementFilter) ([]models.Involvement, error) {
	filters := []where{is("involvements.log_id", f.LogID), is("logs.match_id", f.MatchID),
		is("logs.player_id", f.PlayerID), is("matches.season_id", f.SeasonID), among("involvements.log_id", f.LogIDs)}
	if f.DangersOnly {
		const dangerous = "(involvements.dangers IS NOT NULL OR involvements.kind = ? AND involvements.details ->> " +
			"'height' = ?)"
		filters = append(filters, that(dangerous, models.KindTackle, "high"))
	}
	if f.MomentsOnly {
		filters = append(filters, that("involvements.moment"))
	}
	return involvements().list(tx, filters...)
}

// CreateInvolvement adds an involvement to a log. Marked as a head contact it makes the record of one, once. It must
// fit the match, the player's stints and what the log covers. A Key that an involvement of the log has already returns
// that involvement and changes nothing; that of a deleted one is Gone.
func (tx *Tx) CreateInvolvement(i *models.Involvement) error { return involvements().create(tx, i) }

// CreateInvolvements adds involvements to a log, all or none, each as CreateInvolvement would after the ones
// before it. It returns why each of them is refused, nil for one that is not. A log that the caller may not see
// is NotFound.
func (tx *Tx) CreateInvolvements(log int64, all []*models.Involvement) (refused []error, err error) {
	if _, some := logs().reaching(tx, models.Read); !some {
		return nil, logs().missing(log)
	}
	for _, i := range all {
		i.LogID = log
	}
	if err := involvementFacts(tx, all); err != nil {
		return nil, err
	}
	if tx.facts().logs[log] == (pair{}) {
		return nil, logs().missing(log)
	}
	return involvements().createAll(tx, all)
}

// UpdateInvolvement changes an involvement; it stays with its log.
func (tx *Tx) UpdateInvolvement(i *models.Involvement) error { return involvements().update(tx, i) }

// DeleteInvolvement deletes an involvement. A pass or offload that is linked to it, or a review note that shows
// it, is in the way.
func (tx *Tx) DeleteInvolvement(id, version int64) error {
	return involvements().remove(tx, id, version)
}
