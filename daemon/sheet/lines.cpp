#include "sheet/lines.h"

#include "sheet/lines_parts.h"

namespace sheet {
namespace {

bool is_void(const SheetInput& in) { return !in.void_reason.empty() || in.plan.state == clinical::CaseState::withdrawn; }

void say_void(const Say& say, SheetLines& lines) {
  lines.foot.use_before = say.label("void-use");
  lines.void_title = say.label("void");
  // Which groin, in words as large as on the sheet that is void: what is to be taken away must be told from the other bed's.
  for (const auto& plate : plates_of(say)) lines.plates.push_back({plate.side, plate.size, {}, {}, {}});
  if (lines.plates.empty()) lines.plates.push_back({say.side(clinical::Side::unknown), {}, {}, {}, {}});
  if (const auto& voided = say.in().supersedes) lines.void_lines.push_back(say.text("void-which", {{"number", std::int64_t{voided->number}}, {"at", voided->at}}));
  lines.void_lines.push_back(say.in().void_reason.empty() ? say.text("void-withdrawn") : say.in().void_reason);
  lines.void_lines.push_back(say.text("void-remove"));
  lines.void_lines.push_back(say.text("void-bleeding"));
}

}  // namespace

SheetLines lines_of(const SheetInput& in, const Fonts& fonts) {
  const Say say(in);
  SheetLines lines;
  lines.head = head_of(say, fonts);
  lines.foot = foot_of(say);
  if (is_void(in)) {
    say_void(say, lines);
    return lines;
  }
  lines.alerts = alerts_of(say);
  lines.plates = plates_of(say);
  lines.figure = figure_of(say);
  lines.next = next_of(say);
  lines.flat = flat_of(say);
  lines.then = then_of(say);
  lines.unknown = unknown_of(say);
  lines.timeline = timeline_of(say);
  // The front answers what now; the next page is written on; then what is looked up.
  add_gates(say, lines.sections);
  const bool gates = !lines.sections.empty();
  if (!gates) add_clock(say, lines.sections);
  const std::size_t front = lines.sections.size();
  if (gates) add_clock(say, lines.sections);
  add_checks(say, lines.sections);
  add_compression(say, lines.sections);
  add_drugs(say, lines.sections);
  add_cautions(say, lines.sections);
  add_values(say, lines.sections);
  add_calls(say, lines.sections);
  add_reasons(say, lines.sections);
  if (front < lines.sections.size()) lines.sections[front].new_page = true;
  return lines;
}

}  // namespace sheet
