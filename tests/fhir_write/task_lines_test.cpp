// The checklists that Tasks carry: which step has which, none is lost, and a device has its own.
#include "fhir_write/task_lines.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <fstream>
#include <set>

#include "clinical/names.h"
#include "fhir_write/example_write.h"
#include "fhir_write/task_words.h"

namespace {

using namespace clinical;
using testing::IsEmpty;

Item item_of(Step step, int ordinal = 0) {
  Item item;
  item.key.kind = ItemKind::task;
  item.key.step = step;
  item.key.site = "Procedure/p1";
  item.key.ordinal = ordinal;
  item.milestone = example::milestone(step, StepStatus::due, example::at(15), true);
  return item;
}

class TaskLines : public testing::Test {
 protected:
  std::vector<std::string> lines(const Item& item, Closure closure = Closure::manual) {
    auto plan = example::sheath_in();
    plan.sites[0].closure = closure;
    example::History history(fhir_write::Form::file);
    return fhir_write::task_lines(history.context(example::at(15)), plan, item);
  }
  std::vector<std::string> lines(Step step, int ordinal = 0, Closure closure = Closure::manual) { return lines(item_of(step, ordinal), closure); }
  /// The sentences of lists, as the templates have them.
  static std::vector<std::string> sentences(std::initializer_list<const char*> lists) {
    std::vector<std::string> all;
    for (const std::string list : lists)
      for (int i = 1; example::english().has_reason(list + "." + std::to_string(i)); ++i) all.push_back(example::english().render({list + "." + std::to_string(i), {}}, {}));
    EXPECT_FALSE(all.empty());
    return all;
  }
};

TEST_F(TaskLines, EachStepHasItsOwn) {
  EXPECT_EQ(lines(Step::confirm_readiness), sentences({"lines.ready"}));
  EXPECT_EQ(lines(Step::remove_sheath), sentences({"lines.pull"}));
  EXPECT_EQ(lines(Step::raise_head), sentences({"lines.rest"}));
  EXPECT_EQ(lines(Step::stand_and_walk), sentences({"lines.walk"}));
  EXPECT_EQ(lines(Step::ask_anticoagulant_plan), sentences({"lines.anticoagulant-plan"}));
  EXPECT_EQ(lines(Step::discharge_check), sentences({"lines.discharge", "lines.home"}));
  for (const Step step : {Step::provide_missing, Step::draw_coagulation, Step::firm_compression, Step::partial_compression, Step::light_compression,
                          Step::low_pressure_hold, Step::end_compression, Step::dress_site, Step::sit_up, Step::check_after_walk, Step::call_clinician, Step::print_sheet, Step::check_sheet})
    EXPECT_THAT(lines(step), IsEmpty()) << name_of(step);
}

// On arrival: with the first check and with no other.
TEST_F(TaskLines, OnlyTheFirstCheckIsTheArrival) {
  EXPECT_EQ(lines(Step::check_site, 1), sentences({"lines.arrival"}));
  EXPECT_THAT(lines(Step::check_site, 0), IsEmpty());
  EXPECT_THAT(lines(Step::check_site, 2), IsEmpty());
}

TEST_F(TaskLines, ADeviceHasItsSetUpBeforeAndItsEnd) {
  const auto m = Closure::mechanical;
  EXPECT_EQ(lines(Step::confirm_readiness, 0, m), sentences({"lines.ready", "lines.device"}));
  EXPECT_EQ(lines(Step::remove_sheath, 0, m), sentences({"lines.pull", "lines.device"}));
  EXPECT_EQ(lines(Step::firm_compression, 0, m), sentences({"lines.device"}));
  EXPECT_EQ(lines(Step::reduce_pressure, 0, m), sentences({"lines.step-down"}));
  EXPECT_EQ(lines(Step::end_compression, 0, m), sentences({"lines.device-off"}));
  EXPECT_THAT(lines(Step::partial_compression, 0, m), IsEmpty());
  for (const auto closure : {Closure::unknown, Closure::device, Closure::suture}) {
    EXPECT_THAT(lines(Step::firm_compression, 0, closure), IsEmpty()) << name_of(closure);
    EXPECT_EQ(lines(Step::remove_sheath, 0, closure), sentences({"lines.pull"})) << name_of(closure);
  }
  auto elsewhere = item_of(Step::firm_compression);
  elsewhere.key.site = "Procedure/other";
  EXPECT_THAT(lines(elsewhere, m), IsEmpty()) << "of a site that the plan does not have";
}

TEST_F(TaskLines, OnlyATaskOfAMilestoneCarriesThem) {
  auto cancelled = item_of(Step::stand_and_walk);
  cancelled.milestone.reset();
  EXPECT_THAT(lines(cancelled), IsEmpty());
  auto document = item_of(Step::stand_and_walk);
  document.key.kind = ItemKind::document;
  EXPECT_THAT(lines(document), IsEmpty());
}

// A list that no step asks for would never be read.
TEST_F(TaskLines, EveryListOfTheTemplatesIsReached) {
  std::set<std::string> reached;
  for (int s = 0; s <= static_cast<int>(Step::check_sheet); ++s)
    for (const auto closure : {Closure::manual, Closure::mechanical})
      for (const auto& line : lines(static_cast<Step>(s), 1, closure)) reached.insert(line);
  for (const auto* list : {"lines.arrival", "lines.ready", "lines.pull", "lines.device", "lines.step-down", "lines.device-off", "lines.rest", "lines.walk", "lines.anticoagulant-plan", "lines.discharge", "lines.home"})
    for (const auto& sentence : sentences({list})) EXPECT_TRUE(reached.contains(sentence)) << sentence;
  std::ifstream file(SOURCE_DIR "/templates/en/course.toml");
  int written = 0;
  for (std::string line; std::getline(file, line);) written += line.starts_with("\"lines.");
  EXPECT_EQ(static_cast<int>(reached.size()), written) << "a gap in the numbers hides what comes after it";
}

TEST_F(TaskLines, whom_to_call_stands_in_a_call_for_a_clinician_alone) {
  auto plan = example::sheath_in();
  plan.cautions = {{"caution.contact", {{"who", std::string("Dr A. Invented (attending)")}, {"phone", std::string("5550-1")}, {"source", std::string("PractitionerRole/pr")}}}};
  example::History history(fhir_write::Form::file);
  const auto context = history.context(example::at(15));
  const auto call = item_of(Step::call_clinician);
  EXPECT_THAT(fhir_write::task_description(context, plan, call), testing::HasSubstr("Dr A. Invented (attending), telephone 5550-1 (from PractitionerRole/pr; not checked)"));
  EXPECT_THAT(fhir_write::task_description(context, plan, item_of(Step::check_site)), testing::Not(testing::HasSubstr("5550-1")));
}

}  // namespace
