// Law 3 phase by phase: a larger sheath, or anything else that lengthens, never eases the pressure sooner. The rows: three stages of release, 10 min firm, 2 to
// 5 less firm, 2 light (interventional cardiology text); after a rebleed again the full hold, at least 20 min and not shorter than the first (own choice).
#include "course_support.h"

namespace clinical {
namespace {

struct Course {
  Closure method = Closure::manual;
  Closure again = Closure::manual;   // after the rebleed
  bool intervention = false;
  int first_hold = 0;      // min, before a rebleed; 0: no rebleed
};

CasePlan plan_of(const Course& course, int french) {
  Chart chart = course.intervention ? intervention_chart(french, course.method) : plain_chart(french, course.method);
  pull_at(chart, hm(15));
  if (course.first_hold == 0) return chart.plan(hm(15, 1));
  const Instant dry = hm(15) + minutes{course.first_hold};
  chart.event(AccessEventKind::compression_ended, dry);
  chart.event(AccessEventKind::haemostasis_confirmed, dry);
  chart.event(AccessEventKind::compression_started, hm(18)).method = course.again;
  return chart.plan(hm(18, 1));
}

/// When each phase begins and the hold ends, in minutes from its start: from the planned lengths, which are shown where an order is asked for too.
std::vector<minutes> starts(const CasePlan& plan) {
  std::vector<minutes> found{minutes{0}};
  for (const auto& m : plan.sites.at(0).milestones)
    if (m.step >= Step::firm_compression && m.step < Step::end_compression) found.push_back(found.back() + m.planned.value_or(minutes{0}));
  return found;
}

std::vector<Course> courses() {
  std::vector<Course> all;
  for (const auto method : {Closure::manual, Closure::mechanical})
    for (const auto again : {Closure::manual, Closure::mechanical})
      for (const bool intervention : {false, true})
        for (const int first : {0, 15, 17, 20, 23, 25, 28, 30, 32, 40}) all.push_back({method, again, intervention, first});
  return all;
}

TEST(PhaseOrder, ALargerSheathEasesNoPhaseSooner) {
  for (const auto& course : courses())
    for (int french = 4; french < 10; ++french) {
      const auto small = starts(plan_of(course, french)), large = starts(plan_of(course, french + 1));
      ASSERT_EQ(small.size(), large.size());
      for (std::size_t i = 0; i < small.size(); ++i)
        EXPECT_GE(large[i], small[i]) << french + 1 << " F, " << name_of(course.method) << " then " << name_of(course.again) << ", intervention " << course.intervention << ", first hold " << course.first_hold << ", phase " << i;
    }
}

TEST(PhaseOrder, AnInterventionEasesNoPhaseSooner) {
  for (auto course : courses())
    for (int french = 4; french <= 10; ++french) {
      course.intervention = false;
      const auto without = starts(plan_of(course, french));
      course.intervention = true;
      const auto with = starts(plan_of(course, french));
      ASSERT_EQ(without.size(), with.size());
      for (std::size_t i = 0; i < with.size(); ++i) EXPECT_GE(with[i], without[i]) << french << " F, " << name_of(course.method) << " then " << name_of(course.again) << ", first hold " << course.first_hold << ", phase " << i;
    }
}

// After a rebleed 5 F and 6 F are both held 20 min; 5 F is pressed firmly for 15 of them, so 6 F is not eased after 12.
TEST(PhaseOrder, TheSameHoldOfALargerSheathIsFirmAsLong) {
  for (const int french : {5, 6}) {
    const auto plan = plan_of({Closure::manual, Closure::manual, false, 15}, french);
    EXPECT_EQ(step(plan, Step::end_compression).planned, minutes{20}) << french;
    EXPECT_EQ(step(plan, Step::partial_compression).earliest, hm(18, 15)) << french;
    EXPECT_EQ(step(plan, Step::light_compression).earliest, hm(18, 18)) << french;
  }
}

TEST(PhaseOrder, TheRowsThemselvesAreSplitAsPublished) {
  const int rows[][4] = {{4, 10, 3, 2}, {5, 10, 3, 2}, {6, 12, 5, 3}, {7, 15, 6, 4}, {8, 15, 6, 4}, {9, 20, 6, 4}, {10, 20, 6, 4}};
  for (const auto& row : rows) {
    const auto plan = plan_of({}, row[0]);
    EXPECT_EQ(step(plan, Step::firm_compression).planned, minutes{row[1]}) << row[0];
    EXPECT_EQ(step(plan, Step::partial_compression).planned, minutes{row[2]}) << row[0];
    EXPECT_EQ(step(plan, Step::light_compression).planned, minutes{row[3]}) << row[0];
  }
}

}  // namespace
}  // namespace clinical
