// What the tests of a sheet's lines ask of them.
#pragma once

#include <algorithm>
#include <string>
#include <string_view>

#include "sheet/say.h"
#include "sheet_support.h"

namespace sheet {

inline SheetLines lines(const Case& c) { return lines_of(c.input(), fonts()); }

inline std::string clock_time(const Case& c, Instant at) {
  const SheetInput in = c.input();
  return Say(in).hour(at, words::Format::up);
}

inline const Section* section(const SheetLines& lines, std::string_view title) {
  const auto found = std::ranges::find_if(lines.sections, [&](const Section& s) { return s.title.starts_with(title); });
  return found == lines.sections.end() ? nullptr : &*found;
}

}  // namespace sheet
