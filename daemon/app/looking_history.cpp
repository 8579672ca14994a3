// What was deleted. No search shows it and no notification tells of it (FHIR R4, Subscription: "no notification when a resource is deleted"), so the history of a
// type is asked, where the record shows one: the index Procedure and the drugs by default, since a plan stands on them.
#include <fmt/format.h>

#include "app/looking.h"
#include "app/reconcile.h"
#include "fhir/date_time.h"
#include "fhir_read/intake.h"

namespace app {
namespace {

constexpr std::size_t kHistoryPages = 50;

}  // namespace

void Looking::look_at_next_history() {
  const std::string type = *histories_.begin();
  histories_.erase(histories_.begin());
  const auto mark = parts_.store.meta(kHistoryMark + type);
  if (mark.has_error()) return ended(false);
  if (!*mark || (*mark)->empty()) return history_mark(type);
  RecordSearch what = searching({fmt::format("{}/_history?_since={}&_count=100", type, **mark)});
  what.pages = kHistoryPages;
  search(parts_.get, std::move(what), [this, type, alive = std::weak_ptr<int>(alive_)](SearchResult result) {
    if (!alive.lock()) return;
    note_trouble(result);
    if (!result.refused.empty() || !result.withheld.empty()) {
      if (no_history_.insert(type).second) parts_.log.info(fmt::format("the record does not show the history of {}: what is deleted is found at night", type));
      return ended(true);
    }
    // The oldest pages come last. What was not read may hold a deletion: everything is compared instead, and this history is left alone for a while.
    if (result.cut) no_history_.insert(type);
    if (result.cut && comparing_.empty()) {
      parts_.log.warn(fmt::format("the history of {} since the last look has more than {} pages: the patients of open cases are compared with the record instead", type, kHistoryPages));
      start_comparison(reconciling_day(parts_.clock.now(), parts_.rules.configuration.site.time_zone, 0), open_patients());
    }
    const std::string next = history_mark_at(result.date);
    const bool over = result.whole || result.cut;
    std::erase_if(result.found, [this](const Found& one) {
      const auto fact = parts_.store.current("", one.event.resource_type, one.event.resource_id);
      return fact.has_value() && (!*fact || (*fact)->deleted);
    });
    // What has moved to another patient, or is entered in error, a search by patient may no longer show.
    for (const Found& one : result.standing) {
      const auto fact = parts_.store.current("", one.event.resource_type, one.event.resource_id);
      if (fact.has_value() && *fact && !(*fact)->deleted && (*fact)->version_id != one.event.version_id) owe(one.event.resource_type + "/" + one.event.resource_id);
    }
    journal(std::move(result.found), {}, type + " deleted", [this, type, next, over](bool durable, std::size_t) {
      if (over && durable && !next.empty()) (void)parts_.store.set_meta(kHistoryMark + type, next);
      ended(over && durable);
    });
  });
}

/// Less the horizon, and never later than our own clock: a Date that is ahead would make us deaf.
std::string Looking::history_mark_at(const std::string& date) const {
  const auto horizon = static_cast<int>(parts_.rules.configuration.record->horizon_seconds);
  std::string mark = instant_of_date_header(date, -horizon);
  if (mark.empty() || parts_.clock.rehearsal()) return mark;
  const std::string bound = fhir::format_utc(fhir::Instant{std::chrono::seconds{parts_.clock.machine() / 1000 - horizon}});
  return fhir_read::compare_instants(bound, mark).value_or(0) < 0 ? bound : mark;
}

/// From now on: what was deleted before is not held. The horizon is for what becomes visible late.
void Looking::history_mark(const std::string& type) {
  parts_.get(type + "/_history?_count=1", [this, type, alive = std::weak_ptr<int>(alive_)](const transport::Response* response) {
    if (!alive.lock()) return;
    if (!response) return ended(false);
    if (response->status == 429 || response->status >= 500) return ended(response->status == 501 && no_history_.insert(type).second);
    if (response->status != 200) return void((no_history_.insert(type), ended(true)));
    const std::string now = history_mark_at(std::string(response->headers.get("Date").value_or("")));
    if (!now.empty()) (void)parts_.store.set_meta(kHistoryMark + type, now);
    ended(!now.empty());
  });
}

}  // namespace app
