#include "report/table.h"

#include "clinical/names.h"
#include "clinical/phrases.h"
#include "report/columns.h"
#include "report/spoken.h"

namespace report {
namespace {

using clinical::CasePlan;
using clinical::GateState;
using clinical::Milestone;
using clinical::name_of;
using clinical::SitePlan;
using clinical::Step;

std::string cautions(const words::Voice& v, const CasePlan& plan) {
  std::string text;
  for (const auto& alert : plan.alerts) text += paragraph(v.term("alert-level", name_of(alert.level)) + ": " + v.say(alert.why), 2);
  for (const auto& caution : plan.cautions) text += paragraph(v.say(caution), 2);
  const auto points = words::open_points(v, plan);
  if (!points.empty()) text += paragraph(v.say("record.missing-heading"), 2);
  for (const auto& point : points) text += paragraph(point, 4);
  return text;
}

// A row, and below it why it is so.
void add_row(std::string& text, const std::vector<std::string>& cells, const std::string& why, std::string& last_why) {
  Columns row({38, 16}, 4);
  row.add(cells);
  text += row.take();
  if (!why.empty() && why != last_why) text += paragraph(why, 8);
  last_why = why;
}

std::string gate_rows(const words::Voice& v, const SitePlan& site) {
  std::string text, last_why;
  for (const auto& gate : site.gates) {
    std::string until = gate.opens_at ? v.say("record.opens-at", {{"at", *gate.opens_at}}) : std::string();
    if (gate.state == GateState::open && gate.expires_at) until = v.say("record.expires-at", {{"at", *gate.expires_at}});
    add_row(text, {v.term("gate", name_of(gate.name)), v.term("gate-state", name_of(gate.state)), until}, v.say(gate.why), last_why);
  }
  return text;
}

// Checks of one status in a row say the same thing many times over.
std::size_t run_of_checks(const std::vector<Milestone>& all, std::size_t from) {
  std::size_t end = from + 1;
  if (all[from].step != Step::check_site || !all[from].earliest) return end;
  while (end < all.size() && all[end].step == Step::check_site && all[end].status == all[from].status && all[end].earliest && all[end].late == all[from].late) ++end;
  return end;
}

std::string step_rows(const words::Voice& v, const SitePlan& site) {
  std::string text, last_why;
  for (std::size_t i = 0; i < site.milestones.size();) {
    const Milestone& m = site.milestones[i];
    const std::size_t end = run_of_checks(site.milestones, i);
    std::string status = v.term("status", name_of(m.status));
    if (m.late) status += " " + v.say("record.late");
    if (end - i > 2) {
      const Milestone& last = site.milestones[end - 1];
      add_row(text, {v.say("record.checks", {{"n", static_cast<std::int64_t>(end - i)}}), status, v.say("record.from-to", {{"from", *m.earliest}, {"to", *last.earliest}})},
              {}, last_why);
      i = end;
      continue;
    }
    add_row(text, {words::step_name(v, m), status, v.say(when_phrase(m))}, words::step_reason(v, m), last_why);
    ++i;
  }
  return text;
}

std::string case_table(const words::Voice& v, const CasePlan& plan) {
  std::string text = paragraph(person_line(plan), 0) + paragraph(plan.procedure.reference + (plan.title.empty() ? "" : ": " + plan.title), 2);
  text += paragraph(v.term("state", name_of(plan.state)), 2);
  text += cautions(v, plan);
  if (const auto next = words::next_act(v, plan); !next.empty()) text += paragraph(next, 2);
  if (plan.up_at && clinical::open_emergency(plan)) text += paragraph(v.say("record.up-after-emergency"), 2);
  else if (plan.up_at) text += paragraph(v.say("record.up-at", {{"at", *plan.up_at}}), 2);
  if (plan.valid_until) text += paragraph(v.say("record.valid-until", {{"at", *plan.valid_until}}), 2);
  for (const auto& site : plan.sites) {
    std::string line = words::site_line(v, plan, site);
    if (site.sheath_out) line += " " + v.say("record.sheath-out", {{"at", *site.sheath_out}});
    line += words::rebled_line(v, site);
    if (site.t0) line += " " + v.say("record.t0", {{"at", *site.t0}});
    text += '\n' + paragraph(line, 2) + gate_rows(v, site);
    if (const auto projection = words::projection_line(v, site); !projection.empty()) text += paragraph(projection, 4);
    if (!site.gates.empty() && !site.milestones.empty()) text += '\n';
    text += step_rows(v, site);
  }
  return text;
}

}  // namespace

std::string table(const std::vector<CasePlan>& plans, const clinical::Protocol& protocol, clinical::Instant as_of, const words::Voice& voice) {
  std::string text = paragraph(head_line(voice, protocol.id, protocol.version, protocol.approved, as_of), 0);
  if (plans.empty()) text += paragraph(voice.say("record.no-case"), 0);
  for (const auto& plan : plans) text += '\n' + case_table(voice, plan);
  return text;
}

}  // namespace report
