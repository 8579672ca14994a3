#include "store/sqlite_impl.h"

namespace store {

namespace {

#define COLUMNS \
  "name, subject, form, secret, server_id, state, reason, created_at, ends_at, heard_at, notices, epoch, last_number, gaps_opened, gaps, recent"

Subscription read_subscription(Row& row) {
  Subscription s;
  s.name = row.text();
  s.subject = row.text();
  s.form = row.text();
  s.secret = row.text();
  s.server_id = row.text();
  s.state = row.text();
  s.reason = row.text();
  s.created_at = row.integer();
  s.ends_at = row.integer();
  s.heard_at = row.integer();
  s.notices = row.integer();
  s.epoch = row.integer();
  s.last_number = row.integer();
  s.gaps_opened = row.integer();
  s.gaps = row.text();
  s.recent = row.text();
  return s;
}

}  // namespace

Result<void> SqliteStore::put_subscription(const Subscription& s, Millis now) {
  return db_->unit(now, [&]() -> Result<void> {
    const auto gone = db_->run("DELETE FROM subscription WHERE name = ?", s.name);
    if (!gone) return gone.error();
    const auto put = db_->run("INSERT INTO subscription (" COLUMNS ") VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", s.name, s.subject, s.form, s.secret,
                              s.server_id, s.state, s.reason, s.created_at, s.ends_at, s.heard_at, s.notices, s.epoch, s.last_number, s.gaps_opened, s.gaps, s.recent);
    return put ? Result<void>() : Result<void>(put.error());
  });
}

Result<void> SqliteStore::drop_subscription(std::string_view name, Millis now) {
  return db_->unit(now, [&]() -> Result<void> {
    const auto gone = db_->run("DELETE FROM subscription WHERE name = ?", name);
    return gone ? Result<void>() : Result<void>(gone.error());
  });
}

Result<std::optional<Subscription>> SqliteStore::subscription(std::string_view name) {
  return db_->first("SELECT " COLUMNS " FROM subscription WHERE name = ?", read_subscription, name);
}

Result<std::vector<Subscription>> SqliteStore::subscriptions() {
  return db_->all("SELECT " COLUMNS " FROM subscription ORDER BY subject, created_at, name", read_subscription);
}

}  // namespace store
