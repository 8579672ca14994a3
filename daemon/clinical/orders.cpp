#include "clinical/orders.h"

#include <algorithm>

#include "clinical/gates.h"
#include "clinical/names.h"
#include "clinical/newest.h"

namespace clinical {
namespace {

/// One that names another site or the other side is not this site's; one that names none is every site's.
bool concerns(const Order& order, const CaseFacts& facts, const SiteFacts& site) {
  const bool here = order.procedure.empty() || order.procedure == facts.index.source.reference || order.procedure == site.key;
  const bool of_case = std::ranges::any_of(facts.sites, [&](const SiteFacts& s) { return s.key == order.procedure; });
  if (!here && of_case) return false;
  return order.side == Side::unknown || !site.side.usable() || order.side == site.side.value;
}

std::string written(minutes length) {
  return length.count() % 60 == 0 ? std::to_string(length.count() / 60) + " h" : std::to_string(length.count()) + " min";
}

struct RestOrder {
  const Order* order = nullptr;
  minutes length{};
};

std::optional<minutes> length_of(const Order& order, const SiteFacts& site) {
  std::optional<minutes> length = order.length;
  if (order.until && site.t0 && order.until->latest > *site.t0) length = std::max(length.value_or(minutes{0}), std::chrono::ceil<minutes>(order.until->latest - *site.t0));
  return length;
}

std::optional<RestOrder> longest_rest(const SiteView& view) {
  std::optional<RestOrder> longest;
  for (const auto& order : view.facts.orders) {
    if (order.kind != OrderKind::bed_rest || !concerns(order, view.facts, view.site)) continue;
    const auto length = length_of(order, view.site);
    if (length && (!longest || *length > longest->length)) longest = RestOrder{&order, *length};
  }
  return longest;
}

std::optional<OrderHold> hold_of(const Order& order, const SiteView& view) {
  if (order.forbids) return OrderHold::forbidden;
  if (order.unclear) return OrderHold::unclear;
  if (order.act_below) {
    const auto act = newest(view.now, Analyte::act, Worse::higher);
    const bool under = act && view.now.fresh(act->drawn, view.protocol.fresh_act) && act->all([&](const Value& v) { return v.surely_below(order.act_below->micro); });
    if (!under) return OrderHold::act_too_high;
  }
  return order.not_before ? std::optional(OrderHold::not_before) : std::nullopt;
}

bool acts_on_clotting(Agent agent) {
  return is_anticoagulant(agent) || is_gp_inhibitor(agent) || is_fibrinolytic(agent) || agent == Agent::other_antithrombotic;
}

Reason ordered_drug(const Order& order, const Clock& clock) {
  const auto next = std::ranges::find_if(order.due, [&](const Moment& at) { return !clock.reached(at.latest); });
  if (next == order.due.end()) return {"caution.ordered-drug", {{"drug", order.title}}};
  return {"caution.ordered-drug-at", {{"drug", order.title}, {"at", when(*next)}}};
}

constexpr std::string_view name_of(WithheldKind kind) {
  constexpr std::string_view names[] = {"everything", "drugs", "values", "findings"};
  return names[static_cast<std::size_t>(kind)];
}

void say_once(std::vector<Reason>& found, Reason reason) {
  if (std::ranges::find(found, reason) == found.end()) found.push_back(std::move(reason));
}

}  // namespace

std::optional<Conflict> raise_to_order(Tally& tally, const SiteView& view) {
  const auto ordered = longest_rest(view);
  if (!ordered || ordered->length == tally.value()) return std::nullopt;
  const minutes by_rule = tally.value();
  if (ordered->length > by_rule) tally.raise_to_order(ordered->length, "order.bed-rest", {"rest.order", {{"what", ordered->order->title}}}, {ordered->order->source});
  return Conflict{Fact::bed_rest, "bed-rest-order", {written(by_rule), written(ordered->length)}, {ordered->order->source}, view.site.key};
}

const Order* unread_rest(const SiteView& view) {
  const auto& orders = view.facts.orders;
  const auto found = std::ranges::find_if(orders, [&](const Order& o) { return o.kind == OrderKind::bed_rest && o.unclear && concerns(o, view.facts, view.site); });
  return found == orders.end() ? nullptr : &*found;
}

std::optional<RemovalOrder> removal_order(const SiteView& view) {
  std::optional<RemovalOrder> found;
  for (const auto& order : view.facts.orders) {
    if (order.kind != OrderKind::sheath_removal || !concerns(order, view.facts, view.site)) continue;
    const auto hold = hold_of(order, view);
    if (!hold) continue;
    RemovalOrder one{&order, *hold, {}};
    if (*hold == OrderHold::not_before) one.not_before = order.not_before->latest;
    if (!found || one.hold < found->hold || (one.hold == found->hold && one.not_before > found->not_before)) found = one;
  }
  return found;
}

Reason why_held(const RemovalOrder& held) {
  const Order& order = *held.order;
  Reason why{"removal.order-forbids", {{"what", order.title}}};
  if (held.hold == OrderHold::unclear) why.code = "removal.order-unclear";
  else if (order.negated) why.code = "removal.order-negated";
  else if (order.suspended) why.code = "removal.order-suspended";
  if (held.hold == OrderHold::act_too_high) {
    why.code = "removal.order-act";
    why.arguments.emplace_back("limit", *order.act_below);
  } else if (held.not_before) {
    why.code = "removal.order-not-before";
    why.arguments.emplace_back("at", *held.not_before);
  }
  return why;
}

std::optional<Reason> clashing_drug(const Order& order, const CaseFacts& facts, const Clock& clock) {
  const bool unsettled = std::ranges::any_of(facts.sites, [](const SiteFacts& s) { return !s.t0; });
  const bool over = order.until && clock.reached(order.until->latest);
  if (order.kind != OrderKind::drug || !unsettled || over || !acts_on_clotting(order.agent)) return std::nullopt;
  return ordered_drug(order, clock);
}

std::vector<Reason> order_cautions(const CaseFacts& facts, const Clock& clock) {
  std::vector<Reason> found;
  const bool sheath_in = std::ranges::any_of(facts.sites, [](const SiteFacts& s) { return !s.out(); });
  for (const auto& order : facts.orders) {
    if (auto said = clashing_drug(order, facts, clock)) say_once(found, std::move(*said));
    if (order.kind == OrderKind::sheath_named && sheath_in) say_once(found, {"caution.order-names-sheath", {{"what", order.title}}});
    if (order.kind == OrderKind::bed_rest && !order.unclear && !order.length && !order.until) say_once(found, {"caution.order-without-length", {{"what", order.title}}});
  }
  for (const auto& one : facts.withheld)
    if (!one.until || !clock.reached(one.until->latest)) say_once(found, {"caution.withheld", {{"what", term("withheld", name_of(one.kind))}}});
  for (const auto& remark : facts.remarks) {
    const bool known = std::ranges::any_of(facts.administrations, [&](const Administration& a) { return a.agent == remark.agent; }) ||
                       std::ranges::any_of(facts.home_drugs, [&](const HomeDrug& d) { return d.agent == remark.agent; });
    if (acts_on_clotting(remark.agent) && !known) say_once(found, {"caution.named-in-text", {{"drug", term("agent", clinical::name_of(remark.agent))}, {"text", remark.text}}});
  }
  return found;
}

const Withheld* withheld(const CaseFacts& facts, WithheldKind kind, const Clock& clock) {
  for (const auto& one : facts.withheld)
    if ((one.kind == kind || one.kind == WithheldKind::everything) && (!one.until || !clock.reached(one.until->latest))) return &one;
  return nullptr;
}

}  // namespace clinical
