package store

import (
	"slices"

	"throughline/models"
)

func indicators() *kind[models.Indicator] {
	return &kind[models.Indicator]{
		name: "indicator", table: "indicators", area: models.AreaSetup, order: "indicators.code, indicators.id",
		record:   func(i *models.Indicator) *models.Record { return &i.Record },
		validate: (*models.Indicator).Validate,
		within:   everyone,
		check:    checkIndicator,
		needed:   func(tx *Tx, i *models.Indicator) error { return tx.unused("indicator", i.Code, "goals") },
		wrote: func(tx *Tx, _, _ *models.Indicator) error {
			tx.own, tx.all = nil, true
			return nil
		},
	}
}

// Indicator returns one of the academy's own indicators; those of the catalogue have no id.
func (tx *Tx) Indicator(id int64) (models.Indicator, error) { return indicators().get(tx, id) }

// Indicators returns the indicators of the catalogue in its order, then the academy's own by code.
func (tx *Tx) Indicators() ([]models.Indicator, error) {
	if tx.own != nil {
		return slices.Clone(*tx.own), nil
	}
	own, err := indicators().list(tx)
	if err != nil {
		return nil, err
	}
	all := append(slices.Clone(models.IndicatorCatalogue()), own...)
	tx.own = &all
	return slices.Clone(all), nil
}

// onlyCatalogue notes that the academy was found to have no indicators of its own.
func (tx *Tx) onlyCatalogue() {
	if tx.own == nil {
		all := slices.Clone(models.IndicatorCatalogue())
		tx.own = &all
	}
}

// OwnIndicators returns the academy's own indicators by code.
func (tx *Tx) OwnIndicators() ([]models.Indicator, error) { return indicators().list(tx) }

// CreateIndicator adds an indicator of the academy's own and observes it in every match. A code that another indicator
// has is a Conflict.
func (tx *Tx) CreateIndicator(i *models.Indicator) error { return indicators().create(tx, i) }

// UpdateIndicator changes an indicator of the academy's own and observes it again in every match; it keeps its code.
func (tx *Tx) UpdateIndicator(i *models.Indicator) error { return indicators().update(tx, i) }

// DeleteIndicator deletes an indicator of the academy's own that is no goal's, with its observations.
func (tx *Tx) DeleteIndicator(id, version int64) error { return indicators().remove(tx, id, version) }

func checkIndicator(tx *Tx, old, i *models.Indicator) error {
	if old != nil && i.Code != old.Code {
		return wrong("code", "the code of an indicator cannot change; create another indicator")
	}
	if slices.ContainsFunc(models.IndicatorCatalogue(), func(c models.Indicator) bool { return c.Code == i.Code }) {
		return models.Errorf(models.Conflict, "%s is the code of a built-in indicator; choose a different code", i.Code)
	}
	return indicators().only(tx, i.ID, "there is already an indicator "+i.Code, that("indicators.code = ?", i.Code))
}

// indicatorOf returns the academy's indicator with a code, which a field names.
func (tx *Tx) indicatorOf(field, code string) (models.Indicator, error) {
	all, err := tx.Indicators()
	if err != nil {
		return models.Indicator{}, err
	}
	for _, i := range all {
		if i.Code == code {
			return i, nil
		}
	}
	return models.Indicator{}, wrong(field, "there is no indicator %q", code)
}
