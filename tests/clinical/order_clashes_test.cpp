// Orders that say otherwise than the plan are named one by one, with what each says (outer contract, "DetectedIssue only for orders that clash with the plan").
// That an order binds whoever cares for the patient, and that of two lengths the longer counts: common practice, no source.
#include <gmock/gmock.h>

#include "clinical/change.h"
#include "mutants_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;
using testing::ElementsAre;
using testing::IsEmpty;

Order& order(Chart& chart, OrderKind kind, std::string title) {
  Order o;
  o.source = chart.source();
  o.kind = kind;
  o.title = std::move(title);
  o.written = exactly(hm(13));
  return chart.record.orders.emplace_back(std::move(o));
}

/// Every gate open from 15:00, fresh until 15:15.
Chart ready_chart() {
  Chart chart = plain_chart(6);
  chart.pressure(128, hm(15));
  chart.lab(Analyte::heart_rate, 70, hm(15));
  chart.check(hm(15));
  return chart;
}

/// 6 F by hand: dry at 15:20, 6 h of rest.
Chart resting() {
  Chart chart = plain_chart(6);
  pull_at(chart, hm(15));
  chart.event(haemostasis_confirmed, hm(15, 20));
  return chart;
}

std::vector<std::string> clashes(const std::function<void(Chart&)>& change, Instant now = hm(15, 5), Chart chart = ready_chart()) {
  change(chart);
  std::vector<std::string> all;
  for (const auto& one : chart.plan(now).order_clashes) all.push_back(std::string(name_of(one.kind)) + " " + one.site + " " + say(one.why));
  return all;
}

TEST(OrderClashes, NoneWhereNothingIsOrderedOrBothSayTheSame) {
  EXPECT_THAT(clashes([](Chart&) {}), IsEmpty());
  EXPECT_THAT(clashes([](Chart& c) { order(c, OrderKind::bed_rest, "Rest").length = minutes{360}; }, hm(15, 30), resting()), IsEmpty());
}

TEST(OrderClashes, BedRestOfAnotherLengthEitherWay) {
  const auto rest = [](int m) { return [m](Chart& c) { order(c, OrderKind::bed_rest, "Rest").length = minutes{m}; }; };
  EXPECT_THAT(clashes(rest(480), hm(15, 30), resting()), ElementsAre("bed-rest Procedure/p1 clash.bed-rest{what=Rest ordered=8 h planned=6 h}"));
  EXPECT_THAT(clashes(rest(240), hm(15, 30), resting()), ElementsAre("bed-rest Procedure/p1 clash.bed-rest{what=Rest ordered=4 h planned=6 h}"));
  EXPECT_THAT(clashes(rest(480), hm(15 + 49), resting()), IsEmpty()) << "the case is over";
}

TEST(OrderClashes, AnOrderThatKeepsTheSheathInOnlyWhereEveryGateIsOpen) {
  const auto forbid = [](Chart& c) { order(c, OrderKind::sheath_removal, "Leave it").forbids = true; };
  EXPECT_THAT(clashes(forbid), ElementsAre("sheath-removal Procedure/p1 clash.removal-forbidden{what=Leave it}"));
  EXPECT_THAT(clashes(forbid, hm(15, 40)), IsEmpty()) << "the values are old by then: the rules say not now as well";
  EXPECT_THAT(clashes(forbid, hm(15, 5), resting()), IsEmpty()) << "it is out";
  const auto at = [](Instant t) { return [t](Chart& c) { order(c, OrderKind::sheath_removal, "Later").not_before = exactly(t); }; };
  EXPECT_THAT(clashes(at(hm(15, 10))), ElementsAre("sheath-removal Procedure/p1 clash.removal-later{what=Later at=15:10}"));
  EXPECT_THAT(clashes(at(hm(18))), ElementsAre("sheath-removal Procedure/p1 clash.removal-later{what=Later at=18:00}"));
  EXPECT_THAT(clashes(at(hm(15, 10)), hm(15, 10)), IsEmpty()) << "its time has come";
  EXPECT_THAT(clashes([](Chart& c) { order(c, OrderKind::sheath_removal, "Other groin").forbids = true, c.record.orders.back().side = Side::left; }), IsEmpty());
}

TEST(OrderClashes, ADrugThatActsOnClottingUntilHaemostasis) {
  const auto drug = [](Agent agent) {
    return [agent](Chart& c) {
      auto& o = order(c, OrderKind::drug, "Drug");
      o.agent = agent;
      o.due = {exactly(hm(20))};
    };
  };
  EXPECT_THAT(clashes(drug(Agent::enoxaparin)), ElementsAre("drug  caution.ordered-drug-at{drug=Drug at=20:00}"));
  EXPECT_THAT(clashes(drug(Agent::other)), IsEmpty());
  EXPECT_THAT(clashes(drug(Agent::enoxaparin), hm(15, 30), resting()), IsEmpty());
}

TEST(OrderClashes, EachIsAnItemOfItsOwnUntilItIsOver) {
  Chart chart = ready_chart();
  order(chart, OrderKind::drug, "Drug").agent = Agent::enoxaparin;
  order(chart, OrderKind::sheath_removal, "Leave it").forbids = true;
  auto plan = chart.plan(hm(15, 5));
  const auto kept = [](const Difference& d) {
    std::vector<std::string> all;
    for (const auto& change : d.changes)
      if (change.key.kind == ItemKind::order_clash) all.push_back((change.kind == ChangeKind::withdraw ? "end " : change.kind == ChangeKind::update ? "update " : "raise ") + change.key.site + " " + change.key.cause.substr(0, change.key.cause.find(' ')));
    return all;
  };
  std::vector<Standing> standing;
  auto next = [&](Instant now) {
    const auto d = difference(wanted(plan, cautious(), {}), standing, now);
    standing = applied(d, standing);
    return kept(d);
  };
  EXPECT_THAT(next(hm(15, 5)), ElementsAre("raise Procedure/p1 sheath-removal", "raise  drug"));
  EXPECT_THAT(next(hm(15, 5)), IsEmpty());
  for (const auto& one : standing) EXPECT_EQ(key_from(text_of(one.key)), one.key);
  plan.order_clashes.erase(plan.order_clashes.begin());  // that the sheath stays, by kind
  EXPECT_THAT(next(hm(15, 6)), ElementsAre("end Procedure/p1 sheath-removal"));
  plan.order_clashes[0].why.arguments[0].second = std::string("Twice the drug");
  EXPECT_THAT(next(hm(15, 7)), ElementsAre("update  drug"));
  for (auto& one : standing)
    if (one.key.kind == ItemKind::order_clash && one.state == Stands::open) one.state = Stands::rejected;  // somebody has settled it
  EXPECT_THAT(next(hm(18)), IsEmpty()) << "not raised again while it says the same, however long that is";
  plan.order_clashes[0].why.arguments[0].second = std::string("Thrice the drug");
  EXPECT_THAT(next(hm(18, 1)), ElementsAre("raise  drug"));
  plan.provisional = true;
  EXPECT_THAT(next(hm(18, 2)), ElementsAre("end  drug")) << "a provisional case only gathers";
}

}  // namespace
}  // namespace clinical
