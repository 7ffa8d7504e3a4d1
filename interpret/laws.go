package interpret

import (
	"math/big"
	"slices"
	"strings"
	"time"

	"example.org/windrow/ingest"
)

// LimitsFormat is the version of the language of limits.
const LimitsFormat = "windrow-limits/1"

// LimitsFile holds the legal rules on fertilizing, by region, beside the rule
// sets. An office that has a file of this name among its rules goes by that
// one alone.
const LimitsFile = "limits.yaml"

// Topics of a law.
const (
	topicNOnce    = "turf-n-once"         // most N at one time
	topicSoluble  = "turf-soluble-n-once" // most water-soluble N at one time
	topicNYear    = "turf-n-year"         // most N in a year
	topicSlow     = "turf-slow-share"     // least share of slow N, percent
	topicPOnce    = "turf-p2o5-once"
	topicPYear    = "turf-p2o5-year"
	topicPTest    = "turf-p-by-test" // phosphorus only where a test not older than figure years asks for it
	topicClosed   = "turf-closed"    // no spreading between two days of the year
	topicWater    = "turf-water"     // feet to keep from water
	unitYears     = "years"
	unitFeet      = "ft"
	unitPercent   = "%"
	householder   = "householder"
	professional  = "professional"
	everyonesRule = "" // a law for all who spread
)

var topics = []string{topicNOnce, topicSoluble, topicNYear, topicSlow, topicPOnce, topicPYear, topicPTest, topicClosed, topicWater}

// Laws are the rules of law that amounts are held to.
type Laws struct {
	Spot
	Format string `yaml:"limits" rule:"required"` // windrow-limits/1
	Laws   []Law  `yaml:"laws" rule:"required"`
}

// A Law is one rule of a region, with the dates it is in force.
type Law struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	Region     string     `yaml:"region" rule:"required"` // two letters of the state
	Topic      string     `yaml:"topic" rule:"required"`
	Who        string     `yaml:"who"` // householder or professional; none means everyone
	Figure     Num        `yaml:"figure"`
	Unit       string     `yaml:"unit"`
	Closed     *Closed    `yaml:"closed"`
	InForce    Period     `yaml:"in_force" rule:"required"`
	Text       string     `yaml:"text" rule:"required"` // to the client
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// A Closed is the part of the year in which nothing of the nutrients may be
// spread, both days within it, MM-DD.
type Closed struct {
	Spot
	From      string   `yaml:"from" rule:"required"`
	To        string   `yaml:"to" rule:"required"`
	Nutrients []string `yaml:"nutrients" rule:"required"`
}

// holds reports whether a day, YYYY-MM-DD, lies within.
func (c *Closed) holds(day string) bool {
	if len(day) != len(time.DateOnly) {
		return false
	}
	d := day[5:]
	if c.From <= c.To {
		return d >= c.From && d <= c.To
	}
	return d >= c.From || d <= c.To
}

// opens is the first day on or after day that lies outside, YYYY-MM-DD.
func (c *Closed) opens(day string) string {
	t, err := time.Parse(time.DateOnly, day)
	for i := 0; err == nil && i < 366 && c.holds(t.Format(time.DateOnly)); i++ {
		t = t.AddDate(0, 0, 1)
	}
	return t.Format(time.DateOnly)
}

// In are the laws of a region that bind a person of that kind on a day. Without
// a day all of the region count, which is the careful side.
func (l *Laws) In(region, who, day string) []*Law {
	var out []*Law
	if l == nil || region == "" {
		return nil
	}
	for i := range l.Laws {
		x := &l.Laws[i]
		inForce := day == "" || day >= x.InForce.From && (x.InForce.Until == "" || day <= x.InForce.Until)
		if strings.EqualFold(x.Region, region) && (x.Who == everyonesRule || x.Who == who) && inForce {
			out = append(out, x)
		}
	}
	return out
}

// A Spread is something that somebody means to put on a lawn.
type Spread struct {
	On       string   // YYYY-MM-DD
	N        *big.Rat // lb/1000 sq ft at this time, of any release; nil for none
	SlowPct  *big.Rat // share of N that is slow, percent; nil counts as none
	NSoFar   *big.Rat // given since the year began
	P2O5     *big.Rat
	PSoFar   *big.Rat
	PNeeded  bool   // a soil test asks for phosphorus
	TestedOn string // day the sample was taken
	Other    []string
}

// Broken are the laws that a spreading would break, in order. Lime and the
// like, named in Other, break none that close the year for N and P2O5 alone.
func Broken(laws []*Law, s Spread) []*Law {
	var out []*Law
	has := func(x *big.Rat) bool { return x != nil && x.Sign() > 0 }
	plus := func(a, b *big.Rat) *big.Rat {
		sum := new(big.Rat)
		for _, x := range []*big.Rat{a, b} {
			if x != nil {
				sum.Add(sum, x)
			}
		}
		return sum
	}
	slow := new(big.Rat)
	if s.SlowPct != nil {
		slow = s.SlowPct
	}
	for _, l := range laws {
		f := l.Figure.rat()
		bad := false
		switch l.Topic {
		case topicNOnce:
			bad = has(s.N) && s.N.Cmp(f) > 0
		case topicSoluble:
			bad = has(s.N) && mul(s.N, quo(sub(rat(100, 1), slow), rat(100, 1))).Cmp(f) > 0
		case topicNYear:
			bad = has(s.N) && plus(s.N, s.NSoFar).Cmp(f) > 0
		case topicSlow:
			bad = has(s.N) && slow.Cmp(f) < 0
		case topicPOnce:
			bad = has(s.P2O5) && s.P2O5.Cmp(f) > 0
		case topicPYear:
			bad = has(s.P2O5) && plus(s.P2O5, s.PSoFar).Cmp(f) > 0
		case topicPTest:
			bad = has(s.P2O5) && (!s.PNeeded || l.Figure != "" && tooOld(s.TestedOn, s.On, f))
		case topicClosed:
			within := l.Closed.holds(s.On)
			for _, n := range l.Closed.Nutrients {
				bad = bad || within && (n == "N" && has(s.N) || n == "P2O5" && has(s.P2O5) || slices.Contains(s.Other, n))
			}
		}
		if bad {
			out = append(out, l)
		}
	}
	return out
}

// tooOld reports whether a sample is older than a number of years; one without
// a date is.
func tooOld(taken, on string, years *big.Rat) bool {
	t, err1 := time.Parse(time.DateOnly, taken)
	o, err2 := time.Parse(time.DateOnly, on)
	if err1 != nil || err2 != nil {
		return true
	}
	return t.AddDate(int(years.Num().Int64()/years.Denom().Int64()), 0, 0).Before(o)
}

func readLaws(raw rawRules, sources map[string]Source) (*Laws, []*ingest.Reason) {
	l := &Laws{}
	if faults := decode(raw.name, raw.b, l); len(faults) > 0 {
		return nil, faults
	}
	c := &checker{rs: &RuleSet{Sources: sources}, ids: map[string]ingest.Place{}}
	if l.Format != LimitsFormat {
		c.fault("wrong-format", l.Of("limits"), "this is not a file of limits that this version can read", LimitsFormat, l.Format, "")
	}
	units := map[string]string{topicSlow: unitPercent, topicPTest: unitYears, topicWater: unitFeet}
	for i := range l.Laws {
		x := &l.Laws[i]
		c.row2(x.Spot, x.ID, x.Source, x.Provenance)
		c.oneOf("topic", x.Of("topic"), x.Topic, topics)
		if x.Who != everyonesRule {
			c.oneOf("person", x.Of("who"), x.Who, []string{householder, professional})
		}
		if len(x.Region) != 2 || strings.ToUpper(x.Region) != x.Region {
			c.fault("not-a-region", x.Of("region"), quote(x.Region)+" is no state", "two capital letters, as in the settings", x.Region, "")
		}
		c.date(x.InForce.Of("from"), x.InForce.From)
		if x.InForce.Until != "" {
			c.date(x.InForce.Of("until"), x.InForce.Until)
		}
		if (x.Topic == topicClosed) != (x.Closed != nil) || x.Topic != topicPTest && (x.Topic == topicClosed) == (x.Figure != "") {
			c.fault("law-unclear", x.At, "a law gives either a figure or the closed part of the year", "closed for the topic "+topicClosed+", figure for any other", "", "")
			continue
		}
		if x.Topic == topicPTest && x.Figure == "" {
			continue // a test is asked for, of no certain age
		}
		if x.Closed != nil {
			for _, d := range []struct{ key, v string }{{"from", x.Closed.From}, {"to", x.Closed.To}} {
				if _, err := time.Parse("2006-01-02", "2024-"+d.v); err != nil {
					c.fault("not-a-date", x.Closed.Of(d.key), "a day of the year is written month and day", "11-15", d.v, "")
				}
			}
			continue
		}
		c.above(x.Of("figure"), x.Figure)
		unit := units[x.Topic]
		if unit == "" {
			unit = unitPerThousand
		}
		c.unit(x.Of("unit"), x.Unit, unit)
	}
	if len(c.faults) > 0 {
		return nil, c.faults
	}
	return l, nil
}
