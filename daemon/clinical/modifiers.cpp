#include "clinical/modifiers.h"

#include <algorithm>
#include <tuple>

#include "clinical/age.h"
#include "clinical/body.h"
#include "clinical/clearance.h"
#include "clinical/doses.h"
#include "clinical/quantity.h"
#include "clinical/worst_value.h"

namespace clinical {
namespace {

std::vector<Source> sources_of(const std::vector<const Measurement*>& values) {
  std::vector<Source> sources;
  for (const auto* m : values) sources.push_back(m->source);
  return sources;
}

class Finder {
 public:
  explicit Finder(const SiteView& view) : view_(view), facts_(view.facts), site_(view.site), p_(view.protocol) {}

  std::vector<Modifier> find() {
    pull();
    drugs();
    platelets();
    inr();
    pressure_at_pull();
    body();
    age();
    clearance();
    puncture();
    recorded_risks();
    watch_only();
    return std::move(found_);
  }

 private:
  Modifier& add(std::string_view name, const Setting* hold, const Setting* rest, std::vector<Source> inputs, bool unknown = false) {
    Modifier m;
    m.name = name;
    m.hold = hold;
    m.rest = rest;
    m.inputs = std::move(inputs);
    m.unknown = unknown;
    m.high_watch = true;
    found_.push_back(std::move(m));
    return found_.back();
  }

  Instant until() const { return site_.t0.value_or(view_.clock.now()); }
  Instant dosing_until() const { return site_.t0.value_or(view_.clock.now() + p_.future_tolerance.span()); }

  // At an unknown time nobody knows which gates were open.
  void pull() {
    if (!site_.out() || view_.closed_by_device()) return;
    std::vector<Source> inputs;
    bool open = view_.pulled.has_value();
    for (const auto& gate : view_.gates)
      if (is_coagulation_gate(gate.name) && gate.state != GateState::open) {
        open = false;
        inputs.insert(inputs.end(), gate.inputs.begin(), gate.inputs.end());
      }
    if (!open) add("pulled-with-gate-not-open", &p_.add_pull_not_open_hold, &p_.add_pull_not_open_rest, std::move(inputs), !view_.pulled);
  }

  // Given, or running, less than `within` before the start, or from then to T0.
  bool acted(const Administration& a, const Setting& within) const {
    if (a.flush || (a.start && a.start->earliest > dosing_until())) return false;
    const bool ended = a.end && a.status != AdministrationStatus::in_progress && a.status != AdministrationStatus::on_hold;
    return !ended || a.end->latest + within.span() >= facts_.start;
  }
  void drugs() {
    std::vector<Source> inhibitors, lytics;
    for (const auto& a : facts_.administrations) {
      if (is_gp_inhibitor(a.agent) && acted(a, a.agent == Agent::abciximab ? p_.add_abciximab_within : p_.add_gp_within)) inhibitors.push_back(a.source);
      if (is_fibrinolytic(a.agent) && acted(a, p_.add_lysis_within)) lytics.push_back(a.source);
    }
    if (!inhibitors.empty()) {
      auto& m = add("gp-inhibitor", &p_.add_gp_hold, &p_.add_gp_rest, inhibitors);
      m.rest_floor = &p_.add_gp_rest_floor;
      m.low_hold = true;
    }
    if (!lytics.empty()) add("fibrinolytic", &p_.add_lysis_hold, &p_.add_lysis_rest, lytics).rest_floor = &p_.add_lysis_rest_floor;
  }

  /// The end of the last dose of a kind that had begun by T0; nothing: none was given. `since_start`: its start instead.
  std::optional<Instant> last_given(const AgentGroup& group, bool since_start) const {
    std::optional<Instant> last;
    for (const auto& a : facts_.administrations) {
      if (!group(a.agent) || a.flush || (a.start && a.start->earliest > dosing_until())) continue;
      const auto& at = since_start || !a.end ? a.start : a.end;
      last = std::max(last.value_or(Instant::min()), at ? std::min(at->latest, dosing_until()) : dosing_until());
    }
    return last;
  }

  /// Nothing that can be read.
  static bool unknown(const std::vector<const Measurement*>& values) {
    return std::ranges::none_of(values, [](const auto* m) { return m->value.has_value(); });
  }

  // A count from before a GP IIb/IIIa inhibitor could act tells only where it is low already; so does an INR from before the last dose that moves it.
  void platelets() {
    const auto given = last_given(is_gp_inhibitor, true);
    const Setting& fresh = given ? p_.fresh_platelets_gp : p_.fresh_platelets;
    const auto good = [&](const Value& v) { return v.surely_at_least(p_.add_platelets_below.micro); };
    const auto values = telling_values(view_, Analyte::platelets, fresh, good, [&](const Measurement& m) {
      return !given || m.at->earliest >= *given + p_.platelets_after_gp_start.span() || !good(*m.value);
    });
    const bool enough = std::ranges::all_of(values, [&](const auto* m) { return m->value && good(*m->value); });
    if (values.empty() || !enough) add("platelets", &p_.add_platelets_hold, &p_.add_platelets_rest, sources_of(values), unknown(values)).low_hold = true;
  }

  bool inr_demanded() const {
    return !view_.home_known || std::ranges::any_of(facts_.administrations, [](const Administration& a) { return moves_inr(a.agent); }) ||
           std::ranges::any_of(facts_.home_drugs, [](const HomeDrug& d) { return d.taken && d.agent == Agent::warfarin; });
  }
  /// Tablets taken at home move it as well; until when is often not known.
  std::optional<Instant> last_that_moves_inr() const {
    auto last = last_given(moves_inr, false);
    for (const auto& drug : facts_.home_drugs)
      if (drug.taken && drug.agent == Agent::warfarin && drug.last_dose) last = std::max(last.value_or(Instant::min()), std::min(drug.last_dose->latest, dosing_until()));
    return last;
  }
  void inr() {
    const auto given = last_that_moves_inr();
    const bool warfarin = std::ranges::any_of(facts_.home_drugs, [](const HomeDrug& d) { return d.taken && d.agent == Agent::warfarin; });
    const Setting& fresh = given || warfarin ? p_.fresh_inr_demanded : p_.fresh_inr;
    const auto good = [&](const Value& v) { return surely_at_most(v, p_.inr_open.micro); };
    const auto values = telling_values(view_, Analyte::inr, fresh, good, [&](const Measurement& m) {
      return !given || drawn_after(*m.at, exactly(*given)) || !good(*m.value);
    });
    const bool low = std::ranges::all_of(values, [&](const auto* m) { return m->value && good(*m->value); });
    if (values.empty() ? inr_demanded() : !low) add("inr", &p_.add_inr_hold, &p_.add_inr_rest, sources_of(values), unknown(values)).low_hold = true;
  }

  void pressure_at_pull() {
    if (site_.out() && !view_.pulled) {
      add("pressure-at-pull", nullptr, nullptr, {}, true).low_hold = true;
      return;
    }
    const auto readings = pressures_at(view_, Analyte::systolic, view_.pulled.value_or(view_.clock.now()));
    const bool low = std::ranges::all_of(readings, [&](const auto* m) { return m->value->surely_below(p_.systolic_open_below.micro); });
    if (readings.empty() || !low) add("pressure-at-pull", nullptr, nullptr, sources_of(readings), readings.empty()).low_hold = true;
  }

  // The worst of the weights.
  void body() {
    const auto bodies = bodies_of(view_.now, until());
    const auto high = std::ranges::find_if(bodies, [&](const Body& b) { return b.mass_index >= number(p_.add_bmi_high_from); });
    const auto low = std::ranges::find_if(bodies, [&](const Body& b) { return b.mass_index < number(p_.add_bmi_low_below) || b.surface < number(p_.add_bsa_below); });
    if (bodies.empty()) add("bmi-high", &p_.add_bmi_high_hold, &p_.add_bmi_high_rest, {}, true).low_hold = true;
    else if (high != bodies.end()) add("bmi-high", &p_.add_bmi_high_hold, &p_.add_bmi_high_rest, high->inputs).low_hold = true;
    else if (low != bodies.end()) add("bmi-low", nullptr, &p_.add_bmi_low_rest, low->inputs);
  }
  static double number(const Setting& setting) { return static_cast<double>(setting.micro) / static_cast<double>(kMicro); }

  void age() {
    const auto& birth = facts_.patient.birth;
    if (birth && oldest_age(*birth, facts_.start) >= p_.add_age_from.whole_number()) add("age", nullptr, &p_.add_age_rest, {facts_.patient.source});
  }

  // A height measured during the case was the same before: it is not missing at an earlier creatinine.
  bool is_later_height(const Measurement& m) const {
    return m.analyte == Analyte::height && m.at && m.at->latest > facts_.start && m.at->latest <= view_.clock.now();
  }
  bool height_told_later() const { return std::ranges::any_of(view_.now.index().of(Analyte::height), [this](const auto* m) { return is_later_height(*m); }); }
  CaseFacts with_height_from_the_start() const {
    CaseFacts facts = facts_;
    for (auto& m : facts.measurements)
      if (is_later_height(m)) m.at = exactly(facts.start);
    return facts;
  }

  // Each creatinine of the time from the start to T0 gives a clearance; the lowest counts. What the newest does not tell is not known.
  void clearance() {
    bool low = false;
    std::vector<Source> inputs;
    const auto tall = height_told_later() ? std::optional(with_height_from_the_start()) : std::nullopt;
    const Evidence now = tall ? Evidence(*tall, p_, view_.clock) : Evidence(view_.now);
    const auto look = [&](Instant at) {
      const Clock then(at);
      const auto result = clearance_of(at < now.clock.now() ? Evidence(now, then, at) : now);
      low |= result.dialysis || result.unstable;
      if (!result.clearance) return false;
      low |= result.clearance->millilitres_per_minute < number(p_.add_clearance_below) || result.band_worse;
      for (const auto& basis : result.clearance->basis) inputs.insert(inputs.end(), basis.inputs.begin(), basis.inputs.end());
      return true;
    };
    for (const auto* m : view_.now.index().of(Analyte::creatinine))
      if (m->value && m->at && m->at->latest >= facts_.start && m->at->latest < until()) look(m->at->latest);
    bool known = look(until());
    if (!known && !low && site_.t0) known = look(view_.clock.now());
    std::ranges::sort(inputs);
    inputs.erase(std::unique(inputs.begin(), inputs.end()), inputs.end());
    if (low || !known) add("clearance", nullptr, &p_.add_clearance_rest, std::move(inputs), !known && !low);
  }

  void puncture() {
    const bool several = site_.punctures.value_or(1) > 1;
    if (several || site_.upsized || site_.difficult || site_.high_stick || site_.low_stick)
      add("puncture", &p_.add_puncture_hold, &p_.add_puncture_rest, {{site_.key, {}, false}}).low_hold = several;
  }

  std::vector<Source> risks(std::initializer_list<RiskKind> kinds) const {
    std::vector<Source> sources;
    for (const auto& risk : facts_.risks) {
      const bool here = risk.side == Side::unknown || !site_.side.usable() || risk.side == site_.side.value;
      if (risk.present && here && std::ranges::find(kinds, risk.kind) != kinds.end()) sources.push_back(risk.source);
    }
    return sources;
  }
  void recorded_risks() {
    if (auto s = risks({RiskKind::cough, RiskKind::agitation}); !s.empty()) add("restless", &p_.add_restless_hold, &p_.add_restless_rest, std::move(s));
    if (auto s = risks({RiskKind::steroids}); !s.empty()) add("steroids", &p_.add_steroids_hold, nullptr, std::move(s)).high_watch = false;
    if (auto s = risks({RiskKind::arterial_disease, RiskKind::severe_arterial_disease, RiskKind::calcification, RiskKind::graft}); !s.empty())
      add("vessel-wall", &p_.add_wall_hold, &p_.add_wall_rest, std::move(s));
  }

  // An infusion's total is not reckoned: any counts as over the limit, as does a dose or weight that is not known.
  void watch_only() {
    std::vector<Source> antiplatelets, heparin;
    double units = 0, per_kg = 0;
    bool known = true;
    for (const auto& a : facts_.administrations) {
      if (a.flush) continue;
      if (is_antiplatelet(a.agent)) antiplatelets.push_back(a.source);
      if (a.agent != Agent::heparin || (a.end && a.end->latest + p_.procedural_look_back.span() < facts_.start)) continue;
      heparin.push_back(a.source);
      known &= a.dose && a.dose->unit == DoseUnit::international_unit && a.dose->amount.exact() && !a.rate;
      if (known) (a.dose->per_kg ? per_kg : units) += static_cast<double>(a.dose->amount.micro) / static_cast<double>(kMicro);
    }
    for (const auto& d : facts_.home_drugs)
      if (d.taken && is_antiplatelet(d.agent)) antiplatelets.push_back(d.source);
    if (!antiplatelets.empty()) add("antiplatelet", nullptr, nullptr, std::move(antiplatelets));
    if (heparin.empty()) return;
    const auto weights = weights_of(view_.now, view_.clock.now());
    known &= units == 0 || !weights.empty();
    const auto micro_of = [](const Measurement* m) { return m->value->micro; };
    if (known && !weights.empty()) per_kg += units * static_cast<double>(kMicro) / static_cast<double>(micro_of(*std::ranges::min_element(weights, {}, micro_of)));
    if (!known || per_kg > number(p_.high_watch_heparin)) add("heparin-dose", nullptr, nullptr, std::move(heparin), !known);
  }

  const SiteView& view_;
  const CaseFacts& facts_;
  const SiteFacts& site_;
  const Protocol& p_;
  std::vector<Modifier> found_;
};

}  // namespace

std::vector<Modifier> modifiers_of(const SiteView& view) { return Finder(view).find(); }

minutes add_all(Tally& tally, const std::vector<Modifier>& modifiers, const Setting* Modifier::*amount, const Setting& further, const Setting& longest) {
  std::vector<const Modifier*> adding;
  for (const auto& m : modifiers)
    if (m.*amount) adding.push_back(&m);
  std::ranges::sort(adding, [&](const auto* a, const auto* b) {
    return std::tuple(-(a->*amount)->micro, a->name) < std::tuple(-(b->*amount)->micro, b->name);
  });
  minutes left = longest.whole_minutes();
  for (const auto* m : adding) {
    const minutes full = m == adding.front() ? (m->*amount)->whole_minutes() : further.whole_minutes();
    const minutes added = std::min(full, left);
    left -= added;
    Reason why{m->unknown ? "add.not-recorded" : "add.recorded", {{"what", term("add", m->name)}}};
    if (added < full) {  // what is left out is said, or "+ 0 min" would look like a slip
      why.code += "-capped";
      why.arguments.emplace_back("cap", longest.span());
    }
    tally.add(added, *(m->*amount), std::move(why), m->inputs);
  }
  return left;
}

}  // namespace clinical
