package check

import (
	"embed"
	"fmt"
	"io/fs"
	"slices"
	"strconv"
	"strings"
	"sync"

	"example.org/windrow/normalize/internal/table"
)

//go:embed ranges.csv extracts.csv typical.csv
var files embed.FS

// A Range is the values of an analyte that are usual by a method, in the
// analyte's own unit.
type Range struct {
	Analyte    string
	Method     string // id of a method, or of a kind of methods with "kind:" before it
	Low, High  float64
	Source     string // key in the bibliography
	Provenance string
	Note       string
}

// An Order is two extracts of which one takes no more of an element than the
// other.
type Order struct {
	Analytes         []string
	Weaker, Stronger []string // ids of methods
	Slack            float64  // share by which the weaker may exceed
	NotOnLime        bool     // says nothing of soils that may hold free lime
	Reason           string   // in words
	Source           string   // key in the bibliography
	Provenance       string
}

type tables struct {
	ranges []Range
	by     map[string]*Range // by analyte, NUL and method
	orders []Order
	usual  []Typical
}

// loadTables reads ranges.csv, extracts.csv and typical.csv. It refuses a range that is
// none or given twice, and a pair without methods or reason.
func loadTables(fsys fs.FS) (*tables, error) {
	t := &tables{by: map[string]*Range{}}
	err := table.Rows(fsys, "ranges.csv", func(where string, r map[string]string) error {
		lo, err1 := strconv.ParseFloat(r["low"], 64)
		hi, err2 := strconv.ParseFloat(r["high"], 64)
		key := r["analyte"] + "\x00" + r["method"]
		if err1 != nil || err2 != nil || lo < 0 || hi <= lo || r["analyte"] == "" || r["method"] == "" {
			return fmt.Errorf("%s: not a range of an analyte by a method", where)
		}
		if t.by[key] != nil {
			return fmt.Errorf("%s: a second range of %s by %s", where, r["analyte"], r["method"])
		}
		t.by[key] = &Range{r["analyte"], r["method"], lo, hi, r["source"], r["provenance"], r["note"]}
		t.ranges = append(t.ranges, *t.by[key])
		return nil
	})
	if err != nil {
		return nil, err
	}
	err = table.Rows(fsys, "extracts.csv", func(where string, r map[string]string) error {
		o := Order{Analytes: strings.Fields(r["analytes"]), Weaker: table.Split(r["weaker"]), Stronger: table.Split(r["stronger"]), NotOnLime: r["not_on_lime"] == "yes",
			Reason: r["reason"], Source: r["source"], Provenance: r["provenance"]}
		p, err := strconv.ParseFloat(r["allow_percent"], 64)
		if err != nil || p < 0 || len(o.Analytes) == 0 || len(o.Weaker) == 0 || len(o.Stronger) == 0 || o.Reason == "" {
			return fmt.Errorf("%s: not an order of two extracts", where)
		}
		o.Slack = p / 100
		t.orders = append(t.orders, o)
		return nil
	})
	if err != nil {
		return nil, err
	}
	err = table.Rows(fsys, "typical.csv", func(where string, r map[string]string) error {
		y := Typical{Analyte: r["analyte"], Methods: table.Split(r["methods"]), Source: r["source"], Provenance: r["provenance"], Note: r["note"]}
		var err1, err2 error
		y.Middle, err1 = strconv.ParseFloat(r["middle"], 64)
		y.Spread, err2 = strconv.ParseFloat(r["spread"], 64)
		if err1 != nil || err2 != nil || y.Analyte == "" || y.Middle <= 0 || y.Spread <= 0 {
			return fmt.Errorf("%s: not what is typical of an analyte", where)
		}
		for k := range t.usual {
			if t.usual[k].Analyte == y.Analyte && len(t.usual[k].Methods) == 0 {
				return fmt.Errorf("%s: %s has a row for whatever method already", where, y.Analyte)
			}
		}
		t.usual = append(t.usual, y)
		return nil
	})
	return t, err
}

var standard = sync.OnceValue(func() *tables {
	t, err := loadTables(files)
	if err != nil {
		// Embedded and loaded by the tests: no user can meet this.
		panic("check: tables: " + err.Error())
	}
	return t
})

// Ranges lists the usual ranges by method, in the order of the table.
func Ranges() []Range { return slices.Clone(standard().ranges) }

// Orders lists the pairs of extracts, in the order of the table.
func Orders() []Order { return slices.Clone(standard().orders) }

// Typicals lists what most fields have, in the order of the table.
func Typicals() []Typical { return slices.Clone(standard().usual) }

// usual is the range of a result that is usual: by its method, or else by its
// kind of method, or else by any. Both ends are 0 when there is none.
func (r *Result) usual() (lo, hi float64) {
	if r.UsualLow == 0 && r.UsualHigh == 0 {
		return 0, 0 // the value is not in the analyte's own unit
	}
	by := standard().by
	for _, m := range []string{r.Method, "kind:" + r.MethodKind} {
		if x := by[r.Analyte+"\x00"+m]; x != nil {
			return x.Low, x.High
		}
	}
	return r.UsualLow, r.UsualHigh
}
