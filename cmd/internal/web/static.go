package web

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"net/http"
	"path"
)

//go:embed static/*
var staticFiles embed.FS

// The style sheet and the script have their content in their address, so that a browser may keep them for ever.
var (
	styleURL = staticURL("pottrail.css")
	liveURL  = staticURL("live.js")
	linkURL  = staticURL("link.js")
	trustURL = staticURL("trust.js")
)

var staticTypes = map[string]string{".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml"}

func staticURL(name string) string {
	data, err := staticFiles.ReadFile("static/" + name)
	if err != nil {
		return "/static/" + name // the tests read every file
	}
	sum := sha256.Sum256(data)
	return "/static/" + name + "?" + hex.EncodeToString(sum[:6])
}

func (s *Server) static(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("file")
	data, err := staticFiles.ReadFile("static/" + name)
	if err != nil {
		s.nothingHere(w, r)
		return
	}
	w.Header().Set("Content-Type", staticTypes[path.Ext(name)])
	w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	_, _ = w.Write(data)
}
