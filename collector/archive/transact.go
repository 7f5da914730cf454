package archive

import (
	"context"
	"database/sql"
	"errors"
)

// tx is one writing transaction. The writer's mutex is held as long as it lasts.
type tx struct {
	a     *Archive
	ctx   context.Context
	later []func()
}

// errNothing leaves a transaction that turned out to have nothing to write.
var errNothing = errors.New("nothing to write")

// transact runs fn in one durable transaction: when it returns nil, all that fn wrote is on the disk;
// otherwise none of it is. ctx can stop it only before it begins: a commit once begun takes
// milliseconds, and one cut off halfway would leave the caller not knowing.
func (a *Archive) transact(ctx context.Context, what string, fn func(*tx) error) error {
	if a.lock == nil {
		return a.explain(what, ErrReadOnly)
	}
	if err := ctx.Err(); err != nil {
		return a.explain(what, err)
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.closed {
		return a.explain(what, ErrClosed)
	}
	ctx = context.WithoutCancel(ctx)
	if a.stale {
		if err := a.recall(ctx); err != nil {
			return a.explain(what, err)
		}
	}
	t := &tx{a: a, ctx: ctx}
	err := t.run(fn)
	if errors.Is(err, errNothing) {
		return nil
	}
	if err != nil {
		return a.explain(what, err)
	}
	for _, f := range t.later {
		f()
	}
	return nil
}

func (t *tx) run(fn func(*tx) error) error {
	if err := t.step("begin"); err != nil {
		return err
	}
	if err := t.exec("BEGIN IMMEDIATE"); err != nil {
		return err
	}
	err := fn(t)
	if err == nil {
		err = t.step("commit")
	}
	if err == nil {
		err = t.exec("COMMIT")
	}
	if err == nil {
		return nil
	}
	// SQLite has rolled back by itself after some errors (a full disk among them); then this one fails,
	// and that is of no interest. What the writer believes is read again before the next transaction.
	t.a.write.ExecContext(t.ctx, "ROLLBACK")
	if !errors.Is(err, errNothing) {
		t.a.stale = true
	}
	return err
}

// step is where tests let a transaction fail.
func (t *tx) step(name string) error {
	if t.a.o.BeforeWrite == nil {
		return nil
	}
	return t.a.o.BeforeWrite(name)
}

// after runs f once the transaction is durable.
func (t *tx) after(f func()) { t.later = append(t.later, f) }

// stmt returns the prepared form of a query; it lives as long as the connection.
func (t *tx) stmt(query string) (*sql.Stmt, error) {
	if s, ok := t.a.stmts[query]; ok {
		return s, nil
	}
	s, err := t.a.write.PrepareContext(t.ctx, query)
	if err != nil {
		return nil, err
	}
	t.a.stmts[query] = s
	return s, nil
}

func (t *tx) exec(query string, args ...any) error {
	s, err := t.stmt(query)
	if err != nil {
		return err
	}
	_, err = s.ExecContext(t.ctx, args...)
	return err
}

func (t *tx) queryRow(query string, args ...any) *sql.Row {
	s, err := t.stmt(query)
	if err != nil { // the row brings the same error
		return t.a.write.QueryRowContext(t.ctx, query, args...)
	}
	return s.QueryRowContext(t.ctx, args...)
}
