#include "store/store_support.h"

using namespace store;
using namespace store_test;

namespace {

using Kept = StoreTest;

TEST_F(Kept, AnActIsDoneOncePerCause) {
  EXPECT_TRUE(must(db->do_once("p1", "escalate rebleed", 1)));
  EXPECT_FALSE(must(db->do_once("p1", "escalate rebleed", 2)));
  EXPECT_TRUE(must(db->do_once("p2", "escalate rebleed", 2)));
  reopen();
  EXPECT_FALSE(must(db->do_once("p2", "escalate rebleed", 3)));
}

TEST_F(Kept, EvaluationsStayInOrder) {
  for (const char* key : {"a", "b", "a"}) must(db->add_evaluation({0, key, 10, "wake", "h"}));
  const auto all = must(db->evaluations("", 10));
  ASSERT_EQ(all.size(), 3u);
  EXPECT_EQ(all[2].trigger, "wake");
  EXPECT_EQ(all[2].plan_hash, "h");
  EXPECT_EQ(all[2].now, 10);
  EXPECT_EQ(must(db->evaluations("a", 10)).size(), 2u);
  EXPECT_EQ(must(db->evaluations("a", 10, 1)).at(0).id, 3);
}

TEST_F(Kept, MetaOnceKeepsTheFirst) {
  EXPECT_EQ(must(db->meta_once("base_url", "http://a")), "http://a");
  EXPECT_EQ(must(db->meta_once("base_url", "http://b")), "http://a");
  must(db->set_meta("seen", "1"));
  must(db->set_meta("seen", "2"));
  EXPECT_EQ(must(db->meta("seen")), "2");
  EXPECT_FALSE(must(db->meta("unknown")));
}

TEST_F(Kept, TheGreatestClockReadingIsRemembered) {
  EXPECT_FALSE(must(db->last_clock_reading()));
  const std::vector<NewEvent> batch{an_event("a", 500), an_event("b", 400)};
  must(db->append(batch));
  EXPECT_EQ(must(db->last_clock_reading()), 500);
  must(db->do_once("p", "c", 300));
  EXPECT_EQ(must(db->last_clock_reading()), 500);
  must(db->transaction(900, [](Store&) { return Result<void>(); }));
  reopen();
  EXPECT_EQ(must(db->last_clock_reading()), 900);
  expect_error(db->transaction(1000, [](Store&) { return Result<void>(Error{}); }), ErrorKind::logic);
  EXPECT_EQ(must(db->last_clock_reading()), 900) << "goes with its commit";
}

TEST_F(Kept, BlobsAreKeptByTheirHash) {
  const std::string pdf("%PDF\0x", 6);
  must(db->put_blob("ab", pdf));
  must(db->put_blob("ab", pdf));
  EXPECT_EQ(must(db->blob("ab")), pdf);
  EXPECT_FALSE(must(db->blob("cd")));
  must(db->put_blob("e0", ""));
  EXPECT_EQ(must(db->blob("e0")), "");
}

TEST(Quarantine, IsBoundedByCountAndBytes) {
  const Folder folder;
  SqliteOptions options;
  options.path = folder.file("store.db");
  options.quarantine_count = 3;
  options.quarantine_bytes = 10;
  const auto db = must_open(options);
  Quarantined q;
  q.at = 5;
  q.source = "east";
  q.reason = "no type";
  q.event_id = 4;
  for (const char* body : {"1", "22", "333", "4"}) {
    q.body = body;
    must(db->quarantine(q));
  }
  auto counts = must(db->quarantine_counts());
  EXPECT_EQ(counts.kept, 3);
  EXPECT_EQ(counts.kept_bytes, 6);
  EXPECT_EQ(counts.dropped, 1);
  EXPECT_EQ(counts.dropped_bytes, 1);
  q.body = "long, longer";
  must(db->quarantine(q));
  counts = must(db->quarantine_counts());
  EXPECT_EQ(counts.kept, 1);
  EXPECT_EQ(counts.kept_bytes, 10);
  EXPECT_EQ(counts.dropped, 4);
  const auto kept = must(db->quarantined(10));
  ASSERT_EQ(kept.size(), 1u);
  EXPECT_EQ(kept[0].body, "long, long");
  EXPECT_EQ(kept[0].reason, "no type");
  EXPECT_EQ(kept[0].event_id, 4);
}

}  // namespace
