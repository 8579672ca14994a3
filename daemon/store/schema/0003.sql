-- Schema 3: our own Subscriptions at the record, and what has been heard of each.

CREATE TABLE subscription (
  name        TEXT PRIMARY KEY,
  subject     TEXT NOT NULL,
  form        TEXT NOT NULL,
  secret      TEXT NOT NULL,
  server_id   TEXT NOT NULL,
  state       TEXT NOT NULL,
  reason      TEXT NOT NULL,
  created_at  INTEGER NOT NULL,
  ends_at     INTEGER NOT NULL,
  heard_at    INTEGER NOT NULL,
  notices     INTEGER NOT NULL,
  epoch       INTEGER NOT NULL,
  last_number INTEGER NOT NULL,
  gaps_opened INTEGER NOT NULL,
  gaps        TEXT NOT NULL,
  recent      TEXT NOT NULL
) STRICT;
