package scenario

import (
	"cmp"
	"math"
	"slices"

	"throughline/models"
)

// An opponent is another team, with how strong it is on the scale of expected difficulty, 1 to 5.
type opponent struct {
	name     string
	strength float64
}

// calendar is one squad's season: its day of the week, its league's opponents (each played home and away), those it
// meets in the cup and in friendlies, and the weekends without a match.
type calendar struct {
	weekday     int // days after Saturday
	halfMinutes int
	league      string
	opponents   []opponent
	friends     []opponent // met before the league starts and at its turn
	cup         []opponent // round by round; the last on neutral ground
	free        []models.Date
	fifty22     float64 // the chance that a kick from the kicker's own half is a 50:22
}

// calendars are the squads' seasons. Teams and competitions are made up. Matches of under-19 bands last 70
// minutes (World Rugby, Laws of the Game, under-19 variations, from memory), those of the senior academy 80.
var calendars = map[int64]calendar{
	under16: {
		weekday: 1, halfMinutes: 35, league: "Four Rivers League, under 16",
		opponents: []opponent{
			{"Vantlow School", 2.4}, {"Netherquay College", 3.1}, {"Lanterley Grammar", 1.8}, {"Morrowdene School", 3.8},
			{"Fenwharf College", 2.7},
			{"Quernby Colts", 3.4}, {"Skelderwick Colts", 1.5}, {"Brackwater Academy", 4.6}, {"St Audrin's School", 2.9},
		},
		friends: []opponent{{"Tillerham Colts", 1.6}, {"Caddowby Colts", 2.2}},
		cup:     []opponent{{"Mirefold Colts", 2.0}, {"Morrowdene School", 3.8}, {"Carrowmoss Academy", 4.4}},
		free:    []models.Date{"2025-10-11", "2026-01-31", "2026-03-14", "2026-04-25"},
	},
	under18: {
		weekday: 0, halfMinutes: 35, league: "Four Rivers League, under 18",
		opponents: []opponent{
			{"Morrowdene School", 3.5}, {"Brackwater Academy", 4.5}, {"Pellmoor Colts", 1.7}, {"Netherquay College", 2.8},
			{"Carrowmoss Academy", 4.0},
			{"Vantlow School", 2.1}, {"Kestrow Colts", 3.0}, {"Hollinmere Academy", 3.7}, {"Lanterley Grammar", 2.3},
			{"Arkenmouth Colts", 3.2},
		},
		friends: []opponent{{"Dunnaby Park Colts", 2.0}, {"Wrethamby Colts", 2.6}},
		cup:     []opponent{{"Fenwharf College", 2.4}, {"Hollinmere Academy", 3.7}, {"Brackwater Academy", 4.6}},
		free:    []models.Date{"2025-11-15", "2026-02-28"},
	},
	senior: {
		weekday: 0, halfMinutes: 40, league: "Northmarch Colts Championship",
		opponents: []opponent{
			{"Quernby RFC", 3.3}, {"Arkenmouth RFC", 2.6}, {"Brackwater Academy", 4.4}, {"Dunnaby Park RFC", 1.9},
			{"Hollinmere Academy", 3.9},
			{"Kestrow RFC", 3.0}, {"Carrowmoss Academy", 4.1}, {"Pellmoor RFC", 2.2}, {"Wrethamby RFC", 2.8},
			{"Skelderwick RFC", 1.6},
		},
		friends: []opponent{{"Tillerham RFC", 1.8}},
		cup:     []opponent{{"Mirefold RFC", 2.3}, {"Caddowby RFC", 3.1}, {"Hollinmere Academy", 4.2}},
		free:    []models.Date{"2025-11-08", "2025-12-13", "2026-03-28"},
	},
	under18Girls: {
		weekday: 1, halfMinutes: 35, league: "Four Rivers League, under 18 girls",
		opponents: []opponent{
			{"Netherquay College", 2.9}, {"Hollinmere Academy", 4.1}, {"Kestrow Colts", 2.2}, {"Vantlow School", 1.8},
			{"Carrowmoss Academy", 3.6}, {"Arkenmouth Colts", 3.1},
		},
		friends: []opponent{{"Wrethamby Colts", 2.3}},
		cup:     []opponent{{"Fenwharf College", 2.6}, {"Brackwater Academy", 4.2}},
		free: []models.Date{"2025-09-20", "2025-10-11", "2025-11-01", "2025-11-15", "2025-12-13", "2026-01-24",
			"2026-02-07", "2026-02-28", "2026-03-21", "2026-04-25"},
		fifty22: 0.08,
	},
}

const (
	cupName      = "Lantern Cup, group stage"
	cupFinals    = "Lantern Cup, finals day"
	festivalName = "Harvest Festival of Rugby"
)

// The first and the last Saturday of matches, and the Saturdays without matches: half-terms, Christmas and Easter.
const (
	firstSaturday models.Date = "2025-09-06"
	lastSaturday  models.Date = "2026-04-25"
)

var holidays = []models.Date{"2025-10-25", "2025-12-20", "2025-12-27", "2026-01-03", "2026-02-14", "2026-04-04"}

// fixtures fills in the squads' matches and those of other teams, in order of date. Matches throw dice by their number:
// those of the girls' squad, who share no player with the others, come after, and leave the others' seasons alone.
func (s *simulation) fixtures() {
	byDate := func(a, b models.Match) int { return cmp.Compare(a.Date, b.Date) }
	for _, squad := range []int64{under16, under18, senior} {
		s.squadFixtures(squad, calendars[squad])
	}
	s.otherFixtures()
	slices.SortStableFunc(s.Matches, byDate)
	others := len(s.Matches)
	s.squadFixtures(under18Girls, calendars[under18Girls])
	slices.SortStableFunc(s.Matches[others:], byDate)
	for i := range s.Matches {
		s.Matches[i].Record = local(int64(i + 1))
	}
}

func (s *simulation) squadFixtures(squad int64, c calendar) {
	d := stream(s.seed, "fixtures", squad)
	days := saturdays(c.free)

	// The league: every opponent once, then every opponent again with home and away swapped.
	order := d.Perm(len(c.opponents))
	var league []fixture
	for round := range 2 {
		for i, o := range order {
			venue := models.Home
			if (i+round)%2 == 1 {
				venue = models.Away
			}
			league = append(league, fixture{c.opponents[o], c.league, venue})
		}
	}

	list := []fixture{
		{c.friends[0], "Friendly", models.Home},
		{pick(d, c.opponents), festivalName, models.Neutral},
	}
	cupAt := []int{8, 14, len(days) - 3} // November, January, and the final in April
	for _, f := range league {
		for round, at := range cupAt[:len(c.cup)] {
			if len(list) == at {
				name, venue := cupName, []models.Venue{models.Away, models.Home, models.Neutral}[round]
				if venue == models.Neutral {
					name = cupFinals
				}
				list = append(list, fixture{c.cup[round], name, venue})
			}
		}
		if len(c.friends) > 1 && len(list) == 12 {
			list = append(list, fixture{c.friends[1], "Friendly", models.Away})
		}
		list = append(list, f)
	}
	if len(list) > len(days) {
		list = list[:len(days)]
	}
	for i, f := range list {
		day := days[i].AddDays(c.weekday)
		difficulty := f.difficulty(d)
		venue, team := f.venue, squad
		s.Matches = append(s.Matches, models.Match{
			SeasonID: 1, SquadID: &team, Date: day, Opponent: f.against.name, Venue: &venue, Difficulty: &difficulty,
			Competition: f.competition, Conditions: weather(d, day), Halves: 2, HalfMinutes: c.halfMinutes,
		})
	}
}

type fixture struct {
	against     opponent
	competition string
	venue       models.Venue
}

// difficulty is what the coaches expect: the opponent's strength, easier at home, and their own doubt.
func (f fixture) difficulty(d dice) int {
	x := f.against.strength + d.normal(0, 0.3)
	switch f.venue {
	case models.Home:
		x -= 0.3
	case models.Away:
		x += 0.3
	}
	return int(min(max(math.Round(x), 1), 5))
}

// saturdays returns the season's Saturdays with a match, leaving out holidays and a squad's own free weekends.
func saturdays(free []models.Date) []models.Date {
	var days []models.Date
	for day := firstSaturday; day <= lastSaturday; day = day.AddDays(7) {
		if !slices.Contains(holidays, day) && !slices.Contains(free, day) {
			days = append(days, day)
		}
	}
	return days
}

// weather says what the day was like, by the time of the year.
func weather(d dice, day models.Date) string {
	switch month := string(day[5:7]); month {
	case "09":
		return pick(d, []string{"dry, warm", "dry, firm pitch", "dry, light wind", "showers"})
	case "10", "03":
		return pick(d, []string{"dry, light wind", "showers, slippery ball", "dry", "strong wind", "wet"})
	case "04":
		return pick(d, []string{"dry", "dry, firm pitch", "showers", "dry, light wind"})
	default:
		return pick(d, []string{"wet, heavy pitch", "cold, soft pitch", "wet, strong wind", "cold, dry",
			"frosty start, firm pitch", "showers"})
	}
}

// An otherTeam is a school or club for which some of the academy's players also play: for minutes and load only.
type otherTeam struct {
	name        string
	squad       int64
	halfMinutes int
	opponents   []string
	dates       []models.Date
}

var otherTeams = []otherTeam{
	{"Alderwick School", under16, 30, []string{"Fenwharf College", "Lanterley Grammar", "St Audrin's School"},
		[]models.Date{"2025-10-01", "2025-11-19", "2026-01-28"}},
	{"Ostrelbridge High School", under18, 35, []string{"Vantlow School", "Netherquay College", "Morrowdene School",
		"Lanterley Grammar"}, []models.Date{"2025-09-24", "2025-11-05", "2026-01-21", "2026-03-11"}},
	{"Wexholme Colts", under18, 35, []string{"Tillerham Colts", "Mirefold Colts"},
		[]models.Date{"2025-10-26", "2026-02-15"}},
	{"Wexholme RFC", senior, 40, []string{"Caddowby RFC", "Tillerham RFC", "Mirefold RFC"},
		[]models.Date{"2025-10-26", "2025-12-21", "2026-04-05"}},
}

// otherFixtures adds the other teams' matches. Difficulty and conditions were not recorded.
func (s *simulation) otherFixtures() {
	for n, team := range otherTeams {
		d := stream(s.seed, "other fixtures", int64(n))
		for i, day := range team.dates {
			var venue *models.Venue
			if d.chance(0.8) {
				v := pick(d, []models.Venue{models.Home, models.Away})
				venue = &v
			}
			s.Matches = append(s.Matches, models.Match{
				SeasonID: 1, OtherTeam: team.name, Date: day, Opponent: team.opponents[i], Venue: venue,
				Competition: "Friendly", Halves: 2, HalfMinutes: team.halfMinutes,
			})
		}
	}
}
