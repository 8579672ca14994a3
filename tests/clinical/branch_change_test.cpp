// What stands in the record against what should, where what stands is odd: a CarePlan that somebody took up, a Task whose step nobody knows any more, one without a
// window, a key that somebody shortened. change.h says what holds: never overwrite a nurse, never double a Task, nothing is called a danger that is none.
#include <gmock/gmock.h>

#include <algorithm>

#include "clinical/change.h"
#include "clinical/change_fingerprint.h"
#include "mutants_change_support.h"

namespace clinical {
namespace {

Item item_of(ItemKind kind, std::optional<Step> step = {}, std::optional<Instant> start = {}) {
  Item item;
  item.key.kind = kind;
  item.key.step = step;
  item.start = start;
  item.fingerprint = kind == ItemKind::task ? task_content(start, Digest()) + ";note" : "content;note";
  return item;
}
Standing stands(const Item& item, Stands state) { return {item.key, item.fingerprint, state, "A. Nurse (invented)", {}}; }
std::vector<Change> changes(const std::vector<Item>& items, const std::vector<Standing>& standing, Instant now = hm(15)) {
  return difference(Wanted{items, {}, {}, {}}, standing, now).changes;
}

// Somebody signs or comments on the CarePlan: it stays ours to keep right, and goes with the case.
TEST(TakenUpCarePlan, IsKeptRightAndWithdrawn) {
  const Item plan = item_of(ItemKind::care_plan);
  EXPECT_THAT(changes({plan}, {stands(plan, Stands::claimed)}), testing::IsEmpty());
  Item other = plan;
  other.fingerprint = "other;note";
  auto found = changes({other}, {stands(plan, Stands::claimed)});
  ASSERT_EQ(found.size(), 1U);
  EXPECT_EQ(found[0].kind, ChangeKind::update);
  found = changes({}, {stands(plan, Stands::claimed)});
  ASSERT_EQ(found.size(), 1U);
  EXPECT_EQ(found[0].kind, ChangeKind::withdraw);
  EXPECT_THAT(changes({}, {stands(plan, Stands::completed)}), testing::IsEmpty()) << "somebody ended it";
}

TEST(TakenUpTask, WithoutAKnownStepIsStoppedAndNoDanger) {
  const Item task = item_of(ItemKind::task, {}, hm(14));
  const auto found = changes({}, {stands(task, Stands::claimed)});
  ASSERT_EQ(found.size(), 1U);
  EXPECT_EQ(found[0].key.kind, ItemKind::cancellation);
  EXPECT_EQ(found[0].item->priority, Priority::routine);
}

// A hazard is a Task whose holder might do it now although it is to be later; without a window of its own nobody can tell that it is later.
TEST(TakenUpTask, WhoseWindowIsNotKnown) {
  const auto alarmed = [](std::optional<Instant> theirs, std::optional<Instant> ours) {
    Item item = item_of(ItemKind::task, Step::remove_sheath, ours);
    item.fingerprint = task_content(ours, Digest().add(std::string_view("something else"))) + ";note";
    const auto found = changes({item}, {stands(item_of(ItemKind::task, Step::remove_sheath, theirs), Stands::claimed)});
    return std::ranges::any_of(found, [](const Change& c) { return c.key.step == Step::call_clinician; });
  };
  EXPECT_TRUE(alarmed(hm(14), hm(16)));
  EXPECT_TRUE(alarmed({}, hm(16))) << "theirs says nothing of when: they may do it now";
  EXPECT_FALSE(alarmed(hm(14), {})) << "ours says that it may be done at any time";
  EXPECT_FALSE(alarmed(hm(17), hm(16))) << "theirs is later still";
}

TEST(AtOnce, OnlyATaskCallsForHaste) {
  const auto at_once = [](ItemKind kind, Priority priority) {
    Item item = item_of(kind, kind == ItemKind::task ? std::optional(Step::call_clinician) : std::nullopt);
    item.priority = priority;
    return difference(Wanted{{item}, {}, {}, {}}, {}, hm(15)).at_once;
  };
  EXPECT_TRUE(at_once(ItemKind::task, Priority::stat));
  EXPECT_FALSE(at_once(ItemKind::task, Priority::urgent));
  EXPECT_FALSE(at_once(ItemKind::care_plan, Priority::stat));
}

// A step is done for its own site, ordinal and cause, and for no other.
TEST(WithdrawnBecause, ItsOwnStepIsDone) {
  const auto why = [](const std::function<void(ItemKey&)>& change) {
    const Item task = item_of(ItemKind::task, Step::check_site, hm(14));
    ItemKey done = task.key;
    change(done);
    Wanted wanted;
    wanted.done = {done};
    return difference(wanted, {stands(task, Stands::open)}, hm(15)).changes.at(0).reason->code;
  };
  EXPECT_EQ(why([](ItemKey&) {}), "change.withdrawn.done");
  EXPECT_EQ(why([](ItemKey& k) { k.generation = 7; }), "change.withdrawn.done") << "of an earlier round";
  EXPECT_EQ(why([](ItemKey& k) { k.step = Step::sit_up; }), "change.withdrawn.no-longer");
  EXPECT_EQ(why([](ItemKey& k) { k.site = "Procedure/p2"; }), "change.withdrawn.no-longer");
  EXPECT_EQ(why([](ItemKey& k) { k.ordinal = 2; }), "change.withdrawn.no-longer");
  EXPECT_EQ(why([](ItemKey& k) { k.cause = "another"; }), "change.withdrawn.no-longer");
}

TEST(StoredKey, IsReadBackWholeOrNotAtAll) {
  const std::string good = "task|plan|check-site|1|2|3|Procedure/p1|cause|with bars";
  const auto key = key_from(good);
  ASSERT_TRUE(key);
  EXPECT_EQ(text_of(*key), good);
  for (const char* bad : {"", "task", "other|plan|check-site|1|2|3||", "task|other|check-site|1|2|3||", "task|plan|other|1|2|3||", "task|plan|check-site||2|3||", "task|plan|check-site|x|2|3||",
                          "task|plan|check-site|1x|2|3||", "task|plan|check-site|1||3||", "task|plan|check-site|1|2|||", "task|plan|check-site|1|2|y||", "task|plan|check-site|99999999999|2|3||"})
    EXPECT_FALSE(key_from(bad)) << bad;
  EXPECT_TRUE(key_from("care-plan|plan||0|0|0||")) << "no step";
}

// A length counts as moved only where both plans say one.
TEST(MovedBy, ALengthOnlyOneOfThemSaysIsNoGrowth) {
  const auto by = [](const std::function<void(Milestone&)>& before, const std::function<void(Milestone&)>& after) {
    const auto plan = [](const std::function<void(Milestone&)>& change) {
      CasePlan p;
      SitePlan s;
      s.key = "Procedure/p1";
      Milestone m;
      m.step = Step::stand_and_walk;
      change(m);
      s.milestones = {m};
      p.sites = {s};
      return p;
    };
    const auto rows = moved(plan(before), plan(after));
    return rows.empty() || !rows[0].by ? std::string("-") : std::to_string(rows[0].by->count());
  };
  const auto none = [](Milestone&) {};
  const auto after_t0 = [](int m) { return [m](Milestone& x) { x.after_t0 = minutes{m}; }; };
  const auto planned = [](int m) { return [m](Milestone& x) { x.planned = minutes{m}; }; };
  EXPECT_EQ(by(after_t0(360), after_t0(420)), "60");
  EXPECT_EQ(by(after_t0(360), after_t0(360)), "-");
  EXPECT_EQ(by(after_t0(360), none), "-");
  EXPECT_EQ(by(none, after_t0(360)), "-");
  EXPECT_EQ(by(planned(20), planned(25)), "5");
  EXPECT_EQ(by(planned(20), none), "-");
  EXPECT_EQ(by(none, planned(20)), "-");
  EXPECT_EQ(by(planned(20), planned(20)), "-");
}

// Two of one step and site are told apart by their ordinal, two of one site by their step.
TEST(MovedBy, InTheOrderOfTheCourse) {
  CasePlan before, after;
  SitePlan s;
  s.key = "Procedure/p1";
  for (const int ordinal : {2, 1}) {
    Milestone m;
    m.step = Step::check_site;
    m.ordinal = ordinal;
    m.earliest = hm(15, ordinal);
    s.milestones.push_back(m);
  }
  before.sites = {s};
  s.milestones[1].earliest = hm(16);
  after.sites = {s};
  const auto rows = moved(before, after);
  ASSERT_EQ(rows.size(), 1U);
  EXPECT_EQ(rows[0].ordinal, 1);
  EXPECT_EQ(rows[0].by, minutes{59});
}

// What is missing and what contradicts each ask for themselves; calls by number are Tasks of their own, calls for a gate are the gate's.
TEST(WantedItems, ConflictsAloneAreAskedAboutToo) {
  const auto asked = [](bool missing, bool conflict) {
    CasePlan plan = rich();
    plan.missing.clear();
    plan.conflicts.clear();
    if (missing) plan.missing.push_back({Fact::weight, AskedOf::nurse, {}, "", ""});
    if (conflict) plan.conflicts.push_back({Fact::side, "", {}, {}, ""});
    const auto items = wanted(plan, cautious(), {Intent::proposal, false}).items;
    const auto found = std::ranges::find_if(items, [](const Item& i) { return i.key.step == Step::provide_missing; });
    return found == items.end() ? std::string("no") : found->priority == Priority::urgent ? "urgent" : "routine";
  };
  EXPECT_EQ(asked(false, false), "no");
  EXPECT_EQ(asked(true, false), "routine");
  EXPECT_EQ(asked(false, true), "urgent");
  EXPECT_EQ(asked(true, true), "urgent");
}

TEST(WantedItems, WhatHoldsThePullBackIsUrgent) {
  const auto priority = [](Step step, int ordinal = 0) {
    CasePlan plan = rich();
    Milestone m = example::milestone(step, StepStatus::due, example::at(15), true);
    m.ordinal = ordinal;
    plan.sites[0].milestones = {m};
    const auto items = wanted(plan, cautious(), {Intent::proposal, false}).items;
    const auto found = std::ranges::find_if(items, [&](const Item& i) { return i.key.step == step && i.milestone; });
    return found == items.end() ? std::string("none") : found->priority == Priority::urgent ? "urgent" : "routine";
  };
  EXPECT_EQ(priority(Step::draw_coagulation), "urgent");
  EXPECT_EQ(priority(Step::confirm_readiness), "urgent");
  EXPECT_EQ(priority(Step::call_clinician, 2), "urgent");
  EXPECT_EQ(priority(Step::call_clinician, 100), "none") << "the gate asks for it";
  EXPECT_EQ(priority(Step::dress_site), "routine");
}

// Of several Tasks the last is the one that starts last; one that is released without a start is none of them.
TEST(WantedItems, TheLastOne) {
  CasePlan plan = rich();
  auto first = example::milestone(Step::sit_up, StepStatus::due, example::at(15), true), second = example::milestone(Step::stand_and_walk, StepStatus::due, example::at(16), true);
  auto without = example::milestone(Step::discharge_check, StepStatus::due, example::at(17), true);
  without.earliest.reset();
  plan.sites[0].milestones = {second, first, without};
  const auto items = wanted(plan, cautious(), {Intent::proposal, false}).items;
  const auto last = std::ranges::find_if(items, [](const Item& i) { return i.last; });
  ASSERT_NE(last, items.end());
  EXPECT_EQ(last->key.step, Step::stand_and_walk);
}

// An alert that names a site which the plan no longer lists is still an alert.
TEST(WantedItems, AnAlertOfASiteThatIsNotListed) {
  CasePlan plan = rich();
  plan.alerts = {{"swelling", AlertLevel::urgent, "Procedure/gone", "swelling|Procedure/gone|15:00", {"test.alert", {}}, {}}};
  const auto items = wanted(plan, cautious(), {Intent::proposal, false}).items;
  EXPECT_TRUE(std::ranges::any_of(items, [](const Item& i) { return i.subject == "swelling" && i.sites == std::vector<std::string>{"Procedure/gone"}; }));
}

}  // namespace
}  // namespace clinical
