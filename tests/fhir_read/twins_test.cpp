// The same invented event written in R4 and in R5 gives the same facts. Element names from the tables of both versions; shape_test.cpp holds
// those against the official definitions.
#include "fhir_read/facts_text_support.h"
#include "fhir_read/reading_support.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace {

using reading_test::facts_as_text;

struct Twin {
  const char* name;
  std::vector<std::string> r4, r5;
  const char* tells;  // a stretch of the fact that must be there, so that two empty records are no twins
};
void PrintTo(const Twin& twin, std::ostream* os) { *os << twin.name; }

// "%%" in the texts stands for the members that every resource of the patient has.
std::string whole(std::string text) {
  const std::string common = R"("subject":{"reference":"Patient/a"},"meta":{"security":[{"system":"http://terminology.hl7.org/CodeSystem/v3-ActReason","code":"HTEST"}]})";
  if (const auto at = text.find("%%"); at != std::string::npos) text.replace(at, 2, common);
  return text;
}

fhir_read::ReadResult read_all(const std::vector<std::string>& texts) {
  fhir_read::ResourceSet set("Patient/a");
  for (const auto& text : texts) {
    auto body = reading_test::resource(whole(text));
    const std::string type(body["resourceType"].text()), id(body["id"].text());
    set.add({"", "", type, id, "", std::move(body)});
  }
  return fhir_read::read_record(set, reading_test::default_site(), reading_test::terminology());
}

class Twins : public testing::TestWithParam<Twin> {};

TEST_P(Twins, give_the_same_facts) {
  const auto r4 = read_all(GetParam().r4), r5 = read_all(GetParam().r5);
  const auto facts = facts_as_text(r4.record);
  EXPECT_EQ(facts, facts_as_text(r5.record)) << reading_test::all_issues(r4.issues) << "---\n" << reading_test::all_issues(r5.issues);
  EXPECT_THAT(facts, testing::Contains(testing::HasSubstr(GetParam().tells)));
  for (const auto* result : {&r4, &r5}) EXPECT_FALSE(reading_test::has_issue(*result, "version-mixed")) << reading_test::all_issues(result->issues);
}

#define SCT(code) R"({"coding":[{"system":"http://snomed.info/sct","code":")" code R"("}]})"
#define OURS(system, code) R"({"coding":[{"system":"https://aftersheath.example/fhir/CodeSystem/)" system R"(","code":")" code R"("}]})"
#define PROCEDURE R"({"resourceType":"Procedure","id":"p","status":"completed",%%,"code":)" SCT("415070008") R"(,"bodySite":[)" SCT("69833005") "]"
#define HEPARIN R"({"coding":[{"system":"http://www.whocc.no/atc","code":"B01AB01","display":"heparin"}],"text":"Heparin 5000"})"
#define GIVEN R"({"resourceType":"MedicationAdministration","id":"m","status":"completed",%%)"
#define STATEMENT R"({"resourceType":"MedicationStatement","id":"s",%%)"
#define DOAC R"({"coding":[{"system":"http://www.whocc.no/atc","code":"B01AF02","display":"apixaban"}]})"
#define ACT R"({"resourceType":"Observation","id":"o","status":"final",%%,"code":{"coding":[{"system":"http://loinc.org","code":"3184-9"}]},"effectiveDateTime":"2026-03-02T12:00:00Z",)" \
  R"("valueQuantity":{"value":141,"system":"http://unitsofmeasure.org","code":"s"})"

const std::string kBody4 = R"({"resourceType":"BodyStructure","id":"b","patient":{"reference":"Patient/a"},"location":)" SCT("7657000") R"(,"locationQualifier":[)" SCT("7771000") "]}";
const std::string kBody5 = R"({"resourceType":"BodyStructure","id":"b","patient":{"reference":"Patient/a"},"includedStructure":[{"structure":)" SCT("7657000") R"(,"laterality":)" SCT("7771000") "}]}";
// The second part has the other side and is no groin: its side is its own.
const std::string kBodies5 = R"({"resourceType":"BodyStructure","id":"b","patient":{"reference":"Patient/a"},"includedStructure":[{"structure":)" SCT("7657000") R"(,"laterality":)" SCT("7771000")
                             R"(},{"structure":)" SCT("41801008") R"(,"laterality":)" SCT("24028007") "}]}";
const std::string kApproach = R"(,"extension":[{"url":"http://hl7.org/fhir/StructureDefinition/procedure-approachBodyStructure","valueReference":{"reference":"BodyStructure/b"}}])";
const std::string kBareProcedure = R"({"resourceType":"Procedure","id":"p","status":"completed",%%,"code":)" SCT("415070008");
const std::string kSiteCheck = R"({"resourceType":"Observation","id":"c","status":"final",%%,"effectiveDateTime":"2026-03-02T13:00:00Z","code":)" OURS("check-finding", "site-check")
                               R"(,"component":[{"code":)" OURS("check-finding", "bleeding") R"(,"valueCodeableConcept":)" OURS("check-finding", "none") "}]";

INSTANTIATE_TEST_SUITE_P(
    table, Twins,
    testing::Values(
        Twin{"index_procedure",
             {PROCEDURE R"(,"performedPeriod":{"start":"2026-03-02T10:00:00Z","end":"2026-03-02T11:00:00Z"},"reasonCode":[{"text":"angina"}]})"},
             {PROCEDURE R"(,"occurrencePeriod":{"start":"2026-03-02T10:00:00Z","end":"2026-03-02T11:00:00Z"},"reason":[{"concept":{"text":"angina"}}],"category":[{"text":"x"}]})"},
             "2026-03-02T11:00:00Z"},
        Twin{"procedure_whose_time_is_text",
             {PROCEDURE R"(,"performedString":"yesterday"})"}, {PROCEDURE R"(,"occurrenceString":"yesterday"})"}, "procedure Procedure/p"},
        Twin{"sheath_as_a_contained_device",
             {PROCEDURE R"(,"performedDateTime":"2026-03-02T10:00:00Z","usedReference":[{"reference":"#d"}],"contained":[{"resourceType":"Device","id":"d","type":)" SCT("371793003")
                        R"(,"deviceName":[{"name":"invented introducer","type":"model-name"}],"property":[{"type":{"text":"size"},"valueQuantity":[{"value":6,"system":"http://unitsofmeasure.org","code":"[Ch]"}]}]}]})"},
             {PROCEDURE R"(,"occurrenceDateTime":"2026-03-02T10:00:00Z","used":[{"reference":{"reference":"#d"}}],"contained":[{"resourceType":"Device","id":"d","type":[)" SCT("371793003")
                        R"(],"name":[{"value":"invented introducer","type":"registered-name"}],"property":[{"type":{"text":"size"},"valueQuantity":{"value":6,"system":"http://unitsofmeasure.org","code":"[Ch]"}}]}]})"},
             "[6000000@Procedure/p,]"},
        Twin{"sheath_as_a_used_code", {PROCEDURE R"(,"usedCode":[{"text":"7F introducer sheath"}]})"}, {PROCEDURE R"(,"used":[{"concept":{"text":"7F introducer sheath"}}]})"},
             "[7000000@Procedure/p?,]"},
        Twin{"approach_by_body_structure", {kBareProcedure + kApproach + R"(,"performedDateTime":"2026-03-02T10:00:00Z"})", kBody4},
             {kBareProcedure + kApproach + R"(,"occurrenceDateTime":"2026-03-02T10:00:00Z"})", kBody5}, "[1@Procedure/p,]"},
        Twin{"the_side_of_one_structure_is_not_that_of_another", {kBareProcedure + kApproach + "}", kBody4}, {kBareProcedure + kApproach + "}", kBodies5}, "[1@Procedure/p,]"},
        Twin{"sheath_removed", {R"({"resourceType":"Procedure","id":"e","status":"completed",%%,"code":)" OURS("access-event", "sheath-removed") R"(,"performedDateTime":"2026-03-02T14:00:00Z"})"},
             {R"({"resourceType":"Procedure","id":"e","status":"completed",%%,"code":)" OURS("access-event", "sheath-removed") R"(,"occurrenceDateTime":"2026-03-02T14:00:00Z"})"},
             "event Procedure/e"},
        Twin{"bolus", {GIVEN R"(,"medicationCodeableConcept":)" HEPARIN R"(,"effectiveDateTime":"2026-03-02T10:10:00Z","dosage":{"dose":{"value":5000,"system":"http://unitsofmeasure.org","code":"[iU]"}}})"},
             {GIVEN R"(,"medication":{"concept":)" HEPARIN R"(},"occurenceDateTime":"2026-03-02T10:10:00Z","dosage":{"dose":{"value":5000,"system":"http://unitsofmeasure.org","code":"[iU]"}}})"},
             "dose MedicationAdministration/m 0"},
        Twin{"bolus_with_the_spelling_corrected", {GIVEN R"(,"medicationCodeableConcept":)" HEPARIN R"(,"effectiveDateTime":"2026-03-02T10:10:00Z"})"},
             {GIVEN R"(,"medication":{"concept":)" HEPARIN R"(},"occurrenceDateTime":"2026-03-02T10:10:00Z"})"}, "2026-03-02T10:10:00Z"},
        Twin{"infusion_of_a_mixture",
             {GIVEN R"(,"context":{"reference":"Encounter/e"},"medicationReference":{"reference":"#x"},"contained":[{"resourceType":"Medication","id":"x","ingredient":[{"itemCodeableConcept":)" HEPARIN
                    R"(},{"itemCodeableConcept":{"text":"sodium chloride"}}]}],"effectivePeriod":{"start":"2026-03-02T10:10:00Z"},"dosage":{"rateQuantity":{"value":1000,"system":"http://unitsofmeasure.org","code":"[iU]/h"}}})"},
             {GIVEN R"(,"encounter":{"reference":"Encounter/e"},"medication":{"reference":{"reference":"#x"}},"contained":[{"resourceType":"Medication","id":"x","ingredient":[{"item":{"concept":)" HEPARIN
                    R"(}},{"item":{"concept":{"text":"sodium chloride"}}}]}],"occurencePeriod":{"start":"2026-03-02T10:10:00Z"},"dosage":{"rateQuantity":{"value":1000,"system":"http://unitsofmeasure.org","code":"[iU]/h"}}})"},
             "Encounter/e"},
        Twin{"ingredient_by_reference",
             {GIVEN R"(,"medicationReference":{"reference":"Medication/x"},"effectiveDateTime":"2026-03-02T10:10:00Z"})",
              R"({"resourceType":"Medication","id":"x","ingredient":[{"itemReference":{"reference":"Substance/h"}}]})", R"({"resourceType":"Substance","id":"h","code":)" HEPARIN "}"},
             {GIVEN R"(,"medication":{"reference":{"reference":"Medication/x"}},"occurenceDateTime":"2026-03-02T10:10:00Z"})",
              R"({"resourceType":"Medication","id":"x","ingredient":[{"item":{"reference":{"reference":"Substance/h"}}}]})",
              R"({"resourceType":"Substance","id":"h","instance":false,"code":{"concept":)" HEPARIN "}}"},
             "dose MedicationAdministration/m 0"},
        Twin{"clotting_time_with_analyser_and_specimen",
             {ACT R"(,"device":{"reference":"Device/d"},"specimen":{"reference":"Specimen/s"}})",
              R"({"resourceType":"Device","id":"d","type":{"text":"coagulation analyser"},"deviceName":[{"name":"bench 2","type":"user-friendly-name"}]})",
              R"({"resourceType":"Specimen","id":"s",%%,"collection":{"collectedDateTime":"2026-03-02T11:50:00Z","bodySite":{"text":"arterial line"}}})"},
             {ACT R"(,"device":{"reference":"Device/d"},"specimen":{"reference":"Specimen/s"}})",
              R"({"resourceType":"Device","id":"d","type":[{"text":"coagulation analyser"}],"name":[{"value":"bench 2","type":"user-friendly-name"}]})",
              R"({"resourceType":"Specimen","id":"s",%%,"collection":{"collectedDateTime":"2026-03-02T11:50:00Z","bodySite":{"concept":{"text":"arterial line"}}}})"},
             "2026-03-02T11:50:00Z no bench 2 arterial line"},
        Twin{"check_of_one_groin", {kSiteCheck + R"(,"bodySite":)" SCT("85119005") "}"}, {kSiteCheck + R"(,"bodyStructure":{"reference":"BodyStructure/b"}})", kBody5}, "check Observation/c 2026-03-02T13:00:00Z  1 0"},
        Twin{"check_of_one_groin_by_extension",
             {kSiteCheck + R"(,"extension":[{"url":"http://hl7.org/fhir/StructureDefinition/bodySite","valueReference":{"reference":"BodyStructure/b"}}]})", kBody4},
             {kSiteCheck + R"(,"bodyStructure":{"reference":"BodyStructure/b"}})", kBody5}, "check Observation/c 2026-03-02T13:00:00Z  1 0"},
        Twin{"discharge", {R"({"resourceType":"Encounter","id":"e","status":"finished",%%,"class":{"code":"IMP"},"period":{"start":"2026-03-02T08:00:00Z","end":"2026-03-03T08:00:00Z"}})"},
             {R"({"resourceType":"Encounter","id":"e","status":"discharged",%%,"class":[{"coding":[{"code":"IMP"}]}],"actualPeriod":{"start":"2026-03-02T08:00:00Z","end":"2026-03-03T08:00:00Z"}})"},
             "encounter Encounter/e no"},
        Twin{"on_leave_is_on_hold", {R"({"resourceType":"Encounter","id":"e","status":"onleave",%%,"period":{"start":"2026-03-02T08:00:00Z"}})"},
             {R"({"resourceType":"Encounter","id":"e","status":"on-hold",%%,"actualPeriod":{"start":"2026-03-02T08:00:00Z"}})"}, "encounter Encounter/e yes"},
        Twin{"home_drug_not_taken", {STATEMENT R"(,"status":"not-taken","medicationCodeableConcept":)" DOAC "}"},
             {STATEMENT R"(,"status":"recorded","adherence":{"code":{"coding":[{"code":"not-taking"}]}},"medication":{"concept":)" DOAC "}}"}, "apixaban no"},
        Twin{"home_drug_stopped", {STATEMENT R"(,"status":"stopped","medicationCodeableConcept":)" DOAC R"(,"effectivePeriod":{"start":"2025","end":"2026-03-01T08:00:00Z"}})"},
             {STATEMENT R"(,"status":"recorded","adherence":{"code":{"coding":[{"code":"stopped-as-directed"}]}},"medication":{"concept":)" DOAC
                        R"(},"effectivePeriod":{"start":"2025","end":"2026-03-01T08:00:00Z"}})"},
             "apixaban yes no 2026-03-01T08:00:00Z"},
        Twin{"home_drug_taken", {STATEMENT R"(,"status":"active","medicationCodeableConcept":)" DOAC R"(,"effectivePeriod":{"start":"2025"}})"},
             {STATEMENT R"(,"status":"recorded","adherence":{"code":{"coding":[{"code":"taking"}]}},"medication":{"concept":)" DOAC R"(},"effectivePeriod":{"start":"2025"}})"}, "apixaban yes no -"},
        Twin{"home_drug_on_hold_was_taken", {STATEMENT R"(,"status":"on-hold","medicationCodeableConcept":)" DOAC "}"},
             {STATEMENT R"(,"status":"recorded","adherence":{"code":{"coding":[{"code":"on-hold-as-directed"}]}},"medication":{"concept":)" DOAC "}}"}, "apixaban yes"},
        Twin{"request_reported_by_the_patient",
             {R"({"resourceType":"MedicationRequest","id":"r","status":"active","intent":"order",%%,"reportedBoolean":true,"medicationCodeableConcept":)" DOAC "}"},
             {R"({"resourceType":"MedicationRequest","id":"r","status":"active","intent":"order",%%,"reported":true,"medication":{"concept":)" DOAC "}}"}, "home MedicationRequest/r"},
        Twin{"dispense", {R"({"resourceType":"MedicationDispense","id":"d","status":"completed",%%,"whenHandedOver":"2026-02-20T08:00:00Z","medicationCodeableConcept":)" DOAC "}"},
             {R"({"resourceType":"MedicationDispense","id":"d","status":"completed",%%,"whenHandedOver":"2026-02-20T08:00:00Z","category":[{"text":"x"}],"medication":{"concept":)" DOAC "}}"},
             "home MedicationDispense/d"},
        Twin{"list_of_home_drugs",
             {R"({"resourceType":"List","id":"l","status":"current","mode":"snapshot",%%,"code":{"coding":[{"system":"http://loinc.org","code":"10160-0"}]},"date":"2026-03-02T09:00:00Z",)"
              R"("emptyReason":{"coding":[{"system":"http://terminology.hl7.org/CodeSystem/list-empty-reason","code":"nilknown"}]}})"},
             {R"({"resourceType":"List","id":"l","status":"current","mode":"snapshot","subject":[{"reference":"Patient/a"}],"code":{"coding":[{"system":"http://loinc.org","code":"10160-0"}]},"date":"2026-03-02T09:00:00Z",)"
              R"("emptyReason":{"coding":[{"system":"http://terminology.hl7.org/CodeSystem/list-empty-reason","code":"nilknown"}]}})"},
             "list List/l yes"},
        Twin{"thrombocytopenia_by_heparin_as_a_reaction",
             {R"({"resourceType":"AllergyIntolerance","id":"a","type":"allergy","patient":{"reference":"Patient/a"},"code":{"text":"heparin"},"reaction":[{"manifestation":[{"text":"heparin-induced thrombocytopenia"}]}]})"},
             {R"({"resourceType":"AllergyIntolerance","id":"a","type":{"text":"allergy"},"patient":{"reference":"Patient/a"},"code":{"text":"heparin"},"reaction":[{"manifestation":[{"concept":{"text":"heparin-induced thrombocytopenia"}}]}]})"},
             "risk AllergyIntolerance/a"},
        Twin{"the_same_reaction_as_an_observation",
             {R"({"resourceType":"AllergyIntolerance","id":"a","patient":{"reference":"Patient/a"},"code":{"text":"heparin"},"reaction":[{"manifestation":[{"text":"heparin-induced thrombocytopenia"}]}]})"},
             {R"({"resourceType":"AllergyIntolerance","id":"a","patient":{"reference":"Patient/a"},"code":{"text":"heparin"},"reaction":[{"manifestation":[{"reference":{"display":"heparin-induced thrombocytopenia"}}]}]})"},
             "risk AllergyIntolerance/a"},
        Twin{"completed_task",
             {R"({"resourceType":"Task","id":"t","status":"completed","intent":"order","for":{"reference":"Patient/a"},"code":)" OURS("aftercare-step", "remove-sheath")
              R"(,"reasonReference":{"reference":"Procedure/p"},"executionPeriod":{"end":"2026-03-02T14:00:00Z"},"performerType":[{"text":"nurse"}]})"},
             {R"({"resourceType":"Task","id":"t","status":"completed","intent":"order","for":{"reference":"Patient/a"},"code":)" OURS("aftercare-step", "remove-sheath")
              R"(,"reason":[{"reference":{"reference":"Procedure/p"}}],"executionPeriod":{"end":"2026-03-02T14:00:00Z"},"requestedPerformer":[{"concept":{"text":"nurse"}}],"requestedPeriod":{"end":"2026-03-02T13:00:00Z"}})"},
             "event Task/t 1 2026-03-02T14:00:00Z"}),
    [](const auto& row) { return std::string(row.param.name); });

// ---- What only one version can say

TEST(OnlyR5, a_task_not_to_do_something_moves_nothing_when_it_is_completed) {
  const auto result = read_all({R"({"resourceType":"Task","id":"t","status":"completed","intent":"order","doNotPerform":true,"for":{"reference":"Patient/a"},"code":)"
                                OURS("aftercare-step", "remove-sheath") R"(,"reason":[{"reference":{"reference":"Procedure/p"}}],"executionPeriod":{"end":"2026-03-02T14:00:00Z"}})"});
  EXPECT_TRUE(result.record.access_events.empty());
  EXPECT_TRUE(result.record.tasks.empty());
  EXPECT_TRUE(reading_test::has_issue(result, "not-done"));
}

TEST(OnlyR5, a_list_of_two_patients_is_nobodys) {
  const auto list = reading_test::resource(R"({"resourceType":"List","id":"l","status":"current","subject":[{"reference":"Patient/a"},{"reference":"Patient/b"}],
    "code":{"coding":[{"system":"http://loinc.org","code":"10160-0"}]},"emptyReason":{"coding":[{"system":"http://terminology.hl7.org/CodeSystem/list-empty-reason","code":"nilknown"}]}})");
  const auto result = reading_test::read({json::write(list)});
  EXPECT_TRUE(result.record.home_lists.empty());
  EXPECT_TRUE(reading_test::has_issue(result, "other-patient"));
}

TEST(OnlyR5, an_encounter_broken_off_is_no_discharge) {
  const auto result = read_all({R"({"resourceType":"Encounter","id":"e","status":"discontinued",%%,"actualPeriod":{"start":"2026-03-02T08:00:00Z","end":"2026-03-02T09:00:00Z"}})"});
  ASSERT_EQ(result.record.encounters.size(), 1u);
  EXPECT_FALSE(result.record.encounters[0].end);
  EXPECT_TRUE(reading_test::has_issue(result, "discontinued"));
}

TEST(OnlyR5, codes_of_adherence_that_disagree_never_say_not_taken) {
  const auto result = read_all({STATEMENT R"(,"status":"recorded","adherence":{"code":{"coding":[{"code":"not-taking"},{"code":"taking"}]}},"medication":{"concept":)" DOAC "}}"});
  ASSERT_EQ(result.record.home_drugs.size(), 1u);
  EXPECT_TRUE(result.record.home_drugs[0].taken);
  EXPECT_TRUE(reading_test::has_issue(result, "codes-disagree"));
}

TEST(BothVersions, a_drug_with_an_ingredient_that_is_not_here_is_not_taken_for_harmless) {
  const char* bag = R"({"resourceType":"Medication","id":"x","code":{"coding":[{"system":"http://www.whocc.no/atc","code":"B05BB01","display":"sodium chloride"}]},"ingredient":[{"itemReference":{"reference":"Medication/y"}}]})";
  const auto result = read_all({GIVEN R"(,"medicationReference":{"reference":"Medication/x"},"effectiveDateTime":"2026-03-02T10:10:00Z"})", bag});
  ASSERT_EQ(result.record.administrations.size(), 1u);
  EXPECT_EQ(result.record.administrations[0].agent, clinical::Agent::unidentified);
  EXPECT_TRUE(reading_test::has_issue(result, "ingredient-unread"));
}

}  // namespace
