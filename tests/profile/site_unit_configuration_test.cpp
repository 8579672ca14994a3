// [[site.unit]]: who owns the Tasks of which place; what is taken, and what is said of what cannot be.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "profile/configuration.h"

namespace {

using testing::ElementsAre;
using testing::HasSubstr;

profile::LoadedConfiguration load(const std::string& units) {
  const auto folder = std::filesystem::path(testing::TempDir()) / "site-units";
  std::filesystem::create_directories(folder);
  std::ofstream(folder / "a.toml") << "[site]\ntime_zone = \"Europe/Berlin\"\nowner = \"Organization/house\"\n" << units;
  return profile::load_configuration(folder / "a.toml", SOURCE_DIR);
}

std::vector<std::string> faults(const std::string& units) {
  std::vector<std::string> texts;
  for (const auto& fault : load(units).faults) texts.push_back(fault.text);
  return texts;
}

TEST(SiteUnits, EachPlaceHasItsOwner) {
  const auto loaded = load("[[site.unit]]\nlocation = \"Location/bay\"\nowner = \"Organization/bay\"\nowner_name = \"Bay\"\n[[site.unit]]\nlocation = \"Location/ward\"\nowner = \"CareTeam/ward\"\n");
  ASSERT_TRUE(loaded.configuration) << tables::to_string(loaded.faults.front());
  const auto& site = loaded.configuration->site;
  ASSERT_EQ(site.units.size(), 2U);
  EXPECT_EQ(site.units[0].location + " " + site.units[0].owner + " " + site.units[0].owner_name, "Location/bay Organization/bay Bay");
  EXPECT_EQ(site.units[1].owner + site.units[1].owner_name, "CareTeam/ward");
  EXPECT_EQ(site.owner, "Organization/house");
}

TEST(SiteUnits, FaultsAreNamed) {
  EXPECT_THAT(faults("unit = \"x\"\n"), ElementsAre(HasSubstr("'site.unit' is")));
  EXPECT_THAT(faults("[[site.unit]]\nlocation = \"bay\"\nowner = \"Organization/bay\"\n"), ElementsAre(HasSubstr("\"bay\", no place")));
  EXPECT_THAT(faults("[[site.unit]]\nlocation = \"Location/bay\"\nowner = \"Location/bay\"\n"), ElementsAre(HasSubstr("nobody who can own a Task")));
  EXPECT_THAT(faults("[[site.unit]]\nlocation = \"Location/bay\"\n"), ElementsAre(HasSubstr("owner")));
  EXPECT_THAT(faults("[[site.unit]]\nlocation = \"Location/bay\"\nowner = \"Organization/a\"\n[[site.unit]]\nlocation = \"Location/bay\"\nowner = \"Organization/b\"\n"), ElementsAre(HasSubstr("two owners")));
  EXPECT_THAT(faults("[[site.unit]]\nlocation = \"Location/bay\"\nowner = \"Organization/a\"\nqueue = \"x\"\n"), ElementsAre(HasSubstr("queue")));
}

}  // namespace
