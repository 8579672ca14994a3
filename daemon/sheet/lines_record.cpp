#include <algorithm>

#include "clinical/names.h"
#include "clinical/phrases.h"
#include "sheet/lines_parts.h"

namespace sheet {
namespace {

using clinical::Step;
using clinical::StepStatus;

constexpr std::size_t kSpareChecks = 3, kLogRows = 6, kLogRowsAfter = 3;

std::vector<Cell> blanks(std::size_t n) { return std::vector<Cell>(n, Cell{"", "", Mark::none, false, true}); }

Row with_blanks(Cell first, std::size_t n) {
  Row row{{std::move(first)}};
  const auto rest = blanks(n);
  row.cells.insert(row.cells.end(), rest.begin(), rest.end());
  return row;
}

Table check_table(const Say& say) {
  Table table;
  for (const auto& [key, share] : {std::pair{"column.due", 1.35}, {"column.done", 0.95}, {"column.pressure", 1.0}, {"column.heart-rate", 0.7}, {"column.groin", 1.55},
                                   {"column.swelling", 1.15}, {"column.foot", 1.05}, {"column.limb", 1.2}, {"column.initials", 0.95}})
    table.columns.push_back({say.label(key), share});
  return table;
}

// The checks after the walk have their place on the sheet that is made at T0.
bool is_open_check(const clinical::SitePlan& site, const clinical::Milestone& m) {
  return (m.step == Step::check_site || (site.t0 && m.step == Step::check_after_walk)) && (m.status == StepStatus::due || m.status == StepStatus::expected);
}

Row check_row(const Say& say, const clinical::Milestone& m) {
  Cell due{m.earliest ? say.time(*m.earliest) : m.after_t0 ? "+ " + say.length(*m.after_t0) : say.label("after-walk"), "", Mark::box, true};
  if (m.late) due.note = say.label("late-now");
  if (m.step == Step::check_after_walk) due.note = say.listed(due.note, say.label("after-walk"));
  return with_blanks(std::move(due), 8);
}

std::string counts(const Say& say, const clinical::SitePlan& site) {
  std::int64_t done = 0, missed = 0;
  for (const auto& m : site.milestones) {
    if (m.step != Step::check_site && m.step != Step::check_after_walk) continue;
    done += m.status == StepStatus::done;
    missed += m.status == StepStatus::cancelled;
  }
  return say.text("checks-so-far", {{"done", done}, {"missed", missed}});
}

Table log_table(const Say& say, std::size_t rows) {
  Table table;
  for (const auto& [key, share] : {std::pair{"column.time", 1.0}, {"column.mmhg", 1.0}, {"column.foot", 1.3}, {"column.bleeding", 1.6}, {"column.pressure", 1.1}, {"column.heart-rate", 0.8}, {"column.initials", 1.0}})
    table.columns.push_back({say.label(key), share});
  for (std::size_t i = 0; i < rows; ++i) table.rows.push_back({blanks(table.columns.size())});
  return table;
}

// "press firmly 12 min, press less firmly 5 min, press lightly 3 min: 20 min in all"
std::string phases(const Say& say, const clinical::SitePlan& site) {
  std::string text;
  for (const auto& m : site.milestones)
    if (m.planned && m.step >= Step::firm_compression && m.step <= Step::low_pressure_hold)
      text = say.listed(std::move(text), say.text("phase", {{"step", say.term("step", name_of(m.step))}, {"length", clinical::seconds{*m.planned}}}));
  const auto* end = find_step(site, Step::end_compression);
  if (text.empty() || !end || !end->planned) return say.label("hold-unknown");
  return say.text("phases", {{"phases", capital(text)}, {"total", clinical::seconds{*end->planned}}});
}

// A vein is pressed beside the pulse, an antegrade puncture below the skin hole.
const char* how_to_press(const clinical::SitePlan& site) {
  if (clinical::pressed_below(site)) return "compression-how-antegrade";
  return site.vessel == clinical::Vessel::vein ? "compression-how-vein" : "compression-how";
}

// "18:00 compression started; 18:10 pressure changed, 120 mmHg"; empty: nothing recorded.
std::string recorded(const Say& say, const clinical::SitePlan& site) {
  std::string text;
  for (const auto& event : site.compression_log) {
    std::string line = event.at ? say.time(event.at->latest) : say.label("time-unknown");
    line += " " + say.term("event", name_of(event.kind));
    if (event.pressure) line = say.listed(std::move(line), say.value(*event.pressure));
    text = joined(std::move(text), "; ", line);
  }
  return text;
}

}  // namespace

void add_checks(const Say& say, std::vector<Section>& sections) {
  for (const auto& site : say.in().plan.sites) {
    Table table = check_table(say);
    std::vector<const clinical::Milestone*> open;
    for (const auto& m : site.milestones)
      if (is_open_check(site, m) && !clinical::waits_for_emergency(say.in().plan, m)) open.push_back(&m);
    std::ranges::stable_sort(open, {}, [](const auto* m) { return m->earliest.value_or(Instant::max()); });
    for (const auto* m : open) table.rows.push_back(check_row(say, *m));
    if (say.in().plan.state != clinical::CaseState::finished)
      for (std::size_t i = 0; i < kSpareChecks; ++i) table.rows.push_back({blanks(table.columns.size())});
    if (table.rows.empty()) continue;
    Section section{say.title("checks", site), "", {}, std::move(table), {}};
    section.before.push_back(counts(say, site));
    section.before.push_back(say.label("checks-how"));
    sections.push_back(std::move(section));
  }
}

void add_compression(const Say& say, std::vector<Section>& sections) {
  for (const auto& site : say.in().plan.sites) {
    const auto& p = say.in().protocol;
    Section section{say.title(site.t0 ? "rebleed" : "compression", site), "", {}, log_table(say, site.t0 ? kLogRowsAfter : kLogRows), {}};
    if (!site.t0) {
      section.before.push_back(phases(say, site));
      section.before.push_back(say.text(how_to_press(site), {{"pulseless", p.pulseless_longest.span()}}));
    }
    if (const std::string log = recorded(say, site); !log.empty()) section.before.push_back(say.text("log-recorded", {{"log", log}}));
    const std::string again = say.text("rebleed-how", {{"hold", p.rebleed_hold.span()}, {"rest", p.rest_rebleed.span()}});
    (site.t0 ? section.before : section.after).push_back(again);
    section.after.push_back(say.label("rebleed-blanks"));
    sections.push_back(std::move(section));
  }
}

}  // namespace sheet
