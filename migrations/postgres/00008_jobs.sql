-- Not goose's to run: River, which keeps background jobs, first makes its own tables (models/store/jobs.Migrate), and
-- then the whole of this file is sent as it stands, as one transaction. It may be sent twice: a process that was
-- killed may not have noted that it was.

-- When each process that does jobs was last alive. It names a process, not a person, and belongs to no academy.
CREATE TABLE IF NOT EXISTS job_servers (
    id      text COLLATE "C" PRIMARY KEY CHECK (id <> ''),
    seen_at timestamptz NOT NULL
);

-- A transaction of an academy sees its own jobs alone. Those who do the jobs look for them before they know the
-- academy, outside any.
ALTER TABLE river_job ENABLE ROW LEVEL SECURITY;
ALTER TABLE river_job FORCE ROW LEVEL SECURITY;
DROP POLICY IF EXISTS own_academy ON river_job;
CREATE POLICY own_academy ON river_job USING (
    nullif(current_setting('throughline.academy', true), '') IS NULL
    OR queue = 'academy-' || current_setting('throughline.academy', true));

GRANT SELECT, INSERT, UPDATE, DELETE ON river_job, river_leader, river_queue, river_notification, job_servers
    TO throughline_serving;
GRANT SELECT ON river_migration TO throughline_serving;
GRANT USAGE ON SEQUENCE river_job_id_seq, river_notification_id_seq TO throughline_serving;
