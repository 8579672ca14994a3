// Every form of notification, from published examples and shapes after the specifications: see notifications/README.md.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "fhir_read/intake.h"
#include "fhir_read/reading_support.h"

namespace {

namespace fs = std::filesystem;

const fs::path kFolder = fs::path(SOURCE_DIR) / "tests/fhir_read/notifications";

std::string text_of(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  std::stringstream all;
  all << in.rdbuf();
  return all.str();
}

std::string number(const std::optional<std::int64_t>& n) { return n ? std::to_string(*n) : "-"; }

std::string told(const fhir_read::Notice& notice) {
  std::string line = "  " + notice.type + " of " + notice.subscription_id + ", " + notice.status + ", " + number(notice.events_since_start) + " since the start\n";
  for (const auto& event : notice.events)
    line += "  event " + number(event.number) + " at " + (event.timestamp.empty() ? "-" : event.timestamp) + (event.focus.written.empty() ? "" : " " + event.focus.written) + "\n";
  for (const auto& error : notice.errors) line += "  error " + error + "\n";
  return line;
}

std::string told(const json::Value& root) {
  std::string all;
  if (root["resourceType"].text() != "Bundle") {
    fhir::Issues issues;
    const auto notice = fhir_read::notice_of(root, "resource", issues);
    return notice ? told(*notice) : "  none\n";
  }
  const auto entries = fhir_read::entries_of(root);
  if (entries.refused) return "  refused: " + entries.refused->text + "\n";
  all += entries.notice ? told(*entries.notice) : "  none\n";
  for (const auto& event : entries.events)
    all += "  -> " + event.method + " " + event.type + "/" + event.id + (event.method == "POST" && event.body.is_null() ? " (to be asked for)" : "") + "\n";
  for (const auto& issue : entries.issues) all += "  issue " + issue.at + ": " + issue.text + "\n";
  return all;
}

TEST(Notification, every_example_reads_as_kept) {
  std::vector<fs::path> files;
  for (const auto& entry : fs::recursive_directory_iterator(kFolder))
    if (entry.path().extension() == ".json") files.push_back(entry.path());
  std::ranges::sort(files);
  EXPECT_GE(files.size(), 30u);
  std::string all;
  for (const auto& file : files) all += fs::relative(file, kFolder).string() + "\n" + told(reading_test::resource(text_of(file)));
  const char* golden = std::getenv("AFTERSHEATH_GOLDEN");
  if (golden && std::string_view(golden) == "write") std::ofstream(kFolder / "told.txt") << all;
  EXPECT_EQ(all, text_of(kFolder / "told.txt"));
}

struct CountRow {
  const char* written;
  std::optional<std::int64_t> read;
};
class Counts : public testing::TestWithParam<CountRow> {};
TEST_P(Counts, of_64_bits_as_number_or_text) {
  EXPECT_EQ(fhir_read::count_of(reading_test::resource("{\"n\":" + std::string(GetParam().written) + "}")["n"]), GetParam().read) << GetParam().written;
}
INSTANTIATE_TEST_SUITE_P(table, Counts,
                         testing::Values(CountRow{"0", 0}, CountRow{"\"0\"", 0}, CountRow{"17", 17}, CountRow{"\"17\"", 17}, CountRow{"9223372036854775807", 9223372036854775807},
                                         CountRow{"\"9223372036854775807\"", 9223372036854775807}, CountRow{"9223372036854775808", std::nullopt},
                                         CountRow{"\"9223372036854775808\"", std::nullopt}, CountRow{"\"99999999999999999999999\"", std::nullopt}, CountRow{"-1", std::nullopt},
                                         CountRow{"\"-1\"", std::nullopt}, CountRow{"\"+1\"", std::nullopt}, CountRow{"1.0", std::nullopt}, CountRow{"1e3", std::nullopt},
                                         CountRow{"\"1 \"", std::nullopt}, CountRow{"\"\"", std::nullopt}, CountRow{"true", std::nullopt}, CountRow{"[1]", std::nullopt}));

TEST(Notification, parameters_of_another_operation_are_none) {
  EXPECT_FALSE(fhir_read::is_notice(reading_test::resource(R"({"resourceType":"Parameters","parameter":[{"name":"type","valueCode":"x"}]})")));
  EXPECT_FALSE(fhir_read::is_notice(reading_test::resource(R"({"resourceType":"Observation","id":"o"})")));
}

TEST(Notification, status_answers_hold_one_a_subscription) {
  fhir::Issues issues;
  const auto notices = fhir_read::notices_in(reading_test::resource(R"({"resourceType":"Bundle","type":"searchset","entry":[
    {"resource":{"resourceType":"SubscriptionStatus","type":"query-status","status":"active","eventsSinceSubscriptionStart":"4","subscription":{"reference":"Subscription/a"}}},
    {"resource":{"resourceType":"OperationOutcome"}},
    {"resource":{"resourceType":"SubscriptionStatus","type":"query-status","status":"error","eventsSinceSubscriptionStart":"x","subscription":{"reference":"Subscription/b"}}}]})"), issues);
  ASSERT_EQ(notices.size(), 2u);
  EXPECT_EQ(notices[0].subscription_id, "a");
  EXPECT_EQ(notices[0].events_since_start, 4);
  EXPECT_EQ(notices[1].status, "error");
  EXPECT_FALSE(notices[1].events_since_start);
  ASSERT_EQ(issues.size(), 1u);
  EXPECT_EQ(issues[0].at, "Bundle.entry[2].resource.eventsSinceSubscriptionStart");
}

}  // namespace
