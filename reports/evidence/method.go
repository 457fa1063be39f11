package evidence

import (
	"fmt"

	"throughline/models"
	"throughline/reports/paper"
	"throughline/reports/trend"
)

// Method says how a kind of figure is computed, with its source, so that a reader can rebuild it from the numbers
// printed.
type Method struct {
	Name    string `json:"name"`
	Formula string `json:"formula"`
	Words   string `json:"words"`
	Source  string `json:"source"`
}

// Methods are how the figures, levels and grades of a player are computed.
func (p *Player) Methods() []Method {
	list := []Method{
		{
			"Season figure", "Σ numerator ÷ Σ denominator",
			"Counts over full matches played (minutes ÷ the minutes of a full match), successes over trials, or a sum over " +
				"actions. Only what was recorded counts: a match without the figure is left out, and never read as zero.",
			"common practice",
		},
		{
			"Its range, of a count per match", "G(0.025; y/φ)/(e/φ) to G(0.975; y/φ + 1)/(e/φ), G the gamma quantile, y the " +
				"count, e the full matches",
			"The exact 95% interval of a Poisson rate, widened: φ is how many times more the matches of a player differ " +
				"than chance alone allows, over the group’s players. One match’s range is made alike, at 80%. " + offered,
			"Garwood 1936, Biometrika 28; quasi-likelihood: Wedderburn 1974, Biometrika 61",
		},
		{
			"Its range, of a percentage", "(2x + z² ± z√(z² + 4x(1 − x/n))) ÷ (2(n + z²)), x successes of n trials, z = 1.96",
			"The 95% score interval of x/φ successes in n/φ trials: φ, the design effect, allows for " +
				"trials of one match that " +
				"go together.",
			"Wilson 1927; Newcombe 1998, Stat Med 17; design effect: Kish 1965, Survey Sampling, §8.2",
		},
		{
			"Its range, of a mean", "x̄ ± t·√(σ̂²/Σn), σ̂² = Σ n(x − x̄)² ÷ (k − 1), x the mean of n actions in each " +
				"of k matches",
			"Student’s t on the spread between matches, each weighted by its actions.", "Student 1908, Biometrika 6",
		},
		{
			"Median match and its limits", "order statistics x(r) to x(n + 1 − r) of the matches with enough of it",
			"Half of the matches were better, half worse; the limits hold the true median with 95% confidence, whatever the " +
				"distribution. A match counts from a quarter of a full match, 4 trials or 3 actions on; fewer than 6 such " +
				"matches give no limits.",
			"binomial tables (Conover, Practical Nonparametric Statistics); use in rugby: James, Mellalieu & Jones 2005, J " +
				"Sports Sci 23(1)",
		},
	}
	list = append(list, p.levelMethods()...)
	return append(list,
		p.aheadMethod(),
		Method{
			"Share of the team’s", "Σ player’s count ÷ Σ (team’s count × minutes on the pitch and watched ÷ full match)",
			"The part of the team’s count in the minutes in which the player was on the pitch and watched, so that half a " +
				"match is compared with half of the team’s count.", "ours",
		},
		Method{
			"Metres over expected", "Σ (metres − carries × expected) ÷ Σ carries; expected of a cell = (Σm + k·m̄) ÷ (n + k)",
			"Against the carries of the squad’s other players of the same width, ball speed and zone, or, where fewer than " +
				"five of them carried so, of the same width and speed, the same width, or all. The " +
				"player’s own carries are left " +
				"out. Cells with few carries are drawn towards the mean of all: k = σ²/τ², from how much carries differ within " +
				"and between cells.",
			"ours; k by analysis of variance: Searle, Casella & McCulloch 1992, Variance Components, §3.6",
		},
		Method{
			"Coaches’ grades", "ḡ ± t·√V, V = C/(C − 1)·Σ (a coach’s sum of g − ḡ)² ÷ n², C coaches, n grades",
			"A plain mean of the grades as given. Its 95% range allows for one coach’s grades going " +
				"together, and stays from 1 " +
				"to 5; with one coach there is none, because a strict coach and a weak player cannot be " +
				"told apart. Where there " +
				"is a trend, its level has the strictness of each coach taken out.",
			"cluster-robust variance: Liang & Zeger 1986, Biometrika 73; Cameron & Miller 2015, J Human Resources 50",
		},
	)
}

// aheadMethod is how the chance of being ahead came about. A player reads of the others what is published.
func (p *Player) aheadMethod() Method {
	if p.Edition == PlayerEdition {
		return Method{
			"The others, and the chance of being ahead",
			"probability that the level lies on the better side of the middle of the band",
			"The band holds the middle 80% of the levels of at least five others; your own figures are not in it. It is " +
				"worked out after a round of " +
				"matches in which five others or more have new figures, and stays as it is in between, so that it never tells " +
				"what one of them did.",
			"as for the level",
		}
	}
	return Method{
		"Chance of being ahead", "P(level > mean of the group’s levels), or < where lower is better",
		"The player’s level now against the mean of the group’s levels now, the player among them, " +
			"from joint draws of all " +
			"their levels; ranks are counted off the same draws, so that the two agree. Without a " +
			"trend it is the level of the " +
			"season against the group’s of the season. It takes five others, and compares with an average, not with a person.",
		"as for the level; ranks: Goldstein & Spiegelhalter 1996, JRSS A 159",
	}
}

// levelMethods are how the levels came about: each that was used.
func (p *Player) levelMethods() (all []Method) {
	used := map[models.LevelMethod]bool{}
	for _, l := range p.Indicators {
		if l.Level != nil {
			used[l.Level.Method] = true
		}
	}
	if used[models.FittedTrend] || p.Trends.Current && len(used) == 0 {
		all = append(all, p.trendMethod())
	}
	switch {
	case used[models.EmpiricalBayes]:
		all = append(all, simplerMethod())
	case len(all) > 0:
	case p.Edition == PlayerEdition:
		all = append(all, Method{"Level", "none yet", "Your level is worked out once a round of the squad’s matches " +
			"is complete.", "ours"})
	default:
		all = append(all, simplerMethod())
	}
	return all
}

// simplerMethod is how a level without a trend comes about.
func simplerMethod() Method {
	return Method{
		"Level", "rate (a + y/φ) ÷ (b + e/φ); percentage (a + x/φ) ÷ (a + b + n/φ); mean: precision-weighted",
		"What the player would do over many matches: their own matches weighed together with the " +
			"group’s, so that a lucky " +
			"month does not look like growth. The fewer the matches, the more the group counts. Bands " +
			"are the 80% (“likely”) " +
			"and the 95% range. φ makes room for matches that differ by more than chance.",
		"empirical Bayes: Robbins 1956; Efron & Morris 1975, JASA 70; quasi-likelihood: Wedderburn 1974, Biometrika 61",
	}
}

// trendMethod is how a trend comes about.
func (p *Player) trendMethod() Method {
	return Method{
		"Level and trend", "η = group + difficulty + home + time + player level + player slope × time + match [+ coach]; " +
			"returning: level ~ normal(ρ m, v + σ²·years), m and v of the season before, ρ ~ normal(1, 0.1); " +
			"slope ~ normal(0, s²·share of the season seen); " +
			"count ~ negative binomial (log η), share ~ beta-binomial (logit η), mean and grade ~ normal",
		"One model for the whole squad’s season and one figure at a time, so that players lend each other strength and a " +
			"lucky month does not look like growth. Every effect that a dozen matches cannot tell from chance leans towards " +
			"none. A returning player’s level starts from where the last season ended, a new player’s from the newcomers’ " +
			"mean and from what their other counts say of their role. The level now, the next match and the chance to reach " +
			"a goal follow from one law: the level, its slope, and what may happen to it meanwhile. A change is worth " +
			"the name from 0.2 of the standard deviation between players of a position group on. " +
			"Improving and declining are firm: said from a chance of 90% on, and only of the surest, so that of all firm " +
			"verdicts in the squad at most one in twenty is expected to be false, the true change none or the other way. " +
			p.firmWords() + "A match that fewer than one in a million would be as far out as is left out of the level, never " +
			"of the figures, and marked for the staff to check.",
		"seasons: Glickman & Stern 1998, JASA 93; Harvey 1989, Structural Time Series Models; " +
			"mixed models: Bates et al. 2015, J Stat Software 67; Rue, Martino & Chopin 2009, JRSS B 71; worthwhile change: " +
			"Hopkins 2004, Sportscience 8; false signs: Stephens 2017, Biostatistics 18; Müller et al. 2004, JASA 99",
	}
}

// offered is how what a match offered enters.
const offered = "Where the rucks of the match, the opponents’ carries or the minutes of ball in play are recorded, a " +
	"match counts for as many full matches as it offered of that, against the squad’s mean match."

// firmWords say how many firm verdicts are expected to be false: of the squad to staff, of their own to a player.
func (p *Player) firmWords() string {
	n, expected := 0, 0.0
	for _, t := range p.Trends.figures {
		if p.Edition != PlayerEdition && t.Firm != nil {
			n, expected = t.Firm.Verdicts, t.Firm.ExpectedFalse
			break
		}
		if v := trend.Verdict(t.Verdict); (v == trend.Improving || v == trend.Declining) && t.FalseSign != nil {
			n, expected = n+1, expected+*t.FalseSign
		}
	}
	whose := "the squad"
	if p.Edition == PlayerEdition {
		whose = "your season"
	}
	if n == 0 {
		return "No verdict is firm now. "
	}
	return fmt.Sprintf("Of %s in %s, %s expected to be false. ", paper.Plural(n, "firm verdict", "firm verdicts"), whose,
		expectedWords(expected))
}

func expectedWords(n float64) string {
	if n < 0.05 {
		return "fewer than 0.1 are"
	}
	return paper.Number(n, 1) + " are"
}

// Cautions are said on every paper about a player.
func (p *Player) Cautions() []string {
	list := []string{
		"Figures from few matches are weak evidence: read the range before the number.",
		"Do not select or release a player on a number alone. Give such news in person first.",
		"This is not medical advice. After a head contact or a suspected concussion: recognise and remove; the union’s " +
			"return-to-play protocol and a licensed practitioner decide. Nothing here rewards playing on.",
	}
	list = append(list, p.Loads...)
	list = append(list, p.toCheck()...)
	if p.Person.BirthQuarter > 0 {
		list = append(list, "Players born early in their age band’s year tend to look better than they will later, and "+
			"late-born ones worse; the birth quarter is shown and enters no figure.")
	}
	if p.Summary.Differs > 0 {
		list = append(list, "In some matches a log and the totals disagree; the log counts, and the difference is marked "+
			"beside the match.")
	}
	return list
}

// toCheck are the figures so far out that they look like a slip, for staff.
func (p *Player) toCheck() (all []string) {
	if p.Edition == PlayerEdition {
		return nil
	}
	for i := range p.Indicators {
		l := &p.Indicators[i]
		if l.Trend == nil {
			continue
		}
		for _, o := range l.Trend.Odd {
			if m := p.Match(o.MatchID); o.SetAside && m != nil {
				all = append(all, fmt.Sprintf("Check %s, %s %s: %s is recorded where about %s was expected. Levels leave the "+
					"match out until then; the figures do not.", paper.Lower(l.Label), paper.Day(string(m.Date)), m.Against(),
					paper.Number(o.Value, 0), paper.Number(o.Expected, 0)))
			}
		}
	}
	return all
}
