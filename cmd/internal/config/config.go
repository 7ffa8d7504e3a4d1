package config

import (
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"example.org/windrow/ingest"
)

// FileName is the name of the settings file in an office folder.
const FileName = "windrow.yaml"

// RegisterNames are the names under which a register is looked for in an
// office folder when the settings name none.
var RegisterNames = []string{"register.csv", "register.xlsx"}

// A Config is every setting of an office, checked. Its paths are absolute:
// one that was written relative is taken from the office folder.
type Config struct {
	Dir            string   `mapstructure:"-"` // the office folder, absolute
	Office         Office   `mapstructure:"office"`
	State          string   `mapstructure:"state"`        // two capital letters, "" when not said
	Folders        []Folder `mapstructure:"folders"`      // watched folders, at least one
	Done           string   `mapstructure:"done"`         // where a report goes that was taken
	Held           string   `mapstructure:"held"`         // where a report waits for a person
	Archive        string   `mapstructure:"archive"`      // originals and records, append-only
	Letters        string   `mapstructure:"letters"`      // letters to clients
	Datasets       string   `mapstructure:"datasets"`     // what researchers take away
	Index          string   `mapstructure:"index"`        // the index file, rebuildable from the archive
	Mappings       string   `mapstructure:"mappings"`     // the office's own mapping files
	Rules          string   `mapstructure:"rules"`        // the office's own rule sets
	Language       string   `mapstructure:"language"`     // what letters are written in: en or es
	LettersAs      string   `mapstructure:"letters_as"`   // html, or both for a PDF beside each page
	RuleSet        string   `mapstructure:"rule_set"`     // name of the rule set for advice, "" for the default one
	Register       string   `mapstructure:"register"`     // the office's list of samples sent out; "" for one of RegisterNames, where it is there
	CountyMap      string   `mapstructure:"county_map"`   // outlines of counties as GeoJSON, where it is there
	OverdueDays    int      `mapstructure:"overdue_days"` // days after which a sample without a report is overdue
	Limits         Limits   `mapstructure:"limits"`
	Watch          Watch    `mapstructure:"watch"`
	Workers        int      `mapstructure:"workers"`        // 0 for as many as the processors bear; see WorkerCount
	Listen         string   `mapstructure:"listen"`         // host:port; loopback, or else with sign-in and TLS
	ListenMetrics  string   `mapstructure:"listen_metrics"` // host:port for metrics and health alone, "" for none; may be reached by others
	SignIn         SignIn   `mapstructure:"sign_in"`
	TLS            TLS      `mapstructure:"tls"`
	OpenID         OpenID   `mapstructure:"openid"`
	Engine         Engine   `mapstructure:"engine"`
	Log            Log      `mapstructure:"log"`
	PDFPasswords   string   `mapstructure:"pdf_passwords"`    // passwords of locked PDF files, one a line; see Passwords
	Tesseract      string   `mapstructure:"tesseract"`        // program that reads scans, "" for the one that is found
	DatasetKeyFile string   `mapstructure:"dataset_key_file"` // file of the key that hides identities in datasets, "" for none

	from    map[string]Origin // by key; what a row of config check shows
	empty   bool              // the settings file holds no setting
	written map[string]any    // by key: the value before paths were made absolute
}

// An Office is who the office is, as its letters say it.
type Office struct {
	Name      string `mapstructure:"name"`
	Address   string `mapstructure:"address"` // may have several lines
	Phone     string `mapstructure:"phone"`
	Email     string `mapstructure:"email"`
	Web       string `mapstructure:"web"`       // http or https address
	Signature string `mapstructure:"signature"` // who signs the letters; may have several lines
}

// A Folder is one watched folder and what is known of the reports in it.
type Folder struct {
	Path    string `mapstructure:"path"`     // absolute
	Office  string `mapstructure:"office"`   // name of the office its reports belong to, "" for the office itself
	County  string `mapstructure:"county"`   // county of a report that does not say one
	LandUse string `mapstructure:"land_use"` // use of the land of a report that does not say one
}

// Limits bound what one file may cost; see [ingest.Limits].
type Limits struct {
	Size     Size `mapstructure:"size"`
	Pages    int  `mapstructure:"pages"`
	Cells    int  `mapstructure:"cells"`
	Words    int  `mapstructure:"words"`
	Unzipped Size `mapstructure:"unzipped"`
	Seconds  int  `mapstructure:"seconds"`
	Memory   Size `mapstructure:"memory"`
}

// Watch says how watched folders are looked at.
type Watch struct {
	Settle time.Duration `mapstructure:"settle"` // a file is taken when it has not changed for this long
	Poll   time.Duration `mapstructure:"poll"`   // time between two looks
	Grace  time.Duration `mapstructure:"grace"`  // how long the file in hand may still take once the watch is to stop
}

// Engine is the central engine, where several computers work for one archive.
type Engine struct {
	Database string        `mapstructure:"database"` // address of a PostgreSQL database, without a password; "" for no engine
	Store    string        `mapstructure:"store"`    // address of an object store, without a key; "" for no engine
	Longest  time.Duration `mapstructure:"longest"`  // that one file may take
}

// Used reports whether there is a central engine.
func (e Engine) Used() bool { return e.Database != "" && e.Store != "" }

// Log says what the program writes to stderr about its own work.
type Log struct {
	Level  string `mapstructure:"level"`  // debug, info, warn or error
	Format string `mapstructure:"format"` // text or json
}

// Ingest is the limits in the shape the readers take.
func (l Limits) Ingest() ingest.Limits {
	return ingest.Limits{Bytes: int64(l.Size), Pages: l.Pages, Cells: l.Cells, Words: l.Words,
		Unzipped: int64(l.Unzipped), Seconds: l.Seconds, MemoryMiB: int(l.Memory / MiB)}
}

// WorkerCount is how many files to work on at once: the setting, or when it
// is 0 one more than there are processors, never more than 16 by itself. A
// file changes hands between processes while it is read, and the one more
// keeps the processors busy meanwhile.
func (c *Config) WorkerCount() int {
	if c.Workers > 0 {
		return c.Workers
	}
	return min(16, runtime.GOMAXPROCS(0)+1)
}

// From tells where the value of a setting came from. A setting that does not
// exist gives the zero Origin.
func (c *Config) From(key string) Origin { return c.from[key] }

// File is the path of the settings file.
func (c *Config) File() string { return filepath.Join(c.Dir, FileName) }

// abs is a path as the program uses it: from the office folder unless it is
// absolute. The empty path stays empty.
func (c *Config) abs(p string) string {
	if p == "" {
		return ""
	}
	if filepath.IsAbs(p) {
		return filepath.Clean(p)
	}
	return filepath.Join(c.Dir, filepath.FromSlash(p))
}

// resolve makes every path absolute, and keeps what was written for show.
func (c *Config) resolve() {
	for _, p := range []*string{&c.Done, &c.Held, &c.Archive, &c.Letters, &c.Datasets, &c.Index,
		&c.Mappings, &c.Rules, &c.Register, &c.CountyMap, &c.DatasetKeyFile, &c.SignIn.Users, &c.SignIn.Log, &c.TLS.Certificate, &c.TLS.Key, &c.OpenID.SecretFile} {
		*p = c.abs(*p)
	}
	for i := range c.Folders {
		c.Folders[i].Path = c.abs(c.Folders[i].Path)
	}
}

// Passwords are those that locked PDF files are tried with.
func (c *Config) Passwords() []string {
	var out []string
	for _, p := range strings.Split(c.PDFPasswords, "\n") {
		if p = strings.TrimRight(p, "\r"); p != "" {
			out = append(out, p)
		}
	}
	return out
}
