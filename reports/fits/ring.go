package fits

import (
	"strings"

	"throughline/models"
)

// ring is a circle of players whom one may be compared with.
type ring struct {
	label string
	has   func(group string) bool
}

// rings are those of a group, the narrowest first: the position group, forwards or backs, the whole squad. Where an
// indicator means something else in each position there is one ring, the position: a scrum half is never compared with
// a fly half.
func rings(of string, byPosition bool) []ring {
	if byPosition {
		if of == "" {
			return nil
		}
		return []ring{{strings.ToLower(models.Position(of).Plural()), func(g string) bool { return g == of }}}
	}
	own := models.Group(of)
	scope := own.Scope()
	return []ring{
		{strings.ToLower(own.Label()), func(g string) bool { return g == of && own != models.GroupUnknown }},
		{string(scope), func(g string) bool { return models.Group(g).Scope() == scope && scope != "" }},
		{"whole squad", func(string) bool { return true }},
	}
}
