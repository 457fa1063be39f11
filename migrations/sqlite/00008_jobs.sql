-- Not goose's to run: River, which keeps background jobs, first makes its own tables in the same transaction
-- (models/store/jobs.Migrate), and then the whole of this file is sent as it stands.

-- When each process that does jobs was last alive. It names a process, not a person, and belongs to no academy.
CREATE TABLE job_servers (
    id      text PRIMARY KEY CHECK (id <> ''),
    seen_at text NOT NULL
) WITHOUT ROWID;
INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES ('job_servers', 'job_servers', '3 1');
