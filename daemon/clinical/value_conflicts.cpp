#include "clinical/value_conflicts.h"

#include <algorithm>
#include <array>
#include <fmt/chrono.h>

#include "clinical/case_window.h"
#include "clinical/clotting_test.h"
#include "clinical/names.h"
#include "clinical/quantity.h"

namespace clinical {
namespace {

constexpr const char *kImpossible = "impossible-value", *kUnread = "unread-value", *kAnalysers = "analysers-differ", *kUnderDevice = "haemostasis-under-device";

std::string written(std::string_view what, Instant at) { return fmt::format("{} {:%Y-%m-%dT%H:%M:%SZ}", what, at); }

/// Null: the newest is a number that it can be, or nothing at all is recorded of it.
const Measurement* unusable_newest(const MeasurementIndex& index, Analyte analyte) {
  const Measurement* newest = nullptr;
  for (const auto* m : index.of(analyte))
    if (m->at && (!newest || m->at->latest >= newest->at->latest)) newest = m;
  return newest && (!newest->impossible.empty() || !newest->unread.empty()) ? newest : nullptr;
}

std::optional<Conflict> of_analysers(const Evidence& evidence) {
  const auto draws = evidence.measurements(Analyte::act);
  const auto last = newest_of(draws, Worse::higher);
  if (!last || !last->has_value()) return std::nullopt;
  const auto against = contradicting(evidence, draws, *last);
  if (against.empty()) return std::nullopt;
  Conflict conflict{Fact::act, kAnalysers, {last->value().written}, {last->shown->source}, {}};
  for (const auto* m : against) {
    conflict.values.push_back(m->value->written);
    add_source(conflict.inputs, m->source);
  }
  return conflict;
}

// One dose that nobody gives, or in a unit that heparin is not given in: a digit too many, or another drug's unit. It is asked about, not reckoned with.
std::optional<Conflict> of_heparin(const Administration& a, const Setting& most) {
  if (a.agent != Agent::heparin || a.flush || !a.dose) return std::nullopt;
  if (a.dose->unit == DoseUnit::milligram) return Conflict{Fact::dose, "heparin-dose-unit", {a.dose->amount.written}, {a.source}, {}};
  const bool high = a.bolus && a.dose->unit == DoseUnit::international_unit && !a.dose->per_kg && surely_above(a.dose->amount, most.micro);
  return high ? std::optional(Conflict{Fact::dose, "heparin-dose-high", {a.dose->amount.written}, {a.source}, {}}) : std::nullopt;
}

}  // namespace

std::vector<Conflict> value_conflicts(const Evidence& evidence) {
  std::vector<Conflict> found;
  for (int i = 0; i <= static_cast<int>(Analyte::temperature); ++i)
    if (const auto* m = unusable_newest(evidence.index(), static_cast<Analyte>(i))) {
      const bool impossible = !m->impossible.empty();
      found.push_back({fact_of(m->analyte), impossible ? kImpossible : kUnread, {impossible ? m->impossible : m->unread}, {m->source}, {}});
    }
  for (const auto& a : evidence.facts.administrations)
    if (auto conflict = of_heparin(a, evidence.protocol.heparin_asked_over)) found.push_back(std::move(*conflict));
  if (auto conflict = of_analysers(evidence)) found.push_back(std::move(*conflict));
  return found;
}

std::optional<Conflict> dry_under_device(const SiteFacts& site) {
  if (!site.dry_while_pressed) return std::nullopt;
  const auto& hold = site.holds.back();
  const bool told = hold.method == Closure::mechanical || (hold.method == Closure::unknown && site.closure.usable() && site.closure.value == Closure::mechanical);
  if (!told) return std::nullopt;
  Conflict conflict{Fact::haemostasis_time, kUnderDevice, {}, {hold.source}, site.key};
  for (const auto& event : site.events)
    if (event.kind == AccessEventKind::haemostasis_confirmed && event.at && event.at->latest == *site.dry_while_pressed) {
      conflict.values.push_back(written(name_of(event.kind), *site.dry_while_pressed));
      add_source(conflict.inputs, event.source);
    }
  conflict.values.push_back(written(name_of(AccessEventKind::compression_started), hold.start));
  return conflict;
}

bool is_dealt_with(const Conflict& conflict) {
  return std::ranges::any_of(std::array{kImpossible, kUnread, kAnalysers, kUnderDevice}, [&](const char* about) { return conflict.about == about; });
}

}  // namespace clinical
