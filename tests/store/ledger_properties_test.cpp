#include <gtest/gtest-spi.h>
#include <rapidcheck.h>

#include <tuple>
#include <vector>

#include "store/model_support.h"
#include "store/store_support.h"

// Any sequence of calls, in transactions that stand or are undone, with stops in between, leaves the store as the model says.
using namespace store;
using namespace store_test;

namespace {

// Which call, on which item or case, with which small number.
using Step = std::tuple<std::uint8_t, std::uint8_t, std::uint8_t>;

struct Call {
  std::int64_t id;
  Millis small;
  std::string case_key;
};

bool event_call(Store& db, Model& model, unsigned which, const Call& c, bool& expected) {
  switch (which) {
    case 0:
    case 1: {
      const std::vector<NewEvent> one{an_event("e", c.small)};
      expected = model.append(c.small);
      return db.append(one).has_value();
    }
    case 2: {
      const auto to = static_cast<EventState>(c.small % 4);
      const auto mark = c.small > 6 ? Mark::quarantined : Mark::none;
      expected = model.settle(c.id, to, mark);
      return db.settle_event(c.id, to, "why", c.small, mark).has_value();
    }
    case 3:
      expected = model.retry_event(c.id);
      return db.retry_event(c.id, "again", c.small).has_value();
    default:
      expected = model.discard_event(c.id);
      return db.discard_event(c.id, "no", c.small).has_value();
  }
}

bool write_call(Store& db, Model& model, unsigned which, const Call& c, bool& expected) {
  switch (which) {
    case 0:
      expected = model.mark_sent(c.id);
      return db.mark_sent(c.id, c.small).has_value();
    case 1:
      expected = model.mark_delivered(c.id);
      return db.mark_delivered(c.id, "ok", c.small).has_value();
    case 2: {
      const auto effect = c.small % 2 == 0 ? Effect::none : Effect::unknown;
      expected = model.retry_later(c.id, c.small, effect);
      return db.retry_later(c.id, c.small, "why", effect, c.small).has_value();
    }
    case 3:
      expected = model.verified_absent(c.id, c.small);
      return db.verified_absent(c.id, c.small, c.small).has_value();
    case 4:
      expected = model.hold(c.id);
      return db.hold_write(c.id, "why", c.small).has_value();
    case 5:
      expected = model.release(c.id, c.small);
      return db.release_write(c.id, c.small).has_value();
    case 6:
      expected = model.supersede(c.id);
      return db.supersede_write(c.id, "why", c.small).has_value();
    case 7:
      expected = model.supersede_unsent(c.case_key);
      return db.supersede_unsent(c.case_key, "newer", c.small).has_value();
    case 8:
      expected = model.kill(c.id);
      return db.kill_write(c.id, "why", c.small).has_value();
    case 9:
      expected = model.retry_write(c.id, c.small);
      return db.retry_write(c.id, "again", c.small).has_value();
    case 10:
      expected = model.discard_write(c.id);
      return db.discard_write(c.id, "no", c.small).has_value();
    case 11:
      expected = model.recover_interrupted();
      return db.recover_interrupted(c.small).has_value();
    default: {
      auto write = a_write(c.case_key, c.small, "body " + std::to_string(c.small));
      write.shadow = which == 12;
      expected = model.queue(write);
      return db.queue_write(write).has_value();
    }
  }
}

void take(Store& db, Model& model, const Step& step) {
  const auto [what, item, number] = step;
  const Call call{1 + item % 8, number % 8, item % 2 == 0 ? "a" : "b"};
  const unsigned which = what % 22U;
  bool expected = false;
  const bool done = which < 5 ? event_call(db, model, which, call, expected) : write_call(db, model, which - 5, call, expected);
  EXPECT_EQ(done, expected) << "call " << which << " on " << call.id << " with " << call.small;
}

// A handful of steps as one transaction, undone at the end when so told.
void take_together(Store& db, Model& model, const std::vector<Step>& steps, bool undone) {
  Model inside = model;
  const auto result = db.transaction(5, [&](Store& s) -> Result<void> {
    for (const Step& step : steps) take(s, inside, step);
    return undone ? Result<void>(Error{ErrorKind::logic, "undone"}) : Result<void>();
  });
  EXPECT_EQ(result.has_value(), !undone);
  if (!undone) model = inside;
}

using Part = std::pair<std::vector<Step>, std::uint8_t>;  // the steps, and how they are taken

void tell(const std::vector<Part>& parts) {
  const Folder folder("/dev/shm");
  const auto path = folder.file("store.db");
  auto db = must_open(path);
  Model model;
  for (const auto& [steps, how] : parts) {
    if (how % 3 == 0) {
      for (const Step& step : steps) take(*db, model, step);
    } else {
      take_together(*db, model, steps, how % 3 == 1);
    }
    if (how % 16 == 15) {  // a stop
      db.reset();
      db = must_open(path);
    }
    model.compare(*db);
  }
}

TEST(StoreProperties, LedgersAndOutboxFollowTheModel) {
  const bool held = rc::check("ledgers and outbox follow the model", [](const std::vector<Part>& parts) {
    // Kept from GoogleTest, so that a failure can be made smaller.
    testing::TestPartResultArray failures;
    {
      const testing::ScopedFakeTestPartResultReporter kept(testing::ScopedFakeTestPartResultReporter::INTERCEPT_ONLY_CURRENT_THREAD, &failures);
      tell(parts);
    }
    if (failures.size() > 0) RC_LOG() << failures.GetTestPartResult(0).message();
    RC_ASSERT(failures.size() == 0);
  });
  EXPECT_TRUE(held);
}

}  // namespace
