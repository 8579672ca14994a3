#include <gmock/gmock.h>

#include "store/store_support.h"

using namespace store;
using namespace store_test;
using testing::ElementsAre;

namespace {

class Journal : public StoreTest {
 protected:
  EventId add(const std::string& id, Millis at = 1000) {
    const std::vector<NewEvent> one{an_event(id, at)};
    return must(db->append(one)).at(0);
  }
};

TEST_F(Journal, KeepsEveryFieldOverAReopening) {
  NewEvent e = an_event("o1", 42);
  e.source = "east";
  e.body = std::string("{\"a\":\0\xff}", 8);  // no valid text: kept byte for byte
  const std::vector<NewEvent> batch{e, an_event("o2")};
  EXPECT_THAT(must(db->append(batch)), ElementsAre(1, 2));
  reopen();
  const auto back = must(db->event(1));
  ASSERT_TRUE(back);
  EXPECT_EQ(back->received_at, 42);
  EXPECT_EQ(back->source, "east");
  EXPECT_EQ(back->method, "PUT");
  EXPECT_EQ(back->resource_type, "Observation");
  EXPECT_EQ(back->resource_id, "o1");
  EXPECT_EQ(back->version_id, "1");
  EXPECT_EQ(back->body, e.body);
  EXPECT_EQ(back->content_hash, "hash of o1");
  EXPECT_EQ(back->request_id, "request o1");
  EXPECT_EQ(back->state, EventState::pending);
  EXPECT_FALSE(must(db->event(3)));
}

TEST_F(Journal, NothingToAppendIsNoCommit) {
  EXPECT_TRUE(must(db->append({})).empty());
  EXPECT_FALSE(must(db->last_clock_reading()));
}

TEST_F(Journal, PendingComeInOrderOfArrival) {
  add("a", 30);
  add("b", 10);
  add("c", 20);
  must(db->settle_event(1, EventState::applied, "", 40));
  const auto pending = must(db->pending_events(10));
  ASSERT_EQ(pending.size(), 2u);
  EXPECT_EQ(pending[0].resource_id, "b");
  EXPECT_EQ(pending[1].resource_id, "c");
  EXPECT_EQ(must(db->pending_events(1)).size(), 1u);
  EXPECT_EQ(must(db->pending_events(10, 2)).at(0).resource_id, "c");
  EXPECT_EQ(must(db->oldest_pending_event()), 10);
  must(db->settle_event(2, EventState::irrelevant, "a Claim", 40));
  must(db->settle_event(3, EventState::dead, "no id", 41, Mark::quarantined));
  EXPECT_FALSE(must(db->oldest_pending_event()));
  EXPECT_EQ(must(db->event(3))->settled_at, 41);
}

TEST_F(Journal, AnEventIsSettledOnce) {
  add("a");
  must(db->settle_event(1, EventState::applied, "", 1));
  const auto again = db->settle_event(1, EventState::dead, "", 1);
  expect_error(again, ErrorKind::logic);
  EXPECT_EQ(again.error().text, "event 1 cannot be settled: it is applied");
  const auto unknown = db->settle_event(7, EventState::dead, "", 1);
  EXPECT_EQ(unknown.error().text, "there is no event 7");
  expect_error(db->settle_event(1, EventState::pending, "", 1), ErrorKind::logic);
  expect_error(db->settle_event(1, EventState::applied, "", 1, Mark::quarantined), ErrorKind::logic);
}

TEST_F(Journal, ADeadEventIsTriedAgainOrDiscarded) {
  add("a");
  add("b");
  must(db->settle_event(1, EventState::dead, "no code", 1, Mark::quarantined));
  must(db->settle_event(2, EventState::dead, "no code", 1));
  must(db->retry_event(1, "map corrected", 5));
  EXPECT_EQ(must(db->event(1))->state, EventState::pending);
  EXPECT_EQ(must(db->event(1))->mark, Mark::none);
  must(db->discard_event(2, "a test message", 6));
  EXPECT_EQ(must(db->event(2))->state, EventState::dead);
  EXPECT_EQ(must(db->event(2))->mark, Mark::discarded);
  EXPECT_EQ(must(db->event(2))->reason, "a test message");
  expect_error(db->retry_event(2, "", 7), ErrorKind::logic);
  expect_error(db->discard_event(1, "", 7), ErrorKind::logic);
  must(db->verify_ledgers());
}

TEST_F(Journal, LedgerCloses) {
  for (const char* id : {"a", "b", "c", "d"}) add(id);
  must(db->settle_event(1, EventState::applied, "", 1));
  must(db->settle_event(2, EventState::irrelevant, "", 1));
  must(db->settle_event(3, EventState::dead, "", 1, Mark::quarantined));
  const auto ledger = must(db->event_ledger());
  EXPECT_TRUE(ledger.closes());
  EXPECT_EQ(ledger.received, 4);
  EXPECT_EQ(ledger.applied, 1);
  EXPECT_EQ(ledger.irrelevant, 1);
  EXPECT_EQ(ledger.dead, 1);
  EXPECT_EQ(ledger.quarantined, 1);
  EXPECT_EQ(ledger.pending, 1);
  const auto dead = must(db->list_events(EventState::dead, 10));
  ASSERT_EQ(dead.size(), 1u);
  EXPECT_EQ(dead[0].resource_id, "c");
  EXPECT_EQ(dead[0].body, "");
  const auto second = must(db->list_events(std::nullopt, 1, 1));
  EXPECT_EQ(second.at(0).resource_id, "c");
}

}  // namespace
