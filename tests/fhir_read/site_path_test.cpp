// A site says in FHIRPath where it records a fact. Everything invented.
#include "fhir_read/reading_support.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <fstream>

namespace {

using clinical::Closure;
using clinical::Side;
using clinical::Vessel;

std::string written(const std::string& places) {
  const auto path = testing::TempDir() + "site_path.toml";
  std::ofstream(path) << "[places]\n" << places << "\n";
  return path;
}

fhir_read::SiteMap site(const std::string& places) {
  auto loaded = fhir_read::load_site_map(written(places));
  if (!loaded) ADD_FAILURE() << tables::to_string(loaded.error().front());
  return loaded ? *loaded : fhir_read::SiteMap();
}

std::string procedure(const std::string& members) {
  return R"({"resourceType":"Procedure","id":"p","status":"completed","subject":{"reference":"Patient/a"},"code":{"coding":[{"system":"http://snomed.info/sct","code":"415070008"}]},)" + members + "}";
}

clinical::Procedure read_with(const std::string& places, const std::string& members, std::initializer_list<std::string_view> more = {}) {
  const auto map = site(places);
  std::vector<std::string> texts{procedure(members)};
  fhir_read::ResourceSet set("Patient/a");
  for (const auto one : more) texts.emplace_back(one);
  for (const auto& text : texts) {
    auto body = reading_test::resource(text);
    const std::string type(body["resourceType"].text()), id(body["id"].text());
    set.add({"", "", type, id, "", std::move(body)});
  }
  const auto result = fhir_read::read_record(set, map, reading_test::terminology());
  EXPECT_EQ(result.record.procedures.size(), 1u) << reading_test::all_issues(result.issues);
  return result.record.procedures.empty() ? clinical::Procedure() : result.record.procedures.front();
}

TEST(SitePath, a_size_from_a_device_property_is_coded) {
  const auto p = read_with(R"(sheath-size = ["Procedure.usedReference.resolve().property.where(type.text = 'bore').value"])", R"("usedReference":[{"reference":"Device/d"}])",
                           {R"({"resourceType":"Device","id":"d","type":{"text":"something else"},"property":[{"type":{"text":"length"},"valueQuantity":[{"value":11,"system":"http://unitsofmeasure.org","code":"cm"}]},
                              {"type":{"text":"bore"},"valueQuantity":[{"value":7,"system":"http://unitsofmeasure.org","code":"[Ch]"}]}]})"});
  ASSERT_EQ(p.french.size(), 1u);
  EXPECT_EQ(p.french[0].value, clinical::whole(7));
  EXPECT_FALSE(p.french[0].source.low_confidence);
}

TEST(SitePath, a_size_from_a_text_is_of_low_confidence) {
  const auto p = read_with(R"(sheath-size = ["Procedure.extension('urn:bore').value"])", R"("extension":[{"url":"urn:bore","valueString":"8F"}])");
  ASSERT_EQ(p.french.size(), 1u);
  EXPECT_EQ(p.french[0].value, clinical::whole(8));
  EXPECT_TRUE(p.french[0].source.low_confidence);
}

TEST(SitePath, places_keep_their_order_and_contradictions_show) {
  const auto p = read_with(R"(sheath-size = ["note", "Procedure.extension('urn:bore').value"])", R"("note":[{"text":"6F sheath"}],"extension":[{"url":"urn:bore","valueString":"8F"}])");
  ASSERT_EQ(p.french.size(), 2u);
  EXPECT_EQ(p.french[0].value, clinical::whole(6));
}

TEST(SitePath, a_bare_side_is_that_of_the_access) {
  for (const char* form : {R"("valueString":"Right")", R"("valueCoding":{"system":"http://snomed.info/sct","code":"24028007"})", R"("valueCodeableConcept":{"coding":[{"system":"http://snomed.info/sct","code":"24028007"}]})"}) {
    const auto p = read_with(R"(side = ["Procedure.extension('urn:side').value"]
      femoral = ["Procedure.extension('urn:femoral').value"])", std::string(R"("extension":[{"url":"urn:femoral","valueBoolean":true},{"url":"urn:side",)") + form + "}]");
    EXPECT_TRUE(p.femoral) << form;
    ASSERT_EQ(p.sides.size(), 1u) << form;
    EXPECT_EQ(p.sides[0].value, Side::right);
  }
  const auto elsewhere = read_with(R"(side = ["Procedure.extension('urn:side').value"]
      femoral = ["extension"])", R"("extension":[{"url":"https://aftersheath.example/fhir/StructureDefinition/femoral-access","valueBoolean":true},{"url":"urn:side","valueString":"left coronary artery"}])");
  EXPECT_TRUE(elsewhere.sides.empty()) << "another vessel's side is not the access's";
}

TEST(SitePath, vessel_and_closure) {
  const auto p = read_with(R"(vessel = ["Procedure.extension('urn:vessel').value"]
      closure = ["Procedure.extension('urn:closure').value"])", R"("bodySite":[{"text":"right groin"}],"extension":[{"url":"urn:vessel","valueString":"femoral vein"},{"url":"urn:closure","valueCode":"suture"}])");
  ASSERT_EQ(p.vessels.size(), 1u);
  EXPECT_EQ(p.vessels[0].value, Vessel::vein);
  ASSERT_EQ(p.closures.size(), 1u);
  EXPECT_EQ(p.closures[0].value, Closure::suture);
  const auto named = read_with(R"(closure = ["Procedure.extension('urn:closure').value"])", R"("bodySite":[{"text":"right groin"}],"extension":[{"url":"urn:closure","valueString":"vascular closure device"}])");
  ASSERT_EQ(named.closures.size(), 1u);
  EXPECT_TRUE(named.closures[0].source.low_confidence);
}

TEST(SitePath, the_draw_where_the_site_writes_it) {
  const auto map = site(R"(drawn = ["effective", "Observation.extension('urn:drawn').value"])");
  const auto result = reading_test::read({R"({"resourceType":"Observation","id":"o","status":"final","subject":{"reference":"Patient/a"},"code":{"coding":[{"system":"http://loinc.org","code":"3184-9"}]},
    "effectiveDateTime":"2026-03-02T12:00:00Z","valueQuantity":{"value":141,"system":"http://unitsofmeasure.org","code":"s"},"extension":[{"url":"urn:drawn","valueDateTime":"2026-03-02T11:30:00Z"}]})"}, map);
  ASSERT_EQ(result.record.measurements.size(), 1u);
  EXPECT_EQ(result.record.measurements[0].at->latest, reading_test::instant("2026-03-02T11:30:00Z"));
}

TEST(SitePath, what_selects_nothing_says_nothing) {
  const auto p = read_with(R"(sheath-size = ["Observation.value", "Procedure.missing.where(a = 'b').value"])", R"("bodySite":[{"text":"right groin"}])");
  EXPECT_TRUE(p.french.empty());
}

TEST(SitePath, a_fault_names_the_expression_and_its_column) {
  for (const auto& [places, said] : std::vector<std::pair<const char*, const char*>>{{R"x(side = ["Procedure.note.select(text)"])x", "column 16"},
                                                                                    {R"(side = ["Procedure.extension('urn:side"])", "column 21"},
                                                                                    {R"(side = ["nowhere"])", "unknown place"},
                                                                                    {R"(drug = ["Procedure.code"])", "no expression"}}) {
    const auto loaded = fhir_read::load_site_map(written(places));
    ASSERT_TRUE(loaded.has_error()) << places;
    const auto text = tables::to_string(loaded.error().front());
    EXPECT_NE(text.find(said), std::string::npos) << text;
    EXPECT_NE(text.find(":2:"), std::string::npos) << "file, line and column: " << text;
  }
}

}  // namespace
