#include <gmock/gmock.h>

#include "store/store_support.h"

using namespace store;
using namespace store_test;
using testing::ElementsAre;
using testing::IsEmpty;

namespace {

using Cases = StoreTest;

TEST_F(Cases, KeepsEveryField) {
  Case c = a_case("p1", 77);
  c.source = "east";
  c.as_of = 5;
  c.open = false;
  c.transaction_count = 3;
  c.sheet_count = 2;
  c.care_plan_id = "cp";
  c.care_plan_etag = "W/\"4\"";
  c.extra = "more";
  must(db->put_case(c));
  reopen();
  const auto back = must(db->case_of("p1"));
  ASSERT_TRUE(back);
  EXPECT_EQ(back->patient, "Patient/a");
  EXPECT_EQ(back->source, "east");
  EXPECT_EQ(back->plan, "plan of p1");
  EXPECT_EQ(back->plan_hash, "hash");
  EXPECT_EQ(back->written_view, "view");
  EXPECT_EQ(back->as_of, 5);
  EXPECT_EQ(back->wake_at, 77);
  EXPECT_EQ(back->state, "resting");
  EXPECT_FALSE(back->open);
  EXPECT_EQ(back->transaction_count, 3);
  EXPECT_EQ(back->sheet_count, 2);
  EXPECT_EQ(back->care_plan_id, "cp");
  EXPECT_EQ(back->care_plan_etag, "W/\"4\"");
  EXPECT_EQ(back->extra, "more");
}

TEST_F(Cases, WakeInOrderAndInclusive) {
  EXPECT_FALSE(must(db->next_wake()));
  must(db->put_case(a_case("late", 300)));
  must(db->put_case(a_case("b", 100)));
  must(db->put_case(a_case("a", 100)));
  must(db->put_case(a_case("never")));
  EXPECT_EQ(must(db->next_wake()), 100);
  EXPECT_THAT(must(db->due_case_keys(99, 10)), IsEmpty());
  EXPECT_THAT(must(db->due_case_keys(100, 10)), ElementsAre("a", "b"));
  EXPECT_THAT(must(db->due_case_keys(1000, 2)), ElementsAre("a", "b"));
  EXPECT_THAT(must(db->due_case_keys(1000, 10)), ElementsAre("a", "b", "late"));
  must(db->put_case(a_case("a")));
  EXPECT_THAT(must(db->due_case_keys(100, 10)), ElementsAre("b"));
}

TEST_F(Cases, AreListed) {
  Case closed = a_case("c");
  closed.open = false;
  Case other = a_case("b");
  other.patient = "Patient/b";
  must(db->put_case(closed));
  must(db->put_case(other));
  must(db->put_case(a_case("a")));
  EXPECT_THAT(must(db->open_case_keys()), ElementsAre("a", "b"));
  EXPECT_THAT(must(db->case_keys(10)), ElementsAre("a", "b", "c"));
  EXPECT_THAT(must(db->case_keys(1, 1)), ElementsAre("b"));
  const auto of_patient = must(db->cases_of_patient("", "Patient/a"));
  ASSERT_EQ(of_patient.size(), 2u);
  EXPECT_EQ(of_patient[1].key, "c");
}

TEST_F(Cases, ItemsAreFoundByIdentityCaseAndServerId) {
  Item i = an_item("u1", "p1");
  i.ordinal = 4;
  i.window = "100..200";
  i.intended_hash = "h";
  i.intended_status = "requested";
  i.server_id = "77";
  i.etag = "W/\"1\"";
  i.status = "accepted";
  i.claimed = true;
  i.extra = "x";
  must(db->put_item(i));
  must(db->put_item(an_item("u2", "p1")));
  must(db->put_item(an_item("u3", "p2")));
  const auto back = must(db->item_by_server_id("Task", "77"));
  ASSERT_TRUE(back);
  EXPECT_EQ(back->identity, "u1");
  EXPECT_EQ(back->ordinal, 4);
  EXPECT_EQ(back->window, "100..200");
  EXPECT_EQ(back->intended_hash, "h");
  EXPECT_EQ(back->intended_status, "requested");
  EXPECT_EQ(back->etag, "W/\"1\"");
  EXPECT_EQ(back->status, "accepted");
  EXPECT_TRUE(back->claimed);
  EXPECT_EQ(back->body, "{}");
  EXPECT_EQ(back->extra, "x");
  const auto of_case = must(db->items_of_case("p1"));
  ASSERT_EQ(of_case.size(), 2u);
  EXPECT_EQ(of_case[0].identity, "u2") << "by ordinal";
  EXPECT_FALSE(must(db->item_by_server_id("Task", ""))) << "not confirmed is no id";
  EXPECT_FALSE(must(db->item_by_server_id("CarePlan", "77")));
  EXPECT_TRUE(must(db->item("u3")));
}

TEST_F(Cases, TwoItemsNeverShareAServerId) {
  Item one = an_item("u1", "p1");
  one.server_id = "77";
  must(db->put_item(one));
  Item two = an_item("u2", "p1");
  two.server_id = "77";
  expect_error(db->put_item(two), ErrorKind::logic);
  EXPECT_TRUE(must(db->item("u1")));
  EXPECT_FALSE(must(db->item("u2")));
}

}  // namespace
