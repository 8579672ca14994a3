#pragma once

#include "store/event.h"

namespace store {

using WriteId = std::int64_t;

enum class WriteKind { transaction, single, file };

enum class WriteState {
  queued,      // waits for its turn
  sent,        // in flight: bytes may have left
  verify,      // an attempt ended with unknown effect: look at the server before sending again
  held,        // waits for a decision; holds back everything later in its case
  delivered,   // confirmed
  superseded,  // replaced by newer work, certainly without effect
  dead         // given up; see Mark
};

struct NewWrite {
  std::string case_key;
  WriteKind kind = WriteKind::transaction;
  std::string target;  // where it goes: URL part or file name
  std::string body;    // never changes once queued
  Millis created_at = 0;       // or when the unsent write that it replaces was: since when the change waits
  Millis next_attempt_at = 0;  // not before
  bool shadow = false;         // computed and kept, never offered for delivery, in a ledger of its own
};

struct Write : NewWrite {
  WriteId id = 0;
  std::int64_t sequence = 0;  // n within its case: 1, 2, 3 ... over all its writes, without gaps
  WriteState state = WriteState::queued;
  Mark mark = Mark::none;
  std::int64_t attempts = 0;
  bool may_have_left = false;  // some attempt may still have an effect: can no longer be superseded by supersede_unsent
  std::string last_error;      // also the reason of held, superseded, dead
  Millis delivered_at = 0;     // 0: not delivered
  std::string response;        // the server's answer, empty until delivered
};

struct WriteTicket {
  WriteId id = 0;
  std::int64_t sequence = 0;
};

// What a failed attempt may have done at the other end.
enum class Effect {
  none,    // certainly nothing: not connected, or refused with a definite answer
  unknown  // bytes left and no answer came
};

}  // namespace store
