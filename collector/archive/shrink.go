package archive

import (
	"context"
	"fmt"
)

// size is the file's size and how much of it is in use, bytes.
func size(ctx context.Context, q querier) (file, used int64, err error) {
	var page, pages, free int64
	for query, into := range map[string]*int64{"page_size": &page, "page_count": &pages, "freelist_count": &free} {
		if err := q.QueryRowContext(ctx, "PRAGMA "+query).Scan(into); err != nil {
			return 0, 0, err
		}
	}
	return page * pages, page * (pages - free), nil
}

// How much of the file may be empty before it is made shorter: sealing leaves room behind that the next
// scans fill again.
const (
	spareShare = 4       // a quarter
	spareBytes = 1 << 20 // and at least so much
	shrinkStep = 256     // pages moved in one transaction, a few milliseconds
)

// shrink gives free pages at the end of the file back to the file system.
func (a *Archive) shrink(ctx context.Context) error {
	file, used, err := size(ctx, a.read)
	if err != nil {
		return err
	}
	tooLarge := a.o.MaxSize > 0 && file > a.o.MaxSize && used < file
	if spare := file - used; !tooLarge && (spare < spareBytes || spare < file/spareShare) {
		return nil
	}
	for used < file {
		before := file
		err := a.transact(ctx, "shrink the file", func(t *tx) error {
			if err := t.step("shrink"); err != nil {
				return err
			}
			return t.vacuum(shrinkStep)
		})
		if err != nil {
			return err
		}
		if file, used, err = size(ctx, a.read); err != nil {
			return err
		}
		if file >= before {
			break
		}
	}
	return a.checkpoint(ctx)
}

// vacuum moves up to n free pages to the end of the file and cuts them off. The pragma works one page a
// row, so the rows have to be asked for.
func (t *tx) vacuum(n int) error {
	rows, err := t.a.write.QueryContext(t.ctx, fmt.Sprintf("PRAGMA incremental_vacuum(%d)", n))
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
	}
	return rows.Err()
}

// checkpoint brings the file itself up to date and empties the write-ahead file, as far as readers
// allow: what they still need stays.
func (a *Archive) checkpoint(ctx context.Context) error {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.closed {
		return ErrClosed
	}
	rows, err := a.write.QueryContext(context.WithoutCancel(ctx), "PRAGMA wal_checkpoint(TRUNCATE)")
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
	}
	return rows.Err()
}
