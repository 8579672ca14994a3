// What stands at the record against what should.
#include <fmt/format.h>

#include <algorithm>
#include <bit>

#include "app/looking.h"
#include "app/printing.h"
#include "app/subscriptions.h"
#include "fhir/date_time.h"

namespace app {
namespace {

constexpr Millis kDay = 86'400'000;
constexpr int kRewrites = 3;  // times that one is written anew because it stands otherwise than wanted
constexpr int kForgive = 60;  // rounds after which what was refused is asked for again
constexpr const char* kCount = "subscriptions made";

Millis millis_of(const std::string& instant) {
  const auto read = fhir::read_time(instant);
  return read.has_value() && read->exact() ? Millis{read->earliest.time_since_epoch().count()} * 1000 : 0;
}

/// The one with that id; else that calls that address, the smallest id where a lost answer has made two.
const SeenSubscription* find(const SubscriptionCalls::List& list, const std::string& id, const std::string& address) {
  const SeenSubscription* found = nullptr;
  for (const auto& one : list.all) {
    if (!id.empty() && one.brief.id == id) return &one;
    if (id.empty() && one.brief.endpoint == address && (!found || one.brief.id < found->brief.id)) found = &one;
  }
  return found;
}

/// 7 of "as-installation-7": they rise.
std::int64_t count_in(const std::string& name) { return std::stoll("0" + name.substr(name.rfind('-') + 1)); }

/// "Task" of "Task?" or, of a topic with a filter, the topic: what stands of it in one element.
std::string asks_for(const std::string& subject) {
  std::string text = subject.substr(0, subject.find(' '));
  if (text.ends_with('?')) text.pop_back();
  return text;
}

/// Of "Name: value"; empty: another header.
std::string value_of(const std::string& header, const std::string& name) {
  const auto colon = header.find(':');
  if (colon == std::string::npos || !transport::equal_ignoring_case(header.substr(0, colon), name)) return {};
  const auto from = header.find_first_not_of(' ', colon + 1);
  return from == std::string::npos ? "" : header.substr(from);
}

bool is_secret(const std::string& value) { return value.size() == 64 && std::ranges::all_of(value, [](char c) { return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f'); }); }

bool standing(const store::Subscription& row) { return row.state != "ending"; }

}  // namespace

void Subscriptions::reconcile(SubscriptionCalls::List list) {
  if (!list.whole && !list.refused) {
    unsettled_ = true;
    return parts_.alarms.raise("subscriptions", "the record could not be asked for our Subscriptions; asked again");
  }
  parts_.alarms.calm("subscriptions");
  const Millis said = millis_of(instant_of_date_header(list.date, 0));
  record_now_ = said > 0 ? said : real_millis();
  ++refused_rounds_;
  const auto& wanted = choice_.subjects;
  std::set<std::string> known;
  for (Row& one : rows()) {
    const bool fits = one.form == choice_.form && std::ranges::find(wanted, one.subject) != wanted.end();
    if (!fits && standing(one)) {
      move(one, "ending", "no longer wanted");
      one.state = "ending";
    }
    const SeenSubscription* seen = find(list, one.server_id, address_of(one));
    if (seen) known.insert(seen->brief.id);
    if (!one.server_id.empty()) known.insert(one.server_id);
    decide(one, seen, list);
  }
  remove_strays(list, known);
  for (const std::string& subject : wanted) {
    const auto all = rows();
    if (std::ranges::none_of(all, [&](const Row& one) { return one.subject == subject && standing(one); })) add_row(subject);
  }
}

void Subscriptions::decide(Row one, const SeenSubscription* seen, const SubscriptionCalls::List& list) {
  if (one.state == "ending") {
    if (seen) return enqueue([this, name = one.name, seen = *seen](Done done) { remove(name, seen, std::move(done)); });
    if (list.whole || one.server_id.empty()) return drop(one);
  } else if (seen) {
    return see(std::move(one), *seen);
  } else if (one.server_id.empty()) {
    const bool may = one.state == "new" || (one.state == "sending" && !unknown_.contains(one.name)) || (one.state == "refused" && refused_rounds_ % kForgive == 0);
    unsettled_ = unsettled_ || one.state != "refused";
    if (may) enqueue([this, name = one.name](Done done) { create(name, std::move(done)); });
    return;
  }
  // It should be there, and the search does not show it.
  unsettled_ = true;
  enqueue([this, name = one.name, id = one.server_id](Done done) {
    calls_.read(id, [this, name, done](int status, std::optional<SeenSubscription> found) {
      const auto now = row(name);
      if (!now) return done();
      if (found && now->state == "ending") return remove(name, std::move(*found), done);
      if (found) {
        see(*now, *found);
      } else if (status == 404 || status == 410) {
        if (now->state == "ending") drop(*now);
        else return replace(*now, done);
      }
      done();
    });
  });
}

void Subscriptions::see(Row one, const SeenSubscription& seen) {
  one.server_id = seen.brief.id;
  if (const Millis end = millis_of(seen.brief.end); end > 0) one.ends_at = end;
  unknown_.erase(one.name);
  periods_[one.name] = seen.brief.heartbeat_seconds;
  if (const std::string what = otherwise(one, seen); !what.empty()) return mend(std::move(one), seen, what);
  if (seen.brief.status == "active") return see_active(std::move(one), seen);
  unsettled_ = true;
  if (seen.brief.status == "requested") {
    if (!timers_.contains("activation " + one.name)) wait_for_activation(one.name);
    return move(std::move(one), "requested");
  }
  const std::string why = fmt::format("the record has it as {}{}", seen.brief.status, seen.brief.error.empty() ? "" : ": " + seen.brief.error);
  parts_.alarms.raise(topic_of_alarm(one), fmt::format("Subscription {} ({}): {}; what has changed is asked for, then it is requested again", seen.brief.id, one.subject, why));
  cancel("heartbeat " + one.name);
  cancel("activation " + one.name);
  const std::string name = one.name;
  move(std::move(one), "error", why);
  // At once, then in the 2nd, 4th, 8th ... of the rounds that find it so: an address that the record cannot reach is not mended by asking.
  if (const int n = asks_[name]++; n < 2 || n % (1 << std::min(static_cast<int>(std::bit_width(static_cast<unsigned>(n))) - 1, 5)) == 0)
    enqueue([this, name, seen](Done done) { ask_again(name, seen, std::move(done)); });
}

bool Subscriptions::may_doubt_secret(const std::string& name) const {
  constexpr store::Millis kPause = 6LL * 3600 * 1000;
  store::Millis& last = secret_doubted_[name];
  const store::Millis now = parts_.clock.now();
  if (last != 0 && now - last < kPause) return false;
  last = now;
  return true;
}

/// What stands at the record that was not wanted: "its endpoint"; empty: nothing. What a record does not show (a secret) is not compared.
std::string Subscriptions::otherwise(const Row& one, const SeenSubscription& seen) const {
  if (!seen.brief.endpoint.empty() && seen.brief.endpoint != address_of(one)) return "its endpoint";
  if (!seen.brief.subject.empty() && asks_for(seen.brief.subject) != asks_for(one.subject)) return "what it listens to";
  const std::string& name = parts_.rules.configuration.listen.secret_header;
  bool shows_ours = false;
  for (const std::string& header : seen.brief.headers) {  // some mask it
    const std::string value = value_of(header, name);
    if (is_secret(value) && value != one.secret) return "our secret";
    shows_ours = shows_ours || value == one.secret;
  }
  // Anybody who reaches the address can call with a wrong secret: where the record shows ours it was not the record; where it shows none, now and then.
  if (parts_.hooks.shut_out(one.name) && !shows_ours && may_doubt_secret(one.name)) return "the secret with which it calls";
  const auto named = [&](const std::string& header) { return transport::equal_ignoring_case(header.substr(0, header.find(':')), name); };
  if (!seen.brief.headers.empty() && std::ranges::none_of(seen.brief.headers, named)) return "the header with our secret";
  return {};
}

/// Our configuration has changed, or somebody has edited it there: it is written anew; where that does not help, a person is told.
void Subscriptions::mend(Row one, const SeenSubscription& seen, const std::string& what) {
  parts_.alarms.raise(topic_of_alarm(one), fmt::format("Subscription {} ({}): {} is not what is wanted, so nothing is heard of it; it is written anew, and changes are found by asking", seen.brief.id, one.subject, what));
  unsettled_ = true;
  const std::string name = one.name;
  move(std::move(one), "error", what + " is not what is wanted");
  if (++rewrites_[name] <= kRewrites) enqueue([this, name, seen](Done done) { ask_again(name, seen, std::move(done)); });
}

void Subscriptions::see_active(Row one, const SeenSubscription& seen) {
  const bool news = one.state != "active";
  rewrites_.erase(one.name);
  if (news) {
    cancel("activation " + one.name);
    parts_.alarms.calm(topic_of_alarm(one));
    watch_heartbeat(one);
    enqueue_catch_up();  // the overlap: what changed before it was active
  } else if (!timers_.contains("heartbeat " + one.name)) {
    watch_heartbeat(one);
  }
  move(one, "active");
  see_its_end(one, seen);
}

/// Another takes its place a day before its end, or after three quarters of a shorter life; once that one is active, this one goes.
void Subscriptions::see_its_end(const Row& one, const SeenSubscription& seen) {
  const auto all = rows();
  const auto later = std::ranges::find_if(all, [&](const Row& other) { return other.subject == one.subject && standing(other) && count_in(other.name) > count_in(one.name); });
  if (later == all.end()) {
    // A record may grant less than was asked for.
    const Millis since = millis_of(seen.brief.updated);
    const Millis life = since > 0 && one.ends_at > since ? one.ends_at - since : parts_.rules.configuration.subscriptions.days * kDay;
    const Millis lead = std::min(kDay, life / 4);
    if (one.ends_at > 0 && one.ends_at - record_now_ <= lead) add_row(one.subject);
    return;
  }
  if (later->state != "active") return;
  move(one, "ending", "another has taken its place");
  enqueue([this, name = one.name, seen](Done done) { remove(name, seen, std::move(done)); });
}

/// Ours by the tag, and of no row here: of an earlier store, or made twice.
void Subscriptions::remove_strays(const SubscriptionCalls::List& list, const std::set<std::string>& known) {
  for (const auto& one : list.all) {
    if (one.brief.writer != parts_.rules.installation || known.contains(one.brief.id)) continue;
    if (one.brief.status == "off" && switched_off_.contains(one.brief.id)) continue;
    parts_.log.warn(fmt::format("subscription {} at the record carries our tag and is none that we know: it is removed", one.brief.id));
    enqueue([this, seen = one](Done done) {
      calls_.remove(seen, [this, id = seen.brief.id, done](bool gone) {
        if (gone) switched_off_.insert(id);
        unsettled_ = unsettled_ || !gone;
        done();
      });
    });
  }
}

void Subscriptions::add_row(const std::string& subject) {
  Row one;
  one.secret = fresh_secret();
  if (one.secret.empty()) return parts_.alarms.raise("subscriptions", "this machine gives no random numbers: no Subscription can be made");
  const auto count = parts_.store.meta(kCount);
  if (count.has_error()) return parts_.store_failed(count.error(), "naming a Subscription of ours");
  const std::int64_t n = (*count ? std::stoll(**count) : 0) + 1;
  one.name = fmt::format("as-{}-{}", parts_.rules.installation, n);
  one.subject = subject;
  one.form = choice_.form;
  one.state = "new";
  one.created_at = parts_.clock.now();
  one.last_number = by_topic() ? 0 : -1;
  const auto kept = parts_.store.transaction(parts_.clock.now(), [&](store::Store& store) -> store::Result<void> {
    if (auto counted = store.set_meta(kCount, std::to_string(n)); counted.has_error()) return counted;
    return store.put_subscription(one, parts_.clock.now());
  });
  if (kept.has_error()) return parts_.store_failed(kept.error(), "keeping a Subscription of ours");
  parts_.hooks.put(one.name, {one.secret, one.form == "r5"});
  unsettled_ = true;
  enqueue([this, name = one.name](Done done) { create(name, std::move(done)); });
}

}  // namespace app
