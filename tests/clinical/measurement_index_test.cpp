// What is looked up once instead of again and again says the same.
#include <gtest/gtest.h>

#include "clinical/measurement_index.h"
#include "clinical/projection.h"
#include "gate_support.h"

namespace clinical {
namespace {

Measurement drawn(Analyte analyte, std::optional<Moment> at, const char* reference) {
  Measurement m;
  m.source.reference = reference;
  m.analyte = analyte;
  m.at = at;
  return m;
}

std::string references(MeasurementIndex::Measurements measurements) {
  std::string found;
  for (const auto* m : measurements) found += m->source.reference;
  return found;
}

TEST(MeasurementIndex, GivesTheOnesOfOneKindAsTheyStandAndByTime) {
  const Moment morning{hm(8), hm(12)};
  const std::vector<Measurement> all{drawn(Analyte::act, exactly(hm(15)), "a"), drawn(Analyte::inr, exactly(hm(9)), "b"), drawn(Analyte::act, {}, "c"),
                                     drawn(Analyte::act, exactly(hm(10)), "d"), drawn(Analyte::act, morning, "e"), drawn(Analyte::act, exactly(hm(15)), "f"),
                                     drawn(Analyte::temperature, exactly(hm(7)), "g")};
  const MeasurementIndex index(all);
  EXPECT_EQ(references(index.of(Analyte::act)), "acdef");
  EXPECT_EQ(references(index.timed(Analyte::act)), "edaf") << "no untimed one; those of one time as they stand";
  EXPECT_EQ(references(index.timed(Analyte::temperature)), "g");
  EXPECT_EQ(references(index.of(Analyte::aptt)), "");
  EXPECT_TRUE(MeasurementIndex({}).timed(Analyte::act).empty());
}

TEST(LastActCurve, IsTheCurveMadeAfresh) {
  const ActPoint anchor{hm(13), 290}, other{hm(13), 280};
  const HalfLifePrior prior{90, 120};
  const std::vector<ActPoint> one{{hm(13, 30), 260}}, three{{hm(13, 30), 260}, {hm(14), 235}, {hm(14, 30), 200}}, another{{hm(13, 40), 250}, {hm(14), 235}};
  LastActCurve last;
  const auto expect_same = [&](const ActPoint& from, const std::vector<ActPoint>& later, const char* what) {
    const ActCurve fresh(from, 130, prior, later, 10);
    const ActCurve& kept = last.of(from, 130, prior, later, 10);
    for (const double share : {0.1, 0.5, 0.9}) EXPECT_EQ(kept.half_life(share), fresh.half_life(share)) << what;
  };
  expect_same(anchor, one, "the first");
  expect_same(anchor, one, "the same again");
  expect_same(anchor, three, "goes on");
  expect_same(anchor, another, "other points");
  expect_same(anchor, {}, "fewer points");
  expect_same(other, three, "another anchor");
}

}  // namespace
}  // namespace clinical
