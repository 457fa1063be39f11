// Package rest is the JSON service for programs: one file for each resource, every operation typed and described by
// OpenAPI 3.1 at /openapi.json, and on pages that people read at /docs. Errors are problem documents (RFC 9457).
// walkthrough.md shows with curl how to get from an empty season to a trend.
//
// A resource is declared: its address, which functions of the store list, read, make, change and delete it, what a
// reader must know, and an example. What all share is written once: resource.go (operations), operation.go (a request
// and its answer), condition.go (If-Match and If-None-Match), json.go (strict reading), csv.go, schema.go and
// document.go (the description). What the description says about a member is the comment of its field; after changing
// one, run
//
//	go test ./api/rest -run TheDescriptions -update
//
// A new resource is tested by declaring it. TestTheServiceIsWhatItsDescriptionSays finds every operation in the
// description, sends it what the description allows and what it forbids, as every kind of user, on both databases,
// and wants answers that the description has. Put its name into the list at the top of that test, after what it
// refers to.
package rest
