package pages

// WithTables is the pass over a rendered page for readers without scripts.
var WithTables = withTables
