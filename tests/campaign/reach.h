// Which states the random cases came to: a campaign that seldom reaches a state says little of it.
#pragma once

#include <map>
#include <string>

#include "clinical/plan.h"

namespace campaign {

class Reach {
 public:
  void note(const std::vector<clinical::CasePlan>&, clinical::Instant now);
  void count(const std::string& what) { ++counts_[what]; }
  void merge(const Reach&);
  /// "what count percent" of the cases, a line each.
  std::string table() const;
  /// The states that were reached in fewer than the wanted share of the cases; empty: enough.
  std::string too_seldom(bool early_rows) const;
  long cases() const { return cases_; }

 private:
  std::map<std::string, long> counts_;
  long cases_ = 0;
};

}  // namespace campaign
