package models

import (
	"fmt"
	"sync"
	"time"
	_ "time/tzdata" // so that a machine without a list of zones knows them all
)

// zones are those that were asked for, by name.
var zones sync.Map

// Zone returns the time zone of an IANA name, such as Europe/Dublin; UTC of the empty name. The error says what a name
// looks like.
func Zone(name string) (*time.Location, error) {
	if name == "" {
		return time.UTC, nil
	}
	if known, ok := zones.Load(name); ok {
		return known.(*time.Location), nil
	}
	zone, err := time.LoadLocation(name)
	if err != nil || name == "Local" {
		return nil, fmt.Errorf("“%s” is not a time zone; write a name of the IANA list, such as Europe/Dublin or "+
			"Pacific/Auckland", clip(name))
	}
	zones.Store(name, zone)
	return zone, nil
}

// TimeZone is the zone of the caller's academy: UTC if it has chosen none.
func (who Who) TimeZone() *time.Location {
	if who.Zone == nil {
		return time.UTC
	}
	return who.Zone
}

// Local is an instant in the zone of the caller's academy, to be shown.
func (who Who) Local(at time.Time) time.Time { return at.In(who.TimeZone()) }

// Day is the day of an instant in the zone of the caller's academy.
func (who Who) Day(at time.Time) Date { return DateOf(who.Local(at)) }
