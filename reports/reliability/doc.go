// Package reliability says how far coaches' grades can be relied on: how much of what tells players apart is the
// players' own, how far coaches agree beyond chance, and how many coaches would be needed for a mean that can be relied
// on. It is arithmetic alone and knows no record.
//
//	icc.go           six intraclass correlations, where every coach grades everyone
//	components.go    the same two questions from variance components, where they do not
//	alpha.go         Krippendorff's alpha, with gaps allowed, and its bootstrap interval
//	coaches.go       Spearman and Brown's formula, and the coaches needed
//	summary.go       all of it, of one set of grades
package reliability
