// Package web serves the page and the API. It is the only one that listens
// for HTTP. It shows what a Daemon says and hands back what people do; it keeps
// nothing of its own but who is logged in.
//
// Start with Server.routes, the table of all that is served. Requests pass
// guard (headers, limits, whose page may write) and auth (who may see).
package web
