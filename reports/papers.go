// Package reports has all the papers of an academy in one place. Pages, files, programs and the command line offer
// what stands here.
package reports

import (
	"throughline/reports/brief"
	"throughline/reports/chart"
	"throughline/reports/consistency"
	"throughline/reports/matchreview"
	"throughline/reports/overview"
	"throughline/reports/paper"
	"throughline/reports/season"
)

// Papers returns every kind of paper, drawn with a renderer. A new one is a folder beside this file and a line here.
func Papers(charts *chart.Renderer) (paper.Papers, error) {
	var all paper.Papers
	for _, declare := range []func(*chart.Renderer) (paper.Paper, error){
		season.Paper,
		overview.Paper,
		brief.Paper,
		consistency.Paper,
		matchreview.Paper,
	} {
		p, err := declare(charts)
		if err != nil {
			return nil, err
		}
		all = append(all, p)
	}
	return all, nil
}
