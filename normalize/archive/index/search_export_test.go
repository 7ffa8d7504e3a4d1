package index

import "context"

// SearchBy is Search with bounds between its ways of the test's own.
func SearchBy(ctx context.Context, ix *Index, s Search, few, walked int) ([]Report, error) {
	return ix.search(ctx, s, ways{few, walked})
}
