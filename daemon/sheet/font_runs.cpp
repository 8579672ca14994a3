#include <fribidi.h>

#include <algorithm>

#include "sheet/font_faces.h"

namespace sheet {
namespace {

// Nothing before Hebrew is written right to left.
bool may_turn(const std::u32string& text) {
  return std::ranges::any_of(text, [](char32_t c) { return c >= 0x590; });
}

std::vector<int> levels_of(const std::u32string& text, Direction base) {
  std::vector<int> levels(text.size(), 0);
  if (text.empty() || (base != Direction::right_to_left && !may_turn(text))) return levels;
  const auto size = static_cast<FriBidiStrIndex>(text.size());
  std::vector<FriBidiChar> letters(text.begin(), text.end());
  std::vector<FriBidiCharType> types(text.size());
  std::vector<FriBidiBracketType> brackets(text.size());
  std::vector<FriBidiLevel> found(text.size());
  fribidi_get_bidi_types(letters.data(), size, types.data());
  fribidi_get_bracket_types(letters.data(), size, types.data(), brackets.data());
  FriBidiParType direction = base == Direction::first_letter ? FRIBIDI_PAR_ON : base == Direction::left_to_right ? FRIBIDI_PAR_LTR : FRIBIDI_PAR_RTL;
  if (fribidi_get_par_embedding_levels_ex(types.data(), brackets.data(), size, &direction, found.data()) != 0)
    std::ranges::copy(found, levels.begin());
  return levels;
}

bool has_no_script(hb_script_t script) { return script == HB_SCRIPT_COMMON || script == HB_SCRIPT_INHERITED || script == HB_SCRIPT_UNKNOWN; }

// Spaces, digits and marks take the script of what stands before them, at the start of what follows.
std::vector<hb_script_t> scripts_of(const std::u32string& text) {
  auto* unicode = hb_unicode_funcs_get_default();
  std::vector<hb_script_t> scripts;
  for (const char32_t c : text) {
    const hb_script_t own = hb_unicode_script(unicode, c);
    scripts.push_back(has_no_script(own) && !scripts.empty() ? scripts.back() : own);
  }
  for (std::size_t i = scripts.size(); i-- > 1;)
    if (has_no_script(scripts[i - 1])) scripts[i - 1] = scripts[i];
  return scripts;
}

// Unicode Bidirectional Algorithm, rule L2: from the highest level to the lowest odd one, reverse what stands at that level or above.
void order_for_drawing(std::vector<Run>& runs) {
  int highest = 0;
  for (const Run& run : runs) highest = std::max(highest, run.level);
  for (int level = highest; level > 0; --level)
    for (auto from = runs.begin(); from != runs.end();) {
      from = std::find_if(from, runs.end(), [&](const Run& r) { return r.level >= level; });
      const auto to = std::find_if(from, runs.end(), [&](const Run& r) { return r.level < level; });
      std::reverse(from, to);
      from = to;
    }
}

}  // namespace

std::vector<Run> runs_of(const std::u32string& text, const std::vector<int>& faces, Direction direction) {
  const auto levels = levels_of(text, direction);
  const auto scripts = scripts_of(text);
  std::vector<Run> runs;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (runs.empty() || runs.back().level != levels[i] || runs.back().script != scripts[i] || runs.back().face != faces[i])
      runs.push_back({i, i, levels[i], scripts[i], faces[i]});
    runs.back().end = i + 1;
  }
  order_for_drawing(runs);
  return runs;
}

}  // namespace sheet
