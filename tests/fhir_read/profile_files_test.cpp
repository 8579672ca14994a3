#include "fhir_read/reading_support.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <unistd.h>

#include <filesystem>
#include <fstream>

namespace {

namespace fs = std::filesystem;

// A copy of the shipped terminology in which one file is replaced.
class Terminologies : public testing::Test {
 protected:
  void SetUp() override {
    folder_ = fs::temp_directory_path() / ("terminology-" + std::to_string(::getpid()));
    fs::copy(SOURCE_DIR "/profiles/terminology", folder_, fs::copy_options::recursive | fs::copy_options::overwrite_existing);
  }
  void TearDown() override { fs::remove_all(folder_); }

  std::vector<std::string> faults_with(const std::string& file, const std::string& text) {
    std::ofstream(folder_ / file) << text;
    std::vector<std::string> told;
    const auto loaded = fhir_read::load_terminology(folder_.string());
    if (loaded) return told;
    for (const auto& fault : loaded.error()) told.push_back(fs::path(fault.file).filename().string() + ":" + std::to_string(fault.line) + " " + fault.text);
    return told;
  }
  fs::path folder_;
};

using testing::ElementsAre;

TEST_F(Terminologies, faults_name_file_and_line) {
  EXPECT_THAT(faults_with("risks.toml", "# Terminology: x\n[[risk]]\nrisk = \"hunger\"\n"), ElementsAre("risks.toml:3 unknown risk 'hunger'"));
  EXPECT_THAT(faults_with("risks.toml", "[[risk]]\nrisk = \"cough\"\nname = [\"cough\"]\n"), ElementsAre("risks.toml:3 unknown key 'name'"));
  EXPECT_THAT(faults_with("risks.toml", "[[risk]]\nrisk = \"cough\"\nnames = \"cough\"\n"), ElementsAre("risks.toml:3 names is no list of strings"));
  EXPECT_THAT(faults_with("risks.toml", "[[risk]]\nrisk = \"cough\"\nsnomed = [\"1\"]\n[[risk]]\nrisk = \"graft\"\nsnomed = [\"1\"]\n"),
              ElementsAre(testing::EndsWith("code 1 stands twice")));
  EXPECT_THAT(faults_with("risks.toml", "[[risk\n"), testing::SizeIs(1));
}

TEST_F(Terminologies, a_missing_file_is_a_fault) {
  fs::remove(folder_ / "drugs.toml");
  EXPECT_FALSE(fhir_read::load_terminology(folder_.string()));
}

std::vector<std::string> site_faults(const std::string& text) {
  const auto path = fs::temp_directory_path() / ("site-" + std::to_string(::getpid()) + ".toml");
  std::ofstream(path) << text;
  std::vector<std::string> told;
  if (const auto loaded = fhir_read::load_site_map(path.string()); !loaded) {
    for (const auto& fault : loaded.error()) told.push_back(std::to_string(fault.line) + " " + fault.text);
  }
  fs::remove(path);
  return told;
}

TEST(SiteFiles, faults_name_the_line) {
  EXPECT_THAT(site_faults("time_zone = \"Europe/Berlin\"\nassume_zone = true\n"), ElementsAre());
  EXPECT_THAT(site_faults("time_zone = \"Mars/Base\"\n"), ElementsAre("1 unknown time zone 'Mars/Base'"));
  EXPECT_THAT(site_faults("[places]\nside = [\"guess\"]\n"), ElementsAre("2 unknown place 'guess'"));
  EXPECT_THAT(site_faults("[places]\nluck = []\n"), ElementsAre("2 no fact 'luck' has places"));
  EXPECT_THAT(site_faults("[[local_code]]\ncode = \"x\"\n"), ElementsAre(testing::HasSubstr("without code or means_code")));
  EXPECT_THAT(site_faults("zone = \"UTC\"\n"), ElementsAre("1 unknown key 'zone'"));
}

TEST(SiteFiles, a_place_that_is_left_out_is_not_read) {
  auto site = reading_test::default_site();
  site.places["sheath-size"] = {"extension"};
  const auto result = reading_test::read({R"({"resourceType":"Procedure","id":"p","status":"completed","subject":{"reference":"Patient/a"},
    "bodySite":[{"coding":[{"system":"http://snomed.info/sct","code":"69833005"}]}],"note":[{"text":"6F sheath"}]})"}, site);
  EXPECT_TRUE(result.record.procedures.at(0).french.empty());
}

TEST(SiteFiles, times_without_zone_follow_the_site) {
  constexpr const char* act = R"({"resourceType":"Observation","id":"o","status":"final","subject":{"reference":"Patient/a"},"effectiveDateTime":"2026-03-02T10:00:00",
    "code":{"coding":[{"system":"http://loinc.org","code":"3184-9"}]},"valueQuantity":{"value":149,"system":"http://unitsofmeasure.org","code":"s"}})";
  const auto refused = reading_test::read({act});
  EXPECT_FALSE(refused.record.measurements.at(0).at);
  EXPECT_TRUE(reading_test::has_issue(refused, "no-zone"));
  auto site = reading_test::default_site();
  site.zone = {fhir::find_zone("Europe/Berlin"), true};
  const auto assumed = reading_test::read({act}, site);
  EXPECT_EQ(assumed.record.measurements.at(0).at->earliest, reading_test::instant("2026-03-02T09:00:00Z"));
  EXPECT_TRUE(reading_test::has_issue(assumed, "zone-assumed"));
}

// Every shipped file says in its first line what it is, LOINC carries its notice, and no CPT number is shipped.
TEST(ShippedProfiles, first_lines_and_notices) {
  for (const auto* folder : {"terminology", "site"}) {
    for (const auto& entry : fs::directory_iterator(fs::path(SOURCE_DIR) / "profiles" / folder)) {
      std::ifstream in(entry.path());
      std::string first;
      std::getline(in, first);
      EXPECT_TRUE(first.starts_with(folder == std::string("site") ? "# Site: " : "# Terminology: ")) << entry.path();
      std::string all((std::istreambuf_iterator<char>(in)), {});
      EXPECT_EQ(all.find("ama-assn"), std::string::npos) << entry.path();
      if (entry.path().filename() == "measurements.toml") {
        EXPECT_NE(all.find("copyright (c) Regenstrief Institute"), std::string::npos);
      }
    }
  }
}

// A code of SNOMED CT or LOINC that fails its own check digit has been mistyped (SNOMED CT: Verhoeff; LOINC: mod 10, in the LOINC guide).
bool luhn_like(const std::string& loinc) {
  const auto dash = loinc.find('-');
  int sum = 0;
  bool twice = true;
  for (auto i = dash; i-- > 0; twice = !twice) {
    const int digit = (loinc[i] - '0') * (twice ? 2 : 1);
    sum += digit / 10 + digit % 10;
  }
  return (10 - sum % 10) % 10 == loinc[dash + 1] - '0';
}

bool verhoeff(const std::string& sctid) {
  static constexpr int permute[8][10] = {{0, 1, 2, 3, 4, 5, 6, 7, 8, 9}, {1, 5, 7, 6, 2, 8, 3, 0, 9, 4}, {5, 8, 0, 3, 7, 9, 6, 1, 4, 2}, {8, 9, 1, 6, 0, 4, 3, 5, 2, 7},
                                         {9, 4, 5, 3, 1, 2, 6, 8, 7, 0}, {4, 2, 8, 6, 5, 7, 3, 9, 0, 1}, {2, 7, 9, 3, 8, 0, 6, 4, 1, 5}, {7, 0, 4, 6, 9, 1, 3, 2, 5, 8}};
  const auto multiply = [](int a, int b) {  // the dihedral group D5
    if (a < 5) return b < 5 ? (a + b) % 5 : 5 + (a + b) % 5;
    return b < 5 ? 5 + (a - b + 10) % 5 : (a - b + 10) % 5;
  };
  int check = 0;
  for (std::size_t i = 0; i < sctid.size(); ++i) check = multiply(check, permute[i % 8][sctid[sctid.size() - 1 - i] - '0']);
  return check == 0;
}

template <class Table>
void expect_check_digits(const Table& table) {
  for (const auto& [key, meaning] : table.codes) {
    EXPECT_TRUE(key.system != "http://loinc.org" || luhn_like(key.code)) << key.code;
    EXPECT_TRUE(key.system != "http://snomed.info/sct" || verhoeff(key.code)) << key.code;
  }
}

TEST(ShippedProfiles, check_digits) {
  EXPECT_FALSE(verhoeff("69833006"));
  EXPECT_FALSE(luhn_like("3184-8"));
  const auto& t = reading_test::terminology();
  expect_check_digits(t.drugs);
  expect_check_digits(t.measurements);
  expect_check_digits(t.catheters);
  expect_check_digits(t.sites);
  expect_check_digits(t.laterality);
  expect_check_digits(t.sheaths);
  expect_check_digits(t.risks);
  expect_check_digits(t.routes);
}

}  // namespace
