#include "clinical/change.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <random>
#include <set>

#include "fhir_write/example_plans.h"

namespace {

using namespace clinical;
using example::at;
using testing::Contains;
using testing::ElementsAre;
using testing::IsEmpty;

Wanted wanted_of(const CasePlan& plan) { return wanted(plan, example::protocol(), {}); }

const Item* find_task(const Wanted& w, Step step) {
  const auto it = std::ranges::find_if(w.items, [&](const Item& i) { return i.key.kind == ItemKind::task && i.key.step == step; });
  return it == w.items.end() ? nullptr : &*it;
}
std::vector<Change> changes_of(const Difference& d, ItemKind kind, Step step) {
  std::vector<Change> found;
  std::ranges::copy_if(d.changes, std::back_inserter(found), [&](const Change& c) { return c.key.kind == kind && c.key.step == step; });
  return found;
}
std::vector<Standing> standing_after(const CasePlan& plan) { return applied(difference(wanted_of(plan), {}, at(14, 30)), {}); }
Standing& of_step(std::vector<Standing>& all, Step step) {
  return *std::ranges::find_if(all, [&](const Standing& s) { return s.key.step == step; });
}

TEST(ChangeKey, TextAndBack) {
  const ItemKey key{ItemKind::cancellation, Intent::plan, Step::call_clinician, "Procedure/p1#2", 2, 7, "haemoglobin-fall 2026|x", 1};
  EXPECT_EQ(text_of(key), "cancellation|plan|call-clinician|2|7|1|Procedure/p1#2|haemoglobin-fall 2026|x");
  EXPECT_EQ(key_from(text_of(key)), key);
  const ItemKey whole{ItemKind::care_plan, Intent::proposal, {}, "", 0, 0, "", 0};
  EXPECT_EQ(key_from(text_of(whole)), whole);
  for (const char* bad : {"", "task", "task|proposal|fly|0|0|0||", "task|proposal|sit-up|x|0|0||"}) EXPECT_FALSE(key_from(bad)) << bad;
}

TEST(Wanted, ReleasedMilestonesMissingFactsAndTheWholeCase) {
  const Wanted w = wanted_of(example::sheath_in());
  EXPECT_EQ(w.items.size(), 6u);  // CarePlan, sheet, answer, draw, check, provide-missing
  EXPECT_EQ(find_task(w, Step::remove_sheath), nullptr);
  EXPECT_EQ(find_task(w, Step::provide_missing)->priority, Priority::urgent);
  EXPECT_EQ(find_task(w, Step::draw_coagulation)->key.site, "");
  EXPECT_EQ(find_task(w, Step::check_site)->key.site, "Procedure/p1");
}

TEST(Wanted, PatientStepsOnceForTwoGroinsAndNotWhereALaterCaseCarriesThem) {
  CasePlan plan = example::nearly_up();
  plan.sites.push_back(plan.sites[0]);
  plan.sites[1].key = "Procedure/p2";
  const Wanted w = wanted_of(plan);
  const auto count = std::ranges::count_if(w.items, [](const Item& i) { return i.key.step == Step::stand_and_walk; });
  EXPECT_EQ(count, 1);
  EXPECT_EQ(find_task(w, Step::stand_and_walk)->sites.size(), 2u);
  EXPECT_EQ(find_task(w, Step::stand_and_walk)->key.generation, 2);
  EXPECT_EQ(find_task(wanted(plan, example::protocol(), {Intent::proposal, true}), Step::stand_and_walk), nullptr);
}

TEST(Wanted, LaterOpenCaseOfTheSamePatient) {
  std::vector<CasePlan> plans{example::resting(), example::sheath_in()};
  EXPECT_TRUE(patient_steps_elsewhere(plans, 0));
  EXPECT_FALSE(patient_steps_elsewhere(plans, 1));
  plans[1].state = CaseState::finished;
  EXPECT_FALSE(patient_steps_elsewhere(plans, 0));
}

TEST(Wanted, AsksAndAlertsCallAClinicianEmergenciesAtOnce) {
  CasePlan plan = example::sheath_in();
  plan.sites[0].gates[1].state = GateState::ask;
  plan.alerts = {{"limb", AlertLevel::emergency, "", "limb 15:00", example::reason("test.limb"), {}}};
  const Wanted w = wanted_of(plan);
  std::vector<Priority> priorities;
  for (const auto& i : w.items)
    if (i.key.step == Step::call_clinician) priorities.push_back(i.priority);
  EXPECT_THAT(priorities, testing::UnorderedElementsAre(Priority::urgent, Priority::stat));
}

TEST(Wanted, FinishedKeepsPlanAndSheetWithdrawnKeepsNothing) {
  CasePlan plan = example::resting();
  plan.state = CaseState::finished;
  EXPECT_EQ(wanted_of(plan).items.size(), 3u);
  plan.state = CaseState::withdrawn;
  EXPECT_THAT(wanted_of(plan).items, IsEmpty());
}

TEST(Difference, FirstWriteCreatesAndThenNothing) {
  const auto w = wanted_of(example::sheath_in());
  const auto first = difference(w, {}, at(15));
  EXPECT_EQ(first.changes.size(), w.items.size());
  EXPECT_FALSE(first.at_once) << "no sheet hangs yet";
  EXPECT_TRUE(difference(w, applied(first, {}), at(15)).empty());
}

TEST(Difference, ANewValidityRewritesNoTaskButPlanAndSheet) {
  CasePlan plan = example::sheath_in();
  const auto standing = standing_after(plan);
  plan.valid_until = at(18);
  const auto d = difference(wanted_of(plan), standing, at(16));
  for (const auto& c : d.changes) EXPECT_NE(c.key.kind, ItemKind::task);
  EXPECT_THAT(d.sheet_causes, ElementsAre("validity"));
  EXPECT_FALSE(d.at_once);
  EXPECT_TRUE(std::ranges::any_of(d.changes, [](const Change& c) { return c.key.kind == ItemKind::care_plan && c.kind == ChangeKind::update; }));
}

TEST(Difference, ANewSheetNamesItsCausesAndSupersedesTheOldOne) {
  const auto standing = standing_after(example::sheath_in());
  CasePlan plan = example::sheath_in();
  plan.sites[0].french = 7;
  plan.missing.clear();
  const auto d = difference(wanted_of(plan), standing, at(15));
  EXPECT_THAT(d.sheet_causes, ElementsAre("size", "missing"));
  EXPECT_TRUE(d.at_once);
  std::vector<std::pair<ChangeKind, int>> sheets;
  for (const auto& c : d.changes)
    if (c.key.kind == ItemKind::document) sheets.emplace_back(c.kind, c.key.ordinal);
  EXPECT_THAT(sheets, ElementsAre(std::pair(ChangeKind::withdraw, 1), std::pair(ChangeKind::create, 2)));
}

TEST(Difference, ARecordedCheckOrADueTimeMakesNoNewSheet) {
  const auto standing = standing_after(example::resting());
  CasePlan plan = example::resting();
  for (auto& m : plan.sites[0].milestones)
    if (m.step == Step::raise_head) m.status = StepStatus::due;
  EXPECT_THAT(difference(wanted_of(plan), standing, at(16, 30)).sheet_causes, IsEmpty());
}

TEST(Difference, RebleedWithdrawsStandingAndSittingFirst) {
  const auto d = difference(wanted_of(example::rebleed()), standing_after(example::nearly_up()), at(18));
  ASSERT_GE(d.changes.size(), 3u);
  EXPECT_EQ(d.changes[0].key.step, Step::stand_and_walk);
  EXPECT_EQ(d.changes[1].key.step, Step::sit_up);
  for (int i = 0; i < 3; ++i) EXPECT_EQ(d.changes[static_cast<std::size_t>(i)].kind, ChangeKind::withdraw);
  EXPECT_TRUE(d.at_once);
}

TEST(Difference, AClaimedStandTaskIsNotRewrittenButStoppedWithAnAlarm) {
  auto standing = standing_after(example::nearly_up());
  of_step(standing, Step::stand_and_walk).state = Stands::claimed;
  const auto w = wanted_of(example::rebleed());
  const auto d = difference(w, standing, at(18));
  EXPECT_THAT(changes_of(d, ItemKind::task, Step::stand_and_walk), IsEmpty());
  const auto stop = changes_of(d, ItemKind::cancellation, Step::stand_and_walk);
  ASSERT_EQ(stop.size(), 1u);
  EXPECT_EQ(stop[0].item->priority, Priority::urgent);
  EXPECT_EQ(stop[0].replaces, of_step(standing, Step::stand_and_walk).key);
  const auto calls = changes_of(d, ItemKind::task, Step::call_clinician);
  EXPECT_TRUE(std::ranges::any_of(calls, [](const Change& c) { return c.item->why->code == "change.claimed-unsafe-nobody" && c.item->priority == Priority::urgent; }));
  EXPECT_TRUE(difference(w, applied(d, standing), at(18)).empty());
  // Once its holder has stopped, the request and the alarm go.
  auto after = applied(d, standing);
  of_step(after, Step::stand_and_walk).state = Stands::rejected;
  const auto later = difference(w, after, at(18, 5));
  EXPECT_EQ(changes_of(later, ItemKind::cancellation, Step::stand_and_walk).front().kind, ChangeKind::withdraw);
}

TEST(Difference, AClaimedTaskWithANewTimeGetsASuccessor) {
  auto standing = standing_after(example::nearly_up());
  of_step(standing, Step::stand_and_walk).state = Stands::claimed;
  CasePlan plan = example::nearly_up();
  for (auto& m : plan.sites[0].milestones)
    if (m.step == Step::stand_and_walk) m.earliest = *m.earliest + minutes{120};
  const auto d = difference(wanted_of(plan), standing, at(18));
  const auto tasks = changes_of(d, ItemKind::task, Step::stand_and_walk);
  ASSERT_EQ(tasks.size(), 1u);
  EXPECT_EQ(tasks[0].kind, ChangeKind::create);
  EXPECT_EQ(tasks[0].key.replacement, 1);
  EXPECT_EQ(changes_of(d, ItemKind::cancellation, Step::stand_and_walk).size(), 1u);
}

TEST(Difference, AClaimedRequestForFactsStandsWhileItCoversWhatIsMissing) {
  auto standing = standing_after(example::sheath_in());
  of_step(standing, Step::provide_missing).state = Stands::claimed;
  CasePlan plan = example::sheath_in();
  plan.missing.push_back({Fact::weight, AskedOf::nurse, {}, ""});
  const auto more = difference(wanted_of(plan), standing, at(15));
  EXPECT_EQ(changes_of(more, ItemKind::task, Step::provide_missing).size(), 1u);
  auto both = applied(more, standing);
  std::ranges::find_if(both, [](const Standing& s) { return s.key.step == Step::provide_missing && s.key.replacement == 1; })->state = Stands::claimed;
  EXPECT_THAT(changes_of(difference(wanted_of(example::sheath_in()), both, at(15)), ItemKind::task, Step::provide_missing), IsEmpty());
}

TEST(Difference, ARejectedTaskComesBackAfterAnHour) {
  auto standing = standing_after(example::sheath_in());
  auto& draw = of_step(standing, Step::draw_coagulation);
  draw.state = Stands::rejected;
  draw.ended = at(15);
  const auto w = wanted_of(example::sheath_in());
  const auto soon = difference(w, standing, at(15, 59));
  EXPECT_THAT(changes_of(soon, ItemKind::task, Step::draw_coagulation), IsEmpty());
  EXPECT_EQ(soon.again_at, at(16));
  EXPECT_EQ(changes_of(difference(w, standing, at(16)), ItemKind::task, Step::draw_coagulation).front().key.replacement, 1);
}

TEST(Difference, ApprovalMakesNewItemsAndEndsTheOld) {
  const auto standing = standing_after(example::sheath_in());
  const auto d = difference(wanted(example::sheath_in(), example::protocol(), {Intent::plan, false}), standing, at(15));
  const auto withdrawn = std::ranges::count_if(d.changes, [](const Change& c) { return c.kind == ChangeKind::withdraw; });
  EXPECT_EQ(withdrawn, static_cast<std::ptrdiff_t>(standing.size()));
  EXPECT_EQ(d.changes.size(), 2 * standing.size());
}

TEST(Difference, AVanishedCaseEndsEverythingOfOurs) {
  const auto standing = standing_after(example::nearly_up());
  const auto d = difference({}, standing, at(18));
  EXPECT_EQ(d.changes.size(), standing.size());
  EXPECT_TRUE(difference({}, applied(d, standing), at(18)).empty());
}

// Any history of plans and of what people do to Tasks: asking twice changes nothing, and what somebody holds is never rewritten.
TEST(Difference, RandomHistories) {
  const std::vector<CasePlan> plans{example::sheath_in(), example::resting(), example::nearly_up(), example::rebleed(), example::resting(at(15)), example::resting(at(19))};
  for (unsigned seed = 0; seed < 200; ++seed) {
    std::mt19937 random(seed);
    std::vector<Standing> standing;
    Instant now = at(14);
    for (int step = 0; step < 12; ++step) {
      now += minutes{random() % 40};
      const auto w = wanted_of(plans[random() % plans.size()]);
      const auto d = difference(w, standing, now);
      std::set<ItemKey> touched;
      bool created = false;
      for (const auto& c : d.changes) {
        EXPECT_TRUE(touched.insert(c.key).second) << text_of(c.key);
        const auto old = std::ranges::find(standing, c.key, &Standing::key);
        EXPECT_EQ(old == standing.end(), c.kind == ChangeKind::create) << text_of(c.key);
        if (c.kind != ChangeKind::create && c.key.kind == ItemKind::task) {
          EXPECT_EQ(old->state, Stands::open) << text_of(c.key);
        }
        if (c.kind == ChangeKind::withdraw && c.key.kind == ItemKind::task) {
          EXPECT_FALSE(created) << "seed " << seed;
        }
        created = created || c.kind == ChangeKind::create;
      }
      standing = applied(d, standing);
      EXPECT_TRUE(difference(w, standing, now).empty()) << "seed " << seed << " step " << step;
      const auto current = std::ranges::count_if(standing, [](const Standing& s) { return s.key.kind == ItemKind::document && s.state == Stands::open; });
      EXPECT_EQ(current, 1);
      for (auto& s : standing) {
        if (s.key.kind != ItemKind::task || random() % 4 != 0) continue;
        if (s.state == Stands::open) s.state = Stands::claimed;
        else if (s.state == Stands::claimed) {
          s.state = random() % 2 ? Stands::completed : Stands::rejected;
          s.ended = now;
        }
      }
    }
  }
}

TEST(Moved, NamesTheFactAndTheMinutes) {
  CasePlan later = example::resting(at(14, 45));
  later.sites[0].milestones[2].basis[0].inputs.push_back({"Procedure/haemostasis2", "1", false});
  const auto rows = moved(example::resting(), later);
  const auto head = std::ranges::find(rows, Step::raise_head, &Moved::step);
  ASSERT_NE(head, rows.end());
  EXPECT_EQ(head->by, minutes{15});
  EXPECT_EQ(head->site, "");
  EXPECT_THAT(head->because, ElementsAre(Source{"Procedure/haemostasis2", "1", false}));
}

TEST(Moved, ALongerRestBeforeT0AndALostTime) {
  CasePlan longer = example::sheath_in();
  longer.sites[0].milestones[3].after_t0 = minutes{480};
  longer.sites[0].milestones[3].basis[0].inputs = {{"Procedure/p1", "2", false}};
  const auto rows = moved(example::sheath_in(), longer);
  ASSERT_EQ(rows.size(), 1u);
  EXPECT_EQ(rows[0].by, minutes{120});
  EXPECT_THAT(rows[0].because, ElementsAre(Source{"Procedure/p1", "2", false}));
  EXPECT_THAT(rows[0].gone, ElementsAre(Source{"Procedure/p1", "1", false}));
  const auto lost = moved(example::nearly_up(), example::rebleed());
  const auto stand = std::ranges::find(lost, Step::stand_and_walk, &Moved::step);
  EXPECT_EQ(stand->from, at(20, 30));
  EXPECT_FALSE(stand->to);
  EXPECT_FALSE(stand->by);
  EXPECT_EQ(stand->status_to, StepStatus::blocked);
  EXPECT_TRUE(moved(example::resting(), example::resting()).empty());
}

}  // namespace
