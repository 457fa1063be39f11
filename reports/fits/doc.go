// Package fits makes the trends of squads' seasons: it reads what a squad's players did, has the engine fit every
// indicator and skill on all cores, and hands the trends back to be kept under the revision of the data that they
// stand on.
//
// # When trends are made, and when they are shown
//
// A trend is fitted to a whole squad's season at once, so it cannot be made inside the write that changes one match.
// The store counts a revision for each squad's season ([models.SquadSeason]): every write to something that trends
// stand on adds one, and orders a background job, in the same transaction. Several changes come to one job. It waits
// until the data rest (three seconds, a minute at most), reads them in one transaction, fits, and keeps the trends
// with the revision that was read; the transaction that keeps them ends the job, and orders the next one where the
// data changed meanwhile. So one process at a time fits a squad's season, and each revision is fitted once, by a
// server, one of several, or a command beside them. Trends of an older revision never replace those of a newer one.
//
// A report shows trends only while the two revisions are equal. Until then it shows the simpler level of a player's
// matches and their group, and says so. The command "throughline trends" brings all trends up to date at once;
// "throughline report" does it for the player's squads.
//
// # The account of forecasts
//
// Trends keep account of themselves: "we are 80 % sure" is compared with what came. With the first trends that are
// kept after a round of matches is complete, in the same transaction, go forecasts from that round: for each player
// and indicator (or skill) the law of their matches to come, trend.Law, and for each indicator the chance that a
// player has more than another over the next five matches of both. A squad's pairs are each player and the next one of
// their position group, in the order of their ids: fewer than players, and not chosen by their figures. Forecasts
// stand on what is dated up to the round and on nothing later. There is one for a player, an indicator and a round,
// and it is never written twice: 40 players and 30 indicators make 1,200 rows of about 200 bytes and as many pairs at
// most each round, 30 rounds a season less than 20 MB.
//
// They are settled in the same transaction as the next trends are kept, by the record as it stands then: the next
// match and the pairs when they are played, the rest of the season on the day after it ends, by a job of its own. Each
// time the whole season's forecasts are compared with the record again. So a correction of an old match settles again
// what it changes (and is counted), and figures that are taken back open the forecast again. A change to a match's
// difficulty or venue alone does not: the figure is the same. What was said never changes, also where it stood on what
// was wrong then. Package calibration holds what was said against what came; the formulas are in trend/score.go.
package fits
