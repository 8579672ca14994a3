#pragma once

#include <functional>
#include <memory>

#include "app/rules.h"
#include "app/seams.h"
#include "store/store.h"

namespace app {

/// Opens the configured store and fills in what the store keeps for ever: the installation id (made at the first start) and the record key.
store::Result<std::unique_ptr<store::Store>> open_store(Rules&, RandomSource&);

/// Whether less than limits.disk_free_mebibytes is left where the store is; looked at once a second at most. From any thread.
std::function<bool()> disk_watch(const profile::Configuration&);

/// To change what a copy that was put back remembers; nothing is filled in.
store::Result<std::unique_ptr<store::Store>> open_store_to_mend(const Rules&);

/// Read-only, for commands while the daemon is down.
store::Result<std::unique_ptr<store::Store>> open_store_to_read(Rules&);

}  // namespace app
