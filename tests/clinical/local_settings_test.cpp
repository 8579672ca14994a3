// What only the local team can set: a limit of the anti-Xa level, and pressures of a compression device. Figures here are invented for the test.
#include <gmock/gmock.h>

#include <algorithm>

#include "course_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

Setting set_to(std::int64_t number, SettingUnit unit, const char* key) {
  return {whole(number), unit, {key, "invented for the test", "P", "OWN", "2026-11-27"}};
}
Protocol with_anti_xa() {
  Protocol p = cautious();
  p.anti_xa_limit = Setting{kMicro / 2, SettingUnit::unit_per_millilitre, {"gate.low-molecular-weight-heparin.anti-xa", "invented for the test", "P", "OWN", "2026-11-27"}};
  p.fresh_anti_xa = set_to(60, SettingUnit::minute, "fresh.anti-xa");
  return p;
}
Gate lmwh(const Bedside& bed, const Protocol& p, Instant now) {
  const Clock clock(now);
  for (auto& gate : gates_at(bed.facts, bed.facts.sites.front(), p, clock))
    if (gate.name == GateName::low_molecular_weight_heparin) return gate;
  ADD_FAILURE() << "no gate";
  return {};
}
/// Enoxaparin at 4:00 under the skin, clearance unknown: 8 h until 12:00, and never by the clock alone.
Bedside dosed() {
  Bedside bed = ready();
  bed.bolus(Agent::enoxaparin, hm(4), 80, DoseUnit::milligram).route = Route::subcutaneous;
  std::erase_if(bed.facts.measurements, [](const Measurement& m) { return m.analyte == Analyte::creatinine; });
  return bed;
}

TEST(AntiXa, WithoutALimitOpensNothingAndIsNotAskedFor) {
  auto bed = dosed();
  bed.lab(Analyte::anti_xa, 0.1, hm(14, 50));
  const auto gate = lmwh(bed, cautious(), hm(15, 5));
  EXPECT_EQ(gate.state, GateState::ask);
  EXPECT_THAT(gate.needs, testing::Not(testing::Contains(Fact::anti_xa)));
}

TEST(AntiXa, UnderTheLimitOpensAfterTheClock) {
  const auto p = with_anti_xa();
  auto bed = dosed();
  EXPECT_EQ(lmwh(bed, p, hm(15, 5)).state, GateState::ask);
  EXPECT_THAT(lmwh(bed, p, hm(15, 5)).needs, testing::Contains(Fact::anti_xa));
  bed.lab(Analyte::anti_xa, 0.49, hm(14, 50));
  const auto gate = lmwh(bed, p, hm(15, 5));
  EXPECT_EQ(gate.state, GateState::open);
  EXPECT_EQ(gate.expires_at, hm(15, 50));
  EXPECT_EQ(gate.rule, "gate.low-molecular-weight-heparin.anti-xa");
  EXPECT_EQ(lmwh(bed, p, hm(15, 50, 1)).state, GateState::ask) << "no longer fresh";
  auto early = ready();
  early.bolus(Agent::enoxaparin, hm(10), 80, DoseUnit::milligram).route = Route::subcutaneous;
  std::erase_if(early.facts.measurements, [](const Measurement& m) { return m.analyte == Analyte::creatinine; });
  early.lab(Analyte::anti_xa, 0.1, hm(14, 50));
  EXPECT_EQ(lmwh(early, p, hm(15, 5)).state, GateState::ask) << "8 h end at 18:00";
}

TEST(AntiXa, AtOrOverTheLimitClosesWhateverTheKidneys) {
  const auto p = with_anti_xa();
  auto bed = dosed();
  bed.lab(Analyte::anti_xa, 0.5, hm(14, 50));
  const auto gate = lmwh(bed, p, hm(15, 5));
  EXPECT_EQ(gate.state, GateState::closed);
  EXPECT_FALSE(gate.opens_at) << "the clock opens nothing against a value";
  EXPECT_THAT(gate.needs, testing::Contains(Fact::anti_xa));
  auto well = ready();
  well.bolus(Agent::enoxaparin, hm(4), 80, DoseUnit::milligram).route = Route::subcutaneous;
  for (const auto& [analyte, value] : {std::pair{Analyte::creatinine, 0.9}, {Analyte::weight, 80.0}, {Analyte::height, 178.0}}) well.lab(analyte, value, hm(10));
  well.facts.patient.birth = exactly(std::chrono::sys_days{std::chrono::year{1966} / 5 / 1});
  well.facts.patient.sex = Sex::male;
  EXPECT_EQ(lmwh(well, p, hm(15, 5)).state, GateState::open) << "by the clock";
  well.lab(Analyte::anti_xa, 0.6, hm(14, 50));
  EXPECT_EQ(lmwh(well, p, hm(15, 5)).state, GateState::closed);
}

// clinical-drugs 2.23: commercial anti-Xa levels are not valid after andexanet alfa (label).
TEST(AntiXa, OpensNothingAfterAndexanetAndNothingFromBeforeTheDose) {
  const auto p = with_anti_xa();
  auto bed = dosed();
  bed.lab(Analyte::anti_xa, 0.1, hm(14, 50));
  bed.bolus(Agent::andexanet_alfa, hm(13), 400, DoseUnit::milligram);
  EXPECT_EQ(lmwh(bed, p, hm(15, 5)).state, GateState::ask);
  auto before = dosed();
  before.lab(Analyte::anti_xa, 0.1, hm(3, 30));
  EXPECT_EQ(lmwh(before, p, hm(15, 5)).state, GateState::ask);
  auto no_value = dosed();
  no_value.lab(Analyte::anti_xa, 0.1, hm(14, 50));
  no_value.no_value(Analyte::anti_xa, hm(14, 55));
  EXPECT_EQ(lmwh(no_value, p, hm(15, 5)).state, GateState::ask);
  auto above = dosed();
  above.lab(Analyte::anti_xa, compared(Comparator::less, 1, "[iU]/mL"), hm(14, 50));
  EXPECT_EQ(lmwh(above, p, hm(15, 5)).state, GateState::ask) << "under 1 may be over 0.5";
}

TEST(AntiXa, ALimitWithoutAFreshnessClosesAndOpensNothing) {
  auto p = with_anti_xa();
  p.fresh_anti_xa.reset();
  auto bed = dosed();
  EXPECT_THAT(lmwh(bed, p, hm(15, 5)).needs, testing::Not(testing::Contains(Fact::anti_xa)));
  bed.lab(Analyte::anti_xa, 0.1, hm(14, 50));
  EXPECT_EQ(lmwh(bed, p, hm(15, 5)).state, GateState::ask);
  bed.lab(Analyte::anti_xa, 0.9, hm(14, 55));
  EXPECT_EQ(lmwh(bed, p, hm(15, 5)).state, GateState::closed);
}

// Drawn some time that day: a bad one may be the newest, a good one may be from before the dose.
TEST(AntiXa, KnownByItsDayCountsOnlyAgainst) {
  const auto p = with_anti_xa();
  for (const auto& [level, state] : {std::pair{0.9, GateState::closed}, {0.1, GateState::ask}}) {
    auto bed = dosed();
    bed.lab(Analyte::anti_xa, level, hm(14)).at = Moment{hm(0), hm(15)};
    EXPECT_EQ(lmwh(bed, p, hm(15, 5)).state, state) << level;
  }
  auto unknown = dosed();
  unknown.lab(Analyte::anti_xa, 0.1, hm(14, 50));
  unknown.no_value(Analyte::anti_xa, hm(14)).at = Moment{hm(0), hm(15)};
  EXPECT_EQ(lmwh(unknown, p, hm(15, 5)).state, GateState::ask);
}

TEST(AntiXa, WhileTheDoseTimeIsNotKnownTellsNothing) {
  const auto p = with_anti_xa();
  auto bed = dosed();
  bed.facts.administrations.back().start.reset();
  bed.facts.administrations.back().end.reset();
  bed.lab(Analyte::anti_xa, 0.9, hm(14, 50));
  EXPECT_EQ(lmwh(bed, p, hm(15, 5)).state, GateState::needs);
}

Chart clamped() {
  Chart chart = plain_chart(6, Closure::mechanical);
  pull_at(chart, hm(14));
  return chart;
}
std::string said(const CasePlan& plan, Step s) {
  const auto& why = step(plan, s).why;
  return why ? why->code : "";
}
std::string pressure_of(const CasePlan& plan, Step s) {
  const auto& why = step(plan, s).why;
  if (!why || why->code != "hold.pressure-set") return why ? why->code : "";
  return std::get<Value>(why->arguments.front().second).written;
}

TEST(Pressures, NotSetIsTheOperators) {
  const auto plan = clamped().plan(hm(14, 1));
  for (const Step s : {Step::firm_compression, Step::partial_compression, Step::reduce_pressure, Step::low_pressure_hold}) EXPECT_EQ(said(plan, s), "hold.pressure-by-operator");
}

TEST(Pressures, SetByTheProtocolAreReckonedFromAFreshReading) {
  Protocol p = cautious();
  p.pressure_full = set_to(20, SettingUnit::mmhg, "hold.mechanical.full-above-systolic");
  p.pressure_partial = set_to(0, SettingUnit::mmhg, "hold.mechanical.partial-above-mean");
  p.pressure_low = set_to(40, SettingUnit::mmhg, "hold.mechanical.low-pressure");
  auto chart = clamped();   // systolic 128 at 13:55
  auto plan = chart.plan(hm(14, 1), p);
  EXPECT_THAT(pressure_of(plan, Step::firm_compression), testing::HasSubstr("148"));
  EXPECT_EQ(pressure_of(plan, Step::partial_compression), "hold.pressure-needs-mean");
  EXPECT_EQ(pressure_of(plan, Step::reduce_pressure), "hold.pressure-by-operator");
  EXPECT_THAT(pressure_of(plan, Step::low_pressure_hold), testing::HasSubstr("40"));
  EXPECT_EQ(step(plan, Step::firm_compression).basis.back().rule, "hold.mechanical.full-above-systolic");
  chart.lab(Analyte::mean_pressure, 95, hm(13, 55));
  EXPECT_THAT(pressure_of(chart.plan(hm(14, 1), p), Step::partial_compression), testing::HasSubstr("95"));
  EXPECT_EQ(pressure_of(chart.plan(hm(14, 11), p), Step::partial_compression), "hold.pressure-needs-mean") << "no longer fresh";
  EXPECT_EQ(pressure_of(chart.plan(hm(14, 11), p), Step::firm_compression), "hold.pressure-needs-systolic");
  p.pressure_partial = set_to(40, SettingUnit::mmhg, "hold.mechanical.partial-above-mean");
  EXPECT_EQ(pressure_of(chart.plan(hm(14, 1), p), Step::partial_compression), "hold.pressure-by-operator") << "135 would take the foot its pulse";
}

TEST(Pressures, OfTwoReadingsOfOneInstantTheHigherAndOfAnOpenOneNone) {
  Protocol p = cautious();
  p.pressure_full = set_to(10, SettingUnit::mmhg, "hold.mechanical.full-above-systolic");
  auto chart = clamped();
  chart.lab(Analyte::systolic, 140, hm(14));
  chart.lab(Analyte::systolic, 132, hm(14));
  chart.lab(Analyte::systolic, 120, hm(13, 58));
  EXPECT_THAT(pressure_of(chart.plan(hm(14, 1), p), Step::firm_compression), testing::HasSubstr("150"));
  chart.lab(Analyte::systolic, 0, hm(14, 1)).value = compared(Comparator::greater, 200, "mm[Hg]");
  EXPECT_EQ(pressure_of(chart.plan(hm(14, 1), p), Step::firm_compression), "hold.pressure-needs-systolic");
  EXPECT_EQ(pressure_of(chart.plan(hm(14, 1), p), Step::low_pressure_hold), "hold.pressure-by-operator");
}

// Pressed again by the device after a rebleed that nobody is seen to press: the start is asked for before any pressure is said.
TEST(Pressures, BeforeTheStartIsRecordedTheStartIsAskedFor) {
  auto chart = clamped();
  chart.event(compression_ended, hm(16));
  chart.event(haemostasis_confirmed, hm(16));
  chart.event(rebleed, hm(17));
  EXPECT_EQ(said(chart.plan(hm(17, 1)), Step::firm_compression), "hold.start-unknown");
}

TEST(Pressures, ByHandHaveNone) {
  auto chart = plain_chart(6);
  pull_at(chart, hm(14));
  EXPECT_EQ(said(chart.plan(hm(14, 1)), Step::firm_compression), "");
}

const Missing* lacks(const CasePlan& plan, Fact fact) {
  for (const auto& m : plan.missing)
    if (m.fact == fact) return &m;
  return nullptr;
}

// Table D of the aftercare notes, task 19: void by 6-8 h, common practice. Counted from the end of the procedure as the alert is.
TEST(Voiding, NotRecordedIsSaid) {
  auto chart = plain_chart(6);
  pull_at(chart, hm(14));
  chart.event(haemostasis_confirmed, hm(14, 25));
  const auto said = [](const Chart& c, Instant now) {
    const auto plan = c.plan(now);
    return std::ranges::find(plan.cautions, "caution.voiding-not-recorded", &Reason::code) != plan.cautions.end();
  };
  EXPECT_FALSE(said(chart, hm(18, 59, 59)));
  EXPECT_TRUE(said(chart, hm(19)));
  EXPECT_LE(*chart.plan(hm(18, 59)).next_change, hm(19));
  for (const bool passed : {true, false}) {
    auto told = chart;
    told.check(hm(18)).voided = passed;
    EXPECT_FALSE(said(told, hm(19))) << "not yet is an alert";
  }
  auto scanned = chart;
  scanned.check(hm(18)).bladder = amount(120, "mL");
  EXPECT_FALSE(said(scanned, hm(19)));
}

// A finding about the patient alone says nothing of the groin, and takes nothing away from the look before it.
TEST(Voiding, RecordedAloneIsNoLookAtTheGroin) {
  auto chart = plain_chart(6);
  pull_at(chart, hm(14));
  chart.event(haemostasis_confirmed, hm(14, 25));
  for (int minute = 40; minute <= 6 * 60 + 25; minute += 15) {
    chart.check(hm(14) + minutes{minute});
    chart.pressure(124, hm(14) + minutes{minute});
  }
  const Instant now = hm(20, 26);
  ASSERT_EQ(step(chart.plan(now), Step::stand_and_walk).status, StepStatus::due);
  auto& urine = chart.check(hm(20, 25, 30));
  urine = SiteCheck{};
  urine.source = {"Observation/urine", "1", false};
  urine.at = exactly(hm(20, 25, 30));
  urine.voided = true;
  EXPECT_EQ(step(chart.plan(now), Step::stand_and_walk).status, StepStatus::due);
  urine.foot_pulse = FootPulse::as_baseline;
  EXPECT_EQ(step(chart.plan(now), Step::stand_and_walk).status, StepStatus::blocked) << "an incomplete look is never fresh";
}

TEST(Voiding, RecordedAloneEndsNoAlert) {
  auto chart = plain_chart(6);
  pull_at(chart, hm(14));
  chart.event(haemostasis_confirmed, hm(14, 25));
  chart.check(hm(15)).back_pain = true;
  chart.pressure(85, hm(15));
  const auto alarmed = [&](Instant now) {
    const auto plan = chart.plan(now);
    return std::ranges::find(plan.alerts, "retroperitoneal-bleed", &Alert::trigger) != plan.alerts.end();
  };
  ASSERT_TRUE(alarmed(hm(15, 10)));
  for (const int minute : {2, 4}) {
    SiteCheck urine;
    urine.source = {"Observation/urine-" + std::to_string(minute), "1", false};
    urine.at = exactly(hm(15, minute));
    urine.voided = true;
    chart.record.checks.push_back(urine);
  }
  EXPECT_TRUE(alarmed(hm(15, 10)));
  const auto plan = chart.plan(hm(15, 10));
  ASSERT_TRUE(plan.sites.front().last_check);
  EXPECT_EQ(plan.sites.front().last_check->at->latest, hm(15)) << "the last look at the groin";
  chart.pressure(120, hm(15, 20));
  chart.lab(Analyte::heart_rate, 80, hm(15, 20));
  chart.check(hm(15, 20));
  chart.check(hm(15, 25));
  EXPECT_FALSE(alarmed(hm(15, 26)));
}

// Table D, tasks 23 to 25: the pressure sitting, then standing, the first time up.
TEST(FirstTimeUp, ThePressureIsAskedForInEachPosition) {
  auto chart = plain_chart(6);
  pull_at(chart, hm(14));
  chart.event(haemostasis_confirmed, hm(14, 25));
  chart.check(hm(20));
  chart.pressure(124, hm(20));
  chart.done(Step::sit_up, hm(20, 1));
  auto plan = chart.plan(hm(20, 5));
  ASSERT_TRUE(lacks(plan, Fact::blood_pressure));
  EXPECT_EQ(lacks(plan, Fact::blood_pressure)->about, "pressure-sitting");
  chart.pressure(120, hm(20, 6));
  EXPECT_FALSE(lacks(chart.plan(hm(20, 7)), Fact::blood_pressure));
  chart.done(Step::stand_and_walk, hm(20, 30));
  plan = chart.plan(hm(20, 31));
  ASSERT_TRUE(lacks(plan, Fact::blood_pressure));
  EXPECT_EQ(lacks(plan, Fact::blood_pressure)->about, "pressure-standing");
  auto gone = chart;
  gone.done(Step::discharge_check, hm(21, 30));
  EXPECT_FALSE(lacks(gone.plan(hm(21, 31)), Fact::blood_pressure)) << "nobody is there to be measured";
  auto stale = chart;
  std::erase_if(stale.record.tasks, [](const TaskFact& t) { return t.step == name_of(Step::stand_and_walk); });
  std::erase_if(stale.record.measurements, [](const Measurement& m) { return m.at->latest > hm(20); });
  const auto later = stale.plan(hm(20, 28));
  ASSERT_TRUE(lacks(later, Fact::blood_pressure));
}

TEST(SlowPulse, WithSymptomsIsUrgent) {
  const auto level = [](std::optional<bool> dizzy, double rate) {
    auto chart = plain_chart(6);
    pull_at(chart, hm(14));
    chart.lab(Analyte::heart_rate, rate, hm(14, 20));
    chart.check(hm(14, 22)).dizziness = dizzy;
    const auto plan = chart.plan(hm(14, 25));
    const auto found = std::ranges::find(plan.alerts, "heart-rate", &Alert::trigger);
    return found == plan.alerts.end() ? std::nullopt : std::optional(found->level);
  };
  EXPECT_EQ(level(true, 49), AlertLevel::urgent);
  EXPECT_EQ(level(false, 49), std::nullopt);
  EXPECT_EQ(level(std::nullopt, 49), std::nullopt);
  EXPECT_EQ(level(true, 50), std::nullopt);
  EXPECT_EQ(level(true, 39), AlertLevel::emergency);
  auto pain = plain_chart(6);
  pull_at(pain, hm(14));
  pain.lab(Analyte::heart_rate, 45, hm(14, 20));
  pain.check(hm(14, 36)).chest_pain = true;
  const auto slow = [&](Instant now) {
    const auto plan = pain.plan(now);
    return std::ranges::find(plan.alerts, "heart-rate", &Alert::trigger) != plan.alerts.end();
  };
  EXPECT_FALSE(slow(hm(14, 37))) << "16 min later is not at about the same time";
  pain.check(hm(14, 35)).chest_pain = true;
  EXPECT_TRUE(slow(hm(14, 37)));
}

}  // namespace
}  // namespace clinical
