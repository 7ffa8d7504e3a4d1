package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// TestUsualTimesOfLaboratories works two laboratories' reports off and computes
// how long they took once more, from the plain results table and by sorting
// and counting alone.
func TestUsualTimesOfLaboratories(t *testing.T) {
	dir := registerOffice(t)
	labs := []string{"../../testdata/labs/marrow-brook-land-water-testing", "../../testdata/labs/verrin-analytical"}
	for i, l := range labs {
		abs, err := filepath.Abs(l)
		if err != nil {
			t.Fatal(err)
		}
		labs[i] = abs
	}
	_ = program(t, append([]string{"run", "--quiet", "--office", dir}, labs...)...).Run() // some of their reports are held
	write(t, filepath.Join(dir, "register.csv"), "label,client,date sent,lab\nRose bed,Hester Quince,2026-04-11,Marrow Brook\nBed 3,Hester Quince,2026-04-20,Verrin\n")
	raw, _ := program(t, "waiting", "--json", "--on", "2026-04-22", "--office", dir).Output() // something is overdue
	var got struct {
		Usual []struct {
			Lab            struct{ Name string }
			Month, Reports int
			Median         int `json:"median_days"`
			P90            int `json:"p90_days"`
		}
		Waiting []struct {
			Sample  struct{ Label string }
			Days    int
			Overdue bool
		}
	}
	if err := json.Unmarshal(raw, &got); err != nil {
		t.Fatalf("%v\n%s", err, raw)
	}
	var lines []string
	for _, u := range got.Usual {
		lines = append(lines, fmt.Sprintf("%s %d: %d reports, %d, %d", u.Lab.Name, u.Month, u.Reports, u.Median, u.P90))
	}

	table, _ := program(t, append([]string{"show", "results", "--quiet"}, labs...)...).Output() // some are held
	rows, err := csv.NewReader(strings.NewReader(string(table))).ReadAll()
	if err != nil || len(rows) < 1000 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	col := func(row []string, name string) string { return row[slices.Index(rows[0], name)] }
	seen := map[string]bool{}
	days := map[string][]float64{}
	for _, r := range rows[1:] {
		key := col(r, "sha256") + col(r, "date_received") + col(r, "date_reported")
		a, err1 := time.Parse(time.DateOnly, col(r, "date_received"))
		b, err2 := time.Parse(time.DateOnly, col(r, "date_reported"))
		if seen[key] || err1 != nil || err2 != nil {
			continue
		}
		seen[key] = true
		for _, m := range []int{0, int(a.Month())} {
			k := fmt.Sprintf("%s %d", col(r, "lab"), m)
			days[k] = append(days[k], b.Sub(a).Hours()/24)
		}
	}
	var want []string
	for k, l := range days {
		slices.Sort(l)
		at := func(part float64) int { return int(l[int(math.Ceil(part*float64(len(l))))-1]) }
		want = append(want, fmt.Sprintf("%s: %d reports, %d, %d", k, len(l), at(0.5), at(0.9)))
	}
	slices.Sort(lines)
	slices.Sort(want)
	if !slices.Equal(lines, want) || len(want) < 8 {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(lines, "\n"), strings.Join(want, "\n"))
	}
	if w := got.Waiting; len(w) != 2 || w[0].Sample.Label != "Rose bed" || w[0].Days != 11 || !w[0].Overdue || w[1].Days != 2 || w[1].Overdue {
		t.Errorf("%+v", w)
	}
}
