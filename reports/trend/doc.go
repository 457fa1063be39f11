// Package trend is the statistical engine: what a player's matches say about their level, and how sure that is.
// Everything is a pure function over slices; nothing is kept between calls, and nothing is read from outside.
//
// It has two halves. A level of one player beside a group (prior.go and the files of each family) is a small
// empirical-Bayes estimate that a report can make at once. A fit (fit.go, season.go) takes a squad's whole season.
//
// # A level at once
//
// An indicator belongs to one of three families, and each match gives one numerator and one denominator:
//
//	family      numerator   denominator              level
//	rate        count       full matches played      count per full match, ≥ 0
//	proportion  successes   trials                   share of trials, 0 to 1
//	mean        sum         number of actions        value per action, in the sum's unit
//
// # The model of a fit
//
// A squad's season of one indicator, a row per player and match (and coach, for ratings), is fitted at once, so that
// players lend each other strength:
//
//	rate        count ~ negative binomial, mean μ and variance μ + κμ² (κ = 1/θ);  η = log μ,
//	            offset log(minutes/full match)
//	proportion  successes of trials ~ beta-binomial, mean p and precision φ = 1/κ;  η = log p/(1−p)
//	mean        a match's mean of n actions ~ normal, mean η and variance σ²/n
//	rating      one coach's grade ~ normal, mean η and variance σ²
//
//	η_i = offset_i + x_i'β + A_p + B_p t_i + V_m [+ C_c]
//
// β are the fixed effects (position group, expected difficulty, home, time); player level and slope (A, B) are
// normal effects, correlated in plain fits, match V and coach C independent ones.
// Stacked by factor, the effects are u = Λb with b
// standard normal and Λ lower triangular, so that a variance of exactly zero is an ordinary point; ã_i = Λ'z_i is a
// row's design for b. The derivations stand where the code is, in the same symbols:
//
//	kernel.go, normalkernel.go   ℓ(η, κ) of each family and its derivatives
//	system.go, within.go         H = Ã'WÃ + I by blocks: elimination, Schur complement, traces, leverages
//	laplace.go                   the Laplace log-likelihood and its gradient
//	reml.go                      the restricted log-likelihood and its gradient
//	adjusted.go                  coaches' severity, and grades with it taken out
//	season.go                    priors, and how what is unknown of the variances is integrated out
//
// Fit with Options.Plain gives what reference software gives (restricted maximum likelihood, or Laplace maximum
// likelihood). Otherwise it is a season fit: shrunk, with levels, changes, verdicts, standings and forecasts on the
// natural scale. FitSquad fits all of a squad's indicators; Judge gives firm verdicts over all of them.
//
// # How long a squad takes
//
// BenchmarkFitSquad fits a squad's season of 30 indicators, BenchmarkFitSquadWithEarlierSeasons the same with two
// earlier seasons of three squads each, in at most two seconds on two cores. Run both before and after a change of the
// searches or of the system: go test -run '^$' -bench FitSquad ./reports/trend. Most of the time goes into finding b̂:
// gather and factorise, two or three times for each ψ.
package trend
