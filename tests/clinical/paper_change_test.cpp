// The Task that asks for paper: once for each sheet, gone with it, and no reason to make another sheet.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>

#include "clinical/change.h"
#include "fhir_write/example_plans.h"

namespace {

using namespace clinical;
using example::at;
using testing::IsEmpty;

WantedOptions asking_for(int sheet, bool is_void = false, const std::string& trouble = "@printer.jam") {
  WantedOptions options;
  options.paper = PaperNeeded{sheet, is_void, Reason{"print.no-paper", {{"printer", "Bay printer"}, {"trouble", trouble}}}};
  return options;
}

std::vector<Change> paper_changes(const Difference& d) {
  std::vector<Change> found;
  std::ranges::copy_if(d.changes, std::back_inserter(found), [](const Change& c) { return c.key.step == Step::print_sheet; });
  return found;
}

Difference against(const CasePlan& plan, const WantedOptions& options, const std::vector<Standing>& standing) {
  return difference(wanted(plan, example::protocol(), options), standing, at(14, 30));
}

class Paper : public testing::Test {
 protected:
  CasePlan plan = example::resting();
  std::vector<Standing> before = applied(against(plan, {}, {}), {});
  std::vector<Standing> asked = applied(against(plan, asking_for(2), before), before);
};

TEST_F(Paper, IsAskedForOnceAndMakesNoNewSheet) {
  const auto first = against(plan, asking_for(2), before);
  ASSERT_EQ(paper_changes(first).size(), 1U);
  const Change made = paper_changes(first).front();
  EXPECT_EQ(made.kind, ChangeKind::create);
  EXPECT_EQ(made.item->priority, Priority::urgent);
  EXPECT_EQ(made.item->sites, std::vector<std::string>{plan.sites.front().key});
  EXPECT_EQ(made.key.cause, "sheet 2");
  EXPECT_THAT(first.sheet_causes, IsEmpty());
  EXPECT_FALSE(first.at_once);
  EXPECT_TRUE(against(plan, asking_for(2), asked).empty());
}

TEST_F(Paper, SaysSoWhenThePrinterHasAnotherTrouble) {
  const auto changed = paper_changes(against(plan, asking_for(2, false, "@printer.no-paper"), asked));
  ASSERT_EQ(changed.size(), 1U);
  EXPECT_EQ(changed.front().kind, ChangeKind::update);
}

TEST_F(Paper, IsAskedForNoLongerWhenItIsOut) {
  WantedOptions out;
  out.sheets_on_paper = {2};
  const auto d = against(plan, out, asked);
  ASSERT_EQ(paper_changes(d).size(), 1U);
  EXPECT_EQ(paper_changes(d).front().kind, ChangeKind::withdraw);
  EXPECT_EQ(paper_changes(d).front().reason->code, "change.withdrawn.done");
  EXPECT_FALSE(d.at_once);
}

TEST_F(Paper, OfANewerSheetIsAnotherQuestion) {
  const auto d = against(plan, asking_for(3), asked);
  ASSERT_EQ(paper_changes(d).size(), 2U);
  EXPECT_EQ(paper_changes(d)[0].kind, ChangeKind::withdraw);
  EXPECT_EQ(paper_changes(d)[0].reason->code, "change.withdrawn.newer-sheet");
  EXPECT_EQ(paper_changes(d)[1].key.cause, "sheet 3");
  EXPECT_FALSE(d.at_once);
}

TEST_F(Paper, ThatSomebodyFetchesIsNotWrittenOver) {
  std::ranges::find_if(asked, [](const Standing& s) { return s.key.step == Step::print_sheet; })->state = Stands::claimed;
  EXPECT_TRUE(against(plan, asking_for(2, false, "@printer.no-paper"), asked).empty());
  const auto newer = against(plan, asking_for(3), asked);
  EXPECT_TRUE(std::ranges::any_of(paper_changes(newer), [](const Change& c) { return c.key.kind == ItemKind::cancellation; }));
}

TEST_F(Paper, OfAVoidSheetIsTheOnlyQuestionOfAWithdrawnCase) {
  plan.state = CaseState::withdrawn;
  EXPECT_THAT(wanted(plan, example::protocol(), asking_for(3)).items, IsEmpty());
  const auto only = wanted(plan, example::protocol(), asking_for(3, true)).items;
  ASSERT_EQ(only.size(), 1U);
  EXPECT_EQ(only.front().value_seen, "void");
}

TEST_F(Paper, IsNotAskedForOnceTheCaseIsFinished) {
  plan.state = CaseState::finished;
  const auto all = wanted(plan, example::protocol(), asking_for(2)).items;
  EXPECT_TRUE(std::ranges::none_of(all, [](const Item& item) { return item.key.step == Step::print_sheet; }));
}

}  // namespace
