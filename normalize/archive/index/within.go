package index

import "context"

// Within tells of some files, by their SHA-256, the ids of the reports that came
// within each: of a mail or a zip, whose parts have bytes of their own. A report
// knows the name of its mail and not its bytes, so that of a file whose name
// another has too nothing is said.
func (ix *Index) Within(ctx context.Context, files []string) (map[string][]string, error) {
	var names []string
	of, alike := map[string]string{}, map[string]int{}
	err := ix.eachOf(ctx, `SELECT sha256, name FROM sources WHERE name <> '' AND sha256 IN (?)`, files, func(scan func(...any) error) error {
		var file, name string
		err := scan(&file, &name)
		of[file] = name
		names = append(names, name)
		return err
	})
	if err != nil || len(names) == 0 {
		return nil, fault("look up what came within files", ix.path, err)
	}
	err = ix.eachOf(ctx, `SELECT name, count(*) FROM sources WHERE name IN (?) GROUP BY name`, names, func(scan func(...any) error) error {
		var name string
		var n int
		err := scan(&name, &n)
		alike[name] = n
		return err
	})
	reports := map[string][]string{}
	if err == nil {
		err = ix.eachOf(ctx, `SELECT name, id FROM reports WHERE member <> '' AND name IN (?) ORDER BY name, id`, names, func(scan func(...any) error) error {
			var name, id string
			err := scan(&name, &id)
			if alike[name] == 1 {
				reports[name] = append(reports[name], id)
			}
			return err
		})
	}
	out := map[string][]string{}
	for file, name := range of {
		if ids := reports[name]; len(ids) > 0 {
			out[file] = ids
		}
	}
	return out, fault("look up what came within files", ix.path, err)
}

// ReportsOf are the reports of some ids, by id, as they stand now; of one office,
// or for "" of all. One that there is not is not among them.
func (ix *Index) ReportsOf(ctx context.Context, ids []string, office string) (map[string]Report, error) {
	out := map[string]Report{}
	err := ix.eachOf(ctx, `SELECT `+reportColumns+` FROM reports WHERE ($1 = '' OR office = $1) AND id IN (?)`, ids, func(scan func(...any) error) error {
		var r Report
		err := scan(r.fields()...)
		out[r.ID] = r
		return err
	}, office)
	return out, fault("look up reports", ix.path, err)
}
