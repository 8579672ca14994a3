// The laws as properties: nothing gets shorter by adding a risk or losing a demanded fact; the order of facts does not matter; the written
// plan stands still until next_change.
#include <algorithm>
#include <random>
#include <string>

#include "clinical/modifiers.h"
#include "course_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

Chart dry_chart(std::mt19937& random) {
  const auto pick = [&](int below) { return static_cast<int>(random() % static_cast<unsigned>(below)); };
  const Closure closures[] = {Closure::manual, Closure::manual, Closure::mechanical, Closure::device, Closure::suture};
  Chart chart = pick(2) ? plain_chart(4 + pick(6), closures[pick(5)]) : intervention_chart(4 + pick(6), closures[pick(5)]);
  pull_at(chart, hm(15));
  chart.event(compression_ended, hm(16, pick(30)));
  chart.event(haemostasis_confirmed, chart.record.access_events.back().at->latest);
  return chart;
}

struct Change {
  const char* name;
  std::function<void(Chart&)> apply;
};

void drop(Chart& chart, Analyte analyte) {
  std::erase_if(chart.record.measurements, [&](const Measurement& m) { return m.analyte == analyte; });
}

const std::vector<Change>& risks() {
  static const std::vector<Change> all{
      {"agitation", [](Chart& c) { c.risk(RiskKind::agitation); }},
      {"steroids", [](Chart& c) { c.risk(RiskKind::steroids); }},
      {"arterial disease", [](Chart& c) { c.risk(RiskKind::arterial_disease); }},
      {"calcification", [](Chart& c) { c.risk(RiskKind::calcification); }},
      {"dialysis", [](Chart& c) { c.risk(RiskKind::dialysis); }},
      {"two punctures", [](Chart& c) { c.index().punctures = 2; }},
      {"high stick", [](Chart& c) { c.index().high_stick = true; }},
      {"GP inhibitor", [](Chart& c) { c.bolus(Agent::eptifibatide, 0, hm(12, 20)); }},
      {"fibrinolytic", [](Chart& c) { c.bolus(Agent::alteplase, 0, hm(12, 20)); }},
      {"platelets 70", [](Chart& c) { c.lab(Analyte::platelets, 70, hm(13, 20)); }},
      {"INR 1.7", [](Chart& c) { c.lab(Analyte::inr, 1.7, hm(13, 20)); }},
      {"pressure 165 on bed rest", [](Chart& c) { c.pressure(165, hm(17)); }},
      {"80 years old", [](Chart& c) { c.record.patient.birth = exactly(std::chrono::sys_days{std::chrono::year{1946} / 1 / 1}); }},
      {"weight 130 instead of 80",
       [](Chart& c) {
         for (auto& m : c.record.measurements)
           if (m.analyte == Analyte::weight) m.value = amount(130, "kg");
       }},
      {"creatinine 3", [](Chart& c) { c.lab(Analyte::creatinine, 3, hm(13, 30)); }},
      {"swelling 3 cm", [](Chart& c) { c.check(hm(16, 40)).swelling = amount(3, "cm"); }},
      {"rebleed", [](Chart& c) { c.event(compression_started, hm(17)); c.event(compression_ended, hm(18, 59)); c.event(haemostasis_confirmed, hm(18, 59)); }},
      {"platelets lost", [](Chart& c) { drop(c, Analyte::platelets); }},
      {"creatinine lost", [](Chart& c) { drop(c, Analyte::creatinine); }},
      {"weight lost", [](Chart& c) { drop(c, Analyte::weight); }},
      {"height lost", [](Chart& c) { drop(c, Analyte::height); }},
      {"ACT lost", [](Chart& c) { drop(c, Analyte::act); }},
      {"pressure at the pull lost",   // a pressure on bed rest is an observed event: not recorded adds nothing
       [](Chart& c) { std::erase_if(c.record.measurements, [](const Measurement& m) { return m.analyte == Analyte::systolic && m.at->latest < hm(15); }); }},
      {"intervention not known", [](Chart& c) { c.index().intervention = Tristate::unknown; }},
      {"anticoagulants and statements lost",   // adds of other drugs that nobody recorded are observed events
       [](Chart& c) {
         c.record.statements.clear();
         std::erase_if(c.record.administrations, [](const Administration& a) { return is_anticoagulant(a.agent); });
       }},
      {"birth date lost", [](Chart& c) { c.record.patient.birth.reset(); }},
      {"side lost", [](Chart& c) { c.index().sides.clear(); }},
  };
  return all;
}

// null counts as later than any time.
bool earlier(const std::optional<Instant>& a, const std::optional<Instant>& b) { return a && (!b || *a < *b); }

void expect_nothing_earlier(const CasePlan& before, const CasePlan& after) {
  for (const Step s : {Step::end_compression, Step::raise_head, Step::sit_up, Step::stand_and_walk, Step::discharge_check}) {
    const auto &was = step(before, s), &is = step(after, s);
    // A step whose clock has run and that a stale check blocks keeps its clock in `expected`.
    EXPECT_FALSE(earlier(is.earliest ? is.earliest : is.expected, was.earliest ? was.earliest : was.expected)) << name_of(s);
    EXPECT_FALSE(was.after_t0 && is.after_t0 && *is.after_t0 < *was.after_t0) << name_of(s);
    EXPECT_FALSE(was.planned && is.planned && *is.planned < *was.planned) << name_of(s);
  }
  EXPECT_FALSE(before.up_at && earlier(after.up_at, before.up_at));
}

TEST(LawThree, ARiskMoreOrAFactLessMovesNothingEarlier) {
  std::mt19937 random(20260302);
  for (int round = 0; round < 60; ++round) {
    Chart chart = dry_chart(random);
    for (int depth = 0; depth < 4; ++depth) {
      const auto before = chart.plan(hm(19));
      const auto& change = risks()[random() % risks().size()];
      change.apply(chart);
      SCOPED_TRACE(std::to_string(round) + "/" + std::to_string(depth) + " " + change.name);
      expect_nothing_earlier(before, chart.plan(hm(19)));
      if (testing::Test::HasFailure()) return;
    }
  }
}

TEST(LawThree, EachRiskAloneBeforeThePullLengthensNoLess) {
  for (const auto closure : {Closure::manual, Closure::mechanical, Closure::device}) {
    for (const auto& change : risks()) {
      SCOPED_TRACE(change.name);
      auto chart = intervention_chart(6, closure);
      const auto before = chart.plan(hm(14));
      change.apply(chart);
      expect_nothing_earlier(before, chart.plan(hm(14)));
    }
  }
}

TEST(LawFive, TheOrderOfFactsDoesNotMatter) {
  std::mt19937 random(7);
  for (int round = 0; round < 15; ++round) {
    Chart chart = dry_chart(random);
    for (int i = 0; i < 4; ++i) risks()[random() % 17].apply(chart);
    const auto expected = written_view(chart.plans(hm(19)));
    auto& r = chart.record;
    for (int shuffle = 0; shuffle < 3; ++shuffle) {
      std::ranges::shuffle(r.access_events, random);
      std::ranges::shuffle(r.administrations, random);
      std::ranges::shuffle(r.measurements, random);
      std::ranges::shuffle(r.checks, random);
      std::ranges::shuffle(r.risks, random);
      std::ranges::shuffle(r.statements, random);
      ASSERT_EQ(written_view(chart.plans(hm(19))), expected) << "round " << round;
    }
  }
}

TEST(Modifiers, TheSumDoesNotDependOnTheirOrder) {
  const auto& p = cautious();
  std::vector<Modifier> modifiers(5);
  const Setting* holds[] = {&p.add_gp_hold, &p.add_platelets_hold, &p.add_inr_hold, &p.add_wall_hold, &p.add_lysis_hold};
  const char* names[] = {"gp-inhibitor", "platelets", "inr", "vessel-wall", "fibrinolytic"};
  for (std::size_t i = 0; i < 5; ++i) modifiers[i].name = names[i], modifiers[i].hold = holds[i];
  std::ranges::sort(modifiers, {}, &Modifier::name);
  do {
    Tally tally;
    add_all(tally, modifiers, &Modifier::hold, p.hold_add_further, p.hold_add_longest);
    ASSERT_EQ(tally.value(), minutes{15});   // 15 + 5 x 4, at most 15
  } while (std::ranges::next_permutation(modifiers, {}, &Modifier::name).found);
  modifiers.resize(2);
  modifiers[0].hold = &p.add_gp_hold;
  modifiers[1].hold = &p.add_platelets_hold;
  Tally two;
  add_all(two, modifiers, &Modifier::hold, p.hold_add_further, p.hold_add_longest);
  EXPECT_EQ(two.value(), minutes{15});       // 10 + 5
}

// For random records the written plan is the same at every instant before next_change.
TEST(NextChange, TheWrittenPlanStandsStillUntilThen) {
  std::mt19937 random(11);
  for (int round = 0; round < 40; ++round) {
    Chart chart = random() % 2 ? intervention_chart(4 + static_cast<int>(random() % 6)) : plain_chart(6, Closure::mechanical);
    for (int i = 0; i < 3; ++i) risks()[random() % risks().size()].apply(chart);
    if (random() % 3) pull_at(chart, hm(15));
    if (random() % 2) chart.event(haemostasis_confirmed, hm(16, static_cast<int>(random() % 60)));
    for (int i = 0; i < 5; ++i) chart.check(hm(13 + static_cast<int>(random() % 12), static_cast<int>(random() % 60)));
    for (int i = 0; i < 3; ++i) chart.pressure(100 + static_cast<int>(random() % 80), hm(13 + static_cast<int>(random() % 12), static_cast<int>(random() % 60)));
    Instant now = hm(13) + seconds{static_cast<std::int64_t>(random() % 50000)};
    for (int hop = 0; hop < 6; ++hop) {
      const auto plans = chart.plans(now);
      const auto view = written_view(plans);
      if (plans.empty() || !plans.front().next_change) break;
      const Instant next = *plans.front().next_change;
      ASSERT_GT(next, now);
      for (int i = 0; i < 4; ++i) {
        const auto between = now + (next - now) * static_cast<std::int64_t>(random() % 1000) / 1000;
        ASSERT_EQ(written_view(chart.plans(between)), view) << "round " << round << " hop " << hop;
        ASSERT_EQ(chart.plans(between).front().next_change, next);
      }
      ASSERT_EQ(written_view(chart.plans(next - seconds{1})), view) << "round " << round << " hop " << hop;
      now = next;
    }
  }
}

TEST(NextChange, MovesOnTheHourForTheValidity) {
  auto chart = intervention_chart(6);
  pull_at(chart, hm(15));
  chart.event(haemostasis_confirmed, hm(15, 25));
  const auto plan = chart.plan(hm(20, 10));
  EXPECT_EQ(plan.valid_until, hm(22));
  ASSERT_TRUE(plan.next_change);
  EXPECT_LE(*plan.next_change, hm(21));
}

}  // namespace
}  // namespace clinical
