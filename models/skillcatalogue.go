package models

import "slices"

// SkillCatalogue returns the built-in skills in the order in which they are listed. The slice is new; what its
// elements point to is shared and must not be changed.
func SkillCatalogue() []Skill { return slices.Clone(skills) }

// skills is never changed.
var skills = []Skill{
	{Code: "footwork_into_contact", Label: "Footwork into contact",
		How: "Watch the last ten carries into contact; of fewer, take the share and round down. Count those in which a " +
			"step or a new line in the last 3 metres meets a shoulder or open space, not the chest.",
		Grades: [5]string{
			"In fewer than 3 of 10 carries meets a shoulder or open space. Runs at the chest and is stopped there.",
			"In 3 or 4 of 10 carries meets a shoulder or open space. Most steps come too early, and the defender is ready " +
				"again.",
			"In 5 to 7 of 10 carries meets a shoulder or open space.",
			"In 8 or more of 10 carries meets a shoulder or open space, but in fewer than half of those against two defenders.",
			"In 8 or more of 10 carries meets a shoulder or open space, and in half or more of those against two defenders.",
		},
		Headline: Places{GroupUnknown: 1, GroupSecondRow: 7, GroupBackRow: 2, GroupHalfBack: 6, GroupCentre: 2,
			GroupBackThree: 2}},
	{Code: "pass_or_carry", Label: "Decision to pass or carry",
		How: "Watch the last ten times with the ball; of fewer, take the share and round down. Count those in which no " +
			"other option had more room. Pressure is a defender within 2 metres.",
		Grades: [5]string{
			"In fewer than 3 of 10 decisions takes the option with most room. Free team-mates are not seen.",
			"In 3 or 4 of 10 decisions takes the option with most room. Often carries when a pass is on, or passes into " +
				"trouble.",
			"In 5 to 7 of 10 decisions takes the option with most room.",
			"In 8 or more of 10 decisions takes the option with most room, but in fewer than half of those under pressure.",
			"In 8 or more of 10 decisions takes the option with most room, and in half or more of those under pressure.",
		}, Headline: Places{GroupUnknown: 2, GroupBackRow: 3, GroupHalfBack: 1, GroupCentre: 1, GroupBackThree: 4}},
	{Code: "breakdown", Label: "Breakdown work",
		How: "Watch the last ten rucks that the player came to; of fewer, take the share and round down. Count those that " +
			"the player cleared, secured, slowed or won without a penalty, and those left alone that were out already.",
		Grades: [5]string{
			"In fewer than 3 of 10 rucks changes something or leaves a lost one alone. Comes late or upright, or is penalised.",
			"In 3 or 4 of 10 rucks changes something or leaves a lost one alone. Often clears the wrong opponent or falls " +
				"over the ball.",
			"In 5 to 7 of 10 rucks changes something or leaves a lost one alone.",
			"In 8 or more of 10 rucks changes something or leaves a lost one alone, but is the first there in fewer than half.",
			"In 8 or more of 10 rucks changes something or leaves a lost one alone, and is the first there in half or more.",
		}, Headline: Places{GroupUnknown: 3, GroupFrontRow: 4, GroupSecondRow: 4, GroupBackRow: 1, GroupCentre: 5}},
	{Code: "presentation", Label: "Presentation after contact",
		How: "Watch the last ten carries that went to ground; of fewer, take the share and round down. Count those in " +
			"which the ball is at arm’s length towards their own side within 1 second.",
		Grades: [5]string{
			"In fewer than 3 of 10 carries places the ball long within a second. Elsewhere it is loose or within their reach.",
			"In 3 or 4 of 10 carries places the ball long within a second. Often late, or close to the body.",
			"In 5 to 7 of 10 carries places the ball long within a second.",
			"In 8 or more of 10 carries places the ball long within a second, but in fewer than half of those with two " +
				"tacklers.",
			"In 8 or more of 10 carries places the ball long within a second, and in half or more of those with two tacklers.",
		}, Headline: Places{GroupFrontRow: 6, GroupBackRow: 7}},
	{Code: "work_off_ball", Label: "Work off the ball",
		How: "Watch the last ten times that a place was owed in the next phase; of fewer, take the share and round down. " +
			"Count those in which the player was in place in time. A ball within 3 seconds is left out.",
		Grades: [5]string{
			"In fewer than 3 of 10 phases is in place in time. Walks after most involvements.",
			"In 3 or 4 of 10 phases is in place in time. Often moves only when called.",
			"In 5 to 7 of 10 phases is in place in time.",
			"In 8 or more of 10 phases is in place in time, but in fewer than half of those from the fourth phase on.",
			"In 8 or more of 10 phases is in place in time, and in half or more of those from the fourth phase on.",
		},
		Headline: Places{GroupUnknown: 5, GroupFrontRow: 7, GroupSecondRow: 6, GroupBackRow: 6, GroupHalfBack: 2,
			GroupCentre: 6, GroupBackThree: 6}},
	{Code: "support_lines", Label: "Support lines",
		How: "Watch the last ten runs of 5 metres or more while a team-mate has the ball; of fewer, take the share and " +
			"round down. Count those at whose end a clear pass within 10 metres was on.",
		Grades: [5]string{
			"In fewer than 3 of 10 runs can be passed to. Stands, or drifts away from the ball.",
			"In 3 or 4 of 10 runs can be passed to. Often too flat, too close or too late.",
			"In 5 to 7 of 10 runs can be passed to.",
			"In 8 or more of 10 runs can be passed to, but makes a defender turn or stop in fewer than half.",
			"In 8 or more of 10 runs can be passed to, and makes a defender turn or stop in half or more.",
		}, Headline: Places{GroupUnknown: 6, GroupBackRow: 5, GroupHalfBack: 3, GroupCentre: 3, GroupBackThree: 3}},
	{Code: "tackle", Label: "Tackle", ActUpTo: 2,
		How: "Watch the last ten tackles tried; of fewer, take the share and round down. Safety comes first: a tackle is " +
			"unsafe with the head in front of the carrier, closed eyes or a high contact. Then count the carriers brought " +
			"down or held.",
		Grades: [5]string{
			"In 3 or more of 10 tackles is unsafe for one of the two. Needs coaching before contact.",
			"In 1 or 2 of 10 tackles is unsafe for one of the two. Needs coaching on head and height before full contact.",
			"Is safe in all, and in fewer than 7 of 10 tackles brings the carrier down.",
			"Is safe in all, and in 7 or 8 of 10 tackles brings the carrier down.",
			"Is safe in all, and in 9 or more of 10 tackles brings the carrier down.",
		},
		Headline: Places{GroupUnknown: 4, GroupFrontRow: 5, GroupSecondRow: 5, GroupBackRow: 4, GroupHalfBack: 4,
			GroupCentre: 4, GroupBackThree: 5}},
	{Code: "catch_under_pressure", Label: "Catch under pressure",
		How: "Watch the last ten balls in the air with an opponent within 2 metres; of fewer, take the share and round " +
			"down. Count those caught at the first touch.",
		Grades: [5]string{
			"In fewer than 3 of 10 catches holds the ball first time. Lets it bounce, or the hands are late.",
			"In 3 or 4 of 10 catches holds the ball first time. The eyes often leave it.",
			"In 5 to 7 of 10 catches holds the ball first time.",
			"In 8 or more of 10 catches holds the ball first time, but in fewer than half of those with both feet off the " +
				"ground.",
			"In 8 or more of 10 catches holds the ball first time, and in half or more with both feet off the ground.",
		}, Headline: Places{GroupHalfBack: 5, GroupBackThree: 1}},
	{Code: "scrum", Label: "Scrum", ActUpTo: 1, Groups: []Group{GroupFrontRow, GroupSecondRow, GroupBackRow},
		How: "Watch the last ten scrums; of fewer, take the share and round down. Safety comes first: a scrum is unsafe " +
			"where the back bends, the head drops or the bind goes. Then count those in which the shape held through the " +
			"push. " + UnderAgeScrum,
		Grades: [5]string{
			"In 1 or more of 10 scrums is unsafe at the engagement. Should not scrummage in this place until coached.",
			"Is safe at the engagement in all, and in fewer than 5 of 10 scrums holds the shape through the push.",
			"Is safe at the engagement in all, and in 5 to 7 of 10 scrums holds the shape through the push.",
			"Is safe at the engagement in all, and in 8 or more of 10 scrums holds the shape, but goes forward in fewer than " +
				"half.",
			"Is safe at the engagement in all, and in 8 or more of 10 scrums holds the shape, and goes forward in half or more.",
		}, Headline: Places{GroupFrontRow: 1, GroupSecondRow: 3}},
	{Code: "lineout", Label: "Lineout", ActUpTo: 1, Groups: []Group{GroupFrontRow, GroupSecondRow, GroupBackRow},
		How: "Watch the last ten lineouts; of fewer, take the share and round down. Safety comes first: it is unsafe " +
			"where a jumper is dropped, tipped or let down alone. Then count those in which their own part, throw, jump or " +
			"lift, was as called.",
		Grades: [5]string{
			"In 1 or more of 10 lineouts does their own part unsafely. Should not lift or jump until coached.",
			"Is safe in all, and in fewer than 5 of 10 lineouts does their own part as called.",
			"Is safe in all, and in 5 to 7 of 10 lineouts does their own part as called.",
			"Is safe in all, and in 8 or more of 10 does their own part as called, but in fewer than half of those contested.",
			"Is safe in all, and in 8 or more of 10 does their own part as called, and in half or more of those contested.",
		}, Headline: Places{GroupFrontRow: 2, GroupSecondRow: 1}},
	{Code: "maul", Label: "Maul", Groups: []Group{GroupFrontRow, GroupSecondRow, GroupBackRow},
		How: "Watch the last ten mauls; of fewer, take the share and round down. Count those that the player joined from " +
			"behind, bound with a full arm, and drove straight until the ball left.",
		Grades: [5]string{
			"In fewer than 3 of 10 mauls binds and drives straight. Joins from the side, or upright.",
			"In 3 or 4 of 10 mauls binds and drives straight. Often late, or slips off when it turns.",
			"In 5 to 7 of 10 mauls binds and drives straight.",
			"In 8 or more of 10 mauls binds and drives straight, but their side gains a metre or stops theirs in fewer " +
				"than half.",
			"In 8 or more of 10 mauls binds and drives straight, and their side gains a metre or stops theirs in half or " +
				"more.",
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
