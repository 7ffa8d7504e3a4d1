package dataset

import (
	"cmp"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// The files of an account of where a dataset comes from.
const (
	// ProvenanceFile is in the form PROV-JSON (W3C Member Submission of 24
	// April 2013), in the terms of PROV-DM (W3C Recommendation of 30 April 2013).
	ProvenanceFile = "provenance.json"
	// CrateFile has the name that RO-Crate 1.1 gives its description.
	CrateFile = "ro-crate-metadata.json"
)

type attributes map[string]any

// A provDocument is a document of PROV-JSON: for each kind of element or
// relation, those that there are by their names.
type provDocument struct {
	Prefix     map[string]string     `json:"prefix"`
	Entity     map[string]attributes `json:"entity"`
	Activity   map[string]attributes `json:"activity"`
	Agent      map[string]attributes `json:"agent"`
	Generated  map[string]attributes `json:"wasGeneratedBy"`
	Used       map[string]attributes `json:"used"`
	Derived    map[string]attributes `json:"wasDerivedFrom"`
	Associated map[string]attributes `json:"wasAssociatedWith"`
	Attributed map[string]attributes `json:"wasAttributedTo,omitempty"`
	OnBehalf   map[string]attributes `json:"actedOnBehalfOf,omitempty"`
}

func provType(name string) attributes {
	return attributes{"$": name, "type": "prov:QUALIFIED_NAME"}
}

func (d *provDocument) relate(kind map[string]attributes, a attributes) {
	kind["_:r"+strconv.Itoa(len(d.Generated)+len(d.Used)+len(d.Derived)+len(d.Associated)+len(d.Attributed)+len(d.OnBehalf)+1)] = a
}

func (d *provDocument) generated(entity, activity string) {
	d.relate(d.Generated, attributes{"prov:entity": entity, "prov:activity": activity})
}

func (d *provDocument) used(activity, entity string) {
	d.relate(d.Used, attributes{"prov:activity": activity, "prov:entity": entity})
}

func (d *provDocument) derived(entity, from, activity string) {
	d.relate(d.Derived, attributes{"prov:generatedEntity": entity, "prov:usedEntity": from, "prov:activity": activity})
}

// originOf names the file that each other file is made of.
func originOf(name string) string {
	switch base := strings.TrimSuffix(name, filepath.Ext(name)); {
	case name == "wide.csv", name == MapFile:
		return "results.csv"
	case name == "results.csv", name == "estimates.csv", name == "derived.csv":
		return ""
	case strings.HasSuffix(name, ".parquet"), strings.HasSuffix(name, ".xlsx"):
		return base + ".csv"
	}
	return "results.csv"
}

// provenanceOf tells where the files in dir come from. It names no report,
// sample, client or day, and of laboratories only those that the tables name.
func provenanceOf(dir string, sum Summary, opt Options) (*provDocument, error) {
	d := &provDocument{Prefix: map[string]string{"dataset": "urn:sha256:" + sum.SHA256 + "/"},
		Entity: map[string]attributes{}, Activity: map[string]attributes{}, Agent: map[string]attributes{}, Generated: map[string]attributes{}, Used: map[string]attributes{}, Derived: map[string]attributes{}, Associated: map[string]attributes{}, Attributed: map[string]attributes{}, OnBehalf: map[string]attributes{}}
	const records, reading, publishing, program, office = "dataset:records", "dataset:reading", "dataset:publishing", "dataset:program", "dataset:office"
	d.Agent[program] = attributes{"prov:type": provType("prov:SoftwareAgent"), "prov:label": strings.TrimSpace("Windrow " + opt.Version)}
	d.Entity[records] = attributes{"prov:type": provType("prov:Collection"), "prov:label": "The records of the archive that the dataset is of, with what told who their clients are"}
	d.Activity[reading] = attributes{"prov:label": "Reading the laboratories' reports, and converting their numbers", "dataset:software": strings.Join(sum.Software, "; ")}
	d.Activity[publishing] = attributes{"prov:label": "Taking away who the clients are, and generalising and withholding what tells it, as disclosure.md says", "dataset:k": strconv.Itoa(sum.Disclosure.K)}
	d.generated(records, reading)
	d.used(publishing, records)
	for _, a := range []string{reading, publishing} {
		d.relate(d.Associated, attributes{"prov:activity": a, "prov:agent": program})
	}
	if opt.Office != "" {
		d.Agent[office] = attributes{"prov:type": provType("prov:Organization"), "prov:label": opt.Office}
		d.relate(d.Associated, attributes{"prov:activity": publishing, "prov:agent": office})
		d.relate(d.OnBehalf, attributes{"prov:delegate": program, "prov:responsible": office})
	}
	inputs := func(what, label string, list []string) {
		n := 0
		for _, s := range list {
			if s == "" {
				continue
			}
			n++
			name := "dataset:" + what + "-" + strconv.Itoa(n)
			d.Entity[name] = attributes{"prov:label": label + s}
			d.used(reading, name)
			d.derived(records, name, reading)
		}
	}
	var labs, sources []string
	for lab := range sum.Labs {
		labs = append(labs, cmp.Or(lab, "(not known)"))
	}
	slices.Sort(labs)
	for i, lab := range labs {
		if lab == Suppressed {
			labs[i] = "that are withheld"
		}
	}
	for _, key := range sum.Sources {
		if key != "" {
			sources = append(sources, key+": "+sourceText(key))
		}
	}
	inputs("reports", "Reports of the laboratory ", labs)
	inputs("mapping", "The mapping ", sum.Mappings)
	inputs("tables", "The tables of units and methods with the SHA-256 ", sum.Tables)
	inputs("source", "", sources)
	for _, name := range slices.Concat(Files, []string{MapFile, ResultsBook}) {
		f, err := formOf(dir, name)
		if os.IsNotExist(err) {
			continue
		}
		if err != nil {
			return nil, err
		}
		entity := "dataset:" + name
		d.Entity[entity] = attributes{"prov:label": name, "dataset:mediatype": f.MediaType, "dataset:hash": f.Hash, "dataset:bytes": f.Bytes}
		d.generated(entity, publishing)
		from := records
		if o := originOf(name); o != "" {
			from = "dataset:" + o
		}
		d.derived(entity, from, publishing)
		if opt.Office != "" {
			d.relate(d.Attributed, attributes{"prov:entity": entity, "prov:agent": office})
		}
	}
	return d, nil
}

// crateOf describes the files in dir as an RO-Crate, version 1.1.
func crateOf(dir string, opt Options) (any, error) {
	type id struct {
		ID string `json:"@id"`
	}
	var parts []id
	var files []any
	for _, name := range slices.Concat(Files, []string{MapFile, ResultsBook, ProvenanceFile}) {
		f, err := formOf(dir, name)
		if os.IsNotExist(err) {
			continue
		}
		if err != nil {
			return nil, err
		}
		parts = append(parts, id{name})
		files = append(files, map[string]any{"@id": name, "@type": "File", "name": name, "encodingFormat": f.MediaType, "contentSize": strconv.FormatInt(f.Bytes, 10)})
	}
	root := map[string]any{"@id": "./", "@type": "Dataset", "name": cmp.Or(opt.Title, noTitle),
		"description":   "Soil-test results as laboratories reported them, without what tells who the clients are. codebook.md says what the columns mean, and disclosure.md what was withheld.",
		"datePublished": opt.Published, "license": cmp.Or(opt.Licence, noLicence), "hasPart": parts}
	var more []any
	for _, l := range licencesOf(opt.Licence) {
		if l.Path != "" {
			root["license"] = id{l.Path}
			more = append(more, map[string]any{"@id": l.Path, "@type": "CreativeWork", "name": opt.Licence})
		}
	}
	if opt.Office != "" {
		root["publisher"] = id{"#office"}
		more = append(more, map[string]any{"@id": "#office", "@type": "Organization", "name": opt.Office})
	}
	graph := []any{map[string]any{"@id": CrateFile, "@type": "CreativeWork", "conformsTo": id{"https://w3id.org/ro/crate/1.1"}, "about": id{"./"}}, root}
	return map[string]any{"@context": "https://w3id.org/ro/crate/1.1/context", "@graph": slices.Concat(graph, files, more)}, nil
}

// writeProvenance writes both accounts; that as an RO-Crate only where it is
// known when the dataset was published, which it must say.
func writeProvenance(dir string, sum Summary, opt Options) error {
	put := func(name string, v any, err error) error {
		if err != nil {
			return err
		}
		b, err := encode(v, " ")
		if err != nil {
			return err
		}
		return writeFile(filepath.Join(dir, name), func(w io.Writer) error { _, err := w.Write(b); return err })
	}
	d, err := provenanceOf(dir, sum, opt)
	if err := put(ProvenanceFile, d, err); err != nil || opt.Published == "" {
		return err
	}
	crate, err := crateOf(dir, opt)
	return put(CrateFile, crate, err)
}
