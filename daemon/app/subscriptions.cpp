#include "app/subscriptions.h"

#include <fmt/format.h>

#include <algorithm>

#include "app/deliver.h"
#include "app/looking.h"
#include "app/printing.h"
#include "fhir/date_time.h"

namespace app {
namespace {

constexpr int kLongestPause = 60;  // s between two looks at our Subscriptions: one search a minute
constexpr const char* kRound = "round";

}  // namespace

Subscriptions::Subscriptions(SubscriptionParts parts)
    : parts_(std::move(parts)), calls_(parts_.send, parts_.rules.configuration.record->base_url, parts_.rules.configuration.record->next_page == "rebase", deliver_options(parts_.rules).timeout) {
  const auto& configuration = parts_.rules.configuration;
  choice_.why_none = why_no_subscriptions(configuration);
  configured_ = choice_.why_none.empty();
  if (!configured_) choice_.form = "none";
  parts_.hooks.name(configuration.record->source, "as-" + parts_.rules.installation + "-", configuration.listen.secret_header);
  for (const Row& one : rows()) parts_.hooks.put(one.name, {one.secret, one.form == "r5"});  // before anybody can call
}

Subscriptions::~Subscriptions() {
  for (const auto& [key, timer] : timers_) parts_.timers.cancel(timer);
}

void Subscriptions::start() {
  const auto standing = rows();
  for (const Row& one : standing)
    if (one.state == "sending") note_unknown(one.name);
  if (!configured_ && (standing.empty() || parts_.rules.configuration.record->mode != "live")) return;
  enqueue_catch_up();
  round();
  for (const Row& one : standing)
    if (!gaps_of(one).empty()) wait_for_gap(one.name);
}

void Subscriptions::enqueue_catch_up() {
  if (std::exchange(catch_up_queued_, true)) return;
  enqueue([this](Done done) {
    catch_up_queued_ = false;
    parts_.catch_up([done](bool) { done(); });
  });
}

/// Once a round is enough for all that is mended in it.
void Subscriptions::catch_up_first(std::function<void(bool whole)> then) {
  if (caught_up_) return then(true);
  parts_.catch_up([this, then = std::move(then)](bool whole) {
    // A record that never answers all of it is asked in rounds anyway: its Subscriptions need not stay in error for that.
    const bool enough = whole || ++catches_ >= kCatches;
    if (enough) catches_ = 0;
    caught_up_ = enough;
    unsettled_ = unsettled_ || !enough;
    then(enough);
  });
}

/// One look at what stands at the record; what it asks for is done in the order in which it was seen.
void Subscriptions::round() {
  in_round_ = true;
  unsettled_ = caught_up_ = false;
  if (configured_ && !asked_ability_)
    enqueue([this](Done done) {
      calls_.ability([this, done](std::optional<SubscriptionCalls::Ability> ability) {
        if (ability) choose(ability->record);
        unsettled_ = unsettled_ || !ability;
        done();
      });
    });
  enqueue([this](Done done) {
    if (configured_ && !asked_ability_) return done();
    calls_.list(fhir_write::writer_tag(parts_.rules.installation), [this, done](SubscriptionCalls::List list) {
      reconcile(std::move(list));
      done();
    });
  });
}

void Subscriptions::choose(const fhir_read::SubscriptionAbility& record) {
  asked_ability_ = true;
  choice_ = choose_subscriptions(parts_.rules.configuration, record);
  for (const std::string& topic : choice_.unknown_topics)
    parts_.alarms.raise("subscription topic " + topic, fmt::format("the record does not name {} among its topics; it is asked for all the same", topic));
}

void Subscriptions::enqueue(Step step) {
  steps_.push_back(std::move(step));
  next();
}

void Subscriptions::next() {
  if (running_) return;
  if (steps_.empty()) return rest();
  running_ = true;
  const Step step = std::move(steps_.front());
  steps_.pop_front();
  parts_.executor.post([this, step, alive = std::weak_ptr<int>(alive_)] {
    if (!alive.lock()) return;
    step([this, alive] {
      if (!alive.lock()) return;
      parts_.executor.post([this, alive] {
        if (!alive.lock()) return;
        running_ = false;
        next();
      });
    });
  });
}

/// 1 s, 2 s, 4 s ... while something is on its way, else a minute.
void Subscriptions::rest() {
  if (!std::exchange(in_round_, false) || (choice_.form == "none" && !unsettled_ && rows().empty())) return parts_.rested();
  calm_rounds_ = unsettled_ ? calm_rounds_ + 1 : 0;
  const int pause = unsettled_ ? std::min(kLongestPause, 1 << std::min(calm_rounds_ - 1, 10)) : kLongestPause;
  after(std::chrono::seconds{pause}, kRound, [this] { round(); });
  parts_.rested();
}

void Subscriptions::after(std::chrono::seconds pause, const std::string& key, std::function<void()> then) {
  cancel(key);
  timers_[key] = parts_.timers.after(pause, [this, then = std::move(then), alive = std::weak_ptr<int>(alive_)] {
    if (!alive.lock()) return;
    parts_.executor.post([then, alive] {
      if (alive.lock()) then();
    });
  });
}

void Subscriptions::cancel(const std::string& key) {
  if (const auto timer = timers_.find(key); timer != timers_.end()) {
    parts_.timers.cancel(timer->second);
    timers_.erase(timer);
  }
}

std::string Subscriptions::address_of(const Row& row) const {
  const auto& configuration = parts_.rules.configuration;
  return fmt::format("{}/hook/{}/{}", configuration.subscriptions.endpoint, configuration.record->source, row.name);
}

std::vector<store::Subscription> Subscriptions::rows() {
  auto all = parts_.store.subscriptions();
  if (all.has_value()) return std::move(*all);
  parts_.store_failed(all.error(), "reading our Subscriptions");
  return {};
}

std::optional<store::Subscription> Subscriptions::row(const std::string& name) {
  auto one = parts_.store.subscription(name);
  if (one.has_value()) return std::move(*one);
  parts_.store_failed(one.error(), "reading a Subscription of ours");
  return std::nullopt;
}

void Subscriptions::put(const Row& row) {
  if (const auto kept = parts_.store.put_subscription(row, parts_.clock.now()); kept.has_error()) parts_.store_failed(kept.error(), "keeping a Subscription of ours");
}

void Subscriptions::drop(const Row& row) {
  if (const auto gone = parts_.store.drop_subscription(row.name, parts_.clock.now()); gone.has_error()) return parts_.store_failed(gone.error(), "dropping a Subscription of ours");
  parts_.hooks.drop(row.name);
  for (const char* topic : {"silent ", "misrouted "}) parts_.alarms.calm(topic + row.name);
  for (const char* purpose : {"heartbeat ", "activation ", "gap "}) cancel(purpose + row.name);
}

void Subscriptions::move(Row row, const std::string& state, const std::string& reason) {
  if (row.state != state) parts_.log.info(fmt::format("subscription {} ({}): {}{}", row.name, row.subject, state, reason.empty() ? "" : ", " + reason));
  row.state = state;
  row.reason = reason;
  put(row);
}

report::Status::Subscriptions Subscriptions::status() {
  report::Status::Subscriptions out;
  out.form = choice_.form.empty() ? parts_.rules.configuration.subscriptions.form : choice_.form;
  out.why_none = choice_.why_none;
  const auto text = [](Millis at) { return at == 0 ? "" : fhir::format_utc(fhir::Instant{std::chrono::seconds{at / 1000}}); };
  for (const Row& one : rows()) {
    report::Status::Subscription shown{one.subject, one.name, one.server_id, one.state, one.reason, text(one.heard_at), text(one.ends_at)};
    shown.heard_seconds = one.heard_at == 0 ? -1 : std::max<Millis>(0, parts_.clock.now() - one.heard_at) / 1000;
    shown.notices = one.notices;
    shown.epoch = one.epoch;
    shown.last_number = one.last_number;
    shown.gaps_opened = one.gaps_opened;
    shown.gaps_open = static_cast<std::int64_t>(gaps_of(one).size());
    out.list.push_back(std::move(shown));
  }
  return out;
}

}  // namespace app
