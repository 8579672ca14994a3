-- Schema 1. Times are milliseconds since 1970-01-01T00:00:00Z. Bodies are bytes as received or as to be sent.

CREATE TABLE schema (
  number     INTEGER PRIMARY KEY,
  applied_at INTEGER NOT NULL
) STRICT;

CREATE TABLE meta (
  key   TEXT PRIMARY KEY,
  value TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- Totals of the ledgers, kept by the triggers below in the commit that moves the item.
CREATE TABLE tally (
  ledger TEXT NOT NULL,
  what   TEXT NOT NULL,
  n      INTEGER NOT NULL DEFAULT 0,
  PRIMARY KEY (ledger, what)
) STRICT, WITHOUT ROWID;

INSERT INTO tally (ledger, what) VALUES
  ('events', 'total'), ('events', 'pending'), ('events', 'applied'), ('events', 'irrelevant'), ('events', 'dead'),
  ('events', 'quarantined'), ('events', 'discarded'),
  ('writes', 'total'), ('writes', 'queued'), ('writes', 'sent'), ('writes', 'verify'), ('writes', 'held'),
  ('writes', 'delivered'), ('writes', 'superseded'), ('writes', 'dead'), ('writes', 'discarded'),
  ('shadow', 'total'), ('shadow', 'queued'), ('shadow', 'sent'), ('shadow', 'verify'), ('shadow', 'held'),
  ('shadow', 'delivered'), ('shadow', 'superseded'), ('shadow', 'dead'), ('shadow', 'discarded'),
  ('quarantine', 'kept'), ('quarantine', 'kept_bytes'), ('quarantine', 'dropped'), ('quarantine', 'dropped_bytes');

-- Journal ----------------------------------------------------------------------------------------------------------

CREATE TABLE event (
  id            INTEGER PRIMARY KEY AUTOINCREMENT,
  received_at   INTEGER NOT NULL,
  source        TEXT NOT NULL,
  method        TEXT NOT NULL,
  resource_type TEXT NOT NULL,
  resource_id   TEXT NOT NULL,
  version_id    TEXT NOT NULL,
  content_hash  TEXT NOT NULL,
  request_id    TEXT NOT NULL,
  state         TEXT NOT NULL DEFAULT 'pending' CHECK (state IN ('pending', 'applied', 'irrelevant', 'dead')),
  mark          TEXT NOT NULL DEFAULT '' CHECK (mark IN ('', 'quarantined', 'discarded')),
  reason        TEXT NOT NULL DEFAULT '',
  settled_at    INTEGER NOT NULL DEFAULT 0,
  body          BLOB NOT NULL,
  CHECK (mark = '' OR state = 'dead')
) STRICT;
CREATE INDEX event_pending ON event (id) WHERE state = 'pending';
CREATE INDEX event_dead ON event (id) WHERE state = 'dead';

CREATE TRIGGER event_counted AFTER INSERT ON event BEGIN
  UPDATE tally SET n = n + 1 WHERE ledger = 'events' AND what IN ('total', NEW.state);
END;
CREATE TRIGGER event_moved AFTER UPDATE OF state, mark ON event BEGIN
  UPDATE tally SET n = n - 1 WHERE ledger = 'events' AND what IN (OLD.state, OLD.mark);
  UPDATE tally SET n = n + 1 WHERE ledger = 'events' AND what IN (NEW.state, NEW.mark);
END;

-- Current facts ----------------------------------------------------------------------------------------------------

CREATE TABLE fact (
  row_id       INTEGER PRIMARY KEY,
  source       TEXT NOT NULL,
  type         TEXT NOT NULL,
  id           TEXT NOT NULL,
  version_id   TEXT NOT NULL,
  last_updated TEXT NOT NULL,
  deleted      INTEGER NOT NULL,
  patient      TEXT NOT NULL,
  event_id     INTEGER NOT NULL,
  content_hash TEXT NOT NULL,
  body         BLOB NOT NULL,
  UNIQUE (source, type, id)
) STRICT;
CREATE INDEX fact_patient ON fact (source, patient, type, id) WHERE patient <> '' AND deleted = 0;

CREATE TABLE reference (
  source TEXT NOT NULL,
  target TEXT NOT NULL,             -- 'Type/id'
  fact   INTEGER NOT NULL,          -- fact.row_id
  PRIMARY KEY (source, target, fact)
) STRICT, WITHOUT ROWID;
CREATE INDEX reference_fact ON reference (fact);

-- Cases ------------------------------------------------------------------------------------------------------------

CREATE TABLE care_case (
  key               TEXT PRIMARY KEY,
  patient           TEXT NOT NULL,
  source            TEXT NOT NULL,
  plan_hash         TEXT NOT NULL,
  as_of             INTEGER NOT NULL,
  wake_at           INTEGER,
  state             TEXT NOT NULL,
  open              INTEGER NOT NULL,
  transaction_count INTEGER NOT NULL,
  sheet_count       INTEGER NOT NULL,
  care_plan_id      TEXT NOT NULL,
  care_plan_etag    TEXT NOT NULL,
  extra             TEXT NOT NULL,
  plan              TEXT NOT NULL,
  written_view      TEXT NOT NULL
) STRICT;
CREATE INDEX case_patient ON care_case (source, patient, key);
CREATE INDEX case_wake ON care_case (wake_at, key) WHERE wake_at IS NOT NULL;
CREATE INDEX case_open ON care_case (key) WHERE open = 1;

CREATE TABLE item (
  identity        TEXT PRIMARY KEY,
  case_key        TEXT NOT NULL,
  type            TEXT NOT NULL,
  step            TEXT NOT NULL,
  ordinal         INTEGER NOT NULL,
  intended_hash   TEXT NOT NULL,
  intended_status TEXT NOT NULL,
  server_id       TEXT NOT NULL,
  etag            TEXT NOT NULL,
  status          TEXT NOT NULL,
  claimed         INTEGER NOT NULL,
  window_text     TEXT NOT NULL,
  extra           TEXT NOT NULL,
  body            BLOB NOT NULL
) STRICT;
CREATE INDEX item_case ON item (case_key, type, step, ordinal, identity);
CREATE UNIQUE INDEX item_server_id ON item (type, server_id) WHERE server_id <> '';

CREATE TABLE act (
  case_key TEXT NOT NULL,
  cause    TEXT NOT NULL,
  at       INTEGER NOT NULL,
  PRIMARY KEY (case_key, cause)
) STRICT, WITHOUT ROWID;

CREATE TABLE evaluation (
  id        INTEGER PRIMARY KEY AUTOINCREMENT,
  case_key  TEXT NOT NULL,
  now       INTEGER NOT NULL,
  cause     TEXT NOT NULL,
  plan_hash TEXT NOT NULL
) STRICT;
CREATE INDEX evaluation_case ON evaluation (case_key, id);

-- Outbox -----------------------------------------------------------------------------------------------------------

CREATE TABLE outbox (
  id              INTEGER PRIMARY KEY AUTOINCREMENT,
  case_key        TEXT NOT NULL,
  sequence        INTEGER NOT NULL,
  kind            TEXT NOT NULL CHECK (kind IN ('transaction', 'single', 'file')),
  target          TEXT NOT NULL,
  shadow          INTEGER NOT NULL CHECK (shadow IN (0, 1)),
  created_at      INTEGER NOT NULL,
  next_attempt_at INTEGER NOT NULL,
  state           TEXT NOT NULL DEFAULT 'queued'
                  CHECK (state IN ('queued', 'sent', 'verify', 'held', 'delivered', 'superseded', 'dead')),
  mark            TEXT NOT NULL DEFAULT '' CHECK (mark IN ('', 'discarded')),
  attempts        INTEGER NOT NULL DEFAULT 0,
  open_attempts   INTEGER NOT NULL DEFAULT 0 CHECK (open_attempts >= 0),   -- those that may still have an effect
  last_error      TEXT NOT NULL DEFAULT '',
  delivered_at    INTEGER NOT NULL DEFAULT 0,
  response        BLOB NOT NULL DEFAULT x'',
  body            BLOB NOT NULL,
  UNIQUE (case_key, sequence),
  CHECK (mark = '' OR state = 'dead')
) STRICT;
CREATE INDEX outbox_unsettled ON outbox (case_key, sequence) WHERE state IN ('queued', 'sent', 'verify', 'held');
CREATE INDEX outbox_due ON outbox (next_attempt_at, id) WHERE state IN ('queued', 'verify') AND shadow = 0;
CREATE INDEX outbox_dead ON outbox (id) WHERE state = 'dead';

CREATE TRIGGER outbox_counted AFTER INSERT ON outbox BEGIN
  UPDATE tally SET n = n + 1 WHERE ledger = iif(NEW.shadow, 'shadow', 'writes') AND what IN ('total', NEW.state);
END;
CREATE TRIGGER outbox_moved AFTER UPDATE OF state, mark ON outbox BEGIN
  UPDATE tally SET n = n - 1 WHERE ledger = iif(OLD.shadow, 'shadow', 'writes') AND what IN (OLD.state, OLD.mark);
  UPDATE tally SET n = n + 1 WHERE ledger = iif(NEW.shadow, 'shadow', 'writes') AND what IN (NEW.state, NEW.mark);
END;
CREATE TRIGGER outbox_fixed BEFORE UPDATE OF case_key, sequence, kind, target, shadow, created_at, body ON outbox BEGIN
  SELECT RAISE(ABORT, 'what was queued never changes');
END;

-- Kept aside -------------------------------------------------------------------------------------------------------

CREATE TABLE quarantine (
  id       INTEGER PRIMARY KEY AUTOINCREMENT,
  event_id INTEGER NOT NULL,
  at       INTEGER NOT NULL,
  source   TEXT NOT NULL,
  reason   TEXT NOT NULL,
  bytes    INTEGER NOT NULL,
  body     BLOB NOT NULL
) STRICT;
CREATE TRIGGER quarantine_in AFTER INSERT ON quarantine BEGIN
  UPDATE tally SET n = n + iif(what = 'kept', 1, NEW.bytes) WHERE ledger = 'quarantine' AND what IN ('kept', 'kept_bytes');
END;
CREATE TRIGGER quarantine_out AFTER DELETE ON quarantine BEGIN
  UPDATE tally SET n = n - iif(what = 'kept', 1, OLD.bytes) WHERE ledger = 'quarantine' AND what IN ('kept', 'kept_bytes');
  UPDATE tally SET n = n + iif(what = 'dropped', 1, OLD.bytes) WHERE ledger = 'quarantine' AND what IN ('dropped', 'dropped_bytes');
END;

CREATE TABLE blob (
  sha256  TEXT PRIMARY KEY,
  content BLOB NOT NULL
) STRICT;
