#include "clinical/watch.h"

#include <algorithm>

#include "clinical/gates.h"
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

std::vector<Due> expand(const Series& series, Instant from, Instant end, int base) {
  std::vector<Due> dues;
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

std::vector<Due> every(const Setting& setting, Instant from, Instant end, int base) {
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
    std::ranges::stable_sort(dues, {}, [](const Due& d) { return std::tuple(d.at, d.ordinal); });
    dues.erase(std::unique(dues.begin(), dues.end(), [](const Due& a, const Due& b) { return a.at == b.at; }), dues.end());
    const std::size_t first = first_told(dues);
    result_.checks.reserve(dues.size() - first);
    for (std::size_t i = first; i < dues.size(); ++i) add(dues, i);
    return std::move(result_);
  }

 private:
  /// A case that nobody closed must not grow for ever: what came before the last watch.ends-after is no longer told.
  std::size_t first_told(const std::vector<Due>& dues) const {
    const auto told = std::ranges::find_if(dues, [&](const Due& due) { return clock_.still(due.at + p_.watch_end.span()); });
    return static_cast<std::size_t>(told - dues.begin());
  }

  std::vector<Due> plan() {
    if (site_.t0) return after_haemostasis();
    if (site_.out()) return during_compression();
    return sheath_in();
  }

  Instant end_of_watch(Instant from) const {
    const Instant end = from + p_.watch_end.span();
    return view_.facts.case_end ? std::min(end, *view_.facts.case_end) : end;
  }

  /// Open-ended series: what is reached, the hours that are valid now, and the next one.
  std::vector<Due> up_to_next(std::vector<Due> dues) const {
    const Instant horizon = std::chrono::floor<hours>(clock_.now() + p_.release_window.span());
    clock_.note(horizon + hours{1} - p_.release_window.span());
    auto next = std::ranges::find_if(dues, [&](const Due& d) { return d.at > horizon; });
    if (next != dues.end()) dues.erase(next + 1, dues.end());
    return dues;
  }

  std::optional<Instant> arrival() const {
    if (view_.facts.procedure_end) return view_.facts.procedure_end;
    for (const auto& event : site_.events)
      if (event.kind == AccessEventKind::sheath_inserted && event.at && event.at->exact()) return event.at->latest;
    return view_.facts.start_exact ? std::optional(view_.facts.start) : std::nullopt;
  }

  std::vector<Due> sheath_in() const {
    const auto from = arrival();
    if (!from) return {};
    const Instant end = view_.facts.case_end.value_or(std::max(*from, clock_.now()) + p_.release_window.span() + hours{48});
    return up_to_next(expand(p_.series_sheath_in, *from, end, 0));
  }

  // Every 5 min until the low-pressure hold, then every 15; to the planned end, and on while nobody confirms haemostasis.
  std::vector<Due> during_compression() const {
    if (site_.holds.empty()) return {};
    const Instant start = site_.holds.back().start;
    const bool device = course_.hold.method == Closure::mechanical;
    const Instant low = start + (device ? course_.hold.length_until(Step::low_pressure_hold) : hours{24});
    const Instant planned = start + course_.hold.total, far = std::max(planned, clock_.now()) + hours{24};
    auto dues = every(p_.check_compression, start, std::min(low, far), kHold);
    if (device) {
      const int used = dues.empty() ? kHold : dues.back().ordinal;
      const auto slow = every(p_.check_low_hold, low, far, used);
      dues.insert(dues.end(), slow.begin(), slow.end());
    }
    const auto first_open = std::ranges::find_if(dues, [&](const Due& d) { return d.at > planned && !clock_.reached(d.at); });
    if (first_open != dues.end()) dues.erase(first_open + 1, dues.end());
    return dues;
  }

  std::vector<Due> after_haemostasis() {
    Instant from = *site_.t0;
    int restarts = 0;
    for (const auto& a : view_.facts.administrations)
      if (a.agent == Agent::heparin && !a.flush && a.start && a.start->latest > from) {
        from = a.start->latest;
        ++restarts;
      }
    result_.restarted = restarts > 0;
    const bool high = course_.high || result_.restarted;
    const Instant end = end_of_watch(from);
    auto dues = expand(high ? p_.series_high : p_.series_standard, from, end, kRestart * restarts);
    if (const auto mark = swelling_mark()) {
      const auto more = expand(p_.series_swelling, *mark, end, kSwelling);
      dues.insert(dues.end(), more.begin(), more.end());
    }
    int ordinal = kGettingUp;
    for (const Instant at : course_.getting_up) {
      ++ordinal;
      if (at >= *site_.t0 && !(view_.facts.case_end && at > *view_.facts.case_end)) dues.push_back({at, ordinal, &p_.series_standard.rule});
    }
    return dues;
  }

  std::optional<Instant> swelling_mark() const {
    for (const auto& check : site_.checks)
      if (check.at->latest >= *site_.t0 && check.swelling && check.swelling->micro > 0 && check.swelling->surely_below(p_.swelling_limit.micro))
        return check.at->latest;
    return std::nullopt;
  }

  const SiteCheck* made(const std::vector<Due>& dues, std::size_t i) const {
    const Instant at = dues[i].at;
    const seconds gap = i > 0 ? at - dues[i - 1].at : at - (site_.t0 ? *site_.t0 : at - hours{1});
    const Instant from = at - std::min<seconds>(p_.check_early.span(), gap / 2);
    auto check = std::ranges::lower_bound(site_.checks, from, {}, [](const SiteCheck& c) { return c.at->earliest; });
    for (; check != site_.checks.end(); ++check)
      if (check->complete() && check->at->exact() && clock_.reached(check->at->latest) && (i + 1 == dues.size() || check->at->latest < dues[i + 1].at)) return &*check;
    return nullptr;
  }

  void add(const std::vector<Due>& dues, std::size_t i) {
    Milestone m;
    m.step = Step::check_site;
    m.ordinal = dues[i].ordinal;
    m.earliest = dues[i].at;
    m.latest = dues[i].at + p_.check_late.span();
    m.basis.push_back({dues[i].rule->key, dues[i].rule->source, {}, {"watch.due", {{"at", dues[i].at}}}});
    if (site_.t0) m.after_t0 = std::chrono::duration_cast<minutes>(dues[i].at - *site_.t0);
    const auto* check = made(dues, i);
    const bool over = i + 1 < dues.size() && clock_.reached(dues[i + 1].at);
    const bool before_known = view_.facts.known_since && dues[i].at < *view_.facts.known_since;
    const bool missed = !check && !before_known && !clock_.still(*m.latest);
    if (check) {
      m.status = StepStatus::done;
      m.actual = check->at->latest;
      m.basis.back().inputs.push_back(check->source);
      if (clock_.reached(dues[i].at)) clear_run();
    } else if (over) {
      m.status = StepStatus::cancelled;
      m.why = Reason{before_known ? "watch.before-known" : "watch.missed", {{"at", dues[i].at}}};
    } else {
      m.status = clock_.reached(dues[i].at) ? StepStatus::due : StepStatus::expected;
      m.late = missed;
    }
    if (missed) count_missed(dues[i].at);
    result_.checks.push_back(std::move(m));
  }

  /// Two missed in a row are an urgent alert; it ends after two normal values, so one look does not clear it.
  void clear_run() {
    if (result_.missed_in_row >= 2 && (result_.made_since = ++made_after_) < 2) return;
    result_.made_since = made_after_ = 0;
    result_.missed_in_row = 0;
    result_.first_missed.reset();
  }
  void count_missed(Instant at) {
    result_.made_since = made_after_ = 0;
    if (++result_.missed_in_row == 1) result_.first_missed = at;
  }

  const SiteView& view_;
  const SiteFacts& site_;
  const Protocol& p_;
  const Clock& clock_;
  const WatchCourse& course_;
  Watch result_;
  int made_after_ = 0;  ///< checks made since the last missed one
};

}  // namespace

Watch watch_of(const WatchCourse& course) { return Watcher(course).watch(); }

}  // namespace clinical
