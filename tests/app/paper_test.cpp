// Which printer a place has, and what a person is told.
#include "app/paper.h"

#include <gtest/gtest.h>

namespace {

profile::Configuration::Print house() {
  profile::Configuration::Print print{};
  print.facility.uri = "ipps://hall/ipp";
  print.units.push_back({"Location/bay", {"ipps://bay/ipp", "Bay", "", ""}});
  print.units.push_back({"Location/bed-4", {"ipps://bed/ipp", "Bed", "", ""}});
  print.units.push_back({"Location/annex", {}});
  return print;
}

TEST(QueueFor, TheNearestPlaceThatHasOne) {
  EXPECT_EQ(app::queue_for(house(), {"Location/bed-4", "Location/bay", "Location/house"}).queue.uri, "ipps://bed/ipp");
  EXPECT_EQ(app::queue_for(house(), {"Location/bed-5", "Location/bay", "Location/house"}).queue.uri, "ipps://bay/ipp");
  EXPECT_EQ(app::queue_for(house(), {"Location/ward"}).queue.uri, "ipps://hall/ipp");
  EXPECT_EQ(app::queue_for(house(), {}).queue.uri, "ipps://hall/ipp") << "where nobody recorded a place";
}

TEST(QueueFor, APlaceWithoutAPrinterOnPurposeIsNotOneThatNobodyNamed) {
  auto print = house();
  EXPECT_EQ(app::queue_for(print, {"Location/annex"}).queue.uri, "");
  EXPECT_FALSE(app::queue_for(print, {"Location/annex"}).unknown);
  print.facility.uri.clear();
  EXPECT_FALSE(app::queue_for(print, {"Location/annex"}).unknown);
  EXPECT_TRUE(app::queue_for(print, {"Location/ward"}).unknown);
}

TEST(PaperReason, NamesEachPrinterAndItsTrouble) {
  const auto one = app::paper_reason(app::text_of({{"Bay\tprinter", "jam"}}));
  EXPECT_EQ(one.code, "print.no-paper");
  EXPECT_EQ(std::get<std::string>(one.arguments[0].second), "Bay printer");
  EXPECT_EQ(std::get<std::string>(one.arguments[1].second), "@printer.jam");
  const auto two = app::paper_reason(app::text_of({{"Bay", "jam"}, {"Office", "no-paper"}}));
  EXPECT_EQ(two.code, "print.no-paper-second");
  EXPECT_EQ(std::get<std::string>(two.arguments[3].second), "@printer.no-paper");
  EXPECT_EQ(app::paper_reason(app::text_of({{"", "no-printer"}})).code, "print.no-printer");
}

TEST(Prints, NeitherInShadowNorOnARehearsalClockUnlessTold) {
  app::Rules rules;
  EXPECT_FALSE(app::prints(rules));
  rules.configuration.print = house();
  rules.configuration.print->shadow = rules.configuration.print->rehearsal = "no";
  EXPECT_TRUE(app::prints(rules));
  rules.rehearsal = true;
  EXPECT_FALSE(app::prints(rules));
  rules.configuration.print->rehearsal = "yes";
  EXPECT_TRUE(app::prints(rules));
  rules.configuration.record.emplace();
  rules.configuration.record->mode = "shadow";
  EXPECT_FALSE(app::prints(rules));
  rules.configuration.print->shadow = "yes";
  EXPECT_TRUE(app::prints(rules));
}

}  // namespace
