// Which change of a plan changes what of that which is written: CarePlan, sheet (with its cause), answer, content or note of a Task; then what a comparison with
// what stands makes of it, in order. As change.h and the architecture say ("Sheets are made anew only when ...").
#include <algorithm>
#include <map>

#include "clinical/change.h"
#include "clinical/change_fingerprint.h"
#include "clinical/phrases.h"
#include "fhir_write/example_plans.h"
#include "mutants_support.h"

namespace clinical {
namespace {

using example::at;
using example::milestone;
using example::reason;
using Lines = std::vector<std::string>;

/// The sheath is in: a draw, a confirmation, a removal, a check, a missing fact, one gate that asks, one alert.
CasePlan rich() {
  CasePlan plan = example::sheath_in();
  auto& s = plan.sites[0];
  s.gates[0].expires_at = at(18);
  s.gates[2].state = GateState::ask;
  s.gates[2].value_seen = "60";
  const Milestone draw = s.milestones[0], check = s.milestones[2], stand = s.milestones[3];
  s.milestones = {draw, milestone(Step::confirm_readiness, StepStatus::due, at(15), true), milestone(Step::remove_sheath, StepStatus::due, at(15), true), check, stand};
  plan.alerts = {{"temperature", AlertLevel::tell, "", "temperature||15:00", reason("test.alert"), {{"Observation/t", "1", false}}}};
  plan.agents = {{Agent::heparin, at(12), false, 0.5, minutes{60}, {}, {}, {}}};
  plan.cautions = {reason("test.caution")};
  s.projection = Projection{whole(150), at(16), at(17), at(18), at(15, 30), true};
  s.watched_for = {reason("test.watch")};
  return plan;
}

std::string name_of_task(const ItemKey& key) {
  if (key.step != Step::call_clinician) return std::string(name_of(*key.step)) + (key.ordinal ? "#" + std::to_string(key.ordinal) : "");
  return key.cause.starts_with("gate ") ? "ask" : key.cause.starts_with("claimed ") ? "alarm" : key.cause.empty() ? "call" : "alert";
}

std::string effects(const CasePlan& before, const CasePlan& after, const Protocol& protocol = example::protocol()) {
  std::map<ItemKey, std::string> old;
  for (const auto& item : wanted(before, example::protocol(), {}).items) old[item.key] = item.fingerprint;
  Lines words, tasks;
  std::size_t all = 0;
  const auto note = [](std::string_view text) {
    text.remove_prefix(std::min(text.find(';'), text.size()));
    return text.ends_with(" last") ? text.substr(0, text.size() - 5) : text;
  };
  for (const auto& item : wanted(after, protocol, {}).items) {
    const auto found = old.find(item.key);
    const auto kind = item.key.kind;
    all += kind == ItemKind::task;
    if (found == old.end()) {
      tasks.push_back("+" + name_of_task(item.key));
      continue;
    }
    const std::string was = found->second;
    old.erase(found);
    if (kind == ItemKind::care_plan && was != item.fingerprint) words.emplace_back("plan");
    if (kind == ItemKind::guidance && was != item.fingerprint) words.emplace_back("answer");
    if (kind == ItemKind::document)
      for (const auto& cause : sheet_causes(was, item.fingerprint)) words.push_back("sheet:" + cause);
    if (kind != ItemKind::task) continue;
    const bool content = content_of(was) != content_of(item.fingerprint), noted = note(was) != note(item.fingerprint);
    if (content || noted) tasks.push_back(name_of_task(item.key) + (content ? ":content" : "") + (noted ? ":note" : ""));
  }
  for (const auto& [key, fingerprint] : old) tasks.push_back("-" + name_of_task(key));
  const auto ending = [&](const char* how) { return std::ranges::all_of(tasks, [&](const std::string& t) { return t.ends_with(how) && t.find(':') == t.rfind(':'); }); };
  if (tasks.size() == all && all > 2 && (ending(":content") || ending(":note"))) tasks = {ending(":note") ? "all:note" : "all:content"};
  words.insert(words.end(), tasks.begin(), tasks.end());
  std::ranges::sort(words);
  std::string text;
  for (const auto& w : words) text += (text.empty() ? "" : " ") + w;
  return text;
}

struct Touch {
  const char* name;
  std::function<void(CasePlan&)> change;
  const char* changes;
};
void expect_touches(const CasePlan& base, const std::vector<Touch>& rows) {
  for (const auto& row : rows) {
    CasePlan after = base;
    row.change(after);
    EXPECT_EQ(effects(base, after), row.changes) << row.name;
    EXPECT_EQ(effects(after, base).empty(), std::string_view(row.changes).empty()) << row.name;
  }
}

TEST(Touches, WhoAndWhere) {
  expect_touches(rich(), {
      {"name", [](CasePlan& p) { p.patient.name = "TEST, Berta"; }, "all:note plan sheet:person"},
      {"birth date", [](CasePlan& p) { p.patient.birth_written = "1958"; }, "all:note plan sheet:person"},
      {"record number", [](CasePlan& p) { p.patient.record_number = "T-0002"; }, "all:note plan sheet:person"},
      {"which patient", [](CasePlan& p) { p.patient.source.reference = "Patient/b"; }, "all:note plan sheet:person"},
      {"a new version of the patient", [](CasePlan& p) { p.patient.source.version = "4"; }, ""},
      {"place", [](CasePlan& p) { p.place = "Bay 5"; }, "all:note plan sheet:person"},
      {"encounter", [](CasePlan& p) { p.encounter = "Encounter/f"; }, "all:note answer plan sheet:person"},
      {"title", [](CasePlan& p) { p.title = "Angiography"; }, "plan sheet:person"},
      {"procedure", [](CasePlan& p) { p.procedure.reference = "Procedure/x"; }, "plan"},
      {"a new version of it", [](CasePlan& p) { p.procedure.version = "2"; }, ""},
      {"state", [](CasePlan& p) { p.state = CaseState::waiting; }, "answer plan sheet:caution"},
      {"provisional", [](CasePlan& p) { p.provisional = true; }, "-alert -ask plan sheet:caution"},
      {"validity", [](CasePlan& p) { p.valid_until = at(18); }, "plan sheet:validity"},
      {"the next change", [](CasePlan& p) { p.next_change = at(18); }, ""},
      {"up at", [](CasePlan& p) { p.up_at = at(23); }, "plan"},
      {"started", [](CasePlan& p) { p.started = at(10); }, "plan"},
      {"caution", [](CasePlan& p) { p.cautions[0].code = "test.other"; }, "sheet:caution"},
      {"another caution", [](CasePlan& p) { p.cautions.push_back(reason("test.other")); }, "sheet:caution"},
  });
  auto other = example::protocol();
  other.sha256 = "b";
  EXPECT_EQ(effects(rich(), rich(), other), "plan") << "the rules";
}

TEST(Touches, TheSite) {
  const auto site = [](auto change) { return [=](CasePlan& p) { change(p.sites[0]); }; };
  expect_touches(rich(), {
      {"side", site([](SitePlan& s) { s.side = Side::left; }), "all:content plan sheet:side"},
      {"vessel", site([](SitePlan& s) { s.vessel = Vessel::vein; }), "all:content plan sheet:side"},
      {"size", site([](SitePlan& s) { s.french = 7; }), "all:content plan sheet:size"},
      {"size lost", site([](SitePlan& s) { s.french.reset(); }), "all:content plan sheet:size"},
      {"closure", site([](SitePlan& s) { s.closure = Closure::device; }), "all:content plan sheet:closure"},
      {"out", site([](SitePlan& s) { s.sheath_out = at(15); }), "plan"},
      {"pressed", site([](SitePlan& s) { s.compression_started = at(15); }), "plan"},
      {"T0: a check belongs to the next round", site([](SitePlan& s) { s.t0 = at(15); s.haemostases = 1; }), "+check-site#5 -check-site#5 plan sheet:t0"},
      {"rebleed", site([](SitePlan& s) { s.rebleeds = {at(15)}; }), "sheet:t0"},
      {"watch", site([](SitePlan& s) { s.high_watch = true; }), "plan sheet:caution"},
      {"why it is watched", site([](SitePlan& s) { s.watched_for[0].code = "test.other"; }), "sheet:caution"},
      {"pulses before", site([](SitePlan& s) { s.baseline_pulses = "2+"; }), "plan"},
      {"projection, 10 %", site([](SitePlan& s) { s.projection->p10 = at(16, 1); }), "plan"},
      {"projection, 50 %", site([](SitePlan& s) { s.projection->p50 = at(17, 1); }), "plan"},
      {"projection, 90 %", site([](SitePlan& s) { s.projection->p90.reset(); }), "plan"},
      {"next draw", site([](SitePlan& s) { s.projection->next_draw = at(15, 31); }), "plan"},
      {"no projection", site([](SitePlan& s) { s.projection.reset(); }), "plan"},
      {"agent", [](CasePlan& p) { p.agents[0].agent = Agent::enoxaparin; }, "plan"},
      {"last given", [](CasePlan& p) { p.agents[0].last_given = at(12, 1); }, "plan"},
      {"running", [](CasePlan& p) { p.agents[0].running = true; }, "plan"},
      {"half-life", [](CasePlan& p) { p.agents[0].half_life = minutes{61}; }, "plan"},
      {"what is left of it", [](CasePlan& p) { p.agents[0].fraction_left = 0.4; }, ""},
  });
}

TEST(Touches, TheGates) {
  const auto closed = [](auto change) { return [=](CasePlan& p) { change(p.sites[0].gates[1]); }; };
  const auto open = [](auto change) { return [=](CasePlan& p) { change(p.sites[0].gates[0]); }; };
  const auto asking = [](auto change) { return [=](CasePlan& p) { change(p.sites[0].gates[2]); }; };
  expect_touches(rich(), {
      {"state", closed([](Gate& g) { g.state = GateState::needs; }), "plan sheet:gate"},
      {"another gate", closed([](Gate& g) { g.name = GateName::aptt; }), "plan sheet:gate"},
      {"opens", closed([](Gate& g) { g.opens_at = at(16); }), "plan"},
      {"expires", closed([](Gate& g) { g.expires_at = at(15, 11); }), "plan"},
      {"since", closed([](Gate& g) { g.since = at(14); }), "plan"},
      {"clock", closed([](Gate& g) { g.clock_ends = at(16); }), "plan"},
      {"asked for", closed([](Gate& g) { g.needs = {Fact::act}; }), "plan"},
      {"value", closed([](Gate& g) { g.value_seen = "160 s"; }), "plan"},
      {"why", closed([](Gate& g) { g.why.code = "test.other"; }), "plan"},
      {"facts", closed([](Gate& g) { g.inputs[0].reference = "Observation/act2"; }), "plan"},
      {"their versions", closed([](Gate& g) { g.inputs[0].version = "2"; }), ""},
      {"an open one expires sooner", open([](Gate& g) { g.expires_at = at(17); }), "confirm-readiness:note plan remove-sheath:note"},
      {"an open one closes", open([](Gate& g) { g.state = GateState::closed; }), "confirm-readiness:note plan remove-sheath:note sheet:gate"},
      {"what is asked", asking([](Gate& g) { g.why.code = "test.other"; }), "answer ask:note plan"},
      {"an argument of it", asking([](Gate& g) { g.why.arguments.emplace_back("value", std::string("60")); }), "answer ask:note plan"},
      {"of what value", asking([](Gate& g) { g.value_seen = "61"; }), "ask:content plan"},
      {"asked no more", asking([](Gate& g) { g.state = GateState::needs; }), "-ask answer plan sheet:gate"},
      {"asked of another", asking([](Gate& g) { g.name = GateName::haemoglobin; }), "+ask -ask answer plan sheet:gate"},
  });
}

TEST(Touches, TheSteps) {
  const auto draw = [](auto change) { return [=](CasePlan& p) { change(p.sites[0].milestones[0]); }; };
  const auto confirm = [](auto change) { return [=](CasePlan& p) { change(p.sites[0].milestones[1]); }; };
  const auto check = [](auto change) { return [=](CasePlan& p) { change(p.sites[0].milestones[3]); }; };
  expect_touches(rich(), {
      {"its time has not come", draw([](Milestone& m) { m.status = StepStatus::expected; }), "plan"},
      {"blocked", draw([](Milestone& m) { m.status = StepStatus::blocked; }), "plan sheet:milestone"},
      {"earliest", draw([](Milestone& m) { m.earliest = at(15, 1); }), "draw-coagulation#2:content plan sheet:milestone"},
      {"expected", draw([](Milestone& m) { m.expected = at(15, 1); }), "plan sheet:milestone"},
      {"latest", draw([](Milestone& m) { m.latest = at(15, 1); }), "draw-coagulation#2:content plan sheet:milestone"},
      {"actual", draw([](Milestone& m) { m.actual = at(15, 1); }), "plan sheet:milestone"},
      {"length", draw([](Milestone& m) { m.planned = minutes{5}; }), "draw-coagulation#2:content plan sheet:milestone"},
      {"minutes after T0", draw([](Milestone& m) { m.after_t0 = minutes{5}; }), "plan sheet:milestone"},
      {"not released", draw([](Milestone& m) { m.released = false; }), "-draw-coagulation#2 plan"},
      {"number", draw([](Milestone& m) { m.ordinal = 3; }), "+draw-coagulation#3 -draw-coagulation#2 plan sheet:milestone"},
      {"why", draw([](Milestone& m) { m.why = reason("test.why"); }), "draw-coagulation#2:note plan"},
      {"arithmetic", draw([](Milestone& m) { m.basis[0].arithmetic.code = "test.other"; }), "draw-coagulation#2:note plan"},
      {"rule", draw([](Milestone& m) { m.basis[0].rule = "gate.draw-before"; }), "plan"},
      {"facts", draw([](Milestone& m) { m.basis[0].inputs[0].reference = "Procedure/x"; }), ""},
      {"late, and urgent anyway", draw([](Milestone& m) { m.late = true; }), "plan"},
      {"late", check([](Milestone& m) { m.late = true; }), "check-site#5:note plan"},
      {"a check is made: ticked by hand", check([](Milestone& m) { m.status = StepStatus::done; m.actual = at(15); }), "plan"},
      {"a check was missed", check([](Milestone& m) { m.status = StepStatus::cancelled; }), "plan"},
      {"a check at another time", check([](Milestone& m) { m.earliest = at(15, 1); }), "check-site#5:content plan sheet:milestone"},
      {"a check is due longer", check([](Milestone& m) { m.latest = at(15, 31); }), "check-site#5:content plan"},
      {"the confirmation", confirm([](Milestone& m) { m.earliest = at(15, 1); }), "confirm-readiness:content plan sheet:milestone"},
      {"these are not Tasks of a milestone", [](CasePlan& p) {
         for (const auto step : {Step::provide_missing, Step::print_sheet, Step::check_sheet}) p.sites[0].milestones.push_back(milestone(step, StepStatus::due, at(15), true));
       }, "plan sheet:milestone"},
  });
}

TEST(Touches, OpenPointsAndAlerts) {
  expect_touches(rich(), {
      {"missing fact", [](CasePlan& p) { p.missing[0].fact = Fact::inr; }, "answer plan provide-missing:content sheet:missing"},
      {"of which site", [](CasePlan& p) { p.missing[0].site = "Procedure/p2"; }, "answer plan provide-missing:content sheet:missing"},
      {"asked of", [](CasePlan& p) { p.missing[0].asked_of = AskedOf::nurse; }, "answer plan"},
      {"about", [](CasePlan& p) { p.missing[0].about = "second-haemoglobin"; }, "answer plan sheet:missing"},
      {"blocks other steps", [](CasePlan& p) { p.missing[0].blocks = {Step::sit_up}; }, "answer plan"},
      {"blocks nothing", [](CasePlan& p) { p.missing[0].blocks.clear(); }, "answer plan provide-missing:note"},
      {"nothing is missing", [](CasePlan& p) { p.missing.clear(); }, "-provide-missing answer plan sheet:missing"},
      {"a conflict", [](CasePlan& p) { p.conflicts.push_back({Fact::side, "", {"left", "right"}, {}, "Procedure/p1"}); }, "answer plan provide-missing:content sheet:conflict"},
      {"an alert grows", [](CasePlan& p) { p.alerts[0].level = AlertLevel::urgent; }, "alert:content:note plan sheet:caution"},
      {"its words", [](CasePlan& p) { p.alerts[0].why.code = "test.other"; }, "alert:note plan sheet:caution"},
      {"raised again", [](CasePlan& p) { p.alerts[0].raised_again = at(15, 15); }, "alert:note"},
      {"another episode", [](CasePlan& p) { p.alerts[0].episode = "temperature||16:00"; }, "+alert -alert plan sheet:caution"},
      {"its facts", [](CasePlan& p) { p.alerts[0].inputs[0].reference = "Observation/t2"; }, ""},
      {"no alert", [](CasePlan& p) { p.alerts.clear(); }, "-alert plan sheet:caution"},
  });
  CasePlan disputed = rich();
  disputed.conflicts.push_back({Fact::side, "", {"left", "right"}, {{"Procedure/p1", "1", false}}, "Procedure/p1"});
  expect_touches(disputed, {
      {"about", [](CasePlan& p) { p.conflicts[0].about = "groin-claimed-twice"; }, "answer plan provide-missing:content sheet:conflict"},
      {"fact", [](CasePlan& p) { p.conflicts[0].fact = Fact::vessel; }, "answer plan provide-missing:content sheet:conflict"},
      {"site", [](CasePlan& p) { p.conflicts[0].site.clear(); }, "answer plan provide-missing:content sheet:conflict"},
      {"values", [](CasePlan& p) { p.conflicts[0].values[0] = "unknown"; }, "answer plan"},
      {"facts", [](CasePlan& p) { p.conflicts[0].inputs[0].reference = "Device/d"; }, ""},
      {"settled", [](CasePlan& p) { p.conflicts.clear(); }, "answer plan provide-missing:content sheet:conflict"},
      {"settled, and nothing missing", [](CasePlan& p) { p.conflicts.clear(); p.missing.clear(); }, "-provide-missing answer plan sheet:conflict sheet:missing"},
  });
}

// Arguments of a reason: kind and value, a value's comparator and digits, both ends of a time.
TEST(Touches, EveryPartOfAnArgument) {
  const auto digest = [](Argument argument) {
    Digest d;
    d.add(Reason{"x", {{"n", std::move(argument)}}});
    return d.hex();
  };
  const std::vector<Argument> different{std::string("60"), std::int64_t{60}, seconds{60}, seconds{61}, at(15), at(15, 1), amount(60, "s"), amount(60, "ms"), amount(61, "s"),
                                        Value{whole(60), Comparator::less, "60 s"}, Moment{at(15), at(16)}, Moment{at(15), at(17)}, Moment{at(14), at(16)}};
  for (std::size_t i = 0; i < different.size(); ++i)
    for (std::size_t k = 0; k < different.size(); ++k) EXPECT_EQ(digest(different[i]) == digest(different[k]), i == k) << i << " " << k;
  Digest a, b;
  EXPECT_NE(a.add("ab").add("c").hex(), b.add("a").add("bc").hex());
  EXPECT_EQ(Digest().add("").hex().size(), 16u);
  // FNV-1a of one byte 0xff: (offset ^ 0xff) * prime, modulo 2^64.
  EXPECT_EQ(Digest().add("").hex(), [] {
    const std::uint64_t hash = (14695981039346656037ULL ^ 0xff) * 1099511628211ULL;
    char text[17];
    std::snprintf(text, sizeof text, "%016llx", static_cast<unsigned long long>(hash));
    return std::string(text);
  }());
  EXPECT_EQ(start_of("1772463600/abc"), Instant{seconds{1772463600}});
  for (const char* none : {"-/abc", "", "12", "12x/abc", "x/1"}) EXPECT_FALSE(start_of(none)) << none;
  EXPECT_EQ(content_of("a/b;c"), "a/b");
  EXPECT_EQ(content_of("a/b"), "a/b");
}

const Item& item_of(const Wanted& w, const std::string& name) {
  static const Item none;
  for (const auto& item : w.items)
    if (item.key.kind == ItemKind::task && name_of_task(item.key) == name) return item;
  ADD_FAILURE() << "no " << name;
  return none;
}

TEST(WantedItems, SayAllThatATaskNeeds) {
  CasePlan plan = rich();
  plan.sites[0].milestones[3].why = reason("test.check");
  plan.sites[0].milestones[3].late = true;
  const Wanted w = wanted(plan, example::protocol(), {Intent::plan, false});
  const auto& check = item_of(w, "check-site#5");
  EXPECT_EQ(check.key.intent, Intent::plan);
  EXPECT_EQ(say(check.start) + " " + say(check.end), "15:00 15:30");
  EXPECT_EQ(check.why, reason("test.check"));
  EXPECT_EQ(check.priority, Priority::urgent) << "late";
  EXPECT_EQ(check.sites, Lines{"Procedure/p1"});
  EXPECT_EQ(say(check.inputs), "Procedure/p1");
  ASSERT_TRUE(check.milestone);
  EXPECT_EQ(check.milestone->ordinal, 5);
  EXPECT_EQ(item_of(w, "draw-coagulation#2").priority, Priority::urgent) << "a gate waits for it";
  EXPECT_EQ(item_of(w, "confirm-readiness").priority, Priority::urgent);
  EXPECT_EQ(item_of(w, "remove-sheath").priority, Priority::routine);
  const auto& ask = item_of(w, "ask");
  EXPECT_EQ(ask.subject + " " + ask.value_seen + " " + ask.why->code + " " + ask.key.cause + " " + ask.key.site, "platelets 60 test.gate gate platelets Procedure/p1");
  EXPECT_EQ(ask.priority, Priority::urgent);
  EXPECT_EQ(ask.sites, Lines{"Procedure/p1"});
  const auto& alert = item_of(w, "alert");
  EXPECT_EQ(alert.subject + " " + alert.value_seen + " " + alert.why->code + " " + alert.key.cause, "temperature tell test.alert temperature temperature||15:00");
  EXPECT_EQ(alert.priority, Priority::routine);
  EXPECT_EQ(alert.sites, Lines{"Procedure/p1"}) << "the patient's: every site";
  EXPECT_EQ(say(alert.inputs), "Observation/t");
  const auto& missing = item_of(w, "provide-missing");
  EXPECT_EQ(missing.priority, Priority::urgent) << "it blocks the removal";
  EXPECT_EQ(missing.sites, Lines{"Procedure/p1"});
  CasePlan eased = plan;
  eased.missing[0].blocks.clear();
  EXPECT_EQ(item_of(wanted(eased, example::protocol(), {}), "provide-missing").priority, Priority::routine);
  eased.conflicts.push_back({Fact::side, "", {}, {{"Device/d", "1", false}}, ""});
  EXPECT_EQ(item_of(wanted(eased, example::protocol(), {}), "provide-missing").priority, Priority::urgent);
  EXPECT_EQ(say(item_of(wanted(eased, example::protocol(), {}), "provide-missing").inputs), "Device/d");
  EXPECT_EQ(say(w.items.front().inputs), "Observation/act1 Observation/t Patient/a Procedure/p1") << "of the CarePlan: every fact, each once, sorted";
}

TEST(WantedItems, TheLastOneReleasedSaysSo) {
  CasePlan plan = rich();
  const auto last = [&] {
    std::string names;
    for (const auto& item : wanted(plan, example::protocol(), {}).items)
      if (item.last) names += name_of_task(item.key) + (item.fingerprint.ends_with(" last") ? "" : " unmarked");
    return names;
  };
  // All four start at 15:00: the key settles it, "remove-sheath" is the last of them.
  EXPECT_EQ(last(), "remove-sheath");
  plan.sites[0].milestones[0].earliest = at(15, 1);
  EXPECT_EQ(last(), "draw-coagulation#2");
}

TEST(WantedItems, GenerationsAndWhatIsDone) {
  CasePlan plan = example::nearly_up();   // T0 14:30, one haemostasis
  const Wanted w = wanted(plan, example::protocol(), {});
  EXPECT_EQ(item_of(w, "check-site#3").key.generation, 1);
  EXPECT_EQ(item_of(w, "stand-and-walk").key.generation, 1);
  ASSERT_EQ(w.done.size(), 1u);
  EXPECT_EQ(w.done[0].step, Step::remove_sheath);
  EXPECT_EQ(w.done[0].generation, 0) << "it led to that haemostasis";
  EXPECT_TRUE(w.passed.empty());
  for (auto& m : plan.sites[0].milestones)
    if (m.step == Step::sit_up) m.status = StepStatus::cancelled;
  const Wanted passed = wanted(plan, example::protocol(), {});
  ASSERT_EQ(passed.passed.size(), 1u);
  EXPECT_EQ(passed.passed[0].step, Step::sit_up);
  EXPECT_EQ(passed.passed[0].site, "");
  EXPECT_EQ(passed.done.size(), 2u);
  plan.state = CaseState::withdrawn;
  plan.stopped = reason("case.stopped.deceased");
  EXPECT_EQ(wanted(plan, example::protocol(), {}).stopped, plan.stopped);
}

TEST(WantedItems, WhereALaterCaseOfThePatientCarriesTheSteps) {
  std::vector<CasePlan> plans{example::resting(), example::sheath_in(), example::sheath_in()};
  EXPECT_TRUE(patient_steps_elsewhere(plans, 0));
  for (auto* plan : {&plans[1], &plans[2]}) plan->provisional = true;
  EXPECT_FALSE(patient_steps_elsewhere(plans, 0)) << "a provisional one carries nothing";
  plans[2].provisional = false;
  EXPECT_TRUE(patient_steps_elsewhere(plans, 0));
  plans[2].patient.source.reference = "Patient/b";
  EXPECT_FALSE(patient_steps_elsewhere(plans, 0));
  plans[1].provisional = false;
  EXPECT_TRUE(patient_steps_elsewhere(plans, 0));
  plans[1].state = CaseState::withdrawn;
  EXPECT_FALSE(patient_steps_elsewhere(plans, 0));
  SitePlan site;
  for (const int hour : {18, 16, 17}) {
    site.gates.push_back(example::gate(GateName::act, GateState::open));
    site.gates.back().expires_at = at(hour);
  }
  EXPECT_EQ(say(first_expiry(site)), "16:00");
  site.gates[1].state = GateState::closed;
  EXPECT_EQ(say(first_expiry(site)), "17:00");
}

TEST(WantedItems, EveryFactThatAPlanRestsOn) {
  CasePlan plan = example::case_of("p1");
  SitePlan site = example::site("Procedure/p1", Side::right);
  const auto source = [](const char* reference) { return Source{reference, "1", false}; };
  site.gates = {example::gate(GateName::act, GateState::open, {source("Observation/gate")})};
  site.milestones = {milestone(Step::sit_up, StepStatus::due, at(15), false)};
  site.milestones[0].basis[0].inputs = {source("Observation/step")};
  site.last_check = SiteCheck{};
  site.last_check->source = source("Observation/check");
  plan.sites = {site};
  AgentRow row;
  row.basis = {{"", "", {source("MedicationAdministration/row")}, {}}};
  plan.agents = {row};
  plan.clearance = Clearance{80, {{"", "", {source("Observation/creatinine")}, {}}}};
  plan.conflicts = {{Fact::side, "", {}, {source("Device/conflict")}, ""}};
  plan.alerts = {{"x", AlertLevel::tell, "", "", {}, {source("Observation/alert"), Source{}}}};
  Measurement value;
  value.source = source("Observation/shown");
  plan.shown_values = {value};
  Administration dose;
  dose.source = source("MedicationAdministration/shown");
  plan.shown_doses = {dose};
  EXPECT_EQ(say(inputs_of(plan)), "Device/conflict MedicationAdministration/row MedicationAdministration/shown Observation/alert Observation/check Observation/creatinine "
                                  "Observation/gate Observation/shown Observation/step Patient/a Procedure/p1");
}

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

  CasePlan gone = before;   // a step that is no longer listed
  gone.sites[0].milestones.pop_back();
  rows = moved(before, gone);
  ASSERT_EQ(rows.size(), 1u);
  EXPECT_EQ(rows[0].step, Step::stand_and_walk);
  EXPECT_TRUE(rows[0].status_from && !rows[0].status_to && !rows[0].by && !rows[0].why);
  rows = moved(gone, before);
  EXPECT_TRUE(!rows[0].status_from && rows[0].status_to && !rows[0].by);

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
