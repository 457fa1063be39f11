package api

import "net/http"

// Handler is what a server answers with, without the network.
func (s *Server) Handler() http.Handler { return s.handler }

// Routes are all that a server answers, as "GET /players/:player", those for everybody included.
func (s *Server) Routes() []string {
	var all []string
	for _, r := range s.router.Routes() {
		all = append(all, r.Method+" "+r.Path)
	}
	return append(all, s.unrouted...)
}
