#include "clinical/early_walk.h"

#include <algorithm>
#include <set>

#include "clinical/names.h"
#include "clinical/quantity.h"
#include "clinical/worst_value.h"

namespace clinical {
namespace {

enum class Found { absent, not_recorded, met };

struct Answer {
  Found found = Found::absent;
  std::vector<Source> inputs;
  std::vector<Fact> asked;   ///< what somebody could record now that would tell; empty: nothing yet
};

Answer met_if(bool met, std::vector<Source> inputs = {}) { return {met ? Found::met : Found::absent, std::move(inputs), {}}; }
Answer not_recorded(std::vector<Fact> asked = {}) { return {Found::not_recorded, {}, std::move(asked)}; }

/// Acts on clotting for long, or might.
bool may_thin(Agent a) { return is_anticoagulant(a) || a == Agent::other_antithrombotic || a == Agent::unidentified; }
bool stops_platelets_or_lyses(Agent a) { return is_gp_inhibitor(a) || is_fibrinolytic(a) || a == Agent::cangrelor; }

/// One question a member of EarlyWalk: is what the trial left out surely not here?
class Asked {
 public:
  Asked(const SiteView& view, const std::vector<Modifier>& modifiers, const HoldPlan& hold)
      : view_(view), facts_(view.facts), site_(view.site), p_(view.protocol), early_(*view.protocol.early_walk), modifiers_(modifiers), hold_(hold) {}

  Answer access() const {
    std::vector<Fact> asked;
    if (!view_.known_artery() || !surely(site_.vessel)) asked.push_back(Fact::vessel);
    if (!surely(site_.french)) asked.push_back(Fact::sheath_size);
    return asked.empty() ? Answer{} : not_recorded(std::move(asked));
  }

  Answer closure() const {
    const bool by_hand = view_.method() == Closure::manual && std::ranges::all_of(site_.holds, [](const Hold& h) { return h.method == Closure::manual || h.method == Closure::unknown; });
    if (!by_hand || site_.device_failed || (site_.closure.usable() && site_.closure.value != Closure::manual)) return {Found::met, said(site_.closure), {}};
    return surely(site_.closure) ? Answer{} : not_recorded({Fact::closure});
  }

  Answer intervention() const {
    if (facts_.intervention == Tristate::unknown) return not_recorded({Fact::intervention});
    return met_if(facts_.intervention == Tristate::yes, {facts_.index.source});
  }

  Answer anticoagulant() const {
    if (auto given = doses(may_thin); !given.empty()) return {Found::met, std::move(given), {}};
    if (view_.anticoagulant == Tristate::unknown || !view_.history_known) return not_recorded({Fact::anticoagulant_history});
    return met_if(view_.anticoagulant == Tristate::yes);
  }

  Answer home_anticoagulant() const {
    std::vector<Source> taken;
    for (const auto& d : facts_.home_drugs)
      if (d.taken && may_thin(d.agent)) taken.push_back(d.source);
    if (!taken.empty()) return {Found::met, std::move(taken), {}};
    return view_.home_known ? Answer{} : not_recorded({Fact::home_anticoagulants});
  }

  // Nobody states that none was given; where it is told what was given for the procedure and none stands there, none was.
  Answer gp_inhibitor() const {
    if (auto given = doses(stops_platelets_or_lyses); !given.empty()) return {Found::met, std::move(given), {}};
    return view_.history_known ? Answer{} : not_recorded({Fact::anticoagulant_history});
  }

  Answer platelets() const {
    return measured(Analyte::platelets, Fact::platelets, p_.fresh_platelets, [&](const Value& v) { return v.surely_at_least(early_.platelets_below.micro); });
  }
  Answer inr() const {
    return measured(Analyte::inr, Fact::inr, p_.fresh_inr, [&](const Value& v) { return surely_at_most(v, early_.inr_over.micro); });
  }

  Answer gate_not_open() const {
    if (!site_.out()) return not_recorded();
    const auto pulled = std::ranges::find(modifiers_, "pulled-with-gate-not-open", &Modifier::name);
    if (pulled == modifiers_.end()) return {};
    if (pulled->unknown) return not_recorded({Fact::sheath_removal});
    return {Found::met, pulled->inputs, {}};
  }

  // At the pull, and every reading since. A low one is no pressure of a trial either.
  Answer pressure() const {
    const auto bad = [&](const Measurement& m) {
      if (!m.value) return false;
      if (m.analyte == Analyte::diastolic) return !m.value->surely_below(early_.diastolic_from.micro);
      return m.analyte == Analyte::systolic && (!m.value->surely_below(early_.systolic_from.micro) || !m.value->surely_at_least(p_.systolic_low.micro));
    };
    std::vector<Source> inputs;
    bool known = view_.pulled.has_value();
    for (const auto analyte : {Analyte::systolic, Analyte::diastolic}) {
      if (!view_.pulled) break;
      const auto readings = pressures_at(view_, analyte, *view_.pulled);
      known &= !readings.empty();
      for (const auto* m : readings)
        if (bad(*m)) inputs.push_back(m->source);
    }
    for (const auto& m : facts_.measurements)
      if (site_.out() && m.at && m.at->latest >= view_.pulled.value_or(facts_.start) && bad(m)) inputs.push_back(m.source);
    if (!inputs.empty()) return {Found::met, std::move(inputs), {}};
    if (known) return {};
    return site_.out() ? not_recorded({Fact::blood_pressure}) : not_recorded();
  }

  Answer puncture() const {
    const bool bad = site_.difficult || site_.high_stick || site_.low_stick || site_.upsized || site_.punctures.value_or(1) > 1 || site_.direction == Direction::antegrade;
    if (bad) return {Found::met, {{site_.key, {}, false}}, {}};
    return site_.uncomplicated ? Answer{} : not_recorded({Fact::puncture_quality});
  }

  Answer another_puncture() const {
    std::vector<Source> others;
    for (const auto& other : facts_.sites)
      if (other.key != site_.key) others.push_back({other.key, {}, false});
    return met_if(facts_.sites.size() > 1, std::move(others));
  }

  Answer short_hold() const {
    if (!site_.t0) return not_recorded();
    if (site_.holds.empty() || site_.holds.back().implied) return not_recorded({Fact::compression_start});
    const auto& last = site_.holds.back();
    return met_if(*site_.t0 < last.start + hold_.total, {last.source});
  }

  // A complete check after T0, and none that found anything.
  Answer bleeding() const {
    std::vector<Source> found;
    bool seen = false;
    for (const auto& check : site_.checks) {
      const bool swollen = check.swelling && !(check.swelling->exact() && check.swelling->micro == 0);
      if (check.wet() || swollen || check.growth.value_or(false)) found.push_back(check.source);
      const bool clean = check.complete() && check.foot_pulse == FootPulse::as_baseline;
      seen |= site_.t0 && clean && check.at->earliest >= *site_.t0 && view_.clock.reached(check.at->latest);
    }
    if (!found.empty()) return {Found::met, std::move(found), {}};
    const bool unread = std::ranges::any_of(site_.checks, [](const SiteCheck& c) { return !c.unread.empty(); });  // a later dry look does not tell what that one saw
    if (seen && !unread) return {};
    return site_.t0 ? not_recorded({Fact::site_check}) : not_recorded();
  }

  Answer rebleed() const {
    return met_if(!site_.rebleeds.empty() || !site_.growths.empty() || site_.t0_history.size() > 1);
  }

 private:
  template <class T>
  static bool surely(const Settled<T>& settled) { return settled.certainty == Certainty::known; }
  template <class T>
  static std::vector<Source> said(const Settled<T>& settled) {
    std::vector<Source> sources;
    for (const auto& one : settled.said) sources.push_back(one.source);
    return sources;
  }
  std::vector<Source> doses(bool (*group)(Agent)) const {
    std::vector<Source> given;
    for (const auto& a : facts_.administrations)
      if (!a.flush && group(a.agent)) given.push_back(a.source);
    return given;
  }
  template <class Good>
  Answer measured(Analyte analyte, Fact fact, const Setting& fresh, Good good) const {
    std::vector<Source> bad;
    const auto values = telling_values(view_, analyte, fresh, good);
    for (const auto* m : values)
      if (m->value && !good(*m->value)) bad.push_back(m->source);
    for (const auto* m : view_.now.index().of(analyte))  // whenever in the case it was bad: nobody of the trials was so
      if (m->value && m->at && m->at->latest >= facts_.start && view_.clock.reached(m->at->latest) && !good(*m->value)) bad.push_back(m->source);
    if (!bad.empty()) return {Found::met, std::move(bad), {}};
    const bool known = !values.empty() && std::ranges::all_of(values, [](const auto* m) { return m->value.has_value(); });
    return known ? Answer{} : not_recorded({fact});
  }

  const SiteView& view_;
  const CaseFacts& facts_;
  const SiteFacts& site_;
  const Protocol& p_;
  const EarlyWalk& early_;
  const std::vector<Modifier>& modifiers_;
  const HoldPlan& hold_;
};

const Setting& row_of(const EarlyWalk& early, int french) {
  const Setting* const rows[] = {&early.rest_4, &early.rest_5, &early.rest_6, &early.rest_7};
  return *rows[french - EarlyWalk::kSmallest];
}

std::string name_of_key(const std::string& key) { return key.substr(key.rfind('.') + 1); }

/// "@early.inr,early.platelets": a list of terms.
void list(std::string& names, const std::string& name) { names += (names.empty() ? "@early." : ",early.") + name; }

class Exclusions {
 public:
  explicit Exclusions(int french) : french_(french) {}

  void ask(const Exclusion& exclusion, Answer answer) {
    if (answer.found == Found::absent || std::ranges::find(exclusion.rows, french_) == exclusion.rows.end()) return;
    const bool met = answer.found == Found::met;
    const auto name = name_of_key(exclusion.rule.key);
    list(met ? met_ : not_recorded_, name);
    asked_.insert(answer.asked.begin(), answer.asked.end());
    std::ranges::sort(answer.inputs);
    answer.inputs.erase(std::unique(answer.inputs.begin(), answer.inputs.end()), answer.inputs.end());
    lines_.push_back({exclusion.rule.key, exclusion.rule.source, std::move(answer.inputs), {met ? "rest.early-met" : "rest.early-not-recorded", {{"what", term("early", name)}}}});
  }

  EarlyRest result(const Setting& row, const Argument& side) && {
    if (lines_.empty()) return {&row, {}, {}, {}};
    EarlyRest none{nullptr, std::move(lines_), {}, {}};
    if (met_.empty()) none.asked.assign(asked_.begin(), asked_.end());
    if (!met_.empty()) none.said.push_back(Reason{"caution.early-met", {{"what", met_}, {"side", side}}});
    if (!not_recorded_.empty()) none.said.push_back(Reason{"caution.early-not-recorded", {{"what", not_recorded_}, {"side", side}}});
    return none;
  }

 private:
  int french_;
  std::string met_, not_recorded_;
  std::set<Fact> asked_;
  std::vector<Basis> lines_;
};

/// The early rows are for an artery of these sizes pressed by hand: what is said of any other, as arithmetic and for people.
std::optional<std::pair<Reason, Reason>> no_row(const SiteView& view, int french) {
  if (view.known_vein()) return std::pair{Reason{"rest.early-vein", {}}, Reason{"caution.early-vein", {{"side", side_term(view)}}}};
  if (view.closed_by_device()) return std::pair{Reason{"rest.early-device", {}}, Reason{"caution.early-device", {{"side", side_term(view)}}}};
  if (french >= EarlyWalk::kSmallest && french <= EarlyWalk::kLargest) return std::nullopt;
  const std::int64_t size = french;
  return std::pair{Reason{"rest.early-no-row", {{"french", size}}}, Reason{"caution.early-no-row", {{"french", size}, {"side", side_term(view)}}}};
}

}  // namespace

Argument side_term(const SiteView& view) { return term("side", name_of(view.site.side.usable() ? view.site.side.value : Side::unknown)); }

EarlyRest early_rest(const SiteView& view, const std::vector<Modifier>& modifiers, const HoldPlan& hold) {
  const auto french = view.french();
  if (!view.protocol.early_walk || !french) return {};   // without a size nothing is given at all
  const auto& early = *view.protocol.early_walk;
  const auto& row = row_of(early, std::clamp(*french, EarlyWalk::kSmallest, EarlyWalk::kLargest));
  if (auto why = no_row(view, *french)) return {nullptr, {{row.rule.key, row.rule.source, {}, why->first}}, {why->second}, {}};
  const Asked asked(view, modifiers, hold);
  Exclusions exclusions(*french);
#define EARLY_SETTING(member, key, unit)
#define EXCLUSION(member, key) exclusions.ask(early.member, asked.member());
#include "clinical/early_walk.def"
#undef EARLY_SETTING
#undef EXCLUSION
  return std::move(exclusions).result(row, side_term(view));
}

}  // namespace clinical
