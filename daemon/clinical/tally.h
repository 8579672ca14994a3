// A length of time with the line of arithmetic that made each part of it: base, cap, floors, then adds, in that order.
#pragma once

#include <vector>

#include "clinical/plan.h"
#include "clinical/protocol.h"

namespace clinical {

class Tally {
 public:
  /// A line that sets the value.
  void start(minutes value, const Setting& setting, Reason why, std::vector<Source> inputs = {});
  /// At most `setting`; a line only where it changes the value.
  void cap(const Setting& setting, const char* code);
  /// At least `setting`; a line in any case, so that the floor is seen to have been looked at.
  void raise_to(const Setting& setting, Reason why, std::vector<Source> inputs = {});
  void raise_to(minutes value, const Setting& setting, Reason why, std::vector<Source> inputs = {});
  /// At least `value`, because somebody ordered it: no setting stands behind it.
  void raise_to_order(minutes value, std::string_view rule, Reason why, std::vector<Source> inputs);
  void add(minutes amount, const Setting& setting, Reason why, std::vector<Source> inputs = {});

  minutes value() const { return value_; }
  const std::vector<Basis>& lines() const { return lines_; }
  std::vector<Basis> take() { return std::move(lines_); }

 private:
  void line(const Setting& setting, Reason why, std::vector<Source> inputs);
  minutes value_{};
  std::vector<Basis> lines_;
};

/// "@agent.heparin": a string argument that names a term of templates/.
inline Argument term(std::string_view group, std::string_view name) { return "@" + std::string(group) + "." + std::string(name); }

}  // namespace clinical
