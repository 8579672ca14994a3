#include <fmt/format.h>

#include <algorithm>

#include "clinical/names.h"
#include "report/columns.h"
#include "report/spoken.h"
#include "report/table.h"

namespace report {
namespace {

using clinical::CasePlan;
using clinical::Moved;
using clinical::name_of;
using clinical::Step;

struct Row {
  Moved moved;
  int count = 1;  // checks that moved alike
};

bool alike(const Moved& a, const Moved& b) {
  return a.step == Step::check_site && b.step == Step::check_site && a.site == b.site && a.by == b.by && a.because == b.because && a.status_from == b.status_from &&
         a.status_to == b.status_to && a.from.has_value() == b.from.has_value() && a.to.has_value() == b.to.has_value();
}

std::vector<Row> rows_of(const CasePlan& previous, const CasePlan& next) {
  std::vector<Row> rows;
  for (auto& one : clinical::moved(previous, next)) {
    if (!rows.empty() && alike(rows.back().moved, one)) ++rows.back().count;
    else rows.push_back({std::move(one), 1});
  }
  return rows;
}

std::string end_of(const words::Voice& v, const std::optional<clinical::Instant>& at, const std::optional<clinical::StepStatus>& status) {
  if (!status) return v.say("record.not-listed");
  const std::string term = v.term("status", name_of(*status));
  if (!at) return term;
  if (*status == clinical::StepStatus::expected) return v.words.time(*at, v.context);
  if (*status == clinical::StepStatus::blocked) return term + ", " + v.say(clinical::Reason{"when.blocked-until", {{"at", *at}}});
  return term + " " + v.words.time(*at, v.context);
}

std::string change_of(const words::Voice& v, const Moved& m) {
  const std::string from = end_of(v, m.from, m.status_from), to = end_of(v, m.to, m.status_to);
  if (m.from == m.to && m.from && m.status_from != m.status_to) return to;
  if (from != to) return from + " -> " + to;
  if (m.by) return v.say("record.planned");
  return m.why ? v.say(*m.why) : std::string();
}

std::string delta_of(const std::optional<clinical::minutes>& by) { return by ? fmt::format("{:+} min", by->count()) : std::string(); }

// Facts new in the basis; else what had just arrived; else what is gone from it (named from the plan before); else time alone.
std::string cause_of(const words::Voice& v, const CasePlan& previous, const CasePlan& next, const Moved& m, const std::vector<clinical::Source>& arrived) {
  if (!m.because.empty()) return fact_names(v, next, m.because);
  if (!arrived.empty()) return fact_names(v, next, arrived);
  if (!m.gone.empty()) return v.say("record.without", {{"facts", fact_names(v, previous, m.gone)}});
  return v.say("record.clock");
}

std::string name_of_row(const words::Voice& v, const CasePlan& next, const Row& row) {
  clinical::Milestone m;
  m.step = row.moved.step;
  m.ordinal = row.count > 1 || m.step == Step::check_site ? 0 : row.moved.ordinal;  // the time says which check
  std::string name = words::step_name(v, m);
  if (row.count > 1) name += " x" + std::to_string(row.count);
  if (next.sites.size() > 1 && !row.moved.site.empty()) name = words::where(v, next, {row.moved.site}) + ": " + name;
  return name;
}

}  // namespace

std::string moved_table(const CasePlan& previous, const CasePlan& next, const words::Voice& v) {
  Columns columns({32, 22, 9}, 2);
  for (const auto& row : rows_of(previous, next))
    columns.add({name_of_row(v, next, row), change_of(v, row.moved), delta_of(row.moved.by), cause_of(v, previous, next, row.moved, {})});
  return columns.take();
}

std::vector<std::string> moved_lines(const CasePlan& previous, const CasePlan& next, const words::Voice& v, const std::vector<clinical::Source>& arrived) {
  std::vector<std::string> lines;
  for (const auto& row : rows_of(previous, next)) {
    const std::string change = change_of(v, row.moved), delta = delta_of(row.moved.by);
    const std::string_view between = change.empty() || delta.empty() ? "" : ", ";
    lines.push_back(fmt::format("{}: {}{}{} ({})", name_of_row(v, next, row), change, between, delta, cause_of(v, previous, next, row.moved, arrived)));
  }
  return lines;
}

}  // namespace report
