#include "store/story_support.h"

#include <fmt/format.h>

using namespace store;

namespace store_test {

namespace {

std::string event_name(int round, int n) { return fmt::format("r{}-{}", round, n); }
std::string case_name(int round) { return fmt::format("case {}", round); }
// Big enough for several pages, and to be told from any other.
std::string body_of(int round, int n) { return fmt::format("{:-<3000}", event_name(round, n)); }

}  // namespace

template <class Call>
Story::Outcome Story::attempt(Call call) {
  const bool had_failed = last_error_ == ErrorKind::io_fatal;
  for (int tries = 1;; ++tries) {
    const auto result = call();
    if (result) {
      went_on_ = went_on_ || had_failed;
      return Outcome::done;
    }
    untouched_ = false;
    last_error_ = result.error().kind;
    if (last_error_ == ErrorKind::io_fatal) return had_failed ? Outcome::not_tried : Outcome::unknown;
    if (last_error_ != ErrorKind::full || tries == 2) return Outcome::refused;
  }
}

Result<void> Story::apply(Store& db, int number) const {
  const auto& ids = told_.at(static_cast<std::size_t>(number)).ids;
  return db.transaction(2000 + number, [&](Store& s) -> Result<void> {
    for (const EventId id : ids) {
      if (const auto done = s.settle_event(id, EventState::applied, "", 2000 + number); !done) return done;
    }
    const auto key = case_name(number);
    const std::vector<std::string> refers_to{"Medication/m1"};
    if (const auto done = s.put_current(a_fact("Observation", key, "Patient/a"), refers_to); !done) return done;
    if (const auto done = s.put_case(a_case(key, 5000)); !done) return done;
    if (const auto done = s.put_item(an_item(key, key)); !done) return done;
    if (const auto done = s.do_once(key, "act", 2000 + number); !done) return done.error();
    const auto queued = s.queue_write(a_write(key, 2000 + number, body_of(number, 9)));
    return queued ? Result<void>() : Result<void>(queued.error());
  });
}

void Story::tell_round(Store& db, int number) {
  Round& round = told_.at(static_cast<std::size_t>(number));
  std::vector<NewEvent> events;
  for (int n = 0; n < batch; ++n) {
    events.push_back(an_event(event_name(number, n), 1000 + number));
    events.back().body = body_of(number, n);
  }
  round.appended = attempt([&] {
    auto ids = db.append(events);
    if (ids) round.ids = *ids;
    return ids;
  });
  if (round.appended != Outcome::done) return;
  round.applied = attempt([&] { return apply(db, number); });
  if (round.applied != Outcome::done) return;
  const auto waiting = db.unsettled_of_case(case_name(number));
  if (!waiting || waiting->empty()) return;
  const auto id = waiting->front().id;
  round.sent = attempt([&] { return db.mark_sent(id, 3000); });
  if (round.sent != Outcome::done) return;
  round.delivered = attempt([&] { return db.mark_delivered(id, "201 Created", 3001); });
}

void Story::tell() {
  auto db = open_sqlite(options_);
  if (!db) {
    untouched_ = false;
    last_error_ = db.error().kind;
    return;
  }
  for (int number = 0; number < rounds; ++number) tell_round(**db, number);
  attempt([&] { return (*db)->close(); });
}

void Story::check_presence(Outcome outcome, bool there, bool strict, const std::string& what) {
  if (outcome == Outcome::done) {
    EXPECT_TRUE(there) << what << " was acknowledged and is lost";
  }
  if (outcome == Outcome::not_tried || (strict && outcome == Outcome::refused)) {
    EXPECT_FALSE(there) << what << " is there without being acknowledged";
  }
}

void Story::check_round(Store& found, int number, bool strict) const {
  const Round& round = told_.at(static_cast<std::size_t>(number));
  const auto key = case_name(number);
  int events = 0, applied = 0;
  for (const Event& listed : must(found.list_events(std::nullopt, 1000))) {
    for (int n = 0; n < batch; ++n) {
      if (listed.resource_id != event_name(number, n)) continue;
      ++events;
      if (listed.state == EventState::applied) ++applied;
      EXPECT_EQ(must(found.event(listed.id))->body, body_of(number, n));
    }
  }
  EXPECT_TRUE(events == 0 || events == batch) << key << ": a batch in part: " << events;
  check_presence(round.appended, events > 0, strict, key + ": batch");

  const auto there = must(found.case_of(key)).has_value();
  check_presence(round.applied, there, strict, key + ": unit");
  EXPECT_EQ(applied, there ? batch : 0) << key << ": a unit in part";
  EXPECT_EQ(must(found.current("", "Observation", key)).has_value(), there);
  EXPECT_EQ(must(found.item(key)).has_value(), there);
  const auto writes = must(found.writes_of_case(key));
  ASSERT_EQ(writes.size(), there ? 1u : 0u);
  if (!there) return;
  const auto state = writes[0].state;
  EXPECT_EQ(must(found.write(writes[0].id))->body, body_of(number, 9));
  check_presence(round.sent, state == WriteState::sent || state == WriteState::delivered, strict, key + ": sent");
  check_presence(round.delivered, state == WriteState::delivered, strict, key + ": delivered");
}

void Story::check(Store& found, bool strict) const {
  must(found.verify());
  must(found.verify_ledgers());
  EXPECT_TRUE(must(found.event_ledger()).closes());
  EXPECT_TRUE(must(found.write_ledger()).closes());
  for (int number = 0; number < rounds; ++number) check_round(found, number, strict);
}

}  // namespace store_test
