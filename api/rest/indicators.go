package rest

import (
	"throughline/models"
	"throughline/models/store"
)

type indicatorsWanted struct{ Page }

func indicators(s *Service) {
	add(s, resource[models.Indicator, indicatorsWanted]{
		name: "indicator", many: "indicators", path: "/indicators", part: setup, order: "by code",
		about: "An indicator is a number computed for each match from counts. These are the academy's own indicators; the " +
			"built-in ones are in the catalogue. After a change, every match is computed again. The code of an indicator " +
			"cannot change.",
		list: func(tx *store.Tx, _ *indicatorsWanted) ([]models.Indicator, error) { return tx.OwnIndicators() },
		get:  (*store.Tx).Indicator, create: (*store.Tx).CreateIndicator, update: (*store.Tx).UpdateIndicator,
		remove: (*store.Tx).DeleteIndicator,
		record: func(r *models.Indicator) *models.Record { return &r.Record },
		example: models.Indicator{
			Record: exampleRecord(4), Code: "tackle_share_missed", Label: "Tackles missed",
			Meaning: "Of the tackles you went for, the share you missed.",
			Family:  models.Proportion, Unit: "%", Numerator: "tackles_missed", Denominator: "tackle_results_recorded",
			Better: models.Lower, Depth: models.Core,
		},
	})
}
