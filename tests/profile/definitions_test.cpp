// The lists in profiles/fhir are those of the program.
#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <map>
#include <regex>
#include <string>
#include <vector>

#include "clinical/alerts.h"
#include "clinical/names.h"
#include "profile/configuration.h"
#include "profile/protocol_file.h"

namespace profile {
namespace {

const std::filesystem::path kFolder = SOURCE_DIR "/profiles/fhir";

std::string text_of(const std::string& name) {
  std::ifstream in(kFolder / name, std::ios::binary);
  EXPECT_TRUE(in) << name;
  return {std::istreambuf_iterator<char>{in}, {}};
}

/// Every code of a code system, in the order of the file.
std::vector<std::string> codes_of(const std::string& system) {
  const std::string text = text_of("CodeSystem-" + system + ".json");
  const std::regex code("\"code\": \"([^\"]*)\"");
  std::vector<std::string> codes;
  for (std::sregex_iterator at(text.begin(), text.end(), code), end; at != end; ++at) codes.push_back((*at)[1]);
  return codes;
}

template <class E>
std::vector<std::string> names_to(E last) {
  std::vector<std::string> names;
  for (int i = 0; i <= static_cast<int>(last); ++i) names.emplace_back(clinical::name_of(static_cast<E>(i)));
  return names;
}

TEST(Definitions, ListWhatTheProgramKnows) {
  EXPECT_EQ(codes_of("aftercare-step"), names_to(clinical::Step::check_sheet));
  EXPECT_EQ(codes_of("gate"), names_to(clinical::GateName::haemoglobin));
  EXPECT_EQ(codes_of("fact"), names_to(clinical::Fact::dose));
  EXPECT_EQ(codes_of("access-event"), names_to(clinical::AccessEventKind::sheath_in_place));
  auto closures = names_to(clinical::Closure::suture);
  closures.erase(closures.begin());  // unknown is no code
  EXPECT_EQ(codes_of("closure-method"), closures);
}

TEST(Definitions, ListWhatAnOrderMayClashAbout) {
  auto kinds = names_to(clinical::OrderKind::drug);
  std::erase(kinds, "sheath-named");  // it says nothing that a plan could differ from
  kinds.emplace_back("over");  // said of one that has ended
  EXPECT_EQ(codes_of("order-clash"), kinds);
}

TEST(Definitions, ListTheAlertTriggers) {
  std::vector<std::string> triggers;
  for (const auto& trigger : clinical::kAlertTriggers) triggers.emplace_back(trigger.name);
  EXPECT_EQ(codes_of("alert-trigger"), triggers);
}

TEST(Definitions, ThePlanHasTheVersionOfItsProtocolAndEachStepAnActivity) {
  const auto loaded = load_protocol(SOURCE_DIR "/profiles/protocol/cautious.toml");
  ASSERT_TRUE(loaded.protocol);
  const std::string version = "\"version\": \"" + loaded.protocol->version + "\"";
  EXPECT_NE(text_of("PlanDefinition-" + loaded.protocol->id + ".json").find(version), std::string::npos);
  for (const auto& step : names_to(clinical::Step::check_sheet))
    EXPECT_NE(text_of("ActivityDefinition-" + step + ".json").find(version), std::string::npos) << step;
}

/// "Task.crus" -> Task: create, read, update, search-type.
TEST(Definitions, TheClientAsksForWhatTheDefaultScopeHolds) {
  const std::string keys = describe_keys(), statement = text_of("CapabilityStatement-client.json");
  const std::regex scope("system/([A-Za-z]+)\\.([crus]+)"), type("\"type\": \"([A-Za-z]+)\",[^\\]]*?\"interaction\": \\[([^\\]]*)\\]");
  std::map<std::string, std::string> wanted, stated;
  for (std::sregex_iterator at(keys.begin(), keys.end(), scope), end; at != end; ++at) wanted[(*at)[1]] = (*at)[2];
  for (auto& [name, letters] : wanted) std::ranges::sort(letters);
  const std::string flat = std::regex_replace(statement, std::regex("\"supportedProfile\": \\[[^\\]]*\\],"), "");
  for (std::sregex_iterator at(flat.begin(), flat.end(), type), end; at != end; ++at)
    for (const auto& [code, letter] : {std::pair{"create", 'c'}, {"read", 'r'}, {"search-type", 's'}, {"update", 'u'}})
      if ((*at)[2].str().find(std::string("\"") + code + "\"") != std::string::npos) stated[(*at)[1]] += letter;
  for (const char* configured : {"Communication", "Subscription"}) EXPECT_EQ(stated.erase(configured), 1U);  // asked for where they are written: tests/app/owner_and_scope_test.cpp
  EXPECT_EQ(stated, wanted);
  EXPECT_EQ(wanted["Task"], "crsu");
}

}  // namespace
}  // namespace profile
