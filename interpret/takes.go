package interpret

import (
	"reflect"
	"slices"

	"example.org/windrow/ingest"
)

// A Take names parts that a rule set has in common with another, so that they
// stand in one file only. A list is added to the rule set's own; anything else
// may be written in one of the two places. Rows for uses of the land that the
// rule set does not have are left behind.
type Take struct {
	Spot
	From  string   `yaml:"from" rule:"required"`  // id of the rule set
	Parts []string `yaml:"parts" rule:"required"` // keys of it, such as lead
	// Analytes are those of which ratings are taken; none means all that are
	// for a use of the rule set's own.
	Analytes []string `yaml:"analytes"`
}

// takeable are the keys whose values one rule set may have from another.
var takeable = []string{"retest", "land_uses", "ph", "ratings", "lime", "sulfur", "nutrients", "plants", "no_rate", "organic_matter", "lead", "metals", "watch", "cautions"}

// take copies what rs takes from others into it. The texts that were read for
// it come back in order.
func (l *loading) take(rs *RuleSet) (read []rawRules, faults []*ingest.Reason) {
	for i := range rs.Takes {
		t := &rs.Takes[i]
		raw, ok := l.raw[t.From]
		if !ok || t.From == rs.ID {
			faults = append(faults, ruleFault("unknown-rule-set", t.Of("from"), "there is no rule set "+quote(t.From)+" to take parts from", "the id of another rule set", t.From, didYouMean(t.From, keys(l.raw))))
			continue
		}
		other := copied(raw.written)
		other.inherit()
		read = append(read, raw)
		for _, part := range t.Parts {
			if !slices.Contains(takeable, part) {
				faults = append(faults, ruleFault("unknown-part", t.Of("parts"), quote(part)+" is no part that can be taken", "", part, didYouMean(part, takeable)))
				continue
			}
			if fl := rs.takePart(other, part, t); fl != nil {
				faults = append(faults, fl)
			}
		}
	}
	rs.keepOwnUses()
	return read, faults
}

func fieldByKey(v reflect.Value, key string) reflect.Value {
	for i := range v.NumField() {
		if v.Type().Field(i).Tag.Get("yaml") == key {
			return v.Field(i)
		}
	}
	return reflect.Value{}
}

func (rs *RuleSet) takePart(other *RuleSet, part string, t *Take) *ingest.Reason {
	mine, theirs := fieldByKey(reflect.ValueOf(rs).Elem(), part), fieldByKey(reflect.ValueOf(other).Elem(), part)
	if !other.Wrote(part) {
		return ruleFault("nothing-to-take", t.Of("parts"), "the rule set "+quote(t.From)+" has no "+part+" of its own", "a part that is written in its file", "none", "take it from the rule set where it is written")
	}
	if tables, ok := theirs.Interface().([]RatingTable); ok && len(t.Analytes) > 0 {
		tables = slices.DeleteFunc(tables, func(x RatingTable) bool { return !slices.Contains(t.Analytes, x.Analyte) })
		if len(tables) == 0 {
			return ruleFault("nothing-to-take", t.Of("analytes"), "the rule set "+quote(t.From)+" rates none of "+list(t.Analytes), "an analyte that it rates", list(t.Analytes), "take them from the rule set where they are rated")
		}
		theirs = reflect.ValueOf(tables)
	}
	if mine.Kind() == reflect.Slice {
		mine.Set(reflect.AppendSlice(mine, theirs))
		return nil
	}
	if rs.Wrote(part) {
		return ruleFault("part-twice", t.Of("parts"), quote(part)+" is both written here and taken from "+quote(t.From), "one of the two", "both", "take one of them out")
	}
	mine.Set(theirs)
	return nil
}

// keepOwnUses drops taken rows, and uses in taken rows, that are for uses of
// the land which rs does not have. A slip in the file itself is still seen: it
// stands in a row of the file, which is left as it is.
func (rs *RuleSet) keepOwnUses() {
	if len(rs.Takes) == 0 {
		return
	}
	var uses []string
	for _, u := range rs.LandUses {
		uses = append(uses, u.ID)
	}
	file := rs.At.File
	var prune func(v reflect.Value)
	prune = func(v reflect.Value) {
		for i := range v.NumField() {
			f := v.Field(i)
			if v.Type().Field(i).Tag.Get("yaml") == "" {
				continue
			}
			switch {
			case f.Kind() == reflect.Struct:
				prune(f)
			case f.Kind() == reflect.Slice && f.Type().Elem().Kind() == reflect.Struct:
				kept := reflect.MakeSlice(f.Type(), 0, f.Len())
				for j := range f.Len() {
					row := f.Index(j)
					spot, _ := fieldOf(row, "Spot").(Spot)
					list, has := fieldOf(row, "For").([]string)
					if has && len(list) > 0 && spot.At.File != file {
						list = slices.DeleteFunc(list, func(u string) bool { return !slices.Contains(uses, u) })
						if len(list) == 0 {
							continue
						}
						row.FieldByName("For").Set(reflect.ValueOf(list))
					}
					kept = reflect.Append(kept, row)
				}
				f.Set(kept)
			}
		}
	}
	prune(reflect.ValueOf(rs).Elem())
}

// keepPossible drops taken cautions for occasions that rs cannot come to, and
// taken choices of limestone by an analyte that it does not rate: a row that
// can never answer would only look like one that does.
func (rs *RuleSet) keepPossible() {
	if len(rs.Takes) == 0 {
		return
	}
	file := rs.At.File
	rs.Cautions = slices.DeleteFunc(rs.Cautions, func(c Caution) bool {
		return c.At.File != file && !slices.ContainsFunc(c.When, rs.comesTo)
	})
	rs.Lime.Choices = slices.DeleteFunc(rs.Lime.Choices, func(c LimeChoice) bool {
		return c.At.File != file && !rs.rates(c.Analyte, VeryLow)
	})
}

// comesTo reports whether advice by rs can come to an occasion for cautions.
func (rs *RuleSet) comesTo(occasion string) bool {
	switch occasion {
	case "lime":
		return rs.Lime.gives()
	case "sulfur":
		return len(rs.Sulfur) > 0
	case "fertilizer":
		return len(rs.Plants) > 0 || slices.ContainsFunc(rs.Nutrients, func(t NutrientTable) bool {
			return t.Shortfall != nil || slices.ContainsFunc(t.Rows, func(r NutrientRow) bool { return r.Rate != "" && r.Rate.rat().Sign() > 0 })
		})
	case "high-p":
		return rs.rates("P", High)
	case "salts":
		return rs.rates("EC", High)
	case "low-organic-matter":
		return slices.ContainsFunc(rs.Organic, func(o OrganicRule) bool { return rank(o.Classes[0]) < rank(Medium) })
	}
	return true // what the report alone decides
}

// rates reports whether rs has a class of an analyte from the one given.
func (rs *RuleSet) rates(analyte, class string) bool {
	return slices.ContainsFunc(rs.Ratings, func(t RatingTable) bool {
		return t.Analyte == analyte && rank(t.Classes[len(t.Classes)-1].Class) >= rank(class)
	})
}

// copied is a rule set that shares no row with the one it is copied from.
func copied(rs *RuleSet) *RuleSet {
	out := *rs
	deepen(reflect.ValueOf(&out).Elem())
	return &out
}

// deepen gives every list and pointer that v holds a copy of its own. Maps of
// rules are never written to, and stay shared.
func deepen(v reflect.Value) {
	switch v.Kind() {
	case reflect.Struct:
		if v.Type() == reflect.TypeOf(Spot{}) {
			return
		}
		for i := range v.NumField() {
			if v.Type().Field(i).Tag.Get("yaml") != "" {
				deepen(v.Field(i))
			}
		}
	case reflect.Slice:
		if v.IsNil() {
			return
		}
		s := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
		reflect.Copy(s, v)
		v.Set(s)
		for i := range v.Len() {
			deepen(v.Index(i))
		}
	case reflect.Pointer:
		if v.IsNil() {
			return
		}
		p := reflect.New(v.Type().Elem())
		p.Elem().Set(v.Elem())
		v.Set(p)
		deepen(p.Elem())
	}
}
