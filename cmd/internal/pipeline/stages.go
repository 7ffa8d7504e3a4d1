package pipeline

import (
	"context"
	"os"
	"sync"
	"sync/atomic"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/apart"
	"example.org/windrow/ingest/scan"
	"example.org/windrow/ingest/second"
	"example.org/windrow/interpret"
	"example.org/windrow/interpret/rules"
	"example.org/windrow/mappings"
	"example.org/windrow/mappings/labs"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/register"
)

// Stages are the stages from bytes to advice, with the mappings and rule sets
// they need. They keep nothing and are safe for concurrent use. What they read
// by is the same from one call to the next unless [Office.Remap] changes it.
type Stages struct {
	RuleSets []*interpret.RuleSet
	Rules    *interpret.RuleSet // the one that advice is given by
	State    string             // whose fertilizer laws count
	Limits   ingest.Limits
	Version  string
	Amiss    []*ingest.Reason // mistakes in mapping files, whose laboratories' reports therefore wait

	mapped    *atomic.Pointer[mappings.Set]
	folders   []string // of mapping files, as wanted
	pool      *apart.Pool
	passwords []string
	turns     chan struct{} // full when as many files are being read as may be
	twice     *twice
	scans     ingest.Reader // of pictures, and PDF files whose pages are pictures
	timed     func(stage string, took time.Duration)
}

// Want says what to load.
type Want struct {
	MappingDirs []string // folders of mapping files beside the built-in ones; a later one outranks an earlier one
	RuleDir     string   // folder of rule sets beside the built-in ones; "" for none
	RuleSet     string   // id of the rule set for advice, "" for the built-in one
	NoAdvice    bool     // no rule set is loaded, and no advice can be given
	State       string   // two letters of the state whose fertilizer laws count, "" for none
	Limits      ingest.Limits
	Workers     int      // files parsed at once
	Tesseract   string   // program that reads scans, "" for the one that is found
	Passwords   []string // tried on PDF files that don't open without
	Version     string
}

// Load reads the mappings and the rule sets and starts the parsers. A mistake
// in a mapping file stops no other laboratory: it is among Amiss, and reports
// that the mapping should read are held. Any other reason means that there
// are no stages. Close the stages after use.
func Load(w Want) (*Stages, []*ingest.Reason) {
	boundMemory()
	// A parser takes as long to start as the others take to load.
	var (
		loading sync.WaitGroup
		pool    *apart.Pool
		err     error
		sets    []*interpret.RuleSet
		more    []*ingest.Reason
	)
	loading.Go(func() { pool, err = apart.NewPool(w.Workers, ingest.PDF, secondCache()) })
	if !w.NoAdvice {
		loading.Go(func() { sets, more = LoadRules(w.RuleDir) })
	}
	set, found := LoadMappings(w.MappingDirs)
	loading.Wait()
	var reasons, amiss []*ingest.Reason
	for _, r := range found {
		if r.Code == "mapping-error" {
			amiss = append(amiss, r)
		} else {
			reasons = append(reasons, r)
		}
	}
	reasons = append(reasons, more...)
	s := &Stages{Amiss: amiss, mapped: &atomic.Pointer[mappings.Set]{}, folders: w.MappingDirs, twice: &twice{}, RuleSets: sets, State: w.State, Limits: w.Limits.OrDefault(), Version: w.Version, timed: func(string, time.Duration) {}}
	s.mapped.Store(set)
	if len(more) == 0 && !w.NoAdvice {
		var r *ingest.Reason
		if s.Rules, r = pick(sets, w.RuleSet); r != nil {
			reasons = append(reasons, r)
		}
	}
	if err != nil {
		return nil, append(reasons, ingest.AsReason(err))
	}
	if len(reasons) > 0 {
		_ = pool.Close() // of parsers that did nothing
		return nil, reasons
	}
	s.pool, s.passwords = pool, w.Passwords
	s.turns = make(chan struct{}, max(1, w.Workers))
	s.scans = scan.New(scan.Options{Program: w.Tesseract, Passwords: w.Passwords, Prepare: pool.Do(scan.Format)})
	s.twice.client = second.Over(pool.Do(second.Format), w.Passwords...)
	return s, nil
}

// LoadMappings reads the built-in mappings and then those of each folder.
func LoadMappings(dirs []string) (*mappings.Set, []*ingest.Reason) {
	vocab := normalize.Vocabulary()
	set, reasons := mappings.LoadFS(labs.FS, vocab)
	for _, d := range dirs {
		if _, err := os.Stat(d); err != nil {
			reasons = append(reasons, &ingest.Reason{Code: "mapping-folder", Severity: ingest.Fail, Where: ingest.Place{File: d}, What: "the folder of mappings is not there", Expected: "a folder of .yaml files", Found: ingest.Cause(err), Next: "check the path"})
			continue
		}
		reasons = append(reasons, set.Add(os.DirFS(d), vocab)...)
	}
	return set, reasons
}

// LoadRules reads the built-in rule sets and then those of a folder, "" for
// none. A rule set of the folder replaces a built-in one of the same id, may
// take parts of the built-in ones, and may cite their sources; a file of
// overrides there changes a built-in one.
func LoadRules(dir string) ([]*interpret.RuleSet, []*ingest.Reason) {
	if dir == "" {
		return interpret.LoadRules(rules.FS)
	}
	return interpret.LoadRules(rules.FS, os.DirFS(dir))
}

func pick(sets []*interpret.RuleSet, id string) (*interpret.RuleSet, *ingest.Reason) {
	var ids string
	for _, s := range sets {
		if s.ID == id || id == "" {
			return s, nil
		}
		if ids != "" {
			ids += ", "
		}
		ids += s.ID
	}
	return nil, &ingest.Reason{Code: "rules-unknown", Severity: ingest.Fail, What: "there is no rule set of that name", Expected: "one of " + ids, Found: id, Next: "correct rule_set in windrow.yaml, or add the rule set to the folder of rules"}
}

// Mappings are the mappings that reports are read by now.
func (s *Stages) Mappings() *mappings.Set { return s.mapped.Load() }

// Close ends the parsers.
func (s *Stages) Close() error { return s.pool.Close() }

// Defaults are what is known of a report besides what is in it.
type Defaults struct {
	Office  string
	County  string // of a sample whose report names none
	LandUse string
	Arrived string            // YYYY-MM-DD, the day the source came; "" when not known
	Earlier normalize.History // what came before; nil when nothing is known of it
	// Ruling gives what a person decided about a report, nil for nothing; the
	// function is nil where nothing is known of it.
	Ruling func(report string) (*normalize.Ruling, error)
	// Proof gives what a person read in the picture of a scanned report, nil
	// for nothing; the function is nil where nothing is known of it.
	Proof func(report string) (*scan.Proof, error)
	// Register is the office's list of samples that is in force; nil for none.
	Register *register.Register
}

// A Reading is what each stage made of one source. Report is never nil; the
// others are nil from the stage on that could not do its work.
type Reading struct {
	Source  *ingest.Source
	Docs    []*ingest.Document // one for each way of reading the source
	Match   *mappings.Match
	Extract *mappings.Extract
	Report  *normalize.Report

	why  []*ingest.Reason // why there is no extract
	mail string           // title of the outermost mail in which it came, "" for none
	talk *talk            // of what is written in a mail: the numbers in it
	// companion is what mappings declare to be no report, nil for anything else.
	companion *companion
}

// Read leads one source through the stages up to its report, as it is: a mail
// or an archive is not opened (see ReadAll). The error is set only when ctx
// ended: then nothing is known about the source.
func (s *Stages) Read(ctx context.Context, src *ingest.Source, d Defaults) (*Reading, error) {
	rd := &Reading{Source: src}
	if err := s.extract(ctx, rd, d, true); err != nil {
		return nil, err
	}
	s.build(rd, d, false)
	return rd, nil
}

// extract leads a reading up to what a mapping reads from it. Unless whole is
// set it lets go of what the report does not need: the pages, which are the
// larger part, and the account of each number.
func (s *Stages) extract(ctx context.Context, rd *Reading, d Defaults, whole bool) error {
	var reasons []*ingest.Reason
	at(ctx, "read")
	s.time("read", func() { rd.Docs, reasons = s.documents(ctx, rd.Source, d) })
	if err := ctx.Err(); err != nil {
		return err
	}
	if len(rd.Docs) == 0 {
		rd.why = reasons
		return nil
	}
	if rd.mail != "" && isMessage(rd.Source.Member) {
		rd.talk = talkOf(rd)
	}
	var why *ingest.Reason
	recognise := s.Mappings().Recognise
	if !whole {
		recognise = s.Mappings().RecogniseForReport
	}
	at(ctx, "recognise")
	s.time("recognise", func() { rd.Match, why = recognise(rd.Docs) })
	if why != nil && why.Code == "lab-unknown" && rd.mail != "" && !isMessage(rd.Source.Member) {
		rd.companion = s.companionOf(rd.Source, rd.Docs)
	}
	if !whole {
		rd.Docs = nil
	}
	if why != nil {
		rd.why = []*ingest.Reason{why}
		return nil
	}
	rd.Extract = rd.Match.Read()
	if doc := rd.Match.Doc; doc.Format == ingest.PDF {
		at(ctx, "compare")
		s.time("compare", func() { s.twice.compare(ctx, rd.Source, doc, rd.Extract, s.Limits) })
	}
	if !whole {
		rd.Match = &mappings.Match{Mapping: rd.Match.Mapping, Layout: rd.Match.Layout}
	}
	return ctx.Err()
}

// build makes the report of a reading; spent says that it is the last use of
// its extract.
func (s *Stages) build(rd *Reading, d Defaults, spent bool) {
	if rd.Extract == nil {
		rd.Report = normalize.HeldReport(rd.Source.Ref(), normalize.Lab{}, rd.why, s.options(d))
		d.rule(rd.Report)
		return
	}
	s.time("normalise", func() {
		opt := s.options(d)
		opt.Spent = spent
		rd.Report = normalize.Build(rd.Extract, opt)
		d.rule(rd.Report)
		d.Register.Fill(rd.Report)
	})
}

func (s *Stages) options(d Defaults) normalize.Options {
	return normalize.Options{Version: s.Version, Office: d.Office, DefaultCounty: d.County, DefaultLandUse: d.LandUse, Arrived: d.Arrived, Earlier: d.Earlier}
}

// Advise gives the advice for a record: by its own use of the land unless
// ask says another.
func (s *Stages) Advise(rep *normalize.Report, rec *normalize.Record, ask interpret.Ask) *interpret.Advice {
	return s.AdviseBy(s.Rules, rep, rec, ask)
}

// AdviseBy gives advice by one of the rule sets, under the laws of the office's
// state where ask names no other.
func (s *Stages) AdviseBy(rs *interpret.RuleSet, rep *normalize.Report, rec *normalize.Record, ask interpret.Ask) *interpret.Advice {
	if ask.Region == "" {
		ask.Region = s.State
	}
	return interpret.Advise(rec, rep, rs, ask)
}

// time tells how long a stage took.
func (s *Stages) time(stage string, work func()) {
	start := time.Now()
	work()
	s.timed(stage, time.Since(start))
}
