// Rules that few records come to: what branch coverage showed no test to meet, each against the clinical model.
#include <algorithm>

#include "clinical/change.h"
#include "clinical/phrases.h"
#include "clinical/quantity.h"
#include "mutants_support.h"
#include "protocol_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

Chart without(Chart chart, Analyte analyte) {
  std::erase_if(chart.record.measurements, [&](const Measurement& m) { return m.analyte == analyte; });
  return chart;
}
/// How an add stands in the rest: "recorded", "not-recorded" or "none".
std::string added(const CasePlan& plan, const std::string& term) {
  for (const auto& b : step(plan, Step::stand_and_walk).basis)
    for (const auto& [name, value] : b.arithmetic.arguments)
      if (value == Argument("@add." + term)) return b.arithmetic.code == "add.recorded" ? "recorded" : "not-recorded";
  return "none";
}

// Clinical model, "Settled points": unknown closure; the first hold that names a method tells it.
TEST(SeldomMet, TheFirstHoldTellsTheMethodThatNobodyRecorded) {
  for (const auto method : {Closure::unknown, Closure::manual, Closure::mechanical}) {
    auto chart = plain_chart(6);
    chart.index().closures.clear();
    pull_at(chart, hm(14));
    chart.record.access_events.back().method = method;
    chart.event(haemostasis_confirmed, hm(14, 20));
    const auto plan = chart.plan(hm(14, 30));
    EXPECT_EQ(plan.sites.front().closure, method);
    EXPECT_EQ(plan.sites.front().t0.has_value(), method == Closure::manual) << "a device must be off, and an unknown method may be one";
    EXPECT_EQ(std::ranges::any_of(plan.missing, [](const Missing& m) { return m.fact == Fact::closure; }), method == Closure::unknown);
  }
}

struct ValueRow {
  const char* name;
  std::vector<std::pair<double, Instant>> values;
  const char *high, *low;
};
void expect_body(Analyte analyte, const Chart& base, const std::vector<ValueRow>& rows) {
  for (const auto& row : rows) {
    SCOPED_TRACE(row.name);
    auto chart = without(base, analyte);
    for (const auto& [value, at] : row.values) chart.lab(analyte, value, at);
    pull_at(chart, hm(15));
    chart.event(haemostasis_confirmed, hm(16));
    const auto plan = chart.plan(hm(17, 30));
    EXPECT_EQ(added(plan, "bmi-high"), row.high);
    EXPECT_EQ(added(plan, "bmi-low"), row.low);
  }
}

// "Value used: the worst from the start to T0; if none lies there, the last still-fresh one before the start, else the first after T0; until then the worst row."
// 178 cm: a body mass index of 35 is 110.9 kg, of 18.5 is 58.6 kg (B6); weight of this encounter or 30 d.
TEST(SeldomMet, WhichWeightSpeaksForTheBodyMassIndex) {
  const Instant long_ago = hm(12) - hours{24 * 31};
  const std::vector<ValueRow> rows = {
      {"none", {}, "not-recorded", "none"},
      {"two of the procedure: the worse", {{80, hm(13)}, {120, hm(14)}}, "recorded", "none"},
      {"one before, one of the procedure", {{120, hm(8)}, {80, hm(14)}}, "none", "none"},
      {"two before: the last", {{120, hm(7)}, {80, hm(8)}}, "none", "none"},
      {"two before, at one time: the worse", {{120, hm(8)}, {80, hm(8)}}, "recorded", "none"},
      {"more than 30 d before", {{80, long_ago}}, "not-recorded", "none"},
      {"30 d before", {{80, hm(12) - hours{24 * 30}}}, "none", "none"},
      {"two after T0: the first", {{80, hm(16, 30)}, {120, hm(17)}}, "none", "none"},
      {"two after T0: the first is high", {{120, hm(16, 30)}, {80, hm(17)}}, "recorded", "none"},
      {"two after T0, told the other way round", {{80, hm(17)}, {120, hm(16, 30)}}, "recorded", "none"},
      {"thin", {{45, hm(13)}}, "none", "recorded"},
      {"thin or heavy: the heavy one adds more", {{45, hm(13)}, {120, hm(14)}}, "recorded", "none"},
  };
  expect_body(Analyte::weight, plain_chart(6), rows);
  auto stay = plain_chart(6);
  stay.record.encounters.push_back({stay.source(), true, exactly(hm(12) - hours{24 * 40}), {}, "Bay 3 (invented)", ""});
  expect_body(Analyte::weight, stay, {{"more than 30 d before, of this stay", {{80, long_ago}}, "none", "none"},
                                      {"of before the stay", {{80, hm(12) - hours{24 * 41}}}, "not-recorded", "none"}});
}

// "Any adult height": 100 kg are a body mass index of 31.6 with 178 cm and of 39.1 with 160 cm. The patient was born in 1966.
TEST(SeldomMet, WhichHeightSpeaksForTheBodyMassIndex) {
  auto heavy = without(plain_chart(6), Analyte::weight);
  heavy.lab(Analyte::weight, 100, hm(8));
  const Instant grown = hm(12) - hours{24 * 366 * 30}, child = hm(12) - hours{24 * 366 * 50};
  expect_body(Analyte::height, heavy, {{"none", {}, "not-recorded", "none"},
                                       {"of 30 years ago", {{178, grown}}, "none", "none"},
                                       {"of a child", {{178, child}}, "not-recorded", "none"},
                                       {"two by T0: the newer", {{160, hm(8)}, {178, hm(13)}}, "none", "none"},
                                       {"two after T0: the first", {{160, hm(16, 30)}, {178, hm(17)}}, "recorded", "none"},
                                       {"two after T0, told the other way round", {{160, hm(17)}, {178, hm(16, 30)}}, "none", "none"},
                                       {"one by T0, one after", {{178, hm(14)}, {160, hm(17)}}, "none", "none"}});
}

// "Never shorter than the manual hold for that size": a protocol with a short device hold is filled up at the low pressure.
TEST(SeldomMet, ADeviceHoldIsNoShorterThanByHand) {
  Protocol quick = cautious();
  for (Setting* setting : {&quick.mechanical_partial_7_10, &quick.mechanical_down_7_10, &quick.low_hold, &quick.low_hold_add}) setting->micro = whole(2);
  const auto held = [&](Closure method) {
    auto chart = plain_chart(10, method);
    pull_at(chart, hm(14));
    return chart.plan(hm(14, 1), quick);
  };
  const auto by_hand = held(Closure::manual), device = held(Closure::mechanical);
  EXPECT_EQ(step(by_hand, Step::end_compression).planned, minutes{30});
  EXPECT_EQ(step(device, Step::end_compression).planned, minutes{30});
  EXPECT_EQ(step(device, Step::low_pressure_hold).planned, minutes{30 - 3 - 2 - 2});
  EXPECT_EQ(step(device, Step::end_compression).earliest, hm(14, 30));
}

// "In the same groin as an artery the vein starts its full hold so that both end together": while nobody recorded since when the artery is pressed, it waits.
TEST(SeldomMet, TheVeinWaitsForAnArteryThatIsPressedSinceNobodyKnowsWhen) {
  auto chart = plain_chart(6);
  chart.procedure("p2", 6, Closure::manual, Side::right, Vessel::vein).part_of = "Procedure/p1";
  pull_at(chart, hm(14));
  const auto removal = [&](Instant now) {
    for (auto& event : chart.record.access_events) event.vessel = Vessel::artery;   // of the two in that groin
    const auto plan = chart.plan(now);
    const auto vein = std::ranges::find(plan.sites, std::string("Procedure/p2"), &SitePlan::key);
    return step(*vein, Step::remove_sheath);
  };
  EXPECT_EQ(removal(hm(14, 1)).why->code, "removal.with-artery");
  chart.event(haemostasis_confirmed, hm(14, 20));
  EXPECT_EQ(removal(hm(14, 30)).why->code, "removal.blocked-more") << "its check and pressure are asked for";
  chart.event(rebleed, hm(14, 40));
  EXPECT_EQ(removal(hm(14, 45)).why->code, "removal.artery-first");
  EXPECT_EQ(removal(hm(14, 45)).status, StepStatus::blocked);
}

// "B = measured baseline": the last ACT before the first heparin, also where only the end of that dose is recorded. From 290 s at 13:00 with B = 100 the limit of
// 150 s is crossed after 90 min x log2(190 / 50) = 173.34 min, with B = 130 after 270 min (clinical model, "Projection of the ACT").
TEST(SeldomMet, ADoseKnownByItsEndAloneHasABaselineBeforeIt) {
  for (const bool start : {true, false}) {
    auto chart = intervention_chart(6);
    if (!start) chart.record.administrations.back().start.reset();
    chart.lab(Analyte::act, 290, hm(13));
    ASSERT_TRUE(chart.plan(hm(13, 5)).sites.front().projection);
    EXPECT_EQ(chart.plan(hm(13, 5)).sites.front().projection->p50, hm(17, 30));
    chart.lab(Analyte::act, 100, hm(11, 50));
    EXPECT_EQ(chart.plan(hm(13, 5)).sites.front().projection->p50, hm(15, 53, 20));
  }
}

// What stands beside a number of the protocol on paper: the trade's sign, not the code of the unit.
TEST(SeldomMet, UnitsArePrintedAsPeopleWriteThem) {
  const std::pair<SettingUnit, const char*> units[] = {
      {SettingUnit::second, "7 s"}, {SettingUnit::minute, "7 min"}, {SettingUnit::hour, "7 h"}, {SettingUnit::year, "7 years"}, {SettingUnit::french, "7 F"},
      {SettingUnit::centimetre, "7 cm"}, {SettingUnit::mmhg, "7 mmHg"}, {SettingUnit::per_minute, "7/min"}, {SettingUnit::ratio, "7"}, {SettingUnit::count, "7"},
      {SettingUnit::percent, "7 %"}, {SettingUnit::per_nanolitre, "7 x 10^9/L"}, {SettingUnit::kilogram_per_square_metre, "7 kg/m2"},
      {SettingUnit::unit_per_kilogram, "7 U/kg"}, {SettingUnit::celsius, "7 Cel"}, {SettingUnit::gram_per_decilitre, "7 g/dL"}};
  for (const auto& [unit, text] : units) EXPECT_EQ(as_value({whole(7), unit, {}}).written, text);
}

TEST(SeldomMet, WhereIsSaidForTheGroinsOfTheSites) {
  CasePlan plan;
  for (const auto side : {Side::left, Side::right, Side::unknown}) {
    SitePlan site;
    site.key = name_of(side);
    site.side = side;
    plan.sites.push_back(site);
  }
  const auto where = [&](std::vector<std::string> keys) { return where_phrase(plan, keys).code; };
  EXPECT_EQ(where({"left"}), "where.left");
  EXPECT_EQ(where({"right"}), "where.right");
  EXPECT_EQ(where({"left", "right"}), "where.both");
  EXPECT_EQ(where({"right", "left"}), "where.both");
  EXPECT_EQ(where({"left", "unknown"}), "where.unknown");
  EXPECT_EQ(where({"right", "of another case"}), "where.unknown");
  EXPECT_EQ(where({}), "where.unknown");
}

// Contract: what the sheet cannot show of a name is asked of somebody, who compares it with the wristband.
TEST(SeldomMet, ANameThatTheSheetCannotShowIsASheetToCheck) {
  const auto plan = plain_chart(6).plan(hm(13, 10));
  WantedOptions options;
  const auto asked = [&]() -> std::vector<Item> {
    auto items = wanted(plan, cautious(), options).items;
    std::erase_if(items, [](const Item& item) { return item.key.step != Step::check_sheet; });
    return items;
  };
  EXPECT_TRUE(asked().empty());
  options.unreadable = Reason{"print.name-unreadable", {{"letters", std::string("x")}}};
  const auto items = asked();
  ASSERT_EQ(items.size(), 1U);
  EXPECT_EQ(items.front().key.kind, ItemKind::task);
  EXPECT_EQ(items.front().priority, Priority::urgent);
  EXPECT_EQ(items.front().why, options.unreadable);
  EXPECT_EQ(items.front().sites, std::vector<std::string>{"Procedure/p1"});
}

// Architecture: a proposal until the protocol carries its approvals.
TEST(SeldomMet, APlanIsAProposalUntilTheProtocolIsApproved) {
  Protocol protocol = cautious();
  protocol.approved = false;
  EXPECT_EQ(intent_for(protocol), Intent::proposal);
  protocol.approved = true;
  EXPECT_EQ(intent_for(protocol), Intent::plan);
}

// A change of something that does not stand (any more) changes nothing.
TEST(SeldomMet, AChangeOfWhatDoesNotStandIsPassedOver) {
  const auto plan = plain_chart(6).plan(hm(13, 10));
  const auto made = difference(wanted(plan, cautious(), {}), {}, hm(13, 10));
  auto standing = applied(made, {});
  ASSERT_FALSE(standing.empty());
  const auto withdrawal = difference(Wanted{}, standing, hm(13, 10));
  ASSERT_FALSE(withdrawal.changes.empty());
  EXPECT_TRUE(applied(withdrawal, {}).empty());
  for (const auto& one : applied(withdrawal, standing)) EXPECT_NE(one.state, Stands::open) << text_of(one.key);
}

}  // namespace
}  // namespace clinical
