#pragma once

#include <memory>

#include "app/seams.h"

namespace app {

/// Files under `root` (made when absent, mode 0700; files 0600, because they hold patient data).
std::unique_ptr<ChartDisk> chart_folder(const std::string& root);

}  // namespace app
