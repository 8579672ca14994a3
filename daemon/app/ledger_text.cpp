#include "app/ledger_text.h"

#include <fmt/format.h>

namespace app {
namespace {

std::string line_of(const store::Event& e, const char* state) {
  return fmt::format("  event {:>6}  {:<8} {} {}/{}{}  {}\n", e.id, state, e.method, e.resource_type, e.resource_id, e.source.empty() ? "" : " from " + e.source, e.reason);
}
std::string line_of(const store::Write& w, const char* state) {
  return fmt::format("  write {:>6}  {:<8} {} number {}, {} attempts  {}\n", w.id, state, w.case_key, w.sequence, w.attempts, w.last_error);
}

store::Result<void> add_items(store::Store& store, std::string& text) {
  using store::EventState, store::WriteState;
  for (const auto& [state, name] : {std::pair{EventState::pending, "pending"}, std::pair{EventState::dead, "dead"}}) {
    const auto events = store.list_events(state, 1000);
    if (events.has_error()) return events.error();
    for (const store::Event& event : *events) text += line_of(event, name);
  }
  for (const auto& [state, name] : {std::pair{WriteState::queued, "queued"}, std::pair{WriteState::sent, "sent"}, std::pair{WriteState::verify, "verify"},
                                    std::pair{WriteState::held, "held"}, std::pair{WriteState::dead, "dead"}}) {
    const auto writes = store.list_writes(state, 1000);
    if (writes.has_error()) return writes.error();
    for (const store::Write& write : *writes) text += line_of(write, name);
  }
  const auto aside = store.quarantined(100);
  if (aside.has_error()) return aside.error();
  for (const store::Quarantined& one : *aside) text += fmt::format("  aside {:>6}  {}\n                {}\n", one.id, one.reason, one.body.substr(0, 400));
  return {};
}

}  // namespace

store::Result<std::string> ledger_text(store::Store& store, bool list) {
  const auto e = store.event_ledger();
  if (e.has_error()) return e.error();
  const auto w = store.write_ledger();
  if (w.has_error()) return w.error();
  std::string text = fmt::format("events  received {} = applied {} + irrelevant {} + pending {} + dead {}\n", e->received, e->applied, e->irrelevant, e->pending, e->dead);
  text += fmt::format("writes  queued {} = delivered {} + superseded {} + pending {} + dead {}\n", w->queued, w->delivered, w->superseded, w->pending, w->dead);
  if (const auto sound = store.verify_ledgers(); sound.has_error()) return sound.error();
  text += "both close\n";
  if (list)
    if (const auto added = add_items(store, text); added.has_error()) return added.error();
  return text;
}

}  // namespace app
