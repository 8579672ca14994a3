// What a comparison of what should stand with what stands makes of it, in order; which steps moved and why; the words for where and when. As change.h says.
#include <algorithm>

#include "clinical/change_fingerprint.h"
#include "clinical/phrases.h"
#include "mutants_change_support.h"

namespace clinical {
namespace {

using example::at;
using example::milestone;
using example::reason;
using Lines = std::vector<std::string>;

Lines told(const Difference& d) {
  Lines lines;
  const char* const kinds[] = {"create", "update", "withdraw"};
  for (const auto& c : d.changes) {
    const bool task = c.key.kind == ItemKind::task || c.key.kind == ItemKind::cancellation;
    std::string line = std::string(kinds[static_cast<int>(c.kind)]) + " " + (c.key.kind == ItemKind::cancellation ? "stop of " : "");
    line += task ? name_of_task(c.key) : text_of(c.key).substr(0, text_of(c.key).find('|'));
    if (c.key.kind == ItemKind::document) line += " " + std::to_string(c.key.ordinal);
    if (c.key.replacement) line += " again " + std::to_string(c.key.replacement);
    if (c.item && c.item->why && task && (c.key.kind == ItemKind::cancellation || c.item->key.cause.starts_with("claimed "))) line += " | " + say(*c.item->why);
    if (c.item && task) line += c.item->priority == Priority::stat ? " stat" : c.item->priority == Priority::urgent ? " urgent" : "";
    if (c.replaces) line += " in place of " + std::to_string(c.replaces->kind == ItemKind::document ? c.replaces->ordinal : c.replaces->replacement);
    if (c.reason) line += " | " + say(*c.reason);
    lines.push_back(line);
  }
  return lines;
}
std::vector<Standing> standing_after(const CasePlan& plan) { return applied(difference(wanted(plan, example::protocol(), {}), {}, at(14, 30)), {}); }
Standing& of_step(std::vector<Standing>& all, Step step) {
  return *std::ranges::find_if(all, [&](const Standing& s) { return s.key.step == step; });
}
Lines told(const CasePlan& plan, const std::vector<Standing>& standing, Instant now) { return told(difference(wanted(plan, example::protocol(), {}), standing, now)); }

// Withdrawals first, those that could hurt before the others; then requests to stop, alarms, CarePlan, Tasks, sheet, answer.
TEST(DifferenceSays, EverythingInTheOrderThatIsSafeAfterEveryPrefix) {
  EXPECT_EQ(told(rich(), {}, at(15)), (Lines{"create care-plan", "create ask urgent", "create alert", "create check-site#5", "create confirm-readiness urgent", "create draw-coagulation#2 urgent",
                                             "create provide-missing urgent", "create remove-sheath", "create document 1", "create guidance"}));
  CasePlan urgent = rich();
  urgent.alerts[0].level = AlertLevel::emergency;
  EXPECT_EQ(told(urgent, {}, at(15)).front(), "create alert stat") << "an emergency before the CarePlan";
  const auto standing = standing_after(rich());
  CasePlan nothing = rich();
  nothing.sites[0].milestones.clear();
  nothing.missing.clear();
  nothing.alerts.clear();
  nothing.sites[0].gates.clear();
  EXPECT_EQ(told(nothing, standing, at(15)), (Lines{
      "withdraw remove-sheath | change.withdrawn.no-longer", "withdraw ask | change.withdrawn.no-longer", "withdraw alert | change.withdrawn.no-longer",
      "withdraw check-site#5 | change.withdrawn.no-longer", "withdraw confirm-readiness | change.withdrawn.no-longer", "withdraw draw-coagulation#2 | change.withdrawn.no-longer",
      "withdraw provide-missing | change.withdrawn.no-longer", "update care-plan", "withdraw document 1 | change.withdrawn.newer-sheet", "create document 2 in place of 1", "update guidance"}));
  CasePlan stopped = rich();
  stopped.state = CaseState::withdrawn;
  stopped.stopped = reason("case.stopped.deceased");
  EXPECT_EQ(told(stopped, standing, at(15)), (Lines{
      "withdraw remove-sheath | case.stopped.deceased", "withdraw ask | case.stopped.deceased", "withdraw alert | case.stopped.deceased", "withdraw check-site#5 | case.stopped.deceased",
      "withdraw confirm-readiness | case.stopped.deceased", "withdraw draw-coagulation#2 | case.stopped.deceased", "withdraw provide-missing | case.stopped.deceased",
      "withdraw care-plan | case.stopped.deceased", "withdraw document 1 | case.stopped.deceased", "withdraw guidance | case.stopped.deceased"}));
}

TEST(DifferenceSays, WhatIsOpenIsUpdatedWhatIsClaimedIsStopped) {
  auto standing = standing_after(rich());
  CasePlan later = rich();
  later.sites[0].milestones[2].earliest = at(15, 45);   // remove-sheath
  const Instant now = at(15, 10);
  const auto changed = [&](Step step) {
    Lines lines = told(later, standing, now);
    std::erase_if(lines, [&](const std::string& l) { return l.find(std::string(name_of(step))) == std::string::npos && l.find("alarm") == std::string::npos; });
    return lines;
  };
  EXPECT_EQ(changed(Step::remove_sheath), Lines{"update remove-sheath"});
  of_step(standing, Step::remove_sheath).state = Stands::claimed;
  EXPECT_EQ(changed(Step::remove_sheath), (Lines{"create stop of remove-sheath | change.cancel.replaced urgent in place of 0",
                                                 "create alarm | change.claimed-later-nobody{step=@step.remove-sheath} urgent", "create remove-sheath again 1 in place of 0"}));
  of_step(standing, Step::remove_sheath).claimed_by = "Nurse N";
  EXPECT_EQ(changed(Step::remove_sheath)[1], "create alarm | change.claimed-later{step=@step.remove-sheath who=Nurse N} urgent");
  // A window that had begun, and still has: the same to its holder.
  later.sites[0].milestones[2].earliest = at(15, 10);
  EXPECT_EQ(changed(Step::remove_sheath), Lines{});
  later.sites[0].milestones[2].earliest = at(15, 10) + seconds{1};
  EXPECT_EQ(changed(Step::remove_sheath).size(), 3u);
  // Sooner, or no longer later than now: no danger.
  later.sites[0].milestones[2].earliest = at(15);
  later.sites[0].milestones[2].planned = minutes{5};
  EXPECT_EQ(changed(Step::remove_sheath), (Lines{"create stop of remove-sheath | change.cancel.replaced in place of 0", "create remove-sheath again 1 in place of 0"}));
  // No longer wanted at all.
  later.sites[0].milestones[2].released = false;
  EXPECT_EQ(changed(Step::remove_sheath), (Lines{"create stop of remove-sheath | change.cancel.no-longer urgent in place of 0", "create alarm | change.claimed-unsafe{step=@step.remove-sheath who=Nurse N} urgent"}));
  // Done, and passed: no danger, and in those words.
  later.sites[0].milestones[2].status = StepStatus::done;
  EXPECT_EQ(changed(Step::remove_sheath), Lines{"create stop of remove-sheath | change.cancel.done in place of 0"});
  later.sites[0].milestones[2].status = StepStatus::cancelled;
  EXPECT_EQ(changed(Step::remove_sheath), Lines{"create stop of remove-sheath | change.cancel.passed in place of 0"});
  // A check is no danger.
  of_step(standing, Step::check_site).state = Stands::claimed;
  later.sites[0].milestones[3].released = false;
  EXPECT_EQ(changed(Step::check_site), Lines{"create stop of check-site#5 | change.cancel.no-longer in place of 0"});
}

TEST(DifferenceSays, AlarmsBeforeTheCarePlanAndOnlyTheNewestStands) {
  auto standing = standing_after(rich());
  of_step(standing, Step::remove_sheath).state = Stands::claimed;
  CasePlan gone = rich();
  gone.sites[0].milestones[2].released = false;
  gone.patient.name = "TEST, Berta";
  const auto lines = told(gone, standing, at(15));
  EXPECT_EQ(lines[0], "create stop of remove-sheath | change.cancel.no-longer urgent in place of 0");
  EXPECT_EQ(lines[1], "create alarm | change.claimed-unsafe-nobody{step=@step.remove-sheath} urgent");
  EXPECT_EQ(lines[2], "update care-plan");
  // Of two that are open the older one goes.
  auto twice = standing_after(rich());
  auto second = of_step(twice, Step::draw_coagulation);
  second.key.replacement = 1;
  twice.push_back(second);
  EXPECT_EQ(told(rich(), twice, at(15)), Lines{"withdraw draw-coagulation#2 | change.withdrawn.no-longer"});
  // A stopped case alarms nobody: its withdrawal says why.
  CasePlan stopped = rich();
  stopped.state = CaseState::withdrawn;
  stopped.stopped = reason("case.stopped.deceased");
  const auto ended = told(stopped, standing, at(15));
  EXPECT_TRUE(std::ranges::none_of(ended, [](const std::string& l) { return l.find("alarm") != std::string::npos; }));
  EXPECT_TRUE(std::ranges::any_of(ended, [](const std::string& l) { return l.starts_with("create stop of remove-sheath"); }));
}

// A request to stop that stands is written anew when its words change, and goes when nobody holds the Task any more.
TEST(DifferenceSays, RequestsToStop) {
  auto standing = standing_after(rich());
  of_step(standing, Step::remove_sheath).state = Stands::claimed;
  CasePlan later = rich();
  later.sites[0].milestones[2].earliest = at(15, 45);
  standing = applied(difference(wanted(later, example::protocol(), {}), standing, at(15)), standing);
  EXPECT_EQ(told(later, standing, at(15)), Lines{});
  CasePlan done = rich();
  done.sites[0].milestones[2].released = false;
  done.sites[0].milestones[2].status = StepStatus::done;
  auto lines = told(done, standing, at(15));
  std::erase_if(lines, [](const std::string& l) { return l.find("stop of") == std::string::npos; });
  EXPECT_EQ(lines, Lines{"update stop of remove-sheath | change.cancel.done"});
  of_step(standing, Step::remove_sheath).state = Stands::completed;
  lines = told(done, standing, at(15));
  std::erase_if(lines, [](const std::string& l) { return l.find("stop of") == std::string::npos; });
  EXPECT_EQ(lines, Lines{"withdraw stop of remove-sheath | change.withdrawn.done"});
}

TEST(DifferenceSays, WhatSomebodyEndedComesBackWhenItChangedOrAfterAnHour) {
  auto standing = standing_after(rich());
  auto& draw = of_step(standing, Step::draw_coagulation);
  CasePlan later = rich();
  const auto draws = [&](Instant now) {
    const auto d = difference(wanted(later, example::protocol(), {}), standing, now);
    Lines lines = told(d);
    std::erase_if(lines, [](const std::string& l) { return l.find("draw-coagulation") == std::string::npos; });
    return (lines.empty() ? std::string("nothing") : lines[0]) + ", again at " + say(d.again_at);
  };
  draw.ended = at(15);
  for (const auto state : {Stands::completed, Stands::failed}) {
    draw.state = state;
    EXPECT_EQ(draws(at(15, 59)), "nothing, again at 16:00");
    EXPECT_EQ(draws(at(16)), "create draw-coagulation#2 again 1 urgent, again at -");
    later.sites[0].milestones[0].latest = at(17);
    EXPECT_EQ(draws(at(15, 1)), "create draw-coagulation#2 again 1 urgent, again at -") << "its content changed";
    later = rich();
  }
  draw.state = Stands::rejected;
  later.sites[0].milestones[0].latest = at(17);
  EXPECT_EQ(draws(at(15, 59)), "nothing, again at 16:00") << "a rejected one not sooner";
  EXPECT_EQ(draws(at(16)), "create draw-coagulation#2 again 1 urgent, again at -");
  draw.ended.reset();
  EXPECT_EQ(draws(at(15, 1)), "create draw-coagulation#2 again 1 urgent, again at -") << "nobody knows when it was rejected";
  draw.state = Stands::withdrawn;
  EXPECT_EQ(draws(at(15, 1)), "create draw-coagulation#2 again 1 urgent, again at -");
  draw.ended = at(15);
  draw.state = Stands::rejected;
  auto& check = of_step(standing, Step::check_site);
  check.state = Stands::rejected;
  check.ended = at(14, 45);
  EXPECT_EQ(draws(at(15, 1)), "nothing, again at 15:45") << "the first of both";
}

TEST(DifferenceSays, WhenASheetMustNotWait) {
  const auto at_once = [](const std::function<void(CasePlan&)>& change, bool hangs = true, const CasePlan& base = rich()) {
    CasePlan after = base;
    change(after);
    return difference(wanted(after, example::protocol(), {}), hangs ? standing_after(base) : std::vector<Standing>{}, at(15)).at_once;
  };
  EXPECT_FALSE(at_once([](CasePlan&) {}, false)) << "none hangs";
  EXPECT_FALSE(at_once([](CasePlan& p) { p.valid_until = at(19); }));
  EXPECT_FALSE(at_once([](CasePlan& p) { p.missing[0].fact = Fact::inr; }));
  EXPECT_FALSE(at_once([](CasePlan& p) { p.sites[0].gates[1].state = GateState::needs; }));
  EXPECT_FALSE(at_once([](CasePlan& p) { p.sites[0].milestones[0].expected = at(16); }));
  EXPECT_TRUE(at_once([](CasePlan& p) { p.sites[0].side = Side::left; }));
  EXPECT_TRUE(at_once([](CasePlan& p) { p.sites[0].french = 7; }));
  EXPECT_TRUE(at_once([](CasePlan& p) { p.sites[0].closure = Closure::device; }));
  EXPECT_TRUE(at_once([](CasePlan& p) { p.sites[0].rebleeds = {at(15)}; }));
  EXPECT_TRUE(at_once([](CasePlan& p) { p.conflicts.push_back({Fact::side, "", {}, {}, ""}); }));
  EXPECT_TRUE(at_once([](CasePlan& p) { p.cautions.clear(); }));
  EXPECT_TRUE(at_once([](CasePlan& p) { p.patient.name = "TEST, Berta"; }));
  EXPECT_TRUE(at_once([](CasePlan& p) { p.sites[0].milestones[3].released = false; })) << "something is not to be done now";
  EXPECT_FALSE(at_once([](CasePlan& p) { p.sites[0].milestones[3].released = false; p.sites[0].milestones[3].status = StepStatus::done; })) << "for it is done";
  EXPECT_FALSE(at_once([](CasePlan& p) { p.sites[0].milestones[3].released = false; p.sites[0].milestones[3].status = StepStatus::cancelled; })) << "or its time has passed";
  EXPECT_TRUE(at_once([](CasePlan& p) { p.alerts[0].level = AlertLevel::emergency; p.alerts[0].episode = "x"; }));
}

TEST(DifferenceSays, WhatIsNoLongerWantedAtAll) {
  const auto lines = told(difference({}, standing_after(rich()), at(15)));
  EXPECT_NE(std::ranges::find(lines, "withdraw document 1 | change.withdrawn.no-longer"), lines.end());
  EXPECT_NE(std::ranges::find(lines, "withdraw care-plan | change.withdrawn.no-longer"), lines.end());
}

TEST(DifferenceSays, TheSheetCountsOn) {
  auto standing = standing_after(rich());
  CasePlan plan = rich();
  for (int number = 2; number < 4; ++number) {
    plan.sites[0].french = 5 + number;
    const auto d = difference(wanted(plan, example::protocol(), {}), standing, at(15));
    const auto lines = told(d);
    EXPECT_NE(std::ranges::find(lines, "create document " + std::to_string(number) + " in place of " + std::to_string(number - 1)), lines.end());
    EXPECT_EQ(d.sheet_causes, Lines{"size"});
    standing = applied(d, standing);
    EXPECT_TRUE(difference(wanted(plan, example::protocol(), {}), standing, at(15)).empty());
  }
  EXPECT_EQ(sheet_causes("", sheet_fingerprint(plan)), (Lines{"side", "size", "closure", "t0", "conflict", "milestone", "gate", "missing", "caution", "person", "validity"}));
}

TEST(MovedSays, WhatMovedByHowMuchAndBecauseOfWhat) {
  const CasePlan before = example::resting();
  CasePlan after = before;
  auto& sit = after.sites[0].milestones[3];
  sit.earliest = *sit.earliest + minutes{30} + seconds{59};
  sit.why = reason("test.why");
  sit.basis[0].inputs.push_back({"Observation/new", "1", false});
  auto rows = moved(before, after);
  ASSERT_EQ(rows.size(), 1u);
  EXPECT_EQ(rows[0].by, minutes{30}) << "whole minutes, rounded down";
  EXPECT_EQ(rows[0].why, reason("test.why"));
  EXPECT_EQ(say(rows[0].because) + "/" + say(rows[0].gone), "Observation/new/");
  EXPECT_EQ(rows[0].site, "");
  rows = moved(after, before);
  EXPECT_EQ(rows[0].by, -minutes{31});
  EXPECT_EQ(say(rows[0].because) + "/" + say(rows[0].gone), "/Observation/new");

  CasePlan longer = before;   // the length alone, where there is no time yet
  longer.sites[0].milestones[3].earliest.reset();
  longer.sites[0].milestones[3].planned = minutes{330};
  CasePlan longest = longer;
  longest.sites[0].milestones[3].planned = minutes{390};
  rows = moved(longer, longest);
  ASSERT_EQ(rows.size(), 1u);
  EXPECT_EQ(rows[0].by, minutes{60});
  EXPECT_EQ(say(rows[0].because) + "/" + say(rows[0].gone), "/");

  CasePlan same = longest;   // as long as before: it moved in nothing but its status
  same.sites[0].milestones[3].status = StepStatus::blocked;
  same.sites[0].milestones[3].after_t0 = longest.sites[0].milestones[3].after_t0 = minutes{330};
  rows = moved(longest, same);
  ASSERT_EQ(rows.size(), 1u);
  EXPECT_FALSE(rows[0].by);

  CasePlan gone = before;   // a step that is no longer listed
  gone.sites[0].milestones.pop_back();
  rows = moved(before, gone);
  ASSERT_EQ(rows.size(), 1u);
  EXPECT_EQ(rows[0].step, Step::stand_and_walk);
  EXPECT_TRUE(rows[0].status_from && !rows[0].status_to && !rows[0].by && !rows[0].why);
  rows = moved(gone, before);
  EXPECT_TRUE(!rows[0].status_from && rows[0].status_to && !rows[0].by);
  CasePlan untimed = longest, without = longest;   // where only its length was known
  without.sites[0].milestones.erase(without.sites[0].milestones.begin() + 3);
  for (const auto& [a, b] : {std::pair(untimed, without), std::pair(without, untimed)}) EXPECT_FALSE(moved(a, b).at(0).by);

  CasePlan expected = before;   // actual, else earliest, else expected
  expected.sites[0].milestones[3].earliest.reset();
  expected.sites[0].milestones[3].expected = at(21);
  EXPECT_EQ(say(moved(before, expected)[0].to), "21:00");
  expected.sites[0].milestones[3].actual = at(21, 5);
  EXPECT_EQ(say(moved(before, expected)[0].to), "21:05");

  CasePlan other = before;   // a step without a basis of its own moves with the facts of the case
  other.sites[0].milestones[1].status = StepStatus::due;
  other.conflicts = {{Fact::side, "", {}, {{"Device/d", "1", false}}, ""}};
  rows = moved(before, other);
  ASSERT_EQ(rows.size(), 1u);
  EXPECT_EQ(rows[0].site, "Procedure/p1");
  EXPECT_EQ(rows[0].ordinal, 3);
  EXPECT_EQ(say(rows[0].because), "Device/d");
  rows = moved(other, before);
  EXPECT_EQ(say(rows[0].because) + "/" + say(rows[0].gone), "/Device/d");
}

TEST(PhrasesSay, WhereAndWhenAndWhatIsOut) {
  CasePlan plan = example::case_of("p1");
  plan.sites = {example::site("a", Side::left), example::site("b", Side::right), example::site("c", Side::unknown)};
  const auto where = [&](Lines keys) { return where_phrase(plan, keys).code; };
  EXPECT_EQ(where({"a"}), "where.left");
  EXPECT_EQ(where({"b"}), "where.right");
  EXPECT_EQ(where({"a", "b"}), "where.both");
  EXPECT_EQ(where({"a", "c"}), "where.unknown");
  EXPECT_EQ(where({"a", "d"}), "where.unknown") << "a site that is not there";
  EXPECT_EQ(where({}), "where.unknown");
  EXPECT_EQ(site_of(plan, "d"), nullptr);
  EXPECT_EQ(site_of(plan, "b"), &plan.sites[1]);
  EXPECT_EQ(say(sheath_phrase(plan.sites[0])), "sheath.artery{french=6}");
  plan.sites[0].french.reset();
  EXPECT_EQ(say(sheath_phrase(plan.sites[0])), "sheath.artery-size-unknown");
  plan.sites[0].vessel = Vessel::unknown;
  EXPECT_EQ(say(sheath_phrase(plan.sites[0])), "sheath.vessel-unknown-size-unknown");

  Milestone m = milestone(Step::sit_up, StepStatus::expected, at(15), false);
  EXPECT_EQ(say(when_phrase(m)), "when.from{at=15:00}");
  m.status = StepStatus::due;
  EXPECT_EQ(say(when_phrase(m)), "when.due{at=15:00}");
  m.earliest.reset();
  EXPECT_EQ(say(when_phrase(m)), "when.due-now");
  m.status = StepStatus::expected;
  EXPECT_EQ(say(when_phrase(m)), "when.blocked");
  m.after_t0 = minutes{0};
  EXPECT_EQ(say(when_phrase(m)), "when.at-t0");
  m.after_t0 = minutes{330};
  EXPECT_EQ(say(when_phrase(m)), "when.after-t0{length=330min}");
  m.status = StepStatus::blocked;
  EXPECT_EQ(say(when_phrase(m)), "when.blocked");
  m.expected = at(16);
  EXPECT_EQ(say(when_phrase(m)), "when.blocked-until{at=16:00}");
  m.status = StepStatus::cancelled;
  EXPECT_EQ(say(when_phrase(m)), "when.cancelled");
  m.status = StepStatus::done;
  EXPECT_EQ(say(when_phrase(m)), "when.done-unknown");
  m.actual = at(15, 5);
  EXPECT_EQ(say(when_phrase(m)), "when.done{at=15:05}");

  SitePlan site = example::site("a", Side::left);
  EXPECT_FALSE(is_pressed_or_out(site));
  site.milestones = {milestone(Step::remove_sheath, StepStatus::due, at(15), false)};
  EXPECT_FALSE(is_pressed_or_out(site));
  for (const auto status : {StepStatus::done, StepStatus::cancelled}) {
    site.milestones[0].status = status;
    EXPECT_TRUE(is_pressed_or_out(site));
  }
  site.milestones.clear();
  for (const auto member : {&SitePlan::sheath_out, &SitePlan::compression_started, &SitePlan::t0}) {
    SitePlan one = site;
    one.*member = at(15);
    EXPECT_TRUE(is_pressed_or_out(one));
  }
}

}  // namespace
}  // namespace clinical
