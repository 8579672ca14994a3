// [subscriptions]: what is taken, and what is said of what cannot be.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "profile/configuration.h"

namespace profile {
namespace {

namespace fs = std::filesystem;
using testing::ElementsAre;
using testing::HasSubstr;

const std::string kRest = "[site]\ntime_zone = \"Europe/Berlin\"\n[record]\nbase_url = \"http://127.0.0.1:9090\"\npurpose = \"test\"\n";

LoadedConfiguration load(const std::string& text) {
  const fs::path file = fs::path{testing::TempDir()} / (std::string("subscriptions-") + testing::UnitTest::GetInstance()->current_test_info()->name() + ".toml");
  std::ofstream{file} << text;
  auto loaded = load_configuration(file, SOURCE_DIR);
  fs::remove(file);
  return loaded;
}
std::vector<std::string> faults(const std::string& text) {
  std::vector<std::string> out;
  for (const auto& fault : load(text).faults) out.push_back(fault.text);
  return out;
}

TEST(SubscriptionKeys, AreOffByDefault) {
  const auto loaded = load(kRest);
  ASSERT_TRUE(loaded.configuration);
  EXPECT_EQ(loaded.configuration->subscriptions.form, "none");
  EXPECT_EQ(loaded.configuration->record->source, "");
}

TEST(SubscriptionKeys, ListsAreTakenApart) {
  const auto loaded = load(kRest + "[subscriptions]\nform = \"auto\"\nendpoint = \"https://a.example/fhir/\"\ncriteria = \"Task? ; Observation?category=laboratory;\"\n"
                                   "topics = \"https://r.example/topic/case Procedure?code=1\"\n");
  for (const auto& fault : loaded.faults) ADD_FAILURE() << tables::to_string(fault);
  ASSERT_TRUE(loaded.configuration);
  const auto& subscriptions = loaded.configuration->subscriptions;
  EXPECT_EQ(subscriptions.endpoint, "https://a.example/fhir");
  EXPECT_THAT(subscriptions.criteria, ElementsAre("Task?", "Observation?category=laboratory"));
  EXPECT_THAT(subscriptions.topics, ElementsAre("https://r.example/topic/case Procedure?code=1"));
  EXPECT_EQ(subscriptions.heartbeat_seconds, 60);
  EXPECT_EQ(subscriptions.days, 7);
  EXPECT_EQ(loaded.configuration->record->source, "record") << "what our Subscriptions bring is the record's own";
}

TEST(SubscriptionKeys, EveryFaultIsNamed) {
  const auto with = [](const std::string& text) { return faults(kRest + "[subscriptions]\n" + text); };
  EXPECT_THAT(with("form = \"plain\"\n"), ElementsAre(HasSubstr("no https address at which the record could reach us")));
  EXPECT_THAT(with("form = \"plain\"\nendpoint = \"http://a.example/fhir\"\n"), ElementsAre(HasSubstr("no https address")));
  const std::string endpoint = "endpoint = \"https://a.example/fhir\"\n";
  EXPECT_THAT(with("form = \"backport\"\n" + endpoint), ElementsAre(HasSubstr("'subscriptions.topics' is missing")));
  EXPECT_THAT(with("form = \"plain\"\npayload = \"id-only\"\n" + endpoint), ElementsAre(HasSubstr("plain Subscriptions do not know")));
  EXPECT_THAT(with("form = \"plain\"\ncriteria = \"Task?status=requested\"\n" + endpoint), ElementsAre(HasSubstr("of what leaves that status")));
  EXPECT_THAT(with("form = \"plain\"\ncriteria = \"Task?business-status=x;task\"\n" + endpoint), ElementsAre(HasSubstr("that status"), HasSubstr("no search")));
  EXPECT_THAT(with("form = \"plain\"\ncriteria = \";\"\n" + endpoint), ElementsAre(HasSubstr("is empty")));
  EXPECT_THAT(faults("[site]\ntime_zone = \"Europe/Berlin\"\n[subscriptions]\nform = \"plain\"\n"), ElementsAre(HasSubstr("without a record")));
}

}  // namespace
}  // namespace profile
