package normalize

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"example.org/windrow/normalize/unit"
)

// GNU Units and the UCUM library of npm are asked for every linear unit of
// our table, for forms, atomic weights, lime materials and fixed factors.
// testdata/published/units-reference.csv keeps what they answered, with their
// versions; where they are installed they are asked again. "make needs"
// installs both; -update writes the answers down anew.

// A referenceTool answers what one amount is in another unit.
type referenceTool struct {
	name string // prefix of its columns
	ask  func(t *testing.T, questions [][2]string) (answers []float64, version string)
}

func gnuUnits(t *testing.T, questions [][2]string) ([]float64, string) {
	path, err := exec.LookPath("units")
	if err != nil {
		t.Skip("GNU Units is not installed; the recorded answers were compared. To ask it: make needs, or apt-get install units")
	}
	v, err := exec.Command(path, "--version").Output()
	if err != nil {
		t.Fatal(err)
	}
	version, _, _ := strings.Cut(string(v), "\n")
	var out []float64
	for _, q := range questions {
		b, err := exec.Command(path, "-o", "%.15g", "-t", q[0], q[1]).CombinedOutput()
		f, err2 := strconv.ParseFloat(strings.TrimSpace(string(b)), 64)
		if err != nil || err2 != nil {
			t.Fatalf("units %q %q: %s %v", q[0], q[1], b, err)
		}
		out = append(out, f)
	}
	return out, strings.TrimSpace(strings.Replace(version, "version ", "", 1))
}

const ucumScript = `const lib = process.argv[1];
const u = require(lib).UcumLhcUtils.getInstance();
const out = JSON.parse(require('fs').readFileSync(0)).map(q => { const r = u.convertUnitTo(q[0], 1, q[1]);
  if (r.status !== 'succeeded') { throw new Error(q.join(' -> ') + ': ' + r.msg); } return r.toVal; });
console.log(JSON.stringify({answers: out, version: require(lib + '/package.json').version}));`

func ucumLibrary(t *testing.T, questions [][2]string) ([]float64, string) {
	lib, err := filepath.Abs("../bin/node_modules/@lhncbc/ucum-lhc")
	if err != nil {
		t.Fatal(err)
	}
	node, err := exec.LookPath("node")
	if _, err2 := os.Stat(lib); err != nil || err2 != nil {
		t.Skip("node or its UCUM library is not installed; the recorded answers were compared. To ask it: make needs")
	}
	in, err := json.Marshal(questions)
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(node, "-e", ucumScript, lib)
	c.Stdin = bytes.NewReader(in)
	b, err := c.CombinedOutput()
	var got struct {
		Answers []float64
		Version string
	}
	if err != nil || json.Unmarshal(b, &got) != nil {
		t.Fatalf("%v: %s", err, b)
	}
	return got.Answers, "@lhncbc/ucum-lhc " + got.Version
}

func TestReferencePrograms(t *testing.T) {
	ids := map[string]bool{}
	for _, r := range publishedTable(t, "units-reference.csv") {
		ids[r["table"]+" "+r["row"]] = true
	}
	// Every row that is a factor is asked of at least one program, except the
	// lime index, which is no unit of theirs and has a published check.
	for _, u := range unit.Standard().Units {
		if !ids["units "+u.ID] && u.ID != "lime-index" {
			t.Errorf("unit %s is compared with no program", u.ID)
		}
	}
	for _, b := range unit.Standard().Bases {
		if !ids["bases "+b.ID] {
			t.Errorf("form %s is compared with no program", b.ID)
		}
	}
	for s := range unit.Standard().Weights {
		if !ids["weights "+s] {
			t.Errorf("atomic weight of %s is compared with no program", s)
		}
	}
	for _, m := range unit.Standard().Lime {
		if !ids["lime-materials "+m.ID] {
			t.Errorf("lime material %s is compared with no program", m.ID)
		}
	}
	t.Run("recorded", func(t *testing.T) { t.Logf("%d recorded rows", len(agree(t, recorded(t)))) })
	// The code that our records carry is the code that the library was asked.
	for _, r := range publishedTable(t, "units-reference.csv") {
		if r["table"] != "units" || r["ucum_from"] == "" {
			continue
		}
		if u, ok := unit.Standard().Unit(r["row"]); !ok || u.UCUM != r["ucum_from"] {
			t.Errorf("%s: the table gives another UCUM code than %q", r["row"], r["ucum_from"])
		}
	}
	for _, tool := range []referenceTool{{"gnu", gnuUnits}, {"ucum", ucumLibrary}} {
		t.Run(tool.name, func(t *testing.T) { live(t, tool) })
	}
}

// live asks a program again. Its answers must be the recorded ones where it is
// of the recorded version; of another version, it must agree with our tables.
func live(t *testing.T, tool referenceTool) {
	const name = "../testdata/published/units-reference.csv"
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	recs, err := csv.NewReader(bytes.NewReader(b)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	col := map[string]int{}
	for i, h := range recs[0] {
		col[h] = i
	}
	from, to, answer, by := col[tool.name+"_from"], col[tool.name+"_to"], col[tool.name+"_answer"], col[tool.name+"_tool"]
	var questions [][2]string
	var rows [][]string
	for _, r := range recs[1:] {
		if r[from] != "" {
			questions, rows = append(questions, [2]string{r[from], r[to]}), append(rows, r)
		}
	}
	got, version := tool.ask(t, questions)
	if len(got) != len(rows) {
		t.Fatalf("%d answers to %d questions", len(got), len(rows))
	}
	same := 0
	for i, r := range rows {
		if *update {
			r[answer], r[by] = strconv.FormatFloat(got[i], 'g', -1, 64), version
			continue
		}
		tol, err1 := strconv.ParseFloat(r[col["tolerance"]], 64)
		want, err2 := strconv.ParseFloat(r[answer], 64)
		if err1 != nil || err2 != nil {
			t.Fatalf("%s: %v %v", r[0], err1, err2)
		}
		if r[by] == version {
			tol = 1e-12
			same++
		}
		if math.Abs(got[i]-want) > tol*math.Abs(want) {
			t.Errorf("%s: %s answers %.15g, recorded is %.15g of %s", r[0], version, got[i], want, r[by])
		}
		if f, ok := ours(r[col["table"]], r[col["row"]])(unit.Standard()); !ok || math.Abs(f-got[i]) > tolerance(r[col["tolerance"]]+" rel", got[i]) {
			t.Errorf("%s: %s answers %.15g, ours is %.15g", r[0], version, got[i], f)
		}
	}
	t.Logf("%s: %d questions asked again, %d of the recorded version", version, len(rows), same)
	if !*update {
		return
	}
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	if err := w.WriteAll(recs); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(name, out.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
}
