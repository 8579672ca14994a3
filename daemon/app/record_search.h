// Asks the record how what we wrote for a case stands there.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "store/store.h"
#include "transport/network.h"

namespace app {

/// GET below the record's base URL, without cache; nothing: no answer. Calls back on the executor.
using RecordGet = std::function<void(const std::string& path, std::function<void(const transport::Response*)>)>;

struct RecordSearch {
  std::vector<std::string> paths;     ///< "Task/7" of what is known; "Task?patient=a" of what may have been forgotten
  std::string base_url;               ///< of the record: links to the next page are followed below it only
};
/// What was found, as events: PUT of what stands, DELETE of what the record says is gone (410; a 404 says nothing). `whole`: everything could be asked.
using SearchDone = std::function<void(std::vector<store::NewEvent>, bool whole)>;

void search(const RecordGet&, RecordSearch, SearchDone);

/// `forgotten`: also by patient, for items that this store does not know.
RecordSearch search_for(const store::Case&, const std::vector<store::Item>&, const std::string& base_url, bool forgotten);

}  // namespace app
