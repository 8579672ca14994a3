#pragma once

#include <string>

#include "store/error.h"

namespace store {

using PrintId = std::int64_t;  // rises in the order in which sheets were made, never used twice

enum class PrintState {
  queued,      // surely on no paper and at no printer
  sending,     // bytes may have left: ask the printer for `job_name` before anything is sent again
  sent,        // the printer has it, as `job`
  printed,     // ended: it came out
  superseded,  // ended: a newer sheet took its place before it was seen to come out
  asked,       // given to a person and to no printer any more; ends when the sheet is done by hand or superseded
  by_hand      // ended: a person says that it is done
};
constexpr bool ended(PrintState state) { return state == PrintState::printed || state == PrintState::superseded || state == PrintState::by_hand; }

struct NewPrint {
  std::string case_key;
  std::int64_t sheet = 0;   // its number
  bool is_void = false;
  std::string document;     // sha256 of a blob
  Millis created_at = 0;    // plan clock
  Millis created_real = 0;  // machine's clock, milliseconds UTC
};

struct PrintOrder : NewPrint {
  PrintId id = 0;
  PrintState state = PrintState::queued;
  bool wanted = true;         // false: a newer sheet takes its place as soon as it is known that this one is at no printer
  std::int64_t attempts = 0;  // times that it was sent, or may have been
  std::string printer;        // address of the queue of the last attempt
  std::string job_name;       // of the last attempt
  std::int64_t job = 0;       // the printer's number of it; 0: not known
  Millis sent_real = 0;       // when the last attempt began, machine's clock
  Millis asked_at = 0;        // plan clock: since when a person is asked for the paper; 0: nobody is
  std::string ask;            // then: what they are told, free for the caller
  std::string reason;         // of the last move, for people
  Millis ended_at = 0;
};

struct PrintCounts {
  std::int64_t ordered = 0, waiting = 0, at_printer = 0, printed = 0, superseded = 0, asked = 0, by_hand = 0;
};

}  // namespace store
