// [[print.unit]] of the configuration: printers of the units of a hospital.
#pragma once

#include <string>
#include <utility>

#include "profile/configuration.h"
#include "profile/section.h"

namespace profile {

/// What is wrong with the address of a print queue, and the remedy; both empty when nothing is, or when there is none.
std::pair<std::string, std::string> judge_queue(const std::string& uri, bool unencrypted_allowed);

/// Reads the units of [print] and gives printers without a name that of their host.
class PrintUnits {
 public:
  PrintUnits(const Item& print, Configuration::Print& into, Faults& faults) : print_(print), into_(into), faults_(faults) {}
  void read();

 private:
  void read_unit(const Item& unit);
  std::string queue_in(const Section& unit, std::string_view member);

  const Item& print_;
  Configuration::Print& into_;
  Faults& faults_;
};

}  // namespace profile
