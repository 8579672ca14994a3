#include "clinical/in_rest.h"

#include <algorithm>
#include <map>

#include "clinical/clotting_test.h"
#include "clinical/decision.h"
#include "clinical/doses.h"
#include "clinical/episodes.h"
#include "clinical/gates.h"
#include "clinical/names.h"
#include "clinical/quantity.h"

namespace clinical {
namespace {

constexpr const char *kDrug = "drug-in-rest", *kValue = "clotting-in-rest";

bool acts(Agent a) {
  return is_anticoagulant(a) || is_fibrinolytic(a) || is_gp_inhibitor(a) || a == Agent::cangrelor || a == Agent::other_antithrombotic ||
         a == Agent::unidentified;
}
// By vein, and at work within minutes.
bool acts_at_once(Agent a) { return a == Agent::heparin || is_direct_thrombin_inhibitor(a) || is_fibrinolytic(a) || is_gp_inhibitor(a); }
// What nobody can identify may be any of them, unless it was swallowed.
bool acts_at_once(const Administration& a) { return acts_at_once(a.agent) || (a.agent == Agent::unidentified && a.route != Route::oral); }

std::string words_of(const Administration& a) {
  if (a.name.empty() && a.agent == Agent::unidentified) return "@agent.unidentified";
  std::string what = a.name.empty() ? std::string(name_of(a.agent)) : a.name;
  if (a.dose) what += " " + a.dose->amount.written;
  else if (a.rate) what += " " + a.rate->amount.written;
  return what;
}

// "ACT 260 s" -> "260 s"; null: the name does not stand before it.
std::optional<std::string_view> without_name(std::string_view quoted, std::string_view name) {
  const auto lower = [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c + ('a' - 'A')) : c; };
  while (quoted.starts_with(' ')) quoted.remove_prefix(1);
  const bool named = quoted.size() > name.size() && quoted[name.size()] == ' ' && std::ranges::equal(quoted.substr(0, name.size()), name, {}, lower, lower);
  return named ? std::optional(quoted.substr(name.size() + 1)) : std::nullopt;
}

std::optional<Instant> first_out(const CaseFacts& facts) {
  std::optional<Instant> first;
  for (const auto& site : facts.sites)
    if (const auto out = out_since(site)) first = std::min(first.value_or(Instant::max()), *out);
  return first;
}

class Watcher {
 public:
  Watcher(const Evidence& now, Instant out, const std::optional<Instant>& last_out) : now_(now), facts_(now.facts), p_(now.protocol), out_(out), last_out_(last_out) {}

  std::vector<Alert> find() {
    for (const auto& given : given_in_rest(now_)) drug(given);
    value(Analyte::platelets, p_.platelets_limit, [](const Value& v, Micro limit) { return v.surely_at_least(limit); });
    value(Analyte::act, p_.act_limit, [](const Value& v, Micro limit) { return v.surely_below(limit); });
    value(Analyte::aptt, p_.aptt_limit, [](const Value& v, Micro limit) { return v.surely_below(limit); });
    value(Analyte::inr, p_.inr_ask, [](const Value& v, Micro limit) { return surely_at_most(v, limit); });
    // Without a fibrinolytic a low fibrinogen has an alert of its own.
    if (std::ranges::any_of(facts_.administrations, [](const Administration& a) { return is_fibrinolytic(a.agent) && !a.flush; }))
      value(Analyte::fibrinogen, p_.fibrinogen_limit, [](const Value& v, Micro limit) { return v.surely_at_least(limit); });
    tell_values();
    return std::move(found_);
  }

 private:
  bool decided(const Decision& d, Instant since) const {
    return d.subject == name_of(Step::stand_and_walk) && !withdrawn(d, facts_.decisions) && !d.performer.empty() && d.at && d.at->exact() && d.at->latest >= since && !d.value_seen.empty();
  }
  bool answered(std::string_view seen, Instant since) const {
    return std::ranges::any_of(facts_.decisions, [&](const Decision& d) { return decided(d, since) && quotes(d.value_seen, seen); });
  }

  // A time that is known to the day only may be any since the sheath is out; whoever decided within that day may not have known of it.
  void drug(const GivenInRest& given) {
    const Moment& start = *given.dose->start;
    const Instant known = given.began_before ? out_ : start.latest;
    const Instant since = given.began_before || start.exact() ? known : std::max(out_, start.earliest);
    if (answered(given, known)) return;
    const bool after_all = last_out_ && given.dose->start->latest > *last_out_;
    if (!after_all && !(given.running && last_out_)) return tell(given, since);
    const bool at_once = after_all && (given.running || acts_at_once(*given.dose));
    if (at_once) add(given, since, AlertLevel::urgent, "alert.drug-in-rest-now");
    else if (after_all) add(given, since, AlertLevel::tell, "alert.drug-in-rest");
    else add(given, since, AlertLevel::tell, "alert.drug-runs-on");
  }
  bool answered(const GivenInRest& given, Instant since) const {
    if (given.dose->agent != Agent::unidentified) return answered(name_of(given.dose->agent), since);
    return (!given.dose->name.empty() && answered(given.dose->name, since)) || answered(given.what, since);
  }
  void tell(const GivenInRest& given, Instant since) {
    if (!given.began_before) add(given, since, AlertLevel::tell, "alert.drug-in-rest");
  }
  void add(const GivenInRest& given, Instant since, AlertLevel level, const char* code) {
    Alert alert = alert_since(kDrug, level, {}, since, {code, {{"what", given.what}, {"at", when(*given.dose->start)}}}, {given.dose->source});
    if (std::ranges::find(found_, alert.episode, &Alert::episode) == found_.end()) found_.push_back(std::move(alert));
  }

  // "ACT 260 s" quotes 260 s: the name of the test before it is no other value.
  bool answered_value(Analyte analyte, std::string_view seen, Instant since) const {
    return answered(seen, since) || std::ranges::any_of(facts_.decisions, [&](const Decision& d) {
      const auto bare = without_name(d.value_seen, name_of(analyte));
      return bare && decided(d, since) && quotes(*bare, seen);
    });
  }

  struct Bad {
    std::string what, value, limit;
    Moment at{};
    std::vector<Source> inputs;
  };
  template <class Good>
  void value(Analyte analyte, const Setting& limit, const Good& good) {
    std::optional<Instant> since;
    const Measurement* last = nullptr;
    int normal = 0;
    for (const auto* m : now_.index().of(analyte)) {
      if (!m->value || !m->at || m->at->latest <= out_) continue;
      if (!good(*m->value, limit.micro)) {
        normal = 0;
        since = since.value_or(m->at->latest);
        last = m;
      } else if (since && ++normal == 2) {
        since.reset();
      }
    }
    if (!since || answered_value(analyte, last->value->written, last->at->latest)) return;
    Bad& bad = values_[*since];
    bad.what += (bad.what.empty() ? "@analyte." : ",analyte.") + std::string(name_of(analyte));
    bad.value += (bad.value.empty() ? "" : "; ") + last->value->written;
    bad.limit += (bad.limit.empty() ? "" : "; ") + as_value(limit).written;
    bad.at = *last->at;
    bad.inputs.push_back(last->source);
  }
  void tell_values() {
    for (auto& [since, bad] : values_)
      found_.push_back(alert_since(kValue, AlertLevel::urgent, {}, since, {"alert.clotting-in-rest", {{"what", bad.what}, {"value", bad.value}, {"at", when(bad.at)}, {"limit", bad.limit}}}, std::move(bad.inputs)));
  }

  const Evidence& now_;
  const CaseFacts& facts_;
  const Protocol& p_;
  Instant out_;
  std::optional<Instant> last_out_;
  std::map<Instant, Bad> values_;  ///< by the beginning of the episode: one alert for those that began together
  std::vector<Alert> found_;
};

}  // namespace

std::optional<Instant> out_since(const SiteFacts& site) {
  if (!site.out() || site.sheath_out) return site.sheath_out;
  std::optional<Instant> first;
  if (!site.holds.empty()) first = site.holds.front().start;
  if (!site.t0_history.empty()) first = std::min(first.value_or(Instant::max()), site.t0_history.front());
  return first;
}

std::vector<GivenInRest> given_in_rest(const Evidence& now) {
  std::vector<GivenInRest> found;
  const auto out = first_out(now.facts);
  if (!out) return found;
  for (const auto& a : now.facts.administrations) {
    const auto end = a.start && !a.flush && acts(a.agent) ? dose_end(now, a) : std::nullopt;
    if (!end) continue;
    const bool running = end->kind == DoseEnd::Kind::running, before = a.start->latest <= *out;
    if (!before || running) found.push_back({&a, words_of(a), running, before});
  }
  return found;
}

std::vector<Alert> rest_alerts(const Evidence& now, const std::optional<Instant>& walked, const std::optional<Instant>& last_out) {
  const auto out = first_out(now.facts);
  if (!out || walked) return {};
  return Watcher(now, *out, last_out).find();
}

std::optional<Reason> asks_prescriber(const Alert& alert) {
  if (alert.trigger == kValue) return Reason{"rest.prescriber-value", alert.why.arguments};
  if (alert.why.code == "alert.drug-runs-on") return Reason{"rest.prescriber-running", alert.why.arguments};
  return alert.trigger == kDrug && alert.level != AlertLevel::tell ? std::optional(Reason{"rest.prescriber", alert.why.arguments}) : std::nullopt;
}

bool restarts_watch(Agent a) {
  return acts_at_once(a) || is_low_molecular_weight_heparin(a) || a == Agent::fondaparinux;
}

}  // namespace clinical
