// Package duckdb reads with DuckDB what the program writes as datasets, in
// place, as a researcher would, and holds counts and sums against the archive
// that they were made of. It is a module of its own, so that DuckDB, which is
// large and needs a C compiler, is no dependency of the program.
//
// Enters: the program, built from the repository, and the demonstration office
// that it makes. Leaves: nothing but what a test says. Never: it reaches beyond
// this computer, or takes a number from the program where the archive has it.
package duckdb

import (
	"database/sql"
	"encoding/json"
	"fmt"
	"io/fs"
	"maps"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	_ "github.com/duckdb/duckdb-go/v2" // the driver duckdb
)

// top is the repository, from this folder.
const top = "../../.."

// The office of the demonstration, and the datasets that were made of it:
// everything as it is, and with the groups that a dataset has by default.
var office, whole, parts, safe, safeParts string

// anybody is a decision that nobody in the demonstration is real.
var anybody = []string{"--min-group", "1", "--decided-by", "a test", "--because", "nobody in it is real"}

func TestMain(m *testing.M) {
	dir, err := os.MkdirTemp("", "windrow-duckdb-*")
	if err != nil {
		panic(err)
	}
	code := 1
	if err := prepare(dir); err != nil {
		_, _ = os.Stderr.WriteString(err.Error() + "\n")
	} else {
		code = m.Run()
	}
	_ = os.RemoveAll(dir) // in a folder for temporary files
	os.Exit(code)
}

func prepare(dir string) error {
	program := filepath.Join(dir, "windrow")
	run := func(in, name string, args ...string) error {
		cmd := exec.Command(name, args...)
		cmd.Dir = in
		if name == "go" {
			cmd.Env = append(os.Environ(), "CGO_ENABLED=0")
		}
		b, err := cmd.CombinedOutput()
		if err != nil {
			return fmt.Errorf("%s %s: %w\n%s", filepath.Base(name), strings.Join(args, " "), err, b)
		}
		return nil
	}
	office = filepath.Join(dir, "office")
	whole, parts, safe, safeParts = filepath.Join(dir, "whole"), filepath.Join(dir, "parts"), filepath.Join(dir, "safe"), filepath.Join(dir, "safe-parts")
	for _, step := range [][]string{
		{top, "go", "build", "-trimpath", "-o", program, "./cmd/windrow"},
		{dir, program, "demo", "--dir", office},
		append([]string{office, program, "dataset", "--out", whole}, anybody...),
		append([]string{office, program, "dataset", "parts", parts, "--csv"}, anybody...),
		{office, program, "dataset", "--out", safe},
		{office, program, "dataset", "parts", safeParts, "--csv"},
	} {
		if err := run(step[0], step[1], step[2:]...); err != nil {
			return err
		}
	}
	return nil
}

// A tally is how many results there are of a test, how many of them have a
// value, and the sum of the values.
type tally struct {
	rows, values int
	sum          float64
}

func (x tally) like(y tally) bool {
	return x.rows == y.rows && x.values == y.values && math.Abs(x.sum-y.sum) <= 1e-9*math.Max(math.Abs(x.sum), 1)
}

// archived reads the reports of the archive, as its FORMAT.md says how: the
// last version of each. What is held counts for nothing, nor does a result that
// its report states once more.
func archived(t *testing.T) map[string]tally {
	t.Helper()
	last := map[string]string{}
	version := regexp.MustCompile(`^([0-9]+)\.json$`)
	at := map[string]int{}
	err := filepath.WalkDir(filepath.Join(office, "archive", "reports"), func(path string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		m := version.FindStringSubmatch(e.Name())
		if m == nil {
			return nil
		}
		n, err := strconv.Atoi(m[1])
		if id := filepath.Dir(path); n > at[id] {
			at[id], last[id] = n, path
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]tally{}
	used := func(status string) bool { return status == "ok" || status == "flagged" }
	for _, path := range last {
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		var rep struct {
			Status  string
			Records []struct {
				Status  string
				Results []struct {
					Status, Analyte, Method, Unit, Value string
					Restates                             bool
				}
			}
		}
		if err := json.Unmarshal(b, &rep); err != nil {
			t.Fatal(err)
		}
		for _, rec := range rep.Records {
			if !used(rep.Status) || !used(rec.Status) {
				continue
			}
			for _, res := range rec.Results {
				if !used(res.Status) || res.Restates {
					continue
				}
				k := res.Analyte + "|" + res.Method + "|" + res.Unit
				x := out[k]
				x.rows++
				if res.Value != "" {
					v, err := strconv.ParseFloat(res.Value, 64)
					if err != nil {
						t.Fatal(err)
					}
					x.values++
					x.sum += v
				}
				out[k] = x
			}
		}
	}
	if len(out) < 30 {
		t.Fatalf("the archive has %d tests", len(out))
	}
	return out
}

func open(t *testing.T) *sql.DB {
	t.Helper()
	db, err := sql.Open("duckdb", "")
	if err != nil {
		t.Fatal(err)
	}
	db.SetMaxOpenConns(1) // variables are of a connection
	t.Cleanup(func() { _ = db.Close() })
	return db
}

// measured counts and adds up what a relation has of results.
func measured(t *testing.T, db *sql.DB, from string) map[string]tally {
	t.Helper()
	rows, err := db.Query(`SELECT concat_ws('|', analyte, coalesce(method, ''), coalesce(unit, '')), count(*), count(value), coalesce(sum(value), 0) FROM ` + from + ` GROUP BY ALL`)
	if err != nil {
		t.Fatalf("%s: %v", from, err)
	}
	defer rows.Close()
	out := map[string]tally{}
	for rows.Next() {
		var k string
		var x tally
		if err := rows.Scan(&k, &x.rows, &x.values, &x.sum); err != nil {
			t.Fatal(err)
		}
		out[k] = x
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return out
}

func one(t *testing.T, db *sql.DB, query string) string {
	t.Helper()
	var s sql.NullString
	if err := db.QueryRow(query).Scan(&s); err != nil {
		t.Fatalf("%s: %v", query, err)
	}
	return s.String
}

// parquet and csv are the two ways to read the files of a pattern.
func parquet(glob string) string {
	return "read_parquet('" + glob + "', hive_partitioning = true, hive_types_autocast = false)"
}

func csv(glob string) string {
	return "read_csv('" + glob + "', header = true, nullstr = '', hive_partitioning = true, hive_types_autocast = false, sample_size = -1, types = {'value': 'DOUBLE'})"
}

// byManifest makes the statement of PARTS.md that takes the names of the files
// from the manifest, and the relation to read them with.
func byManifest(t *testing.T, db *sql.DB, dir, table string) string {
	t.Helper()
	page, err := os.ReadFile("../PARTS.md")
	if err != nil {
		t.Fatal(err)
	}
	from := strings.Index(string(page), "SET VARIABLE files")
	to := strings.Index(string(page), "SELECT count(*) FROM read_parquet(getvariable('files')")
	if from < 0 || to < from {
		t.Fatal("PARTS.md has no statement that takes the files from the manifest")
	}
	s := strings.ReplaceAll(strings.ReplaceAll(string(page)[from:to], "TO/", dir+"/"), "= 'results'", "= '"+table+"'")
	if _, err := db.Exec(s); err != nil {
		t.Fatalf("%s: %v", s, err)
	}
	return "read_parquet(getvariable('files'), hive_partitioning = true, hive_types_autocast = false)"
}

// Every form of the results that were made without disclosure control has, of
// each test, as many rows and the same sum as the archive.
func TestSumsOfTheArchive(t *testing.T) {
	db, want := open(t), archived(t)
	for name, from := range map[string]string{
		"results.parquet":          "read_parquet('" + whole + "/results.parquet')",
		"results.csv":              csv(whole + "/results.csv"),
		"parts, Parquet":           parquet(parts + "/parquet/results/**/*.parquet"),
		"parts, CSV":               csv(parts + "/csv/results/**/*.csv"),
		"parts, Parquet, by names": byManifest(t, db, parts, "results"),
	} {
		got := measured(t, db, from)
		for _, k := range slices.Sorted(maps.Keys(want)) {
			if !want[k].like(got[k]) {
				t.Errorf("%s: %s is %+v, in the archive %+v", name, k, got[k], want[k])
			}
		}
		if len(got) != len(want) {
			t.Errorf("%s has %d tests, the archive %d", name, len(got), len(want))
		}
	}
}

// With disclosure control both forms of both datasets, of all tables, agree in
// rows and sums, and nothing that is left is more than the archive has.
func TestFormsAgree(t *testing.T) {
	db, archive := open(t), archived(t)
	for _, dir := range []string{whole, safe} {
		for _, table := range []string{"results", "estimates", "derived", "wide"} {
			n := one(t, db, "SELECT count(*) FROM read_parquet('"+dir+"/"+table+".parquet')")
			if m := one(t, db, "SELECT count(*) FROM read_csv('"+dir+"/"+table+".csv', header = true, all_varchar = true)"); m != n {
				t.Errorf("%s: %s rows as Parquet, %s as CSV", table, n, m)
			}
			if n == "0" && dir == whole {
				t.Errorf("%s is empty", table)
			}
		}
	}
	for name, dir := range map[string]string{"parts": parts, "safe": safeParts} {
		for _, table := range []string{"results", "estimates", "derived"} {
			glob := one(t, db, "SELECT count(*) FROM "+parquet(dir+"/parquet/"+table+"/**/*.parquet"))
			names := one(t, db, "SELECT count(*) FROM "+byManifest(t, db, dir, table))
			text := one(t, db, "SELECT count(*) FROM read_csv('"+dir+"/csv/"+table+"/**/*.csv', header = true, all_varchar = true, hive_partitioning = true)")
			if glob != names || glob != text || glob == "0" {
				t.Errorf("%s, %s: %s rows by pattern, %s by manifest, %s as CSV", name, table, glob, names, text)
			}
		}
		a, b := measured(t, db, parquet(dir+"/parquet/results/**/*.parquet")), measured(t, db, csv(dir+"/csv/results/**/*.csv"))
		for k, x := range a {
			if !x.like(b[k]) {
				t.Errorf("%s: %s is %+v as Parquet, %+v as CSV", name, k, x, b[k])
			}
			if x.rows > archive[k].rows {
				t.Errorf("%s: %d rows of %s, in the archive %d", name, x.rows, k, archive[k].rows)
			}
		}
		if len(a) == 0 || len(a) != len(b) {
			t.Errorf("%s: %d tests as Parquet, %d as CSV", name, len(a), len(b))
		}
	}
}

// A partition is read alone, by what the folder tells; the folders agree with
// the column of the whole dataset; and numbers are numbers.
func TestPartitions(t *testing.T) {
	db := open(t)
	from := parquet(parts + "/parquet/results/**/*.parquet")
	for _, county := range strings.Split(one(t, db, "SELECT string_agg(DISTINCT county, ',') FROM "+from), ",") {
		n := one(t, db, "SELECT count(*) FROM "+from+" WHERE county = '"+county+"' AND state = 'CX'")
		if m := one(t, db, "SELECT count(*) FROM read_parquet('"+whole+"/results.parquet') WHERE county = '"+county+"'"); n != m || n == "0" {
			t.Errorf("%s: %s rows in parts, %s in the whole", county, n, m)
		}
	}
	if got := one(t, db, "SELECT string_agg(DISTINCT year, ',' ORDER BY year) FROM "+from); !strings.HasPrefix(got, "20") {
		t.Errorf("years %q", got)
	}
	if got := one(t, db, "SELECT string_agg(DISTINCT column_type, ',' ORDER BY column_type) FROM (DESCRIBE SELECT value, printed_number, depth_in FROM "+from+")"); got != "DOUBLE" {
		t.Errorf("numbers are %s", got)
	}
	if got := one(t, db, "SELECT count(*) FROM parquet_kv_metadata('"+parts+"/parquet/results/**/*.parquet') WHERE decode(key) = 'columns' AND decode(value) LIKE '%hexadecimal%'"); got == "0" {
		t.Error("no file says what its columns are")
	}
}

// The first statement of PARTS.md runs as it stands there.
func TestPage(t *testing.T) {
	db := open(t)
	page, err := os.ReadFile("../PARTS.md")
	if err != nil {
		t.Fatal(err)
	}
	from, to := strings.Index(string(page), "    SELECT analyte"), strings.Index(string(page), "GROUP BY ALL;")
	if from < 0 || to < from {
		t.Fatal("PARTS.md has no first statement")
	}
	rows, err := db.Query(strings.ReplaceAll(string(page)[from:to]+"GROUP BY ALL", "'TO/", "'"+parts+"/"))
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	n := 0
	for rows.Next() {
		n++
	}
	if rows.Err() != nil || n == 0 {
		t.Errorf("%d tests, %v", n, rows.Err())
	}
}
