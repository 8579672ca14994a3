// A Subscription that is not heard as it should be: heartbeats that do not come, events that are missing, a counter that began anew.
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "app/journal_event.h"
#include "app/subscriptions.h"

namespace app {
namespace {

constexpr std::chrono::seconds kGrace{10};      // what overtook another notification is given time to be caught up with
constexpr std::int64_t kMostFetched = 1000;     // numbers: more than that, and everything is asked for at once
constexpr int kMostRounds = 8;

std::int64_t size_of(const std::vector<Range>& gaps) {
  std::int64_t size = 0;
  for (const auto& [first, last] : gaps) size = last - first >= kMostFetched ? kMostFetched + 1 : std::min(kMostFetched + 1, size + last - first + 1);
  return size;
}

}  // namespace

store::Result<Hearing> Subscriptions::take(store::Store& store, const Heard& heard, Millis now) {
  auto one = store.subscription(heard.name);
  if (one.has_error()) return one.error();
  if (!*one) return Hearing{};
  const Hearing hearing = hear(**one, heard, now, falls_[heard.name]);
  if (hearing.misrouted) return hearing;
  if (auto kept = store.put_subscription(**one, now); kept.has_error()) return kept.error();
  return hearing;
}

void Subscriptions::taken(const Heard& heard, const Hearing& hearing) {
  const auto one = row(heard.name);
  if (!one) return;
  const std::string silent = "silent " + one->name;
  if (hearing.misrouted)
    return parts_.alarms.raise("misrouted " + one->name, fmt::format("Subscription {} speaks at the address of {} ({}): the record mixes up its addresses", heard.subscription_id, one->server_id, one->subject));
  if (!heard.asked) {
    asks_.erase(one->name);  // it reaches us
    parts_.alarms.calm(silent);
    if (timers_.contains("heartbeat " + one->name)) watch_heartbeat(*one);
  }
  if (!heard.errors.empty()) parts_.log.warn(fmt::format("subscription {} ({}): the record reports {}", one->name, one->subject, fmt::join(heard.errors, ", ")));
  if (hearing.epoch_opened) {
    parts_.log.warn(fmt::format("subscription {} ({}): the record counts anew, epoch {}; everything that may have changed is asked for", one->name, one->subject, one->epoch));
    enqueue_catch_up();
  }
  if (hearing.gap_opened) wait_for_gap(one->name);
  if ((heard.status == "error" || heard.status == "off") && one->state == "active" && !busy()) round();
}

void Subscriptions::watch_heartbeat(const Row& one) {
  const auto known = periods_.find(one.name);
  const auto period = known == periods_.end() ? 0 : known->second;
  if (!by_topic() || period == 0) {
    parts_.alarms.calm("silent " + one.name);
    return cancel("heartbeat " + one.name);
  }
  after(std::chrono::seconds{2 * period}, "heartbeat " + one.name, [this, name = one.name] { missed(name); });
}

/// Two periods of silence: how far has the record counted, and does it still know us? Then everything that may have changed.
void Subscriptions::missed(const std::string& name) {
  const auto one = row(name);
  if (!one || one->state != "active") return;
  parts_.log.warn(fmt::format("subscription {} ({}): two heartbeats are missing", one->name, one->subject));
  parts_.alarms.raise("silent " + name, fmt::format("Subscription {} ({}) has sent no heartbeat for {} s: changes are found by asking", one->server_id, one->subject, 2 * periods_[name]));
  enqueue([this](Done done) { ask_how_far(std::move(done)); });
  enqueue([this](Done done) {
    parts_.catch_up([this, done](bool) {
      round();
      done();
    });
  });
  watch_heartbeat(*one);
}

void Subscriptions::ask_how_far(Done done) {
  std::map<std::string, std::string> names;  // by id
  std::vector<std::string> ids;
  for (const Row& one : rows())
    if (one.state == "active" && !one.server_id.empty()) {
      names[one.server_id] = one.name;
      ids.push_back(one.server_id);
    }
  calls_.statuses(ids, [this, names, done](std::vector<fhir_read::Notice> notices) {
    std::vector<Heard> heard;
    for (const auto& notice : notices)
      if (const auto name = names.find(notice.subscription_id); name != names.end()) {
        heard.push_back(heard_of(name->second, notice));
        heard.back().asked = true;
      }
    if (heard.empty()) return done();
    parts_.submit({}, std::move(heard), [done](bool) { done(); });
  });
}

void Subscriptions::wait_for_gap(const std::string& name) {
  const std::string key = "gap " + name;
  if (timers_.contains(key)) return;
  after(kGrace, key, [this, name, key] {
    cancel(key);
    enqueue([this, name](Done done) { fill(name, 0, std::move(done)); });
  });
}

/// Fetches what is missing, gap by gap; what the record does not give is looked for like after an outage.
void Subscriptions::fill(const std::string& name, int rounds, Done done) {
  const auto one = row(name);
  const auto gaps = one ? gaps_of(*one) : std::vector<Range>{};
  if (gaps.empty()) return done();
  if (!by_topic() || rounds >= kMostRounds || !calls_.can_fetch_events() || size_of(gaps) > kMostFetched || one->server_id.empty()) return look_over_gap(name, std::move(done));
  calls_.events(one->server_id, gaps.front().first, gaps.front().second, [this, name, rounds, done, before = one->gaps](std::optional<json::Value> bundle, bool) {
    auto entries = bundle ? fhir_read::entries_of(*bundle) : fhir_read::Entries{};
    if (!entries.notice || entries.refused) return look_over_gap(name, done);
    std::vector<store::NewEvent> events;
    for (const auto& event : entries.events) events.push_back(journal_event("", event, "missing events"));
    Heard heard = heard_of(name, *entries.notice);
    heard.asked = true;
    heard.type = "query-event";
    parts_.submit(std::move(events), {std::move(heard)}, [this, name, rounds, done, before, names_nothing = entries.events.empty()](bool durable) {
      const auto now = row(name);
      // It gave nothing of what is missing; or only that something was.
      if (!durable || !now || now->gaps == before || names_nothing) return look_over_gap(name, done);
      fill(name, rounds + 1, done);
    });
  });
}

void Subscriptions::look_over_gap(const std::string& name, Done done) {
  const auto one = row(name);
  if (!one) return done();
  parts_.catch_up([this, name, done, epoch = one->epoch, last = one->last_number](bool whole) {
    auto now = row(name);
    if (now && whole && now->epoch == epoch) {
      close_gaps(*now, last);
      put(*now);
    }
    if (now && !gaps_of(*now).empty()) wait_for_gap(name);  // not whole, or newer ones
    done();
  });
}

}  // namespace app
