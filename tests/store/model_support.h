#pragma once

#include <optional>
#include <string>
#include <vector>

#include "store/store.h"

namespace store_test {

// Journal and outbox in the fewest words: which call is allowed when, and what it does. Ids are places in the vectors, counted from 1.
class Model {
 public:
  bool append(store::Millis at);
  bool settle(store::EventId id, store::EventState to, store::Mark mark);
  bool retry_event(store::EventId id);
  bool discard_event(store::EventId id);

  bool queue(const store::NewWrite& write);
  bool mark_sent(store::WriteId id);
  bool mark_delivered(store::WriteId id);
  bool retry_later(store::WriteId id, store::Millis at, store::Effect effect);
  bool verified_absent(store::WriteId id, store::Millis at);
  bool hold(store::WriteId id);
  bool release(store::WriteId id, store::Millis at);
  bool supersede_unsent(const std::string& case_key);
  bool supersede(store::WriteId id);
  bool kill(store::WriteId id);
  bool retry_write(store::WriteId id, store::Millis at);
  bool discard_write(store::WriteId id);
  bool recover_interrupted();

  // Everything the store tells about journal and outbox is what the model says; a difference fails the test.
  void compare(store::Store& db) const;

 private:
  struct Event {
    store::Millis received_at = 0;
    store::EventState state = store::EventState::pending;
    store::Mark mark = store::Mark::none;
  };
  struct Write {
    store::NewWrite asked;
    std::int64_t sequence = 0;
    store::WriteState state = store::WriteState::queued;
    store::Mark mark = store::Mark::none;
    int open_attempts = 0;
    [[nodiscard]] bool unsettled() const { return state < store::WriteState::delivered; }
  };
  Event* dead_event(store::EventId id);
  // The write, when it exists and is in one of the states.
  Write* write_in(store::WriteId id, std::initializer_list<store::WriteState> states);
  static bool back_to_queue(Write* write, store::Millis at);
  [[nodiscard]] std::vector<store::WriteId> deliverable(store::Millis now) const;
  [[nodiscard]] std::int64_t events_in(store::EventState state) const;
  [[nodiscard]] std::int64_t writes_in(store::WriteState state, bool shadow) const;
  void compare_events(store::Store& db) const;
  void compare_ledger(store::Store& db, bool shadow) const;
  void compare_writes(store::Store& db) const;

  std::vector<Event> events_;
  std::vector<Write> writes_;
};

}  // namespace store_test
