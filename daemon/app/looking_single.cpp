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
    if (asked_.insert(reference).second || in_doubt) single_.insert(reference);
  next();
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
  single_.insert(references.begin(), references.end());
  next();
}

/// A portion: Procedures first, for a case may open.
void Looking::fetch_singles() {
  std::vector<std::string> portion;
  for (const bool procedures : {true, false})
    for (const std::string& one : single_)
      if (portion.size() < kSingles && one.starts_with("Procedure/") == procedures) portion.push_back(one);
  held_when_asked_.clear();
  for (const std::string& one : portion) {
    single_.erase(one);
    const auto slash = one.find('/');
    const auto fact = parts_.store.current("", one.substr(0, slash), one.substr(slash + 1));
    held_when_asked_[one] = fact.has_value() && *fact ? (*fact)->event_id : 0;
  }
  ask(searching(portion), "single resources", [this, portion](const SearchResult& result, std::size_t) { took_singles(portion, result); });
}

void Looking::took_singles(const std::vector<std::string>& asked, const SearchResult& result) {
  std::set<std::string> shown, in_vain;
  if (result.whole)  // else some were not answered at all, or what was is not durable
    for (const Found& one : result.found) shown.insert(one.event.resource_type + "/" + one.event.resource_id);
  for (const std::string& one : asked)
    if (!shown.contains(one) && told_.contains(one)) in_vain.insert(one);
    else if (!result.whole) later_.insert(one);
  told_.settled(shown);
  for (const std::string& one : shown) parts_.alarms.calm("told of " + one);
  for (const std::string& one : result.whole ? told_.unanswered(in_vain) : std::vector<std::string>{})
    parts_.alarms.raise("told of " + one, fmt::format("a sender says that {} has changed, and the record has not shown it (not there, not ours to see, or no answer) in {} tries: look what is to be seen of it", one, Told::kTries));
  told_in_vain_ = in_vain.empty() ? 0 : told_in_vain_ + 1;
  if (!told_.empty() && !in_vain.empty()) ask_again_for_told();
  ended(result.whole);
}

/// In 5 s, 10 s, 20 s ... ten minutes at most.
void Looking::ask_again_for_told() {
  parts_.timers.cancel(told_timer_);
  const auto pause = std::min(std::chrono::seconds{600}, std::chrono::seconds{5} * (1 << std::min(told_in_vain_ - 1, 7)));
  told_timer_ = parts_.timers.after(pause, [this, alive = std::weak_ptr<int>(alive_)] {
    if (!alive.lock()) return;
    parts_.executor.post([this, alive] {
      if (!alive.lock()) return;
      for (std::string& one : told_.all()) single_.insert(std::move(one));
      next();
    });
  });
}

}  // namespace app
