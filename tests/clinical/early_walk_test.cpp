// Early rows against the arms of the trials that they name, and each exclusion alone. The chart is an invented diagnostic case.
#include <gmock/gmock.h>

#include "course_support.h"

namespace clinical {
namespace {

const Instant kOut = hm(15), kDry = hm(15, 40), kChecked = hm(15, 55);

/// Nothing that a trial left out: everything that must be recorded as absent is. Dry at 15:40 after 40 min, checked at 15:55.
Chart trial_patient(int french) {
  Chart chart = plain_chart(french);
  chart.index().uncomplicated = true;
  pull_at(chart, kOut);
  chart.event(AccessEventKind::haemostasis_confirmed, kDry);
  chart.check(kChecked);
  return chart;
}
CasePlan early(const Chart& chart, Instant now = hm(16)) { return chart.plan(now, early_walk()); }
minutes after(const CasePlan& plan, Step s) { return step(plan, s).after_t0.value_or(minutes{-1}); }
minutes rest_of(const CasePlan& plan) { return after(plan, Step::stand_and_walk); }

/// Names of the exclusions on the walk: "inr" where met, "inr?" where not recorded as absent.
std::vector<std::string> named(const CasePlan& plan, Step s = Step::stand_and_walk) {
  std::vector<std::string> names;
  for (const auto& basis : step(plan, s).basis)
    if (basis.rule.starts_with("early-walk.excluded.")) names.push_back(basis.rule.substr(20) + (basis.arithmetic.code == "rest.early-met" ? "" : "?"));
  return names;
}
std::vector<std::string> cautions(const CasePlan& plan) {
  std::vector<std::string> codes;
  for (const auto& c : plan.cautions)
    if (c.code.starts_with("caution.early")) codes.push_back(c.code);
  return codes;
}
std::string row_source(const CasePlan& plan) {
  for (const auto& basis : step(plan, Step::stand_and_walk).basis)
    if (basis.arithmetic.code == "rest.early") return basis.source;
  return {};
}

struct Arm {
  int french;
  minutes up;            // of the arm
  const char* trial;     // as the row names it
};
// 4 F: J Interv Cardiol 2001;14:7, PMID 12053331 (2 v 4 h; 15 min and 2 h advised). 5 and 7 F: Baum & Gantt, Cathet Cardiovasc Diagn 1996;39:230, PMID 8933962
// (2 v 4 h after haemostasis; equal at 5 and 6 F, 7 F bled more at 2 h). 6 F: Wood, Cathet Cardiovasc Diagn 1997;42:8 (mean 2.5 v 4.1 h).
constexpr Arm kArms[] = {{4, hours{2}, "J Interv Cardiol 2001;14:7"}, {5, hours{2}, "Cathet Cardiovasc Diagn 1996;39:230"},
                         {6, minutes{150}, "Cathet Cardiovasc Diagn 1997;42:8"}, {7, hours{4}, "Cathet Cardiovasc Diagn 1996;39:230"}};

TEST(EarlyWalk, EachRowIsTheShortArmOfTheTrialItNames) {
  for (const auto& arm : kArms) {
    const auto plan = early(trial_patient(arm.french));
    EXPECT_EQ(rest_of(plan), arm.up) << arm.french << " F";
    EXPECT_THAT(row_source(plan), testing::HasSubstr(arm.trial));
    EXPECT_EQ(at(plan, Step::stand_and_walk), kDry + arm.up) << "counted from haemostasis";
    EXPECT_THAT(named(plan), testing::IsEmpty());
    EXPECT_THAT(cautions(plan), testing::ElementsAre("caution.early"));
  }
}

TEST(EarlyWalk, CautiousIsNeverShorter) {
  for (const auto& arm : kArms) {
    const auto chart = trial_patient(arm.french);
    for (const Step s : {Step::raise_head, Step::sit_up, Step::stand_and_walk, Step::discharge_check})
      EXPECT_GE(after(chart.plan(hm(16)), s), after(early(chart), s)) << arm.french << " F " << name_of(s);
    EXPECT_THAT(cautions(chart.plan(hm(16))), testing::IsEmpty()) << "a protocol without early rows says nothing of them";
  }
}

// Pollard, PAMPAS, Heart 2003;89:447 (6 F, up at 2.5 h): sitting at 60 degrees came before walking. Here half an hour; the head not after it.
TEST(EarlyWalk, HeadSitAndWalkKeepTheirOrder) {
  const minutes heads[] = {minutes{90}, minutes{90}, minutes{120}, minutes{120}};
  for (const auto& arm : kArms) {
    const auto plan = early(trial_patient(arm.french));
    EXPECT_EQ(after(plan, Step::raise_head), heads[arm.french - 4]);
    EXPECT_EQ(after(plan, Step::sit_up), arm.up - minutes{30});
    EXPECT_EQ(after(plan, Step::discharge_check), arm.up + hours{1});
  }
}

// No trial of a manual hold with early walking was found at 8 F and over; 3 F stopped at 2.5 h (Aramaki, Cardiovasc Intervent Radiol 2015;38:40).
TEST(EarlyWalk, OtherSizesHaveNoRow) {
  for (const int french : {3, 8, 9, 10}) {
    const auto chart = trial_patient(french);
    EXPECT_EQ(rest_of(early(chart)), rest_of(chart.plan(hm(16)))) << french << " F";
    EXPECT_THAT(cautions(early(chart)), testing::ElementsAre("caution.early-no-row"));
  }
  auto half = trial_patient(7);
  half.index().french.front().value = whole(7) + 1;   // the next whole French
  EXPECT_EQ(rest_of(early(half)), hours{8});
  half.index().french.front().value = whole(6) + kMicro / 2;
  EXPECT_EQ(rest_of(early(half)), hours{4});
}

struct Case {
  const char* what;
  std::function<void(Chart&)> change;
  std::vector<std::string> named;
};
void drop(Chart& chart, Analyte analyte) {
  std::erase_if(chart.record.measurements, [&](const Measurement& m) { return m.analyte == analyte; });
}
void drop(Chart& chart, StatementKind kind) {
  std::erase_if(chart.record.statements, [&](const Statement& s) { return s.kind == kind; });
}
HomeDrug taken(Agent agent) {
  HomeDrug d;
  d.source = {"Test/home", "1", false};
  d.agent = agent;
  d.name = name_of(agent);
  d.last_dose = exactly(hm(-100));
  return d;
}

void expect_fallback(const std::vector<Case>& cases, int french = 6) {
  for (const auto& one : cases) {
    auto chart = trial_patient(french);
    one.change(chart);
    const auto plan = early(chart);
    EXPECT_EQ(rest_of(plan), rest_of(chart.plan(hm(16)))) << one.what;
    EXPECT_GE(rest_of(plan), hours{french}) << one.what;
    EXPECT_EQ(named(plan), one.named) << one.what;
    EXPECT_EQ(named(plan, Step::sit_up), one.named) << one.what;
    EXPECT_THAT(cautions(plan), testing::Not(testing::Contains("caution.early"))) << one.what;
  }
}

// Each alone. Whom the trials left out, with the source of each, stands in profiles/protocol/early-walk.toml.
TEST(EarlyWalk, EachExclusionAloneFallsBackAndIsNamed) {
  expect_fallback({
      {"intervention", [](Chart& c) { c.index().intervention = Tristate::yes; }, {"intervention"}},
      {"heparin since", [](Chart& c) { c.bolus(Agent::heparin, 5000, hm(15, 50)); }, {"anticoagulant"}},
      {"fondaparinux days ago", [](Chart& c) { c.bolus(Agent::fondaparinux, 2, hm(-150)); }, {"anticoagulant"}},
      {"eptifibatide since", [](Chart& c) { c.bolus(Agent::eptifibatide, 10, hm(15, 50)); }, {"gp-inhibitor"}},
      {"cangrelor", [](Chart& c) { c.bolus(Agent::cangrelor, 10, hm(12, 30)); }, {"gp-inhibitor"}},
      {"platelets 99", [](Chart& c) { drop(c, Analyte::platelets), c.lab(Analyte::platelets, 99, hm(12, 10)); }, {"platelets"}},
      {"high pressure since", [](Chart& c) { c.pressure(160, hm(15, 50)); }, {"pressure"}},
      {"high diastolic since", [](Chart& c) { c.lab(Analyte::diastolic, 100, hm(15, 50)); }, {"pressure"}},
      {"low pressure since", [](Chart& c) { c.pressure(89, hm(15, 50)); }, {"pressure"}},
      {"two punctures", [](Chart& c) { c.index().punctures = 2; }, {"puncture"}},
      {"difficult, though called plain", [](Chart& c) { c.index().difficult = true; }, {"puncture"}},
      {"high stick", [](Chart& c) { c.index().high_stick = true; }, {"puncture"}},
      {"low stick", [](Chart& c) { c.index().low_stick = true; }, {"puncture"}},
      {"antegrade", [](Chart& c) { c.index().direction = Direction::antegrade; }, {"puncture"}},
      {"upsized", [](Chart& c) { c.event(AccessEventKind::sheath_upsized, hm(12, 20)).french = whole(6); }, {"puncture"}},
      {"ooze", [](Chart& c) { c.check(hm(15, 50)).bleeding = Bleeding::ooze; }, {"bleeding"}},
      {"wet dressing", [](Chart& c) { c.check(hm(15, 50)).wet_dressing = true; }, {"bleeding"}},
      {"swelling of 1 cm", [](Chart& c) { c.check(hm(15, 50)).swelling = amount(1, "cm"); }, {"bleeding"}},
      {"ooze with the sheath in", [](Chart& c) { c.check(hm(14)).bleeding = Bleeding::ooze; }, {"bleeding"}},
      {"failed device, then by hand", [](Chart& c) { c.index().closures = {{Closure::device, c.index().source}}, c.event(AccessEventKind::closure_failed, kOut); }, {"closure", "short-hold?"}},
  });
}

// What would also change the hold is told with what follows from it.
TEST(EarlyWalk, ExclusionsThatComeTogether) {
  expect_fallback({
      {"warfarin at home",
       [](Chart& c) { drop(c, StatementKind::no_home_anticoagulant), c.record.home_drugs.push_back(taken(Agent::warfarin)), c.lab(Analyte::inr, 1.1, hm(14, 50)); },
       {"home-anticoagulant"}},
      {"INR 1.6", [](Chart& c) { c.lab(Analyte::inr, 1.6, hm(12, 20)); }, {"inr", "gate-not-open"}},
      {"pressure at the pull", [](Chart& c) { c.lab(Analyte::systolic, 160, kOut - minutes{1}); }, {"pressure"}},
      {"heparin for the procedure", [](Chart& c) { drop(c, StatementKind::no_anticoagulant_given), c.bolus(Agent::heparin, 2000, hm(12, 5)), c.lab(Analyte::act, 140, hm(14, 55)); },
       {"anticoagulant"}},
      {"pulled with an ACT of 200", [](Chart& c) { drop(c, StatementKind::no_anticoagulant_given), c.bolus(Agent::heparin, 2000, hm(12, 5)), c.lab(Analyte::act, 200, hm(14, 55)); },
       {"anticoagulant", "gate-not-open"}},
      {"mechanical, and not yet off", [](Chart& c) { c.index().closures = {{Closure::mechanical, c.index().source}}; }, {"closure", "short-hold?", "bleeding?"}},
      {"mechanical, off", [](Chart& c) { c.index().closures = {{Closure::mechanical, c.index().source}}, c.event(AccessEventKind::compression_ended, kDry); }, {"closure", "short-hold"}},
      {"growing swelling of 2 cm", [](Chart& c) { auto& check = c.check(hm(14)); check.swelling = amount(2, "cm"), check.growth = true; }, {"bleeding", "rebleed"}},
      {"a vein in the same groin", [](Chart& c) {
         c.procedure("p2", 6, Closure::manual, Side::right, Vessel::vein).part_of = "Procedure/p1";
         for (auto& e : c.record.access_events) e.vessel = Vessel::artery;
         c.event(AccessEventKind::sheath_removed, hm(15, 5), "Procedure/p2"), c.event(AccessEventKind::compression_started, hm(15, 5), "Procedure/p2");
         c.event(AccessEventKind::haemostasis_confirmed, hm(15, 20), "Procedure/p2");
       }, {"another-puncture"}},
  });
}

// J Interv Cardiol 2001;14:7: after 5 min 17 % bled again, after 15 min 5 %. A 6 F artery is pressed 20 min.
TEST(EarlyWalk, AHoldShorterThanPlannedFallsBack) {
  for (const auto& [length, up] : {std::pair(minutes{20}, minutes{150}), {minutes{19}, minutes{360}}}) {
    Chart chart = plain_chart(6);
    chart.index().uncomplicated = true;
    pull_at(chart, kOut);
    chart.event(AccessEventKind::haemostasis_confirmed, kOut + length);
    chart.check(kChecked);
    EXPECT_EQ(rest_of(early(chart)), up) << length.count();
    EXPECT_EQ(named(early(chart)), length < minutes{20} ? std::vector<std::string>{"short-hold"} : std::vector<std::string>{});
  }
}

// Baum & Gantt: a bleed that had to be pressed again got more bed rest.
TEST(EarlyWalk, ARebleedFallsBackForGood) {
  auto chart = trial_patient(6);
  chart.event(AccessEventKind::rebleed, hm(16));
  chart.event(AccessEventKind::compression_started, hm(16));
  chart.event(AccessEventKind::haemostasis_confirmed, hm(16, 30));
  chart.check(hm(16, 45));
  const auto plan = early(chart, hm(17));
  EXPECT_EQ(rest_of(plan), rest_of(chart.plan(hm(17))));
  EXPECT_EQ(rest_of(plan), hours{8}) << "6 h and 2 h for the rebleed";
  EXPECT_THAT(named(plan), testing::Contains("rebleed"));
}

// Law 2: what is not recorded as absent counts as met, and is named as not recorded.
TEST(EarlyWalk, WhatIsNotRecordedFallsBack) {
  expect_fallback({
      {"no platelets", [](Chart& c) { drop(c, Analyte::platelets); }, {"platelets?"}},
      {"platelets without a value", [](Chart& c) { c.lab(Analyte::platelets, 200, hm(12, 30)).value.reset(); }, {"platelets?"}},
      {"no INR", [](Chart& c) { drop(c, Analyte::inr); }, {"inr?"}},
      {"INR of two days ago", [](Chart& c) { drop(c, Analyte::inr), c.lab(Analyte::inr, 1.0, hm(-36)); }, {"inr?"}},
      {"puncture not described", [](Chart& c) { c.index().uncomplicated = false; }, {"puncture?"}},
      {"intervention or not", [](Chart& c) { c.index().intervention = Tristate::unknown; }, {"intervention?"}},
      {"nothing told of the procedure", [](Chart& c) { drop(c, StatementKind::no_anticoagulant_given); }, {"anticoagulant?", "gp-inhibitor?", "gate-not-open"}},
      {"nothing told of home", [](Chart& c) { drop(c, StatementKind::no_home_anticoagulant); }, {"anticoagulant?", "home-anticoagulant?", "gate-not-open"}},
      {"no check since haemostasis", [](Chart& c) { std::erase_if(c.record.checks, [](const SiteCheck& k) { return k.at->latest >= kDry; }); }, {"bleeding?"}},
      {"a check that is not complete", [](Chart& c) { c.record.checks.back().growth.reset(); }, {"bleeding?"}},
      {"a check with a weaker pulse", [](Chart& c) { c.record.checks.back().foot_pulse = FootPulse::weaker; }, {"bleeding?"}},
      {"no pressure at the pull", [](Chart& c) { drop(c, Analyte::systolic), c.pressure(128, kChecked); }, {"pressure?"}},
      {"no diastolic at the pull", [](Chart& c) { drop(c, Analyte::diastolic); }, {"pressure?"}},
      {"size from a text only", [](Chart& c) { c.index().french.front().source.low_confidence = true; }, {"access?"}},
      {"closure not recorded", [](Chart& c) { c.index().closures.clear(), c.event(AccessEventKind::compression_ended, kDry); }, {"closure?"}},
      {"start of pressing not recorded", [](Chart& c) { std::erase_if(c.record.access_events, [](const AccessEvent& e) { return e.kind == AccessEventKind::compression_started; }); }, {"short-hold?"}},
  });
}

TEST(EarlyWalk, BeforeHaemostasisTheLongerRestStands) {
  Chart chart = plain_chart(6);
  chart.index().uncomplicated = true;
  auto plan = early(chart, hm(14));
  EXPECT_EQ(rest_of(plan), hours{6});
  EXPECT_EQ(named(plan), (std::vector<std::string>{"gate-not-open?", "pressure?", "short-hold?", "bleeding?"}));
  chart = trial_patient(6);
  EXPECT_EQ(rest_of(early(chart, hm(15, 50))), hours{6}) << "not yet looked at";
  EXPECT_EQ(rest_of(early(chart, kChecked)), minutes{150});
}

// The limits themselves: under 100, over 1.5, from 160 (J Vasc Interv Radiol 2009;20:587; SIR consensus 2019; Nordrehaug, J Interv Cardiol 1996;9:381) and from 100 (common practice, no source).
TEST(EarlyWalk, BandEdges) {
  const auto with = [](Analyte analyte, double value, Instant when) {
    auto chart = trial_patient(6);
    chart.lab(analyte, value, when);
    return rest_of(early(chart));
  };
  EXPECT_EQ(with(Analyte::platelets, 100, hm(12, 20)), minutes{150});
  EXPECT_GE(with(Analyte::platelets, 99.999, hm(12, 20)), hours{6});
  EXPECT_EQ(with(Analyte::inr, 1.5, hm(12, 20)), minutes{150});
  EXPECT_GE(with(Analyte::inr, 1.501, hm(12, 20)), hours{6});
  EXPECT_EQ(with(Analyte::systolic, 159, hm(15, 50)), minutes{150});
  EXPECT_GE(with(Analyte::systolic, 160, hm(15, 50)), hours{6});
  EXPECT_EQ(with(Analyte::diastolic, 99, hm(15, 50)), minutes{150});
  EXPECT_GE(with(Analyte::diastolic, 100, hm(15, 50)), hours{6});
}

// Age, clearance, weight, arterial disease: no exclusion was seen in the abstracts, so what lengthens `cautious` comes on top.
TEST(EarlyWalk, WhatLengthensComesOnTop) {
  auto chart = trial_patient(6);
  chart.record.patient.birth = exactly(std::chrono::sys_days{std::chrono::year{1946} / 5 / 1});
  chart.risk(RiskKind::arterial_disease);
  EXPECT_EQ(rest_of(early(chart)), minutes{150} + hours{2});
  EXPECT_EQ(after(early(chart), Step::raise_head), hours{2}) << "not moved";
  drop(chart, Analyte::weight);
  EXPECT_GT(rest_of(early(chart)), minutes{150} + hours{2}) << "not known is the worse";
}

TEST(EarlyWalk, VeinsAndDevicesKeepTheirRows) {
  for (const auto closure : {Closure::device, Closure::suture}) {
    auto chart = plain_chart(6, closure);
    chart.index().uncomplicated = true;
    pull_at(chart, kOut);
    chart.record.access_events.back().at = exactly(kDry - minutes{5});  // a touch-up: longer is a failure
    chart.event(AccessEventKind::haemostasis_confirmed, kDry);
    chart.check(kChecked);
    EXPECT_EQ(rest_of(early(chart)), hours{2});
    EXPECT_THAT(cautions(early(chart)), testing::ElementsAre("caution.early-device"));
  }
  auto vein = plain_chart(6, Closure::manual, Vessel::vein);
  vein.index().uncomplicated = true;
  pull_at(vein, kOut);
  vein.event(AccessEventKind::haemostasis_confirmed, kDry);
  vein.check(kChecked);
  EXPECT_EQ(rest_of(early(vein)), hours{4});
  EXPECT_THAT(cautions(early(vein)), testing::ElementsAre("caution.early-vein"));
}

// A hospital that trusts another trial takes a size out of an exclusion: the floor of the intervention goes with it, the others stay.
TEST(EarlyWalk, ARowThatAnExclusionDoesNotNameKeepsIt) {
  Protocol local = early_walk();
  local.early_walk->intervention.rows = {4, 5, 7};
  auto chart = trial_patient(6);
  chart.index().intervention = Tristate::yes;
  EXPECT_EQ(rest_of(chart.plan(hm(16), local)), minutes{150});
  EXPECT_EQ(rest_of(early(chart)), hours{6});
  chart.lab(Analyte::platelets, 80, hm(12, 20));
  EXPECT_GE(rest_of(chart.plan(hm(16), local)), hours{6});
}

struct Asked {
  const char* name;
  std::function<void(Chart&)> lose;
  Fact fact;
};
const auto lose_value = [](Analyte analyte) {
  return [analyte](Chart& c) { std::erase_if(c.record.measurements, [&](const Measurement& m) { return m.analyte == analyte; }); };
};

// What is not recorded as absent is asked for like every other missing fact; it holds back the early row and no step.
TEST(EarlyWalk, WhatIsNotRecordedIsAskedFor) {
  const Asked rows[] = {
      {"puncture", [](Chart& c) { c.index().uncomplicated = false; }, Fact::puncture_quality},
      {"intervention", [](Chart& c) { c.index().intervention = Tristate::unknown; }, Fact::intervention},
      {"closure", [](Chart& c) { c.index().closures.clear(); }, Fact::closure},
      {"platelets", lose_value(Analyte::platelets), Fact::platelets},
      {"inr", lose_value(Analyte::inr), Fact::inr},
      {"start of the hold", [](Chart& c) { std::erase_if(c.record.access_events, [](const AccessEvent& e) { return e.kind == AccessEventKind::compression_started; }); }, Fact::compression_start},
      {"check", [](Chart& c) { c.record.checks.pop_back(); }, Fact::site_check},
      {"size from a text", [](Chart& c) { for (auto& f : c.index().french) f.source.low_confidence = true; }, Fact::sheath_size},
      {"vessel from a text", [](Chart& c) { for (auto& v : c.index().vessels) v.source.low_confidence = true; }, Fact::vessel},
      {"pressure at the pull", [](Chart& c) { std::erase_if(c.record.measurements, [](const Measurement& m) { return m.analyte == Analyte::systolic && m.at->latest <= kOut; }); }, Fact::blood_pressure},
      {"home", [](Chart& c) { std::erase_if(c.record.statements, [](const Statement& s) { return s.kind == StatementKind::no_home_anticoagulant; }); }, Fact::home_anticoagulants},
      {"history", [](Chart& c) { std::erase_if(c.record.statements, [](const Statement& s) { return s.kind == StatementKind::no_anticoagulant_given; }); }, Fact::anticoagulant_history},
  };
  const auto missing = [](const CasePlan& plan, Fact fact) { return std::ranges::find(plan.missing, fact, &Missing::fact) != plan.missing.end(); };
  for (const auto& row : rows) {
    auto chart = trial_patient(6);
    ASSERT_FALSE(missing(early(chart), row.fact)) << row.name;
    row.lose(chart);
    const auto plan = early(chart);
    EXPECT_TRUE(missing(plan, row.fact)) << row.name;
    EXPECT_EQ(step(plan, Step::provide_missing).status, StepStatus::due) << row.name;
    EXPECT_GE(rest_of(plan), hours{6}) << row.name;
    if (row.fact == Fact::puncture_quality || row.fact == Fact::intervention || row.fact == Fact::compression_start) {
      EXPECT_FALSE(missing(early(chart, hm(23)), row.fact)) << row.name << ": once the rest has run out nobody needs it";
    }
  }
  auto ruled_out = trial_patient(6);
  ruled_out.index().uncomplicated = false;
  ruled_out.bolus(Agent::heparin, 5000, hm(12, 5));
  EXPECT_FALSE(missing(early(ruled_out), Fact::puncture_quality)) << "the row is out of reach";
  auto cautious_case = trial_patient(6);
  cautious_case.index().uncomplicated = false;
  EXPECT_FALSE(missing(cautious_case.plan(hm(16)), Fact::puncture_quality));
}

}  // namespace
}  // namespace clinical
