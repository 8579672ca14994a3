#include "app/task_limit.h"

#include <algorithm>

namespace app {
namespace {

using clinical::Change;
using clinical::ChangeKind;
using clinical::Step;

bool is_new_task(const Change& change) { return change.kind == ChangeKind::create && change.key.kind == clinical::ItemKind::task; }

bool may_wait(const Change& change) {
  return is_new_task(change) && change.item->milestone && change.item->priority == clinical::Priority::routine && !change.replaces && change.key.step != Step::call_clinician;
}

auto by_start(const clinical::Item& item) { return std::pair(item.start.value_or(clinical::Instant::min()), text_of(item.key)); }

}  // namespace

HeldBack hold_back(clinical::Difference& difference, const std::vector<clinical::Instant>& given, std::int64_t per_hour, clinical::Instant now) {
  constexpr clinical::hours kSpan{1};
  HeldBack held;
  std::vector<clinical::Instant> recent;
  for (const auto at : given)
    if (at > now - kSpan) recent.push_back(at);
  auto& changes = difference.changes;
  auto count = static_cast<std::int64_t>(recent.size()) + std::ranges::count_if(changes, is_new_task);
  while (count > per_hour) {
    auto last = changes.end();
    for (auto one = changes.begin(); one != changes.end(); ++one)
      if (may_wait(*one) && (last == changes.end() || by_start(*last->item) < by_start(*one->item))) last = one;
    if (last == changes.end()) break;
    held.items.insert(held.items.begin(), *last->item);
    changes.erase(last);
    --count;
  }
  if (held.items.empty()) return held;
  // Room comes when the oldest of the hour has left it; where only what goes out now fills the hour, an hour from now.
  held.again_at = (recent.empty() ? now : std::ranges::min(recent)) + kSpan;
  const clinical::Item* newest = nullptr;
  for (const Change& change : changes)
    if (is_new_task(change) && (!newest || by_start(*newest) < by_start(*change.item))) newest = &*change.item;
  if (newest) held.last_given = newest->key;
  return held;
}

}  // namespace app
