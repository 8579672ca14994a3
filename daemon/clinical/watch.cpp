#include "clinical/watch.h"

#include <algorithm>

#include "clinical/gates.h"
#include "clinical/in_rest.h"
#include "clinical/tally.h"

namespace clinical {
namespace {

// Ordinals are part of the identity of a Task and must not move when another kind of check is added.
constexpr int kHold = 1000, kSwelling = 2000, kGettingUp = 3000, kRestart = 10000;

struct Due {
  Instant at{};
  int ordinal = 0;
  const Rule* rule = nullptr;
};

using Dues = std::vector<Due>;

Dues expand(const Series& series, Instant from, Instant end, int base) {
  Dues dues;
  Instant at = from;
  int ordinal = base;
  for (const auto& step : series.steps)
    for (int i = 0; step.count == 0 || i < step.count; ++i) {
      at += step.every;
      if (at > end || step.every.count() <= 0) break;
      dues.push_back({at, ++ordinal, &series.rule});
    }
  return dues;
}

Dues every(const Setting& setting, Instant from, Instant end, int base) {
  Series series{{{0, setting.whole_minutes()}}, setting.rule};
  auto dues = expand(series, from, end, base);
  for (auto& due : dues) due.rule = &setting.rule;
  return dues;
}

class Watcher {
 public:
  explicit Watcher(const WatchCourse& course)
      : view_(course.view), site_(course.view.site), p_(course.view.protocol), clock_(course.view.clock), course_(course) {}

  Watch watch() {
    auto dues = plan();
    const auto demanded = by_time(series_of(dues));
    dues = by_time(std::move(dues));
    const std::size_t first = first_told(dues);
    result_.checks.reserve(dues.size() - first);
    for (std::size_t i = first; i < dues.size(); ++i) add(dues, i);
    count_missed(demanded, dues);
    return std::move(result_);
  }

 private:
  static Dues by_time(Dues dues) {
    std::ranges::stable_sort(dues, {}, [](const Due& d) { return std::tuple(d.at, d.ordinal); });
    dues.erase(std::unique(dues.begin(), dues.end(), [](const Due& a, const Due& b) { return a.at == b.at; }), dues.end());
    return dues;
  }
  /// Without those that stand at a step of getting up: such a check belongs to its step and moves with it.
  static Dues series_of(Dues dues) {
    std::erase_if(dues, [](const Due& d) { return d.ordinal > kGettingUp && d.ordinal < kRestart; });
    return dues;
  }

  /// A case that nobody closed must not grow for ever: what came before the last watch.ends-after is no longer told.
  std::size_t first_told(const Dues& dues) const {
    const auto told = std::ranges::find_if(dues, [&](const Due& due) { return clock_.still(due.at + p_.watch_end.span()); });
    return static_cast<std::size_t>(told - dues.begin());
  }

  Dues plan() {
    if (site_.t0) return after_haemostasis();
    if (site_.out()) return during_compression();
    return sheath_in();
  }

  Instant end_of_watch(Instant from) const {
    const Instant end = from + p_.watch_end.span();
    return view_.facts.case_end ? std::min(end, *view_.facts.case_end) : end;
  }

  /// Open-ended series: what is reached, the hours that are valid now, and the next one.
  Dues up_to_next(Dues dues) const {
    const Instant horizon = std::chrono::floor<hours>(clock_.now() + p_.release_window.span());
    clock_.note(horizon + hours{1} - p_.release_window.span());
    auto next = std::ranges::find_if(dues, [&](const Due& d) { return d.at > horizon; });
    if (next != dues.end()) dues.erase(next + 1, dues.end());
    return dues;
  }

  std::optional<Instant> arrival() const {
    if (view_.facts.procedure_end) return view_.facts.procedure_end;
    if (on_the_table()) return first_look();
    for (const auto& event : site_.events)
      if (event.kind == AccessEventKind::sheath_inserted && event.at && event.at->exact()) return event.at->latest;
    return view_.facts.start_exact ? std::optional(view_.facts.start) : std::nullopt;
  }

  /// The procedure goes on and the patient has not arrived: nobody at the bed can look. One that nobody has recorded as ended for as long as a sheath may
  /// dwell unasked has been forgotten, and is watched like any other.
  bool on_the_table() const {
    const auto& facts = view_.facts;
    return facts.index.status == ProcedureStatus::in_progress && facts.start_exact && !clock_.reached(facts.start + p_.alert_sheath_dwell.span());
  }
  /// Somebody has looked at the groin, so the patient is there.
  std::optional<Instant> first_look() const {
    const auto look = std::ranges::find_if(site_.checks, [&](const SiteCheck& c) { return c.of_a_groin() && c.at->exact() && c.at->latest >= view_.facts.start; });
    return look == site_.checks.end() ? std::nullopt : std::optional(look->at->latest);
  }

  Dues sheath_in() const {
    const auto from = arrival();
    if (!from) return {};
    const Instant end = view_.facts.case_end.value_or(std::max(*from, clock_.now()) + p_.release_window.span() + hours{48});
    return up_to_next(expand(p_.series_sheath_in, *from, end, 0));
  }

  // Every 5 min until the low-pressure hold, then every 15; to the planned end, and on while nobody confirms haemostasis.
  Dues during_compression() const {
    if (site_.holds.empty()) return {};
    const Instant start = site_.holds.back().start;
    const bool device = course_.hold.method == Closure::mechanical;
    const Instant planned = start + course_.hold.total, far = std::max(planned, clock_.now()) + hours{24};
    const Instant low = device ? start + course_.hold.length_until(Step::low_pressure_hold) : far;
    auto dues = every(p_.check_compression, start, low, kHold);
    if (device) {
      const int used = dues.empty() ? kHold : dues.back().ordinal;
      const auto slow = every(p_.check_low_hold, low, far, used);
      dues.insert(dues.end(), slow.begin(), slow.end());
    }
    const auto first_open = std::ranges::find_if(dues, [&](const Due& d) { return d.at > planned && !clock_.reached(d.at); });
    if (first_open != dues.end()) dues.erase(first_open + 1, dues.end());
    return dues;
  }

  Dues after_haemostasis() {
    Instant from = *site_.t0;
    int restarts = 0;
    for (const auto& a : view_.facts.administrations)
      if (restarts_watch(a.agent) && !a.flush && a.start && a.start->latest > from) {
        from = a.start->exact() ? a.start->latest : std::max(from, a.start->earliest);  // known to the day: never later than it may have been
        ++restarts;
      }
    result_.restarted = restarts > 0;
    const bool high = course_.high || result_.restarted;
    const Instant end = end_of_watch(from);
    auto dues = expand(high ? p_.series_high : p_.series_standard, from, end, kRestart * restarts);
    usual_ = expand(p_.series_standard, *site_.t0, end_of_watch(*site_.t0), 0);
    if (high) until_told(dues);
    if (const auto mark = swelling_mark()) {
      const auto more = expand(p_.series_swelling, *mark, end, kSwelling);
      dues.insert(dues.end(), more.begin(), more.end());
    }
    int ordinal = kGettingUp;
    for (const Instant at : course_.getting_up) {  // none lies before this T0, and with every T0 the case has an end
      ++ordinal;
      if (at <= *view_.facts.case_end) dues.push_back({at, ordinal, &p_.series_standard.rule});
    }
    return dues;
  }

  /// Until the service told of the closer watch nobody could know of it, and the usual checks are those that were due.
  void until_told(Dues& dues) const {
    const auto& told = view_.facts.index.closer_since;
    if (!told) return;
    const auto found = told->find(site_.key);
    const Instant since = found != told->end() ? found->second : clock_.now();
    std::erase_if(dues, [&](const Due& due) { return due.at < since; });
    std::ranges::copy_if(usual_, std::back_inserter(dues), [&](const Due& due) { return due.at < since; });
  }

  std::optional<Instant> swelling_mark() const {
    for (const auto& check : site_.checks)
      if (check.at->latest >= *site_.t0 && check.swelling && check.swelling->micro > 0)  // a large one would have voided that T0
        return check.at->latest;
    return std::nullopt;
  }

  const SiteCheck* made(const Dues& dues, std::size_t i) const {
    const Instant at = dues[i].at;
    const seconds gap = i > 0 ? at - dues[i - 1].at : at - (site_.t0 ? *site_.t0 : at - hours{1});
    const Instant from = at - std::min<seconds>(p_.check_early.span(), gap / 2);
    auto check = std::ranges::lower_bound(site_.checks, from, {}, [](const SiteCheck& c) { return c.at->earliest; });
    for (; check != site_.checks.end(); ++check)
      if (looked(*check) && (i + 1 == dues.size() || check->at->latest < dues[i + 1].at)) return &*check;
    return nullptr;
  }
  bool looked(const SiteCheck& check) const { return check.complete() && check.at->exact() && clock_.reached(check.at->latest); }
  bool before_known(Instant due) const { return view_.facts.known_since && due < *view_.facts.known_since; }

  void add(const Dues& dues, std::size_t i) {
    Milestone m;
    m.step = Step::check_site;
    m.ordinal = dues[i].ordinal;
    m.earliest = dues[i].at;
    m.latest = dues[i].at + p_.check_late.span();
    m.basis.push_back({dues[i].rule->key, dues[i].rule->source, {}, {"watch.due", {{"at", dues[i].at}}}});
    if (site_.t0) m.after_t0 = std::chrono::duration_cast<minutes>(dues[i].at - *site_.t0);
    if (const auto* check = made(dues, i)) {
      m.status = StepStatus::done;
      m.actual = check->at->latest;
      m.basis.back().inputs.push_back(check->source);
    } else if (i + 1 < dues.size() && clock_.reached(dues[i + 1].at)) {
      m.status = StepStatus::cancelled;
      m.why = Reason{before_known(dues[i].at) ? "watch.before-known" : "watch.missed", {{"at", dues[i].at}}};
    } else {
      m.status = clock_.reached(dues[i].at) ? StepStatus::due : StepStatus::expected;
      m.late = missed(dues, i);
    }
    result_.checks.push_back(std::move(m));
  }

  bool missed(const Dues& dues, std::size_t i) const { return !before_known(dues[i].at) && !made(dues, i) && !clock_.still(dues[i].at + p_.check_late.span()); }

  /// Missed checks and looks by time. Two missed in a row are an urgent alert; it ends after two looks, so one does not clear it. Closer watching
  /// forgives nothing: the usual series goes on beside it, what a look counts for does not depend on the series, and a further missed check only
  /// makes a run longer.
  void count_missed(const Dues& demanded, const Dues& all) {
    std::vector<Instant> missed_at;
    for (std::size_t i = first_told(demanded); i < demanded.size(); ++i)
      if (missed(demanded, i)) missed_at.push_back(demanded[i].at);
    for (std::size_t i = first_told(usual_); i + 1 < usual_.size() && clock_.reached(usual_[i + 1].at); ++i)
      if (missed(usual_, i)) missed_at.push_back(usual_[i].at);
    std::ranges::sort(missed_at);
    missed_at.erase(std::unique(missed_at.begin(), missed_at.end()), missed_at.end());
    auto next = missed_at.begin();
    std::optional<Instant> last_look;
    for (const auto& check : site_.checks) {
      if (!looked(check) || last_look == check.at->latest) continue;
      last_look = check.at->latest;
      for (; next != missed_at.end() && *next < *last_look; ++next) miss(*next);
      look();
      if (counts_twice(check, site_.t0 ? usual_ : demanded)) look();
    }
    for (; next != missed_at.end(); ++next) miss(*next);
    if (result_.missed_in_row == 0) missed_at_step(all, last_look);
  }
  /// Late for one check and in time for the next.
  bool counts_twice(const SiteCheck& check, const Dues& dues) const {
    const auto after = std::ranges::upper_bound(dues, check.at->latest, {}, &Due::at);
    if (after == dues.begin() || after == dues.end()) return false;
    const auto i = static_cast<std::size_t>(after - dues.begin());
    return made(dues, i - 1) == &check && made(dues, i) == &check;
  }
  void look() {
    if (result_.missed_in_row >= 2 && ++result_.made_since < 2) return;
    result_.made_since = result_.missed_in_row = 0;
    result_.first_missed.reset();
  }
  void miss(Instant at) {
    result_.made_since = 0;
    if (++result_.missed_in_row == 1) result_.first_missed = at;
  }
  /// One at a step of getting up is told of, and no more: without it the step waits anyway.
  void missed_at_step(const Dues& all, const std::optional<Instant>& last_look) {
    for (std::size_t i = first_told(all); i < all.size(); ++i)
      if (missed(all, i) && (!last_look || all[i].at > *last_look)) return miss(all[i].at);
  }

  const SiteView& view_;
  const SiteFacts& site_;
  const Protocol& p_;
  const Clock& clock_;
  const WatchCourse& course_;
  Watch result_;
  Dues usual_;  ///< the usual series from T0, beside the closer one; empty: no T0
};

}  // namespace

Watch watch_of(const WatchCourse& course) { return Watcher(course).watch(); }

}  // namespace clinical
