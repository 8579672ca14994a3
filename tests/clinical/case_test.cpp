// Which Procedures open a case, what its sites are, and where events, checks and facts belong.
#include <algorithm>
#include <cmath>

#include "course_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

std::vector<CaseFacts> cases(const Chart& chart, Instant now) { return cases_of(chart.record, cautious(), Clock(now)); }

struct OpensRow {
  const char* name;
  std::function<void(Procedure&)> change;
  int cases;
  bool provisional;
};
TEST(IndexCase, StatusCodeAndSiteDecide) {
  const OpensRow rows[] = {
      {"completed, femoral catheter", [](Procedure&) {}, 1, false},
      {"stopped", [](Procedure& p) { p.status = ProcedureStatus::stopped; }, 1, false},
      {"in progress", [](Procedure& p) { p.status = ProcedureStatus::in_progress; }, 1, true},
      {"on hold", [](Procedure& p) { p.status = ProcedureStatus::on_hold; }, 1, true},
      {"status unknown", [](Procedure& p) { p.status = ProcedureStatus::unknown; }, 1, true},
      {"in preparation", [](Procedure& p) { p.status = ProcedureStatus::preparation; }, 0, false},
      {"not done", [](Procedure& p) { p.status = ProcedureStatus::not_done; }, 0, false},
      {"not femoral", [](Procedure& p) { p.femoral = false; }, 0, false},
      {"no catheter procedure", [](Procedure& p) { p.catheter = false; }, 0, false},
      {"stated to be femoral", [](Procedure& p) { p.catheter = p.femoral = false; p.femoral_stated = true; }, 1, false},
      {"denied to be femoral", [](Procedure& p) { p.femoral_denied = true; }, 0, false},
  };
  for (const auto& row : rows) {
    SCOPED_TRACE(row.name);
    auto chart = plain_chart(6);
    row.change(chart.index());
    const auto found = cases(chart, hm(14));
    ASSERT_EQ(found.size(), static_cast<std::size_t>(row.cases));
    if (row.cases) {
      EXPECT_EQ(found.front().provisional, row.provisional);
    }
  }
}

TEST(IndexCase, AProvisionalOneGathersChecksAndNothingElse) {
  auto chart = plain_chart(6);
  chart.index().status = ProcedureStatus::in_progress;
  chart.index().end.reset();
  const auto plan = chart.plan(hm(14));
  EXPECT_EQ(plan.state, CaseState::sheath_in);
  EXPECT_TRUE(plan.provisional);
  for (const auto& m : plan.sites.front().milestones) {
    const bool allowed = m.step == Step::check_site || m.step == Step::provide_missing;
    EXPECT_TRUE(!m.earliest || allowed) << name_of(m.step);
    EXPECT_TRUE(!m.released || allowed) << name_of(m.step);
  }
}

TEST(IndexCase, AnInsertionWithoutAnIndexOpensAProvisionalCaseThatKeepsItsIdentity) {
  auto chart = plain_chart(6);
  const Procedure index = chart.index();
  chart.record.procedures.clear();
  auto& in = chart.event(sheath_inserted, hm(12, 2));
  in.side = Side::right;
  in.french = whole(6);
  auto found = cases(chart, hm(12, 30));
  ASSERT_EQ(found.size(), 1u);
  EXPECT_TRUE(found.front().provisional);
  EXPECT_EQ(found.front().index.source.reference, "Procedure/p1");
  EXPECT_TRUE(found.front().sites.front().sheath_known_in);
  chart.record.procedures.push_back(index);
  found = cases(chart, hm(14));
  ASSERT_EQ(found.size(), 1u);
  EXPECT_FALSE(found.front().provisional);
  EXPECT_EQ(found.front().index.source.reference, "Procedure/p1");
}

TEST(Sites, APartThatNamesItsOwnSiteIsAnotherSite) {
  auto chart = plain_chart(6);
  chart.procedure("vein", 7, Closure::manual, Side::right, Vessel::vein).part_of = "Procedure/p1";
  auto& drug_part = chart.procedure("other", 6);
  drug_part.part_of = "Procedure/p1";
  drug_part.femoral = false;
  drug_part.sides.clear();
  drug_part.vessels.clear();
  drug_part.french.clear();
  const auto found = cases(chart, hm(14));
  ASSERT_EQ(found.size(), 1u);
  ASSERT_EQ(found.front().sites.size(), 2u);
  EXPECT_EQ(found.front().sites.back().key, "Procedure/vein");
}

TEST(Events, WithoutASideBelongToTheOnlySite) {
  auto chart = plain_chart(6);
  chart.event(sheath_removed, hm(15), "");
  EXPECT_EQ(cases(chart, hm(16)).front().sites.front().sheath_out, hm(15));
}

TEST(Events, WithoutASideAreAConflictWhereThereAreTwo) {
  auto chart = plain_chart(6);
  chart.procedure("left", 6, Closure::manual, Side::left).part_of = "Procedure/p1";
  chart.event(sheath_removed, hm(15), "");
  auto found = cases(chart, hm(16)).front();
  EXPECT_FALSE(found.sites.front().sheath_out || found.sites.back().sheath_out);
  ASSERT_EQ(found.conflicts.size(), 1u);
  EXPECT_EQ(found.conflicts.front().about, "event-without-site");
  chart.record.access_events.back().side = Side::left;
  found = cases(chart, hm(16)).front();
  EXPECT_EQ(found.sites.back().sheath_out, hm(15));
  EXPECT_TRUE(found.conflicts.empty());
}

TEST(Events, OfTheOtherSideContradictTheOnlySite) {
  auto chart = plain_chart(6);
  chart.event(sheath_removed, hm(15)).side = Side::left;
  const auto found = cases(chart, hm(16)).front();
  EXPECT_EQ(found.sites.front().side.certainty, Certainty::contradicted);
  ASSERT_FALSE(found.conflicts.empty());
  EXPECT_EQ(found.conflicts.front().fact, Fact::side);
  EXPECT_EQ(found.conflicts.front().values, (std::vector<std::string>{"left", "right"}));
  EXPECT_EQ(found.conflicts.front().inputs.size(), 2u);
}

struct SizeRow {
  const char* name;
  std::function<void(Chart&)> change;
  Certainty certainty;
  int french;
};
TEST(SheathSize, LargestEverInTheHole) {
  const auto more = [](double french, bool low = false) { return [=](Chart& c) { c.index().french.push_back({std::llround(french * kMicro), {"Device/d", "1", low}}); }; };
  const auto up = [](std::optional<int> french) {
    return [=](Chart& c) {
      auto& e = c.event(sheath_upsized, hm(12, 30));
      if (french) e.french = whole(*french);
    };
  };
  const SizeRow rows[] = {
      {"said twice", more(6), Certainty::known, 6},
      {"5.3 F is the next whole French, as said elsewhere", more(5.3), Certainty::known, 6},
      {"two sizes", more(8), Certainty::contradicted, 8},
      {"free text that says a larger one", more(7, true), Certainty::contradicted, 7},
      {"free text that says a smaller one", more(5, true), Certainty::known, 6},
      {"upsized", up(8), Certainty::known, 8},
      {"upsized to a smaller one", up(5), Certainty::known, 6},
      {"upsized, size not said", up(std::nullopt), Certainty::unknown, 6},
      {"free text alone", [](Chart& c) { c.index().french.front().source.low_confidence = true; }, Certainty::low, 6},
      {"the index already tells the larger", [&](Chart& c) { more(8)(c); up(8)(c); }, Certainty::known, 8},
      {"two first sizes and an upsizing", [&](Chart& c) { more(7)(c); up(8)(c); }, Certainty::contradicted, 8},
  };
  for (const auto& row : rows) {
    SCOPED_TRACE(row.name);
    auto chart = plain_chart(6);
    row.change(chart);
    const auto site = cases(chart, hm(14)).front().sites.front();
    EXPECT_EQ(site.french.certainty, row.certainty);
    EXPECT_EQ(site.french.value, row.french);
  }
}

TEST(TwoCases, BothClaimOneGroin) {
  auto chart = plain_chart(6);
  auto& second = chart.procedure("p2", 6);
  second.start = exactly(hm(13));
  auto found = cases(chart, hm(14));
  ASSERT_EQ(found.size(), 2u);
  for (const auto& c : found) EXPECT_EQ(c.conflicts.front().about, "groin-claimed-twice");
  chart.record.procedures.back().sides.front().value = Side::left;
  for (const auto& c : cases(chart, hm(14))) EXPECT_TRUE(c.conflicts.empty());
}

TEST(TwoCases, ThePatientGetsUpWhenTheLatestSiteAllowsIt) {
  auto chart = plain_chart(6);
  chart.procedure("p2", 7, Closure::manual, Side::left);
  pull_at(chart, hm(15), "Procedure/p1");
  chart.event(haemostasis_confirmed, hm(15, 30), "Procedure/p1");
  auto plans = chart.plans(hm(15, 31));
  ASSERT_EQ(plans.size(), 2u);
  EXPECT_FALSE(plans.front().up_at) << "the other sheath is in";
  EXPECT_EQ(step(plans.front(), Step::stand_and_walk).status, StepStatus::blocked);
  pull_at(chart, hm(16), "Procedure/p2");
  chart.event(haemostasis_confirmed, hm(16, 30), "Procedure/p2");
  plans = chart.plans(hm(16, 31));
  for (const auto& plan : plans) {
    EXPECT_EQ(plan.up_at, hm(23, 30));
    EXPECT_EQ(plan.up_site, "Procedure/p2");
  }
}

TEST(Bilateral, OneRestForBothGroins) {
  auto chart = plain_chart(6);
  chart.procedure("left", 8, Closure::manual, Side::left).part_of = "Procedure/p1";
  pull_at(chart, hm(15), "Procedure/p1");
  pull_at(chart, hm(15, 30), "Procedure/left");
  chart.record.access_events[0].side = chart.record.access_events[1].side = Side::right;
  chart.record.checks.front().side = Side::right;   // the index stands for the case: it does not say which groin
  chart.event(haemostasis_confirmed, hm(15, 25)).side = Side::right;
  auto plan = chart.plan(hm(15, 40));
  EXPECT_EQ(plan.state, CaseState::compressing);
  EXPECT_FALSE(plan.up_at);
  chart.event(haemostasis_confirmed, hm(16), "Procedure/left");
  plan = chart.plan(hm(16, 1));
  EXPECT_EQ(plan.up_at, hm(24));
  for (const auto& site : plan.sites) EXPECT_EQ(step(site, Step::stand_and_walk).earliest, hm(24));
  EXPECT_EQ(step(plan.sites.front(), Step::stand_and_walk).after_t0, hours{6});
}

TEST(ArteryAndVein, BothHoldsEndTogether) {
  auto chart = plain_chart(6);
  chart.procedure("vein", 7, Closure::manual, Side::right, Vessel::vein).part_of = "Procedure/p1";
  for (auto* check : {&chart.check(hm(13, 58), "Procedure/vein")}) check->side = Side::right;
  chart.pressure(125, hm(13, 58));
  chart.lab(Analyte::heart_rate, 70, hm(13, 58));
  auto plan = chart.plan(hm(14));
  const auto& vein = plan.sites.back();
  EXPECT_EQ(step(vein, Step::remove_sheath).status, StepStatus::blocked);
  EXPECT_EQ(step(vein, Step::remove_sheath).why->code, "removal.artery-first");
  auto& out = chart.event(sheath_removed, hm(14));
  out.vessel = Vessel::artery;
  plan = chart.plan(hm(14, 1));
  EXPECT_EQ(step(plan.sites.front(), Step::end_compression).earliest, hm(14, 20));
  EXPECT_EQ(step(plan.sites.back(), Step::remove_sheath).earliest, hm(14, 10));
}

TEST(Window, FactsOfAnotherTimeDoNotBelong) {
  auto chart = plain_chart(6);
  chart.bolus(Agent::heparin, 5000, hm(12 - 24 * 30));
  chart.lab(Analyte::haemoglobin, 9, hm(12 - 24 * 30));
  chart.lab(Analyte::haemoglobin, 9, hm(15));
  const auto found = cases(chart, hm(14)).front();
  EXPECT_TRUE(found.administrations.empty());
  EXPECT_EQ(std::ranges::count(found.measurements, Analyte::haemoglobin, &Measurement::analyte), 1) << "neither the old one nor the one to come";
}

TEST(AsKnownAt, ADoseThatEndedLaterWasRunningAndAStatementCountsWheneverMade) {
  auto chart = plain_chart(6);
  auto& drip = chart.bolus(Agent::heparin, 1000, hm(13));
  drip.end = exactly(hm(14));
  pull_at(chart, hm(15));
  const auto now = cases(chart, hm(16)).front();
  const auto then = as_known_at(now, hm(13, 30));
  ASSERT_EQ(then.administrations.size(), 1u);
  EXPECT_FALSE(then.administrations.front().end);
  EXPECT_EQ(then.administrations.front().status, AdministrationStatus::in_progress);
  EXPECT_FALSE(then.sites.front().out());
  EXPECT_EQ(as_known_at(now, hm(12, 30)).statements.size(), 2u);
}

// "None was given" beside a dose, "none at home" beside a drug: the plan lists both sides, and asks until one is withdrawn.
TEST(Statements, BesideWhatTheyDenyAreConflicts) {
  const auto conflict = [](const CasePlan& plan, const char* about) -> const Conflict* {
    for (const auto& c : plan.conflicts)
      if (c.about == about) return &c;
    return nullptr;
  };
  auto chart = plain_chart(6);
  EXPECT_TRUE(chart.plan(hm(14)).conflicts.empty());
  const auto dose = chart.bolus(Agent::heparin, 3000, hm(12, 30)).source;
  auto plan = chart.plan(hm(14));
  ASSERT_TRUE(conflict(plan, "statement-beside-dose"));
  EXPECT_EQ(conflict(plan, "statement-beside-dose")->fact, Fact::anticoagulant_history);
  EXPECT_EQ(conflict(plan, "statement-beside-dose")->values, (std::vector<std::string>{"none given", "heparin"}));
  EXPECT_EQ(conflict(plan, "statement-beside-dose")->inputs, (std::vector<Source>{chart.record.statements.front().source, dose}));
  EXPECT_FALSE(step(plan, Step::remove_sheath).earliest);
  chart.record.administrations.front().flush = true;
  EXPECT_FALSE(conflict(chart.plan(hm(14)), "statement-beside-dose")) << "a flush is no dose";

  HomeDrug drug;
  drug.source = {"MedicationStatement/home", "1", false};
  drug.agent = Agent::apixaban;
  drug.name = "apixaban";
  drug.last_dose = exactly(hm(-16));
  chart.record.home_drugs.push_back(drug);
  plan = chart.plan(hm(14));
  ASSERT_TRUE(conflict(plan, "statement-beside-home-drug"));
  EXPECT_EQ(conflict(plan, "statement-beside-home-drug")->inputs.size(), 2u);
  chart.record.home_drugs.front().taken = false;
  EXPECT_FALSE(conflict(chart.plan(hm(14)), "statement-beside-home-drug"));
}

TEST(Checks, OneThatNamesNoGroinOfTwoIsAConflictUntilEachHasItsOwn) {
  auto chart = plain_chart(6);
  chart.procedure("left", 6, Closure::manual, Side::left).part_of = "Procedure/p1";
  chart.check(hm(13, 15), "").bleeding = Bleeding::bleeding;
  auto plan = chart.plan(hm(13, 20));
  EXPECT_TRUE(std::ranges::any_of(plan.conflicts, [](const Conflict& c) { return c.about == "check-without-site"; }));
  ASSERT_FALSE(plan.alerts.empty());
  EXPECT_EQ(plan.alerts.front().level, AlertLevel::emergency);
  chart.check(hm(13, 25)).side = Side::right;
  chart.check(hm(13, 26), "Procedure/left");
  EXPECT_TRUE(chart.plan(hm(13, 30)).conflicts.empty());
}

}  // namespace
}  // namespace clinical
