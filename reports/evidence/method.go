package evidence

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"throughline/models"
	"throughline/reports/paper"
	"throughline/reports/trend"
)

// Method says how a kind of figure is computed and names its source, so a reader can compute it again from the
// numbers shown.
type Method struct {
	Name    string `json:"name"`
	Formula string `json:"formula"`
	Words   string `json:"words"`
	Source  string `json:"source"`
}

// Methods are how the figures, levels and grades of a player are computed. Of a player without figures they are how
// grades are, if there are any.
func (p *Player) Methods() []Method {
	all := p.staffMethods()
	if p.Edition == PlayerEdition {
		all = p.ownMethods()
	}
	if len(p.Indicators) > 0 || len(p.Parts) > 0 {
		return all
	}
	return slices.DeleteFunc(all, func(m Method) bool {
		return !slices.ContainsFunc(p.Skills, func(s SkillLine) bool {
			return m.Name == methodGrades && s.Ratings > 0 || m.Name == methodTrend && s.Trend != nil ||
				m.Name == methodAdjusted && s.Adjusted != nil
		})
	})
}

// staffMethods are Methods of the staff's edition, whether or not there are figures.
func (p *Player) staffMethods() []Method {
	list := []Method{
		{
			methodSeason, "Σ numerator ÷ Σ denominator",
			"A count is given per full match played, a percentage as successes out of attempts, and a mean as a total " +
				"divided by actions. Only what was recorded counts: a match without the figure is left out, never counted as " +
				"zero.",
			"common practice",
		},
		{
			methodCountRange, "G(0.025; y/φ)/(e/φ) to G(0.975; y/φ + 1)/(e/φ), G the gamma quantile, y the " +
				"count, e the full matches",
			"The exact 95% interval of a Poisson rate, made wider by φ. φ says how many times more a player’s matches " +
				"vary than by chance alone; it is estimated from the whole group. One match’s range is made the same way, at " +
				"80%. " + offered,
			"Garwood 1936, Biometrika 28; quasi-likelihood: Wedderburn 1974, Biometrika 61",
		},
		{
			methodShareRange, "(2x + z² ± z√(z² + 4x(1 − x/n))) ÷ (2(n + z²)), x successes of n trials, z = 1.96",
			"The 95% score interval of x/φ successes in n/φ attempts. φ, the design effect, allows for attempts in one " +
				"match being more alike than attempts in different matches.",
			"Wilson 1927; Newcombe 1998, Stat Med 17; design effect: Kish 1965, Survey Sampling, §8.2",
		},
		{
			methodMeanRange, "x̄ ± t·√(σ̂²/Σn), σ̂² = Σ n(x − x̄)² ÷ (k − 1), x the mean of n actions in each " +
				"of k matches",
			"A Student’s t interval from how much matches differ, each match weighted by its actions.",
			"Student 1908, Biometrika 6",
		},
		{
			methodMedian, "order statistics x(r) to x(n + 1 − r) of the matches with enough of it",
			"Half of the matches were better and half worse. The limits hold the true median with 95% confidence, whatever " +
				"the distribution. A match counts if it has a quarter of a full match, 4 attempts or 3 actions. Fewer than 6 " +
				"such matches give no limits.",
			"binomial tables (Conover, Practical Nonparametric Statistics); use in rugby: James, Mellalieu & Jones 2005, J " +
				"Sports Sci 23(1)",
		},
	}
	list = append(list, p.levelMethods()...)
	return append(list,
		Method{
			methodAhead, "P(level > mean of the group’s levels), or < where lower is better",
			"We compare the player’s level now with the average level of the group now, the player included. All levels are " +
				"drawn together, and ranks come from the same draws, so chances and ranks agree. Without a trend we use the " +
				"levels of the " +
				"season, and a formula adds up their uncertainty. There must be five others at least. The comparison is with " +
				"an average, " +
				"never with a person.",
			"as for the level; ranks: Goldstein & Spiegelhalter 1996, JRSS A 159",
		},
		Method{
			methodTeamShare, "Σ player’s count ÷ Σ (team’s count × minutes on the pitch and watched ÷ full match)",
			"The player’s share of the team’s count while the player was on the pitch and on film. Half a match is " +
				"compared with half of the team’s count.", "ours",
		},
		Method{
			methodExpected, "Σ (metres − carries × expected) ÷ Σ carries; expected of a cell = (Σm + k·m̄) ÷ (n + k)",
			"Each carry is compared with carries by the squad’s other players from the same width, ball speed and zone. If " +
				"fewer than five others carried like that, the zone is dropped, then the ball speed, then the width. The " +
				"player’s own carries are left out. Cells with few carries are pulled towards the overall mean: k = σ²/τ² " +
				"compares how much carries differ within cells and between cells.",
			"ours; k by analysis of variance: Searle, Casella & McCulloch 1992, Variance Components, §3.6",
		},
		Method{
			methodAdjusted, "grade = μ + player + occasion + coach + rest, all but μ normal with mean 0; shown: μ + player",
			"The grade that the squad’s coaches would give over the season on average. We estimate how strict each coach " +
				"is from the players whom several coaches graded, and take it out. With few grades it leans towards the " +
				"squad’s mean. The likely range (80%) allows for everything that is estimated, and stays between 1 and 5.",
			"restricted maximum likelihood: Patterson & Thompson 1971, Biometrika 58; prediction: Henderson 1975, " +
				"Biometrics 31",
		},
		Method{
			methodGrades, "ḡ ± t·√V, V = C/(C − 1)·Σ (a coach’s sum of g − ḡ)² ÷ n², C coaches, n grades",
			"The plain average of the grades that count. It is shown where there is no adjusted grade. A grade counts once " +
				"its round has closed or, without a round, 14 days after its date. The 95% range allows for one coach’s grades " +
				"being alike, and stays between 1 and 5. One coach alone gives no range: a strict coach and a weak player look " +
				"the same.",
			"cluster-robust variance: Liang & Zeger 1986, Biometrika 73; Cameron & Miller 2015, J Human Resources 50",
		},
	)
}

// What each method is of.
const (
	methodSeason     = "Season figure"
	methodCountRange = "The range of a count"
	methodShareRange = "The range of a percentage"
	methodMeanRange  = "The range of a mean"
	methodMedian     = "Median match and its range"
	methodAhead      = "Chance of being ahead"
	methodTeamShare  = "Share of the team’s"
	methodExpected   = "Metres over expected"
	methodAdjusted   = "Adjusted grades"
	methodGrades     = "Coaches’ grades"
	methodTrend      = "Level and trend"
	methodLevel      = "Level"
)

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
	default:
		all = append(all, simplerMethod())
	}
	return all
}

// simplerMethod is how a level without a trend comes about.
func simplerMethod() Method {
	return Method{
		methodLevel, "rate (a + y/φ) ÷ (b + e/φ); percentage (a + x/φ) ÷ (a + b + n/φ); mean: precision-weighted",
		"What the player would do over many matches. Their own matches are weighed together with the group’s, so a lucky " +
			"month does not look like growth. The fewer the matches, the more the group counts. The bands are the 80% " +
			"(“likely”) and the 95% range. φ allows for matches that differ by more than chance.",
		"empirical Bayes: Robbins 1956; Efron & Morris 1975, JASA 70; quasi-likelihood: Wedderburn 1974, Biometrika 61",
	}
}

// trendMethod is how a trend comes about.
func (p *Player) trendMethod() Method {
	return Method{
		methodTrend, "η = group + difficulty + home + time + player level + player slope × time + match [+ coach]; " +
			"returning: level ~ normal(ρ m, v + σ²·years), m and v of the season before, ρ ~ normal(1, 0.1); " +
			"slope ~ normal(0, s²·share of the season seen); " +
			"time ~ normal(m, s′²), m of all squads’ rates, else 0; " +
			"count ~ negative binomial (log η), share ~ beta-binomial (logit η), mean and grade ~ normal",
		"One model covers the whole squad’s season, one figure at a time. The whole squad’s matches help to place each " +
			"player, so a lucky month does not look like growth. An effect that a dozen matches cannot tell from chance is " +
			"pulled towards zero. A squad’s trend in a count is pulled towards the trend of all squads. A returning " +
			"player’s " +
			"level starts where the last season ended. A new player’s starts at the newcomers’ mean, adjusted for the " +
			"role that their other counts " +
			"suggest. The level now, the next match and the chance of reaching a goal all come from one model: the level, " +
			"its slope, and how it may change until then. A change counts as real " +
			"if it is at least 0.2 of the standard deviation between players of a position group, or of the squad if its " +
			"groups are too small to tell. Improving and declining " +
			"need a chance of at least 90%. Only the surest are called so: of all such verdicts in the squad, we expect at " +
			"most one in twenty to be false (no real change, or a change the other way). " + p.firmWords() +
			"If fewer than one match in a million would be so far out, the match is left out of the level but stays in the " +
			"figures. Staff are asked to check it.",
		"seasons: Glickman & Stern 1998, JASA 93; Harvey 1989, Structural Time Series Models; " +
			"mixed models: Bates et al. 2015, J Stat Software 67; Rue, Martino & Chopin 2009, JRSS B 71; worthwhile change: " +
			"Hopkins 2004, Sportscience 8; false signs: Stephens 2017, Biostatistics 18; Müller et al. 2004, JASA 99",
	}
}

// offered is how what a match offered enters.
const offered = "If a match’s rucks, the opponents’ carries or the minutes of ball in play are recorded, the match " +
	"counts for more or less than one full match: it depends on how much play it had, compared with the squad’s " +
	"average match."

// firmWords say how many of the squad's firm verdicts are expected to be false.
func (p *Player) firmWords() string {
	n, expected := 0, 0.0
	for _, t := range p.Trends.figures {
		if t.Firm != nil {
			n, expected = t.Firm.Verdicts, t.Firm.ExpectedFalse
			break
		}
		if v := trend.Verdict(t.Verdict); (v == trend.Improving || v == trend.Declining) && t.FalseSign != nil {
			n, expected = n+1, expected+*t.FalseSign
		}
	}
	if n == 0 {
		return "No verdict is firm now. "
	}
	return fmt.Sprintf("Of %s in the squad, %s expected to be false. ", paper.Plural(n, "firm verdict", "firm verdicts"),
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
	if p.Edition == PlayerEdition {
		return p.ownCautions()
	}
	list := []string{
		"Figures from few matches are weak evidence. Read the range before the number.",
		"Do not select or release a player on a number alone. Give such news in person first.",
		"This is not medical advice. After a head contact or a suspected concussion: recognise and remove. The union’s " +
			"return-to-play protocol and a licensed practitioner decide. Nothing here rewards playing on.",
	}
	list = append(list, p.Loads...)
	list = append(list, p.toCheck()...)
	if p.Person.BirthQuarter > 0 {
		list = append(list, "Players born early in their age band’s year tend to look better than they will later, and "+
			"those born late look worse. The birth quarter is shown and changes no figure.")
	}
	if n := p.Summary.WithoutMinutes; n > 0 {
		list = append(list, "Minutes were not recorded in "+paper.Plural(n, "match", "matches")+
			". Figures per full match, shares of the team’s count and trends of both leave out what was done there. "+
			"Percentages of the player’s own actions include it.")
	}
	if p.Summary.Differs > 0 {
		list = append(list, "In some matches the log and the totals disagree. The log counts, and a star (*) "+
			"marks the match.")
	}
	return list
}

// HeadKnock is what a player reads of a knock to the head.
const HeadKnock = "This is not medical advice. After a knock to the head, stop and tell an adult at once, even if " +
	"you feel fine. The union’s return-to-play protocol and a licensed practitioner decide when you come back. " +
	"Nothing here rewards playing on."

// ownCautions are Cautions to the player.
func (p *Player) ownCautions() []string {
	list := []string{
		"Figures from few matches can mislead. Read the range before the number.",
		"A number alone should never pick you or drop you. You should hear such news from a person first.",
		HeadKnock,
	}
	if p.Person.BirthQuarter > 0 {
		list = append(list, "If you were born early in the year of your age band, you may look better now than you will "+
			"later. If you were born late, you may look worse. We show your birth quarter. It changes no figure.")
	}
	if n := p.Summary.WithoutMinutes; n > 0 {
		list = append(list, "We do not know how long you played in "+paper.Plural(n, "match", "matches")+
			". What you did there does not count in figures per full match. It does count in your percentages.")
	}
	if p.Summary.Differs > 0 {
		list = append(list, "In some matches the log and the totals disagree. The log counts. A star marks the match.")
	}
	return list
}

// toCheck are what looks like a slip in the record, for staff, with the figures and skills that it touches.
func (p *Player) toCheck() (all []string) {
	if p.Edition == PlayerEdition {
		return nil
	}
	touched := map[string][]string{}
	add := func(label string, t *models.TrendFigures, notes []string) {
		if t == nil {
			return
		}
		for _, n := range notes {
			if n == t.Note || slices.Contains(t.Remarks, n) {
				continue
			}
			if touched[n] == nil {
				all = append(all, n)
			}
			touched[n] = append(touched[n], paper.Lower(label))
		}
	}
	for i := range p.Indicators {
		l := &p.Indicators[i]
		add(l.Label, p.Trends.kept[trendKey(l.Code, "")], l.Notes)
	}
	for i := range p.Skills {
		s := &p.Skills[i]
		add(s.Label, p.Trends.kept[trendKey("", s.Code)], s.Notes)
	}
	for i, n := range all {
		all[i] = fmt.Sprintf("Check %s: %s.", strings.Join(touched[n], ", "), strings.TrimSuffix(n, "."))
	}
	return all
}

// notes are what must be known about a trend: its own note and, for staff, what to check.
func (p *Player) notes(key string, scale paper.Scale) (all []string) {
	t := p.Trends.kept[key]
	if t == nil {
		return nil
	}
	if t.Note != "" {
		all = append(all, t.Note)
	}
	if p.Edition == PlayerEdition {
		return all
	}
	all = append(append(all, t.Remarks...), t.Checks...)
	for _, o := range t.Odd {
		if o.SetAside {
			recorded, expected := OddWords(o, scale)
			all = append(all, fmt.Sprintf("%s, %s is recorded, and about %s was expected. Until you "+
				"check, levels leave it out; the figures keep it", p.where(o), recorded, expected))
		}
	}
	return all
}

// OddWords are what is recorded about a match and what was expected, as a reader who looks it up will find it: a
// count, or successes of trials, never a rate or a share.
func OddWords(o models.OddMatch, scale paper.Scale) (recorded, expected string) {
	switch {
	case o.Of > 0:
		return paper.Number(o.Value, 0) + " of " + paper.Number(o.Of, 0), paper.Number(o.Expected, 1)
	case scale.Suffix == "" && o.Value == math.Trunc(o.Value):
		return paper.Number(o.Value, 0), scale.Value(o.Expected)
	}
	return scale.Value(o.Value), scale.Value(o.Expected)
}

// where names the match or training block of an odd figure.
func (p *Player) where(o models.OddMatch) string {
	day := paper.Day(string(o.Date))
	m := p.Match(o.MatchID)
	switch {
	case o.Season != "":
		return "in the season " + o.Season + ", on " + day
	case m != nil:
		return "on " + paper.Day(string(m.Date)) + " " + m.Against()
	case o.Block != "":
		return "in " + o.Block + " on " + day
	}
	return "in a match"
}
