#include "clinical/case_window.h"

#include <algorithm>
#include <map>

#include "clinical/ahead.h"
#include "clinical/names.h"

namespace clinical {
namespace {

// Of a start that is not known exactly: the stay in which it may lie.
const Encounter* encounter_of(const Procedure& index, const Record& record, const Moment& start) {
  const Encounter* around = nullptr;
  for (const auto& e : record.encounters) {
    if (!index.encounter.empty() && e.source.reference == index.encounter) return &e;
    const bool spans = e.start && e.start->earliest <= start.latest && (!e.end || e.end->latest >= start.earliest);
    if (spans && (!around || e.start->earliest > around->start->earliest)) around = &e;
  }
  return index.encounter.empty() ? around : nullptr;
}

// The stay goes on where another encounter of the patient began before the first one ended.
bool stays_on(const Record& record, Instant discharge) {
  return std::ranges::any_of(record.encounters, [&](const Encounter& e) { return e.in_progress && (!e.start || e.start->earliest <= discharge); });
}

/// Of this case by what it names: the index, a part of it, a Procedure that nobody knows; or nothing, while no other procedure has begun since.
bool may_be_of(const Procedure& index, const Record& record, const std::string& named, const Moment& at, Instant since) {
  const auto is_ours = [&](const Procedure& p) { return p.source.reference == index.source.reference || p.part_of == index.source.reference; };
  if (!named.empty()) return std::ranges::none_of(record.procedures, [&](const Procedure& p) { return p.source.reference == named && !is_ours(p); });
  return std::ranges::none_of(record.procedures, [&](const Procedure& p) { return !is_ours(p) && p.start && p.start->latest > since && p.start->earliest <= at.latest; });
}

bool cannot_be_read(const SiteCheck& c) {
  return std::ranges::any_of(c.unread, [](const UnreadPart& part) { return part.what != "time"; });
}

/// Somebody looked at the groin after the recorded end of the stay and found trouble, or it bled again: the patient is still in somebody's hands, and the watch goes on
/// as if no end were recorded. Not for longer than after a haemostasis.
bool trouble_after(const CaseFacts& facts, const Record& record, const Protocol& protocol, const Clock& clock, Instant discharge) {
  const Ahead ahead(record, protocol, clock);
  const auto after = [&](const std::optional<Moment>& at, const std::string& named) {
    return at && at->latest > discharge && at->earliest <= discharge + protocol.case_end.span() && clock.reached(at->earliest) && may_be_of(facts.index, record, named, *at, discharge);
  };
  return std::ranges::any_of(record.checks, [&](const SiteCheck& c) { return after(c.at, c.procedure) && c.of_a_groin() && (ahead.bad(c) || cannot_be_read(c)); }) ||
         std::ranges::any_of(record.access_events, [&](const AccessEvent& e) { return after(e.at, e.procedure) && Ahead::voids(e.kind); });
}

// How far back a fact may lie and still be asked for.
seconds look_back(const Protocol& p) {
  const seconds longest = std::max({p.fondaparinux_hold_impaired.span(), p.fondaparinux_hold.span(), p.dabigatran_hold_under_30.span(),
                                    p.dabigatran_hold_30_50.span(), p.oral_hold_impaired.span(), p.oral_hold.span(), p.lmwh_subcutaneous.span()});
  return std::max(p.look_back.span(), longest + hours{24});
}

struct LookBack {
  seconds weight, height{hours{24 * 366 * 130}}, other;
  LookBack(const CaseFacts& facts, const Protocol& p) : weight(std::max(look_back(p), p.fresh_weight.span())), other(std::max(look_back(p), p.haemoglobin_baseline.span())) {
    if (facts.encounter && facts.encounter->start) weight = std::max<seconds>(weight, facts.start - facts.encounter->start->earliest);  // any of this stay will do
  }
  seconds of(Analyte analyte) const { return analyte == Analyte::height ? height : analyte == Analyte::weight ? weight : other; }
};

}  // namespace

Fact fact_of(Analyte analyte) {
  switch (analyte) {
    case Analyte::act: return Fact::act;
    case Analyte::aptt: return Fact::aptt;
    case Analyte::anti_xa: return Fact::anti_xa;
    case Analyte::inr: return Fact::inr;
    case Analyte::platelets: return Fact::platelets;
    case Analyte::haemoglobin: return Fact::haemoglobin;
    case Analyte::fibrinogen: return Fact::fibrinogen;
    case Analyte::creatinine: return Fact::creatinine;
    case Analyte::weight: return Fact::weight;
    case Analyte::height: return Fact::height;
    case Analyte::heart_rate: return Fact::heart_rate;
    case Analyte::systolic: case Analyte::diastolic: case Analyte::mean_pressure: return Fact::blood_pressure;
    case Analyte::oxygen_saturation: case Analyte::temperature: return Fact::heart_rate;  // the vital signs are asked for together
    default: return Fact::liver_tests;
  }
}

namespace {

class Window {
 public:
  Window(CaseFacts& facts, const Record& record, const Protocol& protocol, const Clock& clock)
      : facts_(facts), protocol_(protocol), clock_(clock), ahead_(record, protocol, clock) {}

  const Ahead& ahead() const { return ahead_; }
  /// Known by now (a bad one a little before), not after the end of the case, and not older than `back` before its start.
  bool holds(const std::optional<Moment>& at, seconds back) const {
    return holds(at, back, [] { return false; });
  }
  template <class Bad>
  bool holds(const std::optional<Moment>& at, seconds back, Bad bad) const {
    if (!at) return true;
    if (!ahead_.counts(at, bad)) return false;
    return at->latest >= facts_.start - back && !(facts_.case_end && at->earliest > *facts_.case_end);
  }
  void check_ahead(Fact fact, const std::optional<Moment>& at, const Source& source, std::string_view written = {}) {
    if (!at || clock_.reached(at->earliest - tolerance_)) return;
    report(fact, "future-time", source, written);
  }
  void check_order(Fact fact, const std::optional<Moment>& from, const std::optional<Moment>& to, const Source& source, std::string_view written) {
    if (from && to && to->latest < from->earliest) report(fact, "negative-interval", source, written);
  }

 private:
  void report(Fact fact, const char* about, const Source& source, std::string_view written) {
    if (facts_.case_end && clock_.reached(*facts_.case_end)) return;
    Conflict conflict{fact, about, {}, {source}, {}};
    if (!written.empty()) conflict.values.emplace_back(written);
    facts_.conflicts.push_back(std::move(conflict));
  }

  CaseFacts& facts_;
  const Protocol& protocol_;
  const Clock& clock_;
  const seconds tolerance_ = protocol_.future_tolerance.span();
  Ahead ahead_;
};

/// The facts to keep, by time and source.
template <class T, class At, class Keep>
void copy(std::vector<T>& to, const std::vector<T>& from, At at, Keep keep) {
  struct Timed {
    Instant at;
    const T* fact;
  };
  std::vector<Timed> kept;
  kept.reserve(from.size());
  for (const auto& fact : from)
    if (keep(fact)) kept.push_back({at(fact) ? at(fact)->latest : Instant::min(), &fact});
  std::ranges::stable_sort(kept, [](const Timed& a, const Timed& b) { return a.at != b.at ? a.at < b.at : a.fact->source < b.fact->source; });
  to.reserve(kept.size());
  for (const auto& timed : kept) to.push_back(*timed.fact);
}

/// Values without any time, not even that of writing, cannot be used. A good one is nowhere; one that is bad, or cannot be read, is unread beside the newest of the same
/// test, so that no older one stands in for it and none replaces it.
void place_untimed(CaseFacts& facts, const Ahead& ahead) {
  auto& all = facts.measurements;
  if (std::ranges::all_of(all, [](const Measurement& m) { return m.at.has_value(); })) return;
  std::map<Analyte, Instant> newest;
  for (const auto& m : all)
    if (m.at) newest[m.analyte] = m.at->latest;  // they stand by time
  for (auto& m : all) {
    if (m.at) continue;
    const Instant beside = std::max(newest.contains(m.analyte) ? newest[m.analyte] : facts.start, facts.start);
    auto placed = m;
    placed.at = exactly(beside + seconds{1});
    if (!ahead.bad(placed)) continue;
    placed.at = exactly(beside);
    if (placed.value) placed.unread = placed.value->written;
    placed.value.reset();
    m = std::move(placed);
  }
  std::ranges::stable_sort(all, {}, [](const Measurement& m) { return m.at ? m.at->latest : Instant::min(); });
}

void check_all_times(const CaseFacts& facts, const Record& record, Window& window) {
  for (const auto& event : record.access_events) window.check_ahead(Fact::haemostasis_time, event.at, event.source, name_of(event.kind));
  for (const auto& check : record.checks) window.check_ahead(Fact::site_check, check.at, check.source);
  for (const auto& m : record.measurements) window.check_ahead(fact_of(m.analyte), m.at, m.source, m.value ? std::string_view(m.value->written) : std::string_view());
  for (const auto& a : record.administrations) {
    window.check_ahead(Fact::dose_time, a.start, a.source, a.name);
    window.check_order(Fact::stop_time, a.start, a.end, a.source, a.name);
  }
  for (const auto& s : record.statements)
    window.check_ahead(s.kind == StatementKind::no_home_anticoagulant ? Fact::home_anticoagulants : Fact::anticoagulant_history, s.at, s.source);
  const auto& index = facts.index;
  window.check_ahead(Fact::haemostasis_time, index.start ? index.start : index.end, index.source, index.title);
  window.check_order(Fact::haemostasis_time, index.start, index.end, index.source, index.title);
}

}  // namespace

void set_times(CaseFacts& facts, const Record& record, const Protocol& protocol, const Clock& clock) {
  const auto& index = facts.index;
  const auto& from = index.start ? index.start : index.end;
  facts.start = from ? from->earliest : Instant{};
  facts.start_exact = from && from->exact();
  facts.known_since = index.known_since;
  if (index.end && index.end->exact() && clock.reached(index.end->latest)) facts.procedure_end = index.end->latest;
  const auto* encounter = encounter_of(index, record, from ? *from : exactly(facts.start));
  if (!encounter) return;
  facts.encounter = *encounter;
  const auto& end = encounter->end;
  if (end && !encounter->in_progress && end->latest >= facts.start && clock.reached(end->latest) && !stays_on(record, end->latest) && !trouble_after(facts, record, protocol, clock, end->latest))
    facts.discharge = end->latest;
}

void set_case_end(CaseFacts& facts, const Protocol& protocol, const Clock& clock) {
  facts.case_end = facts.discharge;
  Instant last = Instant::min();
  bool all = true;
  for (const auto& site : facts.sites) {
    if (site.t0) last = std::max(last, *site.t0);
    else all = false;
  }
  // Nobody goes home with a sheath in or a hand on the groin: a stay that ends before the last T0 is doubted, and the watch goes on.
  if (facts.discharge && all && *facts.discharge >= last) return;
  if (!facts.discharge && !all) return;
  facts.case_end = (all ? last : *facts.discharge) + protocol.case_end.span();
  clock.note(*facts.case_end);
}

void add_patient_facts(CaseFacts& facts, const Record& record, const Protocol& protocol, const Clock& clock) {
  Window window(facts, record, protocol, clock);
  check_all_times(facts, record, window);
  const seconds back = look_back(protocol);
  const auto at = [](const auto& fact) -> const std::optional<Moment>& { return fact.at; };
  const auto recent = [&](const auto& fact) { return window.holds(fact.at, back); };

  copy(facts.administrations, record.administrations, [](const Administration& a) { return a.start; }, [&](const Administration& a) {
    const auto bad = [&] { return window.ahead().bad(a); };
    const auto within = [&](const std::optional<Moment>& when, seconds far) { return window.holds(when, far, bad); };
    const bool known = window.ahead().counts(a.start, bad);
    const bool running = a.status == AdministrationStatus::in_progress || a.status == AdministrationStatus::on_hold || (a.start && !a.end);
    return known && (running ? within(a.start, hours{24 * 366 * 130}) : within(a.end ? a.end : a.start, back) || within(a.start, back));
  });
  copy(facts.home_drugs, record.home_drugs, [](const HomeDrug& d) { return d.last_dose; },
       [&](const HomeDrug& d) { return !d.last_dose || clock.reached(d.last_dose->earliest); });
  copy(facts.home_lists, record.home_lists, at, [&](const HomeList& l) { return !l.at || clock.reached(l.at->earliest); });
  copy(facts.statements, record.statements, at, recent);
  copy(facts.decisions, record.decisions, at, recent);
  const LookBack measured(facts, protocol);
  copy(facts.measurements, record.measurements, at, [&](const Measurement& m) { return window.holds(m.at, measured.of(m.analyte), [&] { return window.ahead().bad(m); }); });
  place_untimed(facts, window.ahead());
  copy(facts.risks, record.risks, [](const Risk& r) { return r.from; }, [&](const Risk& r) {
    return (!r.from || clock.reached(r.from->earliest)) && !(r.to && r.to->latest < facts.start);
  });
  copy(facts.tasks, record.tasks, [](const TaskFact& t) { return t.changed; },
       [&](const TaskFact& t) { return !t.changed || clock.reached(t.changed->earliest); });
  const auto written = [](const Order& o) { return o.written; };
  copy(facts.orders, record.orders, written, [&](const Order& o) { return window.holds(o.written, back); });
  facts.withheld = record.withheld;
  facts.remarks = record.remarks;
  facts.contacts = record.contacts;
}

}  // namespace clinical
