#include <fmt/format.h>

#include "app/engine.h"
#include "app/looking.h"
#include "app/probe_beside.h"
#include "app/record_side.h"
#include "app/printing.h"
#include "app/subscriptions.h"
#include "fhir/date_time.h"

namespace app {
namespace {

std::string text_of(Millis at) { return fhir::format_utc(fhir::Instant{std::chrono::seconds{at / 1000}}); }

report::WriteCounts counts_of(const store::WriteLedger& w) { return {w.queued, w.delivered, w.superseded, w.pending, w.dead, w.held}; }

std::optional<std::int64_t> age_of(const store::Result<std::optional<Millis>>& oldest, Millis now) {
  if (oldest.has_error() || !*oldest) return std::nullopt;
  return std::max<std::int64_t>(0, (now - **oldest) / 1000);
}

}  // namespace

void Engine::settle_alarms(const CaseWork& work) {
  alarms_.calm("plan " + work.row.key);
  if (work.supersede && work.writes.empty()) alarms_.calm("held " + work.row.key);
  if (work.held_tasks == 0) {
    held_tasks_.erase(work.row.key);
    return alarms_.calm("flood " + work.row.key);
  }
  held_tasks_[work.row.key] = work.held_tasks;
  alarms_.raise("flood " + work.row.key,
                fmt::format("{}: {} Tasks wait, for this patient was given {} in an hour (limits.tasks_per_patient_hour): look why its facts keep changing; the plan and the sheet say all of "
                            "them, and urgent ones do not wait", work.row.key, work.held_tasks, parts_.rules.configuration.limits.tasks_per_patient_hour));
}

report::Status Engine::status() {
  const Rules& rules = parts_.rules;
  const Millis now = parts_.clock.now();
  report::Status s;
  s.version = AFTERSHEATH_VERSION;
  s.installation = rules.installation;
  s.now = text_of(now);
  s.rehearsal = parts_.clock.rehearsal();
  s.protocol_id = rules.protocol.id;
  s.protocol_version = rules.protocol.version;
  s.protocol_sha256 = rules.protocol.sha256;
  s.protocol_approved = rules.protocol.approved;
  s.record = parts_.network ? rules.configuration.record->base_url : "none (chart folder)";
  if (record_) s.writing = record_->rung_text(), s.probed = last_probe(rules.configuration.store.path);
  if (looking_) s.looking = looking_->status();
  s.mode = parts_.network ? rules.configuration.record->mode : "files";
  if (const auto e = parts_.store.event_ledger(); e.has_value())
    s.events = {e->received, e->applied, e->irrelevant, e->pending, e->dead, e->quarantined, e->discarded};
  else s.not_ready.push_back("the event ledger cannot be read: " + e.error().text);
  if (const auto w = parts_.store.write_ledger(false); w.has_value()) s.writes = counts_of(*w);
  if (const auto w = parts_.store.write_ledger(true); w.has_value()) s.shadow_writes = counts_of(*w);
  s.oldest_event_seconds = age_of(parts_.store.oldest_pending_event(), now);
  s.oldest_write_seconds = age_of(parts_.store.oldest_pending_write(), now);
  if (const auto next = parts_.store.next_wake(); next.has_value() && *next) s.next_wake = text_of(**next);
  if (const auto open = parts_.store.open_case_keys(); open.has_value()) s.open_cases = static_cast<std::int64_t>(open->size());
  if (const auto q = parts_.store.quarantine_counts(); q.has_value()) s.quarantine_kept = q->kept, s.quarantine_dropped = q->dropped;
  for (auto& [what, count] : unmapped_.by_count()) s.unmapped.push_back({std::move(what), count});
  for (const auto& [key, count] : held_tasks_) s.held_tasks += count;
  if (printing_) s.printing = printing_->status();
  if (subscriptions_) s.subscriptions = subscriptions_->status();
  s.alarms = alarms_.texts();
  if (const std::string trouble = parts_.clock.trouble(); !trouble.empty()) s.alarms.push_back(trouble);
  if (parts_.more_status) parts_.more_status(s);
  if (failed_) s.not_ready.push_back("the store has failed; the daemon must be started anew");
  if (const std::string why = crowded(); !why.empty()) s.not_ready.push_back(why + ": senders are told to try later");
  const auto limit = rules.configuration.limits.oldest_pending_seconds;
  if (s.oldest_event_seconds.value_or(0) > limit) s.not_ready.push_back("an event has waited too long");
  if (s.oldest_write_seconds.value_or(0) > limit) s.not_ready.push_back("a write has waited too long");
  s.ready = s.not_ready.empty();
  return s;
}

std::vector<std::pair<std::int64_t, std::string>> Engine::news_after(std::int64_t after) const {
  std::vector<std::pair<std::int64_t, std::string>> rows;
  for (const News& one : news_)
    if (one.n > after) rows.emplace_back(one.n, one.text);
  return rows;
}

}  // namespace app
