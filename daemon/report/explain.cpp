#include "clinical/names.h"
#include "clinical/phrases.h"
#include "report/columns.h"
#include "report/spoken.h"
#include "report/table.h"
#include "report/timeline_parts.h"

namespace report {
namespace {

using clinical::CasePlan;
using clinical::name_of;

// "From: ...", nothing where no fact is known.
std::string from_facts(const words::Voice& v, const CasePlan& plan, const std::vector<clinical::Source>& facts, std::size_t indent) {
  const std::string names = fact_names(v, plan, facts, 12);
  return names.empty() ? std::string() : paragraph(v.say("record.facts", {{"facts", names}}), indent);
}

std::string basis_lines(const words::Voice& v, const CasePlan& plan, const std::vector<clinical::Basis>& bases) {
  std::string text;
  for (const auto& basis : bases) {
    if (const auto sum = v.say(basis.arithmetic); !sum.empty()) text += paragraph(sum, 6);
    if (!basis.rule.empty()) text += paragraph(v.say("record.rule", {{"rule", basis.rule}, {"source", basis.source}}), 6);
    text += from_facts(v, plan, basis.inputs, 6);
  }
  return text;
}

std::string gate_lines(const words::Voice& v, const CasePlan& plan, const clinical::Gate& gate) {
  std::string text = paragraph(v.term("gate", name_of(gate.name)) + ": " + v.term("gate-state", name_of(gate.state)) + ". " + v.say(gate.why), 4);
  if (gate.opens_at) text += paragraph(v.say("record.opens-at", {{"at", *gate.opens_at}}), 6);
  if (gate.expires_at) text += paragraph(v.say("record.expires-at", {{"at", *gate.expires_at}}), 6);
  if (!gate.value_seen.empty()) text += paragraph(v.say("record.value-seen", {{"value", gate.value_seen}}), 6);
  return text + basis_lines(v, plan, {{gate.rule, gate.source, gate.inputs, {}}});
}

std::string step_lines(const words::Voice& v, const CasePlan& plan, const clinical::Milestone& m) {
  std::string line = words::step_name(v, m) + ": " + v.say(when_phrase(m));
  if (m.planned) line += ", " + v.words.duration(*m.planned);
  if (m.latest) line += ", " + v.say("record.at-the-latest", {{"at", *m.latest}});
  std::string text = paragraph(line + ".", 4);
  if (m.why) text += paragraph(v.say(*m.why), 6);
  return text + basis_lines(v, plan, m.basis);
}

std::string drug_lines(const words::Voice& v, const CasePlan& plan) {
  std::string text;
  for (const auto& row : plan.agents) {
    std::string line = v.term("agent", name_of(row.agent));
    if (row.running) line += ": " + v.say("record.running");
    else if (row.last_given) line += ": " + v.say("record.last-given", {{"at", *row.last_given}});
    if (row.half_life) line += ", " + v.say("record.half-life", {{"length", clinical::seconds{*row.half_life}}});
    if (row.fraction_left) line += ", " + v.say("record.fraction", {{"fraction", rounded(*row.fraction_left * 100, 0)}});
    text += paragraph(line + ".", 4) + basis_lines(v, plan, row.basis);
  }
  if (plan.clearance)
    text += paragraph(v.say("record.clearance", {{"value", rounded(plan.clearance->millilitres_per_minute, 1)}}), 4) + basis_lines(v, plan, plan.clearance->basis);
  return text;
}

}  // namespace

std::string explain(const CasePlan& plan, const clinical::Protocol& protocol, clinical::Instant as_of, const words::Voice& v) {
  std::string text = paragraph(head_line(v, protocol.id, protocol.version, protocol.approved, as_of), 0);
  text += paragraph(person_line(plan), 0) + paragraph(plan.procedure.reference + (plan.title.empty() ? "" : ": " + plan.title), 2);
  text += paragraph(v.term("state", name_of(plan.state)) + ".", 2);
  for (const auto& alert : plan.alerts)
    text += paragraph(v.term("alert-level", name_of(alert.level)) + ": " + v.say(alert.why), 2) + from_facts(v, plan, alert.inputs, 4);
  for (const auto& point : words::open_points(v, plan)) text += paragraph(point, 2);
  for (const auto& site : plan.sites) {
    text += '\n' + paragraph(words::site_line(v, plan, site) + words::rebled_line(v, site), 2);
    if (const auto watch = words::watch_line(v, site); !watch.empty()) text += paragraph(watch, 4);
    for (const auto& gate : site.gates) text += gate_lines(v, plan, gate);
    if (const auto projection = words::projection_line(v, site); !projection.empty()) text += paragraph(projection, 4);
    for (const auto& milestone : site.milestones) text += step_lines(v, plan, milestone);
  }
  if (const auto drugs = drug_lines(v, plan); !drugs.empty()) text += '\n' + paragraph(v.say("record.drugs"), 2) + drugs;
  if (plan.next_change) text += '\n' + paragraph(v.say("record.next-change", {{"at", *plan.next_change}}), 2);
  return text + '\n' + paragraph(v.say("caution.supports"), 2) + paragraph(v.say("caution.projection"), 2);
}

}  // namespace report
