#include "clinical/site_view.h"

#include <algorithm>

#include "clinical/age.h"
#include "clinical/gate_list.h"
#include "clinical/gate_rules.h"
#include "clinical/names.h"
#include "clinical/tally.h"
#include "clinical/value_conflicts.h"

namespace clinical {
namespace {

bool touches(const Conflict& conflict, Stage stage) {
  if (is_dealt_with(conflict)) return false;
  switch (conflict.fact) {
    case Fact::sheath_size: case Fact::vessel: case Fact::closure: return false;  // an unknown size, vessel or closure, dealt with as such
    case Fact::side: return true;
    case Fact::haemostasis_time: return stage != Stage::removal || conflict.site.empty();
    case Fact::site_check: case Fact::blood_pressure: return stage != Stage::compression;
    default: return stage == Stage::removal;
  }
}

bool pregnant(const CaseFacts& facts) {
  return std::ranges::any_of(facts.risks, [](const Risk& r) { return r.kind == RiskKind::pregnancy && r.present; });
}

}  // namespace

Closure SiteView::method() const {
  if (!site.holds.empty() && site.holds.back().method != Closure::unknown) return site.holds.back().method;
  if (site.device_failed || !site.closure.usable()) return Closure::manual;
  return site.closure.value;
}

bool SiteView::failed_device() const {
  return site.device_failed && method() != Closure::device && method() != Closure::suture;
}

SiteView view_of(const SiteEvidence& now) {
  const CaseFacts& facts = now.facts;
  const SiteFacts& site = now.site;
  const Protocol& protocol = now.protocol;
  SiteView view{facts, site, protocol, now.clock, now, {}, {}, Tristate::unknown, false, false};
  view.anticoagulant = procedural_anticoagulant(now);
  if (!site.out()) {
    view.gates = gates_at(now);
  } else if (site.sheath_out) {
    view.pulled = site.sheath_out;
    const CaseFacts then = as_known_at(facts, *site.sheath_out);
    const Clock at_pull(*site.sheath_out);
    for (const auto& known : then.sites)
      if (known.key == site.key) view.gates = list_gates(SiteEvidence(then, known, at_pull, now));
  }
  const auto told = [&](auto rule) { return rule(now)->gate.state == GateState::open; };  // each applies to every site
  view.home_known = told(home_anticoagulants_gate);
  view.history_known = told(anticoagulant_history_gate);
  return view;
}

std::optional<Reason> out_of_scope(const SiteView& view) {
  const auto& facts = view.facts;
  const auto& protocol = view.protocol;
  if (facts.provisional) return Reason{"withheld.provisional", {}};
  if (!facts.patient.birth) return Reason{"withheld.birth-date", {}};
  if (!facts.index.start && !facts.index.end) return Reason{"withheld.start-not-exact", {}};  // of no day at all: nobody knows how old the patient was
  if (youngest_age(*facts.patient.birth, facts.start) < protocol.adult_age.whole_number())
    return Reason{"withheld.age", {{"limit", protocol.adult_age.whole_number()}}};
  if (pregnant(facts)) return Reason{"withheld.pregnancy", {}};
  if (!view.site.side.usable())
    return Reason{view.site.side.certainty == Certainty::contradicted ? "withheld.side-contradicted" : "withheld.side", {}};
  if (!view.may_be_artery() || view.closed_by_device()) return std::nullopt;
  if (!view.french())
    return Reason{view.site.french.certainty == Certainty::contradicted ? "withheld.size-contradicted" : "withheld.size", {}};
  if (*view.french() >= protocol.large_bore.whole_number())
    return Reason{view.site.device_failed ? "withheld.large-bore-failed" : "withheld.large-bore", {{"french", std::int64_t{*view.french()}}, {"limit", protocol.large_bore.whole_number()}}};
  return std::nullopt;
}

std::optional<Reason> held_by_conflict(const SiteView& view, Stage stage) {
  for (const auto& conflict : view.facts.conflicts)
    if ((conflict.site.empty() || conflict.site == view.site.key) && touches(conflict, stage))
      return Reason{"withheld.conflict", {{"fact", term("fact", name_of(conflict.fact))}, {"about", term("conflict", conflict.about.empty() ? "differs" : conflict.about)}}};
  if (stage != Stage::removal && view.site.disputed) return Reason{"withheld.conflict", {{"fact", term("fact", "haemostasis-time")}, {"about", term("conflict", "differs")}}};
  if (stage == Stage::removal && !view.facts.start_exact) return Reason{"withheld.start-not-exact", {}};
  return std::nullopt;
}

}  // namespace clinical
