#pragma once

#include <string>

#include "store/store.h"

namespace app {

/// Both ledgers for people, recounted; with `list` every item that is pending or dead.
store::Result<std::string> ledger_text(store::Store&, bool list);

}  // namespace app
