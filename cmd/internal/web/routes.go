package web

import (
	"net/http"
	"slices"
	"strings"

	"github.com/pottrail/pottrail/cmd/internal/ask"
)

// Route is one line of the route table.
type Route struct {
	Pattern string
	Access  Access // who may come to it while signing in is in force
	handle  http.HandlerFunc
}

// Routes lists what both handlers serve: the API.
func (s *Server) Routes() []Route {
	routes := []Route{{Pattern: "POST /v1/events", Access: AccessQueue, handle: s.record}}
	for _, q := range ask.Questions() {
		routes = append(routes, Route{Pattern: "GET " + q.Path, handle: s.question(q)})
	}
	return append(routes,
		Route{Pattern: "POST /v1/enrol", Access: AccessDoor, handle: s.enrolProgram},
		Route{Pattern: "GET /v1/live", handle: s.serveLive},
		Route{Pattern: "GET /v1/openapi.json", handle: s.openAPI},
		Route{Pattern: "GET /healthz", Access: AccessAll, handle: s.healthz},
		Route{Pattern: "GET /readyz", Access: AccessAll, handle: s.readyz},
	)
}

// pageRoutes lists what is served to browsers beside the API. Nothing else is registered there, so that a test can walk all.
func (s *Server) pageRoutes() []Route {
	routes := []Route{
		{Pattern: "GET /{$}", handle: s.boardShow},
		{Pattern: "GET /case/{name}", handle: s.caseShow},
		{Pattern: "GET /static/{file}", Access: AccessAll, handle: s.static},
		{Pattern: "GET " + pathSetUp, Access: AccessDoor, handle: s.setUpShow},
		{Pattern: "POST " + pathSetUp, Access: AccessDoor, handle: s.setUp},
		{Pattern: "GET " + pathSetUpDone, handle: s.setUpDone},
		{Pattern: "GET " + pathEnrol, Access: AccessDoor, handle: s.enrolShow},
		{Pattern: "POST " + pathEnrol, Access: AccessDoor, handle: s.enrol},
		{Pattern: "GET " + pathSignIn, Access: AccessDoor, handle: s.signInShow},
		{Pattern: "POST " + pathSignIn, Access: AccessDoor, handle: s.signIn},
		{Pattern: "POST " + pathSignOut, Access: AccessDoor, handle: s.signOut},
		{Pattern: "POST " + pathLight, Access: AccessAll, handle: s.light},
		{Pattern: "GET " + PathTrust, Access: AccessDoor, handle: s.trustShow},
		{Pattern: "GET " + PathTrust + "/{file}", Access: AccessAll, handle: s.trustFile},
		{Pattern: "/", handle: s.nothingHere},
	}
	if s.o.Local != nil {
		routes = append(routes, Route{Pattern: "GET " + pathStaff, handle: s.staffShow}, Route{Pattern: "POST " + pathStaff, handle: s.staffDo})
	}
	if s.o.Metrics != nil {
		routes = append(routes, Route{Pattern: "GET /metrics", handle: s.o.Metrics.ServeHTTP})
	}
	return routes
}

// AllRoutes lists every route of [Server.Pages], for tests that walk them all.
func (s *Server) AllRoutes() []Route { return slices.Concat(s.Routes(), s.pageRoutes()) }

// Pages is the handler for browsers and for programs on the network.
func (s *Server) Pages() http.Handler {
	mux := http.NewServeMux()
	if s.closed {
		s.addClosed(mux)
		return s.recovered(secured(s.allowedHost(mux)))
	}
	for _, r := range s.AllRoutes() {
		r.handle = s.takesIn(r)
		mux.HandleFunc(r.Pattern, s.guard(r))
	}
	return s.recovered(secured(s.allowedHost(s.ownPages(mux))))
}

// Socket is the handler for the Unix socket in the data folder, which only its owner can reach.
func (s *Server) Socket() http.Handler {
	mux := http.NewServeMux()
	if s.closed {
		s.addClosed(mux)
		return s.recovered(mux)
	}
	for _, r := range s.Routes() {
		mux.HandleFunc(r.Pattern, r.handle)
	}
	s.addLocal(mux)
	if s.o.Metrics != nil {
		mux.HandleFunc("GET /metrics", s.o.Metrics.ServeHTTP)
	}
	mux.HandleFunc("/", s.nothingHere)
	return s.recovered(owner(s.takesIn(Route{handle: mux.ServeHTTP})))
}

// answered are the methods of anything that is served; HEAD is answered wherever GET is.
var answered = []string{http.MethodGet, http.MethodHead, http.MethodPost}

// nothingHere answers what no route takes. It repeats nothing of the request.
func (s *Server) nothingHere(w http.ResponseWriter, r *http.Request) {
	if !slices.Contains(answered, r.Method) {
		w.Header().Set("Allow", strings.Join(answered, ", "))
		s.fail(w, &ask.Error{Kind: ask.Invalid, Code: "bad-method", Text: "only GET, HEAD and POST are answered here"}, http.StatusMethodNotAllowed)
		return
	}
	s.fail(w, &ask.Error{Kind: ask.NotFound, Code: "no-such-page", Text: "there is nothing here; /v1/openapi.json lists what there is"}, 0)
}
