#include "clinical/site_course.h"

#include <algorithm>
#include <fmt/chrono.h>
#include <utility>

#include "clinical/ahead.h"
#include "clinical/names.h"

namespace clinical {
namespace {

bool timed(const AccessEvent& event) { return event.at && event.at->exact(); }

bool by_hand_or_device_on_top(Closure method) { return method == Closure::manual || method == Closure::mechanical; }

class Course {
 public:
  explicit Course(SiteFacts& site) : site_(site) {}

  void apply(const AccessEvent& event) {
    const Instant at = event.at->latest;
    switch (event.kind) {  // GCOV_EXCL_BR_LINE each enumerator has its case; the edge for none of them is the compiler's
      case AccessEventKind::sheath_inserted: inserted(); break;
      case AccessEventKind::sheath_upsized: break;
      case AccessEventKind::sheath_removed: removed(at, event.source); break;
      case AccessEventKind::compression_started: started(at, event.method, event.source); break;
      case AccessEventKind::pressure_changed: pressure(at, event); break;
      case AccessEventKind::compression_ended: ended(at); break;
      case AccessEventKind::closure_failed: failed(at, event); break;
      case AccessEventKind::haemostasis_confirmed: confirmed(at); break;
      case AccessEventKind::rebleed: bled(at, event.source); break;
      case AccessEventKind::sheath_in_place: seen_in(); break;
    }
  }

  void grown(Growth& growth) {
    if (dry_if_by_hand()) outgrown_if_by_hand_ = std::exchange(pending_, std::nullopt);  // by hand it would have voided a T0: only a new haemostasis gives one
    if (!site_.t0) return;  // one that stands lies behind: events and growths are told by time
    growth.voided = true;
    site_.t0_outgrown.push_back(*site_.t0);
    site_.t0.reset();
    lose_device();
    press_unseen(growth.at, growth.source);
  }

  bool pressing() const { return !site_.holds.empty() && !site_.holds.back().end; }

  void finish() {
    if (pressing()) site_.dry_while_pressed = pending_;
    site_.haemostasis_unconfirmed = !site_.t0 && !pressing() && last_end_ && site_.out();
  }

 private:
  Hold& press(Instant at, Closure method, const Source& source) {
    if (pressing()) site_.holds.back().end = at;
    site_.holds.push_back({at, at, {}, method, false, false, false, source});
    pending_.reset();
    outgrown_if_by_hand_.reset();
    return site_.holds.back();
  }

  /// It must be pressed from now; that somebody does is not recorded.
  void press_unseen(Instant at, const Source& source) {
    Hold& hold = press(at, Closure::unknown, source);
    hold.implied = hold.asked = true;
  }

  void count_rebleed(Instant at) {
    site_.rebleeds.push_back(at);
    counted_ = true;
    site_.t0.reset();
    lose_device();
  }

  bool meant_for_device() const {
    return site_.closure.usable() && (site_.closure.value == Closure::device || site_.closure.value == Closure::suture);
  }
  // What bleeds or swells again after a closure device or suture is held by hand from then on.
  void lose_device() {
    if (meant_for_device()) site_.device_failed = true;
  }

  void inserted() {
    if (site_.sheath_out || !site_.holds.empty()) site_.holds.clear();
    site_.sheath_out.reset();
    site_.t0.reset();
    site_.sheath_known_in = true;
    pending_.reset();
    last_end_.reset();
    dry_with_sheath_.reset();
  }

  // Seen in after it was recorded as out is a contradiction, see time_conflicts; it is no second sheath.
  void seen_in() {
    if (!site_.sheath_out && !site_.t0 && site_.holds.empty()) site_.sheath_known_in = true;
  }

  // What was called dry before its sheath came out is no T0, and what is pressed then no rebleed.
  void removed(Instant at, const Source& source) {
    if (!dry_with_sheath_ && dry_if_by_hand()) {
      dry_with_sheath_ = pending_;
      t0s_before_ = site_.t0_history.size();
    }
    if (dry_with_sheath_ && *dry_with_sheath_ < at) {
      site_.dry_before_out = dry_with_sheath_;
      site_.t0.reset();
      site_.t0_history.resize(t0s_before_);
      counted_ = false;
    }
    dry_with_sheath_.reset();
    site_.sheath_known_in = false;
    site_.sheath_out = at;
    if (site_.t0 || (pressing() && !site_.holds.back().implied)) return;
    press(at, Closure::unknown, source).implied = true;
  }

  // How the hold that runs is done is not known, and haemostasis was confirmed in it: by a device T0 is still to come, by hand it stood since then.
  // What would have voided that T0 counts as if it had: unknown is never better than either.
  bool dry_if_by_hand() const {
    return pending_ && site_.holds.back().method == Closure::unknown && !site_.closure.usable();
  }

  // Any start after a T0 is a rebleed, also where growth or a failure had already voided that T0.
  void started(Instant at, Closure method, const Source& source) {
    if (const auto dry = dry_if_by_hand() ? pending_ : outgrown_if_by_hand_; !counted_ && dry) {
      site_.holds.back().end = dry;
      count_rebleed(at);
    }
    if (!counted_ && !site_.t0_history.empty()) count_rebleed(at);
    const bool again = counted_;
    if (by_hand_or_device_on_top(method)) lose_device();
    if (!pressing()) {
      press(at, method, source);
    } else if (Hold& hold = site_.holds.back(); hold.implied) {
      hold = {at, at, {}, method, hold.after_rebleed, false, false, source};
    } else if (method != Closure::unknown && hold.method != Closure::unknown && hold.method != method) {
      press(at, method, source);
    } else {
      hold.start = at;
      if (hold.method == Closure::unknown) hold.method = method;
    }
    site_.holds.back().after_rebleed = again;
    pending_.reset();
  }

  // A change of pressure after haemostasis in a hold of unknown kind: by hand it was dry, and the device is new. Unknown is never better than that.
  void pressure(Instant at, const AccessEvent& event) {
    const bool off = event.pressure && event.pressure->micro == 0;
    if (dry_if_by_hand() && !off) return started(at, Closure::mechanical, event.source);
    if (pressing() && !site_.holds.back().implied) {
      if (site_.holds.back().method == Closure::unknown) site_.holds.back().method = Closure::mechanical;
    } else if (!event.pressure || event.pressure->micro > 0) {
      started(at, Closure::mechanical, event.source);
    }
  }

  void ended(Instant at) {
    last_end_ = at;
    if (pressing()) site_.holds.back().end = at;
    if (pending_) {
      haemostasis(std::max(*pending_, at));
    } else if (site_.t0) {
      haemostasis(at);
    }
  }

  // A clamp that is on when the failure is written down is still on after it. What had been dry until then has bled again.
  void failed(Instant at, const AccessEvent& event) {
    const Source& source = event.source;
    const bool device = device_on(), seen = pressing() && !site_.holds.back().implied;
    site_.device_failed = true;
    if (site_.t0) {
      site_.failed_late = event;
      count_rebleed(at);
    }
    if (device) press(at, Closure::mechanical, source);
    else if (seen) press(at, Closure::unknown, source).implied = true;
    else press_unseen(at, source);
    site_.holds.back().after_rebleed = counted_;
  }

  bool device_on() const {
    if (!pressing() || site_.holds.back().implied) return false;
    const Closure method = site_.holds.back().method;
    if (method != Closure::unknown) return method == Closure::mechanical;
    return !site_.closure.usable() || site_.closure.value == Closure::mechanical;
  }

  void confirmed(Instant at) {
    if (device_on()) {
      pending_ = at;
      return;
    }
    if (pressing()) site_.holds.back().end = at;
    haemostasis(last_end_ ? std::max(at, *last_end_) : at);
  }

  void haemostasis(Instant at) {
    pending_.reset();
    outgrown_if_by_hand_.reset();
    if (!site_.sheath_out && !dry_with_sheath_) {
      dry_with_sheath_ = at;
      t0s_before_ = site_.t0_history.size();
    }
    if (site_.t0) {
      at = std::max(at, *site_.t0);
      site_.t0_history.back() = at;
    } else {
      site_.t0_history.push_back(at);
    }
    site_.t0 = at;
    counted_ = false;
  }

  void bled(Instant at, const Source& source) {
    if (counted_) return;
    count_rebleed(at);
    if (pressing()) {
      site_.holds.back().start = at;
      pending_.reset();
    } else {
      press_unseen(at, source);
    }
    site_.holds.back().after_rebleed = true;
  }

  SiteFacts& site_;
  std::optional<Instant> pending_;   // haemostasis confirmed while a device is recorded as on
  std::optional<Instant> outgrown_if_by_hand_;  // such a haemostasis, where growth followed it: by hand a T0 that it voided
  std::optional<Instant> last_end_;
  std::optional<Instant> dry_with_sheath_;  // the first haemostasis recorded while no removal of this sheath was
  std::size_t t0s_before_ = 0;              // how many T0s there were before that
  bool counted_ = false;             // a rebleed has been counted since the last T0
};

// Of equal times: what ends the hold that ran before them comes first, else what starts one.
int rank(AccessEventKind kind, bool pressing) {
  const bool ends = kind == AccessEventKind::compression_ended || kind == AccessEventKind::haemostasis_confirmed;
  return static_cast<int>(kind) + (pressing && ends ? -100 : 0);
}

// A Task that was closed late adds nothing where the removal itself is recorded with its time.
bool restates_removal(const AccessEvent& event, const std::vector<AccessEvent>& events) {
  if (!event.from_task || !event.recording_time_only) return false;
  if (event.kind != AccessEventKind::sheath_removed && event.kind != AccessEventKind::compression_started) return false;
  return std::ranges::any_of(events, [&](const AccessEvent& other) {
    return other.kind == AccessEventKind::sheath_removed && !other.recording_time_only && timed(other) && other.at->latest <= event.at->latest;
  });
}

void clear(SiteFacts& site) {
  site.sheath_known_in = site.out_untimed = site.disputed = site.device_failed = site.haemostasis_unconfirmed = false;
  site.held_long.reset();
  site.failed_late.reset();
  site.sheath_out.reset();
  site.t0.reset();
  site.dry_before_out.reset();
  site.dry_while_pressed.reset();
  site.holds.clear();
  site.t0_history.clear();
  site.t0_outgrown.clear();
  site.rebleeds.clear();
  for (auto& growth : site.growths) growth.voided = false;
}

std::string written(Instant at) { return fmt::format("{:%Y-%m-%dT%H:%M:%SZ}", at); }

}  // namespace

void replay_course(SiteFacts& site) {
  clear(site);
  std::vector<const AccessEvent*> events;
  for (const auto& event : site.events)
    if (timed(event) && !restates_removal(event, site.events)) events.push_back(&event);
  std::ranges::stable_sort(events, {}, [](const AccessEvent* e) { return e->at->latest; });

  Course course(site);
  auto growth = site.growths.begin();
  for (auto first = events.begin(); first != events.end();) {
    const Instant at = (*first)->at->latest;
    for (; growth != site.growths.end() && growth->at < at; ++growth) course.grown(*growth);
    const auto last = std::find_if(first, events.end(), [&](const AccessEvent* e) { return e->at->latest != at; });
    const bool pressing = course.pressing();
    std::stable_sort(first, last, [&](const auto* a, const auto* b) { return rank(a->kind, pressing) < rank(b->kind, pressing); });
    for (; first != last; ++first) course.apply(**first);
  }
  for (; growth != site.growths.end(); ++growth) course.grown(*growth);
  site.out_untimed = !site.sheath_out && std::ranges::any_of(site.events, [](const AccessEvent& e) {
    return e.kind == AccessEventKind::sheath_removed && !timed(e);
  });
  if (site.out_untimed) site.sheath_known_in = false;
  course.finish();
}

// Where no start is recorded it may have been pressed from the sheath's removal until it was dry: unknown is never better than that.
void judge_closure(SiteFacts& site, seconds failed_from) {
  const bool meant = site.closure.usable() && (site.closure.value == Closure::device || site.closure.value == Closure::suture);
  const bool said = std::ranges::any_of(site.events, [](const AccessEvent& e) { return e.kind == AccessEventKind::closure_failed; });
  if (!meant || said) return;
  for (const auto& hold : site.holds)
    if (!hold.asked && !hold.after_rebleed && hold.end && *hold.end - hold.first_start >= failed_from) site.held_long = hold;
  if (site.held_long) site.device_failed = true;
}

namespace {

class Disputes {
 public:
  explicit Disputes(SiteFacts& site) : site_(site) {}
  void add(std::string about, std::vector<const AccessEvent*> events, std::vector<std::string> values = {}) {
    Conflict conflict{Fact::haemostasis_time, std::move(about), std::move(values), {}, site_.key};
    for (const auto* event : events) {
      conflict.inputs.push_back(event->source);
      if (event->at) conflict.values.push_back(std::string(name_of(event->kind)) + " " + written(event->at->latest));
    }
    found_.push_back(std::move(conflict));
  }
  const AccessEvent* last(AccessEventKind kind, Instant until = Instant::max()) const {
    const AccessEvent* found = nullptr;
    for (const auto& event : site_.events)
      if (event.kind == kind && timed(event) && event.at->latest <= until) found = &event;  // they stand by time
    return found;
  }
  std::vector<Conflict> take() { return std::move(found_); }

 private:
  SiteFacts& site_;
  std::vector<Conflict> found_;
};

void check_single_events(const SiteFacts& site, Instant start, Disputes& disputes) {
  for (const auto& event : site.events) {
    if (event.time_conflict) disputes.add("two-times-in-one-record", {&event});
    if (!timed(event)) {
      if (Ahead::voids(event.kind) && (!site.t0 || !event.at || event.at->latest >= *site.t0)) disputes.add("event-without-time", {&event});
    } else if (event.at->latest < start && event.kind != AccessEventKind::sheath_inserted) {
      disputes.add("event-before-start", {&event});
    }
  }
}

void check_removals(const SiteFacts& site, seconds tolerance, Disputes& disputes) {
  const AccessEvent* previous = nullptr;
  for (const auto& event : site.events) {
    if (!timed(event) || restates_removal(event, site.events)) continue;
    if (event.kind == AccessEventKind::sheath_inserted) previous = nullptr;
    if (event.kind != AccessEventKind::sheath_removed) continue;
    if (previous && event.at->latest - previous->at->latest > tolerance) disputes.add("sheath-out-twice", {previous, &event});
    previous = &event;
  }
}

}  // namespace

std::vector<Conflict> time_conflicts(SiteFacts& site, Instant start, seconds tolerance) {
  Disputes disputes(site);
  check_single_events(site, start, disputes);
  check_removals(site, tolerance, disputes);
  const auto* out = disputes.last(AccessEventKind::sheath_removed);
  const auto* in = disputes.last(AccessEventKind::sheath_inserted);
  const auto* dry = disputes.last(AccessEventKind::haemostasis_confirmed);
  if (site.dry_before_out) disputes.add("t0-before-sheath-out", {disputes.last(AccessEventKind::haemostasis_confirmed, *site.dry_before_out), out});
  if (site.t0 && site.sheath_out && *site.t0 < *site.sheath_out) disputes.add("t0-before-sheath-out", {dry, out});
  const auto* seen = disputes.last(AccessEventKind::sheath_in_place);
  if (out && seen && seen->at->latest > out->at->latest && !site.sheath_known_in) disputes.add("sheath-seen-after-removal", {out, seen});
  if (site.sheath_known_in) {  // somebody recorded that it went in, or saw it there
    const auto* known = in ? in : seen;
    if (!site.holds.empty()) disputes.add("pressed-with-sheath-in", {known}, {std::string("compression ") + written(site.holds.back().start)});
    if (site.t0) disputes.add("haemostasis-with-sheath-in", {known, dry});
  }
  auto found = disputes.take();
  if (!found.empty()) {
    site.disputed = true;
    site.t0.reset();
  }
  return found;
}

}  // namespace clinical
