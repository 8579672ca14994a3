#include <gmock/gmock.h>

#include "store/store_support.h"

using namespace store;
using namespace store_test;
using testing::ElementsAre;
using testing::IsEmpty;

namespace {

using Facts = StoreTest;

std::vector<std::string> ids(const auto& rows) {
  std::vector<std::string> found;
  for (const auto& row : rows) found.push_back(row.type + "/" + row.id);
  return found;
}

TEST_F(Facts, KeepsEveryField) {
  CurrentFact f = a_fact("Observation", "o1", "Patient/a");
  f.source = "east";
  f.last_updated = "2026-03-02T14:00:00+01:00";
  f.event_id = 9;
  f.content_hash = "h";
  must(db->put_current(f, {}));
  const auto back = must(db->current("east", "Observation", "o1"));
  ASSERT_TRUE(back);
  EXPECT_EQ(back->version_id, "1");
  EXPECT_EQ(back->last_updated, f.last_updated);
  EXPECT_EQ(back->body, "body of o1");
  EXPECT_FALSE(back->deleted);
  EXPECT_EQ(back->patient, "Patient/a");
  EXPECT_EQ(back->event_id, 9);
  EXPECT_EQ(back->content_hash, "h");
  EXPECT_FALSE(must(db->current("", "Observation", "o1"))) << "equal ids of two servers stay apart";
}

TEST_F(Facts, ThePatientsAreThoseNotWithdrawn) {
  must(db->put_current(a_fact("Observation", "o2", "Patient/a"), {}));
  must(db->put_current(a_fact("Observation", "o1", "Patient/a"), {}));
  must(db->put_current(a_fact("Encounter", "e", "Patient/a"), {}));
  must(db->put_current(a_fact("Observation", "o3", "Patient/b"), {}));
  must(db->put_current(a_fact("Medication", "m", ""), {}));
  CurrentFact gone = a_fact("Observation", "o2", "Patient/a");
  gone.deleted = true;
  must(db->put_current(gone, {}));
  EXPECT_THAT(ids(must(db->current_of_patient("", "Patient/a"))), ElementsAre("Encounter/e", "Observation/o1"));
  EXPECT_THAT(must(db->current_of_patient("", "")), IsEmpty());
  EXPECT_TRUE(must(db->current("", "Observation", "o2"))->deleted);
  EXPECT_THAT(ids(must(db->current_of_type("", "Observation", 10))), ElementsAre("Observation/o1", "Observation/o3"));
  EXPECT_THAT(ids(must(db->current_of_type("", "Observation", 10, "o1"))), ElementsAre("Observation/o3"));
}

TEST_F(Facts, KnowsWhoRefersToWhat) {
  const std::vector<std::string> drug{"Medication/m1", "Patient/a", "Medication/m1"};
  must(db->put_current(a_fact("MedicationAdministration", "x", "Patient/a"), drug));
  must(db->put_current(a_fact("MedicationAdministration", "y", "Patient/b"), std::span(drug).first(1)));
  const auto both = must(db->referrers("", "Medication/m1"));
  EXPECT_THAT(ids(both), ElementsAre("MedicationAdministration/x", "MedicationAdministration/y"));
  EXPECT_EQ(both.at(1).patient, "Patient/b");
  must(db->put_current(a_fact("MedicationAdministration", "x", "Patient/a"), std::span(drug).subspan(1, 1)));
  EXPECT_THAT(ids(must(db->referrers("", "Medication/m1"))), ElementsAre("MedicationAdministration/y"));
  EXPECT_THAT(must(db->referrers("east", "Medication/m1")), IsEmpty());
}

}  // namespace
