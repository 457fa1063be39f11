package scenario

import (
	"strconv"
	"strings"

	"throughline/models"
)

// The four squads, by their local ids.
const (
	under16 int64 = 1 + iota
	under18
	senior
	under18Girls
)

// Cast names the players who were made interesting on purpose, by local id. All but the last are of the boys'
// under-18 squad, so that one coach sees them; most of their matches are logged.
type Cast struct {
	// a flanker who learns footwork: contact, gain line, metres and presentation rise all season; the demo's player
	Improver int64 `json:"improver"`
	// a flanker whose work off the ball falls away: repositions, support lines, last quarters
	Fading        int64 `json:"fading"`
	Steady        int64 `json:"steady"`          // a centre whose levels all stay the same
	LateJoiner    int64 `json:"late_joiner"`     // an outside half who joins in April: too little to say
	BackFromSpell int64 `json:"back_from_spell"` // a full back, out from November to January
	FewCarries    int64 `json:"few_carries"`     // a prop who carries once or twice a match
	// the girls' fly half: of the girls' squad, most of the matches are logged
	FlyHalf int64 `json:"fly_half"`
}

// part is what a player was made to be on purpose.
type part int

const (
	ordinary part = iota
	improver
	fading
	steady
	lateJoiner
	backFromSpell
	fewCarries
	girlsFlyHalf
)

type person struct {
	name   string
	places []place // the first is their own
	part   part
}

func at(places ...place) []place { return places }

// rosters holds each squad's players. All names are made up.
var rosters = [...][]person{
	under16 - 1: {
		{name: "Callum Threlwall", places: at(loosehead)},
		{name: "Idris Pennock", places: at(loosehead)},
		{name: "Jonty Markwell", places: at(loosehead, hooker)},
		{name: "Danny Sherrick", places: at(hooker)},
		{name: "Lewis Tamblin", places: at(hooker)},
		{name: "Tobias Rennick", places: at(tighthead)},
		{name: "Kofi Brathwell", places: at(tighthead)},
		{name: "Marek Dudzik", places: at(tighthead, loosehead)},
		{name: "Elliot Garnham", places: at(lock)},
		{name: "Viliame Ratukalou", places: at(lock, blindside)},
		{name: "Rory Haskard", places: at(lock)},
		{name: "Jaspal Dhonsi", places: at(lock)},
		{name: "Owen Tredwyn", places: at(blindside, lock)},
		{name: "Noah Ellerker", places: at(blindside)},
		{name: "Femi Adeshola", places: at(openside)},
		{name: "Gethin Maddrell", places: at(openside, hooker)},
		{name: "Harvey Stallworth", places: at(numberEight)},
		{name: "Luca Perandini", places: at(numberEight, openside)},
		{name: "Archie Fenby", places: at(scrumHalf)},
		{name: "Ruaridh Coll", places: at(scrumHalf, wing)},
		{name: "Sam Kelleway", places: at(flyHalf)},
		{name: "Finlay Osgerby", places: at(flyHalf, fullback)},
		{name: "Matteo Grisanti", places: at(insideCentre)},
		{name: "Zac Wetherell", places: at(insideCentre, flyHalf)},
		{name: "Kwame Brempah", places: at(outsideCentre)},
		{name: "Ben Cattermoor", places: at(outsideCentre, wing)},
		{name: "Ollie Dransley", places: at(wing)},
		{name: "Tariq Bensaid", places: at(wing)},
		{name: "Joe Winspear", places: at(wing, outsideCentre)},
		{name: "Cai Morswyn", places: at(fullback)},
		{name: "Theo Landrick", places: at(fullback, wing)},
	},
	under18 - 1: {
		{name: "Mason Holroyde", places: at(loosehead)},
		{name: "Teddy Garside", places: at(loosehead)},
		{name: "Kieran Doolin", places: at(loosehead, hooker)},
		{name: "Bryn Caradine", places: at(hooker)},
		{name: "Alfie Tunnard", places: at(hooker)},
		{name: "Josh Ibekwe", places: at(tighthead)},
		{name: "Connor Skaife", places: at(tighthead), part: fewCarries},
		{name: "Wiktor Zaremba", places: at(tighthead, loosehead)},
		{name: "Angus Melrowe", places: at(lock)},
		{name: "Harry Bickerdale", places: at(lock)},
		{name: "Emeka Uzochi", places: at(lock, blindside)},
		{name: "Tom Lathbury", places: at(lock)},
		{name: "Dylan Rushforth", places: at(blindside), part: fading},
		{name: "Isaac Younghart", places: at(blindside, lock)},
		{name: "Rhodri Maelgwyn", places: at(openside, blindside), part: improver},
		{name: "Nathan Osterley", places: at(openside)},
		{name: "Jago Trevellick", places: at(numberEight)},
		{name: "Filipo Tausala", places: at(numberEight, blindside)},
		{name: "Ethan Cordwell", places: at(scrumHalf)},
		{name: "Max Abernethie", places: at(scrumHalf, wing)},
		{name: "Gabriel Stonor", places: at(flyHalf)},
		{name: "Rhys Parfrey", places: at(flyHalf, insideCentre), part: lateJoiner},
		{name: "Lewin Hartshaw", places: at(insideCentre, flyHalf)},
		{name: "Adam Rahbari", places: at(insideCentre), part: steady},
		{name: "Toby Raventhorpe", places: at(outsideCentre)},
		{name: "Malachi Greaveson", places: at(outsideCentre, wing)},
		{name: "Jude Fairlamb", places: at(wing)},
		{name: "Samir Chowdry", places: at(wing)},
		{name: "Liam Corrigall", places: at(wing, fullback)},
		{name: "Oscar Dellowe", places: at(fullback), part: backFromSpell},
		{name: "Euan Strathy", places: at(fullback, flyHalf)},
	},
	senior - 1: {
		{name: "Jack Brammall", places: at(loosehead)},
		{name: "Aidan Mulreany", places: at(loosehead)},
		{name: "Ross Thackley", places: at(loosehead, hooker)},
		{name: "Luke Ormandy", places: at(hooker)},
		{name: "Joseph Tattershaw", places: at(hooker)},
		{name: "George Ossingham", places: at(tighthead)},
		{name: "Pita Fonomanu", places: at(tighthead)},
		{name: "Dominik Hruska", places: at(tighthead, loosehead)},
		{name: "Will Catterson", places: at(lock)},
		{name: "Murray Dunsire", places: at(lock)},
		{name: "Tunde Akinwole", places: at(lock, blindside)},
		{name: "James Pollington", places: at(lock)},
		{name: "Hamish Dalgarth", places: at(blindside)},
		{name: "Freddie Marchbank", places: at(blindside, lock)},
		{name: "Daniel Escrick", places: at(openside)},
		{name: "Sean Tolhurst", places: at(openside, numberEight)},
		{name: "Marcus Adebisi", places: at(numberEight)},
		{name: "Charlie Winstoke", places: at(numberEight, blindside)},
		{name: "Ieuan Bowdler", places: at(scrumHalf)},
		{name: "Patrick Scallan", places: at(scrumHalf, flyHalf)},
		{name: "Alex Hembrow", places: at(flyHalf)},
		{name: "Reuben Castell", places: at(flyHalf, fullback)},
		{name: "Sol Mutandwa", places: at(insideCentre)},
		{name: "Henry Tillard", places: at(insideCentre, flyHalf)},
		{name: "Ned Ashworthy", places: at(outsideCentre)},
		{name: "Kai Vandermolen", places: at(outsideCentre, wing)},
		{name: "Josiah Templar", places: at(wing)},
		{name: "Caleb Obengwa", places: at(wing)},
		{name: "Ryan Hollinsworth", places: at(wing, fullback)},
		{name: "Tom Penhallick", places: at(fullback)},
		{name: "Arjun Sethuram", places: at(fullback, wing)},
	},
	under18Girls - 1: {
		{name: "Keziah Tolland", places: at(loosehead)},
		{name: "Anwen Pryddach", places: at(loosehead)},
		{name: "Saoirse Galbrath", places: at(loosehead, hooker)},
		{name: "Freya Winterscale", places: at(hooker)},
		{name: "Imogen Cutteridge", places: at(hooker)},
		{name: "Ngozi Amadike", places: at(tighthead)},
		{name: "Beth Harrowsmith", places: at(tighthead)},
		{name: "Zofia Wilkosz", places: at(tighthead, loosehead)},
		{name: "Martha Oldershaw", places: at(lock)},
		{name: "Elin Gwydderig", places: at(lock)},
		{name: "Adaeze Okwudi", places: at(lock, blindside)},
		{name: "Poppy Lathermoor", places: at(blindside, lock)},
		{name: "Catrin Maesllwyd", places: at(openside)},
		{name: "Leila Tahmasbi", places: at(openside, blindside)},
		{name: "Sefina Taulago", places: at(numberEight)},
		{name: "Hannah Brockhurst", places: at(numberEight, blindside)},
		{name: "Niamh Corrigane", places: at(scrumHalf)},
		{name: "Ffion Tredegarth", places: at(scrumHalf, wing)},
		{name: "Isla Drummore", places: at(flyHalf), part: girlsFlyHalf},
		{name: "Grace Penhollow", places: at(flyHalf, insideCentre)},
		{name: "Maya Sethurani", places: at(insideCentre)},
		{name: "Tilly Marchwood", places: at(outsideCentre)},
		{name: "Amara Boatenga", places: at(outsideCentre, wing)},
		{name: "Lucy Fairclove", places: at(wing)},
		{name: "Anika Deshpar", places: at(wing)},
		{name: "Orla Kinsellar", places: at(wing, fullback)},
		{name: "Megan Strathlorne", places: at(fullback)},
	},
}

// staff holds who signs in besides players: the manager, the five coaches with the squads they work with, and the
// selector.
var staff = []struct {
	name   string
	role   models.Role
	squads []int64
}{
	{"Helen Arkwell", models.RoleManager, nil},
	{"Rachel Tindle", models.RoleCoach, []int64{under16, under18}},
	{"Gareth Lanyon", models.RoleCoach, []int64{under18, senior}},
	{"Donal Brackett", models.RoleCoach, []int64{under16, senior}},
	// contact and breakdown, with every squad
	{"Siosaia Vaomotu", models.RoleCoach, []int64{under16, under18, senior, under18Girls}},
	{"Margaret Ellisdon", models.RoleSelector, []int64{under16, under18, senior, under18Girls}},
	{"Maren Oldcastle", models.RoleCoach, []int64{under18Girls}},
}

// The staff's local user ids.
const (
	managerUser int64 = 1 + iota
	tindle
	lanyon
	brackett
	vaomotu
	selectorUser
	oldcastle
)

// seasonStart and seasonEnd hold every record of the year; lastDay is the day on which the demo stands.
const (
	seasonStart models.Date = "2025-08-18"
	seasonEnd   models.Date = "2026-05-17"
	lastDay     models.Date = "2026-05-03"
)

// headCoach is the first of each squad's coaches.
var headCoach = map[int64]int64{under16: tindle, under18: lanyon, senior: brackett, under18Girls: oldcastle}

// coachesOf returns the coaches who work with a squad, its head coach first.
func coachesOf(squad int64) []int64 {
	coaches := []int64{headCoach[squad]}
	for i, s := range staff {
		if s.role != models.RoleCoach || int64(i+1) == headCoach[squad] {
			continue
		}
		for _, with := range s.squads {
			if with == squad {
				coaches = append(coaches, int64(i+1))
			}
		}
	}
	return coaches
}

// people fills in squads, players, memberships, users and staff.
func (s *simulation) people() {
	s.Squads = []models.Squad{
		{Record: local(under16), Name: "Under 16 boys", AgeBand: 16, BandMonth: 9},
		{Record: local(under18), Name: "Under 18 boys", AgeBand: 18, BandMonth: 9},
		{Record: local(senior), Name: "Senior academy", AgeBand: 20, BandMonth: 9},
		{Record: local(under18Girls), Name: "Under 18 girls", AgeBand: 18, BandMonth: 9},
	}
	for i, roster := range rosters {
		squad := s.Squads[i]
		for _, p := range roster {
			id := int64(len(s.Players) + 1)
			d := stream(s.seed, "birth", id)
			born := birth(d, squad.AgeBand)
			s.Players = append(s.Players, models.Player{Record: local(id), Name: p.name, BornOn: &born,
				Positions: positionsOf(p.places)})
			s.places = append(s.places, p.places)
			s.parts = append(s.parts, p.part)
			s.squadOf = append(s.squadOf, squad.ID)
			joined := seasonStart
			if p.part == lateJoiner {
				joined = "2026-04-07"
			}
			s.member(squad.ID, id, joined)
			switch p.part {
			case improver:
				s.Cast.Improver = id
			case fading:
				s.Cast.Fading = id
			case steady:
				s.Cast.Steady = id
			case lateJoiner:
				s.Cast.LateJoiner = id
			case backFromSpell:
				s.Cast.BackFromSpell = id
			case fewCarries:
				s.Cast.FewCarries = id
			case girlsFlyHalf:
				s.Cast.FlyHalf = id
			}
		}
	}
	// A few play above their own age band for a part of the season.
	for _, up := range []struct {
		name  string
		squad int64
		from  models.Date
	}{
		{"Viliame Ratukalou", under18, "2026-01-05"},
		{"Kwame Brempah", under18, "2026-02-16"},
		{"Jago Trevellick", senior, "2025-11-03"},
		{"Jude Fairlamb", senior, "2026-01-05"},
	} {
		s.member(up.squad, s.playerNamed(up.name), up.from)
	}
	s.users()
}

func (s *simulation) member(squad, player int64, from models.Date) {
	s.Memberships = append(s.Memberships, models.Membership{
		Record: local(int64(len(s.Memberships) + 1)), SeasonID: 1, SquadID: squad, PlayerID: player, From: from,
	})
}

// users gives a sign-in to the staff, to the players of the cast and to those of the older squads who rate themselves.
func (s *simulation) users() {
	for i, person := range staff {
		id := int64(i + 1)
		s.Users = append(s.Users, models.User{Record: local(id), Login: login(person.name), Name: person.name,
			Role: person.role})
		for _, squad := range person.squads {
			s.Staff = append(s.Staff, models.SquadStaff{UserID: id, SquadID: squad, Leads: id == headCoach[squad]})
		}
	}
	d := stream(s.seed, "player users")
	for i, p := range s.Players {
		own := s.parts[i] != ordinary || s.squadOf[i] != under16 && d.chance(0.12)
		if !own {
			continue
		}
		id := int64(len(s.Users) + 1)
		player := p.ID
		s.Users = append(s.Users, models.User{Record: local(id), Login: login(p.Name), Name: p.Name, Role: models.RolePlayer,
			PlayerID: &player})
		s.userOf[player] = id
	}
}

// login is a name as people type it to sign in: "rhodri.maelgwyn".
func login(name string) string { return strings.ReplaceAll(strings.ToLower(name), " ", ".") }

// birth draws a date of birth within an age band. Players born early in the band's year are selected more often than
// those born late (the relative age effect, *common practice*): quarters 38, 27, 20 and 15 %.
func birth(d dice, band int) models.Date {
	older := 0.6 // a squad spans two years of birth; in the youngest most are of the older one
	if band == 16 {
		older = 0.85
	}
	year := 2025 - band
	if !d.chance(older) {
		year++
	}
	quarter := d.weighted([]float64{38, 27, 20, 15})
	// No player is born on the first of September: on that day of the season they would no longer be under the band's
	// age.
	return models.Date(strconv.Itoa(year) + "-09-01").AddDays(1 + quarter*91 + d.IntN(90))
}
