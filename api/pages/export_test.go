package pages

// WithTables is the pass over a rendered page for readers without scripts.
var WithTables = withTables

// Keeps says whether forms for an address can be kept.
var Keeps = keeps
