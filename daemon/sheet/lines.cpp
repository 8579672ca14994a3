#include "sheet/lines.h"

#include "clinical/phrases.h"
#include "sheet/lines_parts.h"

namespace sheet {
namespace {

bool is_void(const SheetInput& in) { return !in.void_reason.empty() || in.plan.state == clinical::CaseState::withdrawn; }

void say_void(const Say& say, SheetLines& lines) {
  lines.foot.use_before = say.label("void-use");
  lines.void_title = say.label("void");
  if (const auto& voided = say.in().supersedes) lines.void_lines.push_back(say.text("void-which", {{"number", std::int64_t{voided->number}}, {"at", voided->at}}));
  // Which groin, so that what is to be taken away is told from the other bed's; as what the void sheet says, not as what is so.
  for (const auto& plate : plates_of(say)) lines.void_lines.push_back(say.text("void-said", {{"side", plate.side}, {"size", plate.size}}));
  if (say.in().plan.sites.empty()) lines.void_lines.push_back(say.text("void-said", {{"side", say.side(clinical::Side::unknown)}, {"size", say.label("size-unknown")}}));
  lines.void_lines.push_back(say.in().void_reason.empty() ? say.text("void-withdrawn") : say.in().void_reason);
  lines.void_lines.push_back(say.text("void-remove"));
  lines.void_lines.push_back(say.label("void-flat"));
  lines.void_lines.push_back(say.text("void-bleeding", {{"press", clinical::press_term(say.in().plan, {})}}));
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
  using Add = void (*)(const Say&, std::vector<Section>&);
  for (const auto& [block, add] : {std::pair<Block, Add>{Block::gates, add_gates}, {Block::steps, add_clock}, {Block::checks, add_checks}, {Block::compression, add_compression},
                                   {Block::drugs, add_drugs}, {Block::cautions, add_cautions}, {Block::values, add_values}, {Block::calls, add_calls},
                                   {Block::local, add_local}, {Block::patient, add_patient}, {Block::reasons, add_reasons}}) {
    const std::size_t from = lines.sections.size();
    add(say, lines.sections);
    for (std::size_t i = from; i < lines.sections.size(); ++i) lines.sections[i].block = block;
  }
  return lines;
}

}  // namespace sheet
