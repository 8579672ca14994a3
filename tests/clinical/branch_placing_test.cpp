// Which case, which groin: events and checks that name a side or a Procedure that does not settle it, cases within cases, two cases in one groin. What cannot be
// placed is told and asked for, never guessed (clinical model, law 2 and "When facts change"). Invented cases.
#include <gmock/gmock.h>

#include "mutants_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;
using testing::Contains;
using testing::ElementsAre;
using testing::IsEmpty;

std::vector<std::string> conflicts(const CasePlan& plan) {
  std::vector<std::string> all;
  for (const auto& c : plan.conflicts) all.push_back(c.about.empty() ? std::string(name_of(c.fact)) : c.about);
  return all;
}
Chart two_groins() {
  Chart chart = plain_chart(6);
  chart.procedure("p2", 5, Closure::manual, Side::left).part_of = "Procedure/p1";
  return chart;
}
/// Bleeding at 13:30 as each site sees it: "right left", "none".
std::string seen_at(Chart chart, const std::function<void(SiteCheck&)>& change) {
  auto& check = chart.check(hm(13, 30), "");
  check.bleeding = Bleeding::bleeding;
  change(check);
  const auto plan = chart.plan(hm(13, 35));
  std::string sites;
  for (const auto& site : plan.sites)
    if (site.last_check) sites += (sites.empty() ? "" : " ") + std::string(name_of(site.side));
  return sites.empty() ? "none" : sites;
}

TEST(PlacedCheck, BySideOrByTheOnlyGroin) {
  const auto side = [](Side s) { return [s](SiteCheck& c) { c.side = s; }; };
  EXPECT_EQ(seen_at(plain_chart(6), side(Side::unknown)), "right") << "there is only one";
  EXPECT_EQ(seen_at(plain_chart(6), side(Side::right)), "right");
  EXPECT_EQ(seen_at(plain_chart(6), side(Side::left)), "none") << "the other groin has no puncture";
  EXPECT_EQ(seen_at(two_groins(), side(Side::right)), "right");
  EXPECT_EQ(seen_at(two_groins(), side(Side::left)), "left");
  EXPECT_EQ(seen_at(two_groins(), side(Side::unknown)), "none") << "nobody knows which";
  Chart one_groin = plain_chart(6);
  one_groin.procedure("p2", 5, Closure::manual, Side::right, Vessel::vein).part_of = "Procedure/p1";
  EXPECT_EQ(seen_at(one_groin, side(Side::unknown)), "right right") << "both are in it";
  EXPECT_EQ(seen_at(one_groin, side(Side::right)), "right right");
  EXPECT_EQ(seen_at(one_groin, side(Side::left)), "none");
  Chart unsided = two_groins();
  unsided.record.procedures.back().sides.clear();
  EXPECT_EQ(seen_at(unsided, side(Side::right)), "right") << "the other may be it as well, and is not known to be";
  EXPECT_EQ(seen_at(unsided, side(Side::left)), "none");
  EXPECT_EQ(seen_at(unsided, side(Side::unknown)), "none");
  Chart only_unsided = plain_chart(6);
  only_unsided.index().sides.clear();
  EXPECT_EQ(seen_at(only_unsided, side(Side::left)), "unknown") << "one puncture: it is the one that was looked at";
}

TEST(PlacedCheck, OneThatNamesNoGroinIsAskedForUntilBothWereLookedAt) {
  Chart chart = two_groins();
  chart.check(hm(13, 30), "").side = Side::unknown;
  EXPECT_THAT(conflicts(chart.plan(hm(13, 35))), ElementsAre("check-without-site"));
  chart.check(hm(13, 40), "").side = Side::right;
  EXPECT_THAT(conflicts(chart.plan(hm(13, 45))), ElementsAre("check-without-site")) << "the left one was not";
  auto& left = chart.check(hm(13, 41), "");
  left.side = Side::left;
  left.growth.reset();
  EXPECT_THAT(conflicts(chart.plan(hm(13, 45))), ElementsAre("check-without-site")) << "that look was not complete";
  chart.record.checks.back().growth = false;
  EXPECT_THAT(conflicts(chart.plan(hm(13, 45))), IsEmpty());
  chart.record.checks.front().at = exactly(hm(13, 41));
  EXPECT_THAT(conflicts(chart.plan(hm(13, 45))), ElementsAre("check-without-site")) << "as late as they were";
}

TEST(PlacedCheck, OfTwoCasesItIsToldInEach) {
  Chart chart = plain_chart(6);
  chart.procedure("p9", 6, Closure::manual, Side::left);
  chart.check(hm(13, 30), "").side = Side::unknown;
  chart.check(hm(13, 31), "").side = Side::unknown;
  for (const auto& plan : chart.plans(hm(13, 35))) EXPECT_THAT(conflicts(plan), ElementsAre("check-without-site")) << "both in one";
}

TEST(PlacedCheck, OneFromBeforeASecondProcedureIsOfTheFirst) {
  Chart chart = plain_chart(6);
  pull_at(chart, hm(14));
  chart.event(AccessEventKind::haemostasis_confirmed, hm(14, 25));
  for (const int minute : {40, 55}) chart.check(hm(14, minute), "").side = Side::unknown;
  auto& second = chart.procedure("p9", 6, Closure::manual, Side::left);
  second.start = exactly(hm(15, 30));
  second.end = exactly(hm(15, 35));
  for (const auto& plan : chart.plans(hm(15, 31))) EXPECT_THAT(conflicts(plan), IsEmpty());
  EXPECT_EQ(chart.plan(hm(15, 31)).sites.front().last_check->at->latest, hm(14, 55));
  for (const int minute : {40, 50}) chart.check(hm(15, minute), "").side = Side::unknown;
  for (const auto& plan : chart.plans(hm(16))) {
    EXPECT_THAT(conflicts(plan), ElementsAre("check-without-site")) << "which of the two groins these were nobody knows";
    EXPECT_EQ(std::ranges::count(plan.alerts, "check-without-site", &Alert::trigger), 1);
    const auto alert = std::ranges::find(plan.alerts, "check-without-site", &Alert::trigger);
    EXPECT_EQ(alert->since, hm(15, 40));
    EXPECT_EQ(alert->inputs.size(), 2u);
  }
}

TEST(PlacedCheck, HowBadOneWithoutAGroinIs) {
  const auto level = [](const std::function<void(SiteCheck&)>& change) {
    Chart chart = two_groins();
    change(chart.check(hm(13, 30), ""));
    const auto plan = chart.plan(hm(13, 35));
    const auto* alert = find_alert(plan, "check-without-site");
    return alert ? std::string(name_of(alert->level)) : "none";
  };
  EXPECT_EQ(level([](SiteCheck&) {}), "tell");
  EXPECT_EQ(level([](SiteCheck& c) { c.swelling.reset(); }), "tell");
  EXPECT_EQ(level([](SiteCheck& c) { c.swelling = amount(4.9, "cm"); }), "tell");
  EXPECT_EQ(level([](SiteCheck& c) { c.swelling = amount(5, "cm"); }), "urgent");
  EXPECT_EQ(level([](SiteCheck& c) { c.growth = true; }), "urgent");
  EXPECT_EQ(level([](SiteCheck& c) { c.foot_pulse = FootPulse::weaker; }), "urgent");
  EXPECT_EQ(level([](SiteCheck& c) { c.foot_pulse = FootPulse::absent; }), "emergency");
  EXPECT_EQ(level([](SiteCheck& c) { c.bleeding = Bleeding::bleeding; }), "emergency");
}

// Baseline pulses are those of the first check that records them, with their scale: "2+" is normal in one scale and weak in another.
TEST(Baseline, TheFirstThatIsRecordedWithItsScale) {
  Chart chart = plain_chart(6);
  chart.check(hm(13, 10)).baseline_pulses.clear();
  EXPECT_EQ(chart.plan(hm(13, 35)).sites[0].baseline_pulses, "");
  auto& first = chart.check(hm(13, 20));
  first.baseline_pulses = "2+";
  first.pulse_scale = "0 to 4 (invented)";
  auto& second = chart.check(hm(13, 30));
  second.baseline_pulses = "1+";
  EXPECT_EQ(chart.plan(hm(13, 35)).sites[0].baseline_pulses, "2+ (0 to 4 (invented))");
  chart.record.checks[1].pulse_scale.clear();
  EXPECT_EQ(chart.plan(hm(13, 35)).sites[0].baseline_pulses, "2+");
}

// Two sizes tell of growth only where both are known exactly and one was seen after the other.
TEST(GrowthBySize, OnlyOfTwoExactSizes) {
  const auto grown = [](const std::function<void(SiteCheck&)>& before, const std::function<void(SiteCheck&)>& after) {
    Chart chart = plain_chart(6);
    auto& a = chart.check(hm(13, 20));
    a.swelling = amount(1, "cm");
    before(a);
    auto& b = chart.check(hm(13, 30));
    b.swelling = amount(3, "cm");
    after(b);
    const auto plan = chart.plan(hm(13, 35));
    const auto gate = std::ranges::find(plan.sites[0].gates, GateName::site_status, &Gate::name);
    return gate->why.code == "gate.site-status.growing";
  };
  const auto as_is = [](SiteCheck&) {};
  EXPECT_TRUE(grown(as_is, as_is));
  EXPECT_FALSE(grown([](SiteCheck& c) { c.swelling.reset(); }, as_is));
  EXPECT_FALSE(grown([](SiteCheck& c) { c.swelling = compared(Comparator::less, 1, "cm"); }, as_is));
  EXPECT_FALSE(grown(as_is, [](SiteCheck& c) { c.swelling = compared(Comparator::less, 4, "cm"); }));
  EXPECT_FALSE(grown([](SiteCheck& c) { c.at = exactly(hm(13, 30)); }, as_is)) << "at the same time";
  EXPECT_FALSE(grown([](SiteCheck& c) { c.swelling = amount(0, "cm"); }, as_is)) << "the first that is seen has not grown";
}

TEST(PlacedEvent, ByWhatItNames) {
  const auto out = [](const std::function<void(AccessEvent&)>& change, Chart chart = two_groins()) {
    auto& e = chart.event(sheath_removed, hm(14), "");
    change(e);
    const auto plan = chart.plan(hm(14, 5));
    std::string sites;
    for (const auto& site : plan.sites)
      if (site.sheath_out) sites += std::string(name_of(site.side));
    return sites + (conflicts(plan).empty() ? "" : " " + conflicts(plan).front());
  };
  EXPECT_EQ(out([](AccessEvent& e) { e.side = Side::left; }), "left");
  EXPECT_EQ(out([](AccessEvent&) {}), " event-without-site");
  EXPECT_EQ(out([](AccessEvent& e) { e.vessel = Vessel::vein; }), " event-without-site");
  Chart artery_and_vein = plain_chart(6);
  artery_and_vein.procedure("p2", 5, Closure::manual, Side::right, Vessel::vein).part_of = "Procedure/p1";
  EXPECT_EQ(out([](AccessEvent& e) { e.side = Side::right; }, artery_and_vein), " event-without-site");
  EXPECT_EQ(out([](AccessEvent& e) { e.vessel = Vessel::artery; }, artery_and_vein), "right");
  Chart untold = artery_and_vein;
  untold.record.procedures.back().vessels.clear();
  EXPECT_EQ(out([](AccessEvent& e) { e.vessel = Vessel::vein; }, untold), " event-without-site") << "of one nobody knows whether it is a vein";
  Chart unsided = two_groins();
  unsided.record.procedures.back().sides.clear();
  EXPECT_EQ(out([](AccessEvent& e) { e.side = Side::left; }, unsided), " event-without-site");
}

TEST(PlacedEvent, WhenNoCaseIsOpen) {
  Chart chart = plain_chart(6);
  chart.event(sheath_removed, hm(12 - 100), "");
  auto plan = chart.plan(hm(14, 5));
  EXPECT_FALSE(plan.sites[0].sheath_out) << "four days before: of no case that is known";
  EXPECT_THAT(conflicts(plan), IsEmpty());
  chart.record.access_events[0].procedure = "Procedure/unheard-of";
  chart.record.access_events[0].at = exactly(hm(13, 30));
  plan = chart.plan(hm(14, 5));
  EXPECT_THAT(conflicts(plan), Contains("event-of-unknown-procedure"));
}

// A part of something that is no femoral case is a case of its own, and so is one that names itself.
TEST(Parts, OfWhatIsNoCaseStandAlone) {
  const auto cases = [](const std::function<void(Chart&)>& change) {
    Chart chart = plain_chart(6);
    change(chart);
    return chart.plans(hm(14)).size();
  };
  const auto parent = [](Chart& c, bool femoral) {
    auto& p = c.procedure("whole", 6);
    p.femoral = femoral;
    p.sides.clear(), p.vessels.clear(), p.french.clear();
    c.index().part_of = "Procedure/whole";
  };
  EXPECT_EQ(cases([&](Chart& c) { parent(c, true); }), 1U) << "one case with two sites";
  EXPECT_EQ(cases([&](Chart& c) { parent(c, false); }), 1U) << "the parent is none";
  EXPECT_EQ(cases([](Chart& c) { c.index().part_of = "Procedure/unheard-of"; }), 1U);
  EXPECT_EQ(cases([](Chart& c) { c.index().part_of = "Procedure/p1"; }), 1U);
}

TEST(TwoCases, InOneGroinAreAConflictOnlyWhereBothSidesAreKnown) {
  const auto shared = [](std::vector<Side> sides) {
    Chart chart = plain_chart(6);
    auto& other = chart.procedure("p9", 6);
    other.sides.clear();
    for (const auto s : sides) other.sides.push_back({s, other.source});
    const auto plans = chart.plans(hm(14));
    EXPECT_EQ(plans.size(), 2U);
    return std::ranges::count(conflicts(plans[0]), "groin-claimed-twice") + std::ranges::count(conflicts(plans[1]), "groin-claimed-twice");
  };
  EXPECT_EQ(shared({Side::right}), 2);
  EXPECT_EQ(shared({Side::left}), 0);
  EXPECT_EQ(shared({}), 0) << "the side is asked for anyway";
}

// An upsizing explains that two sizes are told; where the first stands in a text alone the size is no surer than that text.
TEST(Sizes, AnUpsizingFromASizeOfAText) {
  const auto gate = [](bool text, std::optional<int> to) {
    Chart chart = plain_chart(6);
    chart.index().french[0].source.low_confidence = text;
    auto& e = chart.event(sheath_upsized, hm(12, 20));
    if (to) e.french = whole(*to);
    const auto plan = chart.plan(hm(13, 10));
    return std::pair(plan.sites[0].french, plan.sites[0].gates[0].why.code);
  };
  EXPECT_EQ(gate(false, 8), std::pair(std::optional(8), std::string("gate.access.open")));
  EXPECT_EQ(gate(true, 8), std::pair(std::optional(8), std::string("gate.access.text-only")));
  EXPECT_EQ(gate(false, {}), std::pair(std::optional<int>(), std::string("gate.access.missing"))) << "larger, and nobody knows how large";
}

// A vein waits for an artery of its own groin, and for no other.
TEST(VeinAndArtery, OnlyInOneKnownGroin) {
  const auto waits = [](Side side, Vessel vessel, bool own_side = true) {
    Chart chart = plain_chart(6, Closure::manual, Vessel::vein);
    if (!own_side) chart.index().sides.clear();
    auto& other = chart.procedure("p2", 6, Closure::manual, side == Side::unknown ? Side::right : side, vessel == Vessel::unknown ? Vessel::artery : vessel);
    other.part_of = "Procedure/p1";
    if (side == Side::unknown) other.sides.clear();
    if (vessel == Vessel::unknown) other.vessels.clear();
    const auto plan = chart.plan(hm(13, 5));
    const auto& why = step(plan.sites[0], Step::remove_sheath).why;
    return why && why->code == "removal.artery-first";
  };
  EXPECT_TRUE(waits(Side::right, Vessel::artery));
  EXPECT_FALSE(waits(Side::left, Vessel::artery));
  EXPECT_FALSE(waits(Side::right, Vessel::vein));
  EXPECT_FALSE(waits(Side::right, Vessel::unknown));
  EXPECT_FALSE(waits(Side::unknown, Vessel::artery));
  EXPECT_FALSE(waits(Side::right, Vessel::artery, false)) << "its own side is not known: its pull is withheld for that";
}

// Two veins of one groin are pressed longer (B4); a vein in the other one, or one that nobody knows to be there, lengthens nothing.
TEST(TwoVeins, OfOneGroinTakeLonger) {
  const auto rest = [](Side side, Vessel vessel) {
    Chart chart = plain_chart(6, Closure::manual, Vessel::vein);
    auto& other = chart.procedure("p2", 6, Closure::manual, Side::right, Vessel::vein);
    other.part_of = "Procedure/p1";
    other.sides.clear(), other.vessels.clear();
    if (side != Side::unknown) other.sides.push_back({side, other.source});
    if (vessel != Vessel::unknown) other.vessels.push_back({vessel, other.source});
    return *step(chart.plan(hm(13, 5)).sites.at(0), Step::stand_and_walk).planned;
  };
  const auto alone = *step(plain_chart(6, Closure::manual, Vessel::vein).plan(hm(13, 5)), Step::stand_and_walk).planned;
  EXPECT_GT(rest(Side::right, Vessel::vein), alone);
  EXPECT_EQ(rest(Side::left, Vessel::vein), alone);
  EXPECT_EQ(rest(Side::right, Vessel::artery), alone);
  EXPECT_EQ(rest(Side::right, Vessel::unknown), alone);
  EXPECT_EQ(rest(Side::unknown, Vessel::vein), alone);
}

// A stay that ends with one groin dry and a hand on the other: only the one that is not dry is told of.
TEST(DischargeEarly, OnlyOfTheGroinThatIsNotDry) {
  Chart chart = two_groins();
  chart.event(sheath_removed, hm(15));
  chart.event(compression_started, hm(15));
  chart.event(haemostasis_confirmed, hm(15, 20));
  for (auto& e : chart.record.access_events) e.side = Side::right;
  Encounter stay;
  stay.source = {"Encounter/stay", "1", false};
  stay.start = exactly(hm(8));
  stay.end = exactly(hm(15, 30));
  chart.record.encounters = {stay};
  const auto plan = chart.plan(hm(15, 40));
  std::vector<std::string> sites;
  for (const auto& a : plan.alerts)
    if (a.trigger == "discharge-early") sites.push_back(a.site);
  EXPECT_THAT(sites, ElementsAre("Procedure/p2"));
}

// The provisional case: no instant but that of the checks; what was done keeps its time.
TEST(ProvisionalCase, WhatWasDoneKeepsItsTime) {
  Chart chart = plain_chart(6);
  chart.index().status = ProcedureStatus::in_progress;
  pull_at(chart, hm(15));
  const auto plan = chart.plan(hm(15, 5));
  EXPECT_TRUE(plan.provisional);
  EXPECT_EQ(step(plan, Step::remove_sheath).status, StepStatus::done);
  EXPECT_EQ(step(plan, Step::remove_sheath).actual, hm(15));
  EXPECT_EQ(step(plan, Step::confirm_readiness).status, StepStatus::cancelled);
  for (const auto s : {Step::end_compression, Step::stand_and_walk, Step::ask_anticoagulant_plan}) {
    EXPECT_EQ(step(plan, s).status, StepStatus::blocked);
    EXPECT_FALSE(step(plan, s).earliest || step(plan, s).expected);
    EXPECT_TRUE(step(plan, s).why);
  }
}

// A sheath that came out at a time that nobody recorded has come out, also when the case is over.
TEST(FinishedCase, ASheathOutAtAnUnknownTime) {
  Chart chart = plain_chart(6);
  chart.event(sheath_removed, hm(15)).at.reset();
  chart.event(haemostasis_confirmed, hm(15, 20));
  const auto plan = chart.plan(hm(15 + 49));
  EXPECT_EQ(plan.state, CaseState::finished);
  EXPECT_EQ(say(step(plan, Step::remove_sheath)), "cancelled | removal.out-at-unknown-time");
  EXPECT_EQ(step(plan, Step::confirm_readiness).why->code, "case.finished");
}

TEST(Described, ByItsBusinessIdentifier) {
  Chart chart = plain_chart(6);
  chart.index().identifiers = {{"urn:invented", "42"}, {"urn:other", "43"}};
  EXPECT_EQ(chart.plan(hm(13, 5)).procedure_identifier, "urn:invented|42");
}

}  // namespace
}  // namespace clinical
