package trend

import "context"

// Sketches are what the fits of a squad's indicators say about the scales, as FitWith returns them, without the fits.
// It errs where the context ends first.
func Sketches(ctx context.Context, indicators []Indicator) ([]Sketch, error) {
	indicators, _ = prepared(ctx, indicators)
	_, own, _, err := scalesOf(ctx, indicators, nil)
	return own, err
}
