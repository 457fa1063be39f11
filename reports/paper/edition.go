package paper

import (
	"slices"
	"strings"

	"throughline/models"
)

// Edition is one of the ways in which a paper is made, each for its readers.
type Edition struct {
	Code  string        // names it in addresses, commands and files: "talk-sheet"
	Name  string        // what people call it, inside a sentence: "talk sheet"
	About string        // a sentence that says whom it is for and what it has
	Roles []models.Role // who may have it made
}

// EditionsFor are the editions that the caller may have, in order; none of a paper that has none.
func (f Facts) EditionsFor(who models.Who) (all []Edition) {
	for _, e := range f.Editions {
		if slices.Contains(e.Roles, who.Role) {
			all = append(all, e)
		}
	}
	return all
}

// EditionOf is the edition of a code, or the caller's first for an empty one; the zero Edition of a paper that has
// none.
// Errors: Invalid where the paper has no such edition, Forbidden where it is not for the caller's role. Who may have no
// edition reads nothing that the paper is of: for them it is NotFound, or Forbidden where the paper is Closed.
func (f Facts) EditionOf(who models.Who, code string) (Edition, error) {
	all := f.EditionsFor(who)
	is := func(e Edition) bool { return e.Code == code }
	switch i := slices.IndexFunc(all, is); {
	case i >= 0:
		return all[i], nil
	case code == "" && len(all) > 0:
		return all[0], nil
	case code == "" && len(f.Editions) == 0:
		return Edition{}, nil
	case len(f.Editions) == 0:
		return Edition{}, models.Errorf(models.Invalid, "edition: a %s has no editions; leave it out", f.Name)
	case len(all) == 0 && f.Closed != "":
		return Edition{}, models.Errorf(models.Forbidden, "%s %s", withArticle(who.Role), f.Closed)
	case len(all) == 0:
		return Edition{}, models.Errorf(models.NotFound, "there is no such %s", f.Name)
	case slices.ContainsFunc(f.Editions, is):
		return Edition{}, models.Errorf(models.Forbidden, "this edition of the %s is not for a %s", f.Name, who.Role)
	}
	codes := make([]string, len(all))
	for i, e := range all {
		codes[i] = e.Code
	}
	return Edition{}, models.Errorf(models.Invalid, "edition: a %s has no edition %q; it has %s", f.Name, code,
		strings.Join(codes, ", "))
}

// Lacking is content of a paper that lacks some editions.
type Lacking interface{ Lacks(edition string) bool }

// Staff are the roles of the academy's staff, and of the console.
func Staff() []models.Role { return append(Writers(), models.RoleSelector) }

// Writers are the roles of those who write about players and hand papers to them.
func Writers() []models.Role {
	return []models.Role{models.RoleManager, models.RoleCoach, models.RoleConsole}
}

// withArticle is a role at the beginning of a sentence: "A selector", "An operator".
func withArticle(role models.Role) string {
	if role == models.RoleOperator {
		return "An operator"
	}
	return "A " + string(role)
}
