package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"hackle/yard"
)

// Setting reads the setting of a name into value and reports whether it was there.
func (s *Store) Setting(ctx context.Context, name string, value any) (bool, error) {
	return s.value(ctx, "setting", name, value)
}

// SetSetting keeps a setting. It may be anything that JSON can say.
func (s *Store) SetSetting(ctx context.Context, name string, value any) error {
	return s.setValue(ctx, "setting", name, value)
}

// Settings returns every setting by name.
func (s *Store) Settings(ctx context.Context) (map[string]json.RawMessage, error) {
	return s.values(ctx, s.read, "setting")
}

// Secret is Setting for what must never be exported, such as the hash of a
// password.
func (s *Store) Secret(ctx context.Context, name string, value any) (bool, error) {
	return s.value(ctx, "secret", name, value)
}

// SetSecret keeps a secret.
func (s *Store) SetSecret(ctx context.Context, name string, value any) error {
	return s.setValue(ctx, "secret", name, value)
}

func (s *Store) value(ctx context.Context, table, name string, value any) (bool, error) {
	doing := "reading the " + table + " " + name
	var text string
	err := s.read.QueryRowContext(ctx, "SELECT value FROM "+table+" WHERE name = ?", name).Scan(&text)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	if err == nil {
		err = json.Unmarshal([]byte(text), value)
	}
	return err == nil, s.fail(doing, err)
}

func (s *Store) setValue(ctx context.Context, table, name string, value any) error {
	doing := "keeping the " + table + " " + name
	text, err := json.Marshal(value)
	if err != nil {
		return s.fail(doing, err)
	}
	return s.transact(ctx, doing, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "INSERT INTO "+table+" (name, value) VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET value = excluded.value", name, string(text))
		return err
	})
}

func (s *Store) values(ctx context.Context, db querier, table string) (map[string]json.RawMessage, error) {
	doing := "reading the " + table + "s"
	rows, err := db.QueryContext(ctx, "SELECT name, value FROM "+table)
	if err != nil {
		return nil, s.fail(doing, err)
	}
	defer rows.Close()
	all := map[string]json.RawMessage{}
	for rows.Next() {
		var name, text string
		if err := rows.Scan(&name, &text); err != nil {
			return nil, s.fail(doing, err)
		}
		all[name] = json.RawMessage(text)
	}
	return all, s.fail(doing, rows.Err())
}

// Session is a login. The token itself is not kept, only its hash.
type Session struct {
	Hash    string // of the token, hexadecimal
	Created time.Time
	Seen    time.Time
	Expires time.Time
	Agent   string // what the browser calls itself
}

// PutSession keeps a session or its new times.
func (s *Store) PutSession(ctx context.Context, v Session) error {
	return s.transact(ctx, "keeping the session", func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO session (hash, created, seen, expires, agent) VALUES (?, ?, ?, ?, ?)
			ON CONFLICT (hash) DO UPDATE SET seen = excluded.seen, expires = excluded.expires`,
			v.Hash, v.Created.Unix(), v.Seen.Unix(), v.Expires.Unix(), v.Agent)
		return err
	})
}

// SessionOf returns the session of a token's hash. One that has expired is
// NotFound.
func (s *Store) SessionOf(ctx context.Context, hash string) (Session, error) {
	const doing = "reading the session"
	v := Session{Hash: hash}
	var created, seen, expires int64
	err := s.read.QueryRowContext(ctx, "SELECT created, seen, expires, agent FROM session WHERE hash = ? AND expires > ?", hash, s.now().Unix()).
		Scan(&created, &seen, &expires, &v.Agent)
	if errors.Is(err, sql.ErrNoRows) {
		return v, &Error{Problem: NotFound, File: s.path, Doing: doing, Err: errors.New("there is no such session"), Todo: "log in again"}
	}
	v.Created, v.Seen, v.Expires = time.Unix(created, 0), time.Unix(seen, 0), time.Unix(expires, 0)
	return v, s.fail(doing, err)
}

// EndSession forgets a session, and with it those that have expired.
func (s *Store) EndSession(ctx context.Context, hash string) error {
	return s.transact(ctx, "ending the session", func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "DELETE FROM session WHERE hash = ? OR expires <= ?", hash, s.now().Unix())
		return err
	})
}

// EndSessions forgets every session, as when the password changes.
func (s *Store) EndSessions(ctx context.Context) error {
	return s.transact(ctx, "ending the sessions", func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "DELETE FROM session")
		return err
	})
}

// JobState is how far a job is.
type JobState string

// States of a job.
const (
	Waiting   JobState = "waiting"
	Running   JobState = "running"
	Finished  JobState = "finished"
	Failed    JobState = "failed"
	Cancelled JobState = "cancelled"
	Stopped   JobState = "stopped" // the program ended while it ran
)

// Job is long work of the program.
type Job struct {
	ID       yard.ID         `json:"id"`
	Kind     string          `json:"kind"`
	State    JobState        `json:"state"`
	Progress float64         `json:"progress"` // share done, 0 to 1 [-]
	Message  string          `json:"message"`  // what it is at
	Input    json.RawMessage `json:"input"`
	Result   string          `json:"result"` // key of the cached result
	Error    string          `json:"error"`
	Created  time.Time       `json:"created"`
	Changed  time.Time       `json:"changed"`
}

const jobColumns = "id, kind, state, progress, message, input, result, error, created, changed"

func (j *Job) into() []any {
	return []any{&j.ID, &j.Kind, &j.State, &j.Progress, &j.Message, jsonInto{&j.Input}, &j.Result, &j.Error, timeInto{&j.Created}, timeInto{&j.Changed}}
}

// keptJobs is how many jobs that ended are remembered.
const keptJobs = 200

// PutJob keeps a job as it stands now. Of those that ended the latest are remembered.
func (s *Store) PutJob(ctx context.Context, j Job) (Job, error) {
	if !j.ID.Valid() {
		return j, s.fail("keeping the job", fmt.Errorf("%q is no ID", j.ID))
	}
	j.Changed = s.stamp()
	if j.Created.IsZero() {
		j.Created = j.Changed
	}
	if len(j.Input) == 0 {
		j.Input = json.RawMessage("null")
	}
	return j, s.transact(ctx, "keeping the job", func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "INSERT INTO job ("+jobColumns+`) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (id) DO UPDATE SET
			state = excluded.state, progress = excluded.progress, message = excluded.message, input = excluded.input, result = excluded.result, error = excluded.error, changed = excluded.changed`,
			string(j.ID), j.Kind, string(j.State), j.Progress, j.Message, string(j.Input), j.Result, j.Error, timeText(j.Created), timeText(j.Changed))
		if err != nil || j.State == Waiting || j.State == Running {
			return err
		}
		_, err = tx.ExecContext(ctx, `DELETE FROM job WHERE id IN (SELECT id FROM job
			WHERE state IN ('finished', 'failed', 'cancelled') ORDER BY id DESC LIMIT -1 OFFSET ?)`, keptJobs)
		return err
	})
}

// JobOf returns a job.
func (s *Store) JobOf(ctx context.Context, id yard.ID) (Job, error) {
	const doing = "reading the job"
	var j Job
	err := s.read.QueryRowContext(ctx, "SELECT "+jobColumns+" FROM job WHERE id = ?", string(id)).Scan(j.into()...)
	if errors.Is(err, sql.ErrNoRows) {
		return j, &Error{Problem: NotFound, File: s.path, Doing: doing, Err: fmt.Errorf("there is no job %s", id)}
	}
	return j, s.fail(doing, err)
}

// Jobs returns the jobs in the given states, all when none is named, the latest
// first.
func (s *Store) Jobs(ctx context.Context, states ...JobState) ([]Job, error) {
	const doing = "reading the jobs"
	text, err := json.Marshal(states)
	if err != nil {
		return nil, s.fail(doing, err)
	}
	rows, err := s.read.QueryContext(ctx, "SELECT "+jobColumns+" FROM job WHERE ?1 = 'null' OR state IN (SELECT value FROM json_each(?1)) ORDER BY id DESC", string(text))
	if err != nil {
		return nil, s.fail(doing, err)
	}
	defer rows.Close()
	all := []Job{}
	for rows.Next() {
		var j Job
		if err := rows.Scan(j.into()...); err != nil {
			return nil, s.fail(doing, err)
		}
		all = append(all, j)
	}
	return all, s.fail(doing, rows.Err())
}

// StopJobs marks the jobs that waited or ran as stopped: whoever runs jobs calls it
// when it starts, for what an earlier process left. It forgets jobs that ended more
// than 30 days ago.
func (s *Store) StopJobs(ctx context.Context) error {
	return s.transact(ctx, "looking after the jobs", func(tx *sql.Tx) error {
		now := s.stamp()
		if _, err := tx.ExecContext(ctx, "UPDATE job SET state = 'stopped', changed = ? WHERE state IN ('waiting', 'running')", timeText(now)); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, "DELETE FROM job WHERE unixepoch(changed) < ?", now.Add(-30*24*time.Hour).Unix())
		return err
	})
}

// Cached returns the result that was cached under a key. The caller must not
// change it.
func (s *Store) Cached(ctx context.Context, key string) (result []byte, ok bool, err error) {
	const doing = "reading a cached result"
	var used int64
	err = s.read.QueryRowContext(ctx, "SELECT bytes, used FROM cached WHERE key = ?", key).Scan(&result, &used)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, false, nil
	} else if err != nil {
		return nil, false, s.fail(doing, err)
	}
	if hour := s.hour(); used < hour {
		// Only the order in which results go depends on it, so a file that is busy
		// or cannot be written to is no reason to withhold the result.
		_, _ = s.write.ExecContext(ctx, "UPDATE cached SET used = ? WHERE key = ?", hour, key)
	}
	return result, true, nil
}

func (s *Store) hour() int64 { return s.now().Truncate(time.Hour).Unix() }

// Cache keeps a result under a key that says everything it depends on. The results
// that were used longest ago go when there are more than fit; one that is larger
// than all the room is not kept.
func (s *Store) Cache(ctx context.Context, key string, result []byte) error {
	size := int64(len(result))
	if size > s.cacheLimit {
		return nil
	}
	return s.transact(ctx, "caching a result", func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, `INSERT INTO cached (key, size, used, bytes) VALUES (?, ?, ?, ?)
			ON CONFLICT (key) DO UPDATE SET size = excluded.size, used = excluded.used, bytes = excluded.bytes`, key, size, s.hour(), result); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, `DELETE FROM cached WHERE rowid IN (
			SELECT rowid FROM (SELECT rowid, sum(size) OVER (ORDER BY used DESC, rowid DESC) AS upto FROM cached) WHERE upto > ?)`, s.cacheLimit)
		return err
	})
}

// ForgetCached forgets every cached result.
func (s *Store) ForgetCached(ctx context.Context) error {
	return s.transact(ctx, "forgetting the cached results", func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "DELETE FROM cached")
		return err
	})
}
