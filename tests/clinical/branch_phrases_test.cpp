// Where a groin is pressed and what is said of a step, for every kind of site (phrases.h). An artery punctured downwards has its hole below the skin's, a vein is
// punctured towards the heart: common practice, no source. Wrong words here send a hand to the wrong place.
#include <gtest/gtest.h>

#include "clinical/phrases.h"
#include "mutants_support.h"

namespace clinical {
namespace {

SitePlan site(std::string key, Vessel vessel, Direction direction = Direction::retrograde) {
  SitePlan s;
  s.key = std::move(key);
  s.side = Side::right;
  s.vessel = vessel;
  s.direction = direction;
  return s;
}
std::string pressed(std::vector<SitePlan> sites, const std::vector<std::string>& named = {}) {
  CasePlan plan;
  plan.sites = std::move(sites);
  return press_term(plan, named);
}

TEST(PressTerm, OfOneSite) {
  using enum Vessel;
  EXPECT_EQ(pressed({site("a", artery)}), "@press.artery");
  EXPECT_EQ(pressed({site("a", vein)}), "@press.vein");
  EXPECT_EQ(pressed({site("a", unknown)}), "@press.artery") << "what is not known to be a vein is pressed as an artery";
  EXPECT_EQ(pressed({site("a", artery, Direction::antegrade)}), "@press.antegrade");
  EXPECT_EQ(pressed({site("a", unknown, Direction::antegrade)}), "@press.antegrade");
  EXPECT_EQ(pressed({site("a", vein, Direction::antegrade)}), "@press.vein");
}

TEST(PressTerm, OfSeveral) {
  using enum Vessel;
  const auto down = site("d", artery, Direction::antegrade), up = site("a", artery), v = site("v", vein);
  EXPECT_EQ(pressed({up, v}), "@press.artery");
  EXPECT_EQ(pressed({v, up}), "@press.artery");
  EXPECT_EQ(pressed({v, v}), "@press.vein");
  EXPECT_EQ(pressed({down, down}), "@press.antegrade");
  EXPECT_EQ(pressed({down, up}), "@press.mixed");
  EXPECT_EQ(pressed({down, v}), "@press.mixed");
  EXPECT_EQ(pressed({down, v, up}), "@press.mixed");
  EXPECT_EQ(pressed({down, up, v}, {"d"}), "@press.antegrade") << "only those that are named";
  EXPECT_EQ(pressed({down, up, v}, {"a"}), "@press.artery");
  EXPECT_EQ(pressed({down, up, v}, {"v"}), "@press.vein");
  EXPECT_EQ(pressed({down, up, v}, {"a", "v"}), "@press.artery");
  EXPECT_EQ(pressed({down, up, v}, {"d", "v"}), "@press.mixed");
}

TEST(WherePhrase, ASiteThatThePlanDoesNotKnowIsUnknown) {
  CasePlan plan;
  plan.sites = {site("a", Vessel::artery), site("b", Vessel::vein)};
  plan.sites[1].side = Side::left;
  const auto where = [&](const std::vector<std::string>& keys) { return where_phrase(plan, keys).code; };
  EXPECT_EQ(where({"a"}), "where.right");
  EXPECT_EQ(where({"b"}), "where.left");
  EXPECT_EQ(where({"a", "b"}), "where.both");
  EXPECT_EQ(where({"a", "of another case"}), "where.unknown");
  EXPECT_EQ(where({"of another case"}), "where.unknown");
  EXPECT_EQ(where({}), "where.unknown");
}

TEST(WhenPhrase, OfEveryStatus) {
  const auto said = [](StepStatus status, const std::function<void(Milestone&)>& change = [](Milestone&) {}) {
    Milestone m;
    m.step = Step::sit_up;
    m.status = status;
    change(m);
    return say(when_phrase(m));
  };
  using enum StepStatus;
  const auto at_three = [](Milestone& m) { m.earliest = hm(15); };
  EXPECT_EQ(said(done), "when.done-unknown");
  EXPECT_EQ(said(done, [](Milestone& m) { m.actual = hm(15); }), "when.done{at=15:00}");
  EXPECT_EQ(said(cancelled), "when.cancelled");
  EXPECT_EQ(said(due), "when.due-now");
  EXPECT_EQ(said(due, at_three), "when.due{at=15:00}");
  EXPECT_EQ(said(expected, at_three), "when.from{at=15:00}");
  EXPECT_EQ(said(expected, [](Milestone& m) { m.after_t0 = minutes{0}; }), "when.at-t0");
  EXPECT_EQ(said(expected, [](Milestone& m) { m.after_t0 = minutes{90}; }), "when.after-t0{length=90min}");
  EXPECT_EQ(said(expected), "when.blocked");
  EXPECT_EQ(said(expected, [](Milestone& m) { m.expected = hm(15); }), "when.blocked-until{at=15:00}");
  EXPECT_EQ(said(blocked), "when.blocked");
  EXPECT_EQ(said(blocked, [](Milestone& m) { m.expected = hm(15); }), "when.blocked-until{at=15:00}");
}

// Out at a time that nobody recorded is out; a removal that only ended with its case is none.
TEST(PressedOrOut, HowTheRemovalEnded) {
  const auto out = [](StepStatus status, const char* why) {
    SitePlan s = site("a", Vessel::artery);
    Milestone m;
    m.step = Step::remove_sheath;
    m.status = status;
    if (why) m.why = Reason{why, {}};
    s.milestones = {m};
    return is_pressed_or_out(s);
  };
  using enum StepStatus;
  EXPECT_TRUE(out(done, nullptr));
  EXPECT_TRUE(out(cancelled, "removal.out-at-unknown-time"));
  EXPECT_TRUE(out(cancelled, nullptr)) << "nobody said that it only ended with the case";
  EXPECT_FALSE(out(cancelled, "case.finished"));
  EXPECT_FALSE(out(due, nullptr));
  SitePlan s = site("a", Vessel::artery);
  EXPECT_FALSE(is_pressed_or_out(s));
  s.compression_started = hm(15);
  EXPECT_TRUE(is_pressed_or_out(s));
}

}  // namespace
}  // namespace clinical
