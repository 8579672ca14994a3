// Cockcroft and Gault, Nephron 1976;16:31.
#include "clinical/clearance.h"

#include <cmath>

#include "gate_support.h"

namespace clinical {
namespace {

TEST(CockcroftGault, PublishedAndWorkedExamples) {
  const struct {
    const char* source;
    Sex sex;
    int age;
    double weight, creatinine, expected, tolerance;
  } rows[] = {
      {"superglobalcalculator.com / tabers.com / rxkinetics.com: M 65 y 70 kg 1.4", Sex::male, 65, 70, 1.4, 52.1, 0.05},
      {"same: F 45 y 60 kg 0.9", Sex::female, 45, 60, 0.9, 74.8, 0.05},
      {"same: M 60 y 80 kg 1.2", Sex::male, 60, 80, 1.2, 74.1, 0.05},
      {"same: F 45 y 65 kg 0.9, printed 80.9, cut off from 81.0", Sex::female, 45, 65, 0.9, 81.0, 0.05},
      {"worked by hand: F 82 y 58 kg 1.6: 58 x 58 / 115.2 x 0.85", Sex::female, 82, 58, 1.6, 24.82, 0.005},
      {"worked by hand: M 67 y 88 kg 1.1", Sex::male, 67, 88, 1.1, 81.1, 0.05},
      {"worked by hand: M 74 y 92 kg 2.1", Sex::male, 74, 92, 2.1, 40.2, 0.05},
  };
  for (const auto& row : rows) EXPECT_NEAR(cockcroft_gault(row.age, row.weight, row.creatinine, row.sex), row.expected, row.tolerance) << row.source;
}

// Ideal weight 50 (45.5) kg + 2.3 kg per inch over 60 in, + 0.4 of the rest (rxkinetics.com): 70 in: 73 kg; 100 kg -> 83.8 kg.
TEST(AdjustedWeight, OfTallAndHeavy) {
  EXPECT_NEAR(adjusted_weight(100, 177.8, Sex::male), 83.8, 1e-9);
  EXPECT_NEAR(adjusted_weight(100, 177.8, Sex::female), 68.5 + 0.4 * 31.5, 1e-9);
}

ClearanceResult of(const Bedside& bed, Instant now = hm(15)) { return clearance_at(bed.facts, cautious(), Clock(now)); }

TEST(ClearanceAt, TakesTheLowerOfActualAndAdjustedWeight) {
  Bedside bed = ready();  // 65 y, 80 kg, 180 cm, 1.0 mg/dL
  EXPECT_NEAR(of(bed).clearance->millilitres_per_minute, cockcroft_gault(65, adjusted_weight(80, 180, Sex::male), 1.0, Sex::male), 1e-9);
  bed.lab(Analyte::weight, 60, hm(9));
  EXPECT_NEAR(of(bed).clearance->millilitres_per_minute, cockcroft_gault(65, 60, 1.0, Sex::male), 1e-9);
}

TEST(ClearanceAt, AgeIsThatOfTheProcedureDate) {
  Bedside bed = ready();
  const auto with_birth = [&](unsigned day) {
    bed.facts.patient.birth = exactly(std::chrono::sys_days{std::chrono::year{1960} / std::chrono::March / day});
    return of(bed).clearance->millilitres_per_minute;
  };
  EXPECT_NEAR(with_birth(3) / with_birth(2), 75.0 / 74.0, 1e-9) << "66 from the birthday on";
  bed.facts.patient.birth = Moment{std::chrono::sys_days{std::chrono::year{1960} / 1 / 1}, std::chrono::sys_days{std::chrono::year{1960} / 12 / 31}};
  EXPECT_NEAR(of(bed).clearance->millilitres_per_minute, with_birth(2), 1e-9) << "a year only: the oldest that it allows";
}

TEST(ClearanceAt, IsNullWhereAFactIsMissingOrOld) {
  const struct {
    const char* name;
    std::function<void(Bedside&)> change;
    std::vector<Fact> missing;
  } rows[] = {
      {"no creatinine", [](Bedside& b) { std::erase_if(b.facts.measurements, [](const auto& m) { return m.analyte == Analyte::creatinine; }); }, {Fact::creatinine}},
      {"72 h and 1 s old", [](Bedside& b) { for (auto& m : b.facts.measurements) if (m.analyte == Analyte::creatinine) m.at = exactly(hm(-57, 0, -1)); }, {Fact::creatinine}},
      {"a comparator", [](Bedside& b) { b.lab(Analyte::creatinine, compared(Comparator::less, 0.9), hm(9)); }, {Fact::creatinine}},
      {"no weight", [](Bedside& b) { std::erase_if(b.facts.measurements, [](const auto& m) { return m.analyte == Analyte::weight; }); }, {Fact::weight}},
      {"weight of 31 d ago", [](Bedside& b) { for (auto& m : b.facts.measurements) if (m.analyte == Analyte::weight) m.at = exactly(hm(15 - 31 * 24)); }, {Fact::weight}},
      {"no birth date", [](Bedside& b) { b.facts.patient.birth.reset(); }, {Fact::birth_date}},
      {"sex not recorded", [](Bedside& b) { b.facts.patient.sex = Sex::unknown; }, {}},
  };
  for (const auto& row : rows) {
    Bedside bed = ready();
    row.change(bed);
    EXPECT_FALSE(of(bed).clearance) << row.name;
    EXPECT_EQ(of(bed).missing, row.missing) << row.name;
  }
}

TEST(ClearanceAt, WeightOfThisStayCountsAtAnyAge) {
  Bedside bed = ready();
  for (auto& m : bed.facts.measurements)
    if (m.analyte == Analyte::weight) m.at = exactly(hm(15 - 31 * 24));
  bed.facts.encounter.emplace().start = exactly(hm(-32 * 24));
  EXPECT_TRUE(of(bed).clearance);
}

TEST(ClearanceAt, HeightMustBeAnAdults) {
  Bedside bed = ready();
  EXPECT_FALSE(of(bed).band_worse);
  for (auto& m : bed.facts.measurements)
    if (m.analyte == Analyte::height) m.at = exactly(std::chrono::sys_days{std::chrono::year{1978} / 6 / 14});
  EXPECT_TRUE(of(bed).band_worse) << "the day before the 18th birthday";
  EXPECT_EQ(of(bed).missing, std::vector{Fact::height});
}

// KDIGO acute kidney injury guideline 2012 (from memory): by 0.3 mg/dL in 48 h, or by half in 7 d.
TEST(ClearanceAt, RisingCreatinineIsUnstable) {
  const struct {
    double before;
    Instant at;
    bool unstable;
  } rows[] = {{0.7, hm(-40), true}, {0.71, hm(-40), false}, {0.7, hm(-40, 0, -1), false}, {0.66, hm(-100), true}, {0.67, hm(-100), false}, {1.6, hm(-20), false}};
  for (const auto& row : rows) {
    Bedside bed = ready();  // 1.0 mg/dL at 08:00
    bed.lab(Analyte::creatinine, row.before, row.at);
    EXPECT_EQ(of(bed).unstable, row.unstable) << row.before;
    EXPECT_EQ(of(bed).clearance.has_value(), !row.unstable) << row.before;
  }
}

TEST(ClearanceRow, EdgesFallInTheMoreImpairedRow) {
  ClearanceResult result;
  const auto row = [&](double value) {
    result.clearance = Clearance{value, {}};
    return clearance_row(result, {whole(60), whole(30), whole(10)});
  };
  EXPECT_EQ(row(60.0001), 0U);
  EXPECT_EQ(row(60), 1U);
  EXPECT_EQ(row(30), 2U);
  EXPECT_EQ(row(10), 3U);
  result.band_worse = true;
  EXPECT_EQ(row(90), 1U);
  EXPECT_EQ(row(9), 3U);
  result.dialysis = true;
  EXPECT_FALSE(row(90));
}

}  // namespace
}  // namespace clinical
