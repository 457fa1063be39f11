package pages

import (
	"throughline/models"
	"throughline/models/store"
)

// waiting is what waits for the caller, as the partial of that name prints it: first on the home page of staff, and
// above the reports of a player, who is sent on to them from home.
type waiting struct {
	Items []models.Item
	Today models.Date
}

// waitingFor reads what waits for the caller.
func (p *Pages) waitingFor(tx *store.Tx) (w waiting, err error) {
	w.Today = models.DateOf(p.now().UTC())
	w.Items, err = tx.Items(models.ItemFilter{}, w.Today)
	return w, err
}
