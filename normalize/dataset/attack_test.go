package dataset_test

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/dataset"
)

// The tests of this file are the attacks of somebody who knows clients: each
// plays an intruder with a dataset and with what he knows, and counts how many
// clients he finds. Each is also run against the same archive written without
// disclosure control, or in a way that is known to be weak, where it must find
// some: else it would prove nothing. They use nothing of the package but what
// a reader of the files has.

// A target is a client's sample as the office's archive has it, which the
// intruder knows all of, but for the code.
type target struct {
	client, county, use, month, depth, lab string
	tests                                  map[string]bool   // analyte, detail and method
	values                                 map[string]string // by test
	sampleNo, reportNo                     string
	code                                   string // for counting alone
}

func codeOf(lab, report, sample string) string {
	m := hmac.New(sha256.New, key)
	for _, p := range []string{"sample", lab, report, sample} {
		fmt.Fprintf(m, "%d:%s", len(p), p)
	}
	return hex.EncodeToString(m.Sum(nil))[:20]
}

// labs of the invented county: each has methods, units in print, a depth and
// limits of its own, and some tests that it seldom makes.
var inventedLabs = []struct {
	id, extract, unit, depth, limit string
	always, rare                    []string
}{
	{"verrin", "mehlich-3-icp", "ppm", "6", "0.5", []string{"P", "K", "Ca", "Mg", "Zn"}, []string{"Pb", "Mo"}},
	{"marrow-brook", "mehlich-1-icp", "lb/A", "6.67", "0.25", []string{"P", "K", "Ca", "Mg"}, []string{"Na"}},
	{"thrushgate", "mehlich-3-icp", "mg/kg", "5.91", "0.75", []string{"P", "K", "Ca", "Mg", "Zn", "Pb"}, []string{"Cd"}},
}

// an archive of invented clients, most of them of one or two samples, some of
// many; with a client of each rare kind.
func inventedArchive(clients int) (reports []*normalize.Report, targets []target) {
	r := rand.New(rand.NewPCG(7, 7))
	counties, uses := []string{"Alderbrook", "Finch", "Quarry", "Tamarack", "Vesper", "Wren"}, []string{"lawn", "vegetable garden", "raised bed", "soybean", "hay", "flower bed"}
	number := 0
	for c := range clients {
		lab := inventedLabs[min(2, r.IntN(7)/3)]
		county, client := counties[r.IntN(1+r.IntN(6))], fmt.Sprintf("Client %c%c%c", 'A'+c/26%26, 'a'+c%26, 'a'+c/676)
		month := fmt.Sprintf("2026-%02d", 1+r.IntN(1+r.IntN(12)))
		rep := &normalize.Report{Schema: normalize.SchemaVersion, ID: fmt.Sprintf("R%016x", uint64(c+1)*0x9e3779b97f4a7c15), Status: normalize.OK, Lab: normalize.Lab{ID: lab.id}, Number: fmt.Sprintf("N-%04d", c),
			Mapping: normalize.MappingRef{ID: lab.id, Layout: "table", SHA256: lab.id}, Version: "1.0", Tables: "t"}
		if c%29 == 0 {
			rep.Reasons = []*ingest.Reason{{Code: fmt.Sprint("odd-", c), Severity: ingest.Flag}}
		}
		samples := 1 + r.IntN(2)
		if c%10 == 0 {
			samples = 6 + r.IntN(6)
		}
		for range samples {
			number++
			use := uses[r.IntN(1+r.IntN(6))]
			depth := lab.depth
			if r.IntN(40) == 0 {
				depth = "4"
			}
			rec := &normalize.Record{ID: fmt.Sprintf("%s-%d", rep.ID, len(rep.Records)+1), Status: normalize.OK, Client: &normalize.Client{Name: client},
				Sample: normalize.Sample{LabID: fmt.Sprintf("S-%05d", number), County: county, LandUse: use, Sampled: month + "-15", DepthIn: normalize.Decimal(depth)}}
			to := target{client: client, county: county, use: use, month: month, depth: depth, lab: lab.id, tests: map[string]bool{}, values: map[string]string{}, sampleNo: rec.Sample.LabID, reportNo: rep.Number, code: codeOf(lab.id, rep.Number, rec.Sample.LabID)}
			tests := slices.Clone(lab.always)
			for _, t := range lab.rare {
				if r.IntN(25) == 0 {
					tests = append(tests, t)
				}
			}
			for _, t := range tests {
				v := fmt.Sprintf("%d.%02d", 5+r.IntN(300), r.IntN(100))
				res := &normalize.Result{Analyte: t, Method: lab.extract, MethodName: "an extract", Status: normalize.OK, Value: normalize.Decimal(v), Unit: "mg/kg", UCUM: "mg/kg",
					Printed: normalize.Printed{Text: v, Number: normalize.Decimal(v), Unit: lab.unit}, Forms: normalize.Forms{LbAc: &normalize.AreaForm{Value: "1", DepthIn: normalize.Decimal(depth), SoilLb: normalize.Decimal(depth + "00000"), Source: "mapping"}}}
				if lab.unit == "lb/A" {
					res.Steps = []normalize.Step{{Rule: "unit/lb-acre-to-mg-kg", Source: "key-a", Exact: true}}
				}
				if r.IntN(12) == 0 {
					res.Value, res.Censored = normalize.Decimal(lab.limit), "<"
				}
				rec.Results = append(rec.Results, res)
				name := t + "|" + lab.extract
				to.tests[name], to.values[name] = true, res.Censored+string(res.Value)
			}
			rep.Records, targets = append(rep.Records, rec), append(targets, to)
		}
		reports = append(reports, rep)
	}
	return reports, targets
}

// A known is a sample as the reader of a dataset sees it.
type known struct {
	code, county, use, period, depth, lab string
	tests                                 map[string]bool
	values                                map[string]string
	rows                                  []map[string]string
}

func seen(t *testing.T, files map[string]string) []*known {
	t.Helper()
	var out []*known
	by := map[string]*known{}
	for _, r := range table(t, files["results.csv"]) {
		k := by[r["sample"]]
		if k == nil {
			k = &known{code: r["sample"], county: r["county"], use: r["land_use"], period: r["period"], depth: r["depth_in"], lab: r["lab"], tests: map[string]bool{}, values: map[string]string{}}
			by[k.code], out = k, append(out, k)
		}
		name := r["analyte"] + "|" + r["method"]
		k.tests[name], k.values[name] = true, r["censored"]+r["value"]
		k.rows = append(k.rows, r)
	}
	return out
}

var gardens = map[string]string{"lawn": "lawn and ornamental (class)", "flower bed": "lawn and ornamental (class)", "vegetable garden": "food garden (class)", "raised bed": "food garden (class)", "soybean": "field crop (class)", "hay": "forage (class)"}

func quarterOf(month string) string {
	return month[:4] + "-Q" + string("1112223334445"[(int(month[5]-'0')*10+int(month[6]-'0'))-1])
}

// fits says whether a sample of the dataset may be the target's, by all that a
// neighbour knows, and by which tests were made.
func (k *known) fits(to *target) bool {
	is := func(shown string, may ...string) bool {
		return shown == dataset.Suppressed || slices.Contains(may, shown)
	}
	if !is(k.county, to.county) || !is(k.use, to.use, gardens[to.use]) || !is(k.period, to.month, quarterOf(to.month), to.month[:4]) || !is(k.depth, to.depth) || !is(k.lab, to.lab) {
		return false
	}
	for name := range k.tests {
		if !to.tests[name] {
			return false
		}
	}
	return true
}

// linkByKnowledge counts the targets for whom what fits is of fewer clients
// than k, and the fewest.
func linkByKnowledge(ks []*known, targets []target, k int) (found, fewest int) {
	owner := map[string]string{}
	for _, to := range targets {
		owner[to.code] = to.client
	}
	fewest = len(targets)
	for i := range targets {
		clients := map[string]bool{}
		for _, s := range ks {
			if s.fits(&targets[i]) {
				clients[owner[s.code]] = true
			}
		}
		if n := len(clients); n > 0 {
			fewest = min(fewest, n)
			if n < k {
				found++
			}
		}
	}
	return found, fewest
}

func attacked(t *testing.T, opt dataset.Options) (map[string]string, dataset.Summary, []target) {
	t.Helper()
	reports, targets := inventedArchive(160)
	files, sum := write(t, opt, reports...)
	return files, sum, targets
}

// Nobody is found by what a neighbour may know: county, use, date, depth,
// laboratory, and which tests were made.
func TestAttackByKnowledge(t *testing.T) {
	for _, k := range []int{5, 10} {
		files, sum, targets := attacked(t, dataset.Options{MinGroup: k})
		found, fewest := linkByKnowledge(seen(t, files), targets, k)
		t.Logf("k %d: %d of %d samples out, loss %s %%, %d results cut; fewest clients that fit anybody: %d", k, sum.Samples, len(targets), sum.Disclosure.Loss, sum.Disclosure.ResultsCut, fewest)
		if found > 0 || fewest < k {
			t.Errorf("k %d: %d samples found among fewer than %d clients (%d)", k, found, k, fewest)
		}
		if sum.Samples < len(targets)*9/10 {
			t.Errorf("k %d: only %d of %d samples are left: that nobody is found proves little", k, sum.Samples, len(targets))
		}
	}
	files, _, targets := attacked(t, dataset.Options{})
	if found, fewest := linkByKnowledge(seen(t, files), targets, 5); found < len(targets)/4 || fewest != 1 {
		t.Errorf("without control only %d of %d are found, fewest %d: the attack is no attack", found, len(targets), fewest)
	}
}

// Nobody is found by a combination of fewer things either: every value of
// every column that is no measured number, and every pair of them, is of k
// clients or of none. That is how the rare details are looked for: an odd
// depth, the soil's weight, a limit of detection, a unit, a finding.
func TestAttackByRareDetails(t *testing.T) {
	files, _, targets := attacked(t, dataset.Options{MinGroup: 5})
	if rare := rareDetails(seen(t, files), targets, 5); len(rare) > 0 {
		t.Errorf("%d details of too few clients: %q", len(rare), rare[:min(5, len(rare))])
	}
	files, _, targets = attacked(t, dataset.Options{})
	rare := rareDetails(seen(t, files), targets, 5)
	for _, must := range []string{"depth_in=4", "findings=odd-", "county=", "lb_per_acre_soil_lb=400000", "analyte=Mo"} {
		if !slices.ContainsFunc(rare, func(s string) bool { return strings.Contains(s, must) }) {
			t.Errorf("without control %q is not found to be rare", must)
		}
	}
}

// measuredColumns follow from the sample's own numbers; the code stands for
// the sample alone.
var measuredColumns = []string{"sample", "value", "printed_text", "printed_number", "lb_per_acre"}

func rareDetails(ks []*known, targets []target, k int) (rare []string) {
	owner := map[string]string{}
	for _, to := range targets {
		owner[to.code] = to.client
	}
	clients := map[string]map[string]bool{}
	for _, s := range ks {
		details := map[string]bool{}
		for _, r := range s.rows {
			for c, v := range r {
				if !slices.Contains(measuredColumns, c) {
					details[c+"="+v] = true
				} else if c == "value" && r["censored"] != "" && r["withheld"] != "" {
					// A limit is the laboratory's, not the sample's. Where the
					// laboratory is named, it tells no more than the name.
					details["limit "+r["analyte"]+"="+v] = true
				}
			}
		}
		list := slices.Sorted(maps.Keys(details))
		for i, a := range list {
			for _, b := range list[:i+1] {
				if clients[a+" "+b] == nil {
					clients[a+" "+b] = map[string]bool{}
				}
				clients[a+" "+b][owner[s.code]] = true
			}
		}
	}
	for d, c := range clients {
		if len(c) < k && !strings.Contains(d, "censored=<") && !strings.Contains(d, "limit ") {
			rare = append(rare, d)
		}
	}
	slices.Sort(rare)
	return rare
}

// Who knows a value of a sample to the last digit finds its line: values are
// what a dataset is for. But the line leads no further. Nothing that it shows
// is shared with the client's other samples and not with four other clients',
// and it tells of place, date and use no more than was generalised.
func TestAttackByValuesLeadsNoFurther(t *testing.T) {
	files, _, targets := attacked(t, dataset.Options{MinGroup: 5})
	lines, reached := reachByValues(seen(t, files), targets, 5)
	if lines == 0 || reached > 0 {
		t.Errorf("of %d lines found by their values %d lead to the client's other samples", lines, reached)
	}
	files, _, targets = attacked(t, dataset.Options{})
	if lines, reached := reachByValues(seen(t, files), targets, 5); lines == 0 || reached < lines/4 {
		t.Errorf("without control only %d of %d lines lead further: the attack is no attack", reached, lines)
	}
}

// reachByValues counts the samples that a known value leads to, and those of
// them from which the intruder reaches another sample of the client: where the
// samples that look alike are of fewer than k clients, and one of them is his.
func reachByValues(ks []*known, targets []target, k int) (lines, reached int) {
	owner := map[string]string{}
	byValue := map[string][]*known{}
	alike := map[string][]*known{}
	looks := func(s *known) string {
		return fmt.Sprintln(s.county, s.use, s.period, s.depth, s.lab, slices.Sorted(maps.Keys(s.tests)))
	}
	for _, s := range ks {
		for name, v := range s.values {
			byValue[name+"="+v] = append(byValue[name+"="+v], s)
		}
		alike[looks(s)] = append(alike[looks(s)], s)
	}
	for _, to := range targets {
		owner[to.code] = to.client
	}
	for _, to := range targets {
		var line *known
		for name, v := range to.values {
			if list := byValue[name+"="+v]; len(list) == 1 {
				line = list[0]
			}
		}
		if line == nil {
			continue
		}
		lines++
		clients, others := map[string]bool{}, 0
		for _, s := range alike[looks(line)] {
			clients[owner[s.code]] = true
			if s != line && owner[s.code] == to.client {
				others++
			}
		}
		if len(clients) < k && others > 0 {
			reached++
		}
	}
	return lines, reached
}

// The order of the lines tells nothing of the order in the archive, in the
// laboratory or in the county.
func TestAttackByOrder(t *testing.T) {
	files, _, targets := attacked(t, dataset.Options{MinGroup: 5})
	at := map[string]int{}
	for _, to := range targets {
		at[to.code] = len(at)
	}
	var order, sorted []int
	for _, s := range seen(t, files) {
		order = append(order, at[s.code])
	}
	sorted = slices.Sorted(slices.Values(order))
	// The share of neighbours that stand next to each other in both; with no
	// order in it about two of all pairs do (each has two neighbours of n).
	if n := neighbours(order); n > 10 {
		t.Errorf("%d of %d pairs of lines are pairs of the archive", n, len(order)-1)
	}
	if n := neighbours(sorted); n < len(sorted)*9/10 {
		t.Errorf("in the archive's own order only %d of %d pairs are found: the attack is no attack", n, len(sorted)-1)
	}
}

func neighbours(order []int) (n int) {
	for i := 1; i < len(order); i++ {
		if d := order[i] - order[i-1]; d == 1 || d == -1 {
			n++
		}
	}
	return n
}

// The codes can't be made by guessing numbers without the key, whatever plain
// hash is tried, and none is a number of a sample.
func TestAttackByCodes(t *testing.T) {
	files, _, targets := attacked(t, dataset.Options{MinGroup: 5})
	var codes []string
	for _, s := range seen(t, files) {
		codes = append(codes, s.code)
	}
	if n := guessed(codes, targets); n > 0 {
		t.Errorf("%d codes are guessed", n)
	}
	// The weak way: a hash of the sample's number without a key.
	var weak []string
	for _, to := range targets {
		h := sha256.Sum256([]byte(to.sampleNo))
		weak = append(weak, hex.EncodeToString(h[:])[:20])
	}
	if n := guessed(weak, targets); n != len(targets) {
		t.Errorf("only %d of %d weak codes are guessed: the attack is no attack", n, len(targets))
	}
	// With another key every sample has another code.
	other, _, _ := attacked(t, dataset.Options{MinGroup: 5, Key: []byte("another key of the same length..")})
	for _, s := range seen(t, other) {
		if slices.Contains(codes, s.code) {
			t.Fatalf("%s is in the datasets of two keys", s.code)
		}
	}
}

func guessed(codes []string, targets []target) (n int) {
	have := map[string]bool{}
	for _, c := range codes {
		have[c] = true
	}
	for _, to := range targets {
		hit := have[to.sampleNo]
		for _, guess := range []string{to.sampleNo, to.reportNo + to.sampleNo, to.lab + to.reportNo + to.sampleNo, to.client + to.sampleNo, "6:sample" + to.sampleNo} {
			h := sha256.Sum256([]byte(guess))
			m := hmac.New(sha256.New, nil)
			m.Write([]byte(guess))
			hit = hit || have[hex.EncodeToString(h[:])[:20]] || have[hex.EncodeToString(m.Sum(nil))[:20]]
		}
		if hit {
			n++
		}
	}
	return n
}

// No file tells by its name, size in the order of writing, rights or contents
// in which order the reports came, when, or from whom.
func TestAttackByFiles(t *testing.T) {
	reports, targets := inventedArchive(60)
	one, _ := write(t, dataset.Options{MinGroup: 5}, reports...)
	slices.Reverse(reports)
	two, _ := write(t, dataset.Options{MinGroup: 5}, reports...)
	if !maps.Equal(one, two) {
		t.Error("the files depend on the order in which reports came")
	}
	leaks := func(files map[string]string) (out []string) {
		for name, content := range files {
			for _, to := range targets {
				for _, secret := range []string{to.client, to.sampleNo, to.reportNo, to.month + "-15"} {
					if strings.Contains(content, secret) {
						out = append(out, name+": "+secret)
					}
				}
			}
			for _, rep := range reports {
				if strings.Contains(content, rep.ID) {
					out = append(out, name+": "+rep.ID)
				}
			}
		}
		return out
	}
	if l := leaks(opened(t, one)); len(l) > 0 {
		t.Errorf("%d secrets leave: %q", len(l), l[:min(3, len(l))])
	}
	if l := leaks(map[string]string{"x": reports[0].ID + " of 2026-01-15, " + targets[0].client}); len(l) < 2 {
		t.Error("planted secrets are not found")
	}
	dir := filepath.Join(t.TempDir(), "set")
	if _, err := dataset.Write(dir, all(reports...), dataset.Options{Key: key}); err != nil {
		t.Fatal(err)
	}
	es, err := os.ReadDir(dir)
	if err != nil || len(es) != len(dataset.Files)+1 { // and results.xlsx
		t.Fatal(len(es), err)
	}
	for _, e := range es {
		if info, err := e.Info(); err != nil || info.Mode().Perm() != 0o644 {
			t.Errorf("%s: %v, %v", e.Name(), info.Mode(), err)
		}
	}
}
