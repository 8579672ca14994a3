#include "clinical/case_facts.h"

#include <algorithm>
#include <deque>
#include <iterator>
#include <tuple>

#include "clinical/ahead.h"
#include "clinical/case_sites.h"
#include "clinical/case_window.h"
#include "clinical/site_course.h"
#include "clinical/statement_conflicts.h"
#include "clinical/unread.h"
#include "clinical/value_conflicts.h"

namespace clinical {
namespace {

/// A case while it is being gathered: the Procedures that describe its sites stand beside it.
struct Draft {
  CaseFacts facts;
  std::vector<const Procedure*> described_by;  // one a site; of the record, or stand-ins of the gatherer
  bool behind = true;                   // something was placed that `catch_up` has not seen

  /// Settles its sites and replays their courses.
  void catch_up(const Protocol& protocol) {
    if (!behind) return;
    for (std::size_t i = 0; i < facts.sites.size(); ++i) {
      settle(facts.sites[i], *described_by[i]);
      replay_course(facts.sites[i]);
      judge_closure(facts.sites[i], protocol.device_failed_from.span());
    }
    behind = false;
  }
};

bool follows(const std::optional<Moment>& a, const std::optional<Moment>& b) {
  return (a ? a->latest : Instant::max()) < (b ? b->latest : Instant::max());
}

class Gatherer {
 public:
  Gatherer(const Record& record, const Protocol& protocol, const Clock& clock) : record_(record), protocol_(protocol), clock_(clock), ahead_(record, protocol, clock) {
    for (const auto& p : record.procedures) procedures_.push_back(&p);
    std::ranges::sort(procedures_, {}, [](const Procedure* p) { return std::tie(p->source.reference, p->source); });
  }

  std::vector<CaseFacts> gather() {
    find_index_cases();
    find_sites();
    place_events();
    place_checks();
    for (auto& draft : drafts_) finish(draft);
    find_shared_groins();
    std::vector<CaseFacts> cases;
    for (auto& draft : drafts_) {
      std::ranges::sort(draft.facts.conflicts, {}, [](const Conflict& c) { return std::tie(c.fact, c.about, c.site, c.inputs, c.values); });
      cases.push_back(std::move(draft.facts));
    }
    std::ranges::sort(cases, {}, [](const CaseFacts& c) { return std::tuple(c.start, c.index.source.reference); });
    return cases;
  }

 private:
  bool counts(const std::optional<Moment>& at) const { return !at || clock_.reached(at->earliest); }

  void find_index_cases() {
    for (const auto* p : procedures_) {
      if (opens(*p) == Opens::nothing) continue;
      const auto* parent = p->part_of.empty() || p->part_of == p->source.reference ? nullptr : find_procedure(p->part_of);
      if (parent && opens(*parent) != Opens::nothing) continue;
      open_case(*p, opens(*p) == Opens::provisional_case);
    }
  }

  /// `p` outlives the gathering.
  Draft& open_case(const Procedure& p, bool provisional) {
    Draft& draft = drafts_.emplace_back();
    draft.facts.index = p;
    draft.facts.provisional = provisional;
    draft.facts.patient = record_.patient;
    draft.facts.intervention = p.intervention;
    draft.facts.sites.push_back(site_of(p));
    draft.described_by.push_back(&p);
    set_times(draft.facts, record_, protocol_, clock_);
    return draft;
  }

  // A part of a part is a part of the case.
  void find_sites() {
    for (auto& draft : drafts_)
      for (std::size_t i = 0; i < draft.described_by.size(); ++i)
        for (const auto* p : procedures_)
          if (p->part_of == draft.described_by[i]->source.reference && names_own_site(*p) && known_of(*p) && !describes(draft, *p)) {
            draft.facts.sites.push_back(site_of(*p));
            draft.described_by.push_back(p);
            if (p->intervention == Tristate::yes) draft.facts.intervention = Tristate::yes;
          }
  }
  /// Its start counts, or what already happened at its puncture names it: time alone must not move that from a case of its own into this one.
  bool known_of(const Procedure& p) const {
    return counts(p.start) || std::ranges::any_of(record_.access_events, [&](const AccessEvent& e) { return e.procedure == p.source.reference && e.at && counts(e.at); });
  }
  static bool describes(const Draft& draft, const Procedure& p) {
    return std::ranges::any_of(draft.described_by, [&](const auto* d) { return d->source.reference == p.source.reference; });
  }

  // The sites a pointer could mean: those of the case or site it names, else of every case that is open at `at`.
  // Empty: it names something that is none of ours or that nobody knows, or nothing is open then.
  const std::vector<SiteFacts*>& candidates(const Pointer& pointer, const std::optional<Moment>& at) {
    if (pointer.procedure.empty()) return candidates_ = open_sites(at);
    candidates_.clear();
    for (auto& draft : drafts_)
      for (auto& site : draft.facts.sites) {
        const bool of_case = draft.facts.index.source.reference == pointer.procedure, own = site.key == pointer.procedure;
        if (!of_case && !own) continue;
        if (own && !of_case) candidates_.clear();
        candidates_.push_back(&site);
        if (own && !of_case) return candidates_;
      }
    return candidates_;
  }
  std::vector<SiteFacts*> open_sites(const std::optional<Moment>& at) {
    std::vector<SiteFacts*> found;
    for (auto& draft : drafts_)
      if (open_at(draft, at))
        for (auto& site : draft.facts.sites) found.push_back(&site);
    return found;
  }
  bool open_at(Draft& draft, const std::optional<Moment>& at) const {
    auto& facts = draft.facts;
    draft.catch_up(protocol_);
    set_case_end(facts, protocol_, clock_);
    return !at || (at->latest >= facts.start - protocol_.procedural_look_back.span() && !(facts.case_end && at->earliest > *facts.case_end));
  }

  void place_events() {
    std::vector<const AccessEvent*> events;
    for (const auto& event : record_.access_events)
      if (ahead_.counts(event.at, [&] { return Ahead::voids(event.kind); })) events.push_back(&event);
    std::ranges::stable_sort(events, [](const auto* a, const auto* b) {
      return follows(a->at, b->at) || (!follows(b->at, a->at) && std::tie(a->kind, a->source) < std::tie(b->kind, b->source));
    });
    for (const auto* event : events) place(*event);
  }

  void place(const AccessEvent& event) {
    const Pointer pointer{event.procedure, event.side, event.vessel};
    auto possible = candidates(pointer, event.at);
    if (possible.empty() && event.kind == AccessEventKind::sheath_inserted && opens_without_index(event)) {
      possible.push_back(&open_case(index_for(event), true).facts.sites.front());
    }
    if (possible.empty()) {
      if (!event.procedure.empty() && !find_procedure(event.procedure)) report_unplaced(open_sites(event.at), event.source, "event-of-unknown-procedure");
      return;
    }
    if (possible.size() > 1)
      for (auto* site : possible) draft_of(*site).catch_up(protocol_);
    if (auto* site = meant(pointer, possible)) {
      auto& draft = draft_of(*site);
      if (!counts(event.at) && !stood(draft, *site)) return;
      site->events.push_back(event);
      draft.behind = true;
    } else {
      report_unplaced(possible, event.source, "event-without-site");
      if (event.kind == AccessEventKind::rebleed || event.kind == AccessEventKind::closure_failed) bleeds_somewhere(event, possible);
    }
  }

  /// Until somebody says which groin bleeds, none of those that were dry and may be meant is.
  void bleeds_somewhere(const AccessEvent& event, const std::vector<SiteFacts*>& possible) {
    for (auto* site : possible) {
      auto& draft = draft_of(*site);
      if (!stood(draft, *site)) continue;
      site->events.push_back(event);
      draft.behind = true;
    }
  }

  // Before its time an event matters only where it voids a T0.
  bool stood(Draft& draft, const SiteFacts& site) const {
    draft.catch_up(protocol_);
    return !site.t0_history.empty();
  }

  const Procedure* find_procedure(const std::string& reference) const {
    for (const auto* p : procedures_)
      if (p->source.reference == reference) return p;
    return nullptr;
  }
  bool opens_without_index(const AccessEvent& event) const {
    const auto* p = find_procedure(event.procedure);
    return !p || !(p->femoral_denied || p->status == ProcedureStatus::preparation || p->status == ProcedureStatus::not_done);
  }
  // What stands in for the index: the Procedure that the event names, so that the case keeps its identity when that is completed.
  const Procedure& index_for(const AccessEvent& event) {
    if (const auto* p = find_procedure(event.procedure)) return *p;
    Procedure& p = stand_ins_.emplace_back();
    p.source = event.source;
    if (!event.procedure.empty()) p.source = {event.procedure, {}, false};
    p.status = ProcedureStatus::unknown;
    p.start = event.at;
    p.femoral_stated = true;
    return p;
  }

  /// Of a site of a case that is being gathered.
  Draft& draft_of(const SiteFacts& site) {
    const auto has = [&](const Draft& draft) { return std::ranges::any_of(draft.facts.sites, [&](const SiteFacts& own) { return &own == &site; }); };
    return *std::ranges::find_if(drafts_, has);
  }

  void report_unplaced(const std::vector<SiteFacts*>& possible, const Source& source, const char* about) {
    Draft* reported = nullptr;
    for (const auto* site : possible) {
      auto* draft = &draft_of(*site);
      if (draft == reported) continue;
      reported = draft;
      Conflict conflict{Fact::side, about, {}, {source}, {}};
      for (const auto& own : draft->facts.sites) conflict.values.push_back(own.key);
      draft->facts.conflicts.push_back(std::move(conflict));
    }
  }

  void place_checks() {
    for (auto& draft : drafts_) draft.catch_up(protocol_);
    std::vector<const SiteCheck*> checks;
    for (const auto& c : record_.checks)
      if (c.at && ahead_.counts(c.at, [&] { return ahead_.bad(c); })) checks.push_back(time_unknown(c) ? &untimed_.emplace_back(of_unknown_time(c)) : &c);
    std::ranges::stable_sort(checks, [](const auto* a, const auto* b) { return std::tie(*a->at, a->source) < std::tie(*b->at, b->source); });
    for (auto& draft : drafts_)
      for (auto& site : draft.facts.sites) site.checks.reserve(record_.checks.size());
    for (const auto* made : checks) {
      const auto& possible = candidates({made->procedure, made->side, Vessel::unknown}, made->at);
      if (drafts_.size() > 1 && made->procedure.empty()) leave_out_later_cases(*made->at);
      place(*made, possible);
    }
    for (const auto& c : record_.checks)
      if (!c.at) place_untimed(of_unknown_time(c));
  }
  void place(const SiteCheck& check, const std::vector<SiteFacts*>& possible) {
    groin_of(check, possible, looked_at_);
    for (auto* site : looked_at_) {
      site->checks.push_back(check);
      compare_sizes(*site);
      if (note_findings(*site, site->checks.back())) draft_of(*site).behind = true;
    }
    if (!looked_at_.empty()) return;
    // One that names a Procedure that is none of ours, or that nobody knows, may still have looked at ours.
    const bool none_of_ours = possible.empty() && !check.procedure.empty();
    for (const auto* candidate : none_of_ours ? open_sites(check.at) : possible) keep_unplaced(draft_of(*candidate), check);
  }
  /// A check that says not even when it was written down: it stands beside the newest look, so that nothing older stands in for it and nothing newer replaces it.
  void place_untimed(SiteCheck check) {
    candidates({check.procedure, check.side, Vessel::unknown}, std::nullopt);
    if (candidates_.empty() && !check.procedure.empty()) candidates_ = open_sites(std::nullopt);
    std::erase_if(candidates_, [&](const SiteFacts* site) { return ended(draft_of(*site).facts); });
    std::optional<Instant> newest;
    for (const auto* site : candidates_) {
      const Instant own = site->checks.empty() ? draft_of(*site).facts.start : site->checks.back().at->latest;
      newest = std::max(newest.value_or(own), own);
    }
    if (!newest) return;
    check.at = exactly(*newest);
    place(check, candidates_);
  }
  // Where a case has begun, nobody looks at the puncture of one that is still to come.
  void leave_out_later_cases(const Moment& at) {
    const auto begun = [&](const SiteFacts* site) { return draft_of(*site).facts.start <= at.latest; };
    if (std::ranges::any_of(candidates_, begun)) std::erase_if(candidates_, [&](const SiteFacts* site) { return !begun(site); });
  }
  // A look at a groin counts for every puncture in it; one that names the other side, or no side of two, counts for none. What is said of the
  // patient alone has no side.
  static void groin_of(const SiteCheck& check, const std::vector<SiteFacts*>& possible, std::vector<SiteFacts*>& groin) {
    groin.clear();
    if (!check.of_a_groin()) groin.assign(possible.begin(), possible.end());
    if (!check.of_a_groin()) return;
    for (auto* site : possible) {
      const bool same = possible.size() == 1 || (site->side.usable() && (check.side == site->side.value || check.side == Side::unknown));
      const bool other = check.side != Side::unknown && site->side.usable() && site->side.value != check.side;
      if (same && !other) groin.push_back(site);
    }
    const auto differs = [&](const SiteFacts* site) { return site->side.value != groin.front()->side.value; };
    const bool one_groin = check.side != Side::unknown || (groin.size() == possible.size() && std::ranges::none_of(groin, differs));
    if (!one_groin && possible.size() != 1) groin.clear();
  }
  static void keep_unplaced(Draft& draft, const SiteCheck& check) {
    auto& kept = draft.facts.unplaced_checks;
    if (kept.empty() || kept.back().source != check.source) kept.push_back(check);
  }
  /// Two sizes tell of growth where nobody says so, and against whoever says that there is none. The first swelling that is seen has not grown.
  void compare_sizes(SiteFacts& site) const {
    SiteCheck& check = site.checks.back();
    if (!check.swelling || !check.swelling->exact()) return;
    const auto before = std::find_if(site.checks.rbegin() + 1, site.checks.rend(), [&](const SiteCheck& c) { return c.swelling && c.swelling->exact() && c.at->latest < check.at->earliest; });
    if (before != site.checks.rend() && before->swelling->micro > 0 && check.swelling->micro - before->swelling->micro >= protocol_.swelling_growth.micro) check.growth = true;
  }
  /// True: one that moves the course.
  bool note_findings(SiteFacts& site, const SiteCheck& check) const {
    if (!check.baseline_pulses.empty() && site.baseline_pulses.empty())
      site.baseline_pulses = check.baseline_pulses + (check.pulse_scale.empty() ? "" : " (" + check.pulse_scale + ")");
    const bool large = check.swelling && !check.swelling->surely_below(protocol_.swelling_limit.micro);
    if (!large && !check.growth.value_or(false)) return false;
    site.growths.push_back({check.at->latest, check.source});
    return true;
  }

  void finish(Draft& draft) {
    auto& facts = draft.facts;
    draft.catch_up(protocol_);
    for (auto& site : facts.sites) {
      for (auto& conflict : time_conflicts(site, facts.start, protocol_.future_tolerance.span())) facts.conflicts.push_back(std::move(conflict));
      for (auto& conflict : contradictions(site)) facts.conflicts.push_back(std::move(conflict));
      if (auto conflict = dry_under_device(site)) facts.conflicts.push_back(std::move(*conflict));
    }
    set_case_end(facts, protocol_, clock_);
    report_unplaced_checks(facts);
    add_patient_facts(facts, record_, protocol_, clock_);
    if (ended(facts)) return;   // it asks for nothing any more
    const Evidence evidence(facts, protocol_, clock_);
    std::ranges::move(statement_conflicts(evidence), std::back_inserter(facts.conflicts));
    std::ranges::move(value_conflicts(evidence), std::back_inserter(facts.conflicts));
  }

  // Until each site has a later complete check of its own, nobody knows which groin was looked at.
  void report_unplaced_checks(CaseFacts& facts) const {
    std::erase_if(facts.unplaced_checks, [&](const SiteCheck& check) {
      return std::ranges::all_of(facts.sites, [&](const SiteFacts& site) {
        return std::ranges::any_of(site.checks, [&](const SiteCheck& later) { return later.complete() && later.at->latest > check.at->latest; });
      });
    });
    // A good one that was made for another Procedure is told, and withholds nothing.
    const auto of_another = [&](const SiteCheck& check) {
      const bool ours = check.procedure == facts.index.source.reference || std::ranges::any_of(facts.sites, [&](const SiteFacts& site) { return site.key == check.procedure; });
      return !check.procedure.empty() && !ours;
    };
    Conflict conflict{Fact::side, "check-without-site", {}, {}, {}};
    for (const auto& check : facts.unplaced_checks)
      if (!of_another(check) || ahead_.bad(check) || !check.unread.empty()) conflict.inputs.push_back(check.source);
    if (!conflict.inputs.empty()) facts.conflicts.push_back(std::move(conflict));
  }

  void find_shared_groins() {
    for (auto& a : drafts_)
      for (const auto& b : drafts_) {
        if (&a == &b || ended(a.facts) || ended(b.facts)) continue;
        for (const auto& own : a.facts.sites)
          for (const auto& other : b.facts.sites)
            if (own.side.usable() && other.side.usable() && own.side.value == other.side.value)
              a.facts.conflicts.push_back({Fact::side, "groin-claimed-twice", {own.key, other.key}, {a.facts.index.source, b.facts.index.source}, own.key});
      }
  }
  bool ended(const CaseFacts& facts) const { return facts.case_end && clock_.reached(*facts.case_end); }

  const Record& record_;
  const Protocol& protocol_;
  const Clock& clock_;
  Ahead ahead_;
  std::vector<const Procedure*> procedures_;  ///< of the record, by reference: its own order says nothing
  std::deque<Procedure> stand_ins_;           ///< for an index that nobody recorded; they stay where they are
  std::deque<SiteCheck> untimed_;             ///< checks of which only the time of writing is known, as they count
  std::vector<Draft> drafts_;
  std::vector<SiteFacts*> candidates_;  ///< of the fact that is being placed
  std::vector<SiteFacts*> looked_at_;   ///< by the check that is being placed
};

}  // namespace

std::vector<CaseFacts> cases_of(const Record& record, const Protocol& protocol, const Clock& clock) {
  return Gatherer(record, protocol, clock).gather();
}

}  // namespace clinical
