package interpret

import (
	"fmt"
	"reflect"
	"slices"

	"example.org/windrow/ingest"
)

// OverridesFormat is the version of the language of overrides.
const OverridesFormat = "windrow-overrides/1"

// overridesSuffix ends the name of every file of overrides.
const overridesSuffix = "overrides.yaml"

// officeSource is the key under which a figure of the office's own is cited.
const officeSource = "office"

// Overrides is an office's file of changes to one rule set. Each names the
// row and the key, what stands there and what is to stand there: when the rule
// set itself changes, the override no longer fits and says so, in place of
// changing something that nobody looked at.
type Overrides struct {
	Spot
	Format  string   `yaml:"overrides" rule:"required"` // windrow-overrides/1
	Of      string   `yaml:"of" rule:"required"`        // id of the rule set
	By      string   `yaml:"by" rule:"required"`        // who answers for it
	On      string   `yaml:"on" rule:"required"`        // YYYY-MM-DD
	Changes []Change `yaml:"changes" rule:"required"`
}

// A Change is one override.
type Change struct {
	Spot
	Row string `yaml:"row" rule:"required"`
	Key string `yaml:"key" rule:"required"`
	Was string `yaml:"was" rule:"required"`
	Now string `yaml:"now" rule:"required"`
	Why string `yaml:"why" rule:"required"`
}

// An Overridden is one change that is in force, as the advice tells it.
type Overridden struct {
	Row string `json:"row"`
	Key string `json:"key"`
	Was string `json:"was"`
	Now string `json:"now"`
	Why string `json:"why"`
	By  string `json:"by"`
	On  string `json:"on"`
}

// changes takes in a file of overrides.
func (l *loading) changes(raw rawRules, here map[string]string) {
	var o Overrides
	if fl := decode(raw.name, raw.b, &o); len(fl) > 0 {
		l.faults = append(l.faults, fl...)
		return
	}
	if other, twice := here["overrides of "+o.Of]; twice {
		l.faults = append(l.faults, ruleFault("overrides-twice", o.Spot.Of("of"), "two files override the rule set "+quote(o.Of), "one file for a rule set", other+" and "+raw.name, "put all changes into one of them"))
		return
	}
	here["overrides of "+o.Of] = raw.name
	if _, ok := l.raw[o.Of]; !ok {
		l.faults = append(l.faults, ruleFault("unknown-rule-set", o.Spot.Of("of"), "there is no rule set "+quote(o.Of)+" to override", "the id of a rule set", o.Of, didYouMean(o.Of, keys(l.raw))))
		return
	}
	l.overrides[o.Of] = raw
}

// override changes the rows of rs as an office's file says.
func (rs *RuleSet) override(raw rawRules) []*ingest.Reason {
	var o Overrides
	if fl := decode(raw.name, raw.b, &o); len(fl) > 0 {
		return fl
	}
	c := &checker{rs: rs}
	if o.Format != OverridesFormat {
		c.fault("wrong-format", o.Spot.Of("overrides"), "this is not a file of overrides that this version can read", OverridesFormat, o.Format, "")
	}
	c.date(o.Spot.Of("on"), o.On)
	sources := map[string]Source{}
	for k, s := range rs.Sources {
		sources[k] = s
	}
	sources[officeSource] = Source{Key: officeSource, Text: "This office's own figures, set by " + o.By + " on " + longDate(o.On)}
	rs.Sources = sources
	rows := map[string]reflect.Value{}
	rowsOf(reflect.ValueOf(rs).Elem(), rows)
	for i := range o.Changes {
		c.change(&o.Changes[i], rows)
		ch := &o.Changes[i]
		rs.Overridden = append(rs.Overridden, Overridden{Row: ch.Row, Key: ch.Key, Was: ch.Was, Now: ch.Now, Why: ch.Why, By: o.By, On: o.On})
	}
	return c.faults
}

// change makes one change, or says why not.
func (c *checker) change(ch *Change, rows map[string]reflect.Value) {
	row, ok := rows[ch.Row]
	if !ok {
		c.fault("unknown-row", ch.Of("row"), "the rule set "+quote(c.rs.ID)+" has no row "+quote(ch.Row), "the id of a row that has a source", ch.Row, didYouMean(ch.Row, keys(rows)))
		return
	}
	var can []string
	for i := range row.NumField() {
		key := row.Type().Field(i).Tag.Get("yaml")
		if key != "" && row.Field(i).Kind() == reflect.String && !slices.Contains([]string{"id", "source", "provenance"}, key) {
			can = append(can, key)
		}
	}
	if !slices.Contains(can, ch.Key) {
		c.fault("unknown-key", ch.Of("key"), "the row "+quote(ch.Row)+" has no figure or text "+quote(ch.Key)+" that can be overridden", "", ch.Key, didYouMean(ch.Key, can))
		return
	}
	f := fieldByKey(row, ch.Key)
	if f.String() != ch.Was {
		c.fault("override-does-not-fit", ch.Of("was"), "the row "+quote(ch.Row)+" says something else than the override expects", ch.Was, f.String(), "look at the row again, and decide whether the change is still right")
		return
	}
	if n, isNum := f.Addr().Interface().(*Num); isNum {
		if no := n.FromText(ch.Now); no != nil {
			c.fault(no.Code, ch.Of("now"), fmt.Sprintf("%q is %s", ch.Now, no.Is), no.Expected, ch.Now, no.Next)
			return
		}
	} else {
		f.SetString(ch.Now)
	}
	row.FieldByName("Source").SetString(officeSource)
	row.FieldByName("Provenance").SetString(string(Office))
	spot, _ := fieldOf(row, "Spot").(Spot)
	spot.At = ch.At
	row.FieldByName("Spot").Set(reflect.ValueOf(spot))
}

// rowsOf gathers every row with an id and a source by its id.
func rowsOf(v reflect.Value, out map[string]reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			rowsOf(v.Elem(), out)
		}
	case reflect.Slice:
		for i := range v.Len() {
			rowsOf(v.Index(i), out)
		}
	case reflect.Struct:
		if v.Type() == reflect.TypeOf(Spot{}) || v.Type() == reflect.TypeOf(Example{}) {
			return
		}
		if src, ok := fieldOf(v, "Source").(string); ok && src != "" {
			if id, ok := fieldOf(v, "ID").(string); ok && id != "" {
				out[id] = v
			}
		}
		for i := range v.NumField() {
			if v.Type().Field(i).Tag.Get("yaml") != "" {
				rowsOf(v.Field(i), out)
			}
		}
	}
}
