#include "clinical/case_sites.h"

#include <algorithm>
#include <set>

#include "clinical/names.h"

namespace clinical {
namespace {

template <class T>
Certainty certainty_of(const std::vector<Recorded<T>>& said) {
  if (said.empty()) return Certainty::unknown;
  if (std::ranges::any_of(said, [&](const auto& r) { return r.value != said.front().value; })) return Certainty::contradicted;
  return std::ranges::all_of(said, [](const auto& r) { return r.source.low_confidence; }) ? Certainty::low : Certainty::known;
}

// `said` holds each different saying once, the surest source of it first.
template <class T>
Settled<T> settled(std::vector<Recorded<T>> said) {
  Settled<T> result;
  result.certainty = certainty_of(said);
  std::ranges::stable_sort(said, [](const auto& a, const auto& b) {
    return std::tie(a.value, a.source.low_confidence, a.source) < std::tie(b.value, b.source.low_confidence, b.source);
  });
  if (!said.empty()) result.value = said.front().value;
  for (auto& r : said)
    if (result.said.empty() || result.said.back().value != r.value) result.said.push_back(std::move(r));
  return result;
}

template <class T>
void say(std::vector<Recorded<T>>& said, T value, const Source& source) {
  if (value != T::unknown) said.push_back({value, source});
}

template <class T>
std::vector<Recorded<T>> known_of(const std::vector<Recorded<T>>& said) {
  std::vector<Recorded<T>> known;
  for (const auto& r : said) say(known, r.value, r.source);
  return known;
}

// The first sheath has one size; each recorded upsizing may name another, and the largest counts. An upsizing without a size leaves it unknown.
// A text that names a smaller size than the coded one may speak of another sheath; a larger one contradicts it.
Settled<int> settled_size(const Procedure& procedure, SiteFacts& site) {
  std::vector<Recorded<int>> first, upsized;
  for (const auto& r : procedure.french) first.push_back({whole_french(r.value), r.source});
  bool size_missing = false;
  site.upsized = false;
  for (const auto& event : site.events) {
    const bool up = event.kind == AccessEventKind::sheath_upsized;
    site.upsized |= up;
    if (event.french) (up ? upsized : first).push_back({whole_french(*event.french), event.source});
    size_missing |= up && !event.french;
  }
  int coded = 0;
  for (const auto& r : first)
    if (!r.source.low_confidence) coded = std::max(coded, r.value);
  std::erase_if(first, [&](const auto& r) { return r.source.low_confidence && r.value < coded; });
  std::set<int> unexplained;
  for (const auto& r : first)
    if (std::ranges::none_of(upsized, [&](const auto& u) { return u.value == r.value; })) unexplained.insert(r.value);
  auto all = first;
  all.insert(all.end(), upsized.begin(), upsized.end());
  auto result = settled(all);
  if (all.empty()) return result;
  result.value = std::ranges::max(all, {}, [](const auto& r) { return r.value; }).value;
  if (size_missing) {
    result.certainty = Certainty::unknown;
  } else if (unexplained.size() <= 1 && result.certainty == Certainty::contradicted) {  // upsizing explains that the sizes differ
    const bool unsure = std::ranges::any_of(all, [&](const auto& r) { return r.source.low_confidence; });
    result.certainty = unsure ? Certainty::low : Certainty::known;
  }
  return result;
}

// Where the Procedure names no method, the first hold that does tells it; where both do, the later is a change of method.
Settled<Closure> settled_closure(const Procedure& procedure, const SiteFacts& site) {
  auto said = known_of(procedure.closures);
  if (said.empty())
    for (const auto& event : site.events)
      if (event.kind == AccessEventKind::compression_started && event.method != Closure::unknown) {
        said.push_back({event.method, event.source});
        break;
      }
  return settled(std::move(said));
}

template <class T, class Write>
void add_contradiction(std::vector<Conflict>& out, const SiteFacts& site, Fact fact, const Settled<T>& settled, Write write) {
  if (settled.certainty != Certainty::contradicted) return;
  Conflict conflict{fact, {}, {}, {}, site.key};
  for (const auto& r : settled.said) {
    conflict.values.push_back(write(r.value));
    conflict.inputs.push_back(r.source);
  }
  out.push_back(std::move(conflict));
}

}  // namespace

int whole_french(Micro french) { return static_cast<int>((french + kMicro - 1) / kMicro); }

Opens opens(const Procedure& p) {
  if (p.femoral_denied || !((p.catheter && p.femoral) || p.femoral_stated)) return Opens::nothing;
  switch (p.status) {
    case ProcedureStatus::completed: case ProcedureStatus::stopped: return Opens::index_case;
    case ProcedureStatus::in_progress: case ProcedureStatus::on_hold: case ProcedureStatus::unknown: return Opens::provisional_case;
    default: return Opens::nothing;
  }
}

bool names_own_site(const Procedure& p) {
  if (p.femoral_denied || p.status == ProcedureStatus::preparation || p.status == ProcedureStatus::not_done ||
      p.status == ProcedureStatus::entered_in_error)
    return false;
  return p.femoral || p.femoral_stated || !known_of(p.sides).empty() || !known_of(p.vessels).empty() || !p.french.empty();
}

SiteFacts site_of(const Procedure& p) {
  SiteFacts site;
  site.key = p.source.reference;
  site.punctures = p.punctures;
  site.difficult = p.difficult;
  site.high_stick = p.high_stick;
  site.low_stick = p.low_stick;
  site.uncomplicated = p.uncomplicated;
  site.direction = p.direction;
  settle(site, p);
  return site;
}

void settle(SiteFacts& site, const Procedure& p) {
  auto sides = known_of(p.sides);
  auto vessels = known_of(p.vessels);
  for (const auto& event : site.events) {
    say(sides, event.side, event.source);
    say(vessels, event.vessel, event.source);
  }
  site.side = settled(std::move(sides));
  site.vessel = settled(std::move(vessels));
  site.french = settled_size(p, site);
  site.closure = settled_closure(p, site);
}

std::vector<Conflict> contradictions(const SiteFacts& site) {
  std::vector<Conflict> found;
  const auto name = [](auto value) { return std::string(name_of(value)); };
  add_contradiction(found, site, Fact::sheath_size, site.french, [](int f) { return std::to_string(f) + " F"; });
  add_contradiction(found, site, Fact::side, site.side, name);
  add_contradiction(found, site, Fact::vessel, site.vessel, name);
  add_contradiction(found, site, Fact::closure, site.closure, name);
  return found;
}

bool fits(const Pointer& pointer, const SiteFacts& site) {
  if (pointer.side != Side::unknown && !(site.side.usable() && site.side.value == pointer.side)) return false;
  return pointer.vessel == Vessel::unknown || (site.vessel.usable() && site.vessel.value == pointer.vessel);
}

}  // namespace clinical
