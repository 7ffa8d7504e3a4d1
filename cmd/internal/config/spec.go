package config

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"example.org/windrow/ingest"
)

// A Kind is the type of a setting's value.
type Kind string

// The kinds of settings.
const (
	Text     Kind = "text"
	Path     Kind = "path"
	Count    Kind = "whole number"
	Bytes    Kind = "size"
	Duration Kind = "duration"
	Word     Kind = "word"   // one of Choices
	List     Kind = "folder" // the list of watched folders, in the file only
)

// A Field is one setting: the single place that says its key, type, default
// and meaning, from which the flags, the environment, the template, the
// reference table and config check are all made.
type Field struct {
	Key      string // with dots, such as limits.pages
	Kind     Kind
	Default  any      // string, int, Size, time.Duration or []Folder, by kind
	Choices  []string // of a Word
	Min, Max int64    // of a Count, a Size in bytes or a Duration in nanoseconds, inclusive
	Lines    bool     // the text may have several lines
	Secret   bool     // the value is never printed
	Doc      string   // one sentence for the operator
}

// Env is the environment variable that sets the field, "" when there is none.
func (f Field) Env() string {
	if f.Kind == List {
		return ""
	}
	return envPrefix + strings.ToUpper(strings.ReplaceAll(f.Key, ".", "_"))
}

// Flag is the name of the flag that sets the field, "" when there is none.
// Only the flags that a command asked for with AddFlags exist.
func (f Field) Flag() string {
	if f.Kind == List {
		return ""
	}
	return strings.NewReplacer(".", "-", "_", "-").Replace(f.Key)
}

const envPrefix = "WINDROW_"

// Spec is every setting, in the order in which they are shown.
func Spec() []Field {
	lim := ingest.DefaultLimits()
	return []Field{
		{Key: "office.name", Kind: Text, Default: "", Doc: "name of the office, as its letters print it"},
		{Key: "office.address", Kind: Text, Default: "", Lines: true, Doc: "postal address, on as many lines as it needs"},
		{Key: "office.phone", Kind: Text, Default: "", Doc: "telephone number, in quotes"},
		{Key: "office.email", Kind: Text, Default: "", Doc: "e-mail address for clients"},
		{Key: "office.web", Kind: Text, Default: "", Doc: "web address for clients, with https://"},
		{Key: "office.signature", Kind: Text, Default: "", Lines: true, Doc: "who signs the letters"},
		{Key: "language", Kind: Word, Default: "en", Choices: []string{"en", "es"}, Doc: "what letters are written in: English or Spanish"},
		{Key: "state", Kind: Text, Default: "", Doc: "state, as two capital letters"},
		{Key: "folders", Kind: List, Default: []Folder{{Path: "inbox"}},
			Doc: "watched folders; each has a path, and may have an office, a county and a land_use for reports that do not say theirs"},
		{Key: "done", Kind: Path, Default: "done", Doc: "where a report goes when it has been taken"},
		{Key: "held", Kind: Path, Default: "held", Doc: "where a report waits for a person, beside a note that says why"},
		{Key: "archive", Kind: Path, Default: "archive", Doc: "originals and records; only ever added to"},
		{Key: "letters", Kind: Path, Default: "letters", Doc: "letters to clients"},
		{Key: "letters_as", Kind: Word, Default: "html", Choices: []string{"html", "both"}, Doc: "a page for each letter, or both a page and a PDF"},
		{Key: "datasets", Kind: Path, Default: "datasets", Doc: "datasets for researchers"},
		{Key: "index", Kind: Path, Default: "index.sqlite", Doc: "index file; can always be made again from the archive"},
		{Key: "mappings", Kind: Path, Default: "mappings", Doc: "the office's own mapping files, beside the built-in ones"},
		{Key: "rules", Kind: Path, Default: "rules", Doc: "the office's own rule sets, beside the built-in ones"},
		{Key: "rule_set", Kind: Text, Default: "", Doc: "name of the rule set for advice; nothing means the built-in one"},
		{Key: "register", Kind: Path, Default: "", Doc: "the office's list of samples sent out; nothing means register.csv or register.xlsx in the office folder, where there is one"},
		{Key: "county_map", Kind: Path, Default: "counties.geojson", Doc: "outlines of counties, as GeoJSON with a property name, by which the pages about counties draw a map; without the file they have tables alone"},
		{Key: "overdue_days", Kind: Count, Default: 45, Min: 1, Max: 1000, Doc: "days after which a sample without a report is overdue, whatever its laboratory usually takes"},
		{Key: "pdf_passwords", Kind: Text, Default: "", Lines: true, Secret: true, Doc: "passwords of laboratories whose PDF files are locked, one a line"},
		{Key: "tesseract", Kind: Text, Default: "", Doc: "program that reads scans; nothing means tesseract where it is installed"},
		{Key: "limits.size", Kind: Bytes, Default: Size(lim.Bytes), Min: 1 << 10, Max: 4 << 30, Doc: "largest file that is read"},
		{Key: "limits.pages", Kind: Count, Default: lim.Pages, Min: 1, Max: 100_000, Doc: "most pages or sheets of one file"},
		{Key: "limits.cells", Kind: Count, Default: lim.Cells, Min: 1, Max: 1_000_000_000, Doc: "most cells of one workbook or text table"},
		{Key: "limits.words", Kind: Count, Default: lim.Words, Min: 1, Max: 1_000_000_000, Doc: "most words on the pages of one file"},
		{Key: "limits.unzipped", Kind: Bytes, Default: Size(lim.Unzipped), Min: 1 << 10, Max: 64 << 30, Doc: "most that a compressed file may grow to"},
		{Key: "limits.seconds", Kind: Count, Default: lim.Seconds, Min: 1, Max: 3600, Doc: "longest that one file may take, in seconds"},
		{Key: "limits.memory", Kind: Bytes, Default: Size(lim.MemoryMiB) * MiB, Min: 64 << 20, Max: 64 << 30, Doc: "most memory that reading one file may take"},
		{Key: "watch.settle", Kind: Duration, Default: 2 * time.Second, Min: int64(500 * time.Millisecond), Max: int64(time.Hour),
			Doc: "a file is taken when it has not changed for this long"},
		{Key: "watch.poll", Kind: Duration, Default: time.Second, Min: int64(100 * time.Millisecond), Max: int64(time.Hour),
			Doc: "time between two looks at the watched folders"},
		{Key: "watch.grace", Kind: Duration, Default: 2 * time.Minute, Min: int64(time.Second), Max: int64(time.Hour),
			Doc: "how long the file in hand may still take once the watch is to stop; after that it is left for the next start"},
		{Key: "workers", Kind: Count, Default: 0, Min: 0, Max: 256, Doc: "files worked on at once; 0 means one for each processor"},
		{Key: "listen", Kind: Text, Default: "127.0.0.1:8470", Doc: "address of the pages and of /metrics; this computer only, unless people sign in and there is a certificate"},
		{Key: "listen_metrics", Kind: Text, Default: "", Doc: "further address of /metrics, /healthz, /readyz and /livez alone, which hold no names; other computers may reach it; nothing means none"},
		{Key: "sign_in.users", Kind: Path, Default: "", Doc: "list of those who may sign in to the pages, such as users.yaml, which windrow user writes; nothing means that nobody signs in and the pages are for this computer only"},
		{Key: "sign_in.address", Kind: Text, Default: "", Doc: "address by which browsers reach the pages, such as https://soil.office.example:8470; the pages answer to it and to names of this computer"},
		{Key: "sign_in.proxies", Kind: Text, Default: "", Doc: "addresses of proxies in front of the pages, parted by commas; browsers come to them by TLS, and their word on where a request comes from is taken"},
		{Key: "sign_in.idle", Kind: Duration, Default: 30 * time.Minute, Min: int64(time.Minute), Max: int64(24 * time.Hour), Doc: "after which one who does nothing must sign in again"},
		{Key: "sign_in.longest", Kind: Duration, Default: 10 * time.Hour, Min: int64(5 * time.Minute), Max: int64(7 * 24 * time.Hour), Doc: "after which everybody must sign in again"},
		{Key: "sign_in.log", Kind: Path, Default: "access.jsonl", Doc: "log of who saw and changed what, where people sign in; only ever added to"},
		{Key: "tls.certificate", Kind: Path, Default: "", Doc: "certificate with which the pages are served, a PEM file with the chain; it is read again when it changes"},
		{Key: "tls.key", Kind: Path, Default: "", Doc: "its key, a PEM file that this account alone may read"},
		{Key: "openid.issuer", Kind: Text, Default: "", Doc: "OpenID provider that people may sign in at, such as https://login.office.example; nothing means none"},
		{Key: "openid.client", Kind: Text, Default: "", Doc: "client id by which the provider knows this desk; it sends people back to /sign-in/return under sign_in.address"},
		{Key: "openid.secret_file", Kind: Path, Default: "", Secret: true, Doc: "file that holds the client's secret; the secret itself never stands here; nothing means a client without one"},
		{Key: "openid.role_claim", Kind: Text, Default: "", Doc: "claim of the provider's token that holds office, steward or researcher; nothing means that the list of users has the roles, by the provider's subject or by an e-mail address that it has verified"},
		{Key: "openid.office_claim", Kind: Text, Default: "", Doc: "claim that holds the name of the office, for those whose role is office"},
		{Key: "engine.database", Kind: Text, Default: "", Doc: "PostgreSQL database of the central engine, such as postgres://windrow@db.example/windrow; its password is in PGPASSWORD or the file that PGPASSFILE names; nothing means that all is done on this computer"},
		{Key: "engine.store", Kind: Text, Default: "", Doc: "object store of the central engine's archive, such as s3://bucket?region=REGION; its keys are in AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY or the file that AWS_SHARED_CREDENTIALS_FILE names"},
		{Key: "engine.longest", Kind: Duration, Default: 10 * time.Minute, Min: int64(time.Second), Max: int64(24 * time.Hour), Doc: "longest that a worker of the central engine may take for one file; a file whose worker died is given to another one after that"},
		{Key: "log.level", Kind: Word, Default: "info", Choices: []string{"debug", "info", "warn", "error"}, Doc: "how much is told on the way"},
		{Key: "log.format", Kind: Word, Default: "text", Choices: []string{"text", "json"}, Doc: "how it is written"},
		{Key: "dataset_key_file", Kind: Path, Default: "", Secret: true,
			Doc: "file that holds the key with which datasets hide identities; the key itself never stands here"},
	}
}

// folderKeys are the settings of one watched folder.
var folderKeys = []string{"path", "office", "county", "land_use"}

func field(key string) (Field, bool) {
	spec := Spec()
	i := slices.IndexFunc(spec, func(f Field) bool { return f.Key == key })
	if i < 0 {
		return Field{}, false
	}
	return spec[i], true
}

// Wants says in words what a value must look like.
func (f Field) Wants() string {
	switch f.Kind {
	case Count:
		return fmt.Sprintf("a whole number from %d to %d", f.Min, f.Max)
	case Bytes:
		return fmt.Sprintf("a size from %s to %s, such as 64 MiB", Size(f.Min), Size(f.Max))
	case Duration:
		return fmt.Sprintf("a duration from %s to %s, such as 2s or 1m30s", short(time.Duration(f.Min)), short(time.Duration(f.Max)))
	case Word:
		return "one of " + strings.Join(f.Choices, ", ")
	case Path:
		return "a path, relative to the office folder or absolute"
	case List:
		return "a list of folders, each line beginning with \"- path:\""
	case Text:
		if f.Lines {
			return "text"
		}
		return "text on one line"
	}
	return string(f.Kind)
}

// parse turns the text of a flag or of an environment variable, or a text in
// the file, into the field's own type. The error carries no text: Wants says
// what was wanted.
func (f Field) parse(s string) (any, bool) {
	switch f.Kind {
	case Count:
		n, ok := wholeNumber(s)
		if !ok || n < f.Min || n > f.Max {
			return nil, false
		}
		return int(n), true
	case Bytes:
		n, ok := parseSize(s)
		if !ok || int64(n) < f.Min || int64(n) > f.Max {
			return nil, false
		}
		return n, true
	case Duration:
		d, ok := parseDuration(s)
		if !ok || int64(d) < f.Min || int64(d) > f.Max {
			return nil, false
		}
		return d, true
	case Word:
		return s, slices.Contains(f.Choices, s)
	case Text, Path:
		return s, plain(s, f.Lines)
	}
	return nil, false
}

// show is a value as the template, config check and the reference print it.
func (f Field) show(v any) string {
	switch v := v.(type) {
	case time.Duration:
		return short(v)
	case []Folder:
		parts := make([]string, len(v))
		for i, d := range v {
			parts[i] = d.Path
			for _, x := range []struct{ k, v string }{{"office", d.Office}, {"county", d.County}, {"land_use", d.LandUse}} {
				if x.v != "" {
					parts[i] += " (" + x.k + " " + x.v + ")"
				}
			}
		}
		return strings.Join(parts, ", ")
	}
	return fmt.Sprint(v)
}
