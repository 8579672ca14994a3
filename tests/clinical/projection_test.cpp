// The fall of the ACT and the next sample.
#include "clinical/projection.h"

#include <cmath>

#include "gate_support.h"

namespace clinical {
namespace {

// ACT(t) = B + (A - B) x 2^(-t/T), A = 290 s, B = 130 s: minutes to 180, 170, 160, 150 s. Derived by arithmetic from the formula.
TEST(MinutesToFall, TableOfTheFormula) {
  const struct {
    double half_life, to180, to170, to160, to150;
  } rows[] = {{60, 100.7, 120.0, 144.9, 180.0}, {90, 151.0, 180.0, 217.4, 270.0}, {120, 201.4, 240.0, 289.8, 360.0}};
  for (const auto& row : rows) {
    EXPECT_NEAR(minutes_to_fall(290, 180, 130, row.half_life), row.to180, 0.05);
    EXPECT_NEAR(minutes_to_fall(290, 170, 130, row.half_life), row.to170, 0.05);
    EXPECT_NEAR(minutes_to_fall(290, 160, 130, row.half_life), row.to160, 0.05);
    EXPECT_NEAR(minutes_to_fall(290, 150, 130, row.half_life), row.to150, 0.05);
  }
}

// Trial means 343.32 s at 10 min, 291.26 s at 60 min (Chin J Cardiol 2013;41:480), B = 130: T = 50 x ln 2 / ln(213.32 / 161.26) = 123.9 min.
TEST(MinutesToFall, HalfLifeOfTheTrialMeans) { EXPECT_NEAR(50 / minutes_to_fall(343.32, 291.26, 130, 1), 123.9, 0.05); }

TEST(ActCurve, TenFiftyNinetyPerCentOfTheCurves) {  // T 67.5 / 90 / 120 min at three half-lives: 202.5, 270, 360 min
  const ActCurve curve({hm(13), 290}, 130, {90, 120}, {}, 10);
  EXPECT_EQ(curve.crossed(150, 0.1), hm(16, 22, 30));
  EXPECT_EQ(curve.crossed(150, 0.5), hm(17, 30));
  EXPECT_EQ(curve.crossed(150, 0.9), hm(19));
}

/// Direct sums over a coarse, independent grid of half-lives.
double reckoned_median(const std::vector<ActPoint>& later) {
  double sum = 0;
  std::vector<std::pair<double, double>> weights;
  for (double half_life = 20; half_life < 400; half_life += 0.01) {
    const double z = std::log(half_life / 90) / (std::log(120.0 / 90) / 1.2815515655446004);
    double weight = std::exp(-z * z / 2) / half_life;
    for (const auto& p : later) {
      const double off = (p.value - 130 - 160 * std::exp2(-static_cast<double>((p.at - hm(13)).count()) / 60 / half_life)) / 10;
      weight *= std::exp(-off * off / 2);
    }
    weights.emplace_back(half_life, sum += weight);
  }
  for (const auto& [half_life, cumulative] : weights)
    if (cumulative >= sum / 2) return half_life;
  return 0;
}

TEST(ActCurve, LaterValuesMoveTheHalfLife) {
  const std::vector<ActPoint> slow{{hm(15), 230}}, fast{{hm(15), 170}, {hm(15, 30), 160}};
  EXPECT_NEAR(ActCurve({hm(13), 290}, 130, {90, 120}, slow, 10).half_life(0.5), reckoned_median(slow), 0.05);
  EXPECT_NEAR(ActCurve({hm(13), 290}, 130, {90, 120}, fast, 10).half_life(0.5), reckoned_median(fast), 0.05);
  EXPECT_GT(ActCurve({hm(13), 290}, 130, {90, 120}, slow, 10).half_life(0.5), 90);
  EXPECT_LT(ActCurve({hm(13), 290}, 130, {90, 120}, fast, 10).half_life(0.5), 90);
}

TEST(ActCurve, WildValuesLeaveItFinite) {
  const ActCurve curve({hm(13), 290}, 130, {90, 120}, {{hm(13, 1), 101}, {hm(20), 349}}, 10);
  EXPECT_TRUE(std::isfinite(curve.half_life(0.1)) && std::isfinite(curve.half_life(0.9)));
  EXPECT_LE(curve.half_life(0.1), curve.half_life(0.9));
}

Bedside bed_with(std::initializer_list<std::pair<double, Instant>> acts) {
  Bedside bed = bare();
  bed.bolus(Agent::heparin, hm(12, 5), 6000);
  for (const auto& [value, at] : acts) bed.lab(Analyte::act, amount(value, "s"), at);
  return bed;
}
std::optional<Projection> project(const Bedside& bed, Instant now) { return project_act(bed.facts, cautious(), Clock(now)); }

TEST(ProjectAct, FromTheFirstValueAfterTheLastHeparin) {
  const auto p = project(bed_with({{290, hm(13)}}), hm(13, 30));
  ASSERT_TRUE(p && p->computed);
  EXPECT_EQ(p->p10, hm(16, 22, 30));
  EXPECT_EQ(p->p50, hm(17, 30));
  EXPECT_EQ(p->p90, hm(19));
  EXPECT_EQ(p->limit, whole(150));
  EXPECT_EQ(p->next_draw, hm(14)) << "the 50 % crossing, held to 60 min after the last draw";
}

TEST(ProjectAct, MeasuredBaselineOfTheSameAnalyserAndSite) {
  Bedside bed = bed_with({{110, hm(11, 30)}, {290, hm(13)}});
  EXPECT_EQ(project(bed, hm(14))->p50, hm(13) + seconds{std::llround(90 * 60 * std::log2(180.0 / 40))});
  bed.facts.measurements.front().analyser = "analyser B";
  EXPECT_EQ(project(bed, hm(14))->p50, hm(17, 30)) << "130 s";
}

TEST(ProjectAct, RefusesWhatTheFormulaIsNotFor) {
  const struct {
    const char* name;
    std::function<void(Bedside&)> change;
  } rows[] = {
      {"no value yet", [](Bedside& b) { b.facts.measurements.clear(); }},
      {"over 350 s", [](Bedside& b) { b.facts.measurements.front().value = amount(351, "s"); }},
      {"a comparator", [](Bedside& b) { b.facts.measurements.front().value = compared(Comparator::greater, 300, "s"); }},
      {"already under the limit", [](Bedside& b) { b.facts.measurements.front().value = amount(140, "s"); }},
      {"baseline at the limit", [](Bedside& b) { b.lab(Analyte::act, 150, hm(11)); }},
      {"bivalirudin", [](Bedside& b) { b.bolus(Agent::bivalirudin, hm(12)); }},
      {"protamine", [](Bedside& b) { b.bolus(Agent::protamine, hm(13, 20)); }},
      {"heparin since then", [](Bedside& b) { b.bolus(Agent::heparin, hm(13, 20)); }},
      {"a later value with a comparator", [](Bedside& b) { b.lab(Analyte::act, compared(Comparator::less, 200, "s"), hm(13, 20)); }},
  };
  for (const auto& row : rows) {
    Bedside bed = bed_with({{290, hm(13)}});
    row.change(bed);
    const auto p = project(bed, hm(13, 30));
    ASSERT_TRUE(p) << row.name;
    EXPECT_FALSE(p->computed || p->p10 || p->p50 || p->p90) << row.name;
  }
}

TEST(ProjectAct, NeverAcrossAnalysersOrSites) {
  Bedside bed = bed_with({{290, hm(13)}, {160, hm(14)}});
  EXPECT_NE(project(bed, hm(14, 5))->p50, hm(17, 30));
  for (const auto change : {+[](Measurement& m) { m.analyser = "analyser B"; }, +[](Measurement& m) { m.sampling_site = "vein"; },
                            +[](Measurement& m) { m.analyser.clear(); }}) {
    Bedside other = bed;
    change(other.facts.measurements.back());
    EXPECT_EQ(project(other, hm(14, 5))->p50, hm(17, 30));
  }
  for (auto& m : bed.facts.measurements) m.analyser.clear();
  EXPECT_EQ(project(bed, hm(14, 5))->p50, hm(17, 30)) << "unknown never equals unknown";
}

TEST(ProjectAct, NextDraw) {
  EXPECT_EQ(project(bed_with({}), hm(13))->next_draw, hm(15, 5)) << "first: 3 h after the last heparin";
  EXPECT_EQ(project(bed_with({}), hm(18))->next_draw, hm(15, 5)) << "a late one keeps its instant";
  EXPECT_EQ(project(bed_with({{170, hm(13)}}), hm(13, 5))->next_draw, hm(14)) << "crossing at 13:00 + 90 min, at most 60 min";
  EXPECT_EQ(project(bed_with({{155, hm(13)}}), hm(13, 5))->next_draw, hm(13, 30)) << "crossing after 29 min, at least 30 min";
  EXPECT_EQ(project(bed_with({{140, hm(14)}}), hm(14, 20))->next_draw, std::nullopt) << "a fresh value under the limit";
  EXPECT_EQ(project(bed_with({{140, hm(14)}}), hm(14, 31))->next_draw, hm(14, 30)) << "no longer fresh";
  // The eptifibatide US label (older copy) takes either test; no source lets an aPTT outweigh a fresh ACT over its limit (own choice, no source).
  Bedside both = bed_with({{250, hm(13)}});
  both.lab(Analyte::aptt, 38, hm(12, 55));
  EXPECT_EQ(project(both, hm(13, 5))->next_draw, hm(14)) << "the ACT keeps its gate closed: another is drawn";
  Bedside by_aptt = bed_with({});
  by_aptt.lab(Analyte::aptt, 38, hm(12, 55));
  EXPECT_EQ(project(by_aptt, hm(13, 5))->next_draw, std::nullopt) << "the aPTT opens the gate";
  Bedside reversed = bed_with({{290, hm(13)}});
  reversed.bolus(Agent::protamine, hm(13, 5));
  EXPECT_EQ(project(reversed, hm(13, 6))->next_draw, hm(13, 15)) << "as soon as a draw counts after protamine";
  Bedside running = bed_with({});
  running.infusion(Agent::heparin, hm(12), {});
  EXPECT_FALSE(project(running, hm(14)));
  EXPECT_FALSE(project(bare(), hm(14))) << "no heparin";
}

}  // namespace
}  // namespace clinical
