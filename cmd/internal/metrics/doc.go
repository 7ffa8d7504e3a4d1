// Package metrics counts what the program does, for Prometheus. It is a leaf
// of cmd: it knows no stage, only words that its owner hands in.
//
// Enters: events (a report done, a hold, the time a stage took), and the sets
// of words that may become labels.
// Leaves: metrics in an injected registry, and the pages /metrics, /healthz,
// /readyz and /livez on an address of this computer, or on one that others may
// reach where the operator sets one.
//
// Never: a name of a client, a file or a place, nor anything else that is not
// in a set given at the start, becomes a label; what is unknown is counted as
// "other", so that no report can make the number of series grow. Nothing is
// kept in globals.
package metrics
