#include "fhir_read/reading_support.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

namespace {

using clinical::Closure;
using clinical::Side;
using clinical::Tristate;
using clinical::Vessel;

std::string procedure(std::string_view members, std::string_view code = R"({"coding":[{"system":"http://snomed.info/sct","code":"415070008"}]})") {
  return fmt::format(R"({{"resourceType":"Procedure","id":"p","status":"completed","subject":{{"reference":"Patient/a"}},"code":{},
    "performedPeriod":{{"start":"2026-03-02T10:40:00+01:00","end":"2026-03-02T11:40:00+01:00"}}{}{}}})", code, members.empty() ? "" : ",", members);
}

struct SiteRow {
  const char* name;
  const char* members;
  bool femoral;
  std::vector<Side> sides;
  std::vector<Vessel> vessels;
};
void PrintTo(const SiteRow& row, std::ostream* os) { *os << row.name; }

class BodySite : public testing::TestWithParam<SiteRow> {};

TEST_P(BodySite, is_read_and_never_inferred) {
  const auto result = reading_test::read({procedure(GetParam().members)});
  ASSERT_EQ(result.record.procedures.size(), 1u) << reading_test::all_issues(result.issues);
  const auto& p = result.record.procedures[0];
  EXPECT_EQ(p.femoral, GetParam().femoral);
  std::vector<Side> sides;
  std::vector<Vessel> vessels;
  for (const auto& s : p.sides) sides.push_back(s.value);
  for (const auto& v : p.vessels) vessels.push_back(v.value);
  EXPECT_EQ(sides, GetParam().sides);
  EXPECT_EQ(vessels, GetParam().vessels);
}

#define SCT(code) R"({"system":"http://snomed.info/sct","code":")" code R"("})"
const std::vector<Side> kLeft{Side::left}, kRight{Side::right}, kBoth{Side::left, Side::right}, kNoSide;
const std::vector<Vessel> kArtery{Vessel::artery}, kVein{Vessel::vein}, kNoVessel;

// SNOMED CT Global Patient Set: 113270003 left and 69833005 right femoral artery, 7657000 femoral artery, 83419000 femoral vein,
// 7771000 left, 24028007 right, 51440002 both, 85119005 left inguinal region.
INSTANTIATE_TEST_SUITE_P(
    table, BodySite,
    testing::Values(
        SiteRow{"precoordinated_left", R"("bodySite":[{"coding":[)" SCT("113270003") "]}]", true, kLeft, kArtery},
        SiteRow{"precoordinated_right", R"("bodySite":[{"coding":[)" SCT("69833005") "]}]", true, kRight, kArtery},
        SiteRow{"generic_with_laterality_coding", R"("bodySite":[{"coding":[)" SCT("7657000") "," SCT("24028007") "]}]", true, kRight, kArtery},
        SiteRow{"generic_with_laterality_entry", R"("bodySite":[{"coding":[)" SCT("7657000") R"(]},{"coding":[)" SCT("7771000") "]}]", true, kLeft, kArtery},
        SiteRow{"generic_with_text", R"("bodySite":[{"coding":[)" SCT("7657000") R"(],"text":"R CFA"}])", true, kRight, kArtery},
        SiteRow{"generic_alone_has_no_side", R"("bodySite":[{"coding":[)" SCT("7657000") "]}]", true, kNoSide, kArtery},
        SiteRow{"vein", R"("bodySite":[{"coding":[)" SCT("83419000") R"(],"text":"left femoral vein"}])", true, kLeft, kVein},
        SiteRow{"groin_has_no_vessel", R"("bodySite":[{"coding":[)" SCT("85119005") "]}]", true, kLeft, kNoVessel},
        SiteRow{"text_alone", R"("bodySite":[{"text":"Right groin"}])", true, kRight, kNoVessel},
        SiteRow{"german_text", R"("bodySite":[{"text":"Leiste rechts"}])", true, kRight, kNoVessel},
        SiteRow{"code_and_text_contradict", R"("bodySite":[{"coding":[)" SCT("113270003") R"(],"text":"right femoral artery"}])", true, kBoth, kArtery},
        SiteRow{"both_sides", R"("bodySite":[{"coding":[)" SCT("7657000") "," SCT("51440002") "]}]", true, kBoth, kArtery},
        SiteRow{"coronary_target_says_nothing", R"("bodySite":[{"text":"Left coronary artery"}])", false, kNoSide, kNoVessel},
        SiteRow{"coronary_target_beside_the_groin", R"("bodySite":[{"text":"Left coronary artery"},{"coding":[)" SCT("69833005") "]}]", true, kRight, kArtery},
        SiteRow{"route_qualifier_without_side", R"("bodySite":[{"coding":[)" SCT("260590008") "]}]", true, kNoSide, kArtery},
        SiteRow{"approach_by_body_structure", R"("contained":[{"resourceType":"BodyStructure","id":"b","location":{"coding":[)" SCT("7657000") R"(]},"locationQualifier":[{"coding":[)" SCT("7771000") R"(]}]}],
          "extension":[{"url":"http://hl7.org/fhir/StructureDefinition/procedure-approachBodyStructure","valueReference":{"reference":"#b"}}])", true, kLeft, kArtery},
        SiteRow{"no_body_site", "", false, kNoSide, kNoVessel}),
    [](const auto& row) { return row.param.name; });

struct SizeRow {
  const char* name;
  const char* members;
  std::vector<clinical::Micro> french;
  bool low = false;
};
void PrintTo(const SizeRow& row, std::ostream* os) { *os << row.name; }

class SheathSize : public testing::TestWithParam<SizeRow> {};

TEST_P(SheathSize, comes_from_a_sheath_alone) {
  const auto result = reading_test::read({procedure(std::string(R"("bodySite":[{"coding":[)" SCT("69833005") "]}]") + GetParam().members)});
  const auto& p = result.record.procedures.at(0);
  std::vector<clinical::Micro> sizes;
  for (const auto& f : p.french) {
    sizes.push_back(f.value);
    EXPECT_EQ(f.source.low_confidence, GetParam().low);
  }
  EXPECT_EQ(sizes, GetParam().french) << reading_test::all_issues(result.issues);
}

#define SIZE(number, unit) R"(,"extension":[{"url":"https://aftersheath.example/fhir/StructureDefinition/sheath-size","valueQuantity":{"value":)" number R"(,"system":"http://unitsofmeasure.org","code":")" unit R"("}}])"
#define DEVICE(members) R"(,"contained":[{"resourceType":"Device","id":"d",)" members R"(}],"usedReference":[{"reference":"#d"}])"
constexpr auto six = clinical::whole(6);

// 1 French = 1/3 mm, as sheaths are sized (common practice).
INSTANTIATE_TEST_SUITE_P(
    table, SheathSize,
    testing::Values(
        SizeRow{"extension", SIZE("6", "[Ch]"), {six}}, SizeRow{"extension_in_millimetres", SIZE("2", "mm"), {six}},
        SizeRow{"extension_fraction", SIZE("6.5", "[Ch]"), {6'500'000}}, SizeRow{"extension_out_of_range", SIZE("60", "[Ch]"), {}},
        SizeRow{"device_property", DEVICE(R"("type":{"coding":[)" SCT("371793003") R"(]},"property":[{"type":{"text":"size"},"valueQuantity":[{"value":6,"system":"http://unitsofmeasure.org","code":"[Ch]"}]}])"), {six}},
        SizeRow{"device_length_is_no_size", DEVICE(R"("type":{"coding":[)" SCT("371793003") R"(]},"property":[{"type":{"text":"Length"},"valueQuantity":[{"value":11,"system":"http://unitsofmeasure.org","code":"cm"}]}])"), {}},
        SizeRow{"device_name", DEVICE(R"("type":{"coding":[)" SCT("371793003") R"(]},"deviceName":[{"name":"Introducer 6 Fr","type":"user-friendly-name"}])"), {six}},
        SizeRow{"device_that_is_no_sheath", DEVICE(R"("deviceName":[{"name":"7F guiding catheter","type":"user-friendly-name"}])"), {}},
        SizeRow{"used_code_text", R"(,"usedCode":[{"text":"6 French introducer sheath"}])", {six}, true},
        SizeRow{"display_of_an_unresolved_device", R"(,"usedReference":[{"display":"Sheath 6F"}])", {six}, true},
        SizeRow{"note_with_two_sizes", R"(,"note":[{"text":"5F diagnostic catheter through a 6F sheath, right side"}])", {six}, true},
        SizeRow{"note_about_something_else", R"(,"note":[{"text":"7F guide, 300 mL contrast"}])", {}, true},
        SizeRow{"note_agrees", SIZE("6", "[Ch]") R"(,"note":[{"text":"6F sheath"}])", {six}}),
    [](const auto& row) { return row.param.name; });

TEST(Procedure, a_note_that_says_another_size_or_side_is_heard) {
  const auto result = reading_test::read({procedure(std::string(R"("bodySite":[{"coding":[)" SCT("69833005") "]}]") + SIZE("6", "[Ch]") +
                                                    R"(,"note":[{"text":"8F sheath. Left femoral access, no trouble. Left coronary artery stented."}])")});
  const auto& p = result.record.procedures.at(0);
  ASSERT_EQ(p.french.size(), 2u);
  EXPECT_EQ(p.french[1].value, clinical::whole(8));
  EXPECT_TRUE(p.french[1].source.low_confidence);
  ASSERT_EQ(p.sides.size(), 2u);
  EXPECT_EQ(p.sides[1].value, Side::left);
  EXPECT_TRUE(p.sides[1].source.low_confidence);
}

// Common practice, no source: a sheath has one size and a puncture one method; neither of two that differ is the true one.
TEST(Procedure, sizes_and_methods_said_twice_in_one_procedure_are_all_heard) {
  const auto extension = [](const std::string& name, const std::string& value) { return R"({"url":"https://aftersheath.example/fhir/StructureDefinition/)" + name + "\"," + value + "}"; };
  const auto size = [&](const std::string& number) {
    return extension("sheath-size", R"("valueQuantity":{"value":)" + number + R"(,"system":"http://unitsofmeasure.org","code":"[Ch]"})");
  };
  const auto result = reading_test::read({procedure(R"("extension":[)" + size("6") + "," + size("8") + "," + extension("closure-method", R"("valueCode":"manual")") + "," +
                                                    extension("closure-method", R"("valueCode":"device")") + "]")});
  const auto& p = result.record.procedures.at(0);
  ASSERT_EQ(p.french.size(), 2u);
  EXPECT_EQ(p.french[1].value, clinical::whole(8));
  ASSERT_EQ(p.closures.size(), 2u);
  EXPECT_EQ(p.closures[1].value, clinical::Closure::device);
}

TEST(Procedure, a_note_about_something_else_moves_no_side) {
  for (const auto* text : {"Left coronary artery stented", "Access closed; left leg warm", "Femoral access right or left", "Right femoral access"}) {
    SCOPED_TRACE(text);
    const auto result = reading_test::read({procedure(std::string(R"("bodySite":[{"coding":[)" SCT("69833005") R"(]}],"note":[{"text":")") + text + R"("}])")});
    EXPECT_EQ(result.record.procedures.at(0).sides.size(), 1u);
  }
}

TEST(Procedure, closure_by_extension_and_by_name) {
  const auto by_extension = reading_test::read({procedure(R"("bodySite":[{"coding":[)" SCT("69833005") R"(]}],"extension":[{"url":"https://aftersheath.example/fhir/StructureDefinition/closure-method","valueCode":"mechanical"}])")});
  ASSERT_EQ(by_extension.record.procedures.at(0).closures.size(), 1u);
  EXPECT_EQ(by_extension.record.procedures[0].closures[0].value, Closure::mechanical);
  EXPECT_FALSE(by_extension.record.procedures[0].closures[0].source.low_confidence);
  const auto by_name = reading_test::read({procedure(R"("bodySite":[{"coding":[)" SCT("69833005") R"(]}],"usedCode":[{"text":"Vascular closure device"}])")});
  ASSERT_EQ(by_name.record.procedures.at(0).closures.size(), 1u);
  EXPECT_EQ(by_name.record.procedures[0].closures[0].value, Closure::device);
  EXPECT_TRUE(by_name.record.procedures[0].closures[0].source.low_confidence);
}

TEST(Procedure, intervention_by_code_name_or_not_known) {
  const auto kind = [](std::string_view code) { return reading_test::read({procedure(R"("bodySite":[{"coding":[)" SCT("69833005") "]}]", code)}).record.procedures.at(0); };
  EXPECT_EQ(kind(R"({"coding":[)" SCT("415070008") "]}").intervention, Tristate::yes);
  EXPECT_EQ(kind(R"({"coding":[)" SCT("33367005") "]}").intervention, Tristate::no);
  EXPECT_EQ(kind(R"({"coding":[)" SCT("33367005") "," SCT("36969009") "]}").intervention, Tristate::yes);
  EXPECT_EQ(kind(R"({"text":"Left heart cath and PCI"})").intervention, Tristate::yes);
  EXPECT_EQ(kind(R"({"text":"Catheter ablation"})").intervention, Tristate::unknown);
  EXPECT_FALSE(kind(R"({"text":"Dressing change"})").catheter);
}

TEST(Procedure, extensions_of_the_puncture) {
  const auto result = reading_test::read({procedure(R"("extension":[{"url":"https://aftersheath.example/fhir/StructureDefinition/femoral-access","valueBoolean":true},
    {"url":"https://aftersheath.example/fhir/StructureDefinition/puncture-count","valueInteger":3},
    {"url":"https://aftersheath.example/fhir/StructureDefinition/puncture-quality","valueCode":"difficult"},
    {"url":"https://aftersheath.example/fhir/StructureDefinition/puncture-quality","valueCode":"high-stick"},
    {"url":"https://aftersheath.example/fhir/StructureDefinition/puncture-direction","valueCode":"antegrade"}])")});
  const auto& p = result.record.procedures.at(0);
  EXPECT_TRUE(p.femoral_stated);
  EXPECT_EQ(p.punctures, 3);
  EXPECT_TRUE(p.difficult && p.high_stick && !p.low_stick);
  EXPECT_EQ(p.direction, clinical::Direction::antegrade);
  EXPECT_FALSE(p.uncomplicated);
  const auto plain = reading_test::read({procedure(R"("extension":[{"url":"https://aftersheath.example/fhir/StructureDefinition/puncture-quality","valueCode":"uncomplicated"}])")});
  EXPECT_TRUE(plain.record.procedures.at(0).uncomplicated);
  EXPECT_FALSE(plain.record.procedures.at(0).difficult);
}

TEST(Procedure, access_events) {
  const auto result = reading_test::read({R"({"resourceType":"Procedure","id":"e","status":"completed","subject":{"reference":"Patient/a"},"partOf":[{"reference":"Procedure/p"}],
    "code":{"coding":[{"system":"https://aftersheath.example/fhir/CodeSystem/access-event","code":"compression-started"}]},"performedPeriod":{"start":"2026-03-02T18:05:00Z","end":"2026-03-02T18:25:00Z"},
    "bodySite":[{"coding":[)" SCT("69833005") R"(]}],"extension":[{"url":"https://aftersheath.example/fhir/StructureDefinition/closure-method","valueCode":"mechanical"}]})",
    R"({"resourceType":"Procedure","id":"f","status":"not-done","subject":{"reference":"Patient/a"},"code":{"coding":[{"system":"https://aftersheath.example/fhir/CodeSystem/access-event","code":"sheath-removed"}]}})",
    R"({"resourceType":"Procedure","id":"g","status":"completed","subject":{"reference":"Patient/a"},"code":{"coding":[{"system":"http://dicom.nema.org/resources/ontology/DCM","code":"122033","display":"Hemostasis achieved"}]},"performedDateTime":"2026-03-02T18:30:00Z"})"});
  ASSERT_EQ(result.record.access_events.size(), 2u) << reading_test::all_issues(result.issues);
  const auto& start = result.record.access_events[0];
  EXPECT_EQ(start.kind, clinical::AccessEventKind::compression_started);
  EXPECT_EQ(start.at->earliest, reading_test::instant("2026-03-02T18:05:00Z"));
  EXPECT_EQ(start.procedure, "Procedure/p");
  EXPECT_EQ(start.side, Side::right);
  EXPECT_EQ(start.method, Closure::mechanical);
  EXPECT_EQ(result.record.access_events[1].kind, clinical::AccessEventKind::haemostasis_confirmed);
  EXPECT_TRUE(result.record.procedures.empty());
}

TEST(Procedure, of_another_patient_or_without_one_is_refused) {
  const auto other = reading_test::read({R"({"resourceType":"Procedure","id":"p","status":"completed","subject":{"reference":"Patient/b"}})"});
  EXPECT_TRUE(reading_test::has_issue(other, "other-patient"));
  const auto nobody = reading_test::read({R"({"resourceType":"Procedure","id":"p","status":"completed"})"});
  EXPECT_TRUE(reading_test::has_issue(nobody, "no-subject"));
}

}  // namespace
