// Sheets to be printed: what may follow what, and that what was on its way when the power went is known to have been.
#include <gmock/gmock.h>

#include "store/store_support.h"

namespace {

using store::PrintState;
using store_test::expect_error;
using store_test::must;
using store_test::StoreTest;

store::NewPrint sheet(std::int64_t number, bool is_void = false, const std::string& case_key = "|Procedure/p") {
  return {case_key, number, is_void, "sha-" + std::to_string(number), 1000 * number, 5000 * number};
}

class Prints : public StoreTest {
 protected:
  store::PrintOrder order(store::PrintId id) { return must(db->print_order(id)).value_or(store::PrintOrder{}); }
  PrintState state(store::PrintId id) { return order(id).state; }
  store::PrintId sent(std::int64_t number) {
    const auto id = must(db->order_print(sheet(number)));
    must(db->print_sending(id, "ipp://p", "name", 77, 2000));
    must(db->print_sent(id, 9, 2001));
    return id;
  }
};

TEST_F(Prints, GoFromQueuedToPrintedAndAreKeptWhole) {
  const auto id = must(db->order_print(sheet(3, true)));
  EXPECT_EQ(must(db->open_prints()).size(), 1U);
  must(db->print_sending(id, "ipp://p", "sheet-3", 99, 4000));
  must(db->print_sent(id, 12, 4001));
  reopen();
  const auto seen = order(id);
  EXPECT_EQ(seen.sheet, 3);
  EXPECT_TRUE(seen.is_void);
  EXPECT_EQ(seen.document, "sha-3");
  EXPECT_EQ(seen.printer + seen.job_name, "ipp://psheet-3");
  EXPECT_EQ(seen.job, 12);
  EXPECT_EQ(seen.sent_real, 99);
  EXPECT_EQ(seen.attempts, 1);
  must(db->print_done(id, 5000));
  EXPECT_EQ(state(id), PrintState::printed);
  EXPECT_TRUE(must(db->open_prints()).empty());
  EXPECT_EQ(must(db->print_counts()).printed, 1);
}

TEST_F(Prints, ANewerSheetTakesThePlaceOfWhatIsAtNoPrinterOnly) {
  const auto other = must(db->order_print(sheet(1, false, "|Procedure/q")));
  const auto at_printer = sent(1);
  const auto newer = must(db->order_print(sheet(2)));
  EXPECT_EQ(state(at_printer), PrintState::sent);
  EXPECT_FALSE(order(at_printer).wanted);
  EXPECT_EQ(state(other), PrintState::queued);
  const auto newest = must(db->order_print(sheet(3)));
  EXPECT_EQ(state(newer), PrintState::superseded);
  EXPECT_EQ(state(newest), PrintState::queued);
  must(db->print_again(at_printer, "cancelled", 9000));
  EXPECT_EQ(state(at_printer), PrintState::superseded) << "never sent again";
}

TEST_F(Prints, WhatMayHaveLeftCannotBeSentAgainBeforeItIsKnownThatNothingCameOut) {
  const auto id = must(db->order_print(sheet(1)));
  expect_error(db->print_sent(id, 4, 10), store::ErrorKind::logic);
  expect_error(db->print_done(id, 10), store::ErrorKind::logic);
  must(db->print_sending(id, "ipp://p", "a", 1, 10));
  reopen();
  EXPECT_EQ(state(id), PrintState::sending);
  expect_error(db->print_sending(id, "ipp://p", "b", 2, 11), store::ErrorKind::logic);
  must(db->print_again(id, "the printer has no such job", 12));
  must(db->print_sending(id, "ipp://second", "b", 2, 13));
  EXPECT_EQ(order(id).attempts, 2);
  EXPECT_EQ(order(id).printer, "ipp://second");
}

TEST_F(Prints, APersonIsAskedOnceAndMayBeDone) {
  const auto id = must(db->order_print(sheet(1)));
  must(db->print_ask(id, "jam", false, "paper is jammed", 20));
  must(db->print_ask(id, "no-paper", false, "out of paper", 30));
  EXPECT_EQ(order(id).asked_at, 20);
  EXPECT_EQ(order(id).ask, "no-paper");
  EXPECT_EQ(state(id), PrintState::queued) << "still tried";
  must(db->print_ask(id, "uncertain", true, "cannot be told", 40));
  EXPECT_EQ(state(id), PrintState::asked);
  expect_error(db->print_sending(id, "ipp://p", "a", 1, 50), store::ErrorKind::logic);
  must(db->print_by_hand(id, 60));
  EXPECT_EQ(state(id), PrintState::by_hand);
  expect_error(db->print_by_hand(id, 61), store::ErrorKind::logic);
}

TEST_F(Prints, NobodyIsAskedForASheetThatIsNotWanted) {
  const auto old = sent(1);
  must(db->order_print(sheet(2)));
  must(db->print_ask(old, "no-answer", true, "silent", 40));
  EXPECT_EQ(state(old), PrintState::superseded);
  EXPECT_EQ(order(old).asked_at, 0);
}

TEST_F(Prints, AnOlderCopyOfTheStoreDoubtsWhatItHadQueued) {
  const auto id = must(db->order_print(sheet(2)));
  EXPECT_EQ(must(db->doubt_prints(50)), 1);
  EXPECT_EQ(state(id), PrintState::sending);
  EXPECT_EQ(order(id).sent_real, 10'000);
  EXPECT_EQ(order(id).job_name, "") << "the caller gives the name that the next attempt would have had";
}

TEST_F(Prints, BelongToTheUnitTheyAreOrderedIn) {
  const auto failed = db->transaction(10, [](store::Store& inside) -> store::Result<void> {
    if (auto ordered = inside.order_print(sheet(1)); !ordered) return ordered.error();
    return store::Error{store::ErrorKind::logic, "changed my mind"};
  });
  expect_error(failed, store::ErrorKind::logic);
  EXPECT_TRUE(must(db->open_prints()).empty());
}

}  // namespace
