#include <algorithm>
#include <set>

#include "clinical/change.h"
#include "clinical/names.h"
#include "clinical/phrases.h"
#include "sheet/lines_parts.h"

namespace sheet {
namespace {

using clinical::GateState;
using clinical::Milestone;
using clinical::Step;
using clinical::StepStatus;

bool on_the_clock(const Milestone& m) {
  switch (m.step) {
    case Step::provide_missing: case Step::check_site: case Step::check_after_walk: case Step::print_sheet: case Step::check_sheet: return false;
    default: return m.status != StepStatus::cancelled;
  }
}

// What is left of a hold that is over is its end.
bool is_past_phase(const clinical::SitePlan& site, const Milestone& m) {
  return site.t0 && m.status == StepStatus::done && m.step >= Step::firm_compression && m.step < Step::end_compression;
}

// A part of the hold whose next part has begun by the clock: nobody is told to do both now.
bool is_passed(const clinical::SitePlan& site, const Milestone& m) {
  if (m.status != StepStatus::due || m.step < Step::firm_compression || m.step >= Step::end_compression) return false;
  return std::ranges::any_of(site.milestones, [&](const Milestone& next) { return next.step > m.step && next.step <= Step::end_compression && next.status == StepStatus::due; });
}

Mark mark_of(StepStatus status) {
  switch (status) {
    case StepStatus::done: return Mark::done;
    case StepStatus::due: return Mark::due;
    case StepStatus::expected: return Mark::expected;
    default: return Mark::blocked;
  }
}

bool waits(const Say& say, const Milestone& m) { return clinical::waits_for_emergency(say.in().plan, m); }

Cell when_cell(const Say& say, const Milestone& m, bool passed) {
  Cell cell;
  cell.strong = true;
  if (waits(say, m)) {
    cell.text = say.label("held");
    return cell;
  }
  if (m.status == StepStatus::done) cell.text = m.actual ? say.time(*m.actual) : say.label("done-untimed");
  else if (m.step == Step::call_clinician && m.status == StepStatus::due) cell.text = say.label("now");
  else if (m.earliest) cell.text = say.time(*m.earliest, words::Format::up);
  // A projection gives no clock: its sentence stands with the step.
  else cell.text = say.label(m.status == StepStatus::blocked ? "held" : "after-t0-only");
  if (passed) cell.note = m.earliest && m.planned ? say.text("phase-until", {{"at", *m.earliest + *m.planned}}) : std::string{};
  else if (m.status == StepStatus::due && m.step != Step::call_clinician) cell.note = say.label(m.late ? "late-now" : "now");
  return cell;
}

// The clock that the row shows.
std::optional<Instant> shown_time(const Say& say, const Milestone& m) {
  if (waits(say, m)) return std::nullopt;
  if (m.status == StepStatus::done) return m.actual;
  return m.earliest ? m.earliest : m.status == StepStatus::blocked ? m.expected : std::nullopt;
}

// Rows that show a clock stand in order of time, and so do those that show a length after T0; every other keeps its place in the course.
std::vector<const Milestone*> by_time(const Say& say, const clinical::SitePlan& site) {
  std::vector<const Milestone*> rows;
  for (const auto& m : site.milestones) rows.push_back(&m);
  const auto sort_where = [&](auto&& belongs, auto&& key) {
    std::vector<std::size_t> places;
    for (std::size_t i = 0; i < rows.size(); ++i)
      if (on_the_clock(*rows[i]) && belongs(*rows[i])) places.push_back(i);
    std::vector<const Milestone*> sorted;
    for (const auto i : places) sorted.push_back(rows[i]);
    std::ranges::stable_sort(sorted, {}, key);
    for (std::size_t i = 0; i < places.size(); ++i) rows[places[i]] = sorted[i];
  };
  sort_where([&](const Milestone& m) { return shown_time(say, m).has_value(); }, [&](const Milestone* m) { return *shown_time(say, *m); });
  sort_where([&](const Milestone& m) { return !shown_time(say, m) && m.after_t0; }, [](const Milestone* m) { return *m->after_t0; });
  return rows;
}

Row clock_row(const Say& say, const clinical::SitePlan& site, const Milestone& m) {
  Row row;
  const bool passed = is_passed(site, m);
  const bool withheld = waits(say, m);
  const std::string why = withheld ? say.label("after-emergency") : m.status == StepStatus::done ? std::string{} : say.reason(m.why);
  row.cells.push_back({say.step(m), why, withheld ? Mark::blocked : passed ? Mark::expected : mark_of(m.status), m.status == StepStatus::due && !passed && !withheld});
  row.cells.push_back(when_cell(say, m, passed));
  const bool length = m.planned && !clinical::is_patient_step(m.step);
  row.cells.push_back({m.after_t0 && !withheld ? "+ " + say.length(*m.after_t0) : std::string{}, "", Mark::none});
  row.cells.push_back({length ? say.length(*m.planned) : std::string{}, "", Mark::none});
  row.cells.push_back({m.actual ? say.time(*m.actual) : std::string{}, "", Mark::none, false, !m.actual});
  return row;
}

// A reason that holds for several steps in a row stands with the first of them.
void say_once(Table& table) {
  std::string last;
  for (auto& row : table.rows)
    if (const std::string note = row.cells.front().note; note == last) row.cells.front().note.clear();
    else last = note;
}

std::string state_word(const Say& say, GateState state) { return say.label("gate." + std::string(name_of(state))); }

Mark mark_of(GateState state) { return state == GateState::open ? Mark::yes : state == GateState::closed ? Mark::no : Mark::unknown; }

// How old what the gate was judged by was when the sheet was made: the newest instant that its sentence names and that has passed.
std::string age_of(const Say& say, const clinical::Gate& gate) {
  std::optional<Instant> newest;
  for (const auto& [name, value] : gate.why.arguments) {
    if (name != "at" && name != "drawn" && name != "stated") continue;
    const auto* at = std::get_if<Instant>(&value);
    if (at && *at <= say.in().as_of && (!newest || *at > *newest)) newest = *at;
  }
  return newest ? say.text("age", {{"length", std::chrono::duration_cast<clinical::seconds>(std::chrono::floor<clinical::minutes>(say.in().as_of - *newest))}}) : std::string{};
}

Row gate_row(const Say& say, const clinical::Gate& gate) {
  const bool open = gate.state == GateState::open;
  std::string until;
  if (open && gate.expires_at) until = say.text("holds-until", {{"at", *gate.expires_at}});
  if (gate.opens_at) until = say.text("opens-at", {{"at", *gate.opens_at}});
  return {{{state_word(say, gate.state), "", mark_of(gate.state), !open},
           {capital(say.term("gate", name_of(gate.name))), "", Mark::none, !open},
           {say.reason(gate.why), "", Mark::none},
           {say.listed(until, age_of(say, gate)), "", Mark::none}}};
}

}  // namespace

void add_clock(const Say& say, std::vector<Section>& sections) {
  std::set<Step> shown;
  const auto& sites = say.in().plan.sites;
  for (const auto& site : sites) {
    Table table{{{say.label("column.step"), 4.2}, {say.label("column.clock"), 1.5}, {say.label("column.after-t0"), 1.1}, {say.label("column.length"), 0.9}, {say.label("column.actual"), 1.1}}, {}};
    for (const auto* step : by_time(say, site)) {
      const auto& m = *step;
      if (!on_the_clock(m) || is_past_phase(site, m) || (clinical::is_shared_step(m.step) && m.step != Step::draw_coagulation && shown.contains(m.step))) continue;
      // The patient's steps are rows of the last site's table: they come after everything at any site.
      if (clinical::is_patient_step(m.step) && &site != &sites.back()) continue;
      shown.insert(m.step);
      // A call that is due comes before the course.
      const bool first = m.step == Step::call_clinician && m.status == StepStatus::due;
      table.rows.insert(first ? table.rows.begin() : table.rows.end(), clock_row(say, site, m));
    }
    if (table.rows.empty()) continue;
    say_once(table);
    Section section{say.title("clock", site), "", {}, std::move(table), {}};
    if (!site.t0) section.before.push_back(say.label("t0-line"));
    sections.push_back(std::move(section));
  }
}

void add_gates(const Say& say, std::vector<Section>& sections) {
  for (const auto& site : say.in().plan.sites) {
    if (clinical::is_pressed_or_out(site) || site.gates.empty()) continue;
    const auto* removal = find_step(site, Step::remove_sheath);
    const bool all = removal && removal->status == StepStatus::due;
    Table table{{{say.label("column.open"), 1.25}, {say.label("column.gate"), 1.6}, {say.label("column.why"), 3.35}, {say.label("column.holds"), 1.75}}, {}};
    for (const auto& gate : site.gates) table.rows.push_back(gate_row(say, gate));
    Section section{say.title("pull", site), say.label(all ? "pull-yes" : "pull-no"), {}, std::move(table), {say.label("pull-signatures")}};
    sections.push_back(std::move(section));
  }
}

}  // namespace sheet
