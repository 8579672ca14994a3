// Steps too early, closures pressed for long, what is given on bed rest and what a call dates from: the ways through them that their own tests do not take.
// Cases are invented; the rules are common practice, no source.
#include <gmock/gmock.h>

#include <algorithm>

#include "clinical/early_steps.h"
#include "clinical/site_course.h"
#include "mutants_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

const Alert* alert(const CasePlan& plan, std::string_view trigger) {
  const auto found = std::ranges::find(plan.alerts, trigger, &Alert::trigger);
  return found == plan.alerts.end() ? nullptr : &*found;
}
std::string code(const CasePlan& plan, std::string_view trigger) {
  const auto* found = alert(plan, trigger);
  return found ? found->why.code : "";
}

TEST(TooEarly, WhatVoidedAHaemostasisCountsBetweenItAndTheStepAlone) {
  SiteFacts site;
  EXPECT_TRUE(before_haemostasis(site, hm(16))) << "none yet";
  site.t0_history = {hm(15)};
  EXPECT_TRUE(before_haemostasis(site, hm(14)));
  EXPECT_FALSE(before_haemostasis(site, hm(16)));
  for (const Instant at : {hm(14), hm(15), hm(17)}) {
    site.rebleeds = {at};
    EXPECT_FALSE(before_haemostasis(site, hm(16))) << "before or at the T0, or after the step";
  }
  site.rebleeds = {hm(16)};
  EXPECT_TRUE(before_haemostasis(site, hm(16)));
  site.rebleeds.clear();
  site.growths = {{hm(15, 30), {}, false}};
  EXPECT_FALSE(before_haemostasis(site, hm(16))) << "it voided nothing";
  site.growths = {{hm(17), {}, true}};
  EXPECT_FALSE(before_haemostasis(site, hm(16))) << "later";
  site.growths = {{hm(15, 30), {}, true}};
  EXPECT_TRUE(before_haemostasis(site, hm(16)));
  site.growths.clear();
  for (const auto kind : {closure_failed, sheath_inserted}) {
    site.events.assign(1, {});
    site.events[0].kind = kind;
    EXPECT_FALSE(before_haemostasis(site, hm(16))) << "nobody says when";
    site.events[0].at = Moment{hm(15, 20), hm(15, 40)};
    EXPECT_FALSE(before_haemostasis(site, hm(16))) << "not exactly";
    site.events[0].at = exactly(hm(14));
    EXPECT_FALSE(before_haemostasis(site, hm(16)));
    site.events[0].at = exactly(hm(15, 30));
    EXPECT_TRUE(before_haemostasis(site, hm(16)));
  }
  site.events[0].kind = compression_ended;
  EXPECT_FALSE(before_haemostasis(site, hm(16)));
}

TEST(TooEarly, AHeadThatWasRaisedIsTold) {
  Chart chart = plain_chart(6);
  chart.event(sheath_inserted, hm(12));
  chart.done(Step::raise_head, hm(14, 30));
  chart.done(Step::discharge_check, hm(14, 31));
  const auto plan = chart.plan(hm(14, 32));
  EXPECT_EQ(code(plan, "head-early"), "alert.head-with-sheath");
  EXPECT_EQ(code(plan, "discharge-check-early"), "") << "a check with the sheath in gets nobody up";
  Chart pressed = plain_chart(6);
  pull_at(pressed, hm(15));
  pressed.done(Step::raise_head, hm(15, 10));
  EXPECT_EQ(code(pressed.plan(hm(15, 11)), "head-early"), "alert.head-before-haemostasis");
}

TEST(TooEarly, OfSeveralTheFirstBeforeHaemostasisIsTold) {
  Chart chart = plain_chart(6);
  chart.event(sheath_inserted, hm(12));
  chart.done(Step::sit_up, hm(14, 30));
  chart.done(Step::sit_up, hm(14, 40));
  const auto plan = chart.plan(hm(14, 41));
  ASSERT_TRUE(alert(plan, "sat-early"));
  EXPECT_EQ(alert(plan, "sat-early")->since, hm(14, 30));
}

TEST(TooEarly, OutAtAnUnknownTimeIsBeingPressed) {
  Chart chart = plain_chart(6);
  chart.event(sheath_removed, hm(15)).at.reset();
  chart.done(Step::sit_up, hm(15, 10));
  EXPECT_EQ(code(chart.plan(hm(15, 11)), "sat-early"), "alert.sat-before-haemostasis");
}

TEST(TooEarly, UnderAnOlderHaemostasisNoClockIsHeldAgainstAnybody) {
  Chart chart = plain_chart(6);
  pull_at(chart, hm(15));
  chart.event(haemostasis_confirmed, hm(15, 25));
  chart.done(Step::sit_up, hm(16));
  chart.event(rebleed, hm(16, 30));
  chart.event(compression_started, hm(16, 30));
  chart.event(haemostasis_confirmed, hm(17));
  EXPECT_EQ(code(chart.plan(hm(17, 5)), "sat-early"), "");
}

TEST(TooEarly, ALookThatIsNotWholeAndWellEndsNothing) {
  const auto still = [](const std::function<void(SiteCheck&)>& found) {
    Chart chart = plain_chart(6);
    chart.event(sheath_inserted, hm(12));
    chart.done(Step::sit_up, hm(14, 30));
    for (const Instant at : {hm(14, 35), hm(14, 40)}) found(chart.check(at));
    const auto plan = chart.plan(hm(14, 41));
    return alert(plan, "sat-early") && alert(plan, "sat-early")->level == AlertLevel::urgent;
  };
  EXPECT_FALSE(still([](SiteCheck&) {}));
  EXPECT_TRUE(still([](SiteCheck& c) { c.bleeding = Bleeding::ooze; }));
  EXPECT_TRUE(still([](SiteCheck& c) { c.wet_dressing = true; }));
  EXPECT_TRUE(still([](SiteCheck& c) { c.growth = true; }));
  EXPECT_TRUE(still([](SiteCheck& c) { c.foot_pulse = FootPulse::weaker; }));
  EXPECT_TRUE(still([](SiteCheck& c) { c.swelling.reset(); }));
}

TEST(ClosureHeldLong, OnlyAnEndedHoldOfItsOwnTellsIt) {
  const auto failed = [](const std::function<void(SiteFacts&)>& change) {
    SiteFacts site;
    site.closure.value = Closure::device;
    site.closure.certainty = Certainty::known;
    Hold hold;
    hold.start = hold.first_start = hm(15);
    hold.end = hm(15, 20);
    site.holds = {hold};
    change(site);
    judge_closure(site, minutes{20});
    return site.device_failed;
  };
  EXPECT_TRUE(failed([](SiteFacts&) {}));
  EXPECT_FALSE(failed([](SiteFacts& s) { s.holds[0].end = hm(15, 19); }));
  EXPECT_FALSE(failed([](SiteFacts& s) { s.holds[0].end.reset(); })) << "it runs";
  EXPECT_TRUE(failed([](SiteFacts& s) { s.holds[0].implied = true; })) << "nobody says when pressing began, nor that nobody pressed";
  EXPECT_FALSE(failed([](SiteFacts& s) { s.holds[0].implied = s.holds[0].asked = true; })) << "a bleeding began it, not the sheath's removal";
  EXPECT_FALSE(failed([](SiteFacts& s) { s.holds[0].after_rebleed = true; })) << "it bled later";
  EXPECT_FALSE(failed([](SiteFacts& s) { s.closure.value = Closure::manual; }));
}

class GivenOnRest : public testing::Test {
 protected:
  GivenOnRest() {
    chart = plain_chart(6);
    pull_at(chart, hm(15));
    chart.event(haemostasis_confirmed, hm(15, 25));
  }
  Administration& tablet(Instant at) { return chart.bolus(Agent::apixaban, 5, at); }
  std::string what() {
    plan = chart.plan(hm(17));
    const auto* found = alert(plan, "drug-in-rest");
    return found ? std::get<std::string>(found->why.arguments.front().second) : "";
  }
  Chart chart;
  CasePlan plan;
};

TEST_F(GivenOnRest, IsNamedByWhatIsRecorded) {
  auto& a = tablet(hm(16));
  a.name.clear();
  a.dose.reset();
  EXPECT_EQ(what(), "apixaban");
}

TEST_F(GivenOnRest, IsAnsweredByADecisionThatNamesWhoWhenAndWhat) {
  tablet(hm(16)).name = "apixaban (invented)";
  ASSERT_NE(what(), "");
  const auto with = [&](const std::function<void(Decision&)>& change) {
    const auto before = chart.record.decisions;
    change(chart.decide(Step::stand_and_walk, "apixaban", hm(16, 30)));
    const bool told = !what().empty();
    chart.record.decisions = before;
    return told;
  };
  EXPECT_FALSE(with([](Decision&) {}));
  EXPECT_TRUE(with([](Decision& d) { d.performer.clear(); }));
  EXPECT_TRUE(with([](Decision& d) { d.at.reset(); }));
  EXPECT_TRUE(with([](Decision& d) { d.at = Moment{hm(16, 20), hm(16, 30)}; }));
  EXPECT_TRUE(with([](Decision& d) { d.at = exactly(hm(15, 50)); })) << "before it was given";
  EXPECT_TRUE(with([](Decision& d) { d.value_seen.clear(); }));
  EXPECT_TRUE(with([](Decision& d) { d.subject = "sit-up"; }));
}

TEST_F(GivenOnRest, TwoAtOnceAreOneAlert) {
  tablet(hm(16));
  tablet(hm(16));
  what();
  EXPECT_EQ(std::ranges::count(plan.alerts, "drug-in-rest", &Alert::trigger), 1);
}

TEST(AntiplateletRunning, IsSaidOfAnInfusionThatGoesOn) {
  const auto said = [](const std::function<void(Administration&)>& change) {
    Chart chart = plain_chart(6);
    auto& a = chart.bolus(Agent::cangrelor, 30, hm(12, 10));
    a.bolus = false;
    a.end.reset();
    a.status = AdministrationStatus::in_progress;
    change(a);
    const auto plan = chart.plan(hm(14));
    return std::ranges::count(plan.cautions, "caution.antiplatelet-running", &Reason::code);
  };
  EXPECT_EQ(said([](Administration&) {}), 1);
  EXPECT_EQ(said([](Administration& a) { a.status = AdministrationStatus::on_hold; }), 1);
  EXPECT_EQ(said([](Administration& a) { a.status = AdministrationStatus::completed; }), 0);
  EXPECT_EQ(said([](Administration& a) { a.end = exactly(hm(13)); }), 0);
  EXPECT_EQ(said([](Administration& a) { a.start.reset(); }), 0) << "nobody says when it began";
}

// Where the stay that the procedure names is over, the patient is in the one that goes on and began last.
TEST(StayThatGoesOn, IsTheOneThatBeganLast) {
  const auto stay = [](const char* id, bool in_progress, std::optional<Instant> start, const char* place) {
    Encounter e;
    e.source.reference = id;
    e.in_progress = in_progress;
    if (start) e.start = exactly(*start);
    e.place = place;
    return e;
  };
  const auto followed = [&](std::vector<Encounter> goes_on) {
    Chart chart = plain_chart(6);
    chart.index().encounter = "Encounter/over";
    chart.record.encounters = {stay("Encounter/over", false, hm(8), "ward A (invented)")};
    for (auto& e : goes_on) chart.record.encounters.push_back(std::move(e));
    const auto plan = chart.plan(hm(14));
    return plan.encounter + " " + plan.place;
  };
  EXPECT_EQ(followed({stay("Encounter/a", true, hm(13), "ward B (invented)")}), "Encounter/a ward B (invented)");
  EXPECT_EQ(followed({stay("Encounter/a", true, hm(12), "B"), stay("Encounter/b", true, hm(13), "C")}), "Encounter/b C");
  EXPECT_EQ(followed({stay("Encounter/a", true, hm(13), "B"), stay("Encounter/b", true, hm(12), "C")}), "Encounter/a B");
  EXPECT_EQ(followed({stay("Encounter/a", true, {}, "B"), stay("Encounter/b", true, hm(12), "C")}), "Encounter/b C") << "nobody says when the first began";
  EXPECT_EQ(followed({stay("Encounter/a", true, hm(12), "B"), stay("Encounter/b", true, {}, "C")}), "Encounter/a B");
  EXPECT_TRUE(followed({stay("Encounter/a", true, hm(13), "")}).starts_with("Encounter/a ")) << "no place is recorded there";
}

TEST(UnreadLook, AloneIsALookAndEachPartIsNamedOnce) {
  SiteCheck check;
  EXPECT_FALSE(check.looks());
  check.unread = {{"swelling", "like an egg"}};
  EXPECT_TRUE(check.looks());
  Chart chart = plain_chart(6);
  pull_at(chart, hm(15));
  chart.event(haemostasis_confirmed, hm(15, 25));
  auto& look = chart.check(hm(15, 40));
  look.swelling.reset();
  look.unread = {{"swelling", "like an egg"}, {"swelling", "4 x 6 cm"}};
  const auto plan = chart.plan(hm(15, 41));
  ASSERT_TRUE(alert(plan, "check-unread"));
  std::string all;
  for (const auto& [name, argument] : alert(plan, "check-unread")->why.arguments)
    if (const auto* text = std::get_if<std::string>(&argument)) all += name + "=" + *text + " ";
  EXPECT_THAT(all, testing::HasSubstr("like an egg; 4 x 6 cm"));
  EXPECT_EQ(all.find("swelling"), all.rfind("swelling")) << all;
}

// A call about a gate dates from the newest of what the gate asks about.
TEST(CallsDate, FromTheNewestOfWhatIsAskedAbout) {
  const auto from = [](const std::function<void(Chart&)>& change) {
    Chart chart = intervention_chart(6);
    change(chart);
    const auto plan = chart.plan(hm(15));
    std::string all;
    for (const auto& m : plan.sites[0].milestones)
      if (m.step == Step::call_clinician && m.earliest) all += say(*m.earliest) + " ";
    return all;
  };
  EXPECT_EQ(from([](Chart& c) { c.lab(Analyte::haemoglobin, 7, hm(14, 30)); }), "14:30 ");
  EXPECT_EQ(from([](Chart& c) { c.lab(Analyte::haemoglobin, 7, hm(14, 30)).at = Moment{hm(14, 20), hm(14, 30)}; }), "12:00 ") << "not exactly: since the start";
  const auto thrombin = [](const std::function<void(Administration&)>& change) {
    return [change](Chart& c) {
      c.risk(RiskKind::dialysis);
      auto& a = c.bolus(Agent::bivalirudin, 100, hm(12, 10));
      a.end = exactly(hm(12, 40));
      change(a);
    };
  };
  EXPECT_EQ(from(thrombin([](Administration&) {})), "12:40 ");
  EXPECT_EQ(from(thrombin([](Administration& a) { a.end.reset(); })), "12:10 ") << "a bolus ends where it begins";
}

// What the pressure of an unknown hold is set to after haemostasis is not told: somebody presses by a device.
TEST(PressureAfterHaemostasis, WithoutANumberIsNotTakenForOff) {
  Chart chart = plain_chart(6);
  pull_at(chart, hm(15));
  chart.event(haemostasis_confirmed, hm(15, 25));
  chart.event(pressure_changed, hm(15, 40)).pressure.reset();
  const auto plan = chart.plan(hm(15, 45));
  EXPECT_NE(step(plan, Step::stand_and_walk).status, StepStatus::done);
  EXPECT_TRUE(plan.sites[0].t0 == std::nullopt || !plan.conflicts.empty());
}

}  // namespace
}  // namespace clinical
