// One entry of a Bundle -> one resource event. Inside fhir_read only.
#pragma once

#include "fhir_read/intake.h"

#include <map>
#include <optional>
#include <string>

namespace fhir_read {

// fullUrl -> "Type/id" of the entries of one Bundle. An entry whose resource has no id takes it from its fullUrl.
using FullUrls = std::map<std::string, std::string, std::less<>>;
FullUrls full_urls_of(const json::Value& bundle);

struct EntryPlace {
  const json::Value& entry;
  const std::string& bundle_type;
  std::string at;  // "Bundle.entry[3]"
  const FullUrls& full_urls;
};

// nullopt where the entry says nothing about a resource here (an OperationOutcome, a read) or cannot be taken; `answer` then says why.
std::optional<ResourceEvent> event_of_entry(const EntryPlace& place, EntryAnswer& answer);

}  // namespace fhir_read
