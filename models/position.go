package models

import "strings"

// Position is a place in the team, by its usual name. The shirt says on which side a prop, a flanker or a centre
// plays.
type Position string

// The positions.
const (
	Prop        Position = "prop"
	Hooker      Position = "hooker"
	Lock        Position = "lock"
	Flanker     Position = "flanker"
	NumberEight Position = "number_eight"
	ScrumHalf   Position = "scrum_half"
	FlyHalf     Position = "fly_half"
	Centre      Position = "centre"
	Wing        Position = "wing"
	FullBack    Position = "full_back"
)

// Group is a position group: players whose figures may be held side by side.
type Group string

// The position groups. GroupUnknown is that of a player whose position was not recorded.
const (
	GroupUnknown   Group = ""
	GroupFrontRow  Group = "front_row"
	GroupSecondRow Group = "second_row"
	GroupBackRow   Group = "back_row"
	GroupHalfBack  Group = "half_back"
	GroupCentre    Group = "centre"
	GroupBackThree Group = "back_three"
)

// PositionInfo describes a position.
type PositionInfo struct {
	Code  Position `json:"code"`
	Label string   `json:"label"`
	Group Group    `json:"group"`
}

// GroupInfo describes a position group. Scope says whether its players are forwards or backs.
type GroupInfo struct {
	Code  Group  `json:"code"`
	Label string `json:"label"`
	Scope Scope  `json:"scope"`
}

var positions = [...]PositionInfo{
	{Prop, "Prop", GroupFrontRow},
	{Hooker, "Hooker", GroupFrontRow},
	{Lock, "Lock", GroupSecondRow},
	{Flanker, "Flanker", GroupBackRow},
	{NumberEight, "Number eight", GroupBackRow},
	{ScrumHalf, "Scrum half", GroupHalfBack},
	{FlyHalf, "Fly half", GroupHalfBack},
	{Centre, "Centre", GroupCentre},
	{Wing, "Wing", GroupBackThree},
	{FullBack, "Full back", GroupBackThree},
}

var groups = [...]GroupInfo{
	{GroupFrontRow, "Front row", Forwards},
	{GroupSecondRow, "Second row", Forwards},
	{GroupBackRow, "Back row", Forwards},
	{GroupHalfBack, "Half backs", Backs},
	{GroupCentre, "Centres", Backs},
	{GroupBackThree, "Back three", Backs},
}

// Positions returns the positions in the order of the shirts that wear them, as a new slice.
func Positions() []PositionInfo { p := positions; return p[:] }

// Groups returns the position groups from the front row back, without GroupUnknown, as a new slice.
func Groups() []GroupInfo { g := groups; return g[:] }

// GroupOf returns the group of a position, GroupUnknown for an unknown or empty one.
func GroupOf(position Position) Group {
	for i := range positions {
		if positions[i].Code == position {
			return positions[i].Group
		}
	}
	return GroupUnknown
}

// Group returns the group of the player's main position.
func (p Player) Group() Group {
	return GroupOf(p.Position())
}

// Position returns the player's main position, empty if none is recorded.
func (p Player) Position() Position {
	if len(p.Positions) == 0 {
		return ""
	}
	return p.Positions[0]
}

// Plural returns what players of the position are called, such as "Scrum halves"; empty for an unknown one.
func (p Position) Plural() string {
	label, half := strings.CutSuffix(p.Label(), "half")
	switch {
	case half:
		return label + "halves"
	case label != "":
		return label + "s"
	}
	return ""
}

// Label returns the position as printed, empty for an unknown one.
func (p Position) Label() string {
	for i := range positions {
		if positions[i].Code == p {
			return positions[i].Label
		}
	}
	return ""
}

// Label returns the group as printed; GroupUnknown's is "Position not recorded".
func (g Group) Label() string {
	for i := range groups {
		if groups[i].Code == g {
			return groups[i].Label
		}
	}
	return "Position not recorded"
}

// Scope says whether the group's players are forwards or backs, and is empty for GroupUnknown.
func (g Group) Scope() Scope {
	for i := range groups {
		if groups[i].Code == g {
			return groups[i].Scope
		}
	}
	return ""
}
