package trend

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"sync"
)

// Indicator is one of the fits of a squad's season.
type Indicator struct {
	Name    string
	Data    Data
	Options Options
	Before  []Data // earlier seasons, the latest first, see FitEarlier
	// of Before, shared with other fits of the same season; nil: none
	Remembered *EarlierFits
}

// FitSquad fits a squad's indicators on all cores: once to learn the scales that they share with their earlier seasons
// (learnScales), each indicator's from the others, and once with these. It judges their players together: firm verdicts
// keep their false-discovery rate over all of them. results[i] is indicator i's, nil if it failed; the error joins all
// failures. A cancelled context stops before the next fit.
//
// A coach's grade may be hidden from another coach for a time, so it may only enter the trends of its own skill.
// Scales are learned only from counts, and each skill is judged by itself: the expected share of false signs of all
// firm verdicts is still at most that of the worst part.
func FitSquad(ctx context.Context, indicators []Indicator) ([]*Result, error) {
	results, _, err := FitWith(ctx, indicators, nil)
	return results, err
}

// FitWith is FitSquad for a squad of an academy: the scales are learned from the sketches of its other squads too. own
// are those of the squad's season.
func FitWith(ctx context.Context, indicators []Indicator, others []Sketch) (
	results []*Result, own []Sketch, err error,
) {
	indicators, before := prepared(ctx, indicators)
	scales, own, ends, err := scalesOf(ctx, indicators, others)
	if err != nil {
		return make([]*Result, len(indicators)), nil, fmt.Errorf("fit squad: %w", err)
	}
	results, failed, err := fitAll(ctx, indicators, func(i int) (Result, error) {
		o := indicators[i].Options
		o.Scales, o.from = scales[i], ends[i]
		return Fit(indicators[i].Data, o)
	})
	if err != nil {
		return results, nil, fmt.Errorf("fit squad: %w", err)
	}
	var fitted []*Result
	for i, r := range results {
		switch {
		case r == nil:
		case indicators[i].Data.Family == Rating:
			Judge([]*Result{r})
		default:
			fitted = append(fitted, r)
		}
	}
	Judge(fitted)
	return results, own, errors.Join(append(before, failed...)...)
}

// prepared fits the indicators' earlier seasons, and lends each the players' levels of all other rates. What cannot be
// fitted of earlier seasons is left out, with its error.
func prepared(ctx context.Context, given []Indicator) ([]Indicator, []error) {
	indicators := slices.Clone(given)
	roles, _, _ := fitAll(ctx, indicators, func(i int) (map[string]float64, error) {
		if indicators[i].Data.Family != Rate || indicators[i].Options.Plain {
			return nil, errTooLittle
		}
		return lentRole(indicators[i].Data, indicators[i].Options)
	})
	_, failed, _ := fitAll(ctx, indicators, func(i int) (struct{}, error) {
		in := &indicators[i]
		if in.Options.Plain {
			return struct{}{}, nil
		}
		if len(in.Before) > 0 {
			e, err := in.Remembered.fit(in.Before, in.Options)
			if err != nil {
				return struct{}{}, fmt.Errorf("fit %s: %w", in.Name, err)
			}
			in.Options.Earlier = e
		}
		var others []map[string]float64
		for j, role := range roles {
			if j != i && role != nil {
				others = append(others, *role)
			}
		}
		in.Data.Role = slices.Concat(in.Data.Role, newLent(others).Columns(in.Data.Player))
		return struct{}{}, nil
	})
	return indicators, failed
}

// scalesOf learns each indicator's scales from all other indicators, from earlier seasons and other squads, and tells
// where each search ended. What an indicator says of the scales enters its own fit already: counted twice, a season of
// one indicator would believe its slopes too readily.
func scalesOf(ctx context.Context, indicators []Indicator, others []Sketch) (
	scales []Scales, own []Sketch, ends []*begin, err error,
) {
	firsts, _, err := fitAll(ctx, indicators, func(i int) (sketch, error) {
		return sketchSeason(indicators[i].Data, indicators[i].Options)
	})
	if err != nil {
		return nil, nil, nil, err
	}
	var before []Sketch
	at := make([]int, len(indicators)) // of an indicator's own among all, or −1
	ends = make([]*begin, len(indicators))
	for i, first := range firsts {
		at[i] = -1
		if first != nil {
			ends[i] = first.end
		}
		if indicators[i].Data.Family == Rating {
			continue
		}
		if first != nil {
			at[i] = len(others) + len(own)
			own = append(own, first.Sketch)
		}
		if e := indicators[i].Options.Earlier; e != nil {
			before = append(before, e.sketches...)
		}
	}
	all := slices.Concat(others, own)
	scales = make([]Scales, len(indicators))
	for i, k := range at {
		rest := all
		if k >= 0 {
			rest = slices.Concat(all[:k], all[k+1:])
		}
		scales[i] = learnScales(rest, before)
	}
	return scales, own, ends, nil
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
