#include <algorithm>
#include <map>
#include <set>

#include "clinical/change.h"

namespace clinical {
namespace {

struct Place {
  std::string site;
  Step step;
  int ordinal;
  auto operator<=>(const Place&) const = default;
};
struct Seen {
  const Milestone* milestone;
  const SitePlan* site;
};
using Listing = std::map<Place, Seen>;

Place place_of(const SitePlan& site, const Milestone& m) { return {is_shared_step(m.step) ? std::string() : site.key, m.step, m.ordinal}; }

Listing listing_of(const CasePlan& plan) {
  Listing all;
  for (const auto& site : plan.sites)
    for (const auto& m : site.milestones) all.try_emplace(place_of(site, m), Seen{&m, &site});
  return all;
}

// In the order of the course as the plan lists it; steps that are only in the previous plan come last.
std::vector<Place> order_of(const CasePlan& previous, const CasePlan& next) {
  std::vector<Place> order;
  std::set<Place> seen;
  for (const auto* plan : {&next, &previous})
    for (const auto& site : plan->sites)
      for (const auto& m : site.milestones)
        if (seen.insert(place_of(site, m)).second) order.push_back(place_of(site, m));
  return order;
}

std::optional<Instant> time_of(const Milestone* m) {
  if (!m) return std::nullopt;
  return m->actual ? m->actual : m->earliest ? m->earliest : m->expected;
}

std::set<Source> basis_of(const Milestone* m) {
  std::set<Source> all;
  if (m)
    for (const auto& basis : m->basis) all.insert(basis.inputs.begin(), basis.inputs.end());
  return all;
}

std::set<Source> all_of(const CasePlan& plan) {
  const auto inputs = inputs_of(plan);
  return {inputs.begin(), inputs.end()};
}

std::vector<Source> minus(const std::set<Source>& all, const std::set<Source>& without) {
  std::vector<Source> rest;
  std::ranges::set_difference(all, without, std::back_inserter(rest));
  return rest;
}

std::optional<minutes> growth(const Milestone* before, const Milestone* after) {
  const auto from = time_of(before), to = time_of(after);
  if (from && to) return *from == *to ? std::optional<minutes>() : std::chrono::floor<minutes>(*to - *from);
  if (!before || !after) return std::nullopt;
  if (before->after_t0 && after->after_t0 && *before->after_t0 != *after->after_t0) return *after->after_t0 - *before->after_t0;
  if (before->planned && after->planned && *before->planned != *after->planned) return *after->planned - *before->planned;
  return std::nullopt;
}

}  // namespace

std::vector<Moved> moved(const CasePlan& previous, const CasePlan& next) {
  const Listing before = listing_of(previous), after = listing_of(next);
  const auto whole_before = all_of(previous), whole_after = all_of(next);
  std::vector<Moved> rows;
  for (const auto& place : order_of(previous, next)) {
    const auto old_entry = before.find(place), new_entry = after.find(place);
    const Milestone* was = old_entry == before.end() ? nullptr : old_entry->second.milestone;
    const Milestone* is = new_entry == after.end() ? nullptr : new_entry->second.milestone;
    Moved row;
    row.step = place.step;
    row.site = place.site;
    row.ordinal = place.ordinal;
    row.from = time_of(was);
    row.to = time_of(is);
    row.by = growth(was, is);
    if (was) row.status_from = was->status;
    if (is) row.status_to = is->status;
    if (is) row.why = is->why;
    if (row.from == row.to && row.status_from == row.status_to && !row.by) continue;
    row.because = minus(basis_of(is), basis_of(was));
    row.gone = minus(basis_of(was), basis_of(is));
    if (row.because.empty()) row.because = minus(whole_after, whole_before);  // a step without a basis of its own moves with the case
    if (row.because.empty() && row.gone.empty()) row.gone = minus(whole_before, whole_after);
    rows.push_back(std::move(row));
  }
  return rows;
}

}  // namespace clinical
