package paper

import (
	"context"

	"throughline/reports/chart"
)

// Drawing is a figure whose picture is not drawn yet, and the chart that it shows.
type Drawing struct {
	Figure Figure
	Chart  chart.Chart
}

// Draw draws all in one go, so that the engines work side by side, and returns the figures in the same order. Without a
// renderer they have no picture, for a reader of the words alone.
func Draw(ctx context.Context, charts *chart.Renderer, all []Drawing) ([]Figure, error) {
	figures, wanted := make([]Figure, len(all)), make([]chart.Figure, len(all))
	for i, d := range all {
		figures[i], wanted[i] = d.Figure, chart.Figure{ID: d.Figure.ID, Chart: d.Chart}
	}
	if charts == nil {
		return figures, nil
	}
	pictures, err := charts.RenderAll(ctx, wanted)
	if err != nil {
		return nil, err
	}
	for i := range figures {
		figures[i].Picture = pictures[i]
	}
	return figures, nil
}
