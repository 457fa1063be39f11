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

// mostAlike is how many items of one kind are listed before the others of the kind are folded.
const mostAlike = 5

// itemLine is an item, and whether its day has passed.
type itemLine struct {
	models.Item
	Late bool
}

// itemGroup is the items of one kind: some listed, the others folded.
type itemGroup struct{ Listed, Folded []itemLine }

// Groups returns the items by kind. What keeps a player safe is never folded.
func (w waiting) Groups() (all []itemGroup) {
	for n, i := range w.Items {
		if n == 0 || i.Kind != w.Items[n-1].Kind {
			all = append(all, itemGroup{})
		}
		g, line := &all[len(all)-1], itemLine{i, i.Overdue(w.Today)}
		if len(g.Listed) < mostAlike || i.Kind.Safety() {
			g.Listed = append(g.Listed, line)
		} else {
			g.Folded = append(g.Folded, line)
		}
	}
	return all
}

// waitingFor reads what waits for the caller.
func (p *Pages) waitingFor(tx *store.Tx) (w waiting, err error) {
	w.Today = tx.Who().Day(p.now())
	w.Items, err = tx.Items(models.ItemFilter{}, w.Today)
	return w, err
}
