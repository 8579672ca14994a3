// What the longer campaigns found, each as the smallest record that showed it.
#include <algorithm>

#include "course_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

const Gate* gate(const CasePlan& plan, GateName name) {
  const auto& gates = plan.sites.front().gates;
  const auto found = std::ranges::find(gates, name, &Gate::name);
  return found == gates.end() ? nullptr : &*found;
}
const Alert* alert(const CasePlan& plan, std::string_view trigger) {
  const auto found = std::ranges::find(plan.alerts, trigger, &Alert::trigger);
  return found == plan.alerts.end() ? nullptr : &*found;
}
bool kept_rest(const Chart& chart, Instant now, minutes rest) { return step(chart.plan(now), Step::stand_and_walk).after_t0 == rest; }

/// Nobody recorded how it was closed: by hand, "and may be mechanical for T0" (clinical model, unknown class (b)).
Chart unknown_method(Closure known = Closure::unknown) {
  auto chart = plain_chart(6);
  chart.index().closures.clear();
  if (known != Closure::unknown) chart.index().closures.push_back({known, chart.source()});
  pull_at(chart, hm(14));
  chart.event(haemostasis_confirmed, hm(14, 20));
  return chart;
}

// By hand a second start after the haemostasis is a rebleed (+ 2 h); by a device T0 is the end of the compression. Unknown takes the later of both:
// clinical model, law 3 ("covers (a)-(c)") and "T0, rest, sitting, walking".
TEST(FoundAgain, PressedAgainAfterHaemostasisUnderAnUnknownMethodIsARebleed) {
  for (const auto method : {Closure::unknown, Closure::manual, Closure::mechanical}) {
    auto chart = unknown_method(method);
    EXPECT_EQ(chart.plan(hm(14, 25)).sites.front().t0.has_value(), method == Closure::manual) << "a device may still be on";
    chart.event(compression_started, hm(14, 40));
    chart.event(haemostasis_confirmed, hm(15));
    chart.event(compression_ended, hm(15, 5));
    const auto plan = chart.plan(hm(15, 10));
    EXPECT_EQ(plan.sites.front().t0, hm(15, 5));
    EXPECT_EQ(plan.sites.front().rebleeds.size(), method == Closure::mechanical ? 0U : 1U);
    EXPECT_TRUE(kept_rest(chart, hm(15, 10), method == Closure::mechanical ? hours{6} : hours{8}));
  }
}

// "Rebleed: full hold again, not shorter than the first".
TEST(FoundAgain, ThatRebleedIsPressedNoShorterThanTheFirstTime) {
  auto chart = unknown_method();
  chart.record.access_events.back().at = exactly(hm(14, 41));
  chart.event(compression_started, hm(15));
  EXPECT_EQ(step(chart.plan(hm(15, 1)), Step::end_compression).planned, minutes{41});
}

// "5 cm or growing: T0 void until a new haemostasis."
TEST(FoundAgain, ASwellingThatGrowsAfterThatHaemostasisAsksForANewOne) {
  for (const bool grows : {false, true}) {
    auto chart = unknown_method();
    chart.check(hm(14, 30)).growth = grows;
    chart.event(compression_ended, hm(14, 40));
    EXPECT_EQ(chart.plan(hm(14, 45)).sites.front().t0.has_value(), !grows);
    chart.event(haemostasis_confirmed, hm(14, 50));
    EXPECT_EQ(chart.plan(hm(14, 55)).sites.front().t0, grows ? hm(14, 50) : hm(14, 50));
    EXPECT_TRUE(kept_rest(chart, hm(14, 55), grows ? hours{8} : hours{6}));
  }
}

// "T0 before sheath-out: conflicts ... the milestones that depend on them are withheld." By hand it would be one, so under an unknown method it is.
TEST(FoundAgain, DryBeforeTheSheathCameOutIsAConflictUnderAnUnknownMethodToo) {
  for (const auto method : {Closure::unknown, Closure::manual, Closure::mechanical}) {
    auto chart = unknown_method(method);
    chart.record.access_events.clear();
    chart.event(compression_started, hm(13, 50));
    chart.event(haemostasis_confirmed, hm(14));
    chart.event(sheath_removed, hm(14, 10));
    chart.event(compression_ended, hm(14, 30));
    const auto plan = chart.plan(hm(14, 40));
    const bool disputed = std::ranges::any_of(plan.conflicts, [](const Conflict& c) { return c.about == "t0-before-sheath-out"; });
    EXPECT_EQ(disputed, method != Closure::mechanical);
    EXPECT_EQ(plan.sites.front().t0.has_value(), method == Closure::mechanical);
  }
}

// "Haemoglobin newer than any bleeding sign" (freshness): a growing swelling at a check that names none of two punctures is one of them. That the second
// puncture is recorded later must not open the gate.
TEST(FoundAgain, AGrowingSwellingAtNobodyKnowsWhichPunctureIsABleedingSign) {
  auto chart = plain_chart(6);
  chart.procedure("p2", 8).part_of = "Procedure/p1";
  chart.record.procedures.back().sides.front().value = Side::left;
  std::erase_if(chart.record.measurements, [](const Measurement& m) { return m.analyte == Analyte::haemoglobin; });
  chart.lab(Analyte::haemoglobin, 13.5, hm(12, 30));
  EXPECT_EQ(gate(chart.plan(hm(13)), GateName::haemoglobin)->state, GateState::open);
  chart.check(hm(12, 40)).growth = true;
  const auto plan = chart.plan(hm(13));
  EXPECT_EQ(gate(plan, GateName::haemoglobin)->why.code, "gate.haemoglobin.after-bleeding");
  EXPECT_EQ(gate(plan, GateName::haemoglobin)->state, GateState::needs);
  chart.lab(Analyte::haemoglobin, 13.2, hm(12, 50));
  EXPECT_EQ(gate(chart.plan(hm(13)), GateName::haemoglobin)->state, GateState::open) << "drawn after it";
}

// A failure at an unknown time puts T0 in dispute. Whether the swelling at 16:45 voided a T0 (no hours) or there was none (2 h) is not known: the longer.
TEST(FoundAgain, ALargeSwellingUnderDisputedTimesAddsNoLessThanASmallOne) {
  for (const double size : {3.0, 9.0}) {
    auto chart = plain_chart(6);
    pull_at(chart, hm(14));
    chart.event(haemostasis_confirmed, hm(14, 20));
    chart.event(closure_failed, hm(16)).at.reset();
    chart.check(hm(16, 45)).swelling = amount(size, "cm");
    const auto plan = chart.plan(hm(17));
    EXPECT_FALSE(plan.sites.front().t0);
    EXPECT_EQ(step(plan, Step::stand_and_walk).after_t0, hours{8}) << size;
  }
}

// "A platelet fall > 50 % or < 100 within 30 d of heparin raises an alert" (clinical-drugs.md, heparin-induced thrombocytopenia), and "procedural
// anticoagulant unknown = yes": with the record of the dose lost the alert stands, and says that nobody knows.
TEST(FoundAgain, PlateletsThatFallRaiseAnAlertAlsoWhereNobodyKnowsOfHeparin) {
  struct Row {
    double count;
    std::optional<AlertLevel> level;
    const char *heparin, *untold;
  };
  const Row rows[] = {{110, AlertLevel::urgent, "alert.platelet-fall", "alert.platelet-fall-untold"},
                      {111, {}, "", ""},
                      {99, AlertLevel::urgent, "alert.platelet-fall", "alert.platelet-fall-untold"}};
  for (const auto& row : rows) {
    auto chart = intervention_chart(6);
    chart.lab(Analyte::platelets, row.count, hm(13, 30));
    const auto look = [&](const char* code) {
      const auto plan = chart.plan(hm(14));
      const auto* found = alert(plan, "platelet-fall");
      ASSERT_EQ(found != nullptr, row.level.has_value()) << row.count;
      if (!found) return;
      EXPECT_EQ(found->level, *row.level);
      EXPECT_EQ(found->why.code, code);
    };
    look(row.heparin);
    chart.record.administrations.clear();
    look(row.untold);
    chart.state(StatementKind::no_anticoagulant_given, hm(13, 40));
    EXPECT_FALSE(alert(chart.plan(hm(14)), "platelet-fall")) << "known: none was given";
  }
}

// A dose after the pull tells nothing of what was given for the procedure: it must not end the alert of a fall before it.
TEST(FoundAgain, ALaterHeparinDoesNotExplainAnEarlierFallOfThePlatelets) {
  auto chart = plain_chart(6);
  std::erase_if(chart.record.statements, [](const Statement& s) { return s.kind == StatementKind::no_anticoagulant_given; });
  pull_at(chart, hm(15));
  chart.lab(Analyte::platelets, 110, hm(15, 30));
  ASSERT_TRUE(alert(chart.plan(hm(17)), "platelet-fall"));
  chart.bolus(Agent::heparin, 5000, hm(16));
  const auto plan = chart.plan(hm(17));
  ASSERT_TRUE(alert(plan, "platelet-fall"));
  EXPECT_EQ(alert(plan, "platelet-fall")->why.code, "alert.platelet-fall-untold");
  chart.lab(Analyte::platelets, 105, hm(16, 30));
  EXPECT_EQ(alert(chart.plan(hm(17)), "platelet-fall")->why.code, "alert.platelet-fall") << "the last of two as bad ones";
}

// Under 100 from 100 or more is told, by half is urgent (both limits are those of the recorded dose).
TEST(FoundAgain, FewPlateletsAreToldAlsoWhereNobodyKnowsOfHeparin) {
  auto chart = intervention_chart(6);
  std::erase_if(chart.record.measurements, [](const Measurement& m) { return m.analyte == Analyte::platelets; });
  chart.lab(Analyte::platelets, 120, hm(8));
  chart.lab(Analyte::platelets, 99, hm(13, 30));
  ASSERT_TRUE(alert(chart.plan(hm(14)), "platelet-fall"));
  EXPECT_EQ(alert(chart.plan(hm(14)), "platelet-fall")->why.code, "alert.platelets-after-heparin");
  chart.record.administrations.clear();
  const auto plan = chart.plan(hm(14));
  ASSERT_TRUE(alert(plan, "platelet-fall"));
  EXPECT_EQ(alert(plan, "platelet-fall")->level, AlertLevel::tell);
  EXPECT_EQ(alert(plan, "platelet-fall")->why.code, "alert.platelets-untold");
}

// A GP IIb/IIIa inhibitor of 12:34: "platelets drawn 2 h or more after its start" (freshness). A count drawn sooner will not do, and so the gate waits until
// 14:34 also where there is no count, or none with a value: "`expected` = the latest of the known clocks".
TEST(FoundAgain, NoCountSoonAfterAGpInhibitorIsExpectedWhenOneWillDo) {
  for (const int counts : {0, 1, 2}) {
    auto chart = plain_chart(6);
    std::erase_if(chart.record.measurements, [](const Measurement& m) { return m.analyte == Analyte::platelets; });
    auto& given = chart.bolus(Agent::eptifibatide, 0, hm(12, 34));
    given.dose.reset();
    if (counts > 0) chart.lab(Analyte::platelets, 220, hm(13));
    if (counts == 1) chart.record.measurements.back().value.reset();
    const auto plan = chart.plan(hm(14));
    const auto* platelets = gate(plan, GateName::platelets);
    EXPECT_EQ(platelets->state, GateState::needs);
    EXPECT_EQ(platelets->why.code, "gate.platelets.after-inhibitor");
    EXPECT_EQ(platelets->clock_ends, hm(14, 34));
    EXPECT_EQ(step(plan, Step::remove_sheath).expected, hm(14, 34));
    EXPECT_FALSE(step(plan, Step::remove_sheath).earliest);
    const auto later = chart.plan(hm(14, 34));
    platelets = gate(later, GateName::platelets);
    EXPECT_EQ(platelets->why.code, counts == 0 ? "gate.platelets.none" : counts == 1 ? "gate.platelets.no-value" : "gate.platelets.after-inhibitor");
    EXPECT_FALSE(platelets->clock_ends);
    EXPECT_FALSE(step(later, Step::remove_sheath).expected);
  }
}

// "Fractional French: the next whole French": what one source writes as 5.5 F and another as 6 F is one sheath; 5 F and 6 F contradict each other.
TEST(FoundAgain, FiveAndAHalfAndSixFrenchAreOneSheath) {
  for (const Micro other : {whole(5) + 500'000, whole(5)}) {
    auto chart = plain_chart(6);
    chart.index().french.push_back({other, chart.source()});
    const auto plan = chart.plan(hm(13));
    EXPECT_EQ(gate(plan, GateName::access)->state, other == whole(5) ? GateState::needs : GateState::open);
    EXPECT_EQ(plan.conflicts.empty(), other != whole(5));
  }
}

// The laws that a case was allowed to break, with what the model says instead.
TEST(FoundAgain, AnUnknownClearanceTakesTheLongHoldAndARisingCreatinineNoClock) {
  auto chart = plain_chart(6);
  HomeDrug drug;
  drug.source = chart.source();
  drug.agent = Agent::edoxaban;
  drug.last_dose = exactly(hm(12) - hours{94});
  chart.record.home_drugs.push_back(drug);
  std::erase_if(chart.record.statements, [](const Statement& s) { return s.kind == StatementKind::no_home_anticoagulant; });
  const auto state = [&] { return gate(chart.plan(hm(13)), GateName::direct_oral_anticoagulant)->state; };
  EXPECT_EQ(state(), GateState::open) << "48 h";
  std::erase_if(chart.record.measurements, [](const Measurement& m) { return m.analyte == Analyte::creatinine; });
  EXPECT_EQ(state(), GateState::open) << "unknown: the worst row that does not block, 72 h";
  chart.record.home_drugs.back().last_dose = exactly(hm(13) - hours{71});
  EXPECT_EQ(state(), GateState::ask);
  chart.record.home_drugs.back().last_dose = exactly(hm(12) - hours{94});
  chart.lab(Analyte::creatinine, 0.9, hm(8));
  chart.lab(Analyte::creatinine, 1.2, hm(12, 30));
  EXPECT_EQ(state(), GateState::ask) << "unstable: no clock alone";
}

TEST(FoundAgain, AnActEndsTheStatementThatNoneCanBeHad) {
  auto chart = intervention_chart(6);
  std::erase_if(chart.record.measurements, [](const Measurement& m) { return m.analyte == Analyte::act; });
  chart.state(StatementKind::coagulation_test_unavailable, hm(13, 30));
  EXPECT_EQ(gate(chart.plan(hm(18, 5)), GateName::heparin_clock)->state, GateState::open) << "6 h after 12:05";
  chart.lab(Analyte::act, 165, hm(18));
  const auto plan = chart.plan(hm(18, 5));
  EXPECT_FALSE(gate(plan, GateName::heparin_clock));
  EXPECT_EQ(gate(plan, GateName::act)->state, GateState::closed);
}

TEST(FoundAgain, AnAspirinTellsNothingOfTheAnticoagulantsTakenAtHome) {
  for (const bool request : {false, true}) {
    auto chart = plain_chart(6);
    std::erase_if(chart.record.statements, [](const Statement& s) { return s.kind == StatementKind::no_home_anticoagulant; });
    HomeDrug drug;
    drug.source = chart.source();
    drug.agent = Agent::aspirin;
    drug.told_by_request = request;
    drug.last_dose = exactly(hm(5));
    chart.record.home_drugs.push_back(drug);
    EXPECT_EQ(gate(chart.plan(hm(13)), GateName::home_anticoagulants)->state, GateState::needs);
  }
}

// Nobody recorded how it was pressed. By hand the haemostasis of 15:00 was a T0, the growth of 15:20 voided it, and the pressing of 15:40 is a rebleed: held
// no shorter than the 60 min before it, which are for a physician to order (clinical model, law 3; "full hold again, not shorter than the first").
TEST(FoundAgain, AGrowthBetweenAHaemostasisAndPressingAgainUnderAnUnknownMethodMakesNoHoldShorter) {
  for (const bool grows : {false, true}) {
    auto chart = unknown_method();
    chart.record.access_events.back().at = exactly(hm(15));
    if (grows) chart.check(hm(15, 20)).growth = true;
    chart.event(compression_started, hm(15, 40));
    chart.event(haemostasis_confirmed, hm(16, 5));
    const auto plan = chart.plan(hm(16, 35));
    EXPECT_EQ(plan.sites.front().rebleeds, std::vector<Instant>{hm(15, 40)}) << grows;
    EXPECT_EQ(step(plan, Step::end_compression).planned, hours{1}) << grows;
    EXPECT_FALSE(step(plan, Step::firm_compression).earliest) << grows;
  }
}

// A haemostasis recorded while the sheath was in is none, and a growth that would have voided it begins no hold: the first hold is that of 14:00.
TEST(FoundAgain, AGrowthWithTheSheathInDoesNotHideHowLongTheFirstHoldWas) {
  for (const bool grows : {false, true}) {
    auto chart = plain_chart(6);
    chart.event(haemostasis_confirmed, hm(13, 5));
    if (grows) chart.check(hm(13, 30)).growth = true;
    pull_at(chart, hm(14));
    chart.event(compression_ended, hm(16, 45));
    chart.event(haemostasis_confirmed, hm(16, 45));
    chart.event(rebleed, hm(17, 5));
    EXPECT_EQ(step(chart.plan(hm(17, 25)), Step::end_compression).planned, minutes{165}) << grows;
  }
}

// "confirm-readiness ... released when every gate is open": one from before the start confirms nothing, and of a sheath that came out at an unknown time
// nobody knows whether it had been confirmed.
TEST(FoundAgain, AFailedClosureMakesNoOldConfirmationDone) {
  for (const Instant confirmed : {hm(11, 5), hm(12, 30)}) {
    auto chart = plain_chart(6, Closure::device);
    chart.done(Step::confirm_readiness, confirmed);
    EXPECT_EQ(step(chart.plan(hm(14)), Step::confirm_readiness).status, StepStatus::blocked);
    chart.event(closure_failed, hm(13, 30));
    EXPECT_EQ(step(chart.plan(hm(14)), Step::confirm_readiness).status, StepStatus::cancelled);
    chart.event(sheath_removed, hm(13, 30));
    EXPECT_EQ(step(chart.plan(hm(14)), Step::confirm_readiness).status, confirmed < hm(12) ? StepStatus::cancelled : StepStatus::done);
  }
  auto chart = plain_chart(6);
  pull_at(chart, hm(15));
  chart.done(Step::confirm_readiness, hm(15, 10));
  EXPECT_EQ(step(chart.plan(hm(15, 20)), Step::confirm_readiness).status, StepStatus::cancelled) << "after the pull";
}

// An upsizing without a size or a time, of a case with one puncture: its size is not known. When the second puncture begins nobody knows of which of the two it
// tells, and neither size is known: "access: side, vessel, size and closure recorded, no contradiction"; a later now alone opens no gate.
TEST(FoundAgain, ASecondPunctureDoesNotSettleASizeThatIsNotKnown) {
  auto chart = plain_chart(6);
  chart.procedure("p2", 4).part_of = "Procedure/p1";
  chart.event(sheath_upsized, {}).at.reset();
  EXPECT_EQ(gate(chart.plan(hm(11, 15)), GateName::access)->why.code, "gate.access.missing");
  const auto plan = chart.plan(hm(14, 15));
  for (const auto& site : plan.sites) {
    EXPECT_EQ(site.gates.front().name, GateName::access);
    EXPECT_EQ(site.gates.front().state, GateState::needs);
    EXPECT_EQ(site.gates.front().why.code, "gate.access.contradicted");
  }
  chart.record.access_events.front().procedure = "Procedure/p2";
  const auto placed = chart.plan(hm(14, 15));
  EXPECT_EQ(placed.sites[0].gates.front().state, GateState::open);
  EXPECT_EQ(placed.sites[1].gates.front().why.code, "gate.access.missing");
}

// By hand T0 stood at 14:20, and pressing by a device from 16:00 on is a rebleed whose end alone is no haemostasis; by a device it would have been on all the
// time. Unknown is never better than either.
TEST(FoundAgain, APressureChangedAfterHaemostasisUnderAnUnknownMethodMayBeARebleed) {
  for (const auto method : {Closure::unknown, Closure::manual}) {
    auto chart = unknown_method(method);
    chart.event(pressure_changed, hm(16)).pressure = amount(60, "mm[Hg]");
    chart.event(compression_ended, hm(16, 30));
    const auto plan = chart.plan(hm(16, 40));
    EXPECT_FALSE(plan.sites.front().t0) << name_of(method);
    EXPECT_EQ(plan.sites.front().rebleeds, std::vector{hm(16)}) << name_of(method);
  }
  auto off = unknown_method();
  off.event(pressure_changed, hm(16)).pressure = amount(0, "mm[Hg]");
  EXPECT_TRUE(off.plan(hm(16, 40)).sites.front().rebleeds.empty()) << "taken to nothing";
}

// "From 6 h before the index start": of a start that is known to the day a dose in the small hours is surely of the procedure only where it lies within 6 h of
// the latest start. The loss of the time makes nothing shorter (law 3).
TEST(FoundAgain, AStartKnownToTheDayDoesNotMakeAnOlderDoseTellTheHistory) {
  auto chart = plain_chart(6);
  std::erase_if(chart.record.statements, [](const Statement& s) { return s.kind == StatementKind::no_anticoagulant_given; });
  chart.bolus(Agent::enoxaparin, 8000, hm(4));
  pull_at(chart, hm(15));
  chart.event(haemostasis_confirmed, hm(15, 25));
  const auto known = step(chart.plan(hm(16)), Step::stand_and_walk).after_t0;
  chart.index().start = Moment{hm(0), hm(23, 59, 59)};
  EXPECT_GE(*step(chart.plan(hm(16)), Step::stand_and_walk).after_t0, *known);
}

// A puncture is of the case that its Procedure belongs to as soon as something happened at it, also where the Procedure's own start is still to come: time alone
// must not move it there, and open a gate by it.
TEST(FoundAgain, APartThatIsToStartLaterIsNoCaseOfItsOwnBeforeThat) {
  auto chart = plain_chart(6);
  auto& part = chart.procedure("p2", 8);
  part.part_of = "Procedure/p1";
  part.start = exactly(hm(13, 30));
  chart.event(sheath_inserted, hm(12, 2), "Procedure/p2");
  for (const auto now : {hm(13, 7), hm(13, 31)}) {
    const auto plans = chart.plans(now);
    ASSERT_EQ(plans.size(), 1u) << "at " << now.time_since_epoch().count();
    EXPECT_EQ(plans.front().sites.size(), 2u);
  }
}

}  // namespace
}  // namespace clinical
