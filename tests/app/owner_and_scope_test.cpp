// Which unit owns the Tasks of a patient, and what the authorisation server is asked for.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <fstream>
#include <regex>

#include "app/owners.h"
#include "app/record_access.h"
#include "fhir_read/intake.h"
#include "json/tree.h"

namespace {

profile::Configuration::Site house() {
  profile::Configuration::Site site;
  site.owner = "Organization/house", site.owner_name = "House";
  site.units = {{"Location/ward", "Organization/ward", "Ward"}, {"Location/bay", "Organization/bay", "Bay"}};
  return site;
}

TEST(OwnerAt, TheNearestPlaceWithAnOwnerDecides) {
  EXPECT_EQ(app::owner_at(house(), {"Location/bed-2", "Location/bay", "Location/ward"}).reference, "Organization/bay");
  EXPECT_EQ(app::owner_at(house(), {"Location/bed-2", "Location/ward"}).display, "Ward");
  EXPECT_EQ(app::owner_at(house(), {"Location/annex"}).reference, "Organization/house");
  EXPECT_EQ(app::owner_at(house(), {}).reference, "Organization/house") << "nobody recorded a place";
  EXPECT_THAT(app::owners_of(house()), testing::ElementsAre("Organization/house", "Organization/ward", "Organization/bay"));
  EXPECT_THAT(app::owners_of({}), testing::IsEmpty());
}

profile::Configuration configured(const std::string& more) {
  const std::string file = testing::TempDir() + "scope.toml";
  std::ofstream(file) << "[site]\ntime_zone = \"Europe/Berlin\"\n[record]\nbase_url = \"http://127.0.0.1:9090\"\npurpose = \"test\"\n" << more;
  auto loaded = profile::load_configuration(file, SOURCE_DIR);
  EXPECT_TRUE(loaded.configuration) << tables::to_string(loaded.faults.front());
  return *loaded.configuration;
}

// Letters of a scope: SMART App Launch 2, "Scopes for requesting FHIR resources": c create, r read, u update, d delete, s search.
bool covers(const std::string& scope, const std::string& type, const std::string& letters) {
  std::smatch found;
  if (!std::regex_search(scope, found, std::regex("system/" + type + "\\.([cruds]+)( |$)"))) return false;
  return std::ranges::all_of(letters, [&](char one) { return found[1].str().find(one) != std::string::npos; });
}

/// Interactions of the published statement of what is asked of a record, as letters.
std::string letters_of(const json::Value& resource) {
  std::string letters;
  for (const auto& one : resource["interaction"].items()) {
    const auto code = one["code"].text();
    letters += code == "create" ? "c" : code == "update" ? "u" : code == "read" || code == "vread" ? "r" : code == "search-type" ? "s" : "";
  }
  if (resource["conditionalCreate"].boolean() == true && letters.find('s') == std::string::npos) letters += "s";
  return letters;
}

TEST(WantedScope, CoversAllThatTheClientStatementSaysIsWritten) {
  std::ifstream in(SOURCE_DIR "/profiles/fhir/CapabilityStatement-client.json");
  const auto statement = json::parse(std::string{std::istreambuf_iterator<char>(in), {}});
  ASSERT_TRUE(statement.has_value());
  const std::string scope = app::wanted_scope(configured("writing = \"documents\"\n[subscriptions]\nform = \"auto\"\nendpoint = \"http://127.0.0.1:1/fhir\"\n"));
  int written = 0;
  for (const auto& resource : (*statement)["rest"].at(0)["resource"].items()) {
    const std::string type(resource["type"].text()), letters = letters_of(resource);
    if (letters.find('c') == std::string::npos && letters.find('u') == std::string::npos) continue;
    ++written;
    std::string asked = type == "Subscription" ? "d" : "";  // nothing else is ever deleted
    for (const char one : letters)
      if (asked.find(one) == std::string::npos) asked += one;
    EXPECT_TRUE(covers(scope, type, asked)) << type << " " << asked << " in " << scope;
  }
  EXPECT_GE(written, 9);
}

TEST(WantedScope, AsksForAMessageOnlyWhereOneIsSent) {
  EXPECT_FALSE(covers(app::wanted_scope(configured("")), "Communication", "c"));
  EXPECT_FALSE(covers(app::wanted_scope(configured("writing = \"documents\"\n[documents]\ncommunication = \"no\"\n")), "Communication", "c"));
  EXPECT_TRUE(covers(app::wanted_scope(configured("writing = \"documents\"\n")), "Communication", "crs"));
  EXPECT_TRUE(covers(app::wanted_scope(configured("")), "DetectedIssue", "crus"));
  EXPECT_TRUE(covers(app::wanted_scope(configured("[access]\nscope = \"system/*.cruds system/Communication.c\"\n")), "Communication", "c")) << "what is written out stays";
}

}  // namespace
