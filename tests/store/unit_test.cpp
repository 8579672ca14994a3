#include <stdexcept>

#include "store/store_support.h"

using namespace store;
using namespace store_test;

namespace {

using Transaction = StoreTest;

TEST_F(Transaction, CommitsStateChangeAndWriteTogether) {
  const std::vector<NewEvent> one{an_event("o1")};
  must(db->append(one));
  must(db->transaction(2000, [](Store& s) -> Result<void> {
    must(s.settle_event(1, EventState::applied, "", 2000));
    must(s.put_current(a_fact("Observation", "o1", "Patient/a"), {}));
    must(s.put_case(a_case("p1", 3000)));
    must(s.put_item(an_item("u1", "p1")));
    must(s.queue_write(a_write("p1")));
    return {};
  }));
  reopen();
  EXPECT_EQ(must(db->event(1))->state, EventState::applied);
  EXPECT_TRUE(must(db->current("", "Observation", "o1")));
  EXPECT_TRUE(must(db->case_of("p1")));
  EXPECT_TRUE(must(db->item("u1")));
  EXPECT_TRUE(must(db->write(1)));
}

TEST_F(Transaction, AnErrorUndoesAll) {
  const auto result = db->transaction(1, [](Store& s) -> Result<void> {
    must(s.put_case(a_case("p1")));
    must(s.queue_write(a_write("p1")));
    EXPECT_TRUE(must(s.case_of("p1"))) << "seen inside";
    return Error{ErrorKind::logic, "changed my mind"};
  });
  expect_error(result, ErrorKind::logic);
  EXPECT_EQ(result.error().text, "changed my mind");
  EXPECT_FALSE(must(db->case_of("p1")));
  EXPECT_EQ(must(db->write_ledger()).queued, 0);
  EXPECT_EQ(must(db->queue_write(a_write("p1"))).sequence, 1);
}

TEST_F(Transaction, AnExceptionUndoesAllAndPasses) {
  EXPECT_THROW(static_cast<void>(db->transaction(1,
                                                 [](Store& s) -> Result<void> {
                                                   must(s.put_case(a_case("p1")));
                                                   throw std::runtime_error("programming error");
                                                 })),
               std::runtime_error);
  EXPECT_FALSE(must(db->case_of("p1")));
  must(db->put_case(a_case("p2")));
}

TEST_F(Transaction, APartThatFailsIsUndoneAlone) {
  must(db->transaction(1, [](Store& s) -> Result<void> {
    must(s.put_case(a_case("outer")));
    const auto part = s.transaction(1, [](Store& inner) -> Result<void> {
      must(inner.put_case(a_case("inner")));
      return Error{ErrorKind::logic, "no"};
    });
    EXPECT_FALSE(part);
    must(s.transaction(1, [](Store& inner) { return inner.put_case(a_case("second")); }));
    return {};
  }));
  EXPECT_TRUE(must(db->case_of("outer")));
  EXPECT_FALSE(must(db->case_of("inner")));
  EXPECT_TRUE(must(db->case_of("second")));
}

TEST_F(Transaction, ACallThatFailsInsideLeavesNothingOfItself) {
  Item one = an_item("u1", "p1");
  one.server_id = "77";
  must(db->put_item(one));
  must(db->transaction(1, [](Store& s) -> Result<void> {
    Item two = an_item("u2", "p1");
    two.server_id = "77";
    expect_error(s.put_item(two), ErrorKind::logic);
    return s.put_case(a_case("p1"));
  }));
  EXPECT_FALSE(must(db->item("u2")));
  EXPECT_TRUE(must(db->case_of("p1")));
}

}  // namespace
