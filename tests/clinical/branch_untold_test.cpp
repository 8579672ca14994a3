// Facts that do not say when, or do not say what: a value without a time, a result without a value, a dose, a check, a risk or an event without a time. Such a fact
// is never taken for a good one, hides no other, raises no alarm of its own, and brings nothing forward (clinical model, law 2 and "Unknown"; evidence.h: an untimed
// fact never counts). Invented cases.
#include <gmock/gmock.h>

#include <algorithm>

#include "mutants_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

struct State {
  const char* name;
  Chart chart;
  Instant now;
};

/// The stages of a case, each with something given, measured and found.
std::vector<State> states() {
  std::vector<State> all;
  Chart in = intervention_chart(6);
  in.bolus(Agent::tirofiban, 0, hm(12, 10));
  for (const auto analyte : {Analyte::systolic, Analyte::diastolic}) in.lab(analyte, analyte == Analyte::systolic ? 128 : 75, hm(15));
  in.lab(Analyte::heart_rate, 70, hm(15));
  in.lab(Analyte::act, 140, hm(15));
  in.lab(Analyte::platelets, 210, hm(14, 30));
  in.lab(Analyte::oxygen_saturation, 97, hm(14));
  in.lab(Analyte::temperature, 36.8, hm(14));
  in.check(hm(15)).back_pain = true;
  all.push_back({"sheath in", in, hm(15, 5)});
  Chart pressed = intervention_chart(6);
  pull_at(pressed, hm(15));
  all.push_back({"pressed", pressed, hm(15, 5)});
  Chart clamped = plain_chart(6, Closure::mechanical);
  pull_at(clamped, hm(15));
  all.push_back({"under a device", clamped, hm(15, 5)});
  Chart rests = plain_chart(6);
  pull_at(rests, hm(15));
  rests.event(haemostasis_confirmed, hm(15, 20));
  rests.check(hm(15, 35));
  rests.lab(Analyte::oxygen_saturation, 97, hm(15, 35));
  all.push_back({"resting", rests, hm(15, 40)});
  Chart swollen = rests;
  swollen.check(hm(16)).swelling = amount(5.5, "cm");
  swollen.event(compression_started, hm(16, 2));
  swollen.event(haemostasis_confirmed, hm(16, 30));
  all.push_back({"after a large swelling", swollen, hm(16, 40)});
  Chart sits = rests;
  for (int quarter = 0; quarter < 24; ++quarter) sits.check(hm(15, 50) + minutes{15 * quarter});
  sits.pressure(120, hm(21, 15));
  sits.done(Step::sit_up, hm(21, 18));
  sits.pressure(118, hm(21, 20));
  all.push_back({"sitting", sits, hm(21, 22)});
  return all;
}

constexpr Analyte kAll[] = {Analyte::act, Analyte::aptt, Analyte::anti_xa, Analyte::inr, Analyte::platelets, Analyte::haemoglobin, Analyte::fibrinogen, Analyte::creatinine,
                            Analyte::weight, Analyte::height, Analyte::systolic, Analyte::diastolic, Analyte::mean_pressure, Analyte::heart_rate,
                            Analyte::alanine_aminotransferase, Analyte::aspartate_aminotransferase, Analyte::bilirubin, Analyte::oxygen_saturation, Analyte::temperature};

/// What is open or due in `with` and not in `without`; empty: nothing.
std::string gained(const CasePlan& with, const CasePlan& without) {
  std::string all;
  for (std::size_t i = 0; i < with.sites.size() && i < without.sites.size(); ++i) {
    for (const auto& gate : with.sites[i].gates) {
      const auto before = std::ranges::find(without.sites[i].gates, gate.name, &Gate::name);
      if (gate.state == GateState::open && before != without.sites[i].gates.end() && before->state != GateState::open) all += std::string(name_of(gate.name)) + " ";
    }
    for (const auto& step : with.sites[i].milestones) {
      const bool permits = step.step == Step::remove_sheath || step.step == Step::sit_up || step.step == Step::stand_and_walk;
      const auto before = std::ranges::find(without.sites[i].milestones, step.step, &Milestone::step);
      if (permits && step.status == StepStatus::due && before != without.sites[i].milestones.end() && before->status != StepStatus::due) all += std::string(name_of(step.step)) + " ";
    }
  }
  return all;
}

TEST(Untold, AValueWithoutATimeOpensNothing) {
  for (const auto& state : states())
    for (const auto& protocol : {cautious(), early_walk()})
      for (const auto analyte : kAll)
        for (const double value : {1.0, 140.0, 999.0}) {
          Chart chart = state.chart;
          chart.lab(analyte, value, hm(15)).at.reset();
          ASSERT_EQ(gained(chart.plan(state.now, protocol), state.chart.plan(state.now, protocol)), "") << state.name << ", " << name_of(analyte) << " " << value;
        }
}


std::vector<std::string> triggers(const CasePlan& plan) {
  std::vector<std::string> all;
  for (const auto& a : plan.alerts) all.push_back(a.trigger);
  return all;
}
bool not_earlier(std::optional<Instant> with, std::optional<Instant> without) { return !with || (without && *with >= *without); }

/// Nothing is permitted sooner, and nobody rests shorter.
void expect_not_better(const CasePlan& with, const CasePlan& without, const std::string& what) {
  for (const auto s : {Step::remove_sheath, Step::end_compression, Step::raise_head, Step::sit_up, Step::stand_and_walk, Step::discharge_check}) {
    const auto &a = step(with, s), &b = step(without, s);
    EXPECT_TRUE(a.actual || b.actual || not_earlier(a.earliest, b.earliest)) << what << ": " << name_of(s);
    EXPECT_GE(a.planned.value_or(minutes::max()), b.planned.value_or(minutes{0})) << what << ": " << name_of(s);
  }
}

TEST(Untold, AResultWithoutAValueRaisesNothingAndBringsNothingForward) {
  for (const auto& state : states())
    for (const auto analyte : kAll)
      for (const auto ago : {minutes{1}, minutes{90}}) {
        const auto before = state.chart.plan(state.now);
        Chart chart = state.chart;
        chart.lab(analyte, 1, state.now - ago).value.reset();
        const auto plan = chart.plan(state.now);
        const auto what = std::string(state.name) + ", " + std::string(name_of(analyte));
        for (const auto& trigger : triggers(plan))  // it may lengthen what was planned, and then the hold that was kept was a short one
          EXPECT_TRUE(trigger == "early-haemostasis" || std::ranges::count(triggers(before), trigger)) << what << ": " << trigger;
        expect_not_better(plan, before, what);
      }
}

TEST(Untold, ADoseWithoutATimeBringsNothingForward) {
  for (const auto& state : states())
    for (const auto agent : {Agent::heparin, Agent::enoxaparin, Agent::bivalirudin, Agent::warfarin, Agent::tirofiban, Agent::alteplase, Agent::aspirin, Agent::apixaban, Agent::protamine})
      for (const bool flush : {false, true}) {
        Chart chart = state.chart;
        auto& dose = chart.bolus(agent, 100, hm(12));
        dose.start.reset(), dose.end.reset();
        dose.flush = flush;
        expect_not_better(chart.plan(state.now), state.chart.plan(state.now), std::string(state.name) + ", " + std::string(name_of(agent)));
      }
}

TEST(Untold, HeparinWithoutATimeIsAskedForAndNothingIsProjectedFromIt) {
  Chart chart = intervention_chart(6);
  chart.lab(Analyte::act, 290, hm(13));
  ASSERT_TRUE(chart.plan(hm(13, 30)).sites[0].projection->computed);
  auto& dose = chart.bolus(Agent::heparin, 3000, hm(12));
  dose.start.reset(), dose.end.reset();
  const auto plan = chart.plan(hm(13, 30));
  EXPECT_FALSE(plan.sites[0].projection) << "it may have been after that value";
  EXPECT_EQ(std::ranges::find(plan.sites[0].gates, GateName::act, &Gate::name)->why.code, "gate.drug.time-unknown");
}

// A check that says nothing of when is none that was made, and one that is not of a groin does not stand for a look at it; but what it saw it saw.
TEST(Untold, ACheckWithoutATimeOpensNothingAndItsTroubleCounts) {
  for (const auto& state : states()) {
    Chart dry = state.chart;
    dry.check(hm(15)).at.reset();
    EXPECT_EQ(gained(dry.plan(state.now), state.chart.plan(state.now)), "") << state.name;
    Chart chart = state.chart;
    auto& check = chart.check(hm(15));
    check.at.reset();
    check.bleeding = Bleeding::bleeding;
    const auto plan = chart.plan(state.now);
    EXPECT_NE(std::ranges::find(plan.alerts, "site-bleeding", &Alert::trigger), plan.alerts.end()) << state.name;
  }
}

// Law 2: a risk with no beginning is there, one that ended before the case is not, one that ends later is.
TEST(Untold, ARiskWithoutABeginningIsThere) {
  const auto walk = [](const std::function<void(Risk&)>& change) {
    Chart chart = plain_chart(6);
    change(chart.risk(RiskKind::cough));
    return *step(chart.plan(hm(13, 10)), Step::stand_and_walk).planned;
  };
  const minutes without = *step(plain_chart(6).plan(hm(13, 10)), Step::stand_and_walk).planned;
  EXPECT_GT(walk([](Risk&) {}), without);
  EXPECT_GT(walk([](Risk& r) { r.from.reset(); }), without);
  EXPECT_EQ(walk([](Risk& r) { r.from = exactly(hm(13, 11)); }), without) << "not yet";
  EXPECT_EQ(walk([](Risk& r) { r.from.reset(), r.to = exactly(hm(11)); }), without) << "no longer, by the start";
  EXPECT_GT(walk([](Risk& r) { r.to = exactly(hm(12)); }), without) << "into the case";
}

// What was taken at home, or listed, at a time still to come has not been.
TEST(Untold, WhatLiesAheadIsNotToldYet) {
  const auto home = [](const std::function<void(Chart&)>& change) {
    Chart chart = plain_chart(6);
    std::erase_if(chart.record.statements, [](const Statement& s) { return s.kind == StatementKind::no_home_anticoagulant; });
    change(chart);
    const auto plan = chart.plan(hm(14));
    for (const auto& gate : plan.sites[0].gates)
      if (gate.name == GateName::home_anticoagulants) return gate.state;
    return GateState::closed;
  };
  const auto drug = [](std::optional<Instant> last, std::optional<Instant> recorded) {
    return [=](Chart& c) {
      HomeDrug d;
      d.source = c.source();
      d.agent = Agent::apixaban;
      if (last) d.last_dose = exactly(*last);
      if (recorded) d.recorded = exactly(*recorded);
      c.record.home_drugs.push_back(d);
    };
  };
  const auto list = [](std::optional<Instant> at) {
    return [=](Chart& c) { c.record.home_lists.push_back({c.source(), true, at ? std::optional(exactly(*at)) : std::nullopt}); };
  };
  EXPECT_EQ(home([](Chart&) {}), GateState::needs);
  EXPECT_EQ(home(drug(hm(13), {})), GateState::open);
  EXPECT_EQ(home(drug(hm(14, 1), {})), GateState::needs);
  EXPECT_EQ(home(drug({}, hm(13))), GateState::open);
  EXPECT_EQ(home(drug({}, hm(14, 1))), GateState::needs);
  EXPECT_EQ(home(drug({}, {})), GateState::open) << "no time at all: it is on record";
  EXPECT_EQ(home(list(hm(13))), GateState::open);
  EXPECT_EQ(home(list(hm(14, 1))), GateState::needs);
  EXPECT_EQ(home(list({})), GateState::needs) << "nobody knows of when it speaks";
}

// A Task done at a time still to come is not done yet; one that says nothing of when does not say that it was.
TEST(Untold, ATaskDoneAtATimeAheadIsNotDone) {
  const auto dressed = [](std::optional<Instant> at) {
    Chart chart = plain_chart(6);
    pull_at(chart, hm(15));
    chart.event(haemostasis_confirmed, hm(15, 20));
    auto& task = chart.done(Step::dress_site, hm(15, 25));
    if (at) task.changed = exactly(*at);
    else task.changed.reset();
    return step(chart.plan(hm(15, 30)), Step::dress_site).status;
  };
  EXPECT_EQ(dressed(hm(15, 25)), StepStatus::done);
  EXPECT_EQ(dressed(hm(15, 31)), StepStatus::due);
  EXPECT_EQ(dressed({}), StepStatus::due);
}

// Neither when it began nor when it ended: nothing that is reckoned from them is given, and it is said.
TEST(Untold, AProcedureWithoutAnyTime) {
  Chart chart = plain_chart(6);
  chart.index().start.reset();
  chart.index().end.reset();
  chart.pressure(128, hm(15));
  chart.check(hm(15));
  const auto plan = chart.plan(hm(15, 5));
  EXPECT_FALSE(plan.started);
  EXPECT_FALSE(step(plan, Step::remove_sheath).earliest);
  ASSERT_TRUE(step(plan, Step::remove_sheath).why);
  EXPECT_EQ(step(plan, Step::remove_sheath).why->code, "withheld.start-not-exact");
  EXPECT_FALSE(step(plan, Step::stand_and_walk).planned) << "how old the patient was is not known either, which lengthens";
  chart.record.patient.birth = exactly(std::chrono::sys_days{std::chrono::year{1930} / 5 / 1});
  EXPECT_FALSE(step(chart.plan(hm(15, 5)), Step::stand_and_walk).planned);
  Chart ended = plain_chart(6);
  ended.index().start.reset();
  EXPECT_EQ(say(ended.plan(hm(15, 5)).started), "13:00") << "where only its end is known";
  ended.index().end = exactly(hm(15, 6));
  const auto ahead = ended.plan(hm(15, 5));
  EXPECT_TRUE(std::ranges::none_of(ahead.sites[0].milestones, [](const Milestone& m) { return m.step == Step::check_site && m.status == StepStatus::done; }));
  Chart unsure = plain_chart(6);
  unsure.index().end = Moment{hm(12, 30), hm(13)};
  const auto from_start = unsure.plan(hm(13, 10));
  EXPECT_EQ(say(step(from_start, Step::check_site).earliest), "12:15") << "q15 from the start: an end that is known roughly starts no clock";
}

}  // namespace
}  // namespace clinical
