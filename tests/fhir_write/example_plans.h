// Small plans built by hand, with invented people, for the tests of what is written from a plan.
#pragma once

#include <string>

#include "clinical/change.h"
#include "clinical/protocol.h"

namespace example {

using clinical::Instant;
using clinical::minutes;
using clinical::Step;
using clinical::StepStatus;

inline Instant at(int hour, int minute = 0) {
  using namespace std::chrono;
  return sys_days{year{2026} / March / 2} + hours{hour} + std::chrono::minutes{minute};
}

inline clinical::Reason reason(std::string code) { return {std::move(code), {}}; }

inline clinical::Protocol protocol() {
  clinical::Protocol p;
  p.id = "cautious";
  p.version = "1.0.0";
  p.title = "Cautious";
  p.sha256 = std::string(64, 'a');
  p.alert_repeat.micro = clinical::whole(15);
  p.alert_repeat.unit = clinical::SettingUnit::minute;
  return p;
}

inline clinical::Milestone milestone(Step step, StepStatus status, std::optional<Instant> earliest, bool released) {
  clinical::Milestone m;
  m.step = step;
  m.status = status;
  m.earliest = earliest;
  m.released = released;
  m.basis = {{"rest.artery.per-french", "common practice, no source", {{"Procedure/p1", "1", false}}, reason("test.arithmetic")}};
  return m;
}

inline clinical::Gate gate(clinical::GateName name, clinical::GateState state, std::vector<clinical::Source> inputs = {}) {
  clinical::Gate g;
  g.name = name;
  g.state = state;
  g.why = reason("test.gate");
  g.rule = "gate.act.limit";
  g.source = "common practice, no source";
  g.inputs = std::move(inputs);
  return g;
}

inline clinical::SitePlan site(std::string key, clinical::Side side) {
  clinical::SitePlan s;
  s.key = std::move(key);
  s.side = side;
  s.vessel = clinical::Vessel::artery;
  s.french = 6;
  s.closure = clinical::Closure::manual;
  return s;
}

inline clinical::CasePlan case_of(std::string id) {
  clinical::CasePlan plan;
  plan.procedure = {"Procedure/" + id, "1", false};
  plan.procedure_identifier = "urn:example:procedures|" + id;
  plan.title = "Coronary stent, right femoral access";
  plan.encounter = "Encounter/e";
  plan.place = "Bay 4";
  plan.patient.source = {"Patient/a", "3", false};
  plan.patient.identifiers = {{"urn:example:patients", "T-0001"}};
  plan.patient.name = "TEST, Anna";
  plan.patient.record_number = "T-0001";
  plan.patient.birth_written = "1958-04-11";
  plan.patient.test_data = true;
  plan.started = at(10, 40);
  plan.valid_until = at(17);
  return plan;
}

/// Sheath in, 6 F right, the ACT too high, platelets missing.
inline clinical::CasePlan sheath_in() {
  clinical::CasePlan plan = case_of("p1");
  plan.state = clinical::CaseState::sheath_in;
  clinical::SitePlan s = site("Procedure/p1", clinical::Side::right);
  auto act = gate(clinical::GateName::act, clinical::GateState::closed, {{"Observation/act1", "1", false}});
  act.expires_at = at(15, 10);
  s.gates = {gate(clinical::GateName::access, clinical::GateState::open, {{"Procedure/p1", "1", false}}), act,
             gate(clinical::GateName::platelets, clinical::GateState::needs)};
  auto remove = milestone(Step::remove_sheath, StepStatus::blocked, {}, false);
  remove.expected = at(17, 30);
  remove.why = reason("test.blocked");
  auto stand = milestone(Step::stand_and_walk, StepStatus::expected, {}, false);
  stand.after_t0 = minutes{360};
  auto check = milestone(Step::check_site, StepStatus::due, at(15), true);
  check.ordinal = 5;
  check.latest = at(15, 30);
  auto draw = milestone(Step::draw_coagulation, StepStatus::due, at(15), true);
  draw.ordinal = 2;
  s.milestones = {draw, remove, check, stand};
  plan.sites = {s};
  plan.missing = {{clinical::Fact::platelets, clinical::AskedOf::laboratory, {Step::remove_sheath}, "Procedure/p1"}};
  return plan;
}

/// T0 stands since 14:30; head, sitting and walking are released as their clocks say.
inline clinical::CasePlan resting(Instant t0 = at(14, 30)) {
  clinical::CasePlan plan = case_of("p1");
  plan.state = clinical::CaseState::resting;
  clinical::SitePlan s = site("Procedure/p1", clinical::Side::right);
  s.sheath_out = t0 - minutes{20};
  s.compression_started = s.sheath_out;
  s.t0 = t0;
  s.haemostases = 1;
  auto removed = milestone(Step::remove_sheath, StepStatus::done, {}, false);
  removed.actual = s.sheath_out;
  auto check = milestone(Step::check_site, StepStatus::expected, t0 + minutes{45}, true);
  check.ordinal = 3;
  s.milestones = {removed, check, milestone(Step::raise_head, StepStatus::expected, t0 + minutes{120}, true),
                  milestone(Step::sit_up, StepStatus::expected, t0 + minutes{330}, false),
                  milestone(Step::stand_and_walk, StepStatus::expected, t0 + minutes{360}, false)};
  for (auto& m : s.milestones) m.basis[0].inputs.push_back({"Procedure/haemostasis", "1", false});
  plan.sites = {s};
  plan.up_at = t0 + minutes{360};
  plan.up_site = s.key;
  return plan;
}

/// Late in the same evening: everything up to walking is released.
inline clinical::CasePlan nearly_up() {
  clinical::CasePlan plan = resting();
  for (auto& m : plan.sites[0].milestones)
    if (m.step == Step::sit_up || m.step == Step::stand_and_walk) m.released = true;
  return plan;
}

/// The same groin bleeds again at 18:00.
inline clinical::CasePlan rebleed() {
  clinical::CasePlan plan = nearly_up();
  plan.state = clinical::CaseState::compressing;
  clinical::SitePlan& s = plan.sites[0];
  s.t0.reset();
  s.compression_started = at(18);
  for (auto& m : s.milestones)
    if (clinical::is_patient_step(m.step)) {
      m.status = StepStatus::blocked;
      m.earliest.reset();
      m.released = false;
      m.basis[0].inputs.push_back({"Procedure/rebleed", "1", false});
    }
  plan.up_at.reset();
  plan.alerts = {{"rebleed", clinical::AlertLevel::urgent, s.key, "rebleed Procedure/p1 18:00", reason("test.rebleed"), {{"Procedure/rebleed", "1", false}}}};
  return plan;
}

}  // namespace example
