package store

import (
	"context"

	"throughline/models"
)

// Academies returns the academies of the deployment by name, without the deployment itself.
func (s *Store) Academies(ctx context.Context) (all []models.Academy, err error) {
	err = s.Read(ctx, models.Console(models.Deployment), func(tx *Tx) error {
		all, err = tx.Academies()
		return err
	})
	return all, err
}

// CreateAcademy adds an academy to the deployment, as its console. A name that another has is a Conflict.
func (s *Store) CreateAcademy(ctx context.Context, name string) (models.Academy, error) {
	a := models.Academy{Name: name}
	err := s.Write(ctx, models.Console(models.Deployment), func(tx *Tx) error { return tx.CreateAcademy(&a) })
	if err != nil {
		return models.Academy{}, err
	}
	return a, nil
}

// mayAcademy is an error unless the caller may change the academy: NotFound if they may not read academies.
func (tx *Tx) mayAcademy(id int64) error {
	if tx.mayAcademies(models.Read) != nil {
		return noAcademy(id)
	}
	return tx.mayAcademies(models.Write)
}

func noAcademy(id int64) error {
	return models.Errorf(models.NotFound, "there is no academy %d", id)
}

// mayAcademies is Forbidden unless the caller is an operator of the deployment.
func (tx *Tx) mayAcademies(action models.Action) error {
	if tx.who.AcademyID != models.Deployment || tx.who.Reach(action, models.AreaAcademies) != models.ReachAcademy {
		return models.Errorf(models.Forbidden, "only operators manage academies")
	}
	return nil
}

// Academies returns the academies of the deployment by name, to an operator.
func (tx *Tx) Academies() ([]models.Academy, error) {
	if err := tx.mayAcademies(models.Read); err != nil {
		return nil, err
	}
	all := []models.Academy{}
	err := tx.query().Select("id", "name").Where("id <> ?", models.Deployment).Order("name, id").Find(&all).Error
	return all, tx.done("read the academies", err)
}

// AcademyName returns the name of the academy of the caller: empty for the deployment.
func (tx *Tx) AcademyName() (string, error) {
	a, _, err := first(rows[models.Academy](tx, "read the academy's name",
		"SELECT id, name FROM academies WHERE id = ? AND id <> ?", tx.who.AcademyID, models.Deployment))
	return a.Name, err
}

// CreateAcademy adds an academy, for an operator. A name that another has is a Conflict.
func (tx *Tx) CreateAcademy(a *models.Academy) error {
	if err := tx.mayAcademies(models.Write); err != nil {
		return err
	}
	made := models.Academy{Name: a.Name, Observed: models.ObservingRules()}
	if err := tx.academyNamed(made); err != nil {
		return err
	}
	if err := tx.done("create the academy", clash(tx.query().Create(&made).Error, "academy")); err != nil {
		return err
	}
	*a = made
	tx.note(models.AuditCreate, "academy", a.ID, 0, nil, made)
	return nil
}

// RenameAcademy gives an academy another name, for an operator. An academy that does not exist is NotFound, a name
// that another has a Conflict.
func (tx *Tx) RenameAcademy(id int64, name string) (models.Academy, error) {
	a := models.Academy{ID: id, Name: name}
	if err := tx.mayAcademy(id); err != nil {
		return a, err
	}
	if err := tx.academyNamed(a); err != nil {
		return a, err
	}
	old, _, err := first(rows[models.Academy](tx, "read the academy's name",
		"SELECT id, name FROM academies WHERE id = ?", id))
	if err != nil {
		return a, err
	}
	done := tx.query().Exec("UPDATE academies SET name = ? WHERE id = ? AND id <> ?", name, id, models.Deployment)
	if err := tx.done("rename the academy", clash(done.Error, "academy")); err != nil {
		return a, err
	}
	if done.RowsAffected != 1 {
		return a, noAcademy(id)
	}
	tx.note(models.AuditChange, "academy", id, 0, old, a)
	return a, nil
}

// academyNamed is an error if the academy's name is not valid or another academy has it.
func (tx *Tx) academyNamed(a models.Academy) error {
	if err := a.Validate(); err != nil {
		return err
	}
	n, err := tx.count("look for the academy", "SELECT count(*) FROM academies WHERE name = ? AND id <> ?", a.Name, a.ID)
	if err == nil && n > 0 {
		err = models.Errorf(models.Conflict, "there is already an academy %s", a.Name)
	}
	return err
}

// Found makes the first academy of an empty deployment with its first manager, in one transaction. U has the hash of
// their password. From is where that was asked for. It returns who they are. It is a Conflict if there is an academy.
func (s *Store) Found(ctx context.Context, name string, u *models.User, from string) (models.Who, error) {
	founder := models.Console(models.Deployment)
	founder.Name, founder.From = "first run", from
	made := *u
	made.Role = models.RoleManager
	err := s.Write(ctx, founder, func(tx *Tx) error {
		n, err := tx.count("look for an academy", "SELECT count(*) FROM academies WHERE id <> ?", models.Deployment)
		if err != nil {
			return err
		}
		if n > 0 {
			return models.Errorf(models.Conflict, "this server has an academy already; ask its manager for a link")
		}
		a := models.Academy{Name: name}
		if err := tx.CreateAcademy(&a); err != nil {
			return err
		}
		if err := tx.settle(); err != nil { // the entry of the audit trail belongs to the deployment
			return err
		}
		tx.trail, tx.who.AcademyID = nil, a.ID
		if err := tx.enter(); err != nil {
			return err
		}
		return tx.CreateUser(&made)
	})
	if err != nil {
		return models.Who{}, err
	}
	_, who, err := s.UserByLogin(ctx, made.Login)
	*u = made
	return who, err
}

// CreateFirstManager makes the first manager of an academy, and the one-time link with l's hash for their first
// sign-in. The caller is an operator. It is the only thing that an operator does within an academy, and it returns
// nothing of the academy. It is NotFound if the academy does not exist, and a Conflict if it has a manager, who
// creates the other users.
func (s *Store) CreateFirstManager(ctx context.Context, who models.Who, academy int64, u *models.User,
	l *models.Link) error {
	err := s.Read(ctx, who, func(tx *Tx) error {
		if err := tx.mayAcademy(academy); err != nil {
			return err
		}
		n, err := tx.count("look for the academy", "SELECT count(*) FROM academies WHERE id = ? AND id <> ?", academy,
			models.Deployment)
		if err == nil && n == 0 {
			err = noAcademy(academy)
		}
		return err
	})
	if err != nil {
		return err
	}
	made, link := models.User{Login: u.Login, Name: u.Name, Role: models.RoleManager}, models.Link{Hash: l.Hash}
	there := who // themselves, at work in that academy for this one transaction
	there.AcademyID = academy
	err = s.Write(ctx, there, func(tx *Tx) error {
		n, err := tx.count("look for a manager", "SELECT count(*) FROM users WHERE academy_id = ? AND role = ? AND "+
			"deleted_at IS NULL", academy, models.RoleManager)
		if err != nil {
			return err
		}
		if n > 0 {
			return models.Errorf(models.Conflict, "the academy already has a manager; ask them to add other users")
		}
		if err := tx.CreateUser(&made); err != nil {
			return err
		}
		link.UserID = made.ID
		return tx.CreateLink(&link)
	})
	if err != nil {
		return err
	}
	*u, *l = made, link
	return nil
}
