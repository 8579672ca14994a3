#pragma once

#include <array>
#include <optional>
#include <string>

#include "store/store_support.h"

namespace store_test {

// Some rounds of what the daemon does with its store, on a disk that may fail: what was acknowledged is kept, to be held against what is found later.
class Story {
 public:
  static constexpr int rounds = 3;
  static constexpr int batch = 2;

  explicit Story(store::SqliteOptions options) : options_(std::move(options)) {}
  // From opening to closing. Ends early when the store has failed or cannot be opened. A call answered `full` is made once more, then left.
  void tell();
  // In a store opened anew: nothing acknowledged is missing, nothing is there in part, both ledgers close. `strict`: also, what was answered with an
  // error (other than io_fatal) is not there.
  void check(store::Store& found, bool strict) const;
  // No call gave an error.
  [[nodiscard]] bool untouched() const { return untouched_; }
  [[nodiscard]] std::optional<store::ErrorKind> last_error() const { return last_error_; }
  // After an io_fatal the same store answered a call with success.
  [[nodiscard]] bool went_on_after_failure() const { return went_on_; }

 private:
  enum class Outcome { not_tried, refused, unknown, done };
  struct Round {
    Outcome appended = Outcome::not_tried, applied = Outcome::not_tried, sent = Outcome::not_tried, delivered = Outcome::not_tried;
    std::vector<store::EventId> ids;
  };
  template <class Call>
  Outcome attempt(Call call);
  void tell_round(store::Store& db, int number);
  store::Result<void> apply(store::Store& db, int number) const;
  void check_round(store::Store& found, int number, bool strict) const;
  static void check_presence(Outcome outcome, bool there, bool strict, const std::string& what);

  store::SqliteOptions options_;
  std::array<Round, rounds> told_;
  bool untouched_ = true;
  bool went_on_ = false;
  std::optional<store::ErrorKind> last_error_;
};

}  // namespace store_test
