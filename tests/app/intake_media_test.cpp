// Which media types a body may come in.
#include <gtest/gtest.h>

#include <array>

#include "app/intake_media.h"

namespace {

struct Row {
  const char* type;
  bool taken;
};
class Media : public testing::TestWithParam<Row> {};
TEST_P(Media, is_taken_or_refused) {
  const transport::Headers headers{{"Content-Type", GetParam().type}};
  EXPECT_EQ(app::media_fault(headers, app::fhir_versions()).empty(), GetParam().taken) << GetParam().type;
}
INSTANTIATE_TEST_SUITE_P(table, Media,
                         testing::Values(Row{"application/fhir+json", true}, Row{"application/json", true}, Row{"Application/FHIR+JSON ; charset=utf-8", true},
                                         Row{"application/fhir+json;fhirVersion=4.0", true}, Row{"application/fhir+json; charset=UTF-8; fhirVersion=\"4.3\"", true},
                                         Row{"application/fhir+json; FHIRVERSION=5.0", true}, Row{"application/fhir+json; fhirVersion=4.0.1", true},
                                         Row{"application/fhir+json; fhirVersion=3.0", false}, Row{"application/fhir+json; fhirVersion=4.01", false},
                                         Row{"application/fhir+json; fhirVersion=6.0", false}, Row{"application/fhir+xml", false}, Row{"text/html", false}, Row{"", false}));

TEST(Media, the_version_is_carried_to_the_reader) {
  EXPECT_EQ(app::stated_version({{"Content-Type", "application/fhir+json; fhirVersion=5.0"}}), "5.0");
  EXPECT_EQ(app::stated_version({{"Content-Type", "application/fhir+json; charset=utf-8; FHIRVERSION=\"4.3\""}}), "4.3");
  EXPECT_EQ(app::stated_version({{"Content-Type", "application/fhir+json"}}) + app::stated_version({}), "");
}

TEST(Media, a_hook_may_ask_for_one_version) {
  constexpr std::array<std::string_view, 1> r5{"5.0"};
  EXPECT_EQ(app::media_fault({{"Content-Type", "application/fhir+json; fhirVersion=5.0"}}, r5), "");
  EXPECT_EQ(app::media_fault({{"Content-Type", "application/fhir+json; fhirVersion=4.0"}}, r5), "fhirVersion 4.0 is not read here, only 5.0");
  EXPECT_EQ(app::media_fault({}, r5), "") << "the body is judged";
}

}  // namespace
