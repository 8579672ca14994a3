// Which of two versions counts, when what is read by ourselves crosses what is sent. Version ids are opaque here (FHIR R4, Resource, "Meta": no order may be read
// from them), so the times decide, and a clock may be wrong. All data is invented.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "app/simulated_support.h"
#include "app/take_event.h"

namespace {

using app::kReadAlone;
using app::kReadByUs;

class Order : public testing::Test {
 protected:
  Order() {
    store::SqliteOptions options;
    options.path = app_test::fresh_folder("order") + "/aftersheath.db";
    store = std::move(*store::open_sqlite(options));
  }
  static std::string body(const std::string& version, const std::string& at, const std::string& status = "final") {
    return fmt::format(R"({{"resourceType":"Observation","id":"o","meta":{{"versionId":"{}","lastUpdated":"{}"}},"status":"{}","subject":{{"reference":"Patient/a"}}}})", version, at, status);
  }
  app::Taken take(const std::string& request_id, const std::string& text, const std::string& method = "PUT", const std::string& version = "") {
    store::Event event;
    event.id = ++last;
    event.method = method;
    event.resource_type = "Observation";
    event.resource_id = id;
    event.version_id = version;
    event.request_id = request_id;
    event.body = text;
    event.content_hash = text;
    auto taken = app::take_event(*store, event, base).value();
    if (taken.fact) (void)store->transaction(1000, [&](store::Store& s) { return s.put_current(*taken.fact, {}); }).value();
    return taken;
  }
  std::string counts() {
    const auto fact = store->current("", "Observation", "o").value();
    return !fact ? "nothing" : fact->deleted ? "deleted" : fact->version_id;
  }
  std::unique_ptr<store::Store> store;
  std::string id = "o", base;
  store::EventId last = 0;
};

const std::string kEarly = "2026-03-02T10:00:00Z", kLate = "2026-03-02T10:00:05Z";

TEST_F(Order, ASearchThatWasAnsweredBeforeBringsNothingBack) {
  take("push", Order::body("b", kLate));
  const auto taken = take(kReadByUs, Order::body("a", kEarly));
  EXPECT_EQ(counts(), "b");
  EXPECT_TRUE(taken.uncertain) << "clocks may part: its own address tells";
  take(kReadAlone, Order::body("a", kEarly));
  EXPECT_EQ(counts(), "a") << "as it stands there";
}

TEST_F(Order, AReadThatBeganBeforeSomethingCameIsInDoubt) {
  take("push", Order::body("a", kEarly));
  const auto asked = app::read_alone_after(last);
  take("push", Order::body("b", kLate));
  const auto taken = take(asked, Order::body("a", kEarly));
  EXPECT_EQ(counts(), "b");
  EXPECT_TRUE(taken.uncertain) << "asked again";
  take(app::read_alone_after(last - 1), Order::body("a", kEarly));
  EXPECT_EQ(counts(), "a") << "asked for after b had come";
}

TEST_F(Order, NoSearchUndoesARetraction) {
  take("push", Order::body("b", kLate, "entered-in-error"));
  for (const std::string& at : {kEarly, kLate, std::string()}) {
    const auto taken = take(kReadByUs, Order::body("a", at));
    EXPECT_EQ(counts(), "b") << at;
    EXPECT_TRUE(taken.uncertain) << at;
    EXPECT_EQ(taken.alarm, "") << "it is asked again first";
  }
  take(kReadByUs, Order::body("c", "2026-03-02T10:00:09Z"));
  EXPECT_EQ(counts(), "c") << "later, and no longer in error";
}

TEST_F(Order, ADeletionOfAnOlderVersionDeletesNothing) {
  take("push", Order::body("3", kLate));
  EXPECT_FALSE(take("push", "", "DELETE", "2").fact);
  EXPECT_EQ(counts(), "3");
  EXPECT_FALSE(take("push", "", "DELETE", "4").fact == std::nullopt);
  EXPECT_EQ(counts(), "deleted");
}

TEST_F(Order, ADeletionOfWhatIsHeldIsInDoubtUntilItsAddressHasSaidSo) {
  take("push", Order::body("b", kLate));
  EXPECT_TRUE(take("push", "", "DELETE").uncertain);
  EXPECT_EQ(counts(), "deleted");
  EXPECT_FALSE(take("push", "", "DELETE").uncertain) << "nothing is held any more";
  take(app::read_alone_after(last), Order::body("b", kLate));
  EXPECT_EQ(counts(), "b") << "it is there: the deletion was late, or of what has been made again";
  EXPECT_FALSE(take(app::read_alone_after(last), "", "DELETE").uncertain) << "410";
  EXPECT_EQ(counts(), "deleted");
}

TEST_F(Order, WhatIsMadeAgainAfterADeletionAndCountsAnewCountsOnceItsOwnAddressShowsIt) {
  take("push", body("5", kEarly));
  take("push", "", "DELETE", "6");
  ASSERT_EQ(counts(), "deleted");
  const auto seen = take(kReadByUs, body("1", kLate));
  EXPECT_EQ(counts(), "deleted") << "a search may be old";
  EXPECT_TRUE(seen.uncertain);
  take(app::read_alone_after(last), body("1", kLate));
  EXPECT_EQ(counts(), "1");
  EXPECT_TRUE(take("push", "", "DELETE", "6").uncertain) << "the old deletion once more, late";
  take(app::read_alone_after(last), body("1", kLate));
  EXPECT_EQ(counts(), "1");
}

TEST_F(Order, ARecordRestoredFromABackupCountsAnew) {
  take("push", body("5", kEarly));
  EXPECT_TRUE(take("push", body("4", kLate)).uncertain);
  EXPECT_EQ(counts(), "5");
  take(app::read_alone_after(last), body("4", kLate));
  EXPECT_EQ(counts(), "4");
}

TEST_F(Order, ALowerNumberWithAnEarlierTimeNeverCounts) {
  take("push", body("5", kLate));
  EXPECT_FALSE(take("push", body("4", kEarly)).uncertain);
  take(app::read_alone_after(last), body("4", kEarly));
  EXPECT_EQ(counts(), "5") << "a copy that lags behind";
}

TEST_F(Order, APartIsNeverTakenForTheWhole) {
  take("push", body("1", kEarly));
  auto part = body("2", kLate);
  part.insert(part.find("\"versionId\""), R"("tag":[{"system":"http://terminology.hl7.org/CodeSystem/v3-ObservationValue","code":"SUBSETTED"}],)");
  base = "https://record.example/fhir";
  EXPECT_TRUE(take("push", part).uncertain);
  EXPECT_EQ(counts(), "1");
  take(app::read_alone_after(last), part);
  EXPECT_EQ(counts(), "2") << "all that is ours to see";
}

TEST_F(Order, IdsThatFhirDoesNotAllowAreAPersonsMatter) {
  id = "o_1";
  const auto taken = take("push", body("1", kEarly));
  EXPECT_EQ(taken.ending.state, store::EventState::dead);
  EXPECT_NE(taken.alarm.find("o_1"), std::string::npos);
  id = "o";
  auto odd = body("1", kEarly);
  odd.replace(odd.find("Patient/a"), 9, "Patient/a~b");
  EXPECT_NE(take("push", odd).alarm.find("Patient/a~b"), std::string::npos);
}

}  // namespace
