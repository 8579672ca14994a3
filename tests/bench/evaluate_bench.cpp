// How long one evaluation of a case with 200 facts takes, in the four states of a case. Build optimised:
//   cmake -DCMAKE_CXX_FLAGS=-O2 ..., target evaluate_bench; evaluate_bench --benchmark_repetitions=15 --benchmark_report_aggregates_only=true
#include <benchmark/benchmark.h>

#include "course_support.h"

namespace clinical {
namespace {

std::size_t facts_of(const Record& r) {
  return r.encounters.size() + r.procedures.size() + r.access_events.size() + r.administrations.size() + r.home_drugs.size() + r.home_lists.size() + r.statements.size() +
         r.decisions.size() + r.measurements.size() + r.checks.size() + r.risks.size() + r.tasks.size();
}

/// An intervention at 12:00 with what an afternoon and a night leave behind: pressures, rates, ACTs, checks, a glycoprotein inhibitor, Tasks.
Chart busy_chart(Instant now) {
  Chart chart = intervention_chart(6);
  chart.record.encounters.push_back({chart.source(), true, exactly(hm(8)), {}, "Bay 3 (invented)", "Location/invented"});
  chart.bolus(Agent::eptifibatide, 0, hm(12, 20));
  chart.bolus(Agent::heparin, 2000, hm(12, 40));
  for (const auto kind : {RiskKind::calcification, RiskKind::steroids, RiskKind::agitation}) chart.risk(kind);
  for (int i = 0; i < 4; ++i) chart.lab(Analyte::creatinine, 0.9 + 0.05 * i, hm(12 + 3 * i));
  for (int i = 0; i < 4; ++i) chart.lab(Analyte::haemoglobin, 13.8 - 0.1 * i, hm(12 + 3 * i));
  for (int i = 0; i < 5; ++i) chart.lab(Analyte::act, 290 - 30 * i, hm(13, 30 * i));
  for (int i = 0; facts_of(chart.record) < 200; ++i) {
    const Instant when = hm(13) + minutes{11 * i};
    if (when > now) break;
    chart.check(when);
    chart.pressure(124 + i % 7, when);
    chart.lab(Analyte::heart_rate, 68 + i % 5, when);
  }
  while (facts_of(chart.record) < 200) chart.lab(Analyte::mean_pressure, 90, hm(12, 1) + seconds{static_cast<int>(facts_of(chart.record))});
  return chart;
}

void evaluate(benchmark::State& state, const Chart& chart, Instant now, CaseState expected) {
  const auto plans = chart.plans(now);
  if (plans.size() != 1 || plans.front().state != expected || facts_of(chart.record) < 200) state.SkipWithError("not the case that was meant");
  for (auto _ : state) benchmark::DoNotOptimize(compute_plans(chart.record, cautious(), now));
  state.counters["facts"] = static_cast<double>(facts_of(chart.record));
}

void SheathIn(benchmark::State& state) {
  const Instant now = hm(20);
  evaluate(state, busy_chart(now), now, CaseState::sheath_in);
}
BENCHMARK(SheathIn)->Unit(benchmark::kMicrosecond);

void Compressing(benchmark::State& state) {
  const Instant now = hm(20);
  auto chart = busy_chart(now);
  pull_at(chart, hm(19, 50));
  evaluate(state, chart, now, CaseState::compressing);
}
BENCHMARK(Compressing)->Unit(benchmark::kMicrosecond);

void Resting(benchmark::State& state) {
  const Instant now = hm(22);
  auto chart = busy_chart(now);
  pull_at(chart, hm(16));
  chart.event(AccessEventKind::haemostasis_confirmed, hm(16, 40));
  evaluate(state, chart, now, CaseState::resting);
}
BENCHMARK(Resting)->Unit(benchmark::kMicrosecond);

void RestingAfterTwoRebleeds(benchmark::State& state) {
  const Instant now = hm(22);
  auto chart = busy_chart(now);
  pull_at(chart, hm(16));
  for (const int hour : {17, 19}) {
    chart.event(AccessEventKind::haemostasis_confirmed, hm(hour - 1, 40));
    chart.event(AccessEventKind::compression_started, hm(hour, 30));
  }
  chart.event(AccessEventKind::haemostasis_confirmed, hm(20, 20));
  evaluate(state, chart, now, CaseState::resting);
}
BENCHMARK(RestingAfterTwoRebleeds)->Unit(benchmark::kMicrosecond);

}  // namespace
}  // namespace clinical

BENCHMARK_MAIN();
