#include "report/table.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <sstream>

#include "fhir_write/example_plans.h"
#include "fhir_write/example_words.h"
#include "report/columns.h"

namespace {

using example::at;
using testing::HasSubstr;
using testing::Not;

std::string table_of(const clinical::CasePlan& plan) { return report::table({plan}, example::protocol(), at(15), example::voice(at(15))); }

TEST(Columns, WrapsAndCountsCharacters) {
  EXPECT_EQ(report::width_of("Größe"), 5u);
  EXPECT_EQ(report::wrapped("one two three", 7), (std::vector<std::string>{"one two", "three"}));
  EXPECT_EQ(report::wrapped("", 7), std::vector<std::string>{""});
  report::Columns columns({6}, 1);
  columns.add({"Größe", "x"});
  EXPECT_EQ(columns.take(), " Größe   x\n");
}

TEST(Table, SaysStateMissingNextActAndReasons) {
  const auto text = table_of(example::sheath_in());
  EXPECT_THAT(text, HasSubstr("NOT APPROVED"));
  EXPECT_THAT(text, HasSubstr("Sheath in"));
  EXPECT_THAT(text, HasSubstr("MISSING OR CONTRADICTORY"));
  EXPECT_THAT(text, HasSubstr("RIGHT groin: 6 F sheath, femoral artery"));
  EXPECT_THAT(text, HasSubstr("Next: draw blood for clotting"));
  EXPECT_THAT(text, HasSubstr("not before 17:30"));
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) EXPECT_LE(report::width_of(line), report::kTerminalWidth) << line;
}

TEST(Table, ChecksOfOneStatusShareARow) {
  auto plan = example::resting();
  auto check = example::milestone(example::Step::check_site, example::StepStatus::expected, at(16), false);
  for (int i = 0; i < 5; ++i) {
    check.ordinal = 10 + i;
    *check.earliest += clinical::minutes{15};
    plan.sites[0].milestones.push_back(check);
  }
  EXPECT_THAT(table_of(plan), HasSubstr("5 checks of groin, foot"));
}

TEST(Moved, RowsNameFactAndMinutes) {
  auto later = example::resting(at(14, 45));
  for (auto& m : later.sites[0].milestones) m.basis[0].inputs.push_back({"Procedure/haemostasis2", "1", false});
  const auto text = report::moved_table(example::resting(), later, example::voice(at(15)));
  EXPECT_THAT(text, HasSubstr("20:30 -> 20:45"));
  EXPECT_THAT(text, HasSubstr("+15 min"));
  EXPECT_THAT(text, HasSubstr("Procedure/haemostasis2"));
  EXPECT_EQ(report::moved_table(later, later, example::voice(at(15))), "");
  EXPECT_THAT(report::moved_lines(example::nearly_up(), example::rebleed(), example::voice(at(18))), testing::Contains(HasSubstr("stand and walk: 20:30 -> BLOCKED")));
}

TEST(Explain, GivesRuleSourceFactsAndArithmetic) {
  auto plan = example::resting();
  plan.shown_values = {{{"Procedure/haemostasis", "1", false}, clinical::Analyte::act, clinical::Value{clinical::whole(142), {}, "142 s"}, {}, {}, {}, false, "", "", "", ""}};
  const auto text = report::explain(plan, example::protocol(), at(15), example::voice(at(15)));
  EXPECT_THAT(text, HasSubstr("Rule rest.artery.per-french; source: common practice, no source."));
  EXPECT_THAT(text, HasSubstr("142 s (Procedure/haemostasis)"));
  EXPECT_THAT(text, Not(HasSubstr("[record.")));
}

TEST(Explain, SaysWhereAFactCameFromOnlyWhereThereIsOne) {
  auto plan = example::resting();
  plan.alerts = {{"haemostasis-missing", clinical::AlertLevel::tell, plan.sites[0].key, "e", {"alert.missed-check", {{"at", at(14)}}}, {}, at(14), {}}};
  plan.sites[0].milestones[0].basis[0].inputs = {{"", "", false}};
  const auto text = report::explain(plan, example::protocol(), at(15), example::voice(at(15)));
  EXPECT_THAT(text, HasSubstr("The check of 14:00 is missing."));
  EXPECT_THAT(text, Not(HasSubstr("From: .")));
}

TEST(Explain, SaysWhatIsWrongWithATimeThatLiesInTheFuture) {
  auto plan = example::resting();
  plan.conflicts = {{clinical::Fact::inr, "future-time", {"1.1"}, {}, {}}, {clinical::Fact::site_check, "future-time", {}, {}, {}},
                    {clinical::Fact::dose_time, "future-time", {"heparin"}, {}, {}}, {clinical::Fact::side, "", {"left", "right"}, {}, {}}};
  const auto text = report::explain(plan, example::protocol(), at(15), example::voice(at(15)));
  EXPECT_THAT(text, HasSubstr("A time lies in the future: INR 1.1. Put the record right."));
  EXPECT_THAT(text, HasSubstr("A time lies in the future: check of groin and foot. Put the record right."));
  EXPECT_THAT(text, HasSubstr("A time lies in the future: heparin. Put the record right."));
  EXPECT_THAT(text, HasSubstr("Sources disagree on side: left / right."));
}

TEST(Explain, WhatIsCountedAsTheWorseIsASentence) {
  auto plan = example::resting();
  plan.sites[0].milestones[0].basis[0].arithmetic = {
      "add.not-recorded", {{"what", std::string("@add.pulled-with-gate-not-open")}, {"amount", clinical::seconds{300}}, {"total", clinical::seconds{1500}}}};
  const auto text = report::explain(plan, example::protocol(), at(15), example::voice(at(15)));
  EXPECT_THAT(text, HasSubstr("sheath taken out while a clotting gate was not open (not recorded, counted as the worse): + 5"));
}

TEST(Explain, TellsOfRebleedsOfWhatIsToComeAndWhyTheWatchIsCloser) {
  auto plan = example::sheath_in();
  EXPECT_THAT(table_of(plan), HasSubstr("to be pressed by hand"));
  plan = example::resting();
  plan.sites[0].rebleeds = {at(13), at(14)};
  plan.sites[0].watched_for = {{"watch.closer.rebleed", {}}, {"watch.closer.not-recorded", {{"what", std::string("@add.platelets")}}}};
  const auto text = report::explain(plan, example::protocol(), at(15), example::voice(at(15)));
  EXPECT_THAT(text, HasSubstr("Rebled 13:00. Rebled 14:00."));
  EXPECT_THAT(text, HasSubstr("Closer watch because of: rebleed, platelets (not recorded)."));
  EXPECT_THAT(table_of(plan), HasSubstr("Rebled 13:00."));
}

TEST(Explain, OfADayOnlyTheDayIsSaid) {
  auto plan = example::sheath_in();
  plan.sites[0].gates[0].why = {"gate.warfarin-inr.stale", {{"value", clinical::Value{clinical::whole(1), {}, "1.1"}}, {"drawn", clinical::Moment{at(0), at(24) - clinical::seconds{1}}}}};
  const auto text = report::explain(plan, example::protocol(), at(15), example::voice(at(15)));
  EXPECT_THAT(text, HasSubstr("drawn 2 Mar, time not recorded"));
  EXPECT_THAT(table_of(plan), HasSubstr("drawn 2 Mar, time not recorded"));
}

// Runs last of this file: every sentence that was asked for exists.
TEST(TableWords, NothingWasMissing) {
  for (const auto& name : example::not_found()) EXPECT_TRUE(name.starts_with("term gate.") || name.starts_with("term fact.") || name.starts_with("term analyte.") || name.starts_with("term agent.")) << name;
}

}  // namespace
