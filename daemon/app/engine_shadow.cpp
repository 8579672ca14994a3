// Shadow mode: what would be sent is taken as a record would take it, in a place of its own in the store, so that the plan goes on as if it stood there.
#include <fmt/format.h>

#include <algorithm>

#include "app/case_notes.h"
#include "app/engine.h"
#include "app/lanes.h"
#include "app/record_side.h"

namespace app {
namespace {

constexpr const char* kMode = "record mode";

}  // namespace

/// What was computed in shadow stands in no record, and what stands in the record no shadow knows: with another mode than at the last run of open cases nothing is
/// known to stand. Before anything is written to the record it is asked what of ours is there.
void Engine::follow_mode() {
  if (!record_) return;
  const std::string now = parts_.rules.configuration.record->mode;
  const auto before = parts_.store.meta(kMode);
  if (failed(before, "reading the mode of the last run")) return;
  const auto keys = parts_.store.open_case_keys();
  if (failed(keys, "reading open cases")) return;
  const bool other = *before && **before != now;
  if (other) parts_.log.info(fmt::format("record.mode was {} and is {} now: of {} open cases nothing is taken to stand there", **before, now, keys->size()));
  const auto done = parts_.store.transaction(parts_.clock.now(), [&](store::Store& store) -> store::Result<void> {
    for (const std::string& key : other ? *keys : std::vector<std::string>{}) {
      auto row = store.case_of(key);
      if (row.has_error()) return row.error();
      if (!*row) continue;
      CaseNotes notes = notes_of(**row);
      notes.search = now != "shadow";
      (*row)->extra = text_of(notes);
      (*row)->care_plan_id.clear();
      (*row)->care_plan_etag.clear();
      if (auto put = store.put_case(**row); put.has_error()) return put;
      if (auto gone = store.drop_items_of_case(key); gone.has_error()) return gone;
      for (const std::string& lane : {key, documents_lane(key), messages_lane(key)})
        if (auto gone = store.supersede_unsent(lane, "record.mode has changed", parts_.clock.now()); gone.has_error()) return gone.error();
    }
    if (other && now == "shadow")
      if (auto gone = served_->remove_all(store); gone.has_error()) return gone;
    return store.set_meta(kMode, now);
  });
  if (failed(done, "taking up another mode")) return;
  if (now == "shadow") in_shadow_.insert(keys->begin(), keys->end());  // a stop may have come between a write and its being taken
  if (other)
    for (const std::string& key : *keys) again(key, "record.mode has changed");
}

/// As a record answers: at once, and each write in one unit with what it means. What follows from it is computed, until nothing more is to be written.
void Engine::play_in_shadow() {
  for (int round = 0; round < 1000 && !in_shadow_.empty() && !failed_; ++round) {
    const std::string key = *in_shadow_.begin();
    in_shadow_.erase(in_shadow_.begin());
    bool any = false;
    for (const std::string& lane : {key, documents_lane(key), messages_lane(key)}) {
      const auto waiting = parts_.store.unsettled_of_case(lane);
      if (failed(waiting, "reading shadow writes")) return;
      for (const store::Write& write : *waiting)
        if (write.shadow && !failed_) any = take_in_shadow(write) || any;
    }
    if (any && !failed_) again(key, "shadow writes were taken");
  }
}

bool Engine::take_in_shadow(const store::Write& write) {
  const WriteTarget target = target_from(write.target);
  ServedRequest request{target.method, write.kind == store::WriteKind::transaction ? "" : target.path, {}, write.body, parts_.rules.configuration.record->base_url};
  for (const auto& header : target.headers) request.headers.add(header.name, header.value);
  std::string refused;
  const auto done = parts_.store.transaction(parts_.clock.now(), [&](store::Store& store) -> store::Result<void> {
    const transport::Response answer = served_->as_record(request);
    if (answer.status >= 500) return store::Error{store::ErrorKind::logic, answer.body};
    if (answer.status >= 300) {
      refused = fmt::format("{}: {}", answer.status, answer.body);
      return store.supersede_write(write.id, refused, parts_.clock.now());
    }
    if (auto kept = record_->take_answer(store, write, answer); kept.has_error()) return kept;
    return store.mark_delivered(write.id, answer.body, parts_.clock.now());
  });
  if (failed(done, "taking a shadow write")) return false;
  if (!refused.empty()) {
    parts_.log.error(fmt::format("{}: shadow write {} was refused here ({})", write.case_key, write.sequence, refused));
    alarms_.raise("shadow " + write.case_key, fmt::format("{}: what was computed in shadow no longer fits what stands there; it begins anew with the next fact", case_in(write.case_key)));
    return false;
  }
  return true;
}

}  // namespace app
