package mappings

import (
	"example.org/windrow/ingest"
	"example.org/windrow/mappings/strict"
)

// A Mapping is the decoded form of one laboratory's mapping file.
type Mapping struct {
	File      string // base name
	SHA256    string // of the file's bytes, lower-case hex
	ID        string
	Lab       string // name of the laboratory
	Place     ingest.Place
	Recognise []*Pattern // all of them stand on every report of the lab
	Unless    []*Pattern // none of them does
	Senders   []string   // mail addresses, or their ends, from which the lab sends reports
	// MessageIsNone says that what the lab writes in its mails is never a
	// report, whatever numbers stand there.
	MessageIsNone bool
	NotReports    []*Companion // what the lab sends beside its reports
	Style         Style
	Ratings       map[string]string    // printed word -> our class, "" when the mapping gives none
	LandUses      map[string]string    // printed word -> our word
	Units         map[string]UnitNote  // printed unit -> what the lab means by it
	Methods       map[string]MethodRef // printed method words -> method
	Qualifiers    map[string]string    // printed qualifier -> one of qualifierMeanings
	Tests         []*Test
	byLabel       map[string]*Test
	Layouts       []*Layout
	Examples      []*Example
	Questions     []*ingest.Reason // that a draft left open; while there is one, every report is held
}

// A Style is how numbers, dates and absent values are written.
type Style struct {
	Decimal   string   // "." or ","
	Thousands string   // "" when the lab groups no digits
	Dates     []string // patterns such as MMMM D, YYYY
	Missing   []string // words for "no value", such as n/a
	Marks     []string // footnote marks on a number, such as *
}

// A UnitNote is what a lab means by a printed unit.
type UnitNote struct {
	ID       string // id of the vocabulary
	Area     *AreaBasis
	PerInch  string // pounds of soil per acre and inch of depth, when the amount follows the sampled depth
	ByVolume bool
	Place    ingest.Place

	rule *ingest.Place // the same, for all readings to share
}

// A MethodRef is a method with the place that named it.
type MethodRef struct {
	ID    string
	Place ingest.Place
}

// A Test is one entry of a lab's catalogue: what a printed label measures.
type Test struct {
	Label      string   // as printed; the key in the file
	Also       []string // other printed labels
	Analyte    string
	Detail     string
	Method     string            // id; "" when the report prints it or nobody says
	Basis      string            // "" for the analyte itself
	Published  string            // id of a published scale of index or class that the laboratory uses; "" for none
	PerVolume  bool              // amount per volume of scooped soil whatever the unit says
	Units      []string          // allowed printed units, first the usual one; empty when the test has none
	Methods    map[string]string // printed method words that mean something else for this test
	MayLack    bool              // the unit may be left out; Units[0] is then meant
	Unprinted  bool              // Units[0] is the lab's stated unit and is not printed
	Dimension  string            // unit id of a test without a printed unit: pH, class, index
	InWords    bool              // the value is a word (texture), not a number
	Scale      map[string]*Band  // printed rating word -> numbers it stands for, when the guide says so; nil when it doesn't
	Place      ingest.Place
	MethodRule ingest.Place

	named   []string // oxides and ions of the element that the mapping's own texts for the test name
	element bool     // one of these texts says that the element is meant
	asked   bool     // the mapping has been told that its texts and its basis do not fit
}

// A Layout is one way in which a lab lays out its reports.
type Layout struct {
	Name      string
	Place     ingest.Place
	Format    ingest.Format
	From, To  string // dates in force, YYYY-MM-DD, inclusive; "" is open
	Recognise []*Pattern
	ReliesOn  []*Pattern
	Dialect   *ingest.Dialect
	Style     Style // the mapping's, with the layout's changes
	Sheets    []*Pattern
	NotSheets []*Pattern
	OneEach   string // "page", "block", "table": what holds one sample
	Block     *Block
	Continues *Pattern // words of a page that goes on with the sample of the page before
	Report    []*FieldRule
	Sample    []*FieldRule
	Tables    []*Table
	Labels    []*Label
	Sentences []*Sentence
	NotResult []*NotResult
	mapping   *Mapping
}

// A Block is a part of a page that holds one sample.
type Block struct {
	Begins *Pattern // its first words; a block reaches to the next beginning below or beside it
	Ends   *Pattern // optional: the block ends before these words
	Place  ingest.Place
}

// A FieldRule finds a text and says which field or fields it is.
type FieldRule struct {
	After    *Pattern // the label to the left
	Below    *Pattern // the label above
	Text     *Pattern // a sentence with {field} in it
	Always   string   // the lab's stated practice; nothing is looked for
	Reads    *Pattern // of the found text; a single field when it has no braces
	Fields   []FieldID
	Optional bool
	Unit     string // of a depth, when the text prints none
	Place    ingest.Place
}

// A Table is a table of results.
type Table struct {
	Name        string
	EachRow     string // "sample", "test" or "reading"
	StartsAfter *Pattern
	EndsBefore  *Pattern
	HeadingRow  int // of a sheet or delimited file, 0 when it may stand anywhere
	Columns     []*Column
	SkipRows    []*SkipRow
	FieldRows   []*FieldRow // of tables with samples across
	RatingRow   string      // label of the rows that hold the rating of the test above them
	Optional    bool
	OnEachPage  bool // heading is repeated on each page; otherwise columns run on as on the page before
	Place       ingest.Place
}

// A Column is one column of a table, in printed order.
type Column struct {
	Heading  []string // stacked texts, top first
	Under    []string // wider headings over several columns, the widest first
	Unit     string   // printed under the heading, "" when none
	Reads    *Pattern
	Field    FieldID // the one field it reads, when it reads one
	Test     *Test
	Tests    []*Test    // more than one only for ratings: one of them has been run
	Only     []*Pattern // the only forms a cell may have, when the mapping says so
	OrBlank  bool       // and that it may be empty
	Blank    string     // what an empty cell means, such as not run; "" when the mapping doesn't say
	Nothing  bool
	Numbers  bool   // numbers may stand in it although it reads nothing
	Why      string // why it is not a result
	Samples  bool   // the heading is a sample's number; the column may repeat
	Optional bool
	Place    ingest.Place
	at       strict.Node
}

// A SkipRow is a row of a table that is not a sample or a test.
type SkipRow struct {
	Begins *Pattern // of the row's text
	Column string   // or the heading of a column
	Says   *Pattern // that says this
	Method string   // id of the method that the row names, as a title, for the rows of tests below it; "" for none
	Why    string
	Place  ingest.Place
}

// A FieldRow is a row of a samples-across table that holds a field.
type FieldRow struct {
	Label  string
	Reads  *Pattern
	Fields []FieldID
	Unit   string // of a depth, when the cells print none
	Place  ingest.Place
}

// A Label is a printed label with its result beside or under it.
type Label struct {
	After *Pattern // the label to the left of the result
	Below *Pattern // the label above it
	Test  *Test
	Reads *Pattern
	Blank string // what the label without a value means, such as not run; "" when the mapping doesn't say
	Place ingest.Place
}

// A Sentence is running text that holds a result.
type Sentence struct {
	Text     *Pattern
	Test     *Test
	Unit     string
	Optional bool
	Place    ingest.Place
}

// A NotResult declares text whose numbers are no results.
type NotResult struct {
	Line  *Pattern // a whole line
	Text  *Pattern // these words
	From  *Pattern // from this line
	To    *Pattern // to before this line; nil: to the end of the page
	Above *Pattern // all above this line
	Box   *Pattern // the lines that stand apart under these words, which are the first
	Why   string
	Place ingest.Place
}

// An Example is a report kept beside the mapping, with what must be read
// from it.
type Example struct {
	File   string // path relative to the mapping
	Sample string // lab sample id; "" when the report has one sample
	Reads  []ExampleValue
	Held   string // code of a reason, or several with " or " between: the report must be held for one of them
	Count  int    // number of readings of the whole report, 0 when not stated
	Place  ingest.Place
}

// An ExampleValue is one expected reading or field.
type ExampleValue struct {
	What  string // test label or field id
	Want  string // printed text, or field value
	Place ingest.Place
}

// Test is the catalogue entry for a printed label, or nil.
func (m *Mapping) Test(label string) *Test { return m.byLabel[squeeze(label)] }

// labels are the printed labels of the catalogue, for suggestions.
func (m *Mapping) labels() []string {
	var out []string
	for _, t := range m.Tests {
		out = append(out, t.Label)
	}
	return out
}
