#include "app/log.h"

#include <spdlog/sinks/stdout_color_sinks.h>
#include <spdlog/spdlog.h>

namespace app {
namespace {

class StandardLog final : public Log {
 public:
  StandardLog() : sink_("aftersheath", std::make_shared<spdlog::sinks::stderr_color_sink_mt>()) { sink_.set_pattern("%Y-%m-%dT%H:%M:%S.%e%z %l %v"); }
  void info(std::string_view line) override { sink_.info("{}", line); }
  void warn(std::string_view line) override { sink_.warn("{}", line); }
  void error(std::string_view line) override { sink_.error("{}", line); }

 private:
  spdlog::logger sink_;
};

class SilentLog final : public Log {
 public:
  void info(std::string_view) override {}
  void warn(std::string_view) override {}
  void error(std::string_view) override {}
};

}  // namespace

Log& standard_log() {
  static StandardLog log;
  return log;
}
Log& silent_log() {
  static SilentLog log;
  return log;
}

}  // namespace app
