package analysis

import (
	"errors"
	"fmt"
	"strconv"
	"time"

	"throughline/reports/trend"
)

// split gives the rows to learn from and the rows to predict: without an origin, all and none.
func (t *table) split(d trend.Data, origin string) (learn, later []int, err error) {
	at, when := 0.0, d.Time
	if origin != "" {
		day, notDate := time.Parse(time.DateOnly, origin)
		dates, hasDates := t.column["date"]
		switch {
		case notDate == nil && t.dated:
			at = days(day) - t.firstDay
		case notDate == nil && hasDates: // t tells the time, the dates still tell the order
			if when, err = t.dates(dates); err != nil {
				return nil, nil, err
			}
			at = days(day) - t.firstDay
		case d.Time == nil:
			return nil, nil, errors.New("--origin needs a date or t column")
		default:
			if at, err = strconv.ParseFloat(origin, 64); err != nil || t.dated {
				return nil, nil, fmt.Errorf("origin %q: write a date such as 2025-11-30 if the file has dates, or a number "+
					"if it has t", origin)
			}
		}
	}
	for i := range d.Value {
		if origin == "" || when[i] <= at {
			learn = append(learn, i)
		} else {
			later = append(later, i)
		}
	}
	if len(learn) == 0 {
		return nil, nil, fmt.Errorf("no row up to the origin %s to learn from", origin)
	}
	return learn, later, nil
}
