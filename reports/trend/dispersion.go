package trend

// Dispersion is φ ≥ 1: how many times more the matches of one player differ than chance alone allows, judged by the
// matches of several players (players[i] are those of player i). For a proportion it is the design effect of trials
// that go together within a match. It is 1 for a mean, whose spread already holds it, and where nothing can be
// learned.
//
// rateDispersion and proportionDispersion have the formulas.
func Dispersion(f Family, players [][]Match) float64 {
	switch f {
	case Rate:
		return rateDispersion(players)
	case Proportion:
		return proportionDispersion(players)
	}
	return 1
}

// SeasonInterval is the interval of a player's rate or proportion from a season's total, at a confidence level in (0,
// 1), with the dispersion φ ≥ 1 of the matches. A total of y events in exposure e, or x successes of n trials, says as
// much as y/φ in e/φ, or x/φ of n/φ, would without dispersion:
//
//	rate        Garwood's limits of y/φ events in exposure e/φ
//	proportion  Wilson's limits of x/φ successes in n/φ trials
//
// It is false for a mean, see [MeanInterval], and for what is no possible total.
// Source: quasi-likelihood, Wedderburn 1974, Biometrika 61; design effect: Kish 1965, Survey Sampling, §8.2; the
// limits themselves at [PoissonInterval] and [WilsonInterval].
func SeasonInterval(f Family, total Match, phi, level float64) (Interval, bool) {
	if !(phi >= 1) || !total.counts(f) {
		return Interval{}, false
	}
	switch f {
	case Rate:
		return PoissonInterval(total.Numerator/phi, total.Denominator/phi, level)
	case Proportion:
		return WilsonInterval(total.Numerator/phi, total.Denominator/phi, level)
	}
	return Interval{}, false
}
