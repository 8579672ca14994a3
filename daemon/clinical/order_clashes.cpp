#include "clinical/order_clashes.h"

#include <algorithm>
#include <tuple>

#include "clinical/orders.h"

namespace clinical {
namespace {

const Order* order_named(const CaseFacts& facts, const Source& source) {
  const auto found = std::ranges::find(facts.orders, source.reference, [](const Order& order) { return order.source.reference; });
  return found == facts.orders.end() ? nullptr : &*found;
}

/// Lengths as the conflict says them: by the rules, and as ordered.
void add_rest(std::vector<OrderClash>& found, const CasePlan& plan, const CaseFacts& facts) {
  for (const Conflict& conflict : plan.conflicts) {
    if (conflict.about != "bed-rest-order" || conflict.values.size() < 2 || conflict.inputs.empty()) continue;
    const Order* order = order_named(facts, conflict.inputs.front());
    const std::string title = order ? order->title : std::string();
    found.push_back({OrderKind::bed_rest, conflict.site, conflict.inputs.front(), title, {"clash.bed-rest", {{"what", title}, {"ordered", conflict.values[1]}, {"planned", conflict.values[0]}}}});
  }
}

/// The order that holds the removal back, as its step says. While a gate is closed anyway the order and the rules say the same: not now.
void add_removal(std::vector<OrderClash>& found, const SitePlan& site, const CaseFacts& facts) {
  const auto step = std::ranges::find(site.milestones, Step::remove_sheath, &Milestone::step);
  if (step == site.milestones.end() || !step->why || site.gates.empty()) return;
  if (std::ranges::any_of(site.gates, [](const Gate& gate) { return gate.state != GateState::open; })) return;
  const auto ordered = std::ranges::find(step->basis, "order.sheath-removal", &Basis::rule);
  const Order* order = ordered == step->basis.end() || ordered->inputs.empty() ? nullptr : order_named(facts, ordered->inputs.front());
  if (!order || step->status == StepStatus::due || step->status == StepStatus::done || step->status == StepStatus::cancelled) return;
  Reason why = *step->why;  // of a condition that is not met, or could not be read
  if (order->forbids) why = {"clash.removal-forbidden", {{"what", order->title}}};
  else if (order->not_before && why.code != "removal.order-unclear" && why.code != "removal.order-act") why = {"clash.removal-later", {{"what", order->title}, {"at", when(*order->not_before)}}};
  found.push_back({OrderKind::sheath_removal, site.key, order->source, order->title, std::move(why)});
}

void add_drugs(std::vector<OrderClash>& found, const CaseFacts& facts, const Clock& clock) {
  for (const Order& order : facts.orders)
    if (auto said = clashing_drug(order, facts, clock)) found.push_back({OrderKind::drug, {}, order.source, order.title, std::move(*said)});
}

}  // namespace

std::vector<OrderClash> order_clashes(const CasePlan& plan, const CaseFacts& facts, const Clock& clock) {
  std::vector<OrderClash> found;
  add_rest(found, plan, facts);
  for (const SitePlan& site : plan.sites) add_removal(found, site, facts);
  add_drugs(found, facts, clock);
  std::ranges::stable_sort(found, {}, [](const OrderClash& one) { return std::tie(one.kind, one.site, one.order.reference); });
  return found;
}

}  // namespace clinical
