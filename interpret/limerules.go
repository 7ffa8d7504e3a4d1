package interpret

import "slices"

// Lime is everything about lime: how much, at once, of what.
type Lime struct {
	Spot
	Rates      []LimeRate    `yaml:"rates"` // none where the publication's could not be read: then the letter asks
	Caps       []LimeCap     `yaml:"caps"`
	Material   *LimeMaterial `yaml:"material"` // needed where a rate is in use
	Choices    []LimeChoice  `yaml:"choices"`
	Cup        *Density      `yaml:"cup"`                           // the same
	AskBuffers string        `yaml:"other_buffers" rule:"required"` // what to tell a client whose laboratory ran a buffer that no rate is for
}

// gives reports whether any rate is in use.
func (l *Lime) gives() bool {
	return slices.ContainsFunc(l.Rates, func(r LimeRate) bool { return r.Inactive == "" })
}

// A LimeRate is one way to the amount of lime, for the buffers in Methods and
// for no other. Rates are of pure calcium carbonate. By its Kind:
//
//   - buffer-equation: acidity = k x (ceiling - buffer pH), rate = acidity x
//     (target - pH) / (ceiling - pH), as with the Mehlich buffer;
//   - buffer-line: rate = k x (ceiling - buffer pH), as with the Woodruff buffer;
//   - hydrogen-saturation: rate = k x (ceiling - buffer pH) x (h1 - h2) / h1,
//     with h1 and h2 the shares of hydrogen at the soil's pH and at the target,
//     from pH = 7.79 - 5.55 h + 2.27 h^2, as with the Adams-Evans buffer;
//   - buffer-table: rows by buffer pH and goals, as with the SMP buffer;
//   - acidity-table: rows by the laboratory's own buffer acidity and goals.
type LimeRate struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	For        []string   `yaml:"for" rule:"required"`
	Kind       string     `yaml:"kind" rule:"required"`
	Methods    []string   `yaml:"methods" rule:"required"` // of buffer pH or acidity
	Unit       string     `yaml:"unit" rule:"required"`    // tons/acre or lb/1000 sq ft
	K          Num        `yaml:"k"`
	Ceiling    Num        `yaml:"ceiling"`
	OfPercent  Num        `yaml:"of_percent"` // neutralizing value of the material that the rates are of, where not pure
	DepthIn    Num        `yaml:"depth_in"`   // depth of soil that the rate sweetens
	Scale      []Scale    `yaml:"scale"`      // for shallower soil
	Goals      []Num      `yaml:"goals"`
	Rows       []LimeRow  `yaml:"rows"`
	Inactive   string     `yaml:"inactive"` // why the rate is kept and not used; none: it is used
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// A Scale reduces a lime rate for a land use where less soil is reached: by the
// share that its source states, or, where By is not given, by the two depths
// (see [LimeRateAtDepth]).
type Scale struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	For        []string   `yaml:"for" rule:"required"`
	By         Num        `yaml:"by"`
	DepthIn    Num        `yaml:"depth_in" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// A LimeRow is one line of a table: the rate for each of the table's goals, by
// acidity in cmol(+)/kg or by buffer pH.
type LimeRow struct {
	Spot
	ID      string `yaml:"id" rule:"required"`
	Acidity Num    `yaml:"acidity"`
	Buffer  Num    `yaml:"buffer"`
	Rates   []Num  `yaml:"rates" rule:"required"`
}

// A LimeCap limits what is put on at once. Over is the whole amount, in
// lb/1000 sq ft, above which the cap bites; then either no application is
// more than Most, or the amount goes on in Parts equal ones.
type LimeCap struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	For        []string   `yaml:"for" rule:"required"`
	Over       Num        `yaml:"over_lb_per_1000_sq_ft" rule:"required"`
	Most       Num        `yaml:"most_lb_per_1000_sq_ft"`
	Parts      int        `yaml:"parts"`
	Apart      int        `yaml:"months_apart" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// A LimeMaterial is the limestone that amounts are told in: CCE is its
// calcium carbonate equivalent in percent.
type LimeMaterial struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	Name       string     `yaml:"name" rule:"required"`
	CCE        Num        `yaml:"cce_percent" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// The kinds of limestone.
const (
	withMagnesium    = "with"
	withoutMagnesium = "without"
)

// A LimeChoice picks the kind of limestone by the class of an analyte.
type LimeChoice struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	Analyte    string     `yaml:"analyte" rule:"required"`
	Classes    []string   `yaml:"classes" rule:"required"`
	Use        string     `yaml:"use" rule:"required"`
	Magnesium  string     `yaml:"magnesium" rule:"required"` // with or without: which of an office's limestones is meant
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// A Density is the weight of a kitchen cup.
type Density struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	LbPerCup   Num        `yaml:"lb_per_cup" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}
