// Package web is the workbench: pages for people who would rather look than
// type, served from the office's own process to this computer alone.
//
// Enters: an open office, and what a browser asks. Leaves: pages made of what
// the archive and its index hold, the pictures of reports with a mark on each
// number, and, where a person decided, a ruling that the conductor carries out.
// Never: it reads, converts, judges or advises nothing itself; it changes no
// reading; it answers no other computer and no page of another site; it writes
// no name of a client, label or file into a log; it takes no name from a report
// or a browser for a path.
//
// Everything that is shown of a report is hostile until html/template has
// escaped it. Nothing on a page is fetched from elsewhere, no script stands in
// a page, and pages work without the one script there is.
package web
