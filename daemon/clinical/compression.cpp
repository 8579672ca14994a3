#include "clinical/compression.h"

#include <algorithm>

#include "clinical/names.h"
#include "clinical/rows.h"

namespace clinical {
namespace {

minutes rounded_up(minutes value, minutes step) { return (value + step - minutes{1}) / step * step; }

Tally artery_by_hand(const SiteView& view, int french) {
  const auto& p = view.protocol;
  Tally tally;
  const minutes product = p.hold_per_french.whole_minutes() * french;
  tally.start(rounded_up(product, p.hold_rounding.whole_minutes()), p.hold_per_french,
              {"hold.base", {{"french", std::int64_t{french}}, {"each", p.hold_per_french.span()}, {"step", p.hold_rounding.span()}}}, size_sources(view));
  tally.raise_to(p.hold_shortest, {"hold.floor", {{"what", term("floor", "any-artery")}}});
  tally.cap(p.hold_longest, "hold.cap");
  raise_for_procedure(tally, p.hold_procedural, view, "hold.floor");
  return tally;
}

Tally vein_by_hand(const SiteView& view) {
  const auto& p = view.protocol;
  Tally tally;
  const bool longer = vein_takes_longer(view);
  const auto& setting = longer ? p.vein_hold_long : p.vein_hold;
  tally.start(setting.whole_minutes(), setting, {longer ? "hold.vein-longer" : "hold.vein", {}}, size_sources(view));
  return tally;
}

Tally base_of(const SiteView& view) {
  const auto& p = view.protocol;
  if (view.closed_by_device()) {
    Tally tally;
    tally.start(p.device_hold.whole_minutes(), p.device_hold, {"hold.device", {{"method", term("closure", name_of(view.method()))}}}, size_sources(view));
    return tally;
  }
  if (view.known_vein() || !view.french()) return vein_by_hand(view);
  auto artery = artery_by_hand(view, *view.french());
  if (view.known_artery()) return artery;
  return larger(std::move(artery), vein_by_hand(view));
}

// The split of the whole table row: what partial and light take of it; the rest is firm.
std::pair<minutes, minutes> partial_and_light(const Protocol& p, minutes base) {
  const auto split = [](const Setting& partial, const Setting& light) { return std::pair(partial.whole_minutes(), light.whole_minutes()); };
  if (base <= minutes{15}) return split(p.partial_15, p.light_15);
  if (base <= minutes{20}) return split(p.partial_20, p.light_20);
  if (base <= minutes{25}) return split(p.partial_25, p.light_25);
  return split(p.partial_30, p.light_30);
}

/// The first hold that was recorded, which one after a rebleed may not be shorter than; null: none is there to compare with. Nobody knows how long one was
/// that the record only implies.
const Hold* first_hold(const SiteView& view) {
  const auto& holds = view.site.holds;
  const auto first = std::ranges::find_if(holds, [](const Hold& h) { return !h.implied; });
  if (first == holds.end() || first + 1 == holds.end() || !first->end || first->method == Closure::mechanical || view.method() == Closure::mechanical) return nullptr;
  return &*first;
}
minutes lasted(const Hold& hold) { return std::chrono::ceil<minutes>(*hold.end - hold.start); }

// After the adds: +5 min of a failed device and a rebleed's floors stand outside the cap.
void lengthen_after_trouble(Tally& tally, const SiteView& view) {
  const auto& p = view.protocol;
  if (view.failed_device()) tally.add(p.device_failed_add.whole_minutes(), p.device_failed_add, {"hold.device-failed", {}});
  if (view.site.rebleeds.empty()) return;
  tally.raise_to(p.rebleed_hold, {"hold.floor", {{"what", term("floor", "rebleed")}}});
  if (const auto* first = first_hold(view)) tally.raise_to(lasted(*first), p.rebleed_hold, {"hold.floor", {{"what", term("floor", "first-hold")}}}, {first->source});
}

/// What a row comes to with the same adds and after the same trouble, without the lines.
minutes length_of_row(minutes base, minutes adds, const SiteView& view) {
  const auto& p = view.protocol;
  minutes length = base + adds + (view.failed_device() ? p.device_failed_add.whole_minutes() : minutes{0});
  if (view.site.rebleeds.empty()) return length;
  length = std::max(length, p.rebleed_hold.whole_minutes());
  const auto* first = first_hold(view);
  return first ? std::max(length, lasted(*first)) : length;
}

/// A larger row has longer partial and light parts. Where a floor makes two rows equally long (after a rebleed) the larger one would be eased sooner:
/// no phase begins before it would in any smaller row.
void split_by_rows(HoldPlan& plan, const SiteView& view, minutes base, minutes adds) {
  minutes firm{0}, until_light{0};
  const auto take = [&](minutes row, minutes total) {
    auto [partial, light] = partial_and_light(view.protocol, row);
    if (partial + light >= total) partial = light = minutes{0};
    firm = std::max(firm, total - partial - light);
    until_light = std::max(until_light, total - light);
  };
  for (const minutes row : {minutes{15}, minutes{20}, minutes{25}, minutes{30}})   // those that the protocol splits
    if (row < base) take(row, length_of_row(row, adds, view));
  take(base, plan.total);
  plan.phases = {{Step::firm_compression, firm}, {Step::partial_compression, until_light - firm}, {Step::light_compression, plan.total - until_light}};
}

void split_manual(HoldPlan& plan, const SiteView& view, minutes base, minutes adds) {
  if (view.closed_by_device()) plan.phases = {{Step::light_compression, plan.total}};
  else if (view.known_vein()) plan.phases = {{Step::firm_compression, plan.total}};
  else split_by_rows(plan, view, base, adds);
}

HoldPlan by_hand(const SiteView& view, const std::vector<Modifier>& modifiers) {
  HoldPlan plan;
  plan.method = view.method();
  Tally tally = base_of(view);
  const minutes base = tally.value();
  add_all(tally, modifiers, &Modifier::hold, view.protocol.hold_add_further, view.protocol.hold_add_longest);
  const minutes adds = tally.value() - base;
  lengthen_after_trouble(tally, view);
  plan.total = tally.value();
  plan.basis = tally.take();
  split_manual(plan, view, base, adds);
  const auto& limit = view.protocol.hold_instants_withheld;
  if (plan.total > limit.whole_minutes()) plan.ask = Reason{"hold.ask-physician", {{"total", seconds{plan.total}}, {"limit", limit.span()}}};
  return plan;
}

struct DeviceRow {
  const Setting *partial, *down;
};
DeviceRow device_row(const Protocol& p, int french) {
  return {french <= 5 ? &p.mechanical_partial_4_5 : french == 6 ? &p.mechanical_partial_6 : &p.mechanical_partial_7_10,
          french <= 6 ? &p.mechanical_down_4_6 : &p.mechanical_down_7_10};
}

Tally low_pressure_hold(const SiteView& view, const std::vector<Modifier>& modifiers, int french) {
  const auto& p = view.protocol;
  Tally tally;
  tally.start(p.low_hold.whole_minutes(), p.low_hold, {"hold.low-base", {}});
  const auto add = [&](std::string_view what, bool unknown, const std::vector<Source>& inputs) {
    tally.add(p.low_hold_add.whole_minutes(), p.low_hold_add, {unknown ? "add.not-recorded" : "add.recorded", {{"what", term("add", what)}}}, inputs);
  };
  for (const auto& m : modifiers)
    if (m.low_hold) add(m.name, m.unknown, m.inputs);
  if (view.intervention()) add("intervention", view.facts.intervention == Tristate::unknown, {view.facts.index.source});
  if (french >= p.low_hold_french.whole_number()) add("large-sheath", false, size_sources(view));
  tally.cap(p.low_hold_longest, "hold.low-cap");
  return tally;
}

std::optional<Reason> not_with_a_device(const SiteView& view) {
  for (const auto& risk : view.facts.risks) {
    const bool here = risk.side == Side::unknown || !view.site.side.usable() || risk.side == view.site.side.value;
    if (risk.present && here && risk.kind == RiskKind::graft) return Reason{"hold.ask-graft", {}};
    if (risk.present && here && risk.kind == RiskKind::severe_arterial_disease) return Reason{"hold.ask-arterial-disease", {}};
  }
  return std::nullopt;
}

HoldPlan by_device(const SiteView& view, const std::vector<Modifier>& modifiers, int french) {
  const auto& p = view.protocol;
  const auto row = device_row(p, french);
  Tally partial;
  partial.start(row.partial->whole_minutes(), *row.partial, {"hold.partial-base", {{"french", std::int64_t{french}}}}, size_sources(view));
  add_all(partial, modifiers, &Modifier::hold, p.hold_add_further, p.hold_add_longest);
  if (view.failed_device()) partial.add(p.device_failed_add.whole_minutes(), p.device_failed_add, {"hold.device-failed", {}});
  const Tally low = low_pressure_hold(view, modifiers, french);
  const minutes full = p.pulseless_longest.whole_minutes(), down = row.down->whole_minutes();

  HoldPlan plan;
  plan.method = Closure::mechanical;
  plan.phases = {{Step::firm_compression, full}, {Step::partial_compression, partial.value()}, {Step::reduce_pressure, down}, {Step::low_pressure_hold, low.value()}};
  plan.total = full + partial.value() + down + low.value();
  Tally other;
  other.start(full, p.pulseless_longest, {"hold.full-pressure", {}});
  other.start(down, *row.down, {"hold.step-down", {{"steps", p.mechanical_steps.whole_number()}}});
  plan.basis = other.take();
  plan.basis.insert(plan.basis.end(), partial.lines().begin(), partial.lines().end());
  plan.basis.insert(plan.basis.end(), low.lines().begin(), low.lines().end());
  plan.basis.push_back({"hold.sum", "derived: the sum of the lines above", {},
                        {"hold.sum-of-parts", {{"full", seconds{full}}, {"partial", seconds{partial.value()}}, {"down", seconds{down}}, {"low", seconds{low.value()}}, {"total", seconds{plan.total}}}}});
  plan.ask = not_with_a_device(view);
  if (!plan.ask && plan.total > p.device_total.whole_minutes())
    plan.ask = Reason{"hold.ask-device-total", {{"total", seconds{plan.total}}, {"limit", p.device_total.span()}}};
  return plan;
}

}  // namespace

minutes HoldPlan::length_until(Step step) const {
  minutes length{0};
  for (const auto& phase : phases) {
    if (phase.step == step) return length;
    length += phase.length;
  }
  return length;
}

HoldPlan hold_plan(const SiteView& view, const std::vector<Modifier>& modifiers) {
  const bool device = view.method() == Closure::mechanical && !view.known_vein() && view.french();
  if (!device) return by_hand(view, modifiers);
  auto plan = by_device(view, modifiers, *view.french());
  // Never shorter than by hand: what is missing goes to the low-pressure hold.
  const auto manual = by_hand(view, modifiers);
  if (manual.total > plan.total) {
    plan.phases.back().length += manual.total - plan.total;
    plan.total = manual.total;
  }
  return plan;
}

}  // namespace clinical
