package evidence

import "throughline/models"

// OneSource is what One reads.
type OneSource interface {
	PlayerSource
	TrendSource
	FigureSource
}

// One reads one indicator of a player's season, and no more than it needs. The line is the one that Of, ReadTrends and
// ReadIndicators give together. It returns the errors that Of returns, and NotFound if the season has nothing of the
// indicator.
func One(src OneSource, player, season int64, edition Edition, indicator string) (*Player, TrendLine, error) {
	p, err := Of(src, player, season, edition)
	if err != nil {
		return nil, TrendLine{}, err
	}
	if err := p.readTrends(src, indicator); err != nil {
		return nil, TrendLine{}, err
	}
	if err := p.readIndicators(src, indicator); err != nil {
		return nil, TrendLine{}, err
	}
	line := p.Indicator(indicator)
	if line == nil {
		return nil, TrendLine{}, models.Errorf(models.NotFound, "nothing is recorded for the indicator %s in this "+
			"season of %s", indicator, p.Person.Name)
	}
	return p, p.TrendLine(line), nil
}
