// Shapes of elements: the R4 definitions of the resources, hl7.org/fhir/R4.
#include <gmock/gmock.h>

#include "fhir_read/intake.h"

namespace {

std::vector<std::string> places(const char* text) {
  std::vector<std::string> all;
  for (const auto& issue : fhir_read::element_faults(*json::parse(text))) all.push_back(issue.at);
  return all;
}

TEST(ElementFaults, NameThePath) {
  EXPECT_THAT(places(R"({"resourceType":"Observation","status":5,"subject":"Patient/zoe","code":{"coding":"x"},"effectiveDateTime":"yesterday",
                         "valueQuantity":{"value":"a lot"},"component":[{"valueQuantity":{"value":1}},{"valueQuantity":{"value":"1"}}]})"),
              testing::UnorderedElementsAre("Observation.status", "Observation.subject", "Observation.code.coding", "Observation.effectiveDateTime",
                                            "Observation.valueQuantity.value", "Observation.component[1].valueQuantity.value"));
  EXPECT_THAT(places(R"({"resourceType":"Procedure","status":"completed","performedPeriod":"soon","bodySite":"right groin"})"),
              testing::UnorderedElementsAre("Procedure.performedPeriod", "Procedure.bodySite"));
}

TEST(ElementFaults, WhatIsAsItShouldBeIsNone) {
  EXPECT_THAT(places(R"({"resourceType":"Procedure","status":"completed","bodySite":[{"text":"right groin"}],"performedPeriod":{"start":"2026-03-02","end":"2026-03-02T14:00:00Z"}})"),
              testing::IsEmpty());
  EXPECT_THAT(places(R"({"resourceType":"Appointment","status":5})"), testing::IsEmpty()) << "of no matter here";
}

}  // namespace
