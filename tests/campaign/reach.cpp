#include "reach.h"

#include <fmt/format.h>

#include <set>

#include "clinical/names.h"

namespace campaign {

using namespace clinical;

namespace {

std::string text(std::string_view a, std::string_view b) { return std::string(a) + " " + std::string(b); }

void note_site(std::set<std::string>& seen, const SitePlan& s) {
  if (s.t0) seen.insert("site: T0 stands");
  if (s.haemostases > 1) seen.insert("site: T0 again after a rebleed");
  if (s.haemostases > 0 && !s.t0) seen.insert("site: T0 voided");
  if (s.high_watch) seen.insert("site: high watch");
  if (s.projection && s.projection->computed) seen.insert("site: ACT projected");
  for (const auto& g : s.gates) seen.insert("gate: " + text(name_of(g.name), name_of(g.state)) + (g.opens_at ? " by clock" : ""));
  for (const auto& m : s.milestones) {
    if (m.step == Step::remove_sheath || m.step == Step::stand_and_walk || m.step == Step::end_compression) seen.insert("step: " + text(name_of(m.step), name_of(m.status)));
    if (m.why && m.why->code.starts_with("withheld.")) seen.insert("why: " + m.why->code);
    if (m.step == Step::stand_and_walk)
      for (const auto& b : m.basis)
        if (b.rule.starts_with("early-walk.")) seen.insert(b.arithmetic.code == "rest.early" ? "early: a row taken" : "early: " + b.rule.substr(11) + " " + b.arithmetic.code);
    if (m.step == Step::call_clinician) seen.insert("why: " + m.why->code + (m.status == StepStatus::done ? " answered" : ""));
  }
}

/// State, and the share of cases that must come to it, in thousandths.
constexpr std::pair<const char*, int> kWanted[] = {
    {"case: sheath-in", 150}, {"case: compressing", 80}, {"case: resting", 80}, {"case: walking", 1}, {"case: finished", 4}, {"case: waiting", 1},
    {"case: several sites", 50}, {"case: several cases", 10}, {"case: withheld", 100}, {"site: T0 again after a rebleed", 20}, {"site: T0 voided", 20},
    {"site: ACT projected", 10}, {"step: remove-sheath due", 10}, {"step: stand-and-walk due", 3}, {"step: stand-and-walk expected", 50},
    {"gate: act open", 30}, {"gate: act closed", 10}, {"gate: act needs", 50}, {"gate: blood-pressure ask", 3}, {"gate: warfarin-inr ask", 3},
    {"gate: haemoglobin ask", 5}, {"gate: gp-inhibitor closed by clock", 1}, {"gate: direct-oral-anticoagulant ask", 5},
    {"gate: fibrinolytic ask", 1}, {"gate: bivalirudin ask", 1}, {"gate: fondaparinux ask", 2}, {"gate: low-molecular-weight-heparin closed by clock", 2},
    {"gate: argatroban closed by clock", 1}, {"alert: limb-ischaemia", 5}, {"alert: rebleed", 20}, {"alert: rebleed-question", 1}};

/// Under a protocol with early rows: the row itself, and each exclusion, where it can be, as met and as not recorded.
constexpr std::pair<const char*, int> kWantedEarly[] = {
    {"early: a row taken", 5}, {"early: excluded.intervention rest.early-met", 50}, {"early: excluded.anticoagulant rest.early-met", 50}, {"early: excluded.puncture rest.early-met", 5},
    {"early: excluded.puncture rest.early-not-recorded", 5}, {"early: excluded.bleeding rest.early-met", 5}, {"early: excluded.bleeding rest.early-not-recorded", 50},
    {"early: excluded.short-hold rest.early-met", 5}, {"early: excluded.rebleed rest.early-met", 10}, {"early: excluded.pressure rest.early-met", 5}, {"early: excluded.closure rest.early-met", 50}};

}  // namespace

void Reach::note(const std::vector<CasePlan>& plans, Instant) {
  ++cases_;
  std::set<std::string> seen;
  if (plans.empty()) seen.insert("case: none");
  if (plans.size() > 1) seen.insert("case: several cases");
  for (const auto& plan : plans) {
    seen.insert(text("case:", name_of(plan.state)));
    if (plan.sites.size() > 1) seen.insert("case: several sites");
    if (plan.provisional) seen.insert("case: provisional");
    if (!plan.conflicts.empty()) seen.insert("case: conflict");
    for (const auto& c : plan.conflicts) seen.insert("conflict: " + text(name_of(c.fact), c.about));
    for (const auto& a : plan.alerts) seen.insert("alert: " + a.trigger);
    for (const auto& r : plan.agents) seen.insert("agent: " + std::string(name_of(r.agent)));
    for (const auto& s : plan.sites) note_site(seen, s);
  }
  bool withheld = false;
  for (const auto& what : seen) withheld |= what.starts_with("why: withheld.");
  if (withheld) seen.insert("case: withheld");
  for (const auto& what : seen) ++counts_[what];
}

void Reach::merge(const Reach& other) {
  cases_ += other.cases_;
  for (const auto& [what, n] : other.counts_) counts_[what] += n;
}

std::string Reach::table() const {
  std::string out;
  for (const auto& [what, n] : counts_)
    fmt::format_to(std::back_inserter(out), "  {:<64}{:>9}{:>8.2f} %\n", what, n, 100.0 * static_cast<double>(n) / static_cast<double>(std::max(cases_, 1L)));
  return out;
}

std::string Reach::too_seldom(bool early_rows) const {
  std::string out;
  const auto want = [&](const char* what, int share) {
    const auto found = counts_.find(what);
    const long n = found == counts_.end() ? 0 : found->second;
    if (n * 1000 < share * cases_) fmt::format_to(std::back_inserter(out), "  {}: {} of {} cases, wanted {} in 1000\n", what, n, cases_, share);
  };
  for (const auto& [what, share] : kWanted) want(what, share);
  if (early_rows)
    for (const auto& [what, share] : kWantedEarly) want(what, share);
  return out;
}

}  // namespace campaign
