package normalize

import (
	"encoding/json"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize/unit"
)

// The truth files of the invented laboratories were written by the program
// that made the reports, not by this one: they are an outside check of every
// conversion those laboratories need.

type truthResult struct {
	Analyte     string   `json:"analyte"`
	Detail      string   `json:"analyte_detail"`
	Printed     string   `json:"printed"`
	PrintedUnit string   `json:"printed_unit"`
	Basis       string   `json:"basis"`
	Method      string   `json:"method"`
	Censored    *string  `json:"censored"`
	Missing     *string  `json:"missing"`
	Value       any      `json:"value"`
	Unit        string   `json:"unit"`
	Assumption  string   `json:"assumption"`
	Rating      *string  `json:"rating_printed"`
	RatingScale string   `json:"rating_scale"`
	Cell        *float64 `json:"cell_value"`
	Volumetric  *float64 `json:"value_volumetric"`
	Flag        string   `json:"flag"`
}

type truthSample struct {
	Lab      string        `json:"lab_sample_id"`
	Label    string        `json:"client_sample_id"`
	Client   string        `json:"client_name"`
	County   string        `json:"county"`
	Sampled  string        `json:"date_sampled"`
	Received string        `json:"date_received"`
	Reported string        `json:"date_reported"`
	LandUse  string        `json:"land_use"`
	Depth    *float64      `json:"depth_in"`
	ReportNo string        `json:"report_no"`
	Member   string        `json:"member"`
	Results  []truthResult `json:"results"`
}

type truthFile struct {
	Lab     string        `json:"lab"`
	File    string        `json:"file"`
	Samples []truthSample `json:"samples"`
	path    string
}

// readTruths is done once: the files are large and many tests go over them.
var readTruths = sync.OnceValues(func() ([]truthFile, error) {
	var out []truthFile
	err := filepath.WalkDir("../testdata", func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(p, ".json") || filepath.Base(filepath.Dir(p)) != "truth" {
			return err
		}
		b, err := os.ReadFile(p)
		if err != nil {
			return err
		}
		var f truthFile
		if err := json.Unmarshal(b, &f); err != nil {
			return fmt.Errorf("%s: %w", p, err)
		}
		f.path = p
		if len(f.Samples) > 0 {
			out = append(out, f)
		}
		return nil
	})
	return out, err
})

// truths are the truth files with samples; they must not be changed.
func truths(t testing.TB) []truthFile {
	t.Helper()
	out, err := readTruths()
	if err != nil {
		t.Fatal(err)
	}
	if len(out) < 40 {
		t.Fatalf("only %d truth files under ../testdata", len(out))
	}
	return out
}

var (
	perInch   = regexp.MustCompile(`300,000 lb soil per acre-inch x ([\d.]+) in`)
	thousands = regexp.MustCompile(`^\d{1,3}(,\d{3})+(\.\d+)?$`)
	// The laboratories' own words in our classes, as LAB.md orders them.
	truthClasses = map[string]string{"Very Low": "very low", "Low": "low", "Optimum": "optimum", "Above Optimum": "high", "Excessive": "excessive", "Too Acid": "too acid",
		"poor": "low", "fair": "medium", "good": "optimum", "rich": "high", "Below": "low", "Within": "optimum", "Above": "high", "VL": "very low", "L": "low", "M": "medium", "H": "high",
		"VH": "very high", "V": "very high", "1 Deficient": "very low", "2 Low": "low", "3 Sufficient": "optimum", "4 High": "high", "5 Very high": "very high"}
)

// extract is what a perfect mapping would read from the report.
func (f *truthFile) extract(t testing.TB) *mappings.Extract {
	voc := Vocabulary()
	ex := &mappings.Extract{Source: ingest.SourceRef{Name: f.File, SHA256: strings.Repeat("0", 64)}, Mapping: mappings.Ref{Lab: f.Lab, ID: "truth", Layout: "truth", File: "truth.yaml", SHA256: strings.Repeat("1", 64)}}
	for _, s := range f.Samples {
		se := &mappings.SampleExtract{Fields: map[mappings.FieldID]mappings.Field{}}
		set := func(id mappings.FieldID, v string) {
			if v != "" {
				se.Fields[id] = mappings.Field{Printed: v, Value: v}
			}
		}
		set(mappings.LabSampleID, s.Lab)
		set(mappings.ClientSampleID, s.Label)
		set(mappings.ClientName, s.Client)
		set(mappings.County, s.County)
		set(mappings.DateSampled, s.Sampled)
		set(mappings.DateReceived, s.Received)
		set(mappings.DateReported, s.Reported)
		set(mappings.ReportNo, s.ReportNo)
		if s.LandUse != "" {
			id, ok := voc.Resolve(mappings.LandUseWord, s.LandUse)
			if !ok {
				t.Errorf("%s: land use %q is not in the vocabulary", f.path, s.LandUse)
			}
			set(mappings.LandUse, id)
		}
		if s.Depth != nil {
			set(mappings.Depth, strconv.FormatFloat(*s.Depth, 'f', -1, 64))
		}
		for _, r := range s.Results {
			se.Readings = append(se.Readings, r.reading(t, f.path))
		}
		for i := range se.Readings {
			if se.Readings[i].Analyte == "density" {
				se.Density = &se.Readings[i]
			}
		}
		ex.Samples = append(ex.Samples, se)
	}
	return ex
}

func (r *truthResult) reading(t testing.TB, path string) mappings.Reading {
	voc := Vocabulary()
	must := func(kind mappings.WordKind, text string) string {
		id, ok := voc.Resolve(kind, text)
		if !ok {
			t.Errorf("%s: %s %q is not in the vocabulary; near: %v", path, kind, text, voc.Near(kind, text))
		}
		return id
	}
	rd := mappings.Reading{Analyte: must(mappings.AnalyteWord, r.Analyte), Detail: r.Detail, Printed: r.Printed, PrintedUnit: r.PrintedUnit}
	if r.Method != "not stated" {
		rd.Method = must(mappings.MethodWord, r.Method)
	}
	switch u := r.PrintedUnit; {
	case r.Unit == "class":
		rd.Unit, rd.Words = "class", r.Printed
		return rd
	case u == "":
		rd.Unit = must(mappings.UnitWord, r.Unit)
	default:
		rd.Unit = must(mappings.UnitWord, u)
	}
	switch {
	case strings.Contains(r.Basis, "not stated"):
		rd.Basis = UnstatedBasis
	case r.Basis == "P2O5" || r.Basis == "K2O" || r.Basis == "index":
		rd.Basis = must(mappings.BasisWord, r.Basis)
	}
	if r.Missing != nil {
		rd.Missing = *r.Missing
		return rd
	}
	n := strings.TrimSpace(strings.TrimRight(strings.TrimLeft(r.Printed, "<> "), "* "))
	if thousands.MatchString(n) {
		n = strings.ReplaceAll(n, ",", "")
	}
	rd.Number = strings.ReplaceAll(n, ",", ".")
	if r.Censored != nil {
		rd.Censor = *r.Censored
	}
	if r.Cell != nil {
		rd.Full = strconv.FormatFloat(*r.Cell, 'f', -1, 64)
	}
	rd.Mark = r.Flag
	if r.Rating != nil {
		if r.RatingScale != "" {
			rd.Index = *r.Rating
		} else {
			rd.Rating = *r.Rating
			c, ok := truthClasses[*r.Rating]
			if !ok {
				t.Errorf("%s: rating %q", path, *r.Rating)
			}
			rd.RatingClass = c
		}
	}
	switch u, _ := unit.Standard().Unit(rd.Unit); {
	case u == nil || u.Dimension != unit.AreaMass:
	case u.ID == "kg/ha":
		rd.Per, rd.Area = "volume", &mappings.AreaBasis{DepthCm: "15", ByVolume: true, Source: "mapping"}
	default:
		rd.Area = &mappings.AreaBasis{DepthIn: "6 2/3", LbPerAcre: "2000000", Source: "mapping"}
		if m := perInch.FindStringSubmatch(r.Assumption); m != nil && m[1] != "6.67" {
			d, _ := strconv.Atoi(m[1])
			rd.Area = &mappings.AreaBasis{DepthIn: m[1], LbPerAcre: strconv.Itoa(300_000 * d), Source: "report"}
		}
	}
	return rd
}

func TestTruthValues(t *testing.T) {
	var results, withValue, volumetric int
	for _, f := range truths(t) {
		rep := Build(f.extract(t), Options{})
		for i, s := range f.Samples {
			for j, want := range s.Results {
				got := rep.Records[i].Results[j]
				results++
				where := fmt.Sprintf("%s: %s %s printed %q %s", f.path, s.Lab, want.Analyte, want.Printed, want.PrintedUnit)
				if c := want.Censored; c != nil && got.Censored != *c {
					t.Errorf("%s: censored %q, want %q", where, got.Censored, *c)
				}
				v, ok := want.Value.(float64)
				if !ok {
					if got.Value != "" {
						t.Errorf("%s: value %s, want none", where, got.Value)
					}
					if want.Missing == nil && got.Class == "" && got.Why == "" {
						t.Errorf("%s: no value and no reason", where)
					}
				} else {
					withValue++
					g, err := strconv.ParseFloat(string(got.Value), 64)
					if err != nil || math.Abs(g-v) > math.Abs(v)*.001 {
						t.Errorf("%s: value %s, want %v (%s)", where, got.Value, v, got.Why)
					}
				}
				if got.Unit != want.Unit {
					t.Errorf("%s: unit %s, want %s", where, got.Unit, want.Unit)
				}
				if want.Volumetric != nil {
					volumetric++
					if got.Volumetric == nil {
						t.Errorf("%s: no volumetric value", where)
					} else if g, _ := strconv.ParseFloat(string(got.Volumetric.Value), 64); math.Abs(g-*want.Volumetric) > *want.Volumetric*.001 {
						t.Errorf("%s: volumetric %s, want %v", where, got.Volumetric.Value, *want.Volumetric)
					}
				}
			}
		}
	}
	t.Logf("%d results compared, %d with a value, %d volumetric, each within a thousandth", results, withValue, volumetric)
	if withValue < 8000 || volumetric < 500 {
		t.Errorf("too few results compared: %d with a value, %d volumetric", withValue, volumetric)
	}
}

func TestTruthHasNoFindings(t *testing.T) {
	samples, seen := 0, map[string]int{}
	for _, f := range truths(t) {
		rep := Build(f.extract(t), Options{})
		for i, rec := range rep.Records {
			samples++
			for _, c := range rec.Checks {
				seen[c.Check]++
				t.Errorf("%s: sample %d %s: %s: %s (expected %s, found %s)", f.path, i+1, rec.Sample.LabID, c.Check, c.What, c.Expected, c.Found)
			}
			for _, res := range rec.Results {
				for _, c := range res.Findings {
					if c.Check == "not-converted" && res.Basis == UnstatedBasis {
						continue // the unknown laboratory's report says neither element nor oxide
					}
					seen[c.Check]++
					t.Errorf("%s: sample %s %s: %s: %s (expected %s, found %s)", f.path, rec.Sample.LabID, res.Analyte, c.Check, c.What, c.Expected, c.Found)
				}
			}
		}
	}
	t.Logf("%d samples cross-examined; false findings by check: %v", samples, seen)
}
