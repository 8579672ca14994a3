// Building blocks of timeline.json.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "clinical/plan.h"
#include "json/tree.h"
#include "report/timeline.h"

namespace report {

json::Value instant_or_null(const std::optional<clinical::Instant>&);
json::Value minutes_or_null(const std::optional<clinical::minutes>&);
/// References without versions, sorted, each once.
json::Value inputs_json(const std::vector<clinical::Source>&);
json::Value bases_json(const std::vector<clinical::Basis>&, const words::Voice&);
json::Value site_json(const clinical::SitePlan&, const words::Voice&);
/// Rounded half up: rounded(24.45, 1) is "24.5", rounded(0.5, 3) is "0.500".
std::string rounded(double value, int decimals);

}  // namespace report
