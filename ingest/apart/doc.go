// Package apart reads files in processes of their own, so that a file that
// makes its parser hang, run out of memory or die harms nothing but itself.
//
// Enters: a [ingest.Source], at the parent. Leaves: the document or reason
// that the real reader made of it in a child, or a reason that says how the
// child ended. Never: a child is not trusted; what it says is bounded in
// size, and nothing of it is run.
//
// The children are this same program, started again; [Child] must be the
// first thing that its main function calls. They are kept and used again, as
// starting one takes longer than reading most files.
package apart
