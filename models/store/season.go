package store

import "throughline/models"

func seasons() *kind[models.Season] {
	return &kind[models.Season]{
		name: "season", table: "seasons", area: models.AreaSetup, order: "seasons.starts, seasons.id",
		record:   func(s *models.Season) *models.Record { return &s.Record },
		validate: (*models.Season).Validate,
		within:   everyone,
		check:    checkSeason,
		holds: []hold{
			{name: "matches", table: "matches", column: "season_id"},
			{name: "memberships", table: "memberships", column: "season_id"},
			{name: "rating rounds", table: "rating_rounds", column: "season_id"},
			{name: "meetings", table: "meetings", column: "season_id"},
			{name: "reviews", table: "reviews", column: "season_id"},
		},
	}
}

// Season returns a season.
func (tx *Tx) Season(id int64) (models.Season, error) { return seasons().get(tx, id) }

// Seasons returns seasons by their first day.
func (tx *Tx) Seasons(f models.SeasonFilter) ([]models.Season, error) {
	return seasons().list(tx, is("seasons.name", f.Name))
}

// CreateSeason adds a season. Another of the same name is a Conflict.
func (tx *Tx) CreateSeason(s *models.Season) error { return seasons().create(tx, s) }

// UpdateSeason changes a season. A match, membership or rating round that its dates would leave out is a Conflict.
func (tx *Tx) UpdateSeason(s *models.Season) error { return seasons().update(tx, s) }

// DeleteSeason deletes a season that has no matches, memberships, rating rounds, meetings and reviews.
func (tx *Tx) DeleteSeason(id, version int64) error { return seasons().remove(tx, id, version) }

func checkSeason(tx *Tx, old, s *models.Season) error {
	if err := seasons().only(tx, s.ID, "there is already a season "+s.Name,
		that("seasons.name = ?", s.Name)); err != nil {
		return err
	}
	if old == nil {
		return nil
	}
	m, outside, err := first(matches().find(tx, where{},
		that("matches.season_id = ? AND (matches.date < ? OR matches.date > ?)", s.ID, s.Starts, s.Ends)))
	if err != nil {
		return err
	}
	if outside {
		return models.Errorf(models.Conflict,
			"the match against %s on %s would be outside the season: change its date first",
			m.Opponent, m.Date)
	}
	b, outside, err := first(memberships().find(tx, where{}, that("memberships.season_id = ?", s.ID),
		that("memberships.from_date < ? OR memberships.from_date > ? OR memberships.until_date > ?", s.Starts, s.Ends,
			s.Ends)))
	if err != nil {
		return err
	}
	if outside {
		return models.Errorf(models.Conflict, "membership %d, from %s, would be outside the season: change it first", b.ID,
			b.From)
	}
	r, outside, err := first(ratingRounds().find(tx, where{},
		that("rating_rounds.season_id = ? AND (rating_rounds.date < ? OR rating_rounds.date > ?)", s.ID, s.Starts, s.Ends)))
	if err != nil {
		return err
	}
	if outside {
		return models.Errorf(models.Conflict, "the rating round %s, of %s, would be outside the season: change it first",
			r.Name, r.Date)
	}
	return nil
}
