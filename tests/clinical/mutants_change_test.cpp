// Which change of a plan changes what of that which is written: CarePlan, sheet (with its cause), answer, content or note of a Task. As change.h and the architecture say ("Sheets are made anew only when ...").
#include <algorithm>
#include <map>

#include "clinical/change_fingerprint.h"
#include "mutants_change_support.h"

namespace clinical {
namespace {

using example::at;
using example::milestone;
using example::reason;
using Lines = std::vector<std::string>;

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
      {"another site", site([](SitePlan& s) { s.key = "Procedure/x"; }), "+ask +check-site#5 +confirm-readiness +remove-sheath -ask -check-site#5 -confirm-readiness -remove-sheath alert:content answer "
                        "draw-coagulation#2:content plan provide-missing:content sheet:closure sheet:gate sheet:milestone sheet:side sheet:size sheet:t0"},
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

}  // namespace
}  // namespace clinical
