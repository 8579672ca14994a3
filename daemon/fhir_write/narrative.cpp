#include "fhir_write/narrative.h"

#include <algorithm>

#include "clinical/change.h"
#include "clinical/names.h"
#include "clinical/phrases.h"
#include "fhir_write/elements.h"

namespace fhir_write {
namespace {

using clinical::CasePlan;
using clinical::GateState;
using clinical::Milestone;
using clinical::name_of;
using clinical::SitePlan;

std::string row(std::initializer_list<std::string> cells, const char* cell = "td") {
  std::string text = "<tr>";
  for (const auto& one : cells) text += std::string("<") + cell + ">" + escaped(one) + "</" + cell + ">";
  return text + "</tr>";
}

std::string heading(const WriterContext& context, std::initializer_list<const char*> columns) {
  std::string text = "<thead><tr>";
  for (const char* column : columns) text += "<th>" + escaped(say(context, std::string("record.column.") + column)) + "</th>";
  return text + "</tr></thead>";
}

std::string step_row(const WriterContext& context, const CasePlan& plan, const SitePlan& site, const Milestone& m) {
  const bool shared = clinical::is_shared_step(m.step);
  const std::string where = words::where(voice(context), plan, shared ? words::site_keys(plan) : std::vector{site.key});
  std::string status = term(context, "status", name_of(m.status));
  if (m.late) status += " - " + say(context, "record.late");
  return row({step_name(voice(context), m), where, say(context, when_phrase(m)), status, step_reason(voice(context), m)});
}

// The patient's steps stand once, with the last site.
std::string steps(const WriterContext& context, const CasePlan& plan) {
  std::string text = "<table>" + heading(context, {"step", "side", "time", "status", "reason"}) + "<tbody>";
  for (const auto& site : plan.sites)
    for (const auto& m : site.milestones)
      if (!clinical::is_shared_step(m.step) || &site == &plan.sites.back()) text += step_row(context, plan, site, m);
  return text + "</tbody></table>";
}

bool has_steps(const CasePlan& plan) {
  return std::ranges::any_of(plan.sites, [](const SitePlan& site) { return !site.milestones.empty(); });
}

std::string gates(const WriterContext& context, const CasePlan& plan) {
  std::string rows;
  for (const auto& site : plan.sites)
    for (const auto& gate : site.gates) {
      std::string until = gate.opens_at ? say(context, "record.opens-at", {{"at", *gate.opens_at}}) : std::string();
      if (gate.state == GateState::open && gate.expires_at) until = say(context, "record.expires-at", {{"at", *gate.expires_at}});
      rows += row({term(context, "gate", name_of(gate.name)), words::where(voice(context), plan, {site.key}), term(context, "gate-state", name_of(gate.state)), until,
                   say(context, gate.why)});
    }
  if (rows.empty()) return {};
  return "<h3>" + escaped(say(context, "record.gates")) + "</h3><table>" + heading(context, {"gate", "side", "gate-state", "until", "reason"}) + "<tbody>" + rows +
         "</tbody></table>";
}

std::string missing(const WriterContext& context, const CasePlan& plan) {
  if (plan.missing.empty() && plan.conflicts.empty()) return {};
  std::string text = "<h1>" + escaped(say(context, "record.missing-heading")) + "</h1>";
  for (const auto& point : words::open_points(voice(context), plan)) text += "<h2>" + escaped(point) + "</h2>";
  return text;
}

std::string alerts(const WriterContext& context, const CasePlan& plan) {
  std::string items;
  for (const auto& alert : plan.alerts)
    items += "<li><b>" + escaped(term(context, "alert-level", name_of(alert.level)) + ": " + say(context, alert.why)) + "</b></li>";
  return items.empty() ? std::string() : "<h2>" + escaped(say(context, "record.alerts")) + "</h2><ul>" + items + "</ul>";
}

std::string site_lines(const WriterContext& context, const CasePlan& plan) {
  std::string text;
  for (const auto& site : plan.sites) {
    std::string line = words::site_line(voice(context), plan, site);
    if (site.sheath_out) line += " " + say(context, "record.sheath-out", {{"at", *site.sheath_out}});
    if (site.t0) line += " " + say(context, "record.t0", {{"at", *site.t0}});
    if (site.high_watch) line += " " + say(context, "record.high-watch");
    text += paragraph(line) + paragraph(words::projection_line(voice(context), site));
  }
  return text;
}

std::string small_print(const WriterContext& context, const CasePlan& plan) {
  std::string text = plan.valid_until ? paragraph(say(context, "record.valid-until", {{"at", *plan.valid_until}}), true) : std::string();
  for (const char* caution : {"caution.supports", "caution.look", "caution.projection", "caution.missing"}) text += paragraph(say(context, caution));
  text += paragraph(say(context, "record.made-from", {{"protocol", context.protocol.id},
                                                      {"version", context.protocol.version},
                                                      {"hash", context.protocol.sha256.substr(0, 12)},
                                                      {"plan", context.plan_hash.substr(0, 12)}}));
  return text;
}

}  // namespace

std::string plan_title(const WriterContext& context, const CasePlan& plan) {
  const auto keys = words::site_keys(plan);
  return say(context, "record.plan-title", {{"where", words::where(voice(context), plan, keys)}, {"sheath", words::sheaths(voice(context), plan, keys)}});
}

std::string plan_summary(const WriterContext& context, const CasePlan& plan) {
  std::string text = term(context, "state", name_of(plan.state)) + ".";
  const auto add = [&](const std::string& sentence) {
    if (!sentence.empty()) text += " " + sentence;
  };
  add(words::next_act(voice(context), plan));
  add(words::joined(words::open_points(voice(context), plan), " "));
  add(more_follow(context));
  add(in_other_hands(context));
  if (plan.valid_until) add(say(context, "record.valid-until", {{"at", *plan.valid_until}}));
  add(standing_words(context));
  return text;
}

std::string timetable(const WriterContext& context, const CasePlan& plan) {
  std::string text = paragraph(standing_words(context), true) + paragraph(plan_title(context, plan), true);
  text += missing(context, plan) + alerts(context, plan);
  text += paragraph(term(context, "state", name_of(plan.state)), true) + paragraph(words::next_act(voice(context), plan), true);
  if (plan.up_at && clinical::open_emergency(plan)) text += paragraph(say(context, "record.up-after-emergency"));
  else if (plan.up_at) text += paragraph(say(context, "record.up-at", {{"at", *plan.up_at}}));
  text += paragraph(more_follow(context), true) + paragraph(in_other_hands(context), true) + site_lines(context, plan);
  if (has_steps(plan)) text += steps(context, plan);
  text += gates(context, plan);
  return text + small_print(context, plan);
}

}  // namespace fhir_write
