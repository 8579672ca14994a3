// The facts that one evaluation may use: those whose clinical time has come. Every look at a fact's time passes through here, so that
// the clock learns of each later instant that could change the answer.
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "clinical/case_facts.h"
#include "clinical/measurement_index.h"

namespace clinical {

class Evidence {
 public:
  Evidence(const CaseFacts& f, const Protocol& p, const Clock& c)
      : facts(f), protocol(p), clock(c), known_(c.now()), index_(std::make_shared<const MeasurementIndex>(f.measurements)) {}
  /// `f` is what was known of `same` at c.now() and has no measurements of its own: those of `same` count, as far as they were known then.
  Evidence(const CaseFacts& f, const Clock& c, const Evidence& same) : facts(f), protocol(same.protocol), clock(c), known_(c.now()), index_(same.index_) {}
  /// The same facts at another instant, or as far as they are known by another one: what would hold at clock.now() if nothing were recorded
  /// after `known` (<= clock.now(): the look ahead of removal_at; a little later: what is stamped ahead).
  Evidence(const Evidence& same, const Clock& c, Instant known) : facts(same.facts), protocol(same.protocol), clock(c), known_(known), index_(same.index_) {}

  const CaseFacts& facts;
  const Protocol& protocol;
  const Clock& clock;

  Instant known() const { return known_; }
  /// Of the case, whether they count or not.
  const MeasurementIndex& index() const { return *index_; }
  /// The fact may already be true: the earliest instant it may mean has come. An untimed fact never counts here.
  bool counts(const Moment& at) const;
  bool counts(const std::optional<Moment>& at) const { return at && counts(*at); }
  /// `limit` after `drawn` has not passed (inclusive).
  bool fresh(Instant drawn, const Setting& limit) const { return clock.still(drawn + limit.span()); }

  /// Timed measurements of one kind, by time.
  MeasurementIndex::Measurements measurements(Analyte) const;
  /// Statements of one kind that belong to this case, made at a recorded time that surely lies at or after `from`.
  std::vector<const Statement*> statements(StatementKind, std::optional<Instant> from = {}) const;
  /// Present (or recorded as possibly so) at this instant. Side-specific risks count for that side and, without a side, for all.
  const Risk* risk(RiskKind, Side side = Side::unknown) const;

 private:
  Instant known_;
  std::shared_ptr<const MeasurementIndex> index_;
};

/// The same, of one access site.
class SiteEvidence : public Evidence {
 public:
  SiteEvidence(const CaseFacts& f, const SiteFacts& s, const Protocol& p, const Clock& c) : Evidence(f, p, c), site(s) {}
  SiteEvidence(const CaseFacts& f, const SiteFacts& s, const Clock& c, const Evidence& same) : Evidence(f, c, same), site(s) {}
  SiteEvidence(const Evidence& same, const SiteFacts& s) : Evidence(same), site(s) {}
  SiteEvidence(const SiteEvidence& same, const Clock& c) : SiteEvidence(same, c, c.now()) {}
  SiteEvidence(const SiteEvidence& same, const Clock& c, Instant known) : Evidence(same, c, known), site(same.site) {}
  const SiteFacts& site;
};

/// True when the draw surely came after the dose and not in the same minute: records round to the minute.
bool drawn_after(const Moment& draw, const Moment& dose);

inline void add_source(std::vector<Source>& to, const Source& source) {
  for (const auto& known : to)
    if (known == source) return;
  to.push_back(source);
}
inline void add_sources(std::vector<Source>& to, const std::vector<Source>& more) {
  for (const auto& source : more) add_source(to, source);
}

}  // namespace clinical
