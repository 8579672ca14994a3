#include "clinical/cautions.h"

#include <algorithm>

#include "clinical/draft.h"
#include "clinical/gates.h"
#include "clinical/names.h"
#include "clinical/orders.h"

namespace clinical {
namespace {

class Finder {
 public:
  Finder(const CaseFacts& facts, const Protocol& protocol, const Clock& clock) : facts_(facts), p_(protocol), clock_(clock) {}

  std::vector<Reason> find() {
    if (risk(RiskKind::heparin_induced_thrombocytopenia)) say("caution.hit");
    two_heparins();
    if (given(is_gp_inhibitor)) say("caution.gp-inhibitor", {{"limit", std::int64_t{p_.alert_platelets_gp.whole_number()}}});
    if (given(is_fibrinolytic)) say("caution.fibrinolytic");
    antiplatelet_running();
    rebounds();
    if (facts_.patient.sex == Sex::female || any_site(&SiteFacts::high_stick)) say("caution.retroperitoneal");
    if (any_site(&SiteFacts::low_stick)) say("caution.low-stick");
    if (std::ranges::any_of(facts_.sites, [](const SiteFacts& s) { return s.direction == Direction::antegrade && !(s.vessel.usable() && s.vessel.value == Vessel::vein); })) say("caution.antegrade");
    if (risk(RiskKind::arterial_disease) || risk(RiskKind::severe_arterial_disease)) say("caution.arterial-disease");
    if (risk(RiskKind::agitation)) say("caution.agitation");
    if (risk(RiskKind::bleeding_disorder)) say("caution.bleeding-disorder");
    allergies();
    voiding();
    std::ranges::move(order_cautions(facts_, clock_), std::back_inserter(found_));
    refused();
    contacts();
    return std::move(found_);
  }

 private:
  static bool of_a_gate(const std::string& subject) {
    for (int i = 0; i <= static_cast<int>(GateName::haemoglobin); ++i)
      if (subject == name_of(static_cast<GateName>(i))) return true;
    return false;
  }
  // A no is shown as it was written: whoever reads it knows what the plan does not.
  void refused() {
    if (std::ranges::all_of(facts_.sites, [](const SiteFacts& s) { return s.out(); })) return;
    for (const auto& d : facts_.decisions)
      if (d.refused && of_a_gate(d.subject)) say("caution.decision-refused", {{"what", term("gate", d.subject)}, {"said", d.value_seen}, {"by", d.performer.empty() ? std::string("-") : d.performer}});
  }
  void say(const char* code, std::vector<std::pair<std::string, Argument>> arguments = {}) { found_.push_back({code, std::move(arguments)}); }
  bool risk(RiskKind kind) const {
    return std::ranges::any_of(facts_.risks, [&](const Risk& r) { return r.kind == kind && r.present; });
  }
  bool given(bool (*group)(Agent)) const {
    return std::ranges::any_of(facts_.administrations, [&](const Administration& a) { return group(a.agent) && !a.flush; });
  }
  bool any_site(bool SiteFacts::*feature) const {
    return std::ranges::any_of(facts_.sites, [&](const SiteFacts& s) { return s.*feature; });
  }
  void two_heparins() {
    if (given([](Agent a) { return a == Agent::heparin; }) && given(is_low_molecular_weight_heparin)) say("caution.two-heparins");
  }

  void antiplatelet_running() {
    for (const auto& a : facts_.administrations)
      if (a.agent == Agent::cangrelor && !a.end && a.start && (a.status == AdministrationStatus::in_progress || a.status == AdministrationStatus::on_hold))
        say("caution.antiplatelet-running", {{"what", term(a.agent)}, {"at", when(*a.start)}});
  }

  void allergies() {
    if (risk(RiskKind::allergy_heparin)) say("caution.allergy-heparin");
    if (risk(RiskKind::allergy_protamine)) say("caution.allergy-protamine");
    if (risk(RiskKind::allergy_latex)) say("caution.allergy-latex");
    if (risk(RiskKind::allergy_adhesive)) say("caution.allergy-adhesive");
    if (risk(RiskKind::allergy_local_anaesthetic)) say("caution.allergy-local-anaesthetic");
  }

  // Those with a number; where nobody has one, who it is at least.
  void contacts() {
    constexpr std::size_t most = 4;
    const auto now = [&](const Contact& c) { return (!c.from || clock_.reached(c.from->earliest)) && !(c.until && clock_.reached(c.until->latest)); };
    for (const bool with_number : {true, false}) {
      std::vector<Reason> said;
      for (const auto& c : facts_.contacts) {
        if (!now(c) || c.phone.empty() == with_number || said.size() == most) continue;
        const std::string who = c.role.empty() ? c.who : c.who + " (" + c.role + ")";
        Reason reason = with_number ? Reason{"caution.contact", {{"who", who}, {"phone", c.phone}, {"source", c.phone_source}}} : Reason{"caution.contact-no-number", {{"who", who}, {"source", c.source.reference}}};
        if (std::ranges::find(said, reason) == said.end()) said.push_back(std::move(reason));
      }
      if (said.empty()) continue;
      std::ranges::move(said, std::back_inserter(found_));
      return;
    }
  }

  // An observed event: not recorded raises nothing and is said (a recorded "not yet" is an alert after the same time).
  void voiding() {
    if (!facts_.procedure_end || !clock_.reached(*facts_.procedure_end + p_.alert_urine_tell.span())) return;
    const auto told = [&](const SiteCheck& c) { return (c.voided || c.bladder) && c.at->latest >= facts_.start; };
    const bool at_a_site = std::ranges::any_of(facts_.sites, [&](const SiteFacts& s) { return std::ranges::any_of(s.checks, told); });
    if (!at_a_site && std::ranges::none_of(facts_.unplaced_checks, told)) say("caution.voiding-not-recorded", {{"from", *facts_.procedure_end}});
  }

  // What was reversed may come back: until when each reversal is known to hold.
  void rebounds() {
    const bool vitamin = given([](Agent a) { return a == Agent::vitamin_k; });
    const std::pair<Agent, const Setting*> windows[] = {{Agent::protamine, &p_.rebound_protamine}, {Agent::andexanet_alfa, &p_.rebound_andexanet},
                                                        {Agent::idarucizumab, &p_.rebound_idarucizumab}, {Agent::prothrombin_complex, &p_.rebound_prothrombin_complex}};
    for (const auto& [agent, window] : windows) {
      if (agent == Agent::prothrombin_complex && vitamin) continue;
      std::optional<Instant> last;
      bool any = false;
      for (const auto& a : facts_.administrations) {
        if (a.agent != agent) continue;
        any = true;
        const auto& end = a.end ? a.end : a.start;
        if (end && end->exact()) last = std::max(last.value_or(Instant::min()), end->latest);
      }
      if (last) say("caution.rebound", {{"agent", term(agent)}, {"at", *last}, {"until", *last + window->span()}});
      else if (any) say("caution.rebound-time-unknown", {{"agent", term(agent)}});
      if (any && agent == Agent::andexanet_alfa) say("caution.anti-xa-invalid");
    }
  }

  const CaseFacts& facts_;
  const Protocol& p_;
  const Clock& clock_;
  std::vector<Reason> found_;
};

}  // namespace

std::vector<Reason> cautions_of(const CaseFacts& facts, const Protocol& protocol, const Clock& clock) { return Finder(facts, protocol, clock).find(); }

}  // namespace clinical
