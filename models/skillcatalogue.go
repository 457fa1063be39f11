package models

import "slices"

// SkillCatalogue returns the built-in skills in the order in which they are listed. The slice is new; what its
// elements point to is shared and must not be changed.
func SkillCatalogue() []Skill { return slices.Clone(skills) }

// skills is never changed.
var skills = []Skill{
	{Code: "footwork_into_contact", Label: "Footwork into contact",
		How: "Watch the last ten carries into contact. If there are fewer, take the same share of them and round down. " +
			"Count those where a step or a new line in the last 3 metres takes the carrier to a shoulder or open space, " +
			"not the chest.",
		Grades: [5]string{
			"Meets a shoulder or open space in fewer than 3 of 10 carries. Runs at the chest and is stopped there.",
			"Meets a shoulder or open space in 3 or 4 of 10 carries. Most steps come too early, and the defender is " +
				"ready again.",
			"Meets a shoulder or open space in 5 to 7 of 10 carries.",
			"Meets a shoulder or open space in 8 or more of 10 carries, but in fewer than half of those against two defenders.",
			"Meets a shoulder or open space in 8 or more of 10 carries, and in half or more of those against two defenders.",
		},
		Headline: Places{GroupUnknown: 1, GroupSecondRow: 7, GroupBackRow: 2, GroupHalfBack: 6, GroupCentre: 2,
			GroupBackThree: 2}},
	{Code: "pass_or_carry", Label: "Decision to pass or carry",
		How: "Watch the last ten times with the ball. If there are fewer, take the same share of them and round down. " +
			"Count those in which no other option had more room. Pressure is a defender within 2 metres.",
		Grades: [5]string{
			"Takes the option with the most room in fewer than 3 of 10 decisions. Does not see free team-mates.",
			"Takes the option with the most room in 3 or 4 of 10 decisions. Often carries when a pass is on, or passes " +
				"into trouble.",
			"Takes the option with the most room in 5 to 7 of 10 decisions.",
			"Takes the option with the most room in 8 or more of 10 decisions, but in fewer than half of those under pressure.",
			"Takes the option with the most room in 8 or more of 10 decisions, and in half or more of those under pressure.",
		}, Headline: Places{GroupUnknown: 2, GroupBackRow: 3, GroupHalfBack: 1, GroupCentre: 1, GroupBackThree: 4}},
	{Code: "breakdown", Label: "Breakdown work",
		How: "Watch the last ten rucks that the player came to. If there are fewer, take the same share of them and round " +
			"down. Count a ruck if the player cleared, secured, slowed or won it without a penalty. Count it too if it was " +
			"already lost, or the ball was out, and the player stayed out.",
		Grades: [5]string{
			"Helps, or rightly stays out, in fewer than 3 of 10 rucks. Comes late or upright, or is penalised.",
			"Helps, or rightly stays out, in 3 or 4 of 10 rucks. Often clears the wrong opponent or falls " +
				"over the ball.",
			"Helps, or rightly stays out, in 5 to 7 of 10 rucks.",
			"Helps, or rightly stays out, in 8 or more of 10 rucks, but is the first there in fewer than half.",
			"Helps, or rightly stays out, in 8 or more of 10 rucks, and is the first there in half or more.",
		}, Headline: Places{GroupUnknown: 3, GroupFrontRow: 4, GroupSecondRow: 4, GroupBackRow: 1, GroupCentre: 5}},
	{Code: "presentation", Label: "Presentation after contact",
		How: "Watch the last ten carries that went to ground. If there are fewer, take the same share of them and round " +
			"down. Count those in which the ball is at arm’s length towards their own side within 1 second.",
		Grades: [5]string{
			"Places the ball long within a second in fewer than 3 of 10 carries. Elsewhere it is loose or within their reach.",
			"Places the ball long within a second in 3 or 4 of 10 carries. Often late, or close to the body.",
			"Places the ball long within a second in 5 to 7 of 10 carries.",
			"Places the ball long within a second in 8 or more of 10 carries, but in fewer than half of those with " +
				"two tacklers.",
			"Places the ball long within a second in 8 or more of 10 carries, and in half or more of those with two tacklers.",
		}, Headline: Places{GroupFrontRow: 6, GroupBackRow: 7}},
	{Code: "work_off_ball", Label: "Work off the ball",
		How: "Watch the last ten times that the player had to get to a place for the next phase. Leave out those where " +
			"the ball was played within 3 seconds. If there are fewer, take the same share of them and round down. Count " +
			"those in which the player was in place in time.",
		Grades: [5]string{
			"Is in place in time in fewer than 3 of 10 phases. Walks after most involvements.",
			"Is in place in time in 3 or 4 of 10 phases. Often moves only when called.",
			"Is in place in time in 5 to 7 of 10 phases.",
			"Is in place in time in 8 or more of 10 phases, but in fewer than half of those from the fourth phase on.",
			"Is in place in time in 8 or more of 10 phases, and in half or more of those from the fourth phase on.",
		},
		Headline: Places{GroupUnknown: 5, GroupFrontRow: 7, GroupSecondRow: 6, GroupBackRow: 6, GroupHalfBack: 2,
			GroupCentre: 6, GroupBackThree: 6}},
	{Code: "support_lines", Label: "Support lines",
		How: "Watch the last ten runs of 5 metres or more while a team-mate has the ball. If there are fewer, take the " +
			"same share of them and round down. Count those that end with a clear pass on within 10 metres.",
		Grades: [5]string{
			"Can be passed to in fewer than 3 of 10 runs. Stands, or drifts away from the ball.",
			"Can be passed to in 3 or 4 of 10 runs. Often too flat, too close or too late.",
			"Can be passed to in 5 to 7 of 10 runs.",
			"Can be passed to in 8 or more of 10 runs, but makes a defender turn or stop in fewer than half.",
			"Can be passed to in 8 or more of 10 runs, and makes a defender turn or stop in half or more.",
		}, Headline: Places{GroupUnknown: 6, GroupBackRow: 5, GroupHalfBack: 3, GroupCentre: 3, GroupBackThree: 3}},
	{Code: "tackle", Label: "Tackle", ActUpTo: 2, ContactUpTo: 1,
		How: "Watch the last ten tackles tried. If there are fewer, take the same share of them and round down. Safety " +
			"comes first: a tackle is unsafe with the head in front of the carrier, closed eyes or a high contact. Then " +
			"count the carriers brought down or held.",
		Grades: [5]string{
			"Is unsafe for the player or the carrier in 3 or more of 10 tackles. Needs coaching before contact.",
			"Is unsafe for the player or the carrier in 1 or 2 of 10 tackles. Needs coaching on head and height before " +
				"full contact.",
			"Is safe in all, and brings the carrier down in fewer than 7 of 10 tackles.",
			"Is safe in all, and brings the carrier down in 7 or 8 of 10 tackles.",
			"Is safe in all, and brings the carrier down in 9 or more of 10 tackles.",
		},
		Headline: Places{GroupUnknown: 4, GroupFrontRow: 5, GroupSecondRow: 5, GroupBackRow: 4, GroupHalfBack: 4,
			GroupCentre: 4, GroupBackThree: 5}},
	{Code: "catch_under_pressure", Label: "Catch under pressure",
		How: "Watch the last ten balls in the air with an opponent within 2 metres. If there are fewer, take the same " +
			"share of them and round down. Count those caught at the first touch.",
		Grades: [5]string{
			"Holds the ball first time in fewer than 3 of 10 catches. Lets it bounce, or the hands are late.",
			"Holds the ball first time in 3 or 4 of 10 catches. The eyes often leave it.",
			"Holds the ball first time in 5 to 7 of 10 catches.",
			"Holds the ball first time in 8 or more of 10 catches, but in fewer than half of those with both feet off " +
				"the ground.",
			"Holds the ball first time in 8 or more of 10 catches, and in half or more with both feet off the ground.",
		}, Headline: Places{GroupHalfBack: 5, GroupBackThree: 1}},
	{Code: "scrum", Label: "Scrum", ActUpTo: 1, ContactUpTo: 2,
		Groups: []Group{GroupFrontRow, GroupSecondRow, GroupBackRow},
		How: "Watch the last ten scrums. If there are fewer, take the same share of them and round down. Safety comes " +
			"first: a scrum is unsafe where the back bends, the head drops or the bind goes. Then count those in which the " +
			"shape held through the push. " + UnderAgeScrum,
		Grades: [5]string{
			"Is unsafe at the engagement in 1 or more of 10 scrums. Should not scrummage in this place until coached.",
			"Is safe at the engagement in all, and holds the shape through the push in fewer than 5 of 10 scrums.",
			"Is safe at the engagement in all, and holds the shape through the push in 5 to 7 of 10 scrums.",
			"Is safe at the engagement in all, and holds the shape in 8 or more of 10 scrums, but goes forward in " +
				"fewer than half.",
			"Is safe at the engagement in all, and holds the shape in 8 or more of 10 scrums, and goes forward in half or more.",
		}, Headline: Places{GroupFrontRow: 1, GroupSecondRow: 3}},
	{Code: "lineout", Label: "Lineout", ActUpTo: 1, Groups: []Group{GroupFrontRow, GroupSecondRow, GroupBackRow},
		How: "Watch the last ten lineouts. If there are fewer, take the same share of them and round down. Safety comes " +
			"first: it is unsafe where a jumper is dropped, tipped or let down alone. Then count those in which their own " +
			"part, throw, jump or lift, was as called.",
		Grades: [5]string{
			"Does their own part unsafely in 1 or more of 10 lineouts. Should not lift or jump until coached.",
			"Is safe in all, and does their own part as called in fewer than 5 of 10 lineouts.",
			"Is safe in all, and does their own part as called in 5 to 7 of 10 lineouts.",
			"Is safe in all, and does their own part as called in 8 or more of 10, but in fewer than half of those contested.",
			"Is safe in all, and does their own part as called in 8 or more of 10, and in half or more of those contested.",
		}, Headline: Places{GroupFrontRow: 2, GroupSecondRow: 1}},
	{Code: "maul", Label: "Maul", Groups: []Group{GroupFrontRow, GroupSecondRow, GroupBackRow},
		How: "Watch the last ten mauls. If there are fewer, take the same share of them and round down. Count those that " +
			"the player joined from behind, bound with a full arm, and drove straight until the ball left.",
		Grades: [5]string{
			"Binds and drives straight in fewer than 3 of 10 mauls. Joins from the side, or upright.",
			"Binds and drives straight in 3 or 4 of 10 mauls. Often late, or slips off when it turns.",
			"Binds and drives straight in 5 to 7 of 10 mauls.",
			"Binds and drives straight in 8 or more of 10 mauls, but their side gains a metre or stops theirs in " +
				"fewer than half.",
			"Binds and drives straight in 8 or more of 10 mauls, and their side gains a metre or stops theirs in half or more.",
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
