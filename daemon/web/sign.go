package web

import (
	"net/http"

	"conditiond/alerts"
)

type signData struct {
	frame
	Sign, Household []string
}

// signPage is for the door: it needs no numbers, no lot and no script.
func (s *Server) signPage(w http.ResponseWriter, r *http.Request) {
	f := frame{Title: "Keep out · conditiond", Site: s.config.Site, Assets: assets, Guarded: !s.auth.open(), Version: s.daemon.Health().Version}
	s.render(w, http.StatusOK, "sign.html", signData{f, alerts.Sign(), alerts.Household()})
}
