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
// data changed meanwhile. So one process at a time fits a squad's season, and each revision once, whoever does it: a
// server, several of them, or a command beside them. Trends of an older revision never replace those of a newer one.
//
// A report shows trends only while the two revisions are equal. Until then it shows the simpler level of a player's
// matches and their group, and says so. The command "throughline trends" brings all trends up to date at once;
// "throughline report" does it for the player's squads.
package fits
