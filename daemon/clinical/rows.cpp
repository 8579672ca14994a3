#include "clinical/rows.h"

#include <algorithm>

namespace clinical {

bool vein_takes_longer(const SiteView& view) {
  const auto& sites = view.facts.sites;
  const bool another = std::ranges::any_of(sites, [&](const SiteFacts& other) {
    return other.key != view.site.key && other.vessel.usable() && other.vessel.value == Vessel::vein && other.side.usable() && view.site.side.usable() &&
           other.side.value == view.site.side.value;
  });
  const auto french = view.french();
  return another || view.site.punctures.value_or(1) > 1 || !french || *french >= view.protocol.vein_large.whole_number() || view.anticoagulated();
}

Tally larger(Tally a, Tally b) { return std::move(b.value() > a.value() ? b : a); }

void raise_for_procedure(Tally& tally, const Setting& floor, const SiteView& view, const char* code) {
  if (view.intervention()) {
    const bool known = view.facts.intervention == Tristate::yes;
    tally.raise_to(floor, {code, {{"what", term("floor", known ? "intervention" : "intervention-unknown")}}}, {view.facts.index.source});
  } else if (view.anticoagulated()) {
    const bool known = view.anticoagulant == Tristate::yes;
    tally.raise_to(floor, {code, {{"what", term("floor", known ? "anticoagulant" : "anticoagulant-unknown")}}});
  }
}

std::vector<Source> size_sources(const SiteView& view) {
  std::vector<Source> sources;
  for (const auto& said : view.site.french.said) sources.push_back(said.source);
  return sources;
}

}  // namespace clinical
