package web

import (
	_ "embed"
	"net/http"
)

// openapiDocument describes the API; a test holds it against the routes and
// every answer that the tests get.
//
//go:embed openapi.json
var openapiDocument []byte

func (s *Server) openapi(w http.ResponseWriter, r *http.Request) {
	s.answerTagged(w, r, openapiDocument)
}
