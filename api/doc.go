// Package api is how people and programs reach an academy's records: pages for people, resources for programs, and
// the server that carries both.
//
// A request passes, from the outside in (api.go): the log and the metrics, recovery, headers, the limit of its
// address, text that can be read, its origin, HEAD as GET, compression, the caller, the limit of that user, its body,
// the router. A refusal on the way calls Server.fail, which answers in the way of the part that the request was for: a
// page, or a problem document (RFC 9457).
//
// The caller becomes a models.Who once, where the request enters (package auth). Every read and write of the store
// takes it; no handler decides what a caller may do.
package api
