// The further deeds of a story: what people say, decide and do, other sites, and which deed it is.
#include "clinical/compute_plan.h"
#include "clinical/names.h"
#include "teller.h"

namespace campaign {

using namespace clinical;

void Teller::home(Picks& pick) {
  static constexpr Agent kTaken[] = {Agent::aspirin, Agent::clopidogrel, Agent::warfarin, Agent::apixaban, Agent::rivaroxaban, Agent::dabigatran, Agent::edoxaban,
                                     Agent::enoxaparin, Agent::fondaparinux, Agent::ticagrelor, Agent::unidentified, Agent::other_antithrombotic, Agent::other};
  HomeDrug d;
  d.source = source("Home");
  d.agent = pick.of(kTaken);
  d.name = name_of(d.agent);
  const int flaw = pick.below(8);
  d.last_dose = exactly(at(11 - pick.below(130)));
  d.recorded = exactly(at(9));
  if (flaw == 4) d.last_dose.reset();
  if (flaw == 5) d.told_by_request = true;
  if (flaw == 6) d.told_by_request = true, d.last_dose.reset();
  if (flaw == 7) d.taken = false;
  record.home_drugs.push_back(std::move(d));
}

void Teller::statement(Picks& pick) {
  static constexpr StatementKind kKinds[] = {StatementKind::no_anticoagulant_given, StatementKind::no_home_anticoagulant, StatementKind::coagulation_test_unavailable};
  const auto kind = pick.of(kKinds);
  record.statements.push_back({source("Statement"), kind, exactly(some_time(pick)), pick.one_in(3) ? some_procedure(pick) : std::string()});
}

void Teller::risk(Picks& pick) {
  Risk r;
  r.source = source("Risk");
  r.kind = static_cast<RiskKind>((1 + pick.below(41)) % 11 == 0 ? (pick.one_in(4) ? 0 : 4) : 1 + pick.below(10));
  const int shape = pick.below(12);
  r.from = exactly(at(0));
  if (shape == 8) r.present = false;
  if (shape == 9) r.side = Side::left;
  if (shape == 10) r.from = exactly(some_time(pick));
  if (shape == 11) r.to = exactly(some_time(pick));
  record.risks.push_back(std::move(r));
}

void Teller::decision(Picks& pick) {
  Decision d;
  d.source = source("Decision");
  d.subject = name_of(static_cast<GateName>(pick.below(19)));
  static constexpr const char* kSeen[] = {"", "155 mm[Hg]", "1.6 {INR}", "70 10*9/L", "7.9 g/dL"};
  d.value_seen = pick.of(kSeen);
  if (!pick.one_in(8)) d.performer = "Practitioner/invented";
  d.at = exactly(some_time(pick));
  record.decisions.push_back(std::move(d));
}

// Whatever is asked at that moment is answered as it should be.
void Teller::answer(Picks& pick) {
  const Instant when = some_time(pick);
  const auto plans = compute_plans(record, protocol_, when);
  const auto say = [&](std::string subject, std::string seen) {
    record.decisions.push_back({source("Decision"), std::move(subject), std::move(seen), "Practitioner/invented", exactly(when), false, {}});
  };
  for (const auto& plan : plans)
    for (const auto& site : plan.sites) {
      for (const auto& gate : site.gates)
        if (gate.state == GateState::ask) say(std::string(name_of(gate.name)), gate.value_seen);
      for (const auto& m : site.milestones)
        if ((m.step == Step::end_compression || m.step == Step::stand_and_walk) && m.status == StepStatus::blocked && m.planned)
          say(std::string(name_of(m.step)), std::to_string(m.planned->count()) + " min");
    }
}

void Teller::task(Picks& pick) {
  static constexpr Step kSteps[] = {Step::stand_and_walk, Step::confirm_readiness, Step::sit_up, Step::raise_head, Step::firm_compression, Step::end_compression,
                                    Step::dress_site, Step::discharge_check, Step::ask_anticoagulant_plan, Step::low_pressure_hold};
  const Step step = pick.of(kSteps);
  const bool rejected = pick.one_in(6);
  const Instant when = some_time(pick);
  auto& t = done(step, when, some_procedure(pick));
  if (rejected) t.state = TaskState::rejected;
}

TaskFact& Teller::done(Step step, Instant when, const std::string& procedure) {
  TaskFact t;
  t.source = source("Task");
  t.step = name_of(step);
  t.state = TaskState::completed;
  t.changed = exactly(when);
  t.procedure = procedure;
  return record.tasks.emplace_back(std::move(t));
}

// A further puncture of the case; now and then a case of its own. Its course goes on from its description.
void Teller::site(Picks& pick) {
  if (record.procedures.size() >= 3) return;
  const bool own = pick.one_in(5);
  auto& p = procedure(pick, "p" + std::to_string(record.procedures.size() + 1));
  // What was said of the first site names it by what tells the two apart.
  for (auto& e : record.access_events)
    if (e.procedure == "Procedure/p1" && record.procedures.front().sides.size() == 1 && record.procedures.front().vessels.size() == 1)
      e.side = record.procedures.front().sides.front().value, e.vessel = record.procedures.front().vessels.front().value;
  if (own) p.start = exactly(at(18)), p.end = exactly(at(19));
  else p.part_of = "Procedure/p1";
  const std::string reference = p.source.reference;
  Deed rest{};
  for (auto& n : rest) n = static_cast<std::uint16_t>(pick.below(9999));

  course(Picks(rest), reference);
}

void Teller::further(Picks pick) {
  const int kind = pick.below(43);
  if (kind < 12) return measurement(pick);
  if (kind < 16) return dose(pick);
  if (kind < 17) return infusion_with_changes(pick);
  if (kind < 22 || kind == 42) return site_check(pick);
  if (kind < 25) return access_event(pick);
  if (kind < 27) return home(pick);
  if (kind < 28) return statement(pick);
  if (kind < 30) return risk(pick);
  if (kind < 31) return decision(pick);
  if (kind < 33) return answer(pick);
  if (kind < 35) return task(pick);
  if (kind < 36) return site(pick);
  if (kind < 37) return clock_that_ends_soon(pick, some_procedure(pick));
  if (kind < 38) return lysis(pick);
  const Instant when = some_time(pick);
  const std::string procedure = some_procedure(pick);
  round(pick, when, procedure);
}

/// The record with only what had happened by `now`: nothing in it comes true later. Times of the procedures stay.
Record known_by(Record r, Instant now) {
  const auto later = [&](const std::optional<Moment>& at) { return at && at->latest > now; };
  std::erase_if(r.access_events, [&](const auto& f) { return later(f.at); });
  std::erase_if(r.administrations, [&](const auto& f) { return later(f.start) || later(f.end); });
  std::erase_if(r.statements, [&](const auto& f) { return later(f.at); });
  std::erase_if(r.home_lists, [&](const auto& f) { return later(f.at); });
  std::erase_if(r.home_drugs, [&](const auto& f) { return later(f.last_dose); });
  std::erase_if(r.decisions, [&](const auto& f) { return later(f.at); });
  std::erase_if(r.measurements, [&](const auto& f) { return later(f.at); });
  std::erase_if(r.checks, [&](const auto& f) { return later(f.at); });
  std::erase_if(r.risks, [&](const auto& f) { return later(f.from) || (f.to && f.to->latest >= now); });
  std::erase_if(r.tasks, [&](const auto& f) { return later(f.changed); });
  return r;
}

Case tell(const Story& story, const Protocol& protocol) {
  Teller teller(protocol);
  if (protocol.early_walk && story.deeds[3][10] % 3 == 1) {   // one of three, or early rows would seldom be reached
    teller.trial_patient(Picks(story.deeds[2]));
  } else {
    teller.patient(Picks(story.deeds[0]));
    teller.index(Picks(story.deeds[1]));
    teller.course(Picks(story.deeds[2]), "Procedure/p1");
  }
  for (std::size_t i = kFixed; i < story.deeds.size(); ++i) teller.further(Picks(story.deeds[i]));
  const Instant now = teller.now(Picks(story.deeds[3]));
  // Most records hold nothing that is still to come.
  const bool ahead = Picks(story.deeds[3]).one_in(5);
  return {ahead ? std::move(teller.record) : known_by(std::move(teller.record), now), now};
}

}  // namespace campaign
