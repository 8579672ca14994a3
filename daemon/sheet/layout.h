// How the sheet stands on one paper: sizes and the order of its blocks, from templates/layout/<paper>.toml. Lengths in points (1/72 inch).
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "tables/fault.h"

namespace sheet {

/// What a sheet is made of. The head with the patient and the foot with the cautions stand on every page and are not listed.
enum class Block {
  alerts,          ///< white on black: what is urgent now
  punctures,       ///< which groin, sheath, state; the drawn figure
  now,             ///< the next act and its time, and until when to stay in bed
  contradictions,  ///< what the record says twice
  unknown,         ///< what is not recorded and must be asked
  timeline,        ///< the picture of the day
  gates,           ///< may the sheath come out now, and why not
  steps,           ///< every step with its clock and room for the actual time
  checks,          ///< the grid of checks, filled in by hand
  compression,     ///< the log of compression, filled in by hand, and the row for a rebleed
  drugs,
  cautions,
  values,          ///< laboratory and measurements
  calls,           ///< when to call whom
  local,           ///< what the local protocol says in words
  patient,         ///< to the patient, in plain words and larger
  reasons          ///< why so long: each added minute and hour
};

/// One row of blocks: `left` alone over the whole width, or two columns where both fit on a page, else one below the other.
struct BlockRow {
  std::vector<Block> left, right;
};

struct Layout {
  std::string paper;        ///< "A4"
  double width = 0, height = 0, margin = 0;
  double gutter = 0;        ///< between two columns
  double body = 0, note = 0;
  double small = 0;         ///< the foot and nothing else
  double head = 0, title = 0;
  double name = 0, side = 0, big_time = 0, big_act = 0, plate = 0;
  double write_in = 0;      ///< height of a row for handwriting
  double figure_share = 0;  ///< of the width, for the figure beside one puncture
  double now_share = 0;     ///< of the width, for the next act; the rest is "stay in bed"
  double code_module = 0;   ///< width of the smallest element of a code with two dimensions
  double bar_module = 0;    ///< of a bar code
  std::vector<BlockRow> front, back;
  std::vector<Block> front_without_gates;  ///< of `back`: these come to the front once nothing has to open any more

  double left() const { return margin; }
  double right() const { return width - margin; }
  double room() const { return width - 2 * margin; }
};

struct LoadedLayout {
  std::optional<Layout> layout;
  std::vector<tables::Fault> faults;  ///< with line and column; `layout` is there when there are none
};

/// Faults are: an unknown key or block, a block that is missing or stands twice, a size that cannot be read at the bed (text under 8, foot under 7), a page that
/// is no paper.
LoadedLayout load_layout(const std::filesystem::path& templates, std::string_view paper);

/// "big-words" as the files spell them.
std::string_view name_of(Block);

}  // namespace sheet
