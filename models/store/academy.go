package store

import (
	"context"

	"throughline/models"
)

// Academies returns the academies of the deployment by name.
func (s *Store) Academies(ctx context.Context) ([]models.Academy, error) {
	all := []models.Academy{}
	err := s.Read(ctx, models.Who{}, func(tx *Tx) error {
		return tx.done("read the academies", tx.query().Order("name, id").Find(&all).Error)
	})
	return all, err
}

// CreateAcademy adds an academy to the deployment. A name that another has is a Conflict.
func (s *Store) CreateAcademy(ctx context.Context, name string) (models.Academy, error) {
	a := models.Academy{Name: name}
	if err := a.Validate(); err != nil {
		return models.Academy{}, err
	}
	err := s.Write(ctx, models.Who{}, func(tx *Tx) error {
		n, err := tx.count("look for the academy", "SELECT count(*) FROM academies WHERE name = ?", name)
		if err != nil {
			return err
		}
		if n > 0 {
			return models.Errorf(models.Conflict, "there is already an academy %s", name)
		}
		return tx.done("create the academy", clash(tx.query().Create(&a).Error, "academy"))
	})
	if err != nil {
		return models.Academy{}, err
	}
	return a, nil
}
