#include "clinical/change.h"

#include <algorithm>
#include <array>
#include <map>
#include <set>

#include "clinical/change_fingerprint.h"
#include "clinical/names.h"

namespace clinical {
namespace {

constexpr hours kPause{1};  // a rejected Task is not proposed again sooner

ItemKey base_of(ItemKey key) {
  key.replacement = 0;
  if (key.kind == ItemKind::document) key.ordinal = 0;
  return key;
}

bool is_task(ItemKind kind) { return kind == ItemKind::task || kind == ItemKind::cancellation; }

// Steps whose claimed Task is a danger once it should no longer be done as it says.
bool is_hazard(Step step) { return step == Step::remove_sheath || is_patient_step(step); }

// Every point asked for now is asked for by the older Task as well.
bool covers(std::string_view older, std::string_view newer) {
  const auto points = [](std::string_view content) {
    std::set<std::string_view> all;
    content.remove_prefix(std::min(content.find('/') + 1, content.size()));  // start
    content.remove_prefix(std::min(content.find('/'), content.size()));      // digest
    while (!content.empty()) {
      const auto end = std::min(content.find('+', 1), content.size());
      all.insert(content.substr(1, end - 1));
      content.remove_prefix(end);
    }
    return all;
  };
  return std::ranges::includes(points(older), points(newer));
}

// Content of a Task that somebody holds: windows that had begun anyway are the same to them.
bool same_to_holder(const Item& item, std::string_view fingerprint, Instant now) {
  const auto theirs = content_of(fingerprint), ours = content_of(item.fingerprint);
  if (theirs == ours) return true;
  if (item.key.step == Step::provide_missing) return covers(theirs, ours);
  const auto begun = [now](const std::optional<Instant>& start) { return !start || *start <= now; };
  const auto rest = [](std::string_view content) { return content.substr(std::min(content.find('/'), content.size())); };
  return begun(start_of(theirs)) && begun(start_of(ours)) && rest(theirs) == rest(ours);
}

class Comparison {
 public:
  Comparison(const Wanted& wanted, const std::vector<Standing>& standing, Instant now) : done_(wanted.done), passed_(wanted.passed), stopped_(wanted.stopped), now_(now) {
    for (const auto& one : standing) standing_[base_of(one.key)].push_back(&one);
    for (auto& [key, all] : standing_) std::ranges::sort(all, {}, [](const Standing* s) { return std::pair(s->key.ordinal, s->key.replacement); });
    for (const auto& item : wanted.items) wanted_.emplace(item.key, item);
  }

  Difference compare() {
    for (const auto& [key, all] : standing_)
      if (key.kind == ItemKind::task) add_requests_to_stop(key, all);
    for (const auto& [key, item] : wanted_) settle(item);
    for (const auto& [key, all] : standing_)
      for (const Standing* one : all) withdraw_if_unwanted(key, *one, one == all.back());
    std::ranges::stable_sort(result_.changes, {}, [this](const Change& change) { return std::pair(rank(change), text_of(change.key)); });
    result_.at_once = std::ranges::any_of(result_.changes, [](const Change& c) { return is_stop(c); }) || sheet_is_urgent();
    return std::move(result_);
  }

 private:
  static bool is_stop(const Change& change) {
    if (change.key.step == Step::print_sheet) return false;  // the sheet itself says what is to be done
    if (change.kind == ChangeKind::create) return change.key.kind == ItemKind::cancellation || (change.item->priority == Priority::stat && is_task(change.key.kind));
    return change.kind == ChangeKind::withdraw && is_task(change.key.kind) && change.reason->code != "change.withdrawn.done" && change.reason->code != "change.withdrawn.passed";
  }
  bool sheet_is_urgent() const {
    constexpr std::array urgent{"person", "side", "size", "closure", "t0", "conflict", "caution"};
    const bool hangs = std::ranges::any_of(result_.changes, [](const Change& c) { return c.key.kind == ItemKind::document && c.replaces; });
    return hangs && std::ranges::any_of(result_.sheet_causes, [&](const std::string& cause) { return std::ranges::find(urgent, cause) != urgent.end(); });
  }

  const Item* wanted_for(const ItemKey& base) const {
    const auto it = wanted_.find(base);
    return it == wanted_.end() ? nullptr : &it->second;
  }

  // A claimed Task that no longer says what should be done: ask its holder to stop, and tell a clinician where going on is unsafe.
  void add_requests_to_stop(const ItemKey& base, const std::vector<const Standing*>& all) {
    const Item* item = wanted_for(base);
    for (const Standing* one : all) {
      if (one->state != Stands::claimed) continue;
      const bool newest = one == all.back();
      if (item && newest && same_to_holder(*item, one->fingerprint, now_)) continue;
      const bool hazard = base.step && is_hazard(*base.step) && !is_done(base) && (!item || later(*item, one->fingerprint));
      add_cancellation(*one, hazard, item);
      if (hazard && !stopped_) add_alarm(*one, item);
    }
  }

  void add_cancellation(const Standing& target, bool hazard, const Item* successor) {
    Item request;
    request.key = target.key;
    request.key.kind = ItemKind::cancellation;
    request.priority = hazard ? Priority::urgent : Priority::routine;
    request.why = Reason{is_passed(base_of(target.key)) ? "change.cancel.passed" : is_done(base_of(target.key)) ? "change.cancel.done" : successor ? "change.cancel.replaced" : "change.cancel.no-longer", {}};
    if (!target.key.site.empty()) request.sites = {target.key.site};
    request.fingerprint = "-/" + request.why->code + ";" + std::to_string(static_cast<int>(request.priority));
    wanted_.insert_or_assign(request.key, std::move(request));
  }

  void add_alarm(const Standing& target, const Item* successor) {
    Item alarm;
    alarm.key = target.key;
    alarm.key.step = Step::call_clinician;
    alarm.key.cause = "claimed " + std::string(name_of(*target.key.step)) + " " + std::to_string(target.key.replacement);
    alarm.key.ordinal = alarm.key.replacement = 0;
    alarm.priority = Priority::urgent;
    if (!target.key.site.empty()) alarm.sites = {target.key.site};
    alarm.subject = name_of(*target.key.step);
    alarm.why = Reason{successor ? "change.claimed-later" : "change.claimed-unsafe", {{"step", "@step." + alarm.subject}}};
    if (target.claimed_by.empty()) alarm.why->code += "-nobody";
    else alarm.why->arguments.emplace_back("who", target.claimed_by);
    alarm.fingerprint = "-/" + alarm.why->code + ";";
    wanted_.insert_or_assign(alarm.key, std::move(alarm));
  }

  bool later(const Item& item, std::string_view fingerprint) const {
    const auto theirs = start_of(content_of(fingerprint));
    return item.start && (!theirs || *item.start > *theirs) && *item.start > now_;
  }

  // A clash that somebody has settled, or put aside, stays so until the order or the plan says something else.
  static bool is_settled(const Item& item, const Standing& newest) {
    return item.key.kind == ItemKind::order_clash && newest.state == Stands::rejected && content_of(newest.fingerprint) == content_of(item.fingerprint);
  }

  void settle(const Item& item) {
    const auto found = standing_.find(base_of(item.key));
    if (item.key.kind == ItemKind::cancellation) return settle_cancellation(item);
    if (found == standing_.end()) return create(item, item.key, std::nullopt);
    const Standing& newest = *found->second.back();
    ItemKey next = newest.key;
    ++(item.key.kind == ItemKind::document ? next.ordinal : next.replacement);
    switch (newest.state) {  // GCOV_EXCL_BR_LINE each enumerator has its case; the edge for none of them is the compiler's
      case Stands::open:
        if (newest.fingerprint == item.fingerprint) return;
        if (item.key.kind == ItemKind::document) return create(item, next, newest.key);
        return update(item, newest.key);
      case Stands::claimed:
        if (!is_task(item.key.kind)) return newest.fingerprint == item.fingerprint ? void() : update(item, newest.key);
        if (same_to_holder(item, newest.fingerprint, now_)) return;
        return create(item, next, newest.key);
      case Stands::completed: case Stands::failed:
        if (content_of(newest.fingerprint) == content_of(item.fingerprint) && held_back(newest)) return;
        return create(item, next, std::nullopt);
      case Stands::rejected:
        if (is_settled(item, newest) || held_back(newest)) return;
        return create(item, next, std::nullopt);
      case Stands::withdrawn: return create(item, next, std::nullopt);
    }
  }

  // Its replacement number is the target's, so it has no successors of its own.
  void settle_cancellation(const Item& item) {
    for (const auto& [base, all] : standing_)
      for (const Standing* one : all)
        if (one->key == item.key) {
          if (one->state == Stands::open && one->fingerprint != item.fingerprint) update(item, item.key);
          return;
        }
    ItemKey target = item.key;
    target.kind = ItemKind::task;
    create(item, item.key, target);
  }

  bool held_back(const Standing& standing) {
    if (!standing.ended || now_ >= *standing.ended + kPause) return false;
    const Instant again = *standing.ended + kPause;
    if (!result_.again_at || again < *result_.again_at) result_.again_at = again;
    return true;
  }

  void create(Item item, const ItemKey& key, std::optional<ItemKey> replaces) {
    item.key = key;
    if (key.kind == ItemKind::document) {
      if (key.ordinal == 0) item.key.ordinal = 1;
      result_.sheet_causes = sheet_causes(replaces ? fingerprint_of(*replaces) : std::string_view(), item.fingerprint);
    }
    const ItemKey used = item.key;
    result_.changes.push_back({ChangeKind::create, used, std::move(item), std::move(replaces), {}});
  }
  void update(Item item, const ItemKey& key) {
    item.key = key;
    result_.changes.push_back({ChangeKind::update, key, std::move(item), {}, {}});
  }

  std::string_view fingerprint_of(const ItemKey& key) const {
    const auto& all = standing_.at(base_of(key));
    return (*std::ranges::find(all, key, &Standing::key))->fingerprint;
  }

  void withdraw_if_unwanted(const ItemKey& base, const Standing& one, bool newest) {
    if (one.state != Stands::open && !(one.state == Stands::claimed && !is_task(base.kind))) return;
    if (base.kind == ItemKind::cancellation) {
      if (wanted_.contains(one.key)) return;
    } else if (const Item* item = wanted_for(base); item && newest) {
      if (base.kind != ItemKind::document || item->fingerprint == one.fingerprint) return;
    }
    result_.changes.push_back({ChangeKind::withdraw, one.key, {}, {}, reason_for(base)});
  }

  Reason reason_for(const ItemKey& base) const {
    if (stopped_) return *stopped_;
    if (base.kind == ItemKind::order_clash) return {"change.withdrawn.no-clash", {}};
    const bool printing = base.step == Step::print_sheet && !is_done(base);
    if (printing || (base.kind == ItemKind::document && wanted_for(base))) return {"change.withdrawn.newer-sheet", {}};
    return {is_passed(base) ? "change.withdrawn.passed" : is_done(base) ? "change.withdrawn.done" : "change.withdrawn.no-longer", {}};
  }

  // Whatever the generation: a step of an earlier round is done as well.
  static bool is_among(const std::vector<ItemKey>& steps, const ItemKey& key) {
    return std::ranges::any_of(steps, [&](const ItemKey& d) { return d.step == key.step && d.site == key.site && d.ordinal == key.ordinal && d.cause == key.cause; });
  }
  bool is_done(const ItemKey& key) const { return is_among(done_, key); }
  bool is_passed(const ItemKey& key) const { return is_among(passed_, key); }

  int rank(const Change& change) const {
    const ItemKey& key = change.key;
    if (change.kind == ChangeKind::withdraw) {
      if (key.kind == ItemKind::document) return 9;
      if (key.kind != ItemKind::task) return key.kind == ItemKind::care_plan ? 7 : 12;
      if (key.step == Step::stand_and_walk) return 0;
      if (key.step == Step::sit_up) return 1;
      return key.step == Step::remove_sheath ? 2 : 3;
    }
    switch (key.kind) {  // GCOV_EXCL_BR_LINE each enumerator has its case; the edge for none of them is the compiler's
      case ItemKind::cancellation: return 4;
      case ItemKind::care_plan: return 6;
      case ItemKind::task: return change.item->priority == Priority::stat || change.item->key.cause.starts_with("claimed ") ? 5 : 8;
      case ItemKind::document: return 10;
      case ItemKind::guidance: case ItemKind::order_clash: return 11;
    }
    return 12;
  }

  const std::vector<ItemKey>& done_;
  const std::vector<ItemKey>& passed_;
  const std::optional<Reason>& stopped_;
  Instant now_;
  std::map<ItemKey, std::vector<const Standing*>> standing_;  // by base, oldest first
  std::map<ItemKey, Item> wanted_;
  Difference result_;
};

}  // namespace

Difference difference(const Wanted& wanted, const std::vector<Standing>& standing, Instant now) { return Comparison(wanted, standing, now).compare(); }

std::vector<Standing> applied(const Difference& difference, std::vector<Standing> standing) {
  for (const auto& change : difference.changes) {
    const auto found = std::ranges::find(standing, change.key, &Standing::key);
    if (change.kind == ChangeKind::create) standing.push_back({change.key, change.item->fingerprint, Stands::open, {}, {}});
    else if (found == standing.end()) continue;
    else if (change.kind == ChangeKind::update) found->fingerprint = change.item->fingerprint;
    else found->state = Stands::withdrawn;
  }
  return standing;
}

}  // namespace clinical
