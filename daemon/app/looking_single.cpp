// Single resources: what facts refer to, what is in doubt, and what senders only named.
#include <fmt/format.h>

#include <algorithm>

#include "app/looking.h"
#include "app/take_event.h"

namespace app {
namespace {

constexpr std::size_t kSingles = 20; // single resources read before something else has its turn

}  // namespace

void Looking::fetch(const std::vector<std::string>& references, bool in_doubt) {
  for (const std::string& reference : references)
    if (asked_.insert(reference).second || in_doubt) owe(reference);
  next();
}

/// The round is not over before it was asked for; what senders name, which may be very much, keeps no round open.
void Looking::owe(const std::string& reference) {
  single_.insert(reference);
  owed_.insert(reference);
}

/// What an earlier run was told of and did not see.
void Looking::start() {
  for (std::string& one : told_.all()) single_.insert(std::move(one));
  next();
}

void Looking::told_of(const std::vector<std::string>& references) {
  if (references.empty()) return;
  if (told_.add(references)) parts_.alarms.calm("told");
  else {
    parts_.alarms.raise("told", fmt::format("senders have named more resources than are remembered ({}): all that may have changed is looked at instead", Told::kMost));
    round_wanted_ = true;
  }
  for (const std::string& one : references)  // a new word of it: it is asked for as if for the first time
    if (const auto vain = in_vain_.find(one); vain != in_vain_.end()) parts_.timers.cancel(vain->second.timer), in_vain_.erase(vain);
  single_.insert(references.begin(), references.end());
  next();
}

/// A portion: what the round owes, then Procedures, for a case may open.
void Looking::fetch_singles() {
  std::vector<std::string> portion;
  const auto rank = [this](const std::string& one) { return owed_.contains(one) ? 0 : one.starts_with("Procedure/") ? 1 : 2; };
  for (int now = 0; now < 3; ++now)
    for (const std::string& one : single_)
      if (portion.size() < kSingles && rank(one) == now) portion.push_back(one);
  held_when_asked_.clear();
  for (const std::string& one : portion) {
    single_.erase(one);
    owed_.erase(one);
    const auto slash = one.find('/');
    const auto fact = parts_.store.current("", one.substr(0, slash), one.substr(slash + 1));
    held_when_asked_[one] = fact.has_value() && *fact ? (*fact)->event_id : 0;
  }
  ask(searching(portion), "single resources", [this, portion](const SearchResult& result, std::size_t) { took_singles(portion, result); });
}

void Looking::took_singles(const std::vector<std::string>& asked, const SearchResult& result) {
  std::set<std::string> shown, in_vain, answered_in_vain;
  const auto status_of = [&](const std::string& one) {  // none where what was answered is not durable
    const auto at = result.single_status.find(one);
    return at == result.single_status.end() ? 0 : at->second;
  };
  for (const Found& one : result.found)
    if (const std::string name = one.event.resource_type + "/" + one.event.resource_id; status_of(name) == 200 || status_of(name) == 410) shown.insert(name);
  for (const std::string& one : asked) {
    const int status = status_of(one);
    const bool told = told_.contains(one);
    // An outage is nobody's fault; a resource that alone is answered with a fault is a person's matter in time.
    const bool passes = status == 0 || status == 401 || status == 408 || status == 429 || (status >= 502 && status <= 504);
    if (!shown.contains(one) && told) in_vain.insert(one);
    if (!shown.contains(one) && told && !passes) answered_in_vain.insert(one);
    if (!shown.contains(one) && !told && status != 404 && status != 403) later_.insert(one);
  }
  told_.settled(shown);
  for (const std::string& one : shown) parts_.alarms.calm("told of " + one);
  for (const std::string& one : told_.unanswered(answered_in_vain))
    parts_.alarms.raise("told of " + one, fmt::format("a sender says that {} has changed, and the record has not shown it (not there, not ours to see, or no answer) in {} tries: look what is to be seen of it", one, Told::kTries));
  std::erase_if(in_vain_, [this](const auto& one) {
    if (!told_.contains(one.first)) parts_.timers.cancel(one.second.timer);
    return !told_.contains(one.first);
  });
  ask_again_for_told(in_vain);
  ended(result.whole);
}

/// Each in 5 s, 10 s, 20 s ... ten minutes at most: one that is never shown makes no other wait.
void Looking::ask_again_for_told(const std::set<std::string>& in_vain) {
  for (const std::string& one : in_vain) {
    if (!told_.contains(one)) continue;  // given up
    InVain& now = in_vain_[one];
    parts_.timers.cancel(now.timer);
    now.timer = parts_.timers.after(std::min(std::chrono::seconds{600}, std::chrono::seconds{5} * (1 << std::min(now.times++, 7))), [this, one, alive = std::weak_ptr<int>(alive_)] {
      if (!alive.lock()) return;
      parts_.executor.post([this, one, alive] {
        if (!alive.lock() || !told_.contains(one)) return;
        single_.insert(one);
        next();
      });
    });
  }
}

}  // namespace app
