package models

import "slices"

// SkillCatalogue returns the built-in skills in the order in which they are listed. The slice is new; what its
// elements point to is shared and must not be changed.
func SkillCatalogue() []Skill { return slices.Clone(skills) }

// skills is never changed.
var skills = []Skill{
	{Code: "footwork_into_contact", Label: "Footwork into contact", Grades: [5]string{
		"Runs straight at the nearest defender's chest, upright, and is stopped or driven back.",
		"Sometimes shifts feet, but too early or too far out, so that the defender is ready again.",
		"Moves a defender in most one-on-one carries and gets to a shoulder when there is room; loses it when tired " +
			"or crowded.",
		"Changes angle or steps inside the last few metres against a set defence, stays low, and usually wins the ground " +
			"after contact.",
		"Makes good defenders miss or turn in tight space, on either foot, late in the match too, and picks the move to " +
			"suit the defender.",
	},
		Headline: Places{GroupUnknown: 1, GroupSecondRow: 7, GroupBackRow: 2, GroupHalfBack: 6, GroupCentre: 2,
			GroupBackThree: 2}},
	{Code: "pass_or_carry", Label: "Decision to pass or carry", Grades: [5]string{
		"Has decided before the ball arrives and does not look; free team-mates are often missed.",
		"Sees an option when told of it; under pressure carries, or passes the problem on.",
		"Chooses well with time; in traffic takes the safe option more often than the best.",
		"Looks before and after receiving, holds a defender before passing, and carries when the space is in front.",
		"Makes the right choice quickly against a good defence and changes it when the picture changes; team-mates get " +
			"the ball where they are free.",
	}, Headline: Places{GroupUnknown: 2, GroupBackRow: 3, GroupHalfBack: 1, GroupCentre: 1, GroupBackThree: 4}},
	{Code: "breakdown", Label: "Breakdown work", Grades: [5]string{
		"Arrives late, or too upright to change anything, or gives penalties away.",
		"Arrives but often cleans the wrong threat, or falls over the ball; effect depends on others.",
		"Picks out the nearest threat at most rucks, stays on the feet and legal, and leaves hopeless ones alone.",
		"Is often first there, low and square, clears or holds the strongest threat, and slows the opponents' ball " +
			"without a penalty.",
		"Reads which rucks can be won and wins them, clears people out who are set over the ball, and does both to the " +
			"last minute.",
	}, Headline: Places{GroupUnknown: 3, GroupFrontRow: 4, GroupSecondRow: 4, GroupBackRow: 1, GroupCentre: 5}},
	{Code: "presentation", Label: "Presentation after contact", Grades: [5]string{
		"The ball is loose, hidden or within the opponents' reach after most carries.",
		"Gets the ball back to the own side, but late, or close to the body where it can be fought for.",
		"Falls towards the own side and places the ball in reach of the first team-mate; slower when hit hard.",
		"Fights to land well, places the ball long within a second, and keeps the body between it and the opponents.",
		"Presents quick, clean ball from bad contacts too: two tacklers, driven back, a team-mate still far away.",
	}, Headline: Places{GroupFrontRow: 6, GroupBackRow: 7}},
	{Code: "work_off_ball", Label: "Work off the ball", Grades: [5]string{
		"Watches after each involvement, and is walking when play comes back.",
		"Gets up and moves when called; often out of place for the phase after next.",
		"Is usually in the next place in time and talks; drops off in long passages.",
		"Moves at once, knows the next place, is ready before the ball is played, and tells others what is coming.",
		"Is where play goes before it gets there, phase after phase to the end, and puts others into place as well.",
	},
		Headline: Places{GroupUnknown: 5, GroupFrontRow: 7, GroupSecondRow: 6, GroupBackRow: 6, GroupHalfBack: 2,
			GroupCentre: 6, GroupBackThree: 6}},
	{Code: "support_lines", Label: "Support lines", Grades: [5]string{
		"Stands or drifts away from the ball; cannot be passed to.",
		"Follows the ball, but too flat, too close or too late to be an option.",
		"Is an option for the carrier on most phases, from depth and at some pace.",
		"Changes line to suit the carrier and the defence, arrives at pace and calls; defenders have to mind the run.",
		"Runs lines that open the defence whether or not the ball comes, and is there for the pass after a break.",
	}, Headline: Places{GroupUnknown: 6, GroupBackRow: 5, GroupHalfBack: 3, GroupCentre: 3, GroupBackThree: 3}},
	{Code: "tackle", Label: "Tackle", ActUpTo: 2, Grades: [5]string{
		"Reaches, closes the eyes or goes in upright; carriers get through, or the tackle is a danger to one of the two. " +
			"Needs coaching before contact.",
		"Makes the tackle when the carrier comes straight; feet stop too early and the head is sometimes on the wrong " +
			"side. Needs coaching of the head’s position before the next contact.",
		"Tracks, gets close, head safe and shoulder below the ball, and brings down most carriers near the line where " +
			"they were met.",
		"Closes the space first, hits low and hard within the law, and decides where the tackle ends and who comes out " +
			"of it ahead.",
		"Stops strong and quick carriers in open space and in traffic, safely and legally, and turns tackles into slow " +
			"or lost ball.",
	},
		Headline: Places{GroupUnknown: 4, GroupFrontRow: 5, GroupSecondRow: 5, GroupBackRow: 4, GroupHalfBack: 4,
			GroupCentre: 4, GroupBackThree: 5}},
	{Code: "catch_under_pressure", Label: "Catch under pressure", Grades: [5]string{
		"Lets the ball bounce, or drops it when an opponent is near.",
		"Catches when alone; under pressure the hands are late or the eyes leave the ball.",
		"Gets under most kicks, calls, and catches on the ground; in the air it depends on the chaser.",
		"Judges the flight early, jumps to the ball with hands up and a safe body, and wins most contests.",
		"Takes the ball at full stretch against chasers, in wind and rain, and lands ready to play.",
	}, Headline: Places{GroupHalfBack: 5, GroupBackThree: 1}},
	{Code: "scrum", Label: "Scrum", ActUpTo: 1, Groups: []Group{GroupFrontRow, GroupSecondRow, GroupBackRow},
		Grades: [5]string{
			"Cannot yet keep a safe shape under load; should not scrummage in this place until coached.",
			"Safe and bound, but loses shape when the pressure comes; goes back against equals.",
			"Holds a straight back and a long bind through the push, and keeps own ball steady.",
			"Gains on equals by timing and shape, within the law, and adapts to the opponent after a scrum or two.",
			"A base for the side: steady or going forward against stronger packs, and helps the others to adjust.",
		}, Headline: Places{GroupFrontRow: 1, GroupSecondRow: 3}},
	{Code: "lineout", Label: "Lineout", ActUpTo: 1, Groups: []Group{GroupFrontRow, GroupSecondRow, GroupBackRow},
		Grades: [5]string{
			"Does not know the calls or is late; throws, jumps or lifts are not yet safe or not yet straight.",
			"Does the part when the call is simple; timing goes when it is changed or contested.",
			"Knows the calls, moves on time, and does the own part safely at most lineouts.",
			"Reliable under contest, quick off the ground, and reads the opponents' throw well enough to trouble it.",
			"Runs or rescues lineouts: right call, accurate throw, jump or lift under pressure, and steals on their ball.",
		}, Headline: Places{GroupFrontRow: 2, GroupSecondRow: 1}},
	{Code: "maul", Label: "Maul", Groups: []Group{GroupFrontRow, GroupSecondRow, GroupBackRow}, Grades: [5]string{
		"Joins from the side or upright, and adds weight in the wrong place.",
		"Binds legally, but late, or without driving; slips off when it turns.",
		"Binds low and drives with the others, and stops a maul by getting in early.",
		"Feels where it is moving, shifts to keep it legal and straight, and gains ground or kills theirs.",
		"Leads it: sets up, steers, and knows when to leave with the ball, or takes the opponents' drive apart lawfully.",
	}, Headline: Places{GroupFrontRow: 3, GroupSecondRow: 2}},
}

// SkillOf returns the built-in skill with a code.
func SkillOf(code string) (Skill, bool) {
	for i := range skills {
		if skills[i].Code == code {
			return skills[i], true
		}
	}
	return Skill{}, false
}
