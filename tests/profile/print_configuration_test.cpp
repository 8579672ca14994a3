// [print] and its units: what is taken, and what is said of what cannot be.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "profile/configuration.h"

namespace {

using testing::ElementsAre;
using testing::HasSubstr;

profile::LoadedConfiguration load(const std::string& print) {
  const auto folder = std::filesystem::path(testing::TempDir()) / "print-configuration";
  std::filesystem::create_directories(folder);
  std::ofstream(folder / "a.toml") << "[site]\ntime_zone = \"Europe/Berlin\"\n" << print;
  return profile::load_configuration(folder / "a.toml", SOURCE_DIR);
}

std::vector<std::string> faults(const std::string& print) {
  std::vector<std::string> texts;
  for (auto fault : load(print).faults) {
    fault.file = "a.toml";
    texts.push_back(tables::to_string(fault));
  }
  return texts;
}

TEST(PrintConfiguration, IsOffUntilItIsThere) {
  const auto loaded = load("");
  ASSERT_TRUE(loaded.configuration);
  EXPECT_FALSE(loaded.configuration->print);
}

TEST(PrintConfiguration, HasOneQueueForTheHouseAndMoreForItsUnits) {
  const auto loaded = load(R"([print]
queue = "ipps://Hall.example/ipp/print"
second_queue = "ipp://127.0.0.1:631/printers/a"
second_name = "Office"
person_seconds = 10
[[print.unit]]
location = "Location/bay"
queue = "ipps://bay.example/ipp/print"
name = "Bay printer"
[[print.unit]]
location = "Location/annex"
)");
  ASSERT_TRUE(loaded.configuration) << tables::to_string(loaded.faults.front());
  const auto& print = *loaded.configuration->print;
  EXPECT_EQ(print.facility.name, "hall.example");
  EXPECT_EQ(print.facility.second_name, "Office");
  EXPECT_EQ(print.person_seconds, 10);
  EXPECT_EQ(print.reroute_seconds, 60);
  EXPECT_EQ(print.shadow + print.rehearsal + print.unencrypted, "nonono");
  ASSERT_EQ(print.units.size(), 2U);
  EXPECT_EQ(print.units[0].location, "Location/bay");
  EXPECT_EQ(print.units[0].queue.name, "Bay printer");
  EXPECT_EQ(print.units[1].queue.uri, "");
}

TEST(PrintConfiguration, SaysWhereAFaultStandsAndWhatToDo) {
  EXPECT_THAT(faults("[print]\nqueue = \"http://p/x\"\n"), ElementsAre(HasSubstr("a.toml:4:9: 'print.queue' is \"http://p/x\", no print queue")));
  EXPECT_THAT(faults("[print]\nqueue = \"ipp://printer.example/ipp\"\n"), ElementsAre(HasSubstr("unencrypted to another machine")));
  EXPECT_THAT(faults("[print]\nunencrypted = \"yes\"\nqueue = \"ipp://printer.example/ipp\"\n"), ElementsAre());
  EXPECT_THAT(faults("[print]\n"), ElementsAre(HasSubstr("[print] names no printer")));
  EXPECT_THAT(faults("[print]\nqueue = \"ipps://p/x\"\nqueeu = \"a\"\n"), ElementsAre(HasSubstr("queeu")));
  EXPECT_THAT(faults("[print]\nqueue = \"ipps://p/x\"\nperson_seconds = 99999\n"), ElementsAre(HasSubstr("out of range")));
  EXPECT_THAT(faults("[print]\n[[print.unit]]\nqueue = \"ipps://p/x\"\n"), ElementsAre(HasSubstr("location")));
  EXPECT_THAT(faults("[print]\n[[print.unit]]\nlocation = \"bay\"\nqueue = \"ipps://p\"\n"),
              ElementsAre(HasSubstr("no place"), HasSubstr("a.toml:6:9: 'print.unit.queue' is \"ipps://p\", no print queue")));
  EXPECT_THAT(faults("[print]\n[[print.unit]]\nlocation = \"Location/a\"\n[[print.unit]]\nlocation = \"Location/a\"\n"), ElementsAre(HasSubstr("has two printers")));
  EXPECT_THAT(faults("[print]\nunit = 5\nqueue = \"ipps://p/x\"\n"), ElementsAre(HasSubstr("[[print.unit]]")));
}

}  // namespace
