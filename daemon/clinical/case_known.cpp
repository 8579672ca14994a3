#include <algorithm>
#include <iterator>

#include "clinical/case_facts.h"
#include "clinical/site_course.h"

namespace clinical {
namespace {

bool by(const std::optional<Moment>& moment, Instant at) { return !moment || moment->earliest <= at; }

template <class T, class Known>
std::vector<T> kept(const std::vector<T>& facts, Known known) {
  std::vector<T> found;
  found.reserve(static_cast<std::size_t>(std::ranges::count_if(facts, known)));
  std::ranges::copy_if(facts, std::back_inserter(found), known);
  return found;
}

// A dose that ended later was running then.
std::vector<Administration> doses_by(const std::vector<Administration>& doses, Instant at) {
  auto known = kept(doses, [&](const Administration& a) { return by(a.start, at); });
  for (auto& a : known)
    if (a.end && a.end->earliest > at) {
      a.end.reset();
      a.status = AdministrationStatus::in_progress;
    }
  return known;
}

std::vector<SiteFacts> sites_by(std::vector<SiteFacts> sites, Instant at) {
  for (auto& site : sites) {
    std::erase_if(site.events, [&](const AccessEvent& e) { return !by(e.at, at); });
    std::erase_if(site.checks, [&](const SiteCheck& c) { return !by(c.at, at); });
    std::erase_if(site.growths, [&](const Growth& g) { return g.at > at; });
    replay_course(site);
  }
  return sites;
}

bool about_history(StatementKind kind) {
  return kind == StatementKind::no_anticoagulant_given || kind == StatementKind::no_home_anticoagulant;
}

std::vector<Statement> statements_by(const std::vector<Statement>& statements, Instant at) {
  auto known = kept(statements, [&](const Statement& s) { return about_history(s.kind) || by(s.at, at); });
  for (auto& s : known)
    if (!by(s.at, at)) s.at = exactly(at);  // what it tells was so by then
  return known;
}

}  // namespace

// Only what was known is copied: there may be hundreds of later facts. Measurements stay out altogether: who looks at them knows by when they count (Evidence).
CaseFacts as_known_at(const CaseFacts& facts, Instant at) {
  const auto known = [&](const auto& fact) { return by(fact.at, at); };
  const auto& end = facts.procedure_end;
  return {.index = facts.index,
          .provisional = facts.provisional,
          .start = facts.start,
          .start_exact = facts.start_exact,
          .procedure_end = end && *end > at ? std::nullopt : end,
          .discharge = facts.discharge,
          .known_since = facts.known_since,
          .case_end = facts.case_end,
          .patient = facts.patient,
          .encounter = facts.encounter,
          .intervention = facts.intervention,
          .sites = sites_by(facts.sites, at),
          .administrations = doses_by(facts.administrations, at),
          .home_drugs = facts.home_drugs,
          .home_lists = facts.home_lists,
          .statements = statements_by(facts.statements, at),
          .decisions = kept(facts.decisions, known),
          .measurements = {},
          .risks = kept(facts.risks, [&](const Risk& r) { return by(r.from, at); }),
          .tasks = kept(facts.tasks, [&](const TaskFact& t) { return by(t.changed, at); }),
          .orders = kept(facts.orders, [&](const Order& o) { return by(o.written, at); }),
          .withheld = facts.withheld,
          .remarks = facts.remarks,
          .contacts = facts.contacts,
          .unplaced_checks = kept(facts.unplaced_checks, known),
          .conflicts = facts.conflicts};
}

}  // namespace clinical
