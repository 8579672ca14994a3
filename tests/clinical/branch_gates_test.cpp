// Gates and drugs where the record tells oddly: doses known by their day, values between two, answers to questions that changed meanwhile. Clinical model, "Sheath
// removal: gates" and "Settled points"; half-lives by dose, kidneys and liver: clinical-drugs.md, as the protocol's sources say. Invented cases.
#include <gmock/gmock.h>

#include <algorithm>

#include "clinical/half_life.h"
#include "clinical/history.h"
#include "mutants_gates_support.h"

namespace clinical {
namespace {

std::string code_of(const Bedside& bed, GateName name, Instant now = kNow) {
  const auto gate = bed.gate(name, now);
  return gate ? gate->why.code : "absent";
}

// "Any value on file since the last dose at or over the limit overrides the clock": one from before it says nothing of it.
TEST(HeparinClock, IsOverriddenOnlyByWhatWasDrawnSinceTheDose) {
  const auto clock = [](const std::function<void(Bedside&)>& change) {
    Bedside bed = ready();
    drop(bed, {Analyte::act});
    bed.state(StatementKind::coagulation_test_unavailable, hm(14, 30));
    change(bed);
    return code_of(bed, GateName::heparin_clock, hm(15, 5)) + " " + code_of(bed, GateName::act, hm(15, 5));
  };
  EXPECT_EQ(clock([](Bedside&) {}), "gate.drug.waiting absent");
  EXPECT_EQ(clock([](Bedside& b) { b.lab(Analyte::act, 300, hm(12, 4)); }), "gate.drug.waiting absent") << "before the dose of 12:05";
  EXPECT_NE(clock([](Bedside& b) { b.lab(Analyte::act, 300, hm(12, 20)); }), "gate.drug.waiting absent");
  EXPECT_EQ(clock([](Bedside& b) { b.lab(Analyte::act, 140, hm(12, 20)); }), "gate.drug.waiting absent") << "under the limit";
}

TEST(ThrombinInhibitorAlone, NoHeparinClock) {
  Bedside bed = ready();
  without_heparin(bed);
  bed.infusion(Agent::bivalirudin, hm(12, 10), hm(13));
  bed.state(StatementKind::coagulation_test_unavailable, hm(14, 30));
  EXPECT_EQ(code_of(bed, GateName::heparin_clock), "absent") << "it stands in for heparin's tests only";
}

// A home drug that only a prescription names, with no last dose, tells of no dose; so nobody asks about a drug without a rule.
TEST(History, ADrugWithoutARuleThatWasOnlyPrescribed) {
  const auto code = [](const std::function<void(HomeDrug&)>& change) {
    Bedside bed = ready();
    change(bed.home(Agent::other_antithrombotic, std::nullopt));
    return code_of(bed, GateName::anticoagulant_history);
  };
  EXPECT_EQ(code([](HomeDrug&) {}), "gate.anticoagulant-history.no-rule-home");
  EXPECT_EQ(code([](HomeDrug& d) { d.told_by_request = true; }), "gate.anticoagulant-history.given");
  EXPECT_EQ(code([](HomeDrug& d) { d.taken = false; }), "gate.anticoagulant-history.given");
  EXPECT_EQ(code([](HomeDrug& d) { d.recorded = exactly(hm(16)); }), "gate.anticoagulant-history.given") << "written down later than now";
}

// A dose that may have come after the sheath was out is no word on what was given for the procedure; it lengthens all the same.
TEST(History, ADoseThatMayHaveComeAfterThePull) {
  Bedside bed = bare();
  bed.site().sheath_out = hm(15);
  bed.site().sheath_known_in = false;
  const auto doses = [&](Instant from, Instant until) {
    Bedside one = bed;
    auto& dose = one.bolus(Agent::heparin, until);
    dose.start = dose.end = Moment{from, until};
    const Clock clock(hm(18));
    const auto found = procedural_doses(SiteEvidence(one.facts, one.facts.sites.front(), cautious(), clock));
    return found.empty() ? std::string("none") : found.front().tells ? "tells" : "lengthens";
  };
  EXPECT_EQ(doses(hm(14), hm(15)), "tells");
  EXPECT_EQ(doses(hm(14), hm(16)), "lengthens");
  EXPECT_EQ(doses(hm(15, 0, 1), hm(16)), "none");
}

// "Or one whose hold had not run out at sheath out": of the sheath that is out the pull decides, of one that is still in the present does.
TEST(ProceduralAnticoagulant, AHoldThatRanAtThePull) {
  const auto known = [](Instant dose, std::optional<Instant> out, Instant now) {
    Bedside bed = ready();
    without_heparin(bed);
    bed.state(StatementKind::no_anticoagulant_given, hm(13));
    auto& lmwh = bed.bolus(Agent::enoxaparin, dose);
    lmwh.route = Route::subcutaneous;
    if (out) bed.site().sheath_out = *out, bed.site().sheath_known_in = false;
    return procedural_anticoagulant(bed.facts, bed.facts.sites.front(), cautious(), Clock(now));
  };
  // 5:00 is before the look-back of 6 h; under the skin 8 h: until 13:00 (and the home question is answered by that administration).
  EXPECT_EQ(known(hm(5), hm(12, 59), hm(16)), Tristate::yes);
  EXPECT_EQ(known(hm(5), hm(13), hm(16)), Tristate::no);
  EXPECT_EQ(known(hm(5), {}, hm(12, 59)), Tristate::yes);
  EXPECT_EQ(known(hm(5), {}, hm(16)), Tristate::no);
  EXPECT_EQ(known(hm(5), hm(15), hm(12, 59)), Tristate::yes) << "the pull is still to come: now counts";
}

SiteCheck about_no_groin(const SiteCheck& check) {
  SiteCheck other;
  other.source = check.source;
  other.at = check.at;
  return other;
}

TEST(SiteStatus, ACheckWithoutASizeOrWithoutAGroin) {
  const auto code = [](const std::function<void(SiteCheck&)>& change, Instant at = hm(15, 3)) {
    Bedside bed = ready();
    change(bed.check(at));
    return code_of(bed, GateName::site_status);
  };
  EXPECT_EQ(code([](SiteCheck& c) { c.swelling.reset(); }), "gate.site-status.incomplete") << "the complete one of 15:00 does not stand in for it";
  EXPECT_EQ(code([](SiteCheck& c) { c.swelling.reset(), c.foot_pulse = FootPulse::weaker; }), "gate.site-status.pulse-weaker");
  EXPECT_EQ(code([](SiteCheck& c) { c = about_no_groin(c), c.dizziness = true; }), "gate.site-status.open-flat") << "it says nothing of the groin";
  Bedside none = ready();
  auto& only = none.facts.sites.front().checks.front();
  only.swelling.reset();
  EXPECT_EQ(code_of(none, GateName::site_status), "gate.site-status.incomplete");
  only = about_no_groin(only);
  only.voided = true;
  EXPECT_EQ(code_of(none, GateName::site_status), "gate.site-status.none");
}

// Before the case has begun nothing can have been open for its sake; the look back ends where facts begin to count.
TEST(Since, BeforeTheStart) {
  Bedside bed = ready();
  bed.facts.start = hm(16);
  const auto gates = bed.gates(hm(15, 5));
  for (const auto& gate : gates) EXPECT_TRUE(gate.state != GateState::open || !gate.since || *gate.since <= hm(15, 5)) << name_of(gate.name);
}

// An anti-Xa known by its day, without a value, may be the newest: the level under the limit of before it opens nothing.
TEST(AntiXaLevel, OneWithoutAValueThatMayBeTheNewest) {
  Protocol p = cautious();
  p.anti_xa_limit = Setting{kMicro / 2, SettingUnit::unit_per_millilitre, {"gate.low-molecular-weight-heparin.anti-xa", "invented for the test", "P", "OWN", "2026-11-27"}};
  p.fresh_anti_xa = Setting{whole(60), SettingUnit::minute, {"fresh.anti-xa", "invented for the test", "P", "OWN", "2026-11-27"}};
  const auto state = [&](const std::function<void(Bedside&)>& change) {
    Bedside bed = ready();
    drop(bed, {Analyte::creatinine});
    bed.bolus(Agent::enoxaparin, hm(4), 80, DoseUnit::milligram).route = Route::subcutaneous;
    bed.lab(Analyte::anti_xa, 0.1, hm(14, 50));
    change(bed);
    const Clock clock(kNow);
    const auto gates = gates_at(bed.facts, bed.facts.sites.front(), p, clock);
    return std::ranges::find(gates, GateName::low_molecular_weight_heparin, &Gate::name)->state;
  };
  EXPECT_EQ(state([](Bedside&) {}), GateState::open);
  EXPECT_EQ(state([](Bedside& b) { b.no_value(Analyte::anti_xa, hm(15)).at = Moment{hm(3), hm(15)}; }), GateState::ask);
  EXPECT_EQ(state([](Bedside& b) { b.lab(Analyte::anti_xa, 0.2, hm(15)).at = Moment{hm(3), hm(15)}; }), GateState::open) << "good anyway, and perhaps older than the dose";
  EXPECT_EQ(state([](Bedside& b) { b.no_value(Analyte::anti_xa, hm(3)).at = Moment{hm(2), hm(3)}; }), GateState::open) << "surely older than the dose";
}

// An answer holds for the question as it was: not once it has become a closed gate, nor another question without a number.
TEST(Decisions, AreVoidOnceTheGateWasWorse) {
  const auto pressure = [](const std::function<void(Bedside&)>& change) {
    Bedside bed = ready();
    bed.facts.measurements.erase(std::remove_if(bed.facts.measurements.begin(), bed.facts.measurements.end(), [](const Measurement& m) { return m.analyte == Analyte::systolic || m.analyte == Analyte::diastolic; }),
                                 bed.facts.measurements.end());
    bed.pressure(152, 70, hm(14, 40));
    bed.decide(GateName::blood_pressure, "152", hm(14, 45));
    change(bed);
    return bed.state_of(GateName::blood_pressure, hm(14, 55));
  };
  EXPECT_EQ(pressure([](Bedside&) {}), GateState::open);
  EXPECT_EQ(pressure([](Bedside& b) { b.pressure(151, 70, hm(14, 54)); }), GateState::open);
  EXPECT_EQ(pressure([](Bedside& b) { b.pressure(85, 70, hm(14, 47)), b.pressure(151, 70, hm(14, 54)); }), GateState::ask) << "it was closed in between";
  const auto graft = [](const std::function<void(Bedside&)>& change) {
    Bedside bed = ready();
    bed.risk(RiskKind::graft).side = Side::right;
    bed.decide(GateName::access, "", hm(14, 45));
    change(bed);
    return bed.state_of(GateName::access, hm(15, 5));
  };
  EXPECT_EQ(graft([](Bedside&) {}), GateState::open) << "the same question, without a value";
  EXPECT_EQ(graft([](Bedside& b) { b.facts.risks[0].to = exactly(hm(15)), b.risk(RiskKind::graft).from = exactly(hm(14, 50)); }), GateState::ask) << "another graft, whose side nobody told";
}

// With no projection, and with one that wants no draw, the next draw is the one before the clock ends.
TEST(Removal, TheDrawBeforeTheLastClock) {
  Bedside bed = ready();
  without_heparin(bed);
  bed.infusion(Agent::bivalirudin, hm(13), hm(14));
  bed.facts.sites.front().checks.front().at = exactly(hm(15));
  EXPECT_EQ(say(bed.removal(kNow).why), "removal.not-before-fresh{at=16:00 draw=15:45}") << "2 h after the stop, when no check and no pressure is fresh any more";
  Bedside two = ready();
  two.infusion(Agent::bivalirudin, hm(13), hm(14));
  EXPECT_TRUE(say(two.removal(kNow).why).starts_with("removal.not-before-fresh{at=16:00 draw=")) << "beside heparin whose ACT is under the limit";
}

// Each drug has its half-life, or none is shown: by dose (heparin), kidneys, liver (clinical-drugs.md, section 2).
TEST(HalfLife, OfEveryDrug) {
  const auto length = [](Agent agent, const std::function<void(Bedside&)>& change = [](Bedside&) {}) {
    Bedside bed = ready();
    change(bed);
    const Clock clock(kNow);
    const auto found = half_life_of(Evidence(bed.facts, cautious(), clock), agent, {});
    return found ? found->length : seconds{0};
  };
  const Protocol& p = cautious();
  EXPECT_EQ(length(Agent::heparin), seconds{0}) << "its dose is not known";
  EXPECT_EQ(length(Agent::enoxaparin), p.enoxaparin_half_life.span());
  EXPECT_EQ(length(Agent::dalteparin), p.dalteparin_half_life.span());
  EXPECT_EQ(length(Agent::dalteparin, [](Bedside& b) { b.risk(RiskKind::dialysis); }), p.dalteparin_half_life_dialysis.span());
  EXPECT_EQ(length(Agent::tinzaparin), seconds{0});
  EXPECT_EQ(length(Agent::fondaparinux), p.fondaparinux_half_life.span()) << "80.2 mL/min";
  EXPECT_EQ(length(Agent::bivalirudin), p.bivalirudin_half_life.span());
  EXPECT_EQ(length(Agent::bivalirudin, [](Bedside& b) { b.risk(RiskKind::dialysis); }), p.bivalirudin_half_life_dialysis.span());
  EXPECT_EQ(length(Agent::argatroban), p.argatroban_half_life.span());
  EXPECT_EQ(length(Agent::argatroban, [](Bedside& b) { b.risk(RiskKind::liver_disease); }), p.argatroban_half_life_liver.span());
  EXPECT_EQ(length(Agent::eptifibatide), p.eptifibatide_half_life.span());
  EXPECT_EQ(length(Agent::tirofiban), p.tirofiban_half_life.span());
  EXPECT_EQ(length(Agent::abciximab), seconds{0});
  EXPECT_EQ(length(Agent::cangrelor), p.cangrelor_half_life.span());
  EXPECT_EQ(length(Agent::apixaban), p.apixaban_half_life.span());
  EXPECT_EQ(length(Agent::rivaroxaban), p.rivaroxaban_half_life.span());
  EXPECT_EQ(length(Agent::edoxaban), p.edoxaban_half_life.span());
  EXPECT_EQ(length(Agent::dabigatran), p.dabigatran_half_life_over_80.span());
  EXPECT_EQ(length(Agent::warfarin), p.warfarin_half_life.span());
  EXPECT_EQ(length(Agent::alteplase), p.alteplase_half_life.span());
  EXPECT_EQ(length(Agent::tenecteplase), p.tenecteplase_half_life.span());
  EXPECT_EQ(length(Agent::reteplase), p.reteplase_half_life.span());
  EXPECT_EQ(length(Agent::aspirin), seconds{0});
}

// An ACT under 100 s lies outside what the curve is for (model, "Projection of the ACT"), and one of an unknown analyser is on no curve.
TEST(Projection, AnActUnderTheRange) {
  const auto computed = [](double later) {
    Chart chart = intervention_chart(6);
    chart.lab(Analyte::act, 290, hm(13));
    chart.lab(Analyte::act, later, hm(13, 40));
    return chart.plan(hm(13, 45)).sites[0].projection->computed;
  };
  EXPECT_TRUE(computed(200));
  EXPECT_FALSE(computed(99));
}

// A nil list that speaks of a time ahead contradicts nothing yet.
TEST(StatementBesideADrug, ANilListOfLater) {
  const auto conflicts = [](Instant at) {
    Chart chart = plain_chart(6);
    std::erase_if(chart.record.statements, [](const Statement& s) { return s.kind == StatementKind::no_home_anticoagulant; });
    HomeDrug d;
    d.source = chart.source();
    d.agent = Agent::apixaban;
    d.last_dose = exactly(hm(-100));
    chart.record.home_drugs.push_back(d);
    chart.record.home_lists.push_back({chart.source(), true, exactly(at)});
    return chart.plan(hm(14)).conflicts.size();
  };
  EXPECT_EQ(conflicts(hm(13)), 1U);
  EXPECT_EQ(conflicts(hm(14, 1)), 0U);
}

}  // namespace
}  // namespace clinical
