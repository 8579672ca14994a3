#include "clinical/rest.h"

#include <algorithm>

#include "clinical/names.h"
#include "clinical/orders.h"
#include "clinical/rows.h"

namespace clinical {
namespace {

Tally artery_by_hand(const SiteView& view, int french, const EarlyRest& early) {
  const auto& p = view.protocol;
  Tally tally;
  if (early.row) {
    tally.start(early.row->whole_minutes(), *early.row, {"rest.early", {{"french", std::int64_t{french}}}}, size_sources(view));
    return tally;
  }
  tally.start(p.rest_per_french.whole_minutes() * french, p.rest_per_french,
              {"rest.base", {{"french", std::int64_t{french}}, {"each", p.rest_per_french.span()}}}, size_sources(view));
  tally.raise_to(p.rest_shortest, {"rest.floor", {{"what", term("floor", "any-artery")}}});
  tally.cap(p.rest_longest, "rest.cap");
  raise_for_procedure(tally, p.rest_procedural, view, "rest.floor");
  if (view.failed_device()) tally.raise_to(p.rest_device_failed, {"rest.floor", {{"what", term("floor", "device-failed")}}});
  return tally;
}

Tally single_row(const Setting& setting, const char* code, const SiteView& view) {
  Tally tally;
  tally.start(setting.whole_minutes(), setting, {code, {}}, size_sources(view));
  return tally;
}

Tally artery_by_device(const SiteView& view) {
  const auto& p = view.protocol;
  const auto french = view.french();
  const Setting& row = !french || *french >= 9 ? p.rest_device_9 : *french >= 7 ? p.rest_device_7_8 : p.rest_device_4_6;
  auto tally = single_row(row, "rest.device", view);
  raise_for_procedure(tally, p.rest_device_procedural, view, "rest.floor");
  return tally;
}

Tally vein_row(const SiteView& view) {
  const auto& p = view.protocol;
  if (view.closed_by_device()) return single_row(p.rest_vein_suture, "rest.vein-suture", view);
  return vein_takes_longer(view) ? single_row(p.rest_vein_long, "rest.vein-longer", view) : single_row(p.rest_vein, "rest.vein", view);
}

Tally artery_row(const SiteView& view, const EarlyRest& early) {
  if (view.closed_by_device()) return artery_by_device(view);
  // Without a size every length is withheld; the largest row keeps what is kept inside from being short.
  return artery_by_hand(view, view.french().value_or(static_cast<int>(view.protocol.large_bore.whole_number())), early);
}

Tally base_of(const SiteView& view, const EarlyRest& early) {
  if (view.known_vein()) return vein_row(view);
  return view.known_artery() ? artery_row(view, early) : larger(artery_row(view, {}), vein_row(view));
}

const Setting& head_setting(const SiteView& view) {
  const auto& p = view.protocol;
  const auto french = view.french();
  const Setting& artery = view.closed_by_device() ? (french && *french <= 6 ? p.head_after_device_4_6 : p.head_after_device_7)
                          : !french || *french >= 9 ? p.head_after_9_10
                                                    : p.head_after;
  if (view.known_artery()) return artery;
  return view.known_vein() || p.head_after_vein.micro > artery.micro ? p.head_after_vein : artery;
}

// After an early row the head comes up no later than the patient sits; like every head of bed it is not moved by what lengthens.
Tally head_row(const SiteView& view, const EarlyRest& early) {
  const Setting& setting = head_setting(view);
  Tally tally;
  tally.start(setting.whole_minutes(), setting, {"rest.head", {}}, size_sources(view));
  if (!early.row) return tally;
  const auto& before = view.protocol.sit_before_end;
  const minutes sitting = early.row->whole_minutes() - before.whole_minutes();
  if (sitting < tally.value()) tally.start(sitting, before, {"rest.head-early", {{"before", before.span()}}});
  return tally;
}

// A stable swelling under the limit; a growing or large one too where no T0 stood that it could have voided: worse is never less. Where the recorded
// times contradict each other nobody knows whether one stood.
const SiteCheck* swelling_that_counts(const SiteView& view) {
  const auto& site = view.site;
  for (const auto& check : site.checks) {
    const bool grown = std::ranges::any_of(site.growths, [&](const Growth& g) { return g.source == check.source; });
    const bool voided = std::ranges::any_of(site.growths, [&](const Growth& g) { return g.source == check.source && g.voided; });
    if (grown ? !voided || site.disputed : check.swelling && check.swelling->micro > 0) return &check;
  }
  return nullptr;
}

void add_trouble(Tally& tally, const SiteView& view) {
  const auto& p = view.protocol;
  for (const auto& at : view.site.rebleeds) tally.add(p.rest_rebleed.whole_minutes(), p.rest_rebleed, {"rest.rebleed", {{"at", at}}});
  const auto* check = swelling_that_counts(view);
  if (!check) return;
  Reason line{check->swelling ? "rest.swelling" : "rest.swelling-grows", {{"at", when(*check->at)}}};
  if (check->swelling) line.arguments.emplace_back("size", *check->swelling);
  tally.add(p.rest_swelling.whole_minutes(), p.rest_swelling, std::move(line), {check->source});
}

// A high pressure counts while the patient would lie flat without it; once counted it stays.
const Measurement* high_pressure(const SiteView& view, Instant t0, minutes rest) {
  for (const auto* m : view.now.index().of(Analyte::systolic))
    if (m->value && m->at && m->at->latest > t0 && m->at->earliest <= t0 + rest && !m->value->surely_below(view.protocol.systolic_close.micro)) return m;
  return nullptr;
}

// 5 cm or growing restarts the clock without further hours (it is pressed and called about). A small stable swelling adds hours to the clock that
// stands: worse must not end sooner than that, so the rest lasts at least until the voided clock with those hours would have ended.
void outlast_voided_clocks(Tally& tally, const SiteView& view, minutes pressure) {
  const auto& p = view.protocol;
  if (!view.site.t0 || view.site.t0_outgrown.empty()) return;
  const bool counted = std::ranges::any_of(tally.lines(), [&](const Basis& b) { return b.rule == p.rest_swelling.rule.key; });
  minutes with_swelling = tally.value() + (counted ? minutes{0} : p.rest_swelling.whole_minutes());
  const bool pressed = std::ranges::any_of(tally.lines(), [&](const Basis& b) { return b.rule == p.add_systolic_rest.rule.key; });
  if (!pressed && high_pressure(view, view.site.t0_outgrown.back(), with_swelling)) with_swelling += pressure;
  const minutes left = std::chrono::ceil<minutes>(view.site.t0_outgrown.back() + with_swelling - *view.site.t0);
  if (left > tally.value())
    tally.raise_to(left, p.rest_swelling, {"rest.outgrown", {{"from", view.site.t0_outgrown.back()}, {"length", seconds{with_swelling}}}});
}

void add_pressure_on_rest(Tally& tally, const SiteView& view, minutes pressure) {
  if (!view.site.t0) return;
  const auto& p = view.protocol;
  if (const auto* m = high_pressure(view, *view.site.t0, tally.value()))
    tally.add(pressure, p.add_systolic_rest, {"add.recorded", {{"what", term("add", "systolic-on-rest")}}}, {m->source});
}

/// Since when it is known that the rest is longer than its row and the risks make it: the first of what was found or ordered on rest. A clock that a growing
/// swelling voided lies before it.
std::optional<Instant> troubled_since(const SiteView& view, minutes walk) {
  std::vector<Instant> times;
  if (const auto* check = swelling_that_counts(view)) times.push_back(check->at->latest);
  if (view.site.t0)
    if (const auto* m = high_pressure(view, *view.site.t0, walk)) times.push_back(m->at->latest);
  for (const auto& order : view.facts.orders)
    if (order.kind == OrderKind::bed_rest) times.push_back(order.written ? order.written->earliest : view.facts.start);
  return times.empty() || !view.site.t0_outgrown.empty() ? std::nullopt : std::optional(std::ranges::min(times));
}

}  // namespace

minutes length_for(const RestPlan& rest, Instant walk) { return rest.troubled && walk < *rest.troubled ? rest.untroubled : rest.walk; }

minutes discharge_floor(const SiteView& view) {
  return view.intervention() ? view.protocol.discharge_after_t0_pci.whole_minutes() : minutes{0};
}

RestPlan rest_plan(const SiteView& view, const std::vector<Modifier>& modifiers, const HoldPlan& hold) {
  const auto& p = view.protocol;
  EarlyRest early = early_rest(view, modifiers, hold);
  Tally tally = base_of(view, early);
  for (const auto& m : modifiers)
    if (m.rest_floor) tally.raise_to(*m.rest_floor, {"rest.floor", {{"what", term("add", m.name)}}}, m.inputs);
  const minutes left = add_all(tally, modifiers, &Modifier::rest, p.rest_add_further, p.rest_add_longest);
  const minutes pressure = std::min(p.add_systolic_rest.whole_minutes(), left);  // a risk like the others: within the longest add
  const minutes untroubled = tally.value() + static_cast<int>(view.site.rebleeds.size()) * p.rest_rebleed.whole_minutes();
  add_trouble(tally, view);
  add_pressure_on_rest(tally, view, pressure);
  outlast_voided_clocks(tally, view, pressure);

  const minutes by_rule = tally.value();
  RestPlan plan;
  plan.differs = raise_to_order(tally, view);
  Tally head = head_row(view, early);
  plan.head = head.value();
  plan.head_basis = head.take();
  plan.walk = tally.value();
  plan.untroubled = std::min(untroubled, plan.walk);
  plan.troubled = troubled_since(view, plan.walk);
  plan.basis = tally.take();
  for (const auto& line : early.lines) plan.basis.push_back(line);
  plan.early = std::move(early.said);
  plan.early_asked = std::move(early.asked);
  if (early.row) plan.early.push_back(Reason{"caution.early", {{"side", side_term(view)}, {"french", std::int64_t{view.french().value_or(0)}}, {"length", seconds{plan.walk}}}});
  plan.sit = std::max(minutes{0}, plan.walk - p.sit_before_end.whole_minutes());
  plan.sit_line = {p.sit_before_end.rule.key, p.sit_before_end.rule.source, {}, {"rest.sit", {{"before", p.sit_before_end.span()}, {"total", seconds{plan.sit}}}}};
  plan.discharge = std::max(plan.walk + p.discharge_after_walk.whole_minutes(), discharge_floor(view));
  plan.discharge_line = {p.discharge_after_walk.rule.key, p.discharge_after_walk.rule.source, {},
                         {"rest.discharge", {{"after", p.discharge_after_walk.span()}, {"total", seconds{plan.discharge}}}}};
  if (by_rule > p.rest_instants_withheld.whole_minutes())
    plan.ask = Reason{"rest.ask-physician", {{"total", seconds{plan.walk}}, {"limit", p.rest_instants_withheld.span()}}};
  else if (const auto* order = unread_rest(view))
    plan.ask = Reason{"rest.ask-order", {{"what", order->title}}};
  return plan;
}

}  // namespace clinical
