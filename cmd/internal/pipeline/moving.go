package pipeline

import "context"

// A Move is a file that has come to a stage, for those who want to see it go.
type Move struct {
	Name   string // of the file
	SHA256 string
	Office string // whose it is
	Stage  string // one of StageNames, or StageElsewhere; "" when the file is done with
	// Part and Parts say which of the reports in the file is meant, where there
	// are several.
	Part, Parts int
}

// StageElsewhere is where a file is whose work a central engine does.
const StageElsewhere = "elsewhere"

type moveKey struct{}

// follow has what is done under a context told as moves of a file. The function
// that it gives says that the file is done with.
func (o *Office) follow(ctx context.Context, a Arrival) (context.Context, func()) {
	if o.Moved == nil {
		return ctx, func() {}
	}
	m := Move{Name: a.Source.Name, SHA256: a.Source.SHA256, Office: a.Defaults.Office}
	tell := func(stage string, part, parts int) {
		m := m
		m.Stage, m.Part, m.Parts = stage, part, parts
		o.Moved(m)
	}
	return context.WithValue(ctx, moveKey{}, tell), func() { tell("", 0, 0) }
}

// at tells that the file of a context has come to a stage.
func at(ctx context.Context, stage string) { atPart(ctx, stage, 0, 0) }

// atPart is at for one of several reports in the file.
func atPart(ctx context.Context, stage string, part, parts int) {
	if tell, ok := ctx.Value(moveKey{}).(func(string, int, int)); ok {
		tell(stage, part, parts)
	}
}

// partOf is a context for one of several reports in a file: what is told under
// it says which.
func partOf(ctx context.Context, part, parts int) context.Context {
	tell, ok := ctx.Value(moveKey{}).(func(string, int, int))
	if !ok || parts < 2 {
		return ctx
	}
	return context.WithValue(ctx, moveKey{}, func(stage string, _, _ int) { tell(stage, part, parts) })
}
