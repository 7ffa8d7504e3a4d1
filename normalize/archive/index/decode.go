package index

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"slices"

	"example.org/windrow/normalize/check"
)

// A document is what the index takes from the published report format; see
// the JSON Schema of reports. Everything else in it is passed over.
type document struct {
	ID       string `json:"id"`
	Status   string `json:"status"`
	Lab      struct{ ID, Name string }
	ReportNo string `json:"report_no"`
	Source   struct {
		Name, Member, SHA256 string
		Size                 int64
	}
	Mapping  struct{ ID, Layout, SHA256 string }
	Software string
	Office   string
	Records  []record
	Reasons  []struct{ Code, Severity, What, Expected, Found string }
}

type record struct {
	ID, Status string
	Sample     struct {
		LabID       string `json:"lab_sample_id"`
		ClientLabel string `json:"client_sample_id"`
		County      string
		Sampled     string `json:"date_sampled"`
		Received    string `json:"date_received"`
		Reported    string `json:"date_reported"`
		LandUse     string `json:"land_use"`
		DepthIn     string `json:"depth_in"`
		DepthTopIn  string `json:"depth_top_in"`
	}
	Client *struct {
		Name string
	}
	Results []struct {
		Analyte, Detail, Method, Value, Unit, Censored, Class, Status string
		Restates                                                      bool // another result of the record says it, and counts
		Findings                                                      []finding
		Printed                                                       struct {
			Class string `json:"rating_class"`
		}
	}
	Checks []finding
}

// family is what stands for the client; "" for none.
func (r *record) family() string {
	if r.Client == nil {
		return ""
	}
	return family(r.Client.Name)
}

type finding struct{ Check, Severity, What string }

func decode(id string, b []byte) (*document, error) {
	var d document
	if err := unmarshal(b, &d); err != nil {
		return nil, fmt.Errorf("report %s: %w", id, err)
	}
	return d.named(id)
}

// decodeFrom is decode of a document that comes piece by piece: no more of it
// is held than a record, and what the index wants of each.
func decodeFrom(id string, r io.Reader) (*document, error) {
	var d document
	if err := d.read(json.NewDecoder(r)); err != nil {
		return nil, fmt.Errorf("report %s: %w", id, err)
	}
	return d.named(id)
}

func (d *document) read(dec *json.Decoder) error {
	if err := bracket(dec, '{'); err != nil {
		return err
	}
	for dec.More() {
		key, err := dec.Token()
		if err != nil {
			return err
		}
		var raw json.RawMessage
		if key != "records" {
			if err := dec.Decode(&raw); err != nil {
				return err
			}
			k, err := json.Marshal(key)
			if err != nil {
				return err
			}
			if err := unmarshal(slices.Concat([]byte("{"), k, []byte(":"), raw, []byte("}")), d); err != nil {
				return err
			}
			continue
		}
		if err := bracket(dec, '['); err != nil {
			return err
		}
		for dec.More() {
			var r record
			if err := dec.Decode(&raw); err != nil {
				return err
			}
			if err := unmarshal(raw, &r); err != nil {
				return err
			}
			d.Records = append(d.Records, r)
		}
		if err := bracket(dec, ']'); err != nil {
			return err
		}
	}
	return bracket(dec, '}')
}

// bracket takes a bracket from a document.
func bracket(dec *json.Decoder, want json.Delim) error {
	t, err := dec.Token()
	if err == nil && t != want {
		err = fmt.Errorf("%v where %v should be", t, want)
	}
	return err
}

func unmarshal(b []byte, v any) error {
	// PostgreSQL takes no NUL in a text and SQLite ends there.
	if bytes.Contains(b, []byte(`\u0000`)) {
		b = bytes.ReplaceAll(b, []byte(`\u0000`), []byte(`\ufffd`))
	}
	return json.Unmarshal(b, v)
}

func (d *document) named(id string) (*document, error) {
	if d.ID != id {
		return nil, fmt.Errorf("report %s says that it is %q", id, d.ID)
	}
	return d, nil
}

// fingerprint is what a record has in common with one that has the same
// results in every digit.
func (d *document) fingerprint(record int) string {
	var rs []check.EarlierResult
	for _, x := range d.Records[record].Results {
		if x.Value != "" && !x.Restates {
			rs = append(rs, check.EarlierResult{Analyte: x.Analyte, Detail: x.Detail, Method: x.Method, Unit: x.Unit, Value: x.Value})
		}
	}
	return check.Fingerprint(rs)
}

// said is what a record has in common with one that says the same, as
// normalize.Said has it.
func (d *document) said(record int) string {
	rs := make([]check.EarlierResult, 0, len(d.Records[record].Results))
	for _, x := range d.Records[record].Results {
		if (x.Value != "" || x.Class != "") && !x.Restates {
			rs = append(rs, check.EarlierResult{Analyte: x.Analyte, Detail: x.Detail, Method: x.Method, Unit: x.Unit, Value: x.Censored + x.Value + x.Class})
		}
	}
	r := &d.Records[record]
	client := ""
	if r.Client != nil {
		client = r.Client.Name
	}
	layer := r.Sample.DepthIn
	if r.Sample.DepthTopIn != "" {
		layer = r.Sample.DepthTopIn + "-" + layer
	}
	return check.Said(rs, layer, client)
}

// reported is the date to list the report under.
func (d *document) reported() string {
	var reported, received, sampled string
	for _, r := range d.Records {
		reported = max(reported, r.Sample.Reported)
		received = max(received, r.Sample.Received)
		sampled = max(sampled, r.Sample.Sampled)
	}
	for _, s := range []string{reported, received, sampled} {
		if s != "" {
			return s
		}
	}
	return ""
}
