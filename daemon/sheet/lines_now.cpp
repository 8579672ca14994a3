#include <algorithm>
#include <tuple>

#include "clinical/change.h"
#include "clinical/names.h"
#include "clinical/phrases.h"
#include "sheet/acts.h"
#include "sheet/lines_parts.h"
#include "words/plan_words.h"

namespace sheet {
namespace {

using clinical::Step;
using clinical::StepStatus;

// "RIGHT femoral artery: take the sheath out"; of a step that is one act for all sites only the step.
std::string act_text(const Say& say, const Act& act) {
  const std::string where = clinical::is_shared_step(act.step->step) ? std::string{} : say.which(*act.site);
  return joined(where, ": ", say.step(*act.step));
}

std::string detail_of(const Say& say, const Act& act) {
  const auto& m = *act.step;
  std::string detail;
  if (act.now() && m.earliest && m.step != Step::call_clinician) detail = say.text(m.late ? "late-since" : "since", {{"at", *m.earliest}});
  if (m.planned && !clinical::is_patient_step(m.step)) detail = say.listed(detail, say.text("for", {{"length", clinical::seconds{*m.planned}}}));
  return joined(detail, ". ", say.reason(m.why));
}

/// Of the site that keeps the patient flat longest: one whose clock has not started before any other.
struct Rest {
  const clinical::SitePlan* site = nullptr;
  const clinical::Milestone* stand = nullptr;
};
Rest longest_rest(const clinical::CasePlan& plan) {
  const auto weight = [](const Rest& r) { return std::pair(r.stand->status == StepStatus::expected && !r.stand->earliest, r.stand->after_t0.value_or(clinical::minutes{0})); };
  Rest longest;
  for (const auto& site : plan.sites) {
    const Rest rest{&site, find_step(site, Step::stand_and_walk)};
    if (rest.stand && (!longest.stand || weight(rest) > weight(longest))) longest = rest;
  }
  return longest;
}

/// When a groin that bled was recorded as well after that, if nothing recorded since says otherwise: by the last check, or by a haemostasis after it. Of any
/// other emergency (the limb, a bleeding inside, a large swelling) a groin that is dry says nothing.
std::optional<clinical::Instant> well_since(const clinical::Alert& alert, const clinical::SitePlan* site) {
  if (alert.trigger != "site-bleeding" || !site || !site->last_check || !site->last_check->at) return std::nullopt;
  const auto& check = *site->last_check;
  if (site->t0 && *site->t0 > check.at->latest && *site->t0 > alert.since) return site->t0;
  if (check.at->latest <= alert.since) return std::nullopt;
  const bool well = check.complete() && *check.bleeding == clinical::Bleeding::none && !*check.growth && *check.foot_pulse == clinical::FootPulse::as_baseline;
  return well ? std::optional(check.at->latest) : std::nullopt;
}

/// An emergency that is not over: nothing else is the next act. One dry look does not end a bleeding; a haemostasis that somebody recorded after it does.
const clinical::Alert* emergency_of(const clinical::CasePlan& plan) {
  for (const auto& alert : plan.alerts) {
    if (alert.level != clinical::AlertLevel::emergency) continue;
    const auto* site = clinical::site_of(plan, alert.site);
    const bool stopped = well_since(alert, site) && site->t0 && *site->t0 > alert.since;
    if (!stopped) return &alert;
  }
  return nullptr;
}

void add_once(Callout& callout, Callout::Item item) {
  if (std::ranges::find(callout.items, item) == callout.items.end()) callout.items.push_back(std::move(item));
}

}  // namespace

BigWord next_of(const Say& say) {
  if (const auto* emergency = emergency_of(say.in().plan)) {
    const auto* site = clinical::site_of(say.in().plan, emergency->site);
    const bool bleeds = emergency->trigger.find("bleed") != std::string::npos && emergency->trigger != "retroperitoneal-bleed";  // no hand reaches that one
    return {say.label("next"), joined(site ? say.which(*site) : std::string{}, ": ", say.label(bleeds ? "press-and-call" : "emergency-call")), say.label("now"), "", {}, say.reason(emergency->why)};
  }
  const auto acts = acts_of(say.in().plan);
  if (const auto* open = clinical::open_emergency(say.in().plan); open && !acts.next) return {say.label("next"), say.label("emergency-call"), say.label("now"), "", {}, say.reason(open->why)};
  if (!acts.next && !acts.held) return {say.label("next"), say.label(say.in().plan.state == clinical::CaseState::finished ? "finished" : "nothing"), "", "", {}, ""};
  const Act& act = acts.next ? *acts.next : *acts.held;
  BigWord word{say.label("next"), act_text(say, act), "", "", {}, detail_of(say, act)};
  if (!acts.next) {
    word.time = say.label("not-yet");
    if (act.step->expected) word.detail = joined(say.text("not-before", {{"at", *act.step->expected}}), ". ", word.detail);
  } else if (act.now()) {
    word.time = say.label(act.step->late ? "late-now" : "now");
    const auto* removal = act.step->step == Step::remove_sheath || act.step->step == Step::confirm_readiness ? find_step(*act.site, Step::remove_sheath) : nullptr;
    if (const auto end = removal ? pull_ends(*act.site, *removal) : std::nullopt) word.strong.push_back(say.text("only-until", {{"at", *end}}));
  } else {
    word.time = say.hour(*act.step->earliest, words::Format::up);
    word.day = say.day(*act.step->earliest, words::Format::up);
  }
  return word;
}

/// The step of the site that is still to come and has a time.
const clinical::Milestone* coming(const clinical::SitePlan& site, Step step) {
  const auto* m = find_step(site, step);
  return m && m->status == StepStatus::expected && m->earliest ? m : nullptr;
}

// Flat first, then with the head low, then in bed: the stage that holds now stands large, what follows below it.
BigWord bed_stages(const Say& say, const clinical::SitePlan& held_by) {
  const auto& plan = say.in().plan;
  // A stage that is held back has not begun, whatever the clock says: the one before it goes on, without an end.
  for (const auto& [step, caption, act] : {std::tuple{Step::raise_head, "lie-flat", "until-released"}, {Step::sit_up, "flat", "head-low"}}) {
    const auto* m = find_step(held_by, step);
    if (m && m->status == StepStatus::blocked)
      return {say.label(caption), say.label(act), say.label("no-time"), "", {say.text("not-up-before", {{"at", *plan.up_at}})}, say.reason(m->why)};
  }
  const auto *head = coming(held_by, Step::raise_head), *sit = coming(held_by, Step::sit_up);
  const Instant until = head ? *head->earliest : sit ? *sit->earliest : *plan.up_at;
  BigWord word{say.label(head ? "lie-flat" : "flat"), say.label(!head && sit ? "head-low" : "until"), say.hour(until, words::Format::up), say.day(until, words::Format::up), {}, ""};
  std::string stages;
  if (head) stages = say.text("head-from", {{"at", *head->earliest}});
  if (sit) stages = say.listed(stages, say.text("sit-from", {{"at", *sit->earliest}}));
  if (!stages.empty()) word.strong.push_back(stages);
  word.strong.push_back(say.text("not-up-before", {{"at", *plan.up_at}}));
  const auto* site = clinical::site_of(plan, plan.up_site);
  if (site && plan.sites.size() > 1) word.detail = say.text("decided-by", {{"site", say.which(*site)}});
  return word;
}

bool any_sheath_or_pressing(const clinical::CasePlan& plan) {
  return std::ranges::any_of(plan.sites, [](const clinical::SitePlan& site) { return !site.t0; });
}

BigWord flat_of(const Say& say) {
  const auto& plan = say.in().plan;
  const auto [held_by, stand] = longest_rest(plan);
  BigWord word{say.label("flat"), "", say.label("no-time"), "", {}, ""};
  if (!stand) return word;
  if (stand->actual) return {say.label("up"), say.label("up-since"), say.hour(*stand->actual, words::Format::plain), say.day(*stand->actual, words::Format::plain), {}, ""};
  if (clinical::open_emergency(plan)) {
    word.caption = say.label("flat-now");
    word.act = say.label("until-told");
    word.strong.push_back(say.label("after-emergency"));
    return word;
  }
  if (stand->status == StepStatus::due) return {say.label("up"), say.label("up-now"), say.label("now"), "", {}, ""};
  if (plan.up_at) return bed_stages(say, *held_by);
  word.detail = say.reason(stand->why);
  // While a sheath is in or a groin is pressed the patient lies flat, whatever else is not known.
  if (any_sheath_or_pressing(plan)) word.caption = say.label("flat-now");
  if (stand->expected) {
    word.act = say.label("until-released");
    word.detail = joined(say.text("clock-ended", {{"at", *stand->expected}}), ". ", word.detail);
  } else if (stand->after_t0 && stand->status == StepStatus::expected) {
    word.caption = say.label("flat-now");
    word.strong.push_back(say.text("up-after", {{"length", clinical::seconds{*stand->after_t0}}}));
    word.detail = say.which(*held_by);
  } else {
    word.act = say.label("until-told");
  }
  return word;
}

std::vector<std::string> then_of(const Say& say) {
  std::vector<std::string> lines;
  for (const Act& act : acts_of(say.in().plan).then) {
    const std::string_view key = act.step->late ? "then-late" : act.now() ? "then-now" : "then";
    lines.push_back(say.text(key, {{"at", say.time(*act.step->earliest, words::Format::up)}, {"act", act_text(say, act)}}));
  }
  return lines;
}

std::vector<Callout> alerts_of(const Say& say) {
  std::vector<Callout> callouts;
  const auto& plan = say.in().plan;
  for (const auto level : {clinical::AlertLevel::emergency, clinical::AlertLevel::urgent, clinical::AlertLevel::tell}) {
    Callout callout{say.label("level." + std::string(name_of(level))), {}, level != clinical::AlertLevel::tell};
    for (const auto& alert : plan.alerts) {
      if (alert.level != level) continue;
      const auto* site = clinical::site_of(plan, alert.site);
      const auto well = level == clinical::AlertLevel::emergency ? well_since(alert, site) : std::nullopt;
      add_once(callout, {joined(site ? say.where(*site) : std::string{}, ": ", say.reason(alert.why)), well ? say.text("well-since", {{"at", *well}}) : ""});
    }
    if (!callout.items.empty()) callouts.push_back(std::move(callout));
  }
  return callouts;
}

std::vector<Callout> unknown_of(const Say& say) {
  const auto& plan = say.in().plan;
  std::vector<Callout> callouts;
  Callout unknown{say.label("unknown-ask"), {}, false};
  for (const auto& missing : plan.missing) {
    const auto* site = clinical::site_of(plan, missing.site);
    const std::string fact = joined(site ? say.which(*site) : std::string{}, ": ", words::missing_fact(say.in().words, missing));
    std::string blocks;
    for (const auto step : missing.blocks) blocks = say.listed(std::move(blocks), say.term("step", name_of(step)));
    const std::string who = say.term("asked-of", name_of(missing.asked_of));
    add_once(unknown, {say.text("ask", {{"who", who}, {"fact", fact}}), blocks.empty() ? std::string{} : say.text("holds-back", {{"steps", blocks}})});
  }
  Callout conflict{say.label("conflict"), {}, false};
  for (const auto& c : plan.conflicts) {
    std::string values;
    for (const auto& v : c.values) {
      const auto* site = clinical::site_of(plan, v);
      values = joined(std::move(values), " / ", site ? say.where(*site) : words::conflict_value(say.in().words, c, v));
    }
    std::string fact = say.term("fact", name_of(c.fact));
    if (!c.about.empty() && say.in().words.has_term("conflict." + c.about)) {
      if (words::names_fact(c)) values = joined(fact, " ", values);
      fact = say.term("conflict", c.about);
    }
    add_once(conflict, {values.empty() ? say.text("contradicts", {{"fact", fact}}) : say.text("contradicts-values", {{"fact", fact}, {"values", values}}), ""});
  }
  for (auto* callout : {&conflict, &unknown})
    if (!callout->items.empty()) callouts.push_back(std::move(*callout));
  return callouts;
}

}  // namespace sheet
