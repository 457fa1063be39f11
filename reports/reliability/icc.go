package reliability

import (
	"fmt"
	"math"
)

// ICC are the six intraclass correlations of Shrout & Fleiss 1979, Psychol Bull 86:420, of n targets that k judges each
// grade. The first number names the model, the second whether one judge's grade or the mean of k is meant:
//
//	1  every target has judges of its own
//	2  the judges are a sample of those who might grade, so that their severity counts as error
//	3  these judges are the only ones of interest, so that their severity does not count
//
// 1 is perfect; an estimate may be below 0.
type ICC struct {
	One1, One2, One3    float64 // ICC(1,1), (2,1), (3,1)
	Mean1, Mean2, Mean3 float64 // ICC(1,k), (2,k), (3,k)
}

// ShroutFleiss gives the six correlations. grades[i][j] is judge j's grade of target i. It errs with fewer than two
// targets or judges, with a gap (a row of another length, or a grade that is no number), and where all grades are the
// same. With the mean squares between targets B, within targets W, between judges J, and the residual E,
//
//	ICC(1,1) = (B − W)/(B + (k−1) W)                      ICC(1,k) = (B − W)/B
//	ICC(2,1) = (B − E)/(B + (k−1) E + k (J − E)/n)        ICC(2,k) = (B − E)/(B + (J − E)/n)
//	ICC(3,1) = (B − E)/(B + (k−1) E)                      ICC(3,k) = (B − E)/B
func ShroutFleiss(grades [][]float64) (ICC, error) {
	n := len(grades)
	if n < 2 || len(grades[0]) < 2 {
		return ICC{}, fmt.Errorf("intraclass correlations: %d targets: want two at least, each graded by two judges "+
			"at least", n)
	}
	k := len(grades[0])
	mean, judge := 0.0, make([]float64, k)
	target := make([]float64, n)
	for i, row := range grades {
		if len(row) != k {
			return ICC{}, fmt.Errorf("intraclass correlations: target %d has %d grades, the first has %d: want no gaps", i+1,
				len(row), k)
		}
		for j, g := range row {
			if math.IsNaN(g) || math.IsInf(g, 0) {
				return ICC{}, fmt.Errorf("intraclass correlations: target %d, judge %d: %v is not a grade", i+1, j+1, g)
			}
			target[i] += g / float64(k)
			judge[j] += g / float64(n)
			mean += g / float64(n*k)
		}
	}
	var between, judges, all float64
	for i, row := range grades {
		between += float64(k) * (target[i] - mean) * (target[i] - mean)
		for _, g := range row {
			all += (g - mean) * (g - mean)
		}
	}
	for _, m := range judge {
		judges += float64(n) * (m - mean) * (m - mean)
	}
	if !(all > 0) {
		return ICC{}, fmt.Errorf("intraclass correlations: all %d grades are %v: want some that differ", n*k, mean)
	}
	nf, kf := float64(n), float64(k)
	b, j := between/(nf-1), judges/(kf-1)
	w := (all - between) / (nf * (kf - 1))
	e := max(all-between-judges, 0) / ((nf - 1) * (kf - 1))
	return ICC{
		One1:  ratio(b-w, b+(kf-1)*w),
		One2:  ratio(b-e, b+(kf-1)*e+kf*(j-e)/nf),
		One3:  ratio(b-e, b+(kf-1)*e),
		Mean1: ratio(b-w, b),
		Mean2: ratio(b-e, b+(j-e)/nf),
		Mean3: ratio(b-e, b),
	}, nil
}

// ratio is a/b, and −1/0 or 0/0 taken for no reliability.
func ratio(a, b float64) float64 {
	if b == 0 {
		return 0
	}
	return a / b
}
