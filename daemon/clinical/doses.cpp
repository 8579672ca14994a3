#include "clinical/doses.h"

#include <algorithm>

namespace clinical {
namespace {

bool goes_on(AdministrationStatus status, bool has_end) {
  return status == AdministrationStatus::in_progress || status == AdministrationStatus::on_hold ||
         (!has_end && status == AdministrationStatus::unknown);
}

std::optional<DoseEnd> home_dose(const Evidence& evidence, const HomeDrug& drug) {
  if (!tells_home(evidence, drug)) return std::nullopt;
  DoseEnd dose{.agent = drug.agent, .home = true, .source = drug.source};
  if (drug.last_dose) {
    dose.kind = DoseEnd::Kind::ended;
    dose.end = *drug.last_dose;
  }
  return dose;
}

}  // namespace

bool tells_home(const Evidence& evidence, const HomeDrug& drug) {
  if (!drug.taken) return false;
  if (drug.last_dose) return evidence.counts(*drug.last_dose);
  return !drug.told_by_request && (!drug.recorded || evidence.counts(*drug.recorded));
}

std::optional<DoseEnd> dose_end(const Evidence& evidence, const Administration& a) {
  const auto begin = a.start ? a.start : a.end;
  if (a.flush || (begin && !evidence.counts(*begin))) return std::nullopt;
  DoseEnd dose{.agent = a.agent, .route = a.route, .infusion = !a.bolus, .source = a.source};
  if (!begin) return dose;
  const auto end = a.bolus ? begin : a.end;
  if (goes_on(a.status, end.has_value())) {
    dose.kind = DoseEnd::Kind::running;
  } else if (!end) {
    dose.kind = DoseEnd::Kind::stop_unknown;
  } else if (evidence.counts(*end)) {
    dose.kind = DoseEnd::Kind::ended;
    dose.end = *end;
  } else {
    dose.kind = DoseEnd::Kind::running;
  }
  return dose;
}

std::vector<DoseEnd> doses_of(const Evidence& evidence, const AgentGroup& group, Home home) {
  std::vector<DoseEnd> doses;
  for (const auto& a : evidence.facts.administrations)
    if (group(a.agent))
      if (auto dose = dose_end(evidence, a)) doses.push_back(std::move(*dose));
  if (home == Home::with)
    for (const auto& drug : evidence.facts.home_drugs)
      if (group(drug.agent))
        if (auto dose = home_dose(evidence, drug)) doses.push_back(std::move(*dose));
  return doses;
}

const DoseEnd* first_of(const std::vector<DoseEnd>& doses, DoseEnd::Kind kind) {
  const auto found = std::find_if(doses.begin(), doses.end(), [&](const DoseEnd& d) { return d.kind == kind; });
  return found == doses.end() ? nullptr : &*found;
}

// Of two that may have ended last the less exact one.
std::optional<Moment> last_dose(const std::vector<DoseEnd>& doses) {
  std::optional<Moment> last;
  for (const auto& dose : doses) {
    if (dose.kind != DoseEnd::Kind::ended) return std::nullopt;
    if (!last || dose.end.latest > last->latest || (dose.end.latest == last->latest && dose.end.earliest < last->earliest)) last = dose.end;
  }
  return last;
}

std::vector<Source> sources_of(const std::vector<DoseEnd>& doses) {
  std::vector<Source> sources;
  for (const auto& dose : doses) add_source(sources, dose.source);
  return sources;
}

ClockEnd clock_end(const std::vector<DoseEnd>& doses, const HoldOf& hold_of) {
  ClockEnd end;
  for (const auto& dose : doses) {
    const Setting& hold = hold_of(dose);
    const Instant at = dose.end.latest + hold.span();
    if (!end.dose || at > end.at || (at == end.at && end.exact && !dose.end.exact())) end = {at, dose.end.exact(), &dose, &hold};
  }
  return end;
}

}  // namespace clinical
