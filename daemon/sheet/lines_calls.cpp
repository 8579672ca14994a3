#include "clinical/phrases.h"
#include "clinical/quantity.h"
#include "sheet/say.h"
#include "sheet/lines_parts.h"
#include "words/plan_words.h"

namespace sheet {
namespace {

using clinical::as_value;

Section list(std::string title, std::vector<std::string> lines) { return {std::move(title), "", std::move(lines), {}, {}}; }

bool any_high_watch(const clinical::CasePlan& plan) {
  for (const auto& site : plan.sites)
    if (site.high_watch) return true;
  return false;
}

/// The protocol says it as a setting: it stands with the step that it belongs to.
bool set_as_number(const clinical::Protocol& p, std::string_view key) {
  return (key == "pressure-full" && p.pressure_full) || (key == "pressure-partial" && p.pressure_partial) || (key == "pressure-low" && p.pressure_low);
}

/// What the hospital's own protocol says in words; what it does not say is named, so that nobody takes the gap for a rule.
Section local_rules(const Say& say) {
  std::vector<std::string> lines, unset;
  for (const auto& [key, text] : say.in().protocol.local) {
    const std::string label = say.label("local." + key);
    if (text.empty() && set_as_number(say.in().protocol, key)) continue;
    if (text.empty()) unset.push_back(label);
    else lines.push_back(label + ": " + text);
  }
  if (!unset.empty()) lines.push_back(say.text("local.unset", {{"what", words::joined(unset, say.in().words.label("list.comma"))}}));
  return list(say.label("local"), std::move(lines));
}

/// Whom the record names: said with the calls.
bool names_somebody(const clinical::Reason& caution) { return caution.code == "caution.contact" || caution.code == "caution.contact-no-number"; }

}  // namespace

void add_cautions(const Say& say, std::vector<Section>& sections) {
  const auto& words = say.in().words;
  std::vector<std::string> lines;
  for (const char* key : {"caution.flat", "caution.cough", "caution.orders", "caution.first-walk"}) lines.push_back(say.label(key));
  if (any_high_watch(say.in().plan)) lines.push_back(say.label("caution.high-watch"));
  for (const auto& caution : say.in().plan.cautions)
    if (!names_somebody(caution)) lines.push_back(say.reason(caution));
  for (const char* key : {"caution.clock", "caution.projection", "caution.missing"}) lines.push_back(words.text(key));
  if (!say.in().protocol.approved) lines.push_back(words.text("caution.not-approved"));
  if (say.in().plan.patient.test_data) lines.push_back(words.text("caution.test"));
  if (say.in().rehearsal) lines.push_back(words.text("caution.rehearsal"));
  sections.push_back(list(say.label("cautions"), std::move(lines)));
}

// In plain words; the time is that of the nurse's own sheet, and getting up is always with a nurse.
void add_patient(const Say& say, std::vector<Section>& sections) {
  const auto& plan = say.in().plan;
  if (plan.sites.empty()) return;
  std::vector<std::string> lines;
  const clinical::Milestone* latest = nullptr;
  bool walked = true, timed = true;
  for (const auto& site : plan.sites) {
    const auto* stand = find_step(site, clinical::Step::stand_and_walk);
    walked = walked && stand && stand->status == clinical::StepStatus::done;
    timed = timed && stand && !clinical::waits_for_emergency(plan, *stand) && site.t0 && stand->earliest && (stand->status == clinical::StepStatus::expected || stand->status == clinical::StepStatus::due);
    if (stand && stand->earliest && (!latest || *stand->earliest > *latest->earliest)) latest = stand;
  }
  if (!walked) {
    if (timed && latest->status == clinical::StepStatus::expected) lines.push_back(say.text("patient.bed", {{"at", *latest->earliest}}));
    else if (!timed) lines.push_back(say.label("patient.flat"));
    lines.push_back(say.label("patient.help"));
  }
  for (const char* key : {"patient.cough", "patient.ring"}) lines.push_back(say.label(key));
  if (walked)  // what counts at home is read once the patient is up
    for (const char* code : {"lines.home.1", "lines.home.2", "lines.home.3"}) lines.push_back(say.in().words.render(clinical::Reason{code, {}}, say.in().where));
  Section section{say.label("patient"), "", std::move(lines), {}, {}};
  section.large = true;
  sections.push_back(std::move(section));
}

void add_calls(const Say& say, std::vector<Section>& sections) {
  const auto& p = say.in().protocol;
  const words::Arguments limits{
      {"swelling", as_value(p.swelling_limit)}, {"swelling-large", as_value(p.alert_swelling_emergency)}, {"systolic-low", as_value(p.systolic_low)},
      {"systolic-very-low", as_value(p.alert_systolic_emergency)}, {"systolic-fall", as_value(p.alert_systolic_fall)}, {"systolic-high", as_value(p.systolic_close)},
      {"systolic-very-high", as_value(p.alert_systolic_urgent_high)}, {"systolic-raised", as_value(p.systolic_open_below)}, {"rate-low", as_value(p.heart_rate_low_open)},
      {"rate-very-low", as_value(p.alert_heart_rate_emergency)}, {"rate-high", as_value(p.alert_heart_rate_high)}, {"rate-pain", as_value(p.alert_heart_rate_bleed)},
      {"fall", as_value(p.alert_haemoglobin_urgent)}, {"fall-large", as_value(p.alert_haemoglobin_emergency)}, {"act", as_value(p.alert_act_urgent)},
      {"platelets", as_value(p.alert_platelets_gp)}, {"device", p.device_total.span()}, {"late", p.check_late.span()}, {"dwell", p.alert_sheath_dwell.span()}};
  Table table{{{say.label("column.level"), 1.0}, {say.label("column.sign"), 5.6}}, {}};
  for (const char* level : {"emergency", "urgent", "tell"})
    table.rows.push_back({{{say.label(std::string("level.") + level), "", Mark::none, true}, {say.text(std::string("call.") + level, limits), "", Mark::none}}});
  std::vector<std::string> whom;
  for (const auto& caution : say.in().plan.cautions)
    if (names_somebody(caution)) whom.push_back(say.reason(caution));
  Section section{say.label("calls"), "", std::move(whom), std::move(table), {}};
  sections.push_back(std::move(section));
}

void add_local(const Say& say, std::vector<Section>& sections) {
  if (!say.in().protocol.local.empty()) sections.push_back(local_rules(say));
}

}  // namespace sheet
