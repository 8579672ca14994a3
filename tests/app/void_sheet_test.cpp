// A sheet that voids another one says which, of which groin, of which procedure, and why: by then the record may have lost the Procedure itself.
#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <array>
#include <cstdio>
#include <fstream>

#include "app/case_notes.h"
#include "app/simulated_support.h"

namespace {

using app_test::Daemon;
using app_test::MemoryChart;
using testing::AllOf;
using testing::HasSubstr;
using testing::Not;

constexpr app::Millis kAt = 1'772'456'400'000;  // 2026-03-02T13:00:00Z
const std::string kPatient = R"({"resourceType":"Patient","id":"a","birthDate":"1958-04-11","name":[{"family":"Testfall"}],
  "meta":{"security":[{"system":"http://terminology.hl7.org/CodeSystem/v3-ActReason","code":"HTEST"}]}})";

std::string procedure(const std::string& status, const std::string& subject = "Patient/a") {
  return fmt::format(R"({{"resourceType":"Procedure","id":"p","status":"{}","subject":{{"reference":"{}"}},"location":{{"display":"Bay 4, invented"}},
  "code":{{"coding":[{{"system":"http://snomed.info/sct","code":"33367005","display":"Coronary angiography"}}]}},
  "bodySite":[{{"coding":[{{"system":"http://snomed.info/sct","code":"69833005"}}]}}],
  "performedPeriod":{{"start":"2026-03-02T12:00:00Z","end":"2026-03-02T12:40:00Z"}},
  "extension":[{{"url":"https://aftersheath.example/fhir/StructureDefinition/sheath-size","valueQuantity":{{"value":6,"system":"http://unitsofmeasure.org","code":"[Ch]"}}}}]}})",
                     status, subject);
}

std::string text_of_pdf(const std::string& bytes) {
  const std::string path = testing::TempDir() + "void-sheet.pdf";
  std::ofstream(path, std::ios::binary) << bytes;
  std::string text;
  std::array<char, 4096> part{};
  FILE* pipe = popen(("pdftotext -layout '" + path + "' -").c_str(), "r");
  while (const std::size_t n = pipe ? fread(part.data(), 1, part.size(), pipe) : 0) text.append(part.data(), n);
  EXPECT_EQ(pipe ? pclose(pipe) : -1, 0);
  return text;
}

class VoidSheet : public testing::Test {
 protected:
  VoidSheet() : folder(app_test::fresh_folder("void")), daemon(std::make_unique<Daemon>(folder, chart, "", kAt)) {
    EXPECT_EQ(daemon->put("Patient", "a", kPatient), 200);
    EXPECT_EQ(daemon->put("Procedure", "p", procedure("completed")), 200);
    daemon->run();
    wait(5'000);
    EXPECT_TRUE(chart.files.contains("Procedure-p/sheet-1.pdf"));
  }
  void wait(app::Millis ms) {
    daemon->engine->move_clock(daemon->clock->now() + ms, [] {});
    daemon->run();
  }
  int sheets() const {
    int n = 0;
    while (chart.files.contains(fmt::format("Procedure-p/sheet-{}.pdf", n + 1))) ++n;
    return n;
  }
  std::string last_sheet() { return text_of_pdf(chart.files[fmt::format("Procedure-p/sheet-{}.pdf", sheets())]); }
  std::string voids_the_one_before(const std::string& at) const { return fmt::format("This voids sheet {} of {}", sheets() - 1, at); }

  std::string folder;
  MemoryChart chart;
  std::unique_ptr<Daemon> daemon;
};

TEST_F(VoidSheet, SaysWhoseItWasWhichItVoidsAndWhy) {
  wait(1'500'000);  // the clock alone makes another sheet: the check of 13:10 is missed at 13:20
  ASSERT_GT(sheets(), 1);
  ASSERT_EQ(daemon->put("Procedure", "p", procedure("entered-in-error")), 200);
  daemon->run();
  EXPECT_THAT(last_sheet(), AllOf(HasSubstr("VOID"), HasSubstr("RIGHT groin"), HasSubstr("6 F"), HasSubstr("Coronary angiography"), HasSubstr("Bay 4"),
                              HasSubstr(voids_the_one_before("13:20")), HasSubstr("The procedure was entered in error.")));
  EXPECT_THAT(last_sheet(), Not(HasSubstr("bed not recorded")));
}

TEST_F(VoidSheet, SaysTheSameAfterAStopInBetween) {
  daemon.reset();
  daemon = std::make_unique<Daemon>(folder, chart, "", kAt + 1'500'000);
  daemon->run();
  ASSERT_EQ(daemon->put("Procedure", "p", procedure("not-done")), 200);
  daemon->run();
  EXPECT_THAT(last_sheet(), AllOf(HasSubstr("RIGHT groin"), HasSubstr(voids_the_one_before("13:25")), HasSubstr("now recorded as not done")));
}

TEST_F(VoidSheet, SaysThatTheProcedureIsAnotherPatients) {
  ASSERT_EQ(daemon->put("Procedure", "p", procedure("completed", "Patient/b")), 200);
  daemon->run();
  EXPECT_THAT(last_sheet(), AllOf(HasSubstr("RIGHT groin"), HasSubstr("no longer recorded for this patient")));
}

// A check that only the closer watch demands can be missed from when it was told of; a stop in between changes nothing.
TEST_F(VoidSheet, TheCaseKeepsSinceWhenTheCloserWatchWasTold) {
  const auto since = [&]() -> app::Millis {
    const auto row = daemon->store->case_of("|Procedure/p");
    if (row.has_error() || !*row) return -1;
    const auto notes = app::notes_of(**row);
    const auto found = notes.closer.find("Procedure/p");
    return found == notes.closer.end() ? -1 : found->second;
  };
  const auto told = since();
  EXPECT_GE(told, kAt);
  EXPECT_LE(told, kAt + 5'000);
  wait(1'500'000);
  EXPECT_EQ(since(), told);
  daemon.reset();
  daemon = std::make_unique<Daemon>(folder, chart, "", kAt + 3'000'000);
  daemon->run();
  EXPECT_EQ(since(), told);
}

TEST(CaseNotes, KeepWhatTheSheetsSaid) {
  app::CaseNotes notes;
  notes.identity = "id|Procedure/p";
  notes.sheet_since = 5;
  notes.sheet_times = {{3, 1000}, {4, 2000}};
  notes.subject = {"Stent\twith\nbreaks", "Dr Invented", "Bay 4", clinical::Instant{clinical::seconds{77}},
                   {{clinical::Side::left, clinical::Vessel::vein, 8}, {clinical::Side::unknown, clinical::Vessel::artery, std::nullopt}}};
  notes.closer = {{"Procedure/p", 9000}, {"Procedure/p#2", 12000}};
  notes.identifiers = {{"shown 3", "v"}, {"https://hospital.example", "x"}};
  store::Case row;
  row.extra = app::text_of(notes);
  const auto again = app::notes_of(row);
  EXPECT_EQ(app::text_of(again), row.extra);
  EXPECT_EQ(again.sheet_times, notes.sheet_times);
  EXPECT_EQ(again.closer, notes.closer);
  EXPECT_EQ(again.identifiers, notes.identifiers);
  EXPECT_EQ(again.subject.title, "Stent with breaks");
  EXPECT_EQ(again.subject.started, notes.subject.started);
  ASSERT_EQ(again.subject.sites.size(), 2U);
  EXPECT_EQ(again.subject.sites[0].side, clinical::Side::left);
  EXPECT_EQ(again.subject.sites[0].french, 8);
  EXPECT_FALSE(again.subject.sites[1].french);
  row.extra = "id|Procedure/p\n\n\n\nhttps://hospital.example\tx\n";  // as written before sheets were noted
  EXPECT_EQ(app::notes_of(row).identifiers.size(), 1U);
  EXPECT_TRUE(app::notes_of(row).sheet_times.empty());
}

}  // namespace
