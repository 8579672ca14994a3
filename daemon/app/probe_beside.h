// The last probe of the record, as a file beside the store.
#pragma once

#include <filesystem>
#include <string>

#include "json/tree.h"

namespace app {

/// Empty: kept; else what went wrong.
std::string keep_probe(std::filesystem::path store, const json::Value& report);
/// Null where there was none, or it cannot be read.
json::Value last_probe(std::filesystem::path store);

}  // namespace app
