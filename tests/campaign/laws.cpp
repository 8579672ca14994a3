#include "laws.h"

#include <fmt/format.h>

#include <algorithm>

#include "clinical/compute_plan.h"
#include "clinical/names.h"
#include "view.h"

namespace campaign {

using namespace clinical;

Wakes wakes;

namespace {

std::string list(const std::vector<std::string>& labels) {
  std::string text;
  for (std::size_t i = 0; i < labels.size() && i < 8; ++i) text += (i ? ", " : "") + labels[i];
  return text;
}

std::string view_at(const Question& q, Instant now) { return view_of(compute_plans(q.told.record, q.protocol, now)); }

const Gate* same_gate(const std::vector<CasePlan>& plans, const std::string& site, GateName name) {
  for (const auto& plan : plans)
    for (const auto& s : plan.sites)
      if (s.key == site)
        for (const auto& g : s.gates)
          if (g.name == name) return &g;
  return nullptr;
}

}  // namespace

std::string twice(const Question& q) {
  const auto again = view_at(q, q.told.now);
  return again == q.view ? "" : "differs when asked again: " + list(differing(q.view, again));
}

std::string any_order(const Question& q, std::mt19937& random) {
  Record r = q.told.record;
  const auto shuffle = [&](auto& facts) { std::shuffle(facts.begin(), facts.end(), random); };
  shuffle(r.encounters), shuffle(r.procedures), shuffle(r.access_events), shuffle(r.administrations), shuffle(r.home_drugs), shuffle(r.home_lists);
  shuffle(r.statements), shuffle(r.decisions), shuffle(r.measurements), shuffle(r.checks), shuffle(r.risks), shuffle(r.tasks);
  for (auto& p : r.procedures) shuffle(p.sides), shuffle(p.vessels), shuffle(p.french), shuffle(p.closures);
  const auto other = view_of(compute_plans(r, q.protocol, q.told.now));
  if (other == q.view) return {};
  const auto labels = differing(q.view, other);
  if (labels.empty()) {
    const auto [a, b] = std::mismatch(q.view.begin(), q.view.end(), other.begin(), other.end());
    const auto from = q.view.rfind('\n', static_cast<std::size_t>(a - q.view.begin()));
    return "the same lines in another order, from " + q.view.substr(from + 1, q.view.find('=', from) - from - 1);
  }
  return "differs in another order of the facts: " + list(labels);
}

std::string stands_still(const Question& q, std::mt19937& random) {
  std::optional<Instant> next;
  for (const auto& plan : q.plans)
    if (plan.next_change && (!next || *plan.next_change < *next)) next = plan.next_change;
  const Instant now = q.told.now;
  if (next && *next <= now) return "nextChange is not after now";
  const seconds length = next ? *next - now : hours{30};
  const Instant probes[] = {now + length - seconds{1}, now + seconds{std::uniform_int_distribution<std::int64_t>(0, length.count() - 1)(random)}};
  for (const Instant probe : probes) {
    const auto then = view_at(q, probe);
    if (then != q.view) return fmt::format("at {} the plan differs, before nextChange {}: {}", written(probe), written(next), list(differing(q.view, then)));
  }
  if (!next) return {};
  ++wakes.asked;
  if (view_at(q, *next) == q.view) ++wakes.idle;
  return {};
}

std::string wakes_for_nothing(const Question& q) {
  const auto next = q.plans.empty() ? std::nullopt : q.plans.front().next_change;
  return next && view_at(q, *next) == q.view ? fmt::format("nothing changes at nextChange {}", written(next)) : "";
}

std::string time_alone(const Question& q) {
  const Record known = known_by(q.told.record, q.told.now);
  const auto plans = compute_plans(known, q.protocol, q.told.now);
  for (const auto later : {q.told.now + minutes{20}, q.told.now + hours{3}, q.told.now + hours{26}}) {
    const auto then = compute_plans(known, q.protocol, later);
    for (const auto& plan : plans)
      for (const auto& site : plan.sites)
        for (const auto& gate : site.gates) {
          const auto* after = same_gate(then, site.key, gate.name);
          if (!after || after->state != GateState::open || gate.state == GateState::open || gate.opens_at || gate.clock_ends) continue;
          return fmt::format("gate {} was {} ({}) and is open at {} with no new fact ({})", name_of(gate.name), name_of(gate.state), gate.why.code, written(later),
                             after->why.code);
        }
  }
  return {};
}

namespace {

bool of_hold(Step s) {
  return s == Step::firm_compression || s == Step::partial_compression || s == Step::light_compression || s == Step::reduce_pressure || s == Step::low_pressure_hold ||
         s == Step::end_compression || s == Step::dress_site;
}
bool of_pull(Step s) { return s == Step::confirm_readiness || s == Step::remove_sheath; }
bool has_law(Step s) {
  return of_hold(s) || of_pull(s) || s == Step::raise_head || s == Step::sit_up || s == Step::stand_and_walk ||
         s == Step::discharge_check;
}
bool earlier(const std::optional<Instant>& a, const std::optional<Instant>& b) { return a && (!b || *a < *b); }

const SitePlan* same_site(const std::vector<CasePlan>& plans, const std::string& key) {
  for (const auto& plan : plans)
    for (const auto& site : plan.sites)
      if (site.key == key) return &site;
  return nullptr;
}

bool with_artery(const SitePlan& vein) {
  return std::ranges::any_of(vein.milestones, [](const Milestone& m) { return m.step == Step::remove_sheath && m.why && m.why->code == "removal.with-artery"; });
}

std::string moved_earlier(const SitePlan& before, const SitePlan& after, bool hold_too, bool lengths_too) {
  for (const auto& was : before.milestones) {
    if (!has_law(was.step) || (of_hold(was.step) && !hold_too)) continue;
    // "In the same groin as an artery the vein starts its full hold so that both end together": a longer hold of the vein starts sooner, by intent.
    if (of_pull(was.step) && with_artery(before)) continue;
    if (of_hold(was.step) && after.compression_started != before.compression_started) continue;   // another hold, begun when what it answers was found
    // A phase is where the method puts it; of another method the end of the hold is what counts.
    if (of_hold(was.step) && was.step != Step::end_compression && before.closure != after.closure) continue;
    for (const auto& is : after.milestones) {
      if (is.step != was.step || (was.step != Step::confirm_readiness && is.ordinal != was.ordinal)) continue;
      const auto say = [&](const char* what, const auto& from, const auto& to) { return fmt::format("{} {} of {}: {} -> {}", name_of(was.step), what, before.key, from, to); };
      const bool done = was.status == StepStatus::done || was.status == StepStatus::cancelled;
      // A step whose clock has run and that something else blocks keeps its clock in `expected`; of a removal that is information only.
      const auto clock = [](const Milestone& m) { return of_pull(m.step) || m.earliest ? m.earliest : m.expected; };
      if (!done && is.status == StepStatus::done) return say("status", name_of(was.status), name_of(is.status));
      // Pressing that a bleeding calls for and nobody has recorded is due since the finding that came first: what was due already is no permission.
      const bool called_for = was.step == Step::firm_compression && was.status == StepStatus::due && is.status == StepStatus::due;
      if (!done && !called_for && earlier(clock(is), clock(was))) return say("earliest", written(clock(was)), written(clock(is)));
      if (!done && was.status != StepStatus::due && is.status == StepStatus::due) return say("status", name_of(was.status), name_of(is.status));
      if (of_hold(was.step) && was.step != Step::end_compression) continue;
      // The rest that a voided T0 leaves is compared by its instants, once there is a T0 again.
      const bool voided = before.t0 && !after.t0 && !of_hold(was.step);
      if ((of_hold(was.step) && done) || voided || !lengths_too) continue;   // a hold that is over; the one after it stands for itself
      if (is.planned && was.planned && *is.planned < *was.planned) return say("planned", was.planned->count(), is.planned->count());
      if (is.after_t0 && was.after_t0 && *is.after_t0 < *was.after_t0) return say("after T0", was.after_t0->count(), is.after_t0->count());
    }
  }
  return {};
}

}  // namespace

std::string moved_earlier(const std::vector<CasePlan>& before, const std::vector<CasePlan>& after, bool hold_too, bool lengths_too) {
  for (const auto& plan : before) {
    if (plan.state == CaseState::finished) continue;
    for (const auto& site : plan.sites)
      if (const auto* then = same_site(after, site.key))
        if (auto what = moved_earlier(site, *then, hold_too, lengths_too); !what.empty()) return what;
  }
  return {};
}

namespace {

std::size_t disputes(const std::vector<CasePlan>& plans) {
  std::size_t n = 0;
  for (const auto& plan : plans) n += plan.conflicts.size();
  return n;
}

}  // namespace

std::string nothing_earlier(const Question& q, const Change& change, Picks pick, bool& applied) {
  // An order for a length answers the plan of that length, whichever way it came about: that is no permission of the change.
  const auto& decisions = q.told.record.decisions;
  if (std::ranges::any_of(decisions, [](const Decision& d) { return step_named(d.subject).has_value(); })) return {};
  Record r = q.told.record;
  applied = change.apply(r, {q.told.record, q.plans, q.told.now}, pick);
  if (!applied) return {};
  const auto after = compute_plans(r, q.protocol, q.told.now);
  if (disputes(after) < disputes(q.plans)) applied = false;   // what was in dispute is gone with it
  if (!applied) return {};
  auto what = moved_earlier(q.plans, after, change.sizes_hold, change.sizes_rest);
  return what.empty() ? what : fmt::format("{}: {}", change.name, what);
}

std::string early_rows_only_shorten(const Question& q) {
  return moved_earlier(q.plans, compute_plans(q.told.record, *q.without_early, q.told.now), true);
}

std::string absent_is_not_recorded(const Question& q, Picks pick) {
  Record r = q.told.record;
  const auto kind = static_cast<RiskKind>(4 + pick.below(7));
  r.risks.push_back({{"Added/absent", "1", false}, kind, false, Side::unknown, exactly(q.told.now - hours{30}), {}});
  const auto after = compute_plans(r, q.protocol, q.told.now);
  auto what = moved_earlier(q.plans, after, true);
  if (what.empty()) what = moved_earlier(after, q.plans, true);
  return what.empty() ? what : "a risk recorded as absent: " + what;
}

}  // namespace campaign
