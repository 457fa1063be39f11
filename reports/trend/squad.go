package trend

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"sync"
)

// Indicator is one of the fits of a squad's season.
type Indicator struct {
	Name    string
	Data    Data
	Options Options
}

// FitSquad fits a squad's indicators on all cores, once to learn the scales that they share with their earlier seasons
// (learnScales) and once with them, and judges their players together, so that firm verdicts keep their
// false-discovery rate over all of them. results[i] is indicator i's, nil when it failed; the error joins what failed.
// A cancelled context stops before the next fit.
func FitSquad(ctx context.Context, indicators []Indicator) ([]*Result, error) {
	scales, err := scalesOf(ctx, indicators)
	if err != nil {
		return make([]*Result, len(indicators)), fmt.Errorf("fit squad: %w", err)
	}
	results, failed, err := fitAll(ctx, indicators, func(i int) (Result, error) {
		o := indicators[i].Options
		o.Scales = scales
		return Fit(indicators[i].Data, o)
	})
	if err != nil {
		return results, fmt.Errorf("fit squad: %w", err)
	}
	var fitted []*Result
	for _, r := range results {
		if r != nil {
			fitted = append(fitted, r)
		}
	}
	Judge(fitted)
	return results, errors.Join(failed...)
}

// scalesOf learns the scales of indicators and their earlier seasons.
func scalesOf(ctx context.Context, indicators []Indicator) (Scales, error) {
	firsts, _, err := fitAll(ctx, indicators, func(i int) (sketch, error) {
		return sketchSeason(indicators[i].Data, indicators[i].Options)
	})
	if err != nil {
		return Scales{}, err
	}
	var sketches []sketch
	for i, first := range firsts {
		if first != nil {
			sketches = append(sketches, *first)
		}
		if e := indicators[i].Options.Earlier; e != nil {
			sketches = append(sketches, e.sketches...)
		}
	}
	return learnScales(sketches), nil
}

// fitAll does something for each indicator on all cores. What fails has no result, and its error.
func fitAll[R any](ctx context.Context, indicators []Indicator, do func(i int) (R, error)) ([]*R, []error, error) {
	results, failed := make([]*R, len(indicators)), make([]error, len(indicators))
	next := make(chan int)
	var workers sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(indicators)) {
		workers.Go(func() {
			for i := range next {
				r, err := do(i)
				if err != nil {
					failed[i] = fmt.Errorf("fit %s: %w", indicators[i].Name, err)
					continue
				}
				results[i] = &r
			}
		})
	}
	var stopped error
	for i := range indicators {
		select {
		case next <- i:
			continue
		case <-ctx.Done():
			stopped = ctx.Err()
		}
		break
	}
	close(next)
	workers.Wait()
	return results, failed, stopped
}
