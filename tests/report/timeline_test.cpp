#include "report/timeline.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "fhir_write/example_plans.h"
#include "fhir_write/example_words.h"
#include "report/timeline_parts.h"

namespace {

using clinical::CasePlan;
using example::at;
using testing::ElementsAre;

json::Value timeline_of(const std::vector<CasePlan>& plans, clinical::Instant as_of = at(15)) {
  return report::timeline(plans, example::protocol(), as_of, example::voice(as_of), {});
}
std::string hash_of(const CasePlan& plan, clinical::Instant as_of = at(15)) {
  return report::plan_hash(report::written_view(plan, example::protocol(), example::voice(as_of)));
}
std::vector<std::string> names_of(const json::Value& object) {
  std::vector<std::string> names;
  for (const auto& member : object.members()) names.push_back(member.name);
  return names;
}

// The members are those of the outer contract, in its order; later ones are additions.
TEST(Timeline, MembersInOrder) {
  const auto t = timeline_of({example::sheath_in()});
  EXPECT_THAT(names_of(t), ElementsAre("schema", "asOf", "planHash", "nextChange", "validUntil", "protocol", "cases", "issues"));
  EXPECT_EQ(t["asOf"].text(), "2026-03-02T15:00:00Z");
  EXPECT_EQ(t["validUntil"].text(), "2026-03-02T17:00:00Z");
  EXPECT_TRUE(t["nextChange"].is_null());
  const auto& one = t["cases"].at(0);
  const auto names = names_of(one);
  const std::vector<std::string> expected{"procedure", "patient", "encounter", "state", "planHash", "nextChange", "validUntil", "upAt", "sites", "agents", "creatinineClearance", "missing", "conflicts", "alerts"};
  ASSERT_GE(names.size(), expected.size());
  EXPECT_TRUE(std::equal(expected.begin(), expected.end(), names.begin()));
  const auto& site = one["sites"].at(0);
  EXPECT_EQ(names_of(site).at(7), "projection");
  EXPECT_EQ(site["french"].digits(), "6");
  const auto& milestone = site["milestones"].at(1);
  EXPECT_EQ(milestone["step"].text(), "remove-sheath");
  EXPECT_TRUE(milestone["earliest"].is_null());
  EXPECT_EQ(milestone["expected"].text(), "2026-03-02T17:30:00Z");
  EXPECT_EQ(milestone["basis"].at(0)["inputs"].at(0).text(), "Procedure/p1");
  EXPECT_EQ(site["gates"].at(1)["state"].text(), "closed");
  EXPECT_EQ(one["missing"].at(0)["askedOf"].text(), "laboratory");
  EXPECT_EQ(one["missing"].at(0)["blocks"].at(0).text(), "remove-sheath");
}

TEST(Timeline, NoCase) {
  const auto t = timeline_of({});
  EXPECT_EQ(t["cases"].size(), 0u);
  EXPECT_TRUE(t["validUntil"].is_null());
  EXPECT_EQ(t["planHash"].text().size(), 64u);
}

TEST(Timeline, RootHasTheEarliestInstants) {
  auto later = example::resting();
  later.valid_until = at(16);
  later.next_change = at(15, 15);
  const auto t = timeline_of({example::sheath_in(), later});
  EXPECT_EQ(t["validUntil"].text(), "2026-03-02T16:00:00Z");
  EXPECT_EQ(t["nextChange"].text(), "2026-03-02T15:15:00Z");
}

TEST(Timeline, SameBytesWhateverTheOrderOfIssues) {
  const fhir::Issue a{fhir::Severity::warning, "no-unit", "Observation/b", "x"}, b{fhir::Severity::error, "no-time", "Observation/a", "y"};
  const auto voice = example::voice(at(15));
  const auto one = report::timeline({}, example::protocol(), at(15), voice, {a, b, a});
  EXPECT_EQ(one, report::timeline({}, example::protocol(), at(15), voice, {b, a}));
  EXPECT_EQ(one["issues"].size(), 2u);
  EXPECT_EQ(one["issues"].at(0)["severity"].text(), "error");
}

// architecture: nothing is written when the written view is unchanged; it leaves out what moves with each second.
TEST(WrittenView, DoesNotMoveWithTheClock) {
  auto plan = example::sheath_in();
  plan.agents = {{clinical::Agent::heparin, at(13), false, 0.5, clinical::minutes{90}, {}, {}, {}}};
  const auto before = hash_of(plan);
  plan.agents[0].fraction_left = 0.25;
  plan.next_change = at(15, 1);
  EXPECT_EQ(hash_of(plan, at(15) + std::chrono::hours{11}), before);  // also across midnight
  EXPECT_NE(timeline_of({plan})["cases"].at(0)["agents"].at(0)["fractionLeft"].digits(), "");
}

TEST(WrittenView, MovesWithWhatIsWritten) {
  const auto plan = example::resting();
  auto changed = plan;
  changed.sites[0].french = 7;
  EXPECT_NE(hash_of(changed), hash_of(plan));
  changed = plan;
  changed.valid_until = at(18);
  EXPECT_NE(hash_of(changed), hash_of(plan));
  changed = plan;
  changed.place = "Bay 5";
  EXPECT_NE(hash_of(changed), hash_of(plan));
  auto protocol = example::protocol();
  protocol.version = "1.0.1";
  EXPECT_NE(report::plan_hash(report::written_view(plan, protocol, example::voice(at(15)))), hash_of(plan));
}

// Half up, as the clinical model shows clearance (one decimal) and fractions (three).
TEST(Timeline, RoundsHalfUp) {
  EXPECT_EQ(report::rounded(24.45, 1), "24.5");
  EXPECT_EQ(report::rounded(24.449, 1), "24.4");
  EXPECT_EQ(report::rounded(0.0625, 3), "0.063");
  EXPECT_EQ(report::rounded(0.5, 3), "0.500");
}

TEST(Timeline, ProjectionAndClearance) {
  auto plan = example::sheath_in();
  plan.sites[0].projection = clinical::Projection{clinical::whole(150), at(16, 22), at(17, 30), at(19), at(15), true};
  plan.clearance = clinical::Clearance{24.45, {}};
  const auto one = timeline_of({plan})["cases"].at(0);
  EXPECT_EQ(json::write(one["sites"].at(0)["projection"]),
            R"({"analyte":"act","limit":150,"p10":"2026-03-02T16:22:00Z","p50":"2026-03-02T17:30:00Z","p90":"2026-03-02T19:00:00Z","nextDraw":"2026-03-02T15:00:00Z"})");
  EXPECT_EQ(json::write(one["creatinineClearance"]), R"({"value":24.5,"unit":"mL/min","basis":[]})");
}

}  // namespace
