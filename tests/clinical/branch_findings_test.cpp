// Alerts and lengths from values that are told oddly: with a comparator, before the case, twice at one time, of a drug whose end is written down while it runs on.
// Limits of the protocol as printed beside each; clinical-aftercare.md, section F, unless something else stands there. Invented cases.
#include <gmock/gmock.h>

#include <algorithm>

#include "clinical/gates.h"
#include "mutants_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

const Alert* alert(const CasePlan& plan, std::string_view trigger) { return find_alert(plan, trigger); }
std::string level(const Chart& chart, std::string_view trigger, Instant now = hm(14), const Protocol& p = cautious()) {
  const auto plan = chart.plan(now, p);
  const auto* found = alert(plan, trigger);
  return found ? std::string(name_of(found->level)) : "none";
}
Measurement& above(Chart& chart, Analyte analyte, double value, Instant at) {
  auto& m = chart.lab(analyte, value, at);
  m.value = compared(Comparator::greater, value);
  return m;
}

// A fall of the pressure by 30 mmHg (common practice, no source) is measured from an exact reading of the open range, 90 to 150 mmHg.
TEST(Falls, AReadingWithAComparatorIsNoBaseline) {
  Chart chart = plain_chart(6);
  above(chart, Analyte::systolic, 140, hm(13, 10));
  chart.lab(Analyte::systolic, 130, hm(13, 20));
  chart.lab(Analyte::systolic, 101, hm(13, 30));
  EXPECT_EQ(level(chart, "systolic-low"), "none") << "29 less than the first that is exact";
  chart.lab(Analyte::systolic, 100, hm(13, 40));
  EXPECT_EQ(level(chart, "systolic-low"), "urgent");
}

// Saturation fallen by 4 % (common practice, no source): "over 99" may be any value above it.
TEST(Falls, OfTheSaturationFromAnExactValue) {
  Chart chart = plain_chart(6);
  above(chart, Analyte::oxygen_saturation, 99, hm(13, 10));
  chart.lab(Analyte::oxygen_saturation, 95, hm(13, 20));
  EXPECT_EQ(level(chart, "oxygen-saturation"), "none");
  chart.lab(Analyte::oxygen_saturation, 99, hm(13, 30));
  chart.lab(Analyte::oxygen_saturation, 95, hm(13, 40));
  EXPECT_EQ(level(chart, "oxygen-saturation"), "urgent");
}

// Baseline of haemoglobin: the highest from 7 d before the start on (model, table of gates).
TEST(Falls, OfHaemoglobinFromTheWeekBefore) {
  const auto fall = [](Instant at) {
    Chart chart = plain_chart(6);
    chart.lab(Analyte::haemoglobin, 18, at);
    chart.lab(Analyte::haemoglobin, 14, hm(13, 10));
    Protocol p = cautious();
    p.look_back.micro = whole(240);  // facts of ten days are looked at
    return level(chart, "haemoglobin-fall", hm(14), p);
  };
  EXPECT_EQ(fall(hm(12 - 168)), "emergency") << "4 g/dL";
  EXPECT_EQ(fall(hm(11 - 168)), "none");
}

// Pain in the back with nothing measured in the case: what was measured before it is no fall in it.
TEST(Falls, BeforeTheCaseAreNone) {
  Chart chart = plain_chart(6);
  std::erase_if(chart.record.measurements, [](const Measurement& m) { return m.analyte == Analyte::haemoglobin; });
  chart.lab(Analyte::haemoglobin, 15, hm(9));
  chart.lab(Analyte::haemoglobin, 11, hm(10));
  chart.check(hm(13, 30)).back_pain = true;
  EXPECT_EQ(level(chart, "retroperitoneal-bleed"), "none");
  chart.lab(Analyte::haemoglobin, 11, hm(13, 20));
  EXPECT_EQ(level(chart, "retroperitoneal-bleed"), "emergency");
}

// An ACT that falls is told of only where the curve of a heparin promised it under the limit by then; without heparin on record there is no curve.
TEST(ActHigh, WithoutHeparinOnRecord) {
  Chart chart = plain_chart(6);
  chart.lab(Analyte::act, 190, hm(13, 10));
  chart.lab(Analyte::act, 180, hm(13, 30));
  EXPECT_EQ(level(chart, "act-high"), "none");
  chart.lab(Analyte::act, 185, hm(13, 50));
  chart.lab(Analyte::act, 185, hm(13, 55));
  EXPECT_EQ(level(chart, "act-high"), "tell") << "not fallen at two draws, whatever was given";
}

// Getting up: 20/10 mmHg less than the last before it (consensus definition), both exact and the later within 15 min.
TEST(Orthostatic, NeedsTwoExactReadings) {
  const auto fallen = [](const std::function<void(Chart&)>& before, const std::function<void(Chart&)>& after) {
    Chart chart = plain_chart(6);
    chart.done(Step::sit_up, hm(13, 20));
    before(chart);
    after(chart);
    return level(chart, "orthostatic");
  };
  const auto exact = [](double value, Instant at) { return [=](Chart& c) { c.lab(Analyte::systolic, value, at); }; };
  const auto over = [](double value, Instant at) { return [=](Chart& c) { above(c, Analyte::systolic, value, at); }; };
  const auto nothing = [](Chart&) {};
  EXPECT_EQ(fallen(exact(130, hm(13, 15)), exact(110, hm(13, 22))), "tell");
  EXPECT_EQ(fallen(exact(130, hm(13, 15)), exact(111, hm(13, 22))), "none");
  EXPECT_EQ(fallen(nothing, exact(110, hm(13, 22))), "none");
  EXPECT_EQ(fallen(exact(130, hm(13, 15)), nothing), "none");
  EXPECT_EQ(fallen(exact(130, hm(13, 15)), exact(110, hm(13, 36))), "none") << "too long after it";
  EXPECT_EQ(fallen(over(130, hm(13, 15)), exact(110, hm(13, 22))), "none");
  EXPECT_EQ(fallen(exact(130, hm(13, 15)), over(105, hm(13, 22))), "none");
  Chart undone = plain_chart(6);
  undone.done(Step::sit_up, hm(13, 20)).state = TaskState::in_progress;
  exact(130, hm(13, 15))(undone), exact(110, hm(13, 22))(undone);
  EXPECT_EQ(level(undone, "orthostatic"), "none");
}

// 300 mL at a scan (bladder scan limits in use; see the protocol): until the patient has passed urine after it.
TEST(Urine, AScanIsAnsweredByPassingIt) {
  const auto told = [](const std::function<void(Chart&)>& change) {
    Chart chart = plain_chart(6);
    chart.check(hm(13, 20)).bladder = amount(350, "mL");
    change(chart);
    return level(chart, "urine");
  };
  EXPECT_EQ(told([](Chart&) {}), "tell");
  EXPECT_EQ(told([](Chart& c) { c.check(hm(13, 30)).voided = true; }), "none");
  EXPECT_EQ(told([](Chart& c) { c.check(hm(13, 30)).voided = false; }), "tell") << "asked, and not yet";
  EXPECT_EQ(told([](Chart& c) { c.check(hm(13, 20)).voided = true; }), "tell") << "before the scan was read";
  EXPECT_EQ(told([](Chart& c) { c.check(hm(13, 10)).voided = true; }), "tell");
}

// Heparin with heparin-induced thrombocytopenia on record: from the procedural look-back (6 h) on.
TEST(HeparinDespiteHit, OfThisCase) {
  const auto told = [](const std::function<void(Administration&)>& change, bool present = true) {
    Chart chart = plain_chart(6);
    chart.risk(RiskKind::heparin_induced_thrombocytopenia).present = present;
    change(chart.bolus(Agent::heparin, 1000, hm(12, 30)));
    return level(chart, "heparin-despite-hit");
  };
  EXPECT_EQ(told([](Administration&) {}), "urgent");
  EXPECT_EQ(told([](Administration&) {}, false), "none") << "recorded as absent";
  EXPECT_EQ(told([](Administration& a) { a.flush = true; }), "urgent");
  EXPECT_EQ(told([](Administration& a) { a.start = a.end = exactly(hm(5, 59)); }), "none");
  EXPECT_EQ(told([](Administration& a) { a.start.reset(), a.end.reset(); }), "none") << "nobody knows when; the dose itself is asked for";
  EXPECT_EQ(told([](Administration& a) { a.agent = Agent::enoxaparin; }), "urgent");
  EXPECT_EQ(told([](Administration& a) { a.agent = Agent::bivalirudin; }), "none");
}

// A look at one groin stands at every puncture in it and is one look; two of one time, charted by two people, are one look as well.
TEST(Checks, OfOneTimeByTwoPeople) {
  Chart chart = plain_chart(6);
  chart.procedure("p2", 5, Closure::manual, Side::right, Vessel::vein).part_of = "Procedure/p1";
  const auto look = [&](Instant at, bool pain) {
    auto& check = chart.check(at, "");
    check.side = Side::right;
    check.chest_pain = pain;
  };
  look(hm(13, 20), true);
  look(hm(13, 30), false);
  EXPECT_EQ(level(chart, "chest-pain"), "emergency") << "one normal look does not end it";
  look(hm(13, 30), false);
  EXPECT_EQ(level(chart, "chest-pain"), "emergency");
  look(hm(13, 35), false);
  EXPECT_EQ(level(chart, "chest-pain"), "none");
}

// An end that is written down while the drug is told to run on is no end.
TEST(Infusions, ThatRunOnWithAnEnd) {
  const auto acts = [](AdministrationStatus status) {
    Chart chart = plain_chart(6);
    auto& a = chart.bolus(Agent::tirofiban, 0, hm(12 - 90));
    a.bolus = false;
    a.dose.reset();
    a.end = exactly(hm(12 - 80));
    a.status = status;
    const auto plan = chart.plan(hm(13, 10));
    return std::ranges::any_of(step(plan, Step::stand_and_walk).basis, [](const Basis& b) { return say(b).find("@add.gp-inhibitor") != std::string::npos; });
  };
  EXPECT_FALSE(acts(AdministrationStatus::completed)) << "80 h before the start it had ended";
  EXPECT_TRUE(acts(AdministrationStatus::in_progress));
  EXPECT_TRUE(acts(AdministrationStatus::on_hold));
}

// An INR drawn before the last dose of what moves it tells nothing good; of a dose without an end its beginning counts.
TEST(InrAfterADose, ThatHasNoEnd) {
  const auto inr_added = [](Instant given, bool taken = false) {
    Chart chart = plain_chart(6);
    auto& a = chart.bolus(Agent::vitamin_k, 10, given);
    a.end.reset();
    a.dose->unit = DoseUnit::milligram;
    if (taken) {
      HomeDrug d;
      d.source = chart.source();
      d.agent = Agent::warfarin;
      d.taken = false;
      chart.record.home_drugs.push_back(d);
    }
    const auto plan = chart.plan(hm(13, 10));
    return std::ranges::any_of(step(plan, Step::stand_and_walk).basis, [](const Basis& b) { return say(b).find("@add.inr") != std::string::npos; });
  };
  EXPECT_FALSE(inr_added(hm(11))) << "1.0 at 12:10, after it";
  EXPECT_TRUE(inr_added(hm(12, 30)));
  EXPECT_FALSE(inr_added(hm(11), true)) << "warfarin that is recorded as not taken demands nothing";
}

// Arterial disease and grafts of one groin weigh on that groin, and on each where no side is told.
TEST(VesselWall, OfWhichGroin) {
  const auto why = [](RiskKind kind, Side of_risk, std::vector<Side> own, bool present = true) {
    Chart chart = plain_chart(6, Closure::mechanical);
    chart.index().sides.clear();
    for (const auto s : own) chart.index().sides.push_back({s, chart.index().source});
    auto& risk = chart.risk(kind);
    risk.side = of_risk;
    risk.present = present;
    const auto plan = chart.plan(hm(13, 10));
    const bool hold_asks = std::ranges::any_of(plan.sites[0].milestones, [](const Milestone& m) { return m.step == Step::call_clinician && m.why && (m.why->code == "hold.ask-graft" || m.why->code == "hold.ask-arterial-disease"); });
    const bool watched = std::ranges::any_of(plan.sites[0].watched_for, [](const Reason& r) { return say(r).find("vessel-wall") != std::string::npos; });
    return std::string(hold_asks ? "asked" : "free") + (watched ? " watched" : "");
  };
  for (const auto kind : {RiskKind::graft, RiskKind::severe_arterial_disease}) {
    EXPECT_EQ(why(kind, Side::right, {Side::right}), "asked watched");
    EXPECT_EQ(why(kind, Side::unknown, {Side::right}), "asked watched");
    EXPECT_EQ(why(kind, Side::left, {Side::right}), "free");
    EXPECT_EQ(why(kind, Side::right, {Side::right}, false), "free");
    EXPECT_EQ(why(kind, Side::left, {}), "free watched") << "the side is asked for, and until then every length is withheld";
  }
}

// What of the check says something of the groin or foot; all else is the patient's (facts.h).
TEST(OfAGroin, EachFindingAlone) {
  const auto of_groin = [](const std::function<void(SiteCheck&)>& change) {
    SiteCheck c;
    change(c);
    return c.of_a_groin();
  };
  EXPECT_FALSE(of_groin([](SiteCheck&) {}));
  EXPECT_FALSE(of_groin([](SiteCheck& c) { c.voided = true, c.pain = amount(3), c.chest_pain = true, c.dizziness = true, c.bladder = amount(100), c.back_pain = true; }));
  EXPECT_TRUE(of_groin([](SiteCheck& c) { c.bleeding = Bleeding::none; }));
  EXPECT_TRUE(of_groin([](SiteCheck& c) { c.swelling = amount(0); }));
  EXPECT_TRUE(of_groin([](SiteCheck& c) { c.growth = false; }));
  EXPECT_TRUE(of_groin([](SiteCheck& c) { c.foot_pulse = FootPulse::as_baseline; }));
  EXPECT_TRUE(of_groin([](SiteCheck& c) { c.colour = FootPulse::as_baseline; }));
  EXPECT_TRUE(of_groin([](SiteCheck& c) { c.warmth = FootPulse::as_baseline; }));
  EXPECT_TRUE(of_groin([](SiteCheck& c) { c.feeling = FootPulse::as_baseline; }));
  EXPECT_TRUE(of_groin([](SiteCheck& c) { c.movement = FootPulse::as_baseline; }));
  EXPECT_TRUE(of_groin([](SiteCheck& c) { c.mass_or_bruit = false; }));
  EXPECT_TRUE(of_groin([](SiteCheck& c) { c.skin_damage = false; }));
  EXPECT_TRUE(of_groin([](SiteCheck& c) { c.wet_dressing = true; }));
}

TEST(SameFact, OfTwoSayingsThatDifferInOnePart) {
  const Source a{"Observation/a", "1", false};
  EXPECT_LT(a, (Source{"Observation/b", "0", false}));
  EXPECT_LT(a, (Source{"Observation/a", "2", false}));
  EXPECT_LT(a, (Source{"Observation/a", "1", true}));
  EXPECT_EQ(a, (Source{"Observation/a", "1", false}));
  EXPECT_LT((Moment{hm(1), hm(2)}), (Moment{hm(1), hm(3)}));
  EXPECT_LT((Moment{hm(0), hm(4)}), (Moment{hm(1), hm(3)}));
  const Value value = amount(5, "s");
  EXPECT_EQ(value, amount(5, "s"));
  EXPECT_FALSE(value == amount(6, "s"));
  EXPECT_FALSE(value == compared(Comparator::less, 5, "s"));
  EXPECT_FALSE(value == (Value{value.micro, value.comparator, "5,0 s"})) << "written otherwise";
}

// A length in seconds is as many seconds.
TEST(Span, OfEveryUnit) {
  const auto span = [](SettingUnit unit) { return Setting{whole(2), unit, {}}.span().count(); };
  EXPECT_EQ(span(SettingUnit::second), 2);
  EXPECT_EQ(span(SettingUnit::minute), 120);
  EXPECT_EQ(span(SettingUnit::hour), 7200);
  EXPECT_EQ(span(SettingUnit::day), 172800);
}

// Early rows: every drug that acts on clotting rules them out, and what was measured since the pull (the trials' exclusions, early-walk.toml).
TEST(EarlyRows, AreRuledOutByEachKindOfDrug) {
  const auto excluded = [](const std::function<void(Chart&)>& change) {
    Chart chart = plain_chart(6);
    chart.index().uncomplicated = true;
    pull_at(chart, hm(15));
    chart.event(haemostasis_confirmed, hm(15, 40));
    chart.check(hm(15, 55));
    change(chart);
    std::string names;
    const auto plan = chart.plan(hm(16), early_walk());
    for (const auto& basis : step(plan, Step::stand_and_walk).basis)
      if (basis.rule.starts_with("early-walk.excluded.")) names += basis.rule.substr(20) + (basis.arithmetic.code == "rest.early-met" ? " " : "? ");
    return names;
  };
  const auto given = [&](Agent agent) { return excluded([agent](Chart& c) { c.bolus(agent, 1, hm(12, 10)); }); };
  EXPECT_EQ(excluded([](Chart&) {}), "");
  using testing::HasSubstr;
  EXPECT_THAT(given(Agent::enoxaparin), HasSubstr("anticoagulant "));
  EXPECT_THAT(given(Agent::other_antithrombotic), HasSubstr("anticoagulant "));
  EXPECT_THAT(given(Agent::unidentified), HasSubstr("anticoagulant "));
  EXPECT_THAT(given(Agent::tirofiban), HasSubstr("gp-inhibitor "));
  EXPECT_THAT(given(Agent::alteplase), HasSubstr("gp-inhibitor "));
  EXPECT_THAT(given(Agent::cangrelor), HasSubstr("gp-inhibitor "));
  EXPECT_EQ(given(Agent::other), "");
  EXPECT_THAT(excluded([](Chart& c) { c.pressure(165, hm(15, 50)); }), HasSubstr("pressure "));
  EXPECT_EQ(excluded([](Chart& c) { c.lab(Analyte::systolic, 1, hm(15, 50)).value.reset(); }), "") << "no value";
  EXPECT_EQ(excluded([](Chart& c) { c.lab(Analyte::systolic, 170, hm(13)); }), "") << "long before the pull";
  EXPECT_THAT(excluded([](Chart& c) { c.check(hm(15, 57)).swelling = compared(Comparator::less, 1, "cm"); }), HasSubstr("bleeding ")) << "less than 1 cm may be some";
  EXPECT_THAT(excluded([](Chart& c) { c.record.checks.back().at = exactly(hm(16, 2)); }), HasSubstr("bleeding? ")) << "not looked at yet";
  EXPECT_THAT(excluded([](Chart& c) { c.check(hm(15, 10)).growth = true; }), HasSubstr("rebleed ")) << "grown while it was pressed";
  EXPECT_THAT(excluded([](Chart& c) { c.record.statements.clear(); }), HasSubstr("anticoagulant? "));
  EXPECT_THAT(excluded([](Chart& c) { c.record.access_events[1].method = Closure::mechanical; }), HasSubstr("closure "));
}

TEST(EarlyRows, SayWhichGroin) {
  Chart chart = plain_chart(9);
  chart.index().sides.clear();
  const auto side = [&] {
    const auto plan = chart.plan(hm(13, 10), early_walk());
    for (const auto& c : plan.cautions)
      if (c.code.starts_with("caution.early")) return say(c);
    return std::string("none");
  };
  EXPECT_EQ(side(), "none") << "withheld: no row to speak of";
  chart.index().sides.push_back({Side::left, chart.index().source});
  EXPECT_EQ(side(), "caution.early-no-row{french=9 side=@side.left}");
}

}  // namespace
}  // namespace clinical
