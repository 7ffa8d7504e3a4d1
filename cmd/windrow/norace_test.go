//go:build !race

package main

// underRace: these tests run without the race detector.
const underRace = false
