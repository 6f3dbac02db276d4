package web

// StaticFiles are the files under /static.
var StaticFiles = staticFiles
