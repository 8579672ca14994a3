#include "clinical/quantity.h"
#include "sheet/lines_parts.h"

namespace sheet {
namespace {

using clinical::as_value;

Section list(std::string title, std::vector<std::string> lines) { return {std::move(title), "", std::move(lines), {}, {}, Column::left}; }

bool any_high_watch(const clinical::CasePlan& plan) {
  for (const auto& site : plan.sites)
    if (site.high_watch) return true;
  return false;
}

}  // namespace

void add_cautions(const Say& say, std::vector<Section>& sections) {
  const auto& words = say.in().words;
  std::vector<std::string> lines;
  for (const char* key : {"caution.flat", "caution.cough", "caution.orders", "caution.first-walk"}) lines.push_back(say.label(key));
  if (any_high_watch(say.in().plan)) lines.push_back(say.label("caution.high-watch"));
  for (const char* key : {"caution.clock", "caution.projection", "caution.missing"}) lines.push_back(words.text(key));
  if (!say.in().protocol.approved) lines.push_back(words.text("caution.not-approved"));
  if (say.in().plan.patient.test_data) lines.push_back(words.text("caution.test"));
  if (say.in().rehearsal) lines.push_back(words.text("caution.rehearsal"));
  sections.push_back(list(say.label("cautions"), std::move(lines)));
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
  Section section{say.label("calls"), "", {}, std::move(table), {}};
  sections.push_back(std::move(section));
}

}  // namespace sheet
