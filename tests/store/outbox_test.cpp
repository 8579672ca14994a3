#include <gmock/gmock.h>

#include "store/store_support.h"

using namespace store;
using namespace store_test;
using testing::ElementsAre;
using testing::IsEmpty;

namespace {

class Outbox : public StoreTest {
 protected:
  WriteId queue(const std::string& case_key, Millis at = 1000, const std::string& body = "{}") {
    return must(db->queue_write(a_write(case_key, at, body))).id;
  }
  std::vector<WriteId> deliverable(Millis now, std::size_t limit = 10) {
    std::vector<WriteId> ids;
    for (const Write& w : must(db->next_deliverable(now, limit))) ids.push_back(w.id);
    return ids;
  }
  WriteState state(WriteId id) { return must(db->write(id))->state; }
};

TEST_F(Outbox, KeepsEveryFieldAndCountsWithinTheCase) {
  NewWrite w = a_write("p1", 5, "bytes");
  w.kind = WriteKind::file;
  w.target = "transaction-1.json";
  w.next_attempt_at = 9;
  EXPECT_EQ(must(db->queue_write(w)).sequence, 1);
  EXPECT_EQ(must(db->queue_write(w)).sequence, 2);
  EXPECT_EQ(must(db->queue_write(a_write("p2"))).sequence, 1);
  const auto back = must(db->write(1));
  ASSERT_TRUE(back);
  EXPECT_EQ(back->case_key, "p1");
  EXPECT_EQ(back->kind, WriteKind::file);
  EXPECT_EQ(back->target, "transaction-1.json");
  EXPECT_EQ(back->body, "bytes");
  EXPECT_EQ(back->created_at, 5);
  EXPECT_EQ(back->next_attempt_at, 9);
  EXPECT_EQ(back->state, WriteState::queued);
  EXPECT_FALSE(back->may_have_left);
}

TEST_F(Outbox, OneInFlightPerCaseLowestFirst) {
  const auto a1 = queue("a"), a2 = queue("a"), b1 = queue("b");
  EXPECT_THAT(deliverable(1000), ElementsAre(a1, b1));
  EXPECT_THAT(deliverable(1000, 1), ElementsAre(a1));
  EXPECT_THAT(deliverable(999), IsEmpty());
  must(db->mark_sent(a1, 1001));
  EXPECT_THAT(deliverable(2000), ElementsAre(b1));
  must(db->mark_delivered(a1, "201", 1002));
  EXPECT_THAT(deliverable(2000), ElementsAre(a2, b1));
  const auto back = must(db->write(a1));
  EXPECT_EQ(back->response, "201");
  EXPECT_EQ(back->delivered_at, 1002);
  EXPECT_EQ(back->attempts, 1);
}

TEST_F(Outbox, AHeadThatWaitsHoldsBackItsCase) {
  const auto a1 = queue("a"), a2 = queue("a");
  must(db->mark_sent(a1, 1000));
  must(db->retry_later(a1, 5000, "503", Effect::none, 1001));
  EXPECT_THAT(deliverable(4999), IsEmpty());
  EXPECT_EQ(must(db->next_attempt()), 5000);
  EXPECT_THAT(deliverable(5000), ElementsAre(a1));
  must(db->hold_write(a1, "patient merged", 5000));
  EXPECT_THAT(deliverable(9000), IsEmpty());
  EXPECT_FALSE(must(db->next_attempt()));
  EXPECT_EQ(must(db->oldest_pending_write()), 1000) << "held is pending";
  must(db->release_write(a1, 6000));
  EXPECT_THAT(deliverable(6000), ElementsAre(a1));
  must(db->kill_write(a1, "422", 6001));
  EXPECT_THAT(deliverable(6001), ElementsAre(a2));
}

TEST_F(Outbox, AnAttemptWithoutEffectLeavesItUnsent) {
  const auto a = queue("a");
  must(db->mark_sent(a, 1000));
  EXPECT_TRUE(must(db->write(a))->may_have_left);
  must(db->retry_later(a, 2000, "connection refused", Effect::none, 1001));
  EXPECT_EQ(state(a), WriteState::queued);
  EXPECT_FALSE(must(db->write(a))->may_have_left);
  EXPECT_EQ(must(db->write(a))->last_error, "connection refused");
  EXPECT_EQ(must(db->supersede_unsent("a", "newer plan", 1002)), 1);
  EXPECT_EQ(state(a), WriteState::superseded);
}

TEST_F(Outbox, AnUnknownEffectIsVerifiedBeforeAnythingElse) {
  const auto a = queue("a");
  must(db->mark_sent(a, 1000));
  must(db->retry_later(a, 2000, "timeout", Effect::unknown, 1001));
  EXPECT_EQ(state(a), WriteState::verify);
  EXPECT_THAT(deliverable(2000), ElementsAre(a));
  EXPECT_EQ(must(db->supersede_unsent("a", "", 1)), 0);
  must(db->retry_later(a, 3000, "verification failed", Effect::none, 2001));
  EXPECT_EQ(state(a), WriteState::verify) << "only verified_absent says that nothing of it arrived";
  // Sent again from verify and definitely refused: the first attempt is still open.
  must(db->mark_sent(a, 3000));
  must(db->retry_later(a, 4000, "429", Effect::none, 3001));
  EXPECT_EQ(state(a), WriteState::verify);
  must(db->verified_absent(a, 5000, 4001));
  EXPECT_EQ(state(a), WriteState::queued);
  EXPECT_EQ(must(db->write(a))->attempts, 2);
  EXPECT_EQ(must(db->supersede_unsent("a", "", 1)), 1);
}

TEST_F(Outbox, SupersedesOnlyWhatCertainlyHasNotLeft) {
  const auto sent = queue("a"), waiting = queue("a"), other = queue("b");
  must(db->mark_sent(sent, 1));
  const auto held = queue("a");
  must(db->hold_write(held, "", 1));
  EXPECT_EQ(must(db->supersede_unsent("a", "newer plan", 2)), 2);
  EXPECT_EQ(state(sent), WriteState::sent);
  EXPECT_EQ(state(waiting), WriteState::superseded);
  EXPECT_EQ(state(held), WriteState::superseded);
  EXPECT_EQ(state(other), WriteState::queued);
  must(db->supersede_write(sent, "412: nothing was changed", 3));
  EXPECT_EQ(state(sent), WriteState::superseded);
  EXPECT_EQ(queue("a"), 5);
  EXPECT_EQ(must(db->write(5))->sequence, 4) << "no gap, no number twice";
}

TEST_F(Outbox, AfterAStopWhatWasInFlightIsVerified) {
  const auto a = queue("a"), b = queue("b");
  must(db->mark_sent(a, 1000));
  db.reset();  // killed
  db = must_open(path);
  EXPECT_EQ(must(db->recover_interrupted(2000)), 1);
  EXPECT_EQ(state(a), WriteState::verify);
  EXPECT_THAT(deliverable(2000), ElementsAre(a, b));
  must(db->mark_delivered(a, "found there", 2001));
  EXPECT_EQ(must(db->recover_interrupted(2002)), 0);
}

TEST_F(Outbox, WrongMovesAreRefused) {
  const auto a = queue("a");
  expect_error(db->mark_delivered(a, "", 1), ErrorKind::logic);
  expect_error(db->verified_absent(a, 1, 1), ErrorKind::logic);
  expect_error(db->release_write(a, 1), ErrorKind::logic);
  must(db->mark_sent(a, 1));
  expect_error(db->mark_sent(a, 1), ErrorKind::logic);
  must(db->mark_delivered(a, "", 1));
  const auto late = db->kill_write(a, "", 1);
  expect_error(late, ErrorKind::logic);
  EXPECT_EQ(late.error().text, "write 1 cannot be given up: it is delivered");
  expect_error(db->retry_later(a, 1, "", Effect::none, 1), ErrorKind::logic);
}

TEST_F(Outbox, ADeadWriteIsTriedAgainOrDiscarded) {
  const auto a = queue("a"), b = queue("b");
  must(db->mark_sent(a, 1));
  must(db->kill_write(a, "too many attempts", 2));
  must(db->kill_write(b, "422", 2));
  must(db->retry_write(a, "server is back", 3));
  EXPECT_EQ(state(a), WriteState::verify) << "its attempt was never resolved";
  must(db->discard_write(b, "wrong patient", 3));
  EXPECT_EQ(must(db->write(b))->mark, Mark::discarded);
  expect_error(db->retry_write(b, "", 4), ErrorKind::logic);
  const auto ledger = must(db->write_ledger());
  EXPECT_TRUE(ledger.closes());
  EXPECT_EQ(ledger.queued, 2);
  EXPECT_EQ(ledger.verify, 1);
  EXPECT_EQ(ledger.pending, 1);
  EXPECT_EQ(ledger.dead, 1);
  EXPECT_EQ(ledger.discarded, 1);
  const auto dead = must(db->list_writes(WriteState::dead, 10));
  ASSERT_EQ(dead.size(), 1u);
  EXPECT_EQ(dead[0].id, b);
  must(db->verify_ledgers());
}

TEST_F(Outbox, ShadowWritesAreKeptApart) {
  NewWrite w = a_write("a");
  w.shadow = true;
  const auto shadow = must(db->queue_write(w)).id;
  const auto live = queue("a");
  EXPECT_THAT(deliverable(5000), ElementsAre(live));
  must(db->kill_write(live, "", 1));
  EXPECT_FALSE(must(db->oldest_pending_write()));
  EXPECT_FALSE(must(db->next_attempt()));
  expect_error(db->mark_sent(shadow, 1), ErrorKind::logic);
  must(db->mark_delivered(shadow, "", 1));
  EXPECT_EQ(must(db->write_ledger(true)).delivered, 1);
  EXPECT_EQ(must(db->write_ledger(true)).queued, 1);
  EXPECT_EQ(must(db->write_ledger()).queued, 1);
  must(db->verify_ledgers());
}

TEST_F(Outbox, ListsACase) {
  const auto a1 = queue("a", 1, "one"), a2 = queue("a", 1, "two");
  must(db->mark_sent(a1, 1));
  must(db->mark_delivered(a1, "", 1));
  const auto all = must(db->writes_of_case("a"));
  ASSERT_EQ(all.size(), 2u);
  EXPECT_EQ(all[0].body, "");
  const auto open = must(db->unsettled_of_case("a"));
  ASSERT_EQ(open.size(), 1u);
  EXPECT_EQ(open[0].id, a2);
  EXPECT_EQ(open[0].body, "two");
}

}  // namespace
