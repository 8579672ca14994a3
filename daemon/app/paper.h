// Which sheets go to which printer, and what is said when none comes out.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "app/rules.h"
#include "clinical/plan.h"
#include "print/printer.h"

namespace app {

/// Printing is configured, and not ruled out by shadow mode or a rehearsal clock.
bool prints(const Rules&);

/// The queue for a patient who lies in the first of `places`, which is part of the next, and so on: that of the nearest unit, else that of the house.
/// Without a uri: nothing is printed there. `unknown`: no unit names the place, and the house has no queue.
struct QueueChoice {
  profile::Configuration::Queue queue;
  bool unknown = false;
};
QueueChoice queue_for(const profile::Configuration::Print&, const std::vector<std::string>& places);

/// "no-paper": the term of templates/ under "printer.".
std::string_view word_of(print::Trouble);

/// What a person is told of one printer; kept with a print order as text.
struct PrinterSays {
  std::string printer;  ///< its name
  std::string trouble;  ///< word_of, or "uncertain", "no-printer"
};
std::string text_of(const std::vector<PrinterSays>&);
/// The reason of the Task that asks for the sheet, from that text.
clinical::Reason paper_reason(std::string_view ask);

}  // namespace app
