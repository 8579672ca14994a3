#include <fmt/format.h>

#include "store/sqlite_impl.h"

// Sheets to be printed. Only what is surely at no printer can be sent or superseded.
namespace store {

namespace {

constexpr std::array<std::string_view, 7> kPrintStates{"queued", "sending", "sent", "printed", "superseded", "asked", "by-hand"};
#define PRINT_OPEN " state IN ('queued', 'sending', 'sent') "

std::string print_query(std::string_view rest) {
  return fmt::format(
      "SELECT id, case_key, sheet, is_void, document, created_at, created_real, state, wanted, attempts, printer, job_name, job, sent_real, asked_at,"
      " ask, reason, ended_at FROM print_order {}",
      rest);
}

PrintOrder read_print(Row& row) {
  PrintOrder p;
  p.id = row.integer();
  p.case_key = row.text();
  p.sheet = row.integer();
  p.is_void = row.flag();
  p.document = row.text();
  p.created_at = row.integer();
  p.created_real = row.integer();
  p.state = row.word<PrintState>(kPrintStates);
  p.wanted = row.flag();
  p.attempts = row.integer();
  p.printer = row.text();
  p.job_name = row.text();
  p.job = row.integer();
  p.sent_real = row.integer();
  p.asked_at = row.integer();
  p.ask = row.text();
  p.reason = row.text();
  p.ended_at = row.integer();
  return p;
}

}  // namespace

Result<PrintId> SqliteStore::order_print(const NewPrint& p) {
  return db_->unit(p.created_at, [&]() -> Result<PrintId> {
    const auto gone = db_->run(
        "UPDATE print_order SET state = 'superseded', wanted = 0, reason = 'a newer sheet', ended_at = ?2 WHERE case_key = ?1 AND state IN ('queued', 'asked')",
        p.case_key, p.created_at);
    if (!gone) return gone.error();
    const auto unwanted = db_->run("UPDATE print_order SET wanted = 0 WHERE case_key = ?1 AND state IN ('sending', 'sent')", p.case_key);
    if (!unwanted) return unwanted.error();
    const auto added = db_->run("INSERT INTO print_order (case_key, sheet, is_void, document, created_at, created_real) VALUES (?, ?, ?, ?, ?, ?)", p.case_key,
                                p.sheet, p.is_void, p.document, p.created_at, p.created_real);
    if (!added) return added.error();
    return db_->last_id();
  });
}

Result<std::vector<PrintOrder>> SqliteStore::open_prints() {
  static const std::string sql = print_query("WHERE state IN ('queued', 'sending', 'sent', 'asked') ORDER BY id");
  return db_->all(sql, read_print);
}

Result<std::vector<PrintOrder>> SqliteStore::prints_of_case(std::string_view case_key) {
  static const std::string sql = print_query("WHERE case_key = ? ORDER BY id");
  return db_->all(sql, read_print, case_key);
}

Result<std::optional<PrintOrder>> SqliteStore::print_order(PrintId id) {
  static const std::string sql = print_query("WHERE id = ?");
  return db_->first(sql, read_print, id);
}

Result<void> SqliteStore::print_sending(PrintId id, std::string_view printer, std::string_view job_name, Millis real, Millis now) {
  return move("print_order", id, "sent", now,
              "UPDATE print_order SET state = 'sending', attempts = attempts + 1, printer = ?2, job_name = ?3, job = 0, sent_real = ?4"
              " WHERE id = ?1 AND state = 'queued' AND wanted = 1",
              printer, job_name, real);
}

Result<void> SqliteStore::print_sent(PrintId id, std::int64_t job, Millis now) {
  return move("print_order", id, "noted as sent", now, "UPDATE print_order SET state = 'sent', job = ?2 WHERE id = ?1 AND state = 'sending'", job);
}

Result<void> SqliteStore::print_again(PrintId id, std::string_view reason, Millis now) {
  return move("print_order", id, "put off", now,
              "UPDATE print_order SET state = iif(wanted, 'queued', 'superseded'), reason = ?2, ended_at = iif(wanted, 0, ?3)"
              " WHERE id = ?1 AND" PRINT_OPEN,
              reason, now);
}

Result<void> SqliteStore::print_done(PrintId id, Millis now) {
  return move("print_order", id, "noted as printed", now, "UPDATE print_order SET state = 'printed', reason = '', ended_at = ?2 WHERE id = ?1 AND state = 'sent'",
              now);
}

Result<void> SqliteStore::print_drop(PrintId id, std::string_view reason, Millis now) {
  return move("print_order", id, "dropped", now,
              "UPDATE print_order SET state = 'superseded', wanted = 0, reason = ?2, ended_at = ?3 WHERE id = ?1 AND state = 'queued'", reason, now);
}

Result<void> SqliteStore::print_by_hand(PrintId id, Millis now) {
  return move("print_order", id, "done by hand", now,
              "UPDATE print_order SET state = 'by-hand', wanted = 0, reason = 'done by hand', ended_at = ?2 WHERE id = ?1 AND (" PRINT_OPEN "OR state = 'asked')",
              now);
}

Result<void> SqliteStore::print_ask(PrintId id, std::string_view ask, bool give_up, std::string_view reason, Millis now) {
  return move("print_order", id, "asked for", now,
              "UPDATE print_order SET state = iif(?3, iif(wanted, 'asked', 'superseded'), state), ended_at = iif(?3 AND NOT wanted, ?5, 0),"
              " asked_at = iif(NOT wanted, 0, iif(asked_at = 0, ?5, asked_at)), ask = ?2, reason = ?4 WHERE id = ?1 AND" PRINT_OPEN,
              ask, std::int64_t{give_up}, reason, now);
}

Result<std::int64_t> SqliteStore::doubt_prints(Millis now) {
  return db_->unit(now, [&] {
    return db_->run("UPDATE print_order SET state = 'sending', attempts = attempts + 1, sent_real = created_real, reason = 'this store is an older copy'"
                    " WHERE state = 'queued'");
  });
}

Result<PrintCounts> SqliteStore::print_counts() {
  const auto rows = db_->all("SELECT state, count(*) FROM print_order GROUP BY state", [](Row& row) {
    const auto state = row.word<PrintState>(kPrintStates);
    return std::pair(state, row.integer());
  });
  if (!rows) return rows.error();
  PrintCounts counts;
  for (const auto& [state, n] : *rows) {
    counts.ordered += n;
    switch (state) {
      case PrintState::queued: counts.waiting = n; break;
      case PrintState::sending: case PrintState::sent: counts.at_printer += n; break;
      case PrintState::printed: counts.printed = n; break;
      case PrintState::superseded: counts.superseded = n; break;
      case PrintState::asked: counts.asked = n; break;
      case PrintState::by_hand: counts.by_hand = n; break;
    }
  }
  return counts;
}

}  // namespace store
