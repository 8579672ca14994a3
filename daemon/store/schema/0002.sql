-- Schema 2: sheets to be printed. `real` times are the machine's clock, whatever the plan clock says: paper and printers know no rehearsal.

CREATE TABLE print_order (
  id           INTEGER PRIMARY KEY AUTOINCREMENT,
  case_key     TEXT NOT NULL,
  sheet        INTEGER NOT NULL,
  is_void      INTEGER NOT NULL CHECK (is_void IN (0, 1)),
  document     TEXT NOT NULL,                 -- blob.sha256
  created_at   INTEGER NOT NULL,
  created_real INTEGER NOT NULL,
  state        TEXT NOT NULL DEFAULT 'queued'
               CHECK (state IN ('queued', 'sending', 'sent', 'printed', 'superseded', 'asked', 'by-hand')),
  wanted       INTEGER NOT NULL DEFAULT 1 CHECK (wanted IN (0, 1)),
  attempts     INTEGER NOT NULL DEFAULT 0,
  printer      TEXT NOT NULL DEFAULT '',
  job_name     TEXT NOT NULL DEFAULT '',
  job          INTEGER NOT NULL DEFAULT 0,
  sent_real    INTEGER NOT NULL DEFAULT 0,
  asked_at     INTEGER NOT NULL DEFAULT 0,
  ask          TEXT NOT NULL DEFAULT '',
  reason       TEXT NOT NULL DEFAULT '',
  ended_at     INTEGER NOT NULL DEFAULT 0
) STRICT;
CREATE INDEX print_case ON print_order (case_key, id);
CREATE INDEX print_open ON print_order (id) WHERE state IN ('queued', 'sending', 'sent', 'asked');
CREATE TRIGGER print_fixed BEFORE UPDATE OF case_key, sheet, is_void, document, created_at, created_real ON print_order BEGIN
  SELECT RAISE(ABORT, 'what was ordered never changes');
END;
