// The log: one line an event, for the person at 3 a.m.; no patient names, resources by reference.
#pragma once

#include <string_view>

namespace app {

struct Log {
  virtual ~Log() = default;
  virtual void info(std::string_view line) = 0;
  virtual void warn(std::string_view line) = 0;
  virtual void error(std::string_view line) = 0;
};

/// To standard error, with the plan clock left to the caller's line and the real time in front.
Log& standard_log();
/// Nothing.
Log& silent_log();

}  // namespace app
