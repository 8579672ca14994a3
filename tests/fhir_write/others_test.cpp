// Somebody else's parts of a resource of ours survive our next write of it, digits included.
#include <gtest/gtest.h>

#include <array>

#include "fhir_write/others.h"

namespace {

json::Value read(const std::string& text) { return *json::parse(text); }

TEST(Others, LabelsTagsIdentifiersAndExtensionsStay) {
  auto ours = read(R"({"resourceType":"Task","meta":{"tag":[{"system":"https://aftersheath.example/fhir/CodeSystem/writer","code":"new"}]},
    "identifier":[{"system":"https://aftersheath.example/fhir/NamingSystem/item","value":"1"}],
    "extension":[{"url":"https://aftersheath.example/fhir/StructureDefinition/item-key","valueString":"k"}]})");
  const auto there = read(R"({"resourceType":"Task","meta":{"versionId":"7","lastUpdated":"2026-03-02T10:00:00Z","profile":["https://hospital.example/task"],
      "security":[{"system":"http://terminology.hl7.org/CodeSystem/v3-Confidentiality","code":"R"}],
      "tag":[{"system":"https://aftersheath.example/fhir/CodeSystem/writer","code":"old"},{"system":"https://hospital.example/tag","code":"seen"}]},
    "identifier":[{"system":"https://aftersheath.example/fhir/NamingSystem/item","value":"1"},{"system":"https://hospital.example/task","value":"T-9"}],
    "extension":[{"url":"https://aftersheath.example/fhir/StructureDefinition/item-key","valueString":"old"},{"url":"https://hospital.example/dose","valueDecimal":1.50}]})");
  fhir_write::keep_labels_of_others(ours, there);
  EXPECT_EQ(json::write(ours),
            R"({"resourceType":"Task","meta":{"tag":[{"system":"https://aftersheath.example/fhir/CodeSystem/writer","code":"new"},{"system":"https://hospital.example/tag","code":"seen"}],)"
            R"("security":[{"system":"http://terminology.hl7.org/CodeSystem/v3-Confidentiality","code":"R"}],"profile":["https://hospital.example/task"]},)"
            R"("identifier":[{"system":"https://aftersheath.example/fhir/NamingSystem/item","value":"1"},{"system":"https://hospital.example/task","value":"T-9"}],)"
            R"("extension":[{"url":"https://aftersheath.example/fhir/StructureDefinition/item-key","valueString":"k"},{"url":"https://hospital.example/dose","valueDecimal":1.50}]})");
  const std::string once = json::write(ours);
  fhir_write::keep_labels_of_others(ours, read(once));
  EXPECT_EQ(json::write(ours), once) << "nothing grows from write to write";
}

TEST(Others, ElementsThatWeNeverWriteStayAndOursThatAreGoneStayAway) {
  constexpr std::array<std::string_view, 1> own{"activity"};
  auto ours = read(R"({"resourceType":"CarePlan","status":"active"})");
  fhir_write::keep_elements_of_others(ours, read(R"({"resourceType":"CarePlan","id":"1","status":"draft","note":[{"text":"seen"}],"activity":[{}],"_title":{"id":"x"},"unknown":{"n":0.10}})"), own);
  EXPECT_EQ(json::write(ours), R"({"resourceType":"CarePlan","status":"active","id":"1","note":[{"text":"seen"}],"_title":{"id":"x"},"unknown":{"n":0.10}})");
}

TEST(Others, NothingThereAddsNothing) {
  auto ours = read(R"({"resourceType":"Task"})");
  fhir_write::keep_labels_of_others(ours, {});
  EXPECT_EQ(json::write(ours), R"({"resourceType":"Task"})");
}

}  // namespace
