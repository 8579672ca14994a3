#pragma once

#include <string>

#include "report/status.h"

namespace app {

/// The Prometheus text format 0.0.4 (https://prometheus.io/docs/instrumenting/exposition_formats/). Ages are gauges in seconds, -1 where nothing waits.
std::string metrics_text(const report::Status&);

}  // namespace app
