// The liver as argatroban needs it.
#pragma once

#include <optional>

#include "clinical/newest.h"

namespace clinical {

struct Liver {
  const Risk* disease = nullptr;  ///< recorded; null: not
  std::optional<Newest> high;     ///< of the two transaminases the one whose newest value lies (or may lie) at or over gate.argatroban.transaminase
  bool tested = false;            ///< any liver test is on file
  bool impaired() const { return disease || high; }
};
Liver liver_of(const Evidence&);

}  // namespace clinical
