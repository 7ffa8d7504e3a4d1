package dataset

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strconv"
)

// writeDisclosure writes the disclosure report in both its forms.
func writeDisclosure(dir string, sum Summary, opt Options) error {
	p := disclosurePage(sum, opt)
	write := func(name string, b []byte) error {
		return writeFile(filepath.Join(dir, name), func(w io.Writer) error { _, err := w.Write(b); return err })
	}
	return errors.Join(write("disclosure.md", p.markdown()), write("disclosure.html", p.html()))
}

// percent is a share in whole percent.
func percent(part, of int) string {
	if of == 0 {
		return "0 %"
	}
	return strconv.Itoa((100*part+of/2)/of) + " %"
}

// disclosurePage is the account for whoever answers for the privacy of the
// clients. It names no client, no sample and no group smaller than the tables
// show.
func disclosurePage(sum Summary, opt Options) *page {
	d := &sum.Disclosure
	p := &page{title: "Disclosure report: " + cmp.Or(opt.Title, noTitle)}
	if opt.Office != "" {
		p.say("Office: %s", opt.Office)
	}
	p.say("This page says what was done so that no client can be found again in the tables beside it, what that cost, and what risk is left. It belongs to the tables whose `results.csv` has the SHA-256 `%s`, and is true of no other.", sum.SHA256)
	disclosureInShort(p, d)
	disclosureDropped(p, d)
	disclosureGroups(p, d)
	disclosureLead(p, d)
	disclosureReleases(p, d)
	disclosureRisks(p, d, opt)
	disclosureDecision(p, d)
	disclosureKey(p, sum)
	p.heading("Where the method comes from")
	p.points(
		"The size of groups is k-anonymity: Sweeney L 2002, k-anonymity: a model for protecting privacy, International Journal of Uncertainty, Fuzziness and Knowledge-Based Systems 10(5), 557–570. Here k counts clients and not samples, as in the (X,Y)-anonymity of Wang K, Fung BCM 2006, Anonymizing sequential releases, KDD 2006, since ten samples of one farm hide nobody.",
		"Generalising before leaving out, and the measure of the loss (precision): Sweeney L 2002, Achieving k-anonymity privacy protection using generalization and suppression, in the same issue, 571–588.",
		"The diversity of lead: Machanavajjhala A, Kifer D, Gehrke J, Venkitasubramaniam M 2007, l-diversity: privacy beyond k-anonymity, ACM Transactions on Knowledge Discovery from Data 1(1), article 3.",
		"The codes: HMAC, RFC 2104 (Krawczyk, Bellare and Canetti 1997), with SHA-256, FIPS 180-4.",
		"These are cited from memory; none was open while this program was written.")
	return p
}

func disclosureInShort(p *page, d *Disclosure) {
	p.heading("In short")
	if d.Decision != nil {
		p.say("These tables are less protected than they should be. Groups of fewer than %d clients were allowed, down to %d. Decided by: %s. Reason: %s. Don't give them to anybody for whom the decision was not made.", DefaultGroup, d.K, d.Decision.By, d.Decision.Why)
	}
	if d.K > 1 {
		p.say("Whatever somebody knows of a client by the columns county, land use, period, depth and laboratory, and by the kinds of tests that were made, fits samples of no client in the tables, or of at least %d.", d.K)
	}
	p.table([][]string{
		{"samples", strconv.Itoa(d.Samples), strconv.Itoa(d.Samples - d.Suppressed), strconv.Itoa(d.Suppressed) + " (" + percent(d.Suppressed, d.Samples) + ")"},
		{"clients", strconv.Itoa(d.Clients), strconv.Itoa(d.ClientsOut), strconv.Itoa(d.Clients-d.ClientsOut) + " (" + percent(d.Clients-d.ClientsOut, d.Clients) + ")"},
		{"results", strconv.Itoa(d.Results), strconv.Itoa(d.Results - d.ResultsCut - d.ResultsSuppressed), strconv.Itoa(d.ResultsCut+d.ResultsSuppressed) + " (" + percent(d.ResultsCut+d.ResultsSuppressed, d.Results) + ")"},
	}, "", "that could go out", "in the tables", "left out here")
	p.say("Of the results left out, %d are of samples that are left out whole, and %d are of tests that too few samples of their group have. What is held, or was reported twice in the same words, is counted nowhere here; the codebook tells of it.", d.ResultsSuppressed, d.ResultsCut)
	if gone := d.withheldThroughout(); len(gone) > 0 {
		p.say("What can't be asked of these tables any more, since it is withheld of every sample: %s. What laboratories found by the same method can still be compared, and counted.", joinWords(gone))
	}
	if d.Samples > 0 && d.Suppressed == d.Samples {
		p.say("Nothing could go out: %s of %s are too few to hide anybody. More clients are needed, not more samples.", count(d.Samples, "sample"), count(d.Clients, "client"))
	}
}

func disclosureDropped(p *page, d *Disclosure) {
	p.heading("What never leaves the office")
	p.points(
		"Names, addresses, telephone numbers and e-mail addresses; the client's own label of a sample; the laboratory's numbers of samples and reports; the area and anything else from the register; file names and places on the page; the days of sampling, arrival and report; the client's and the laboratory's words for the use of the land; recommendations and remarks.",
		"Which samples came in one report: who knows that a neighbour sent eleven samples could look for the report with eleven.",
		"What the checks found of a sample or a report as a whole, such as a date that can't be, where not every sample of the group has it.")
	p.heading("What is generalised")
	p.say("A neighbour may know where a client lives, what grows there, when samples were taken, how deep, and which laboratory was used. These five are the quasi-identifiers; nothing else in the tables is known without the laboratory's report itself. The laboratory, the layout of its report, its mapping, its methods and units, and which tests were made give each other away, so that they are one of the five and are always withheld together.")
	var rows [][]string
	for _, s := range d.Steps {
		rows = append(rows, []string{s.What, s.Level, strconv.Itoa(s.Samples), percent(s.Samples, d.Samples-d.Suppressed)})
	}
	if len(rows) > 0 {
		p.table(rows, "quasi-identifier", "level", "samples", "share")
	}
	p.say("The program goes from the level where nothing is generalised to the one where everything is, by the loss: each quasi-identifier counts alike, and each of its levels as its share of the way to withheld. At each step those of the samples that are alike, and of at least %d clients, are settled; the others go on. Who is left at the end joins the group that loses least by it, or is left out whole where that costs less. No group is made by cutting more than half of the results of one of its samples. On the average %s %% of what the quasi-identifiers tell was generalised away (Sweeney's precision is 100 less this).", d.K, d.Loss)
}

func disclosureGroups(p *page, d *Disclosure) {
	p.heading("The groups before and after")
	p.say("A group is the samples that are alike by all five. Its size is the number of clients: names that may be of one client, such as R. Hale and Rosa Hale, count as one; and all samples of reports that don't say whose they are count as one client's together, since nothing says that they are of two: %d samples here. The second column was counted in the finished tables, not in the plan.", d.Unnamed)
	k, b, a := d.K, d.Before, d.After
	row := func(what string, x, y int) []string { return []string{what, strconv.Itoa(x), strconv.Itoa(y)} }
	rows := [][]string{row("groups", b.Groups, a.Groups), row("clients of the smallest group", b.Smallest, a.Smallest)}
	if k > 1 {
		rows = append(rows, row("samples in groups of 1 client", b.Single, a.Single))
	}
	if k > 2 {
		rows = append(rows, row(fmt.Sprintf("samples in groups of 2 to %d clients", k-1), b.Small, a.Small))
	}
	rows = append(rows, row(fmt.Sprintf("samples in groups of %d to %d clients", k, 2*k-1), b.Enough, a.Enough), row(fmt.Sprintf("samples in groups of %d clients and more", 2*k), b.Large, a.Large),
		row(fmt.Sprintf("samples in groups of fewer than %d samples", k), b.SmallBySamples, a.SmallBySamples))
	p.table(rows, "", "before", "in the tables")
}

func disclosureLead(p *page, d *Disclosure) {
	p.heading("Lead")
	l := d.Lead
	if l.Groups == 0 {
		p.say("The tables have no value of lead.")
		return
	}
	p.say("A group hides who is who, but not what all its members have in common. Lead is what would hurt a client most if it were known. In %s with values of lead (%s; each kind of determination by itself), the least number of classes of lead side by side is %d, and the least diversity by entropy %s. The classes are: %s. They tell groups apart and judge no soil.", count(l.Groups, "group"), count(l.Samples, "sample"), l.Distinct, l.Entropy, joinWords(l.Lines))
	if len(l.Alike) == 0 {
		p.say("In no group do all samples have one class of lead.")
		return
	}
	p.say("In these groups all samples have one class: who knows that somebody is in the group knows the class. Decide whether that may be known, above all where the class is a high one.")
	var rows [][]string
	for _, a := range l.Alike {
		rows = append(rows, []string{a.Group, strconv.Itoa(a.Samples), a.Class})
	}
	p.table(rows, "group", "samples with lead", "class")
}

func joinWords(list []string) string {
	out := ""
	for i, s := range list {
		if i > 0 {
			out += "; "
		}
		out += s
	}
	return out
}

func disclosureReleases(p *page, d *Disclosure) {
	p.heading("More than one dataset")
	p.say("Two datasets together can tell what neither tells alone. Who has both can take the older from the newer: if one client's samples came in between, they stand alone in the difference, however large their group is. And a sample that is generalised by its county in one and by its date in the other is known by both. Codes that agree make this easy; without them the measured values still do.")
	c := d.Previous
	switch {
	case c == nil:
		p.say("No dataset given out before was named when this one was made, so that nothing was compared. If there is one, make this dataset again and name it (`--previous`).")
	case !c.SameKey:
		p.say("The dataset given out before was made with another key, so that the codes don't agree and were not compared. Measured values may still be; give both only to people who may see either.")
	default:
		p.say("The dataset given out before has %s in common with this one; %d are new, and %d are gone. With both at hand:", count(c.Both, "sample"), c.New, c.Gone)
		p.table([][]string{
			{fmt.Sprintf("new samples that stand with fewer than %d new clients in their group", d.K), strconv.Itoa(c.NewAlone)},
			{fmt.Sprintf("gone samples that went with fewer than %d of their group", d.K), strconv.Itoa(c.GoneAlone)},
			{fmt.Sprintf("samples in both that the two together show alike with fewer than %d clients", d.K), strconv.Itoa(c.Narrowed)},
		}, "what can be told", "samples")
		if c.Alone() > 0 {
			p.say("Don't give this dataset to anybody who may have the other one. Wait until more samples have come, make one for longer periods (a whole year at a time), or take the other one back.")
		}
	}
}

func disclosureRisks(p *page, d *Disclosure, opt Options) {
	p.heading("What risk is left")
	out := d.Samples - d.Suppressed
	risks := []string{
		fmt.Sprintf("Measured values are published as they were measured, or, where the laboratory is withheld, to two or three digits, since they are what a dataset is for. %d of %d samples have a value that no other sample has. Whoever holds the laboratory's report of a sample, or was told one of its numbers to the last digit, can find its line. From there he can learn the other results of that sample, but nothing else: not the client's other samples, and of place, date and use no more than the columns of its group.", d.UniqueValue, out),
		fmt.Sprintf("Somebody who knows that a client is in the tables learns what the client's whole group has in common. That he is in them is easily guessed: %d of %s are.", d.ClientsOut, count(d.Clients, "client")),
		fmt.Sprintf("A group is smaller for those who are in it. A client who knows his own line again is left with the others; and where all but one of a group put together what they know, the last one is found. The smallest group here is of %s.", count(d.After.Smallest, "client")),
		"The highest and lowest values of a county may be talked of. An extraordinary value is a rare detail that no group hides.",
		"Two people of one household with two names count as two clients, and so does one client under two names, such as a farm's and its owner's.",
		"A client who had samples tested in several groups is behind each of them; the tables don't tell that they are one client's.",
		"Whoever has the office's key and guesses laboratory, report and sample numbers can make the codes himself.",
	}
	if d.LabGuessed > 0 {
		risks = append(risks, fmt.Sprintf("Numbers may give away the laboratory where its name is withheld: one prints whole numbers, one halves, and methods differ by a little everywhere. So the numbers of a group are told to the places that all its laboratories give, but not to fewer than two digits. Should somebody tell the laboratories apart all the same, %d of %d samples would stand in groups of fewer than %d clients. If readers may know which laboratory a neighbour used, ask for larger groups, or give out one laboratory's samples at a time.", d.LabGuessed, out, d.K))
	}
	if opt.Office != "" {
		risks = append(risks, "The name of the office tells where most of its clients live, also where the county is withheld.")
	}
	p.points(risks...)
	p.say("This report lowers no duty of the office under its own law and rules. Where these ask for more, such as larger groups, an agreement with whoever receives the tables, or a review, they go first.")
}

// disclosureDecision says who is to decide, and what there is to decide.
func disclosureDecision(p *page, d *Disclosure) {
	p.heading("Who decides")
	p.say("Windrow decides nothing but what is told above. Whether these tables leave the office, for whom, and on what terms is for the person who answers there for the clients' privacy. That person should be able to say yes to each of these, and keep a note of it with the name, the day and the SHA-256 above:")
	points := []string{
		"The tables are worth giving out with what was left of them, and nobody needs what was withheld so much that he would try to get it back.",
		fmt.Sprintf("Groups of at least %s are enough for those who will see the tables. %d is what Windrow begins with, by common practice and without proof; a public dataset of a small county may need more.", count(d.K, "client"), DefaultGroup),
		"Nobody comes to harm if everybody reads them. Else they go to named people, who agree not to look for clients, not to pass them on and to say when they find somebody all the same.",
		"Every dataset that was given out before was named and compared, or has been taken back.",
	}
	if len(d.Lead.Alike) > 0 {
		points = append(points, "The groups in which all samples have one class of lead may be known as such.")
	}
	p.points(points...)
}

func disclosureKey(p *page, sum Summary) {
	p.heading("The key")
	p.say("The codes of samples were made with the key of the mark `%s`: HMAC-SHA-256 over laboratory, report number and sample number. The key lies with the office in a file that only its account may read, and is in none of these files; the mark is made from it and tells nothing of it. With a new key (`windrow dataset new-key`) every sample gets a new code, so that datasets before and after don't agree by code. Take a new key when the old one may have been seen, or when a dataset should not be joined to earlier ones.", sum.KeyMark)
}
