// From when and for how long a groin is looked at where the record tells little: no end of the procedure, a hold that nobody ends, a protocol with odd spacings, bed
// rest that outlasts the case. Series of the clinical model, "Watching": with the sheath in q15 x4 then hourly from arrival or the index end; while pressed every 5 min.
#include <gmock/gmock.h>

#include <algorithm>

#include "mutants_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

std::vector<std::string> open_checks(const CasePlan& plan, std::size_t most = 3) {
  std::vector<std::string> all;
  for (const auto& m : plan.sites.at(0).milestones)
    if (m.step == Step::check_site && (m.status == StepStatus::due || m.status == StepStatus::expected) && all.size() < most) all.push_back(say(m.earliest));
  return all;
}
std::string first_check(const CasePlan& plan) {
  for (const auto& m : plan.sites.at(0).milestones)
    if (m.step == Step::check_site) return say(m.earliest);
  return "none";
}

TEST(WatchFrom, TheEndElseTheSheathElseTheStart) {
  const auto first = [](const std::function<void(Chart&)>& change) {
    Chart chart = plain_chart(6);
    change(chart);
    return first_check(chart.plan(hm(13, 5)));
  };
  const auto endless = [](Chart& c) { c.index().end.reset(); };
  EXPECT_EQ(first([](Chart&) {}), "13:15") << "from the end";
  EXPECT_EQ(first(endless), "12:15") << "from the start";
  EXPECT_EQ(first([&](Chart& c) { endless(c), c.event(sheath_inserted, hm(12, 10)); }), "12:25");
  EXPECT_EQ(first([&](Chart& c) { endless(c), c.event(sheath_inserted, hm(12, 10)).at = Moment{hm(12, 5), hm(12, 10)}; }), "12:15") << "roughly then: it starts no clock";
  EXPECT_EQ(first([&](Chart& c) { endless(c), c.event(sheath_inserted, hm(12, 10)).at.reset(); }), "12:15");
  EXPECT_EQ(first([&](Chart& c) { endless(c), c.event(sheath_upsized, hm(12, 20)).french = whole(7); }), "12:15") << "a larger one through the same hole is no arrival";
  EXPECT_EQ(first([&](Chart& c) { endless(c), c.index().start = Moment{hm(11), hm(12)}; }), "none") << "nobody knows from when";
}

// "On while nobody confirms haemostasis": also the day after, when somebody forgot to record it. By hand as under a device.
TEST(WatchWhilePressed, GoesOnUntilHaemostasisIsRecorded) {
  for (const auto closure : {Closure::manual, Closure::mechanical}) {
    Chart chart = plain_chart(6, closure);
    pull_at(chart, hm(15));
    EXPECT_FALSE(open_checks(chart.plan(hm(15 + 6))).empty());
    EXPECT_FALSE(open_checks(chart.plan(hm(15 + 30))).empty()) << name_of(closure);
    const auto checks = open_checks(chart.plan(hm(15 + 30, 1)), 1000);
    EXPECT_EQ(checks.back(), closure == Closure::manual ? "+1d 21:05" : "+1d 21:15") << "and no further than the next: every 5 min by hand, every 15 from 15:45 on under a device";
  }
}

// A spacing of nothing, or one longer than the hold: the list stays finite, and the slow series of the low hold still begins where it begins.
TEST(WatchWhilePressed, WithOddSpacings) {
  Chart chart = plain_chart(6, Closure::mechanical);
  pull_at(chart, hm(15));
  Protocol p = cautious();
  const auto low = *step(chart.plan(hm(15, 5)), Step::firm_compression).planned + *step(chart.plan(hm(15, 5)), Step::partial_compression).planned +
                   *step(chart.plan(hm(15, 5)), Step::reduce_pressure).planned;
  p.check_compression.micro = whole(600);
  EXPECT_EQ(first_check(chart.plan(hm(15, 5), p)), say(hm(15) + low + minutes{15}));
  p.check_compression.micro = p.check_low_hold.micro = 0;
  EXPECT_EQ(first_check(chart.plan(hm(15, 5), p)), "none");
}

TEST(WatchAfterHaemostasis, ASeriesWithoutASpacingEnds) {
  Chart chart = plain_chart(6);
  pull_at(chart, hm(15));
  chart.event(haemostasis_confirmed, hm(15, 20));
  Protocol p = cautious();
  for (auto& s : p.series_standard.steps) s.every = minutes{0};
  EXPECT_THAT(open_checks(chart.plan(hm(15, 25), p)), testing::Each(testing::AnyOf("17:20", "20:50", "21:20", "22:20"))) << "only those at the steps of getting up";
}

// The case ends 48 h after the last T0; a check at a step of getting up that an order put later than that is not due in it.
TEST(WatchAfterHaemostasis, NoneAfterTheCase) {
  Chart chart = plain_chart(6);
  pull_at(chart, hm(15));
  chart.event(haemostasis_confirmed, hm(15, 20));
  Order order;
  order.source = chart.source();
  order.kind = OrderKind::bed_rest;
  order.title = "Bed rest (invented)";
  order.length = minutes{72 * 60};
  chart.record.orders.push_back(order);
  const auto plan = chart.plan(hm(16));
  EXPECT_EQ(step(plan, Step::stand_and_walk).planned, minutes{72 * 60});
  EXPECT_TRUE(std::ranges::none_of(plan.sites[0].milestones, [](const Milestone& m) { return m.step == Step::check_site && *m.earliest > hm(15 + 48, 20); }));
}

// Late for one check and in time for the next; before the first and after the last there is only one it can count for.
TEST(MissedChecks, ALookBeforeTheFirstCheckIsNone) {
  Chart chart = plain_chart(6);
  pull_at(chart, hm(15));
  chart.event(haemostasis_confirmed, hm(15, 20));
  chart.check(hm(15, 22));
  EXPECT_FALSE(find_alert(chart.plan(hm(15, 40)), "missed-check"));
  EXPECT_TRUE(find_alert(chart.plan(hm(15, 36) + minutes{14}), "missed-check") || find_alert(chart.plan(hm(16, 5)), "missed-check")) << "the check of 15:35 was not made";
  chart.check(hm(15, 36));
  EXPECT_FALSE(find_alert(chart.plan(hm(15, 49)), "missed-check"));
}

}  // namespace
}  // namespace clinical
