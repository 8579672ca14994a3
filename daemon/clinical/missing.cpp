#include "clinical/missing.h"

#include <algorithm>
#include <map>
#include <set>

#include "clinical/body.h"
#include "clinical/clearance.h"
#include "clinical/in_rest.h"

namespace clinical {
namespace {

// Facts of the access itself belong to one site; drugs and values to the patient.
bool of_site(Fact fact) {
  switch (fact) {
    case Fact::sheath_size: case Fact::side: case Fact::vessel: case Fact::closure: case Fact::site_check: case Fact::haemostasis_time:
    case Fact::baseline_pulses: case Fact::sheath_removal: case Fact::compression_start: case Fact::puncture_quality: return true;
    default: return false;
  }
}

/// Of a count that is not known: platelets or INR.
Fact fact_of_modifier(std::string_view name) { return name == "platelets" ? Fact::platelets : Fact::inr; }

constexpr const char* kWay = "way-of-pressing";

class Collector {
 public:
  using Steps = std::initializer_list<Step>;
  struct Found {
    std::set<Step> blocks;
    std::string about;
  };
  Found& add(Fact fact, const std::string& site, Steps blocks = {}) {
    Found& found = found_[{fact, of_site(fact) ? site : std::string()}];
    found.blocks.insert(blocks);
    return found;
  }

  void site(const SiteWork& work, const std::vector<Milestone>& steps) {
    access(work);
    gates(work);
    lengths(work);
    course(work, steps);
  }

  // Sitting, and again standing: the pressure is measured in each position the first time (common practice, no source).
  void pressure_in_each_position(const SiteView& view, const GettingUp& up) {
    const auto& last = up.walked ? up.walked : up.sat;
    if (!last || !view.site.t0 || up.discharged) return;
    const auto readings = view.now.index().of(Analyte::systolic);
    const bool measured = std::ranges::any_of(readings, [&](const auto* m) { return m->value && m->at && m->at->latest >= *last && view.clock.reached(m->at->latest); });
    if (measured) return;
    auto& found = add(Fact::blood_pressure, {});
    if (found.blocks.empty()) found.about = up.walked ? "pressure-standing" : "pressure-sitting";
  }

  // What may act on clotting, and nobody can say whether or when.
  void given_in_rest_of(const SiteView& view, const GettingUp& up) {
    if (up.walked) return;
    for (const auto& given : given_in_rest(view.now)) {
      if (given.began_before) continue;
      if (given.dose->agent == Agent::unidentified) add(Fact::drug_identity, {}, {Step::stand_and_walk});
      if (!given.dose->start->exact()) add(Fact::dose_time, {}, {Step::stand_and_walk});
    }
  }

  std::vector<Missing> take() const {
    std::vector<Missing> result;
    for (const auto& [key, found] : found_)
      result.push_back({key.first, found.about == kWay ? AskedOf::nurse : asked_of(key.first), {found.blocks.begin(), found.blocks.end()}, key.second, found.about});
    return result;
  }

 private:
  static constexpr Steps kNone{}, kPull{Step::remove_sheath};
  static constexpr Steps kResting{Step::raise_head, Step::sit_up, Step::stand_and_walk, Step::discharge_check};
  static constexpr Steps kEverything{Step::remove_sheath, Step::firm_compression, Step::partial_compression, Step::light_compression, Step::end_compression,
                                     Step::raise_head, Step::sit_up, Step::stand_and_walk, Step::discharge_check};

  void access(const SiteWork& work) {
    const auto& site = work.site();
    const auto lacks = [](const auto& settled) { return settled.certainty == Certainty::unknown || settled.certainty == Certainty::contradicted; };
    const Steps pull = site.out() ? kNone : kPull;
    if (!work.view.facts.patient.birth) add(Fact::birth_date, {}, kEverything);
    if (lacks(site.side)) add(Fact::side, site.key, kEverything);
    if (lacks(site.french)) add(Fact::sheath_size, site.key, work.scope && work.scope->code.starts_with("withheld.size") ? kEverything : pull);
    if (lacks(site.vessel)) add(Fact::vessel, site.key, pull);
    if (lacks(site.closure)) add(Fact::closure, site.key, pull);
    if (way_unknown(site)) {
      auto& found = add(Fact::closure, site.key, site.dry_while_pressed ? kResting : kNone);
      found.about = kWay;
    }
  }

  /// Somebody presses and nobody says whether by hand or by a device: where haemostasis is recorded as well, T0 waits for a device that may be on.
  static bool way_unknown(const SiteFacts& site) {
    if (!site.out() || site.t0 || site.holds.empty()) return false;
    const auto& hold = site.holds.back();
    if (hold.end || hold.asked || hold.method != Closure::unknown) return false;
    return site.device_failed || !site.closure.usable();
  }

  void gates(const SiteWork& work) {
    if (work.site().out()) return;
    for (const auto& gate : work.view.gates)
      for (const Fact fact : gate.needs) {
        auto& found = add(fact, work.site().key, gate.state == GateState::open ? kNone : kPull);
        if (gate.why.code == "gate.haemoglobin.one-value") found.about = "second-haemoglobin";
      }
  }

  // What lengthens because it is not known. Once the rest has run out with the worse row nothing can get shorter, and nobody needs it.
  void lengths(const SiteWork& work) {
    const auto& t0 = work.site().t0;
    if (t0 && work.view.clock.reached(*t0 + work.rest.walk)) return;
    if (!work.scope)
      for (const Fact fact : work.rest.early_asked) add(fact, work.site().key);   // they hold back an early row and nothing else
    for (const auto& m : work.modifiers) {
      if (!m.unknown || m.name == "pressure-at-pull" || m.name == "pulled-with-gate-not-open") continue;
      if (m.name == "bmi-high") body(work);
      else if (m.name == "heparin-dose") body(work, true);
      else if (m.name == "clearance") clearance(work);
      else add(fact_of_modifier(m.name), {});
    }
    if (!work.site().out()) return;
    if (!work.site().sheath_out) add(Fact::sheath_removal, work.site().key);
    if (const auto& held = work.site().held_long; held && held->implied) add(Fact::compression_start, work.site().key);
    if (work.view.anticoagulant == Tristate::unknown && !work.view.history_known) add(Fact::anticoagulant_history, {});
    if (!work.view.home_known && home_decides(work)) add(Fact::home_anticoagulants, {});
  }
  // It tells whether an INR is demanded, whether the pull was one with every gate open, and what stands in for an intervention.
  static bool home_decides(const SiteWork& work) {
    const auto& view = work.view;
    const bool lengthens = std::ranges::any_of(work.modifiers, [](const Modifier& m) { return m.unknown && m.name == "inr"; });
    return lengthens || (view.pulled && !view.closed_by_device()) || (view.anticoagulant == Tristate::unknown && (!view.intervention() || view.known_vein()));
  }
  void body(const SiteWork& work, bool weight_only = false) {
    const auto& evidence = work.view.now;
    const Instant now = evidence.clock.now();
    if (weights_of(evidence, now).empty()) add(Fact::weight, {});
    if (!weight_only && !height_of(evidence, now)) add(Fact::height, {});
  }
  void clearance(const SiteWork& work) {
    const auto result = clearance_of(work.view.now);
    for (const Fact fact : result.missing) add(fact, {});
  }

  void course(const SiteWork& work, const std::vector<Milestone>& steps) {
    const auto& site = work.site();
    const auto& start = work.hold_start();
    const bool over = start && !site.t0 && work.view.clock.reached(*start + work.hold.total);
    const bool unseen = !site.holds.empty() && site.holds.back().asked && !site.holds.back().end;
    if (site.out() && !site.t0 && (site.haemostasis_unconfirmed || over || (!start && !unseen) || site.disputed)) add(Fact::haemostasis_time, site.key, kResting);
    for (const auto& m : steps) {
      if (m.status != StepStatus::blocked || !m.why) continue;
      if (m.why->code == "hold.start-unknown") add(Fact::compression_start, site.key, {m.step});
      if (m.why->code == "rest.check-not-fresh") add(Fact::site_check, site.key, {m.step});
      if (m.why->code == "rest.pressure-not-fresh") add(Fact::blood_pressure, {}, {m.step});
    }
    const bool compared = std::ranges::any_of(site.checks, [](const SiteCheck& c) { return c.foot_pulse.has_value(); });
    if (site.baseline_pulses.empty() && !compared) add(Fact::baseline_pulses, site.key);
  }

  std::map<std::pair<Fact, std::string>, Found> found_;
};

}  // namespace

AskedOf asked_of(Fact fact) {
  switch (fact) {
    case Fact::sheath_size: case Fact::side: case Fact::vessel: case Fact::closure: case Fact::anticoagulant_history: case Fact::intervention:
    case Fact::puncture_quality: return AskedOf::operator_;
    case Fact::home_anticoagulants: case Fact::drug_identity: return AskedOf::pharmacy;
    case Fact::aptt: case Fact::platelets: case Fact::inr: case Fact::haemoglobin: case Fact::fibrinogen: case Fact::creatinine: case Fact::anti_xa:
    case Fact::liver_tests: return AskedOf::laboratory;
    default: return AskedOf::nurse;
  }
}

std::vector<Missing> missing_of(const std::vector<SiteWork>& works, const std::vector<std::vector<Milestone>>& steps, const GettingUp& up) {
  Collector collector;
  for (std::size_t i = 0; i < works.size(); ++i) collector.site(works[i], steps[i]);
  collector.pressure_in_each_position(works.front().view, up);
  collector.given_in_rest_of(works.front().view, up);
  return collector.take();
}

}  // namespace clinical
