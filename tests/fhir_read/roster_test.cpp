// Whom a Group, List, Encounter or Appointment names, in the shapes of R4 and R5 (https://hl7.org/fhir/R4/group.html and the pages beside it).
#include <gtest/gtest.h>

#include "fhir_read/roster.h"

namespace {

using Names = std::set<std::string>;

Names named(const std::string& text) { return fhir_read::patients_on_roster(*json::parse(text), "https://record.example/fhir"); }

TEST(Roster, GroupWithoutItsInactiveMembersAndOthersThanPatients) {
  EXPECT_EQ(named(R"({"resourceType":"Group","type":"person","actual":true,"member":[{"entity":{"reference":"Patient/a"}},
    {"entity":{"reference":"https://record.example/fhir/Patient/b"},"inactive":false},{"entity":{"reference":"Patient/c"},"inactive":true},
    {"entity":{"reference":"https://elsewhere.example/fhir/Patient/d"}},{"entity":{"reference":"Device/e"}},{"entity":{"display":"Somebody"}}]})"),
            (Names{"Patient/a", "Patient/b"}));
}

TEST(Roster, ListWithoutWhoWasTakenOff) {
  EXPECT_EQ(named(R"({"resourceType":"List","status":"current","mode":"working","entry":[{"item":{"reference":"Patient/a"}},{"item":{"reference":"Patient/b"},"deleted":true}]})"), Names{"Patient/a"});
  EXPECT_TRUE(named(R"({"resourceType":"List","status":"entered-in-error","mode":"working","entry":[{"item":{"reference":"Patient/a"}}]})").empty());
}

TEST(Roster, EncounterThatMayBeGoingOn) {
  const auto with = [](const std::string& status) { return named(R"({"resourceType":"Encounter","status":")" + status + R"(","subject":{"reference":"Patient/a"}})"); };
  for (const char* on : {"arrived", "triaged", "in-progress", "onleave", "on-hold", "unknown", "of-this-site"}) EXPECT_EQ(with(on), Names{"Patient/a"}) << on;
  for (const char* off : {"finished", "completed", "cancelled", "discharged", "planned", "entered-in-error"}) EXPECT_TRUE(with(off).empty()) << off;
}

TEST(Roster, AppointmentThatStands) {
  EXPECT_EQ(named(R"({"resourceType":"Appointment","status":"booked","participant":[{"actor":{"reference":"Location/room"}},{"actor":{"reference":"Patient/a"}}]})"), Names{"Patient/a"});
  EXPECT_EQ(named(R"({"resourceType":"Appointment","status":"arrived","subject":{"reference":"Patient/b"}})"), Names{"Patient/b"});
  EXPECT_TRUE(named(R"({"resourceType":"Appointment","status":"cancelled","participant":[{"actor":{"reference":"Patient/a"}}]})").empty());
}

TEST(Roster, NothingElseNamesAnybody) {
  EXPECT_TRUE(named(R"({"resourceType":"Procedure","status":"completed","subject":{"reference":"Patient/a"}})").empty());
  EXPECT_TRUE(named("[]").empty());
}

}  // namespace
