#include <algorithm>

#include "clinical/case_facts.h"
#include "clinical/site_course.h"

namespace clinical {
namespace {

bool by(const std::optional<Moment>& moment, Instant at) { return !moment || moment->earliest <= at; }

// A dose that ended later was running then.
void cut(std::vector<Administration>& doses, Instant at) {
  std::erase_if(doses, [&](const Administration& a) { return !by(a.start, at); });
  for (auto& a : doses)
    if (a.end && a.end->earliest > at) {
      a.end.reset();
      a.status = AdministrationStatus::in_progress;
    }
}

void cut(SiteFacts& site, Instant at) {
  std::erase_if(site.events, [&](const AccessEvent& e) { return !by(e.at, at); });
  std::erase_if(site.checks, [&](const SiteCheck& c) { return !by(c.at, at); });
  std::erase_if(site.growths, [&](const Growth& g) { return g.at > at; });
  const bool disputed = site.disputed;
  replay_course(site);
  site.disputed = disputed;
}

bool about_history(StatementKind kind) {
  return kind == StatementKind::no_anticoagulant_given || kind == StatementKind::no_home_anticoagulant;
}

}  // namespace

CaseFacts as_known_at(const CaseFacts& facts, Instant at) {
  CaseFacts known = facts;
  cut(known.administrations, at);
  for (auto& site : known.sites) cut(site, at);
  const auto later = [&](const auto& fact) { return !by(fact.at, at); };
  std::erase_if(known.statements, [&](const Statement& s) { return !about_history(s.kind) && later(s); });
  for (auto& s : known.statements)
    if (later(s)) s.at = exactly(at);  // what it tells was so by then
  std::erase_if(known.decisions, later);
  std::erase_if(known.measurements, later);
  std::erase_if(known.unplaced_checks, later);
  std::erase_if(known.risks, [&](const Risk& r) { return !by(r.from, at); });
  std::erase_if(known.tasks, [&](const TaskFact& t) { return !by(t.changed, at); });
  if (known.procedure_end && *known.procedure_end > at) known.procedure_end.reset();
  return known;
}

}  // namespace clinical
