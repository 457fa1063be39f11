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

// FitSquad fits a squad's indicators on all cores and judges their players together, so that firm verdicts keep their
// false-discovery rate over all of them. results[i] is indicator i's, nil when it failed; the error joins what failed.
// A cancelled context stops before the next fit.
func FitSquad(ctx context.Context, indicators []Indicator) ([]*Result, error) {
	results, failed := make([]*Result, len(indicators)), make([]error, len(indicators))
	next := make(chan int)
	var workers sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(indicators)) {
		workers.Go(func() {
			for i := range next {
				r, err := Fit(indicators[i].Data, indicators[i].Options)
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
	if stopped != nil {
		return results, fmt.Errorf("fit squad: %w", stopped)
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
