// Clinicians' standing orders, what the record keeps back, drugs that only a text names, and whom to call. Of two lengths the longer is planned and the difference
// is said; an order opens nothing (orders.h; clinical model, laws 1 to 3). That an order binds whoever cares for the patient: common practice, no source.
#include <gmock/gmock.h>

#include "mutants_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;
using testing::Contains;
using testing::ElementsAre;
using testing::IsEmpty;
using testing::Not;

Order& order(Chart& chart, OrderKind kind, std::string title = "Invented order") {
  Order o;
  o.source = chart.source();
  o.kind = kind;
  o.title = std::move(title);
  o.written = exactly(hm(13));
  return chart.record.orders.emplace_back(std::move(o));
}

/// 6 F by hand, nothing lengthens: dry at 15:20, walking 6 h later.
Chart resting() {
  Chart chart = plain_chart(6);
  pull_at(chart, hm(15));
  chart.event(haemostasis_confirmed, hm(15, 20));
  return chart;
}

struct Rest {
  std::string walk;
  std::vector<std::string> conflicts;
};
Rest rest_with(const std::function<void(Chart&)>& change, Chart chart = resting()) {
  change(chart);
  const auto plan = chart.plan(hm(15, 30));
  Rest rest{say(step(plan, Step::stand_and_walk).expected), {}};
  for (const auto& c : plan.conflicts)
    if (c.fact == Fact::bed_rest) rest.conflicts.push_back(c.about + " " + c.values.at(0) + " / " + c.values.at(1) + " " + c.site);
  return rest;
}
Order& bed_rest(Chart& chart, minutes length) {
  auto& o = order(chart, OrderKind::bed_rest, "Bed rest (invented)");
  o.length = length;
  return o;
}

TEST(BedRestOrder, OfTwoLengthsTheLongerIsPlannedAndTheDifferenceIsSaid) {
  const auto length = [](int m) { return [m](Chart& c) { bed_rest(c, minutes{m}); }; };
  EXPECT_EQ(rest_with([](Chart&) {}).walk, "21:20");
  EXPECT_EQ(rest_with(length(480)).walk, "23:20");
  EXPECT_THAT(rest_with(length(480)).conflicts, ElementsAre("bed-rest-order 6 h / 8 h Procedure/p1"));
  EXPECT_EQ(rest_with(length(240)).walk, "21:20") << "a shorter one shortens nothing";
  EXPECT_THAT(rest_with(length(330)).conflicts, ElementsAre("bed-rest-order 6 h / 330 min Procedure/p1"));
  EXPECT_EQ(rest_with(length(360)).walk, "21:20");
  EXPECT_THAT(rest_with(length(360)).conflicts, IsEmpty()) << "they say the same";
  const auto of_two = [](Chart& c) { bed_rest(c, minutes{480}), bed_rest(c, minutes{420}), bed_rest(c, minutes{450}); };
  EXPECT_EQ(rest_with(of_two).walk, "23:20");
  EXPECT_EQ(rest_with([](Chart& c) { order(c, OrderKind::bed_rest); }).walk, "21:20") << "nobody says how long";
  EXPECT_EQ(rest_with([](Chart& c) { order(c, OrderKind::drug).length = minutes{480}; }).walk, "21:20") << "of another kind";
}

TEST(BedRestOrder, AnEndInWordsThatCannotBeReadIsAClinicians) {
  const auto with = [](const std::function<void(Chart&)>& more) {
    Chart chart = resting();
    order(chart, OrderKind::bed_rest, "Flat until morning (invented)").unclear = true;
    more(chart);
    return say(step(chart.plan(hm(15, 30)), Step::stand_and_walk));
  };
  const std::string asked = " | rest.ask-order{what=Flat until morning (invented)}";
  EXPECT_EQ(with([](Chart&) {}), "blocked 360min t0+360" + asked) << "a length by rule, and no time";
  EXPECT_EQ(with([](Chart& c) { bed_rest(c, minutes{480}); }), "blocked 480min t0+480" + asked) << "a length that was read is no end of the other";
  EXPECT_EQ(with([](Chart& c) { c.record.orders[0].side = Side::left; }), "expected 21:20 360min t0+360") << "the other groin's";
  EXPECT_EQ(with([](Chart& c) { c.record.orders[0].kind = OrderKind::sheath_named; }), "expected 21:20 360min t0+360");
}

// Whoever decided before the order was written did not know it.
TEST(BedRestOrder, ADecisionFromBeforeItLiftsNothing) {
  const auto with = [](Instant decided, std::optional<Moment> written) {
    Chart chart = resting();
    auto& o = order(chart, OrderKind::bed_rest, "Flat until morning (invented)");
    o.unclear = true;
    o.written = written;
    chart.record.decisions.push_back({chart.source(), "stand-and-walk", "360 min", "Dr Invented", exactly(decided), false, {}});
    return step(chart.plan(hm(18)), Step::stand_and_walk).earliest.has_value() || step(chart.plan(hm(18)), Step::stand_and_walk).expected.has_value();
  };
  EXPECT_FALSE(with(hm(16), exactly(hm(17))));
  EXPECT_TRUE(with(hm(17, 1), exactly(hm(17))));
  EXPECT_TRUE(with(hm(17), exactly(hm(17))));
  EXPECT_FALSE(with(hm(17), std::nullopt)) << "nobody knows which was first";
}

TEST(BedRestOrder, UntilATimeCountsFromHaemostasis) {
  const auto until = [](Instant at) { return [at](Chart& c) { order(c, OrderKind::bed_rest).until = exactly(at); }; };
  EXPECT_EQ(rest_with(until(hm(23, 45))).walk, "23:45");
  EXPECT_THAT(rest_with(until(hm(23, 45))).conflicts, ElementsAre("bed-rest-order 6 h / 505 min Procedure/p1"));
  EXPECT_EQ(rest_with(until(hm(23, 44, 30))).walk, "23:45") << "not a second sooner: the next whole minute";
  EXPECT_EQ(rest_with(until(hm(15, 20))).walk, "21:20") << "it was over at haemostasis";
  EXPECT_THAT(rest_with(until(hm(15, 20))).conflicts, IsEmpty());
  const auto both = [](int length, Instant at) { return [=](Chart& c) { bed_rest(c, minutes{length}).until = exactly(at); }; };
  EXPECT_EQ(rest_with(both(600, hm(23, 45))).walk, "+1d 01:20") << "the longer of the two";
  EXPECT_EQ(rest_with(both(300, hm(23, 45))).walk, "23:45");
  Chart pressed = plain_chart(6);
  pull_at(pressed, hm(15));
  order(pressed, OrderKind::bed_rest).until = exactly(hm(23, 45));
  EXPECT_EQ(step(pressed.plan(hm(15, 10)), Step::stand_and_walk).planned, minutes{360}) << "before haemostasis nobody knows how long that is";
}

TEST(BedRestOrder, OfWhichGroin) {
  const auto walk = [](const std::function<void(Order&)>& change) { return rest_with([&](Chart& c) { change(bed_rest(c, minutes{480})); }).walk; };
  EXPECT_EQ(walk([](Order& o) { o.side = Side::right; }), "23:20");
  EXPECT_EQ(walk([](Order& o) { o.side = Side::left; }), "21:20") << "the other groin's";
  EXPECT_EQ(walk([](Order& o) { o.procedure = "Procedure/p1"; }), "23:20");
  EXPECT_EQ(walk([](Order& o) { o.procedure = "Procedure/unheard-of"; }), "23:20") << "nobody knows whose it is: the patient's";
  Chart two = resting();
  two.procedure("p2", 5, Closure::manual, Side::left).part_of = "Procedure/p1";
  const auto planned = [&](const std::string& procedure, std::size_t site) {
    Chart chart = two;
    bed_rest(chart, minutes{480}).procedure = procedure;
    return step(chart.plan(hm(15, 30)).sites.at(site), Step::stand_and_walk).planned;
  };
  EXPECT_EQ(planned("Procedure/p1", 0), minutes{480});
  EXPECT_EQ(planned("Procedure/p1", 1), minutes{480}) << "the index names the whole case";
  EXPECT_EQ(planned("Procedure/p2", 0), minutes{360}) << "only the other puncture";
  EXPECT_EQ(planned("Procedure/p2", 1), minutes{480});
}

// Where nothing is planned nothing can differ from it.
TEST(BedRestOrder, OfAWithheldOrFinishedCaseNothingIsSaid) {
  Chart child = resting();
  child.record.patient.birth = exactly(std::chrono::sys_days{std::chrono::year{2012} / 5 / 1});
  EXPECT_THAT(rest_with([](Chart& c) { bed_rest(c, minutes{480}); }, child).conflicts, IsEmpty());
  Chart over = resting();
  bed_rest(over, minutes{480});
  EXPECT_THAT(over.plan(hm(15 + 49)).conflicts, IsEmpty());
  Chart unsided = resting();
  unsided.index().sides.clear();
  bed_rest(unsided, minutes{480}).side = Side::left;
  EXPECT_FALSE(step(unsided.plan(hm(15, 30)), Step::stand_and_walk).planned) << "withheld: nobody knows which groin";
}

/// Every gate open from 15:00, fresh until 15:15.
Chart ready_chart() {
  Chart chart = plain_chart(6);
  chart.pressure(128, hm(15));
  chart.lab(Analyte::heart_rate, 70, hm(15));
  chart.check(hm(15));
  return chart;
}
std::string removal(const std::function<void(Chart&)>& change, Instant now = hm(15, 5), Chart chart = ready_chart()) {
  change(chart);
  const auto plan = chart.plan(now);
  auto text = say(step(plan, Step::remove_sheath));
  EXPECT_EQ(step(plan, Step::confirm_readiness).earliest, step(plan, Step::remove_sheath).earliest) << "the second person is asked for the same time";
  return text;
}
Order& not_before(Chart& chart, Instant at) {
  auto& o = order(chart, OrderKind::sheath_removal, "Sheath stays until later (invented)");
  o.not_before = exactly(at);
  return o;
}

TEST(RemovalOrder, HoldsBackWhatTheGatesAllow) {
  const auto at = [](Instant t) { return [t](Chart& c) { not_before(c, t); }; };
  EXPECT_EQ(removal([](Chart&) {}), "due from 15:00 | removal.due");
  EXPECT_EQ(removal([](Chart& c) { order(c, OrderKind::bed_rest).not_before = exactly(hm(15, 10)); }), "due from 15:00 | removal.due") << "of another kind";
  EXPECT_EQ(removal([](Chart& c) { order(c, OrderKind::sheath_removal); }), "due from 15:00 | removal.due") << "it says nothing of when";
  EXPECT_EQ(removal([](Chart& c) { not_before(c, hm(15, 10)).side = Side::left; }), "due from 15:00 | removal.due") << "the other groin's";
  EXPECT_EQ(removal(at(hm(14, 30))), "due from 15:00 | removal.due") << "it has run out";
  EXPECT_EQ(removal(at(hm(15, 10))), "expected 15:10 | removal.order-not-before{what=Sheath stays until later (invented) at=15:10}");
  EXPECT_EQ(removal(at(hm(15, 10)), hm(15, 10)), "due 15:10 | removal.order-not-before{what=Sheath stays until later (invented) at=15:10}");
  EXPECT_EQ(removal([](Chart& c) { not_before(c, hm(15, 8)), not_before(c, hm(15, 10)), not_before(c, hm(15, 9)); }), "expected 15:10 | removal.order-not-before{what=Sheath stays until later (invented) at=15:10}") << "the latest";
  const auto basis = [](Chart& c) { not_before(c, hm(15, 10)); };
  Chart chart = ready_chart();
  basis(chart);
  EXPECT_EQ(say(step(chart.plan(hm(15, 5)), Step::remove_sheath).basis.back()), "order.sheath-removal order.said{what=Sheath stays until later (invented)} from " + say({chart.record.orders[0].source}));
}

TEST(RemovalOrder, SaysWhyItHoldsInTheOrdersWords) {
  const auto held = [](void (*change)(Order&)) { return removal([change](Chart& c) { change(order(c, OrderKind::sheath_removal, "Out (invented)")); }); };
  EXPECT_EQ(held([](Order& o) { o.forbids = o.negated = true; }), "blocked | removal.order-negated{what=Out (invented)}");
  EXPECT_EQ(held([](Order& o) { o.forbids = o.suspended = true; }), "blocked | removal.order-suspended{what=Out (invented)}");
  EXPECT_EQ(held([](Order& o) { o.unclear = true; }), "blocked | removal.order-unclear{what=Out (invented)}");
  EXPECT_EQ(held([](Order& o) { o.unclear = true, o.not_before = exactly(hm(15, 10)); }), "blocked | removal.order-unclear{what=Out (invented)}") << "the stronger";
}

TEST(RemovalOrder, OneThatCannotBeReadIsAskedAbout) {
  const auto asked = [](void (*change)(Order&), Chart chart) {
    change(order(chart, OrderKind::sheath_removal, "Out after a look (invented)"));
    const auto plan = chart.plan(hm(15, 30));
    return std::ranges::count_if(plan.sites[0].milestones, [](const Milestone& m) { return m.step == Step::call_clinician && m.why && m.why->code == "removal.order-unclear" && m.status == StepStatus::due; });
  };
  EXPECT_EQ(asked([](Order& o) { o.unclear = true; }, ready_chart()), 1);
  EXPECT_EQ(asked([](Order& o) { o.forbids = true; }, ready_chart()), 0) << "it says all";
  EXPECT_EQ(asked([](Order&) {}, ready_chart()), 0);
  EXPECT_EQ(asked([](Order& o) { o.unclear = true; }, resting()), 0) << "the sheath is out";
}

TEST(RemovalOrder, AnActUnderTheOrdersLimitMustBeFresh) {
  const auto limited = [](int limit) { return [limit](Chart& c) { order(c, OrderKind::sheath_removal, "Under (invented)").act_below = Value{whole(limit), Comparator::none, std::to_string(limit) + " s"}; }; };
  const std::string held = "blocked | removal.order-act{what=Under (invented) limit=130 s}";
  EXPECT_EQ(removal(limited(130)), held) << "none is recorded";
  const auto with = [&](double seconds, Instant at) {
    Chart chart = ready_chart();
    chart.lab(Analyte::act, seconds, at);
    return removal(limited(130), hm(15, 5), chart);
  };
  EXPECT_EQ(with(129, hm(15)), "due from 15:00 | removal.due");
  EXPECT_EQ(with(130, hm(15)), held) << "at the limit is not under it";
  EXPECT_EQ(with(120, hm(13)), held) << "too old";
  EXPECT_EQ(removal([&](Chart& c) { limited(130)(c), order(c, OrderKind::sheath_removal, "Later (invented)").not_before = exactly(hm(15, 10)); }), held) << "stronger than a time";
}

TEST(RemovalOrder, OneThatForbidsWinsWhateverElseIsOrdered) {
  const auto forbid = [](Chart& c) { order(c, OrderKind::sheath_removal, "Leave the sheath (invented)").forbids = true; };
  const char* const forbidden = "blocked | removal.order-forbids{what=Leave the sheath (invented)}";
  EXPECT_EQ(removal(forbid), forbidden);
  EXPECT_EQ(removal([&](Chart& c) { forbid(c), not_before(c, hm(15, 10)); }), forbidden);
  EXPECT_EQ(removal([&](Chart& c) { not_before(c, hm(15, 10)), forbid(c); }), forbidden);
}

// Permission rests on fresh values (law 1): at 18:00 those of 15:00 are none, so the order gives no time at which the sheath may come out.
TEST(RemovalOrder, ALaterTimeIsNoPermissionOnceTheValuesAreOld) {
  EXPECT_EQ(removal([](Chart& c) { not_before(c, hm(15, 15)); }), "expected 15:15 | removal.order-not-before{what=Sheath stays until later (invented) at=15:15}") << "the last instant at which the pressure is fresh";
  EXPECT_EQ(removal([](Chart& c) { not_before(c, hm(15, 15, 1)); }), "blocked expected 15:15:01 | removal.not-before-fresh{at=15:15:01 draw=15:00:01}");
  EXPECT_EQ(removal([](Chart& c) { not_before(c, hm(18)); }), "blocked expected 18:00 | removal.not-before-fresh{at=18:00 draw=17:45}");
}

TEST(RemovalOrder, BesideGatesThatAreNotOpenItMovesTheExpectationOnly) {
  const auto later = [](const std::string& text) { return text.substr(0, text.find(" |")); };
  const auto at = [](Instant t) { return [t](Chart& c) { not_before(c, t); }; };
  EXPECT_EQ(later(removal([](Chart&) {}, hm(15, 40))), "blocked") << "the values are old by then";
  EXPECT_EQ(later(removal(at(hm(18)), hm(15, 40))), "blocked expected 18:00");
  // Enoxaparin under the skin at 12:10, 8 h (clinical-drugs.md; the hold of the protocol): 20:10.
  Chart clocked = intervention_chart(6);
  clocked.bolus(Agent::enoxaparin, 40, hm(12, 10)).route = Route::subcutaneous;
  EXPECT_EQ(later(removal([](Chart&) {}, hm(15, 5), clocked)), "blocked expected 20:10");
  EXPECT_EQ(later(removal(at(hm(18)), hm(15, 5), clocked)), "blocked expected 20:10");
  EXPECT_EQ(later(removal(at(hm(21)), hm(15, 5), clocked)), "blocked expected 21:00");
}

std::vector<std::string> cautions(const std::function<void(Chart&)>& change, Instant now = hm(15, 5), Chart chart = ready_chart()) {
  change(chart);
  std::vector<std::string> all;
  for (const auto& reason : chart.plan(now).cautions) all.push_back(say(reason));
  return all;
}
Order& drug(Chart& chart, Agent agent) {
  auto& o = order(chart, OrderKind::drug, std::string(name_of(agent)) + " (invented)");
  o.agent = agent;
  return o;
}

TEST(OrderCaution, WhatOnlyNamesTheSheathIsShownWhileOneIsIn) {
  const auto named = [](Chart& c) { order(c, OrderKind::sheath_named, "Flush the sheath (invented)"); };
  EXPECT_THAT(cautions(named), ElementsAre("caution.order-names-sheath{what=Flush the sheath (invented)}"));
  EXPECT_THAT(cautions([&](Chart& c) { named(c), named(c); }), testing::SizeIs(1)) << "once";
  EXPECT_THAT(cautions(named, hm(15, 30), resting()), Not(Contains(testing::HasSubstr("order-names-sheath")))) << "it is out";
  EXPECT_THAT(cautions([](Chart& c) { order(c, OrderKind::bed_rest, "Flat until morning (invented)").unclear = true; }), IsEmpty()) << "the step itself asks";
}

TEST(OrderCaution, DrugsThatActOnClottingWhileNothingIsSettled) {
  for (const auto agent : {Agent::enoxaparin, Agent::tirofiban, Agent::alteplase, Agent::other_antithrombotic})
    EXPECT_THAT(cautions([&](Chart& c) { drug(c, agent); }), Contains("caution.ordered-drug{drug=" + std::string(name_of(agent)) + " (invented)}"));
  EXPECT_THAT(cautions([](Chart& c) { drug(c, Agent::other); }), IsEmpty()) << "it does not act on clotting";
  EXPECT_THAT(cautions([](Chart& c) { drug(c, Agent::enoxaparin), drug(c, Agent::enoxaparin); }), testing::SizeIs(1)) << "once";
  const auto until = [](Instant at) { return [at](Chart& c) { drug(c, Agent::enoxaparin).until = exactly(at); }; };
  EXPECT_THAT(cautions(until(hm(15, 5))), IsEmpty()) << "the order has ended";
  EXPECT_THAT(cautions(until(hm(15, 6))), testing::SizeIs(1));
  const auto at_1530 = [](const std::function<void(Chart&)>& change) { return cautions(change, hm(15, 30), resting()); };
  EXPECT_THAT(at_1530([](Chart& c) { drug(c, Agent::enoxaparin); }), IsEmpty()) << "dry: the prescriber is asked for the plan anyway";
}

TEST(OrderCaution, TheNextDose) {
  const auto said = [](std::vector<Moment> due) { return cautions([&](Chart& c) { drug(c, Agent::enoxaparin).due = due; }); };
  EXPECT_THAT(said({exactly(hm(8)), exactly(hm(20)), exactly(hm(23))}), ElementsAre("caution.ordered-drug-at{drug=enoxaparin (invented) at=20:00}"));
  EXPECT_THAT(said({exactly(hm(8))}), ElementsAre("caution.ordered-drug{drug=enoxaparin (invented)}")) << "every one that is named lies behind";
}

TEST(OrderCaution, BedRestWithoutALengthIsAskedFor) {
  EXPECT_THAT(cautions([](Chart& c) { order(c, OrderKind::bed_rest, "Bed rest (invented)"); }), ElementsAre("caution.order-without-length{what=Bed rest (invented)}"));
  EXPECT_THAT(cautions([](Chart& c) { bed_rest(c, minutes{480}); }), IsEmpty());
  EXPECT_THAT(cautions([](Chart& c) { order(c, OrderKind::bed_rest).until = exactly(hm(23)); }), IsEmpty());
}

Withheld& keep_back(Chart& chart, WithheldKind kind) {
  Withheld w;
  w.source = chart.source();
  w.kind = kind;
  return chart.record.withheld.emplace_back(std::move(w));
}

TEST(KeptBack, IsSaidWhileItLasts) {
  using enum WithheldKind;
  for (const auto& [kind, word] : {std::pair(everything, "everything"), std::pair(drugs, "drugs"), std::pair(values, "values"), std::pair(findings, "findings")})
    EXPECT_THAT(cautions([&](Chart& c) { keep_back(c, kind); }), ElementsAre("caution.withheld{what=@withheld." + std::string(word) + "}"));
  EXPECT_THAT(cautions([](Chart& c) { keep_back(c, drugs).until = exactly(hm(15, 5)); }), IsEmpty()) << "until then";
  EXPECT_THAT(cautions([](Chart& c) { keep_back(c, drugs).until = exactly(hm(15, 6)); }), testing::SizeIs(1));
}

// Unknown is never normal: a list may be shorter than what is taken where the record keeps drugs back. What a person states or takes still tells.
TEST(KeptBack, AListOfHomeDrugsTellsNothingThen) {
  const auto home = [](const std::function<void(Bedside&)>& change) {
    Bedside bed = ready();
    change(bed);
    return say(*bed.gate(GateName::home_anticoagulants, hm(15, 5)));
  };
  const auto hide = [](Bedside& b, WithheldKind kind, std::optional<Instant> until = {}) {
    Withheld w;
    w.source = {"Test/hidden", "1", false};
    w.kind = kind;
    if (until) w.until = exactly(*until);
    b.facts.withheld.push_back(w);
  };
  using enum WithheldKind;
  EXPECT_TRUE(home([](Bedside&) {}).starts_with("open"));
  EXPECT_TRUE(home([&](Bedside& b) { hide(b, drugs); }).starts_with("needs asks home-anticoagulants | gate.home-anticoagulants.withheld"));
  EXPECT_TRUE(home([&](Bedside& b) { hide(b, everything); }).starts_with("needs"));
  EXPECT_TRUE(home([&](Bedside& b) { hide(b, values); }).starts_with("open")) << "drugs are not among it";
  EXPECT_TRUE(home([&](Bedside& b) { hide(b, findings), hide(b, drugs); }).starts_with("needs"));
  EXPECT_TRUE(home([&](Bedside& b) { hide(b, drugs, hm(15, 5)); }).starts_with("open")) << "no longer";
  EXPECT_TRUE(home([&](Bedside& b) { hide(b, drugs, hm(15, 6)); }).starts_with("needs"));
  EXPECT_TRUE(home([&](Bedside& b) { hide(b, drugs), b.state(StatementKind::no_home_anticoagulant, hm(14)); }).starts_with("open")) << "somebody says so";
  EXPECT_TRUE(home([&](Bedside& b) { hide(b, drugs), b.home(Agent::apixaban, exactly(hm(-72))); }).starts_with("open"));
}

TEST(NamedInText, IsAskedForAndOpensOrClosesNothing) {
  const auto remark = [](Chart& c, Agent agent) { c.record.remarks.push_back({c.source(), agent, "invented words"}); };
  EXPECT_THAT(cautions([&](Chart& c) { remark(c, Agent::apixaban); }), ElementsAre("caution.named-in-text{drug=@agent.apixaban text=invented words}"));
  EXPECT_THAT(cautions([&](Chart& c) { remark(c, Agent::other); }), IsEmpty());
  const auto given = [&](Chart& c) { remark(c, Agent::enoxaparin), c.bolus(Agent::enoxaparin, 40, hm(-72)); };
  EXPECT_THAT(cautions(given), Not(Contains(testing::HasSubstr("named-in-text")))) << "it is recorded as given";
  const auto taken = [&](Chart& c) {
    remark(c, Agent::apixaban);
    HomeDrug d;
    d.source = c.source();
    d.agent = Agent::apixaban;
    d.last_dose = exactly(hm(-100));
    c.record.home_drugs.push_back(d);
  };
  EXPECT_THAT(cautions(taken), Not(Contains(testing::HasSubstr("named-in-text")))) << "it is recorded as taken";
  Bedside bed = ready();
  const auto asks = [&] { return bed.gate(GateName::home_anticoagulants, hm(15, 5))->needs; };
  bed.facts.remarks.push_back({{"Test/remark", "1", false}, Agent::clopidogrel, "invented words"});
  EXPECT_THAT(asks(), IsEmpty()) << "no anticoagulant";
  bed.facts.remarks.push_back({{"Test/remark", "2", false}, Agent::apixaban, "invented words"});
  EXPECT_THAT(asks(), ElementsAre(Fact::home_anticoagulants));
  EXPECT_EQ(bed.state_of(GateName::home_anticoagulants, hm(15, 5)), GateState::open);
}

Contact& contact(Chart& chart, std::string who, std::string phone, std::string role = "ward physician") {
  Contact c;
  c.source = chart.source();
  c.who = std::move(who);
  c.role = std::move(role);
  c.phone = std::move(phone);
  c.phone_source = "PractitionerRole/invented";
  return chart.record.contacts.emplace_back(std::move(c));
}

TEST(Contacts, ThoseWithANumberElseWhoTheyAreAtLeast) {
  const auto said = [](const std::function<void(Chart&)>& change) { return cautions(change); };
  EXPECT_THAT(said([](Chart& c) { contact(c, "A. Invented", "0100"); }), ElementsAre("caution.contact{who=A. Invented (ward physician) phone=0100 source=PractitionerRole/invented}"));
  EXPECT_THAT(said([](Chart& c) { contact(c, "A. Invented", "0100", ""); }), ElementsAre(testing::HasSubstr("who=A. Invented phone")));
  const auto without = said([](Chart& c) { contact(c, "A. Invented", ""); });
  EXPECT_THAT(without, ElementsAre(testing::StartsWith("caution.contact-no-number{who=A. Invented (ward physician)")));
  EXPECT_THAT(said([](Chart& c) { contact(c, "A. Invented", ""), contact(c, "B. Invented", "0200"); }), ElementsAre(testing::HasSubstr("phone=0200"))) << "a number is what is needed";
  EXPECT_THAT(said([](Chart& c) { contact(c, "A. Invented", "0100"), contact(c, "A. Invented", "0100"); }), testing::SizeIs(1)) << "once";
  const auto five = [](Chart& c) { for (const char* phone : {"1", "2", "3", "4", "5"}) contact(c, "A. Invented", phone); };
  EXPECT_THAT(said(five), testing::SizeIs(4)) << "a sheet has no room for a telephone book";
}

TEST(Contacts, OnlyWhoIsInChargeNow) {
  const auto said = [](std::optional<Instant> from, std::optional<Instant> until) {
    return cautions([&](Chart& c) {
      auto& one = contact(c, "A. Invented", "0100");
      if (from) one.from = exactly(*from);
      if (until) one.until = exactly(*until);
    }).size();
  };
  EXPECT_EQ(said({}, {}), 1U);
  EXPECT_EQ(said(hm(15, 5), {}), 1U);
  EXPECT_EQ(said(hm(15, 6), {}), 0U) << "not yet";
  EXPECT_EQ(said(hm(8), hm(16)), 1U);
  EXPECT_EQ(said(hm(8), hm(15, 5)), 0U) << "no longer";
}

// What the patient must be spared or asked, as recorded (clinical-aftercare.md, section G; the wording is common practice, no source).
TEST(RecordedCautions, EachIsSaidAndOnlyWherePresent) {
  using enum RiskKind;
  const std::pair<RiskKind, const char*> all[] = {{bleeding_disorder, "caution.bleeding-disorder"}, {allergy_heparin, "caution.allergy-heparin"}, {allergy_protamine, "caution.allergy-protamine"},
                                                  {allergy_latex, "caution.allergy-latex"}, {allergy_adhesive, "caution.allergy-adhesive"},
                                                  {allergy_local_anaesthetic, "caution.allergy-local-anaesthetic"}};
  for (const auto& [kind, code] : all) {
    EXPECT_THAT(cautions([&](Chart& c) { c.risk(kind); }), ElementsAre(code));
    EXPECT_THAT(cautions([&](Chart& c) { c.risk(kind).present = false; }), IsEmpty());
  }
}

TEST(RecordedCautions, AnAntegradePunctureOfAnArteryOrOfWhatMayBeOne) {
  const auto said = [](Vessel vessel, Direction direction) {
    return cautions([&](Chart& c) {
      c.index().vessels.clear();
      if (vessel != Vessel::unknown) c.index().vessels.push_back({vessel, c.index().source});
      c.index().direction = direction;
    });
  };
  EXPECT_THAT(said(Vessel::artery, Direction::antegrade), Contains("caution.antegrade"));
  EXPECT_THAT(said(Vessel::unknown, Direction::antegrade), Contains("caution.antegrade")) << "nobody knows that it is none";
  EXPECT_THAT(said(Vessel::vein, Direction::antegrade), Not(Contains("caution.antegrade"))) << "towards the heart, as veins are punctured";
  EXPECT_THAT(said(Vessel::artery, Direction::retrograde), Not(Contains("caution.antegrade")));
}

// Nobody recorded whether the patient has passed urine, 6 h after the end (common practice, no source): it is said, until somebody writes of it.
TEST(RecordedCautions, PassingUrine) {
  const auto said = [](const std::function<void(Chart&)>& change) {
    const auto all = cautions(change, hm(19, 10), resting());
    return std::ranges::find(all, "caution.voiding-not-recorded{from=13:00}") != all.end();
  };
  EXPECT_TRUE(said([](Chart&) {}));
  EXPECT_FALSE(said([](Chart& c) { c.check(hm(18)).voided = true; }));
  EXPECT_FALSE(said([](Chart& c) { c.check(hm(18)).bladder = amount(120, "mL"); }));
  EXPECT_TRUE(said([](Chart& c) { c.check(hm(11, 59)).voided = true; })) << "before the case";
  EXPECT_TRUE(said([](Chart& c) { c.check(hm(18)).at.reset(), c.record.checks.back().voided = true; })) << "nobody knows when";
  Chart two = resting();
  two.procedure("p2", 5, Closure::manual, Side::left).part_of = "Procedure/p1";
  const auto of_no_site = cautions([](Chart& c) { c.check(hm(18), "").voided = true; }, hm(19, 10), two);
  EXPECT_THAT(of_no_site, Not(Contains("caution.voiding-not-recorded{from=13:00}"))) << "the check names no groin, and the patient has passed urine";
}

}  // namespace
}  // namespace clinical
