// Our Subscriptions: what is put is kept whole and replaced whole.
#include <gmock/gmock.h>

#include "store/store_support.h"

namespace {

using store_test::must;
using store_test::StoreTest;

class Subscriptions : public StoreTest {};

store::Subscription one(const std::string& name, const std::string& subject, store::Millis created_at) {
  store::Subscription s;
  s.name = name;
  s.subject = subject;
  s.form = "plain";
  s.secret = "invented";
  s.state = "new";
  s.created_at = created_at;
  return s;
}

TEST_F(Subscriptions, AreKeptWholeAndInOrder) {
  auto s = one("as-2", "Task?", 2000);
  s.server_id = "17";
  s.reason = "why";
  s.ends_at = 3;
  s.heard_at = 4;
  s.notices = 5;
  s.epoch = 6;
  s.last_number = 9'223'372'036'854'775'807;
  s.gaps_opened = 7;
  s.gaps = "3-4";
  s.recent = "2:a";
  must(db->put_subscription(s, 10));
  must(db->put_subscription(one("as-1", "Task?", 1000), 11));
  must(db->put_subscription(one("as-3", "Observation?", 3000), 12));
  reopen();
  const auto all = must(db->subscriptions());
  ASSERT_EQ(all.size(), 3U);
  EXPECT_EQ(all[0].name + all[1].name + all[2].name, "as-3as-1as-2");
  const auto& seen = all[2];
  EXPECT_EQ(seen.subject + seen.form + seen.secret + seen.server_id + seen.state + seen.reason, "Task?plaininvented17newwhy");
  EXPECT_EQ(seen.ends_at, 3);
  EXPECT_EQ(seen.heard_at, 4);
  EXPECT_EQ(seen.notices, 5);
  EXPECT_EQ(seen.epoch, 6);
  EXPECT_EQ(seen.last_number, 9'223'372'036'854'775'807);
  EXPECT_EQ(seen.gaps_opened, 7);
  EXPECT_EQ(seen.gaps + seen.recent, "3-42:a");
}

TEST_F(Subscriptions, AreReplacedAndDropped) {
  must(db->put_subscription(one("as-1", "Task?", 1000), 10));
  auto s = one("as-1", "Task?", 1000);
  s.state = "active";
  must(db->put_subscription(s, 11));
  EXPECT_EQ(must(db->subscription("as-1"))->state, "active");
  EXPECT_EQ(must(db->subscriptions()).size(), 1U);
  must(db->drop_subscription("as-1", 12));
  EXPECT_FALSE(must(db->subscription("as-1")));
}

TEST_F(Subscriptions, AreUndoneWithTheWholeTheyBelongTo) {
  must(db->put_subscription(one("as-1", "Task?", 1000), 10));
  const auto undone = db->transaction(11, [&](store::Store& inner) -> store::Result<void> {
    auto s = one("as-1", "Task?", 1000);
    s.last_number = 4;
    must(inner.put_subscription(s, 11));
    return store::Error{store::ErrorKind::logic, "undo"};
  });
  EXPECT_TRUE(undone.has_error());
  EXPECT_EQ(must(db->subscription("as-1"))->last_number, -1);
}

}  // namespace
