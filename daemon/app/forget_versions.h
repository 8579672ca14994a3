// Where what stands in the record can no longer be told from the store.
#pragma once

#include <string>

#include "store/store.h"

namespace app {

/// Inside a store transaction: the versions of a case's items are taken as unknown, so that they are asked for before anything is written, and each is
/// taken over as it is found. A case without a CarePlan in the record, or none of that key: nothing.
store::Result<void> forget_versions(store::Store& inside, const std::string& case_key);

}  // namespace app
