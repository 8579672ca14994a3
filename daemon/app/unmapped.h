// Codes that mean nothing here and might matter, by count: what an integration engineer extends the site's map for.
#pragma once

#include <cstdint>
#include <map>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "app/rules.h"
#include "fhir/issue.h"
#include "store/store.h"

namespace app {

class Unmapped {
 public:
  /// Takes those of the issues that are about codes. The same place counts once. Bounded: beyond 1000 kinds, or 10000 places of one, no more are taken.
  void add(const fhir::Issues&);
  /// "unmapped-result: https://hospital.example/lab|K17 \"ACT\"" and in how many resources; most frequent first.
  std::vector<std::pair<std::string, std::int64_t>> by_count() const;

 private:
  std::map<std::string, std::set<std::string>> places_;
};

/// Of everything that the store holds from the record: procedures, results, drugs. Reads each resource alone.
store::Result<Unmapped> unmapped_held(store::Store&, const Rules&);

}  // namespace app
