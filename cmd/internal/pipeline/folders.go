package pipeline

import (
	"context"
	"time"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/ingest"
	"example.org/windrow/ingest/folder"
)

// Watcher watches folders of the office and works on what is dropped there.
// tell is told of each outcome, by several goroutines. Of the options, those
// that the settings say are filled in.
func (o *Office) Watcher(folders []config.Folder, tell func(Outcome), opt folder.Options) (*folder.Watcher, error) {
	c := o.Config
	opt.Settle, opt.Every, opt.Workers, opt.MaxBytes, opt.Grace, opt.Report = c.Watch.Settle, c.Watch.Poll, c.WorkerCount(), o.Stages.Limits.Bytes, c.Watch.Grace, o.Tell
	if o.distant != nil {
		// Files wait at the central engine and not for this computer; when it
		// can't be reached, it is asked again soon; and nothing is lost by
		// leaving at once.
		opt.Workers, opt.Longest, opt.Grace = inTransit, 30*time.Second, time.Second
	}
	var list []folder.Settings
	for _, f := range folders {
		name := f.Office
		if name == "" {
			name = c.Office.Name
		}
		list = append(list, folder.Settings{Dir: f.Path, Done: c.Done, Held: c.Held, Office: name, County: f.County, LandUse: f.LandUse})
	}
	return folder.New(list, func(ctx context.Context, t folder.Taken) folder.Outcome {
		out := o.Process(ctx, Arrival{Source: ingest.NewSource(t.Name, t.Bytes), Channel: "folder", Time: t.Modified,
			Defaults: Defaults{Office: t.Folder.Office, County: t.Folder.County, LandUse: t.Folder.LandUse}})
		if tell != nil {
			tell(out)
		}
		mark := ingest.Mark(out.SHA256)
		switch out.Status {
		case Held:
			return folder.Outcome{Result: folder.Held, Reasons: out.Reasons, Used: out.Used(), Mark: mark}
		case Failed:
			return folder.Outcome{Result: folder.Again, Reasons: out.Reasons, Mark: mark}
		}
		return folder.Outcome{Result: folder.Done, Mark: mark}
	}, opt)
}
