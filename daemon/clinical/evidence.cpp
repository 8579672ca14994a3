#include "clinical/evidence.h"

#include <algorithm>

namespace clinical {

bool Evidence::counts(const Moment& at) const {
  if (at.earliest <= known_) return true;
  if (known_ >= clock.now()) clock.note(at.earliest);
  return false;
}

// By time: those that count come first, and the first that does not is the next to change the answer.
MeasurementIndex::Measurements Evidence::measurements(Analyte analyte) const {
  const auto timed = index_->timed(analyte);
  const auto end = std::ranges::partition_point(timed, [&](const Measurement* m) { return m->at->earliest <= known_; });
  if (end != timed.end()) counts(*(*end)->at);
  return timed.first(static_cast<std::size_t>(end - timed.begin()));
}

std::vector<const Statement*> Evidence::statements(StatementKind kind, std::optional<Instant> from) const {
  const auto ours = [&](const std::string& procedure) {
    return procedure.empty() || procedure == facts.index.source.reference ||
           std::any_of(facts.sites.begin(), facts.sites.end(), [&](const SiteFacts& s) { return s.key == procedure; });
  };
  std::vector<const Statement*> found;
  for (const auto& s : facts.statements)
    if (s.kind == kind && ours(s.procedure) && counts(s.at) && (!from || s.at->earliest >= *from)) found.push_back(&s);
  return found;
}

const Risk* Evidence::risk(RiskKind kind, Side side) const {
  for (const auto& r : facts.risks) {
    if (r.kind != kind || !r.present) continue;
    if (side != Side::unknown && r.side != Side::unknown && r.side != side) continue;
    if (r.from && !counts(*r.from)) continue;
    if (r.to && clock.reached(r.to->latest + seconds{1})) continue;
    return &r;
  }
  return nullptr;
}

bool drawn_after(const Moment& draw, const Moment& dose) {
  return std::chrono::floor<minutes>(draw.earliest) > std::chrono::floor<minutes>(dose.latest);
}

}  // namespace clinical
