//go:build race

package main

// underRace: these tests run with the race detector, which makes a program
// many times slower.
const underRace = true
