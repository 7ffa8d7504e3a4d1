//go:build race

package web_test

// underRace says that the race detector slows everything down.
const underRace = true
