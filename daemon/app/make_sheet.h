#pragma once

#include <optional>
#include <string>

#include "app/rules.h"
#include "app/seams.h"
#include "clinical/plan.h"

namespace app {

struct SheetWish {
  const Rules& rules;
  const clinical::CasePlan& plan;
  std::string plan_hash;
  int number = 1;
  std::optional<int> supersedes = std::nullopt;
  std::optional<Millis> superseded_at = std::nullopt;  ///< when the sheet before was made
  Millis now = 0;
  bool test_data = false;
  bool is_void = false;                 ///< the case is withdrawn: a sheet that says so in very large type
};

/// The PDF's bytes: same wish, same bytes. What could not be drawn as it should be is told in `warning`.
struct MadeSheet {
  std::string pdf;
  std::string warning;
};
MadeSheet make_sheet(const SheetWish&);
/// Letters of a name that no font has ("U+F0000, U+F0001"): the sheet then shows the record number in its place. Empty: it can be printed.
std::string unprintable_in(const std::string& name);

}  // namespace app
