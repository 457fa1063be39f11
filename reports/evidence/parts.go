package evidence

import (
	"slices"

	"throughline/models"
)

// SquadFigure is an indicator in the matches of one squad, of a player with figures for several.
type SquadFigure struct {
	SquadID     int64   `json:"squad_id"`
	Squad       string  `json:"squad"`   // its name
	Matches     int     `json:"matches"` // with figures of the indicator
	Numerator   float64 `json:"numerator"`
	Denominator float64 `json:"denominator"` // full matches, trials or actions
	Season      float64 `json:"season"`      // the value over these matches, in the indicator's unit
}

// PartLine is an indicator in parts of the matches, such as the quarters of the player's own time.
type PartLine struct {
	Indicator string       `json:"indicator"`
	Label     string       `json:"label"`
	Unit      string       `json:"unit"`
	Quarters  bool         `json:"quarters"` // of the own time; otherwise before and in long passages
	Parts     []PartFigure `json:"parts"`    // in the order of play
}

// PartFigure is one part of a line. The first three quarters stand after the four, to set the last one beside them.
type PartFigure struct {
	Part        string  `json:"part"` // its code, such as q4
	Label       string  `json:"label"`
	Matches     int     `json:"matches"` // with figures of the indicator in the part
	Numerator   float64 `json:"numerator"`
	Denominator float64 `json:"denominator"` // full matches, trials or actions
	Value       float64 `json:"value"`       // in the indicator's unit
}

const firstThree = "q1_q3"

// bySquad splits an indicator's matches by squad, in the order in which the player came to them; nil where all are of
// one.
func (p *Player) bySquad(points []Point) (all []SquadFigure) {
	for i := range points {
		o := &points[i]
		k := slices.IndexFunc(all, func(s SquadFigure) bool { return s.SquadID == o.squad })
		if k < 0 {
			k, all = len(all), append(all, SquadFigure{SquadID: o.squad, Squad: p.squads[o.squad]})
		}
		s := &all[k]
		s.Matches++
		s.Numerator += o.Numerator
		s.Denominator += o.Denominator
		s.Season = s.Numerator / s.Denominator
	}
	if len(all) < 2 {
		return nil
	}
	return all
}

// compared are the matches of the squad that the player is compared with, and their places.
func (p *Player) compared(points []Point) (own []Point, places []int) {
	for i := range points {
		if p.Squad == nil || points[i].squad == p.Squad.ID {
			own, places = append(own, points[i]), append(places, i)
		}
	}
	return own, places
}

// partLines are the indicators in parts of the matches, in the catalogue's order.
func partLines(catalogue []models.Indicator, points map[string][]Point) []PartLine {
	lines := []PartLine{}
	for i := range catalogue {
		in := &catalogue[i]
		for _, quarters := range []bool{true, false} {
			if l := partLine(in, quarters, points); len(l.Parts) > 0 {
				lines = append(lines, l)
			}
		}
	}
	return lines
}

func partLine(in *models.Indicator, quarters bool, points map[string][]Point) PartLine {
	l := PartLine{Indicator: in.Code, Label: in.Label, Unit: in.Unit, Quarters: quarters}
	early := PartFigure{Part: firstThree, Label: "First three quarters"}
	for _, part := range models.Parts() {
		ps := points[in.Code+"."+part.Code]
		if part.Quarter > 0 != quarters || len(ps) == 0 {
			continue
		}
		f := PartFigure{Part: part.Code, Label: part.Label}
		f.add(ps)
		if part.Quarter > 0 && part.Quarter < 4 {
			early.add(ps)
		}
		l.Parts = append(l.Parts, f)
	}
	if early.Denominator > 0 {
		l.Parts = append(l.Parts, early)
	}
	return l
}

func (f *PartFigure) add(points []Point) {
	f.Matches = max(f.Matches, len(points))
	for i := range points {
		f.Numerator += points[i].Numerator
		f.Denominator += points[i].Denominator
	}
	f.Value = f.Numerator / f.Denominator
}

// Part returns a part of a line, nil where it has no figure.
func (l *PartLine) Part(code string) *PartFigure {
	if i := slices.IndexFunc(l.Parts, func(f PartFigure) bool { return f.Part == code }); i >= 0 {
		return &l.Parts[i]
	}
	return nil
}
