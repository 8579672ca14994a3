#include "fhir_read/reading_support.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

namespace {

using clinical::AccessEventKind;

std::string task(std::string_view step, std::string_view members, std::string_view status = "completed") {
  return fmt::format(R"({{"resourceType":"Task","id":"t","status":"{}","intent":"plan","for":{{"reference":"Patient/a"}},
    "identifier":[{{"system":"https://aftersheath.example/fhir/NamingSystem/item","value":"574f04af-b6d9-5f06-a51a-f6fb11ad366c"}}],
    "code":{{"coding":[{{"system":"https://aftersheath.example/fhir/CodeSystem/aftercare-step","code":"{}"}}]}},
    "reasonReference":{{"reference":"Procedure/p"}}{}{}}})", status, step, members.empty() ? "" : ",", members);
}

constexpr const char* kRight = R"("input":[{"type":{"coding":[{"system":"https://aftersheath.example/fhir/CodeSystem/task-input","code":"access-site"}]},"valueCodeableConcept":{"coding":[{"system":"http://snomed.info/sct","code":"69833005"}]}}])";

TEST(Task, remove_sheath_is_sheath_out_and_compression_start) {
  const auto result = reading_test::read({task("remove-sheath", std::string(kRight) + R"(,"executionPeriod":{"end":"2026-03-02T18:05:00Z"})")});
  ASSERT_EQ(result.record.access_events.size(), 2u);
  EXPECT_EQ(result.record.access_events[0].kind, AccessEventKind::sheath_removed);
  EXPECT_EQ(result.record.access_events[1].kind, AccessEventKind::compression_started);
  for (const auto& e : result.record.access_events) {
    EXPECT_EQ(e.at->earliest, reading_test::instant("2026-03-02T18:05:00Z"));
    EXPECT_EQ(e.procedure, "Procedure/p");
    EXPECT_EQ(e.side, clinical::Side::right);
    EXPECT_TRUE(e.from_task);
    EXPECT_FALSE(e.recording_time_only || e.time_conflict);
  }
  ASSERT_EQ(result.record.tasks.size(), 1u);
  EXPECT_EQ(result.record.tasks[0].step, "remove-sheath");
  EXPECT_EQ(result.record.tasks[0].identity, "574f04af-b6d9-5f06-a51a-f6fb11ad366c");
}

struct DoneRow {
  const char* name;
  const char* members;
  const char* at;
  bool recorded, conflict;
};
void PrintTo(const DoneRow& row, std::ostream* os) { *os << row.name; }
class Completion : public testing::TestWithParam<DoneRow> {};

TEST_P(Completion, time_is_the_later_one) {
  const auto result = reading_test::read({task("end-compression", GetParam().members)});
  ASSERT_EQ(result.record.access_events.size(), 2u);
  const auto& event = result.record.access_events[1];
  EXPECT_EQ(event.kind, AccessEventKind::haemostasis_confirmed);
  EXPECT_EQ(event.at->earliest, reading_test::instant(GetParam().at));
  EXPECT_EQ(event.recording_time_only, GetParam().recorded);
  EXPECT_EQ(event.time_conflict, GetParam().conflict);
}

INSTANTIATE_TEST_SUITE_P(
    table, Completion,
    testing::Values(
        DoneRow{"execution_end", R"("executionPeriod":{"end":"2026-03-02T18:25:00Z"},"lastModified":"2026-03-02T18:40:00Z")", "2026-03-02T18:25:00Z", false, false},
        DoneRow{"output_within_five_minutes", R"("executionPeriod":{"end":"2026-03-02T18:25:00Z"},"output":[{"type":{"text":"time"},"valueDateTime":"2026-03-02T18:30:00Z"}])", "2026-03-02T18:30:00Z", false, false},
        DoneRow{"output_over_five_minutes_away", R"("executionPeriod":{"end":"2026-03-02T18:25:00Z"},"output":[{"type":{"text":"time"},"valueDateTime":"2026-03-02T18:19:59Z"}])", "2026-03-02T18:25:00Z", false, true},
        DoneRow{"time_of_recording", R"("lastModified":"2026-03-02T18:40:00Z")", "2026-03-02T18:40:00Z", true, false}),
    [](const auto& row) { return row.param.name; });

TEST(Task, check_site_becomes_a_check_and_other_steps_move_no_clock) {
  const auto result = reading_test::read({task("check-site", R"("executionPeriod":{"end":"2026-03-02T18:40:00Z"},"output":[
    {"type":{"coding":[{"system":"https://aftersheath.example/fhir/CodeSystem/check-finding","code":"bleeding"}]},"valueCodeableConcept":{"coding":[{"system":"https://aftersheath.example/fhir/CodeSystem/check-finding","code":"none"}]}},
    {"type":{"coding":[{"system":"https://aftersheath.example/fhir/CodeSystem/check-finding","code":"swelling"}]},"valueQuantity":{"value":0,"system":"http://unitsofmeasure.org","code":"cm"}},
    {"type":{"coding":[{"system":"https://aftersheath.example/fhir/CodeSystem/check-finding","code":"growth"}]},"valueBoolean":false},
    {"type":{"coding":[{"system":"https://aftersheath.example/fhir/CodeSystem/check-finding","code":"foot-pulse"}]},"valueCode":"as-baseline"}])")});
  ASSERT_EQ(result.record.checks.size(), 1u);
  EXPECT_TRUE(result.record.checks[0].complete()) << reading_test::all_issues(result.issues);
  EXPECT_TRUE(reading_test::read({task("light-compression", "")}).record.access_events.empty());
  EXPECT_TRUE(reading_test::read({task("check-site", "")}).record.checks.empty());
  EXPECT_TRUE(reading_test::read({task("remove-sheath", "", "accepted")}).record.access_events.empty());
}

TEST(Task, somebody_elses_without_a_case_moves_nothing) {
  const auto result = reading_test::read({R"({"resourceType":"Task","id":"t","status":"completed","intent":"order","for":{"reference":"Patient/a"},
    "code":{"coding":[{"system":"https://aftersheath.example/fhir/CodeSystem/aftercare-step","code":"remove-sheath"}]}})"});
  EXPECT_TRUE(result.record.access_events.empty());
  EXPECT_TRUE(result.record.tasks.empty());
  EXPECT_TRUE(reading_test::has_issue(result, "no-case"));
}

std::string statement(std::string_view code, std::string_view members) {
  return fmt::format(R"({{"resourceType":"Observation","id":"s","status":"final","subject":{{"reference":"Patient/a"}},"effectiveDateTime":"2026-03-02T10:00:00Z",
    "code":{{"coding":[{{"system":"https://aftersheath.example/fhir/CodeSystem/access-statement","code":"{}"}}]}}{}{}}})", code, members.empty() ? "" : ",", members);
}

TEST(Statement, counts_unless_denied_or_absent) {
  EXPECT_EQ(reading_test::read({statement("no-anticoagulant-given", R"("valueBoolean":true)")}).record.statements.at(0).kind, clinical::StatementKind::no_anticoagulant_given);
  EXPECT_EQ(reading_test::read({statement("no-home-anticoagulant", R"("valueBoolean":true)")}).record.statements.size(), 1u);
  EXPECT_TRUE(reading_test::read({statement("no-home-anticoagulant", R"("valueBoolean":false)")}).record.statements.empty());
  EXPECT_TRUE(reading_test::has_issue(reading_test::read({statement("no-home-anticoagulant", "")}), "statement-value")) << "nobody says that it is so";
  EXPECT_TRUE(reading_test::read({statement("no-home-anticoagulant", "")}).record.statements.empty());
  EXPECT_TRUE(reading_test::read({statement("no-home-anticoagulant", R"("dataAbsentReason":{"text":"unknown"})")}).record.statements.empty());
  EXPECT_TRUE(reading_test::has_issue(reading_test::read({statement("no-such-thing", "")}), "unknown-code"));
}

clinical::Record decided(const std::string& more, const std::string& performer = R"({"display":"Invented duty physician"})", const char* status = "final") {
  return reading_test::read({fmt::format(R"({{"resourceType":"Observation","id":"s","status":"{}","subject":{{"reference":"Patient/a"}},"effectiveDateTime":"2026-03-02T10:00:00Z",
    "code":{{"coding":[{{"system":"https://aftersheath.example/fhir/CodeSystem/access-statement","code":"gate-decision"}}]}},"performer":[{}],"component":[
      {{"code":{{"coding":[{{"system":"https://aftersheath.example/fhir/CodeSystem/access-statement","code":"gate"}}]}},"valueString":"blood-pressure"}},
      {{"code":{{"coding":[{{"system":"https://aftersheath.example/fhir/CodeSystem/access-statement","code":"value-seen"}}]}},"valueString":"154 mmHg"}}]{}}})", status, performer, more)}).record;
}

// The model: an ask is answered by a recorded decision of a named clinician. What is a yes or a no in six languages is common practice, no source.
TEST(Statement, only_an_unmistakable_yes_decides) {
  for (const char* yes : {"", R"(,"valueBoolean":true)", R"(,"valueString":"Yes")", R"(,"valueString":"Ja, einverstanden")", R"(,"valueString":"oui")", R"(,"valueString":"Sí")", R"(,"valueString":"tak")", R"(,"valueString":"نعم")",
                          R"(,"valueCodeableConcept":{"coding":[{"system":"http://snomed.info/sct","code":"373066001","display":"Yes"}]})", R"(,"note":[{"text":"seen at the bedside"}])"}) {
    ASSERT_EQ(decided(yes).decisions.size(), 1u) << yes;
    EXPECT_FALSE(decided(yes).decisions[0].refused) << yes;
    EXPECT_EQ(decided(yes).decisions[0].value_seen, "154 mmHg") << yes;
  }
  struct No {
    const char *more, *said;
  };
  for (const auto& no : {No{R"(,"valueBoolean":false)", "-"}, No{R"(,"valueString":"no")", "no"}, No{R"(,"valueString":"Nein, nicht ziehen")", "Nein, nicht ziehen"}, No{R"(,"valueString":"wait")", "wait"}, No{R"(,"valueString":"yes, after CT")", "yes, after CT"},
                         No{R"(,"valueCodeableConcept":{"text":"refused"})", "refused"}, No{R"(,"note":[{"text":"Nein, warten bis RR < 140"}])", "Nein, warten bis RR < 140"}, No{R"(,"note":[{"text":"Attendre la visite"}])", "Attendre la visite"},
                         No{R"(,"valueString":"Rechazado")", "Rechazado"}, No{R"(,"valueString":"odmowa")", "odmowa"}, No{R"(,"valueString":"لا")", "لا"}, No{R"(,"valueQuantity":{"value":154,"unit":"mmHg"})", "-"}}) {
    ASSERT_EQ(decided(no.more).decisions.size(), 1u) << no.more;
    EXPECT_TRUE(decided(no.more).decisions[0].refused) << no.more;
    EXPECT_EQ(decided(no.more).decisions[0].value_seen, no.said) << no.more;
  }
}

TEST(Statement, only_a_clinician_decides_and_only_finally) {
  for (const char* clinician : {R"({"display":"Invented duty physician"})", R"({"reference":"Practitioner/d","display":"Invented duty physician"})", R"({"reference":"PractitionerRole/d","display":"Invented duty physician"})",
                                R"({"type":"Practitioner","display":"Invented duty physician"})"})
    EXPECT_EQ(decided("", clinician).decisions.at(0).performer, "Invented duty physician") << clinician;
  for (const char* nobody : {R"({"reference":"Patient/a","display":"Invented"})", R"({"reference":"Device/m","display":"Invented monitor"})", R"({"reference":"Organization/o","display":"Invented ward"})", R"({"type":"Patient","display":"Invented"})",
                             R"({"display":"unknown"})", R"({"display":"Unbekannt"})"})
    EXPECT_EQ(decided("", nobody).decisions.at(0).performer, "") << nobody;
  for (const char* status : {"final", "amended", "corrected"}) EXPECT_EQ(decided("", R"({"display":"Invented duty physician"})", status).decisions.size(), 1u) << status;
  for (const char* status : {"preliminary", "unknown"}) {
    EXPECT_TRUE(decided("", R"({"display":"Invented duty physician"})", status).decisions.empty()) << status;
    EXPECT_TRUE(decided(R"(,"valueBoolean":false)", R"({"display":"Invented duty physician"})", status).decisions.at(0).refused) << status << ": a no is heard";
  }
}

TEST(Statement, what_is_denied_later_is_withdrawn) {
  const auto stated = [](const char* code, const char* id, const char* at, const char* value) {
    return fmt::format(R"({{"resourceType":"Observation","id":"{}","status":"final","subject":{{"reference":"Patient/a"}}{},"valueBoolean":{},
      "code":{{"coding":[{{"system":"https://aftersheath.example/fhir/CodeSystem/access-statement","code":"{}"}}]}}}})", id, *at ? fmt::format(R"(,"effectiveDateTime":"{}")", at) : "", value, code);
  };
  const auto left = [&](const char* denied, const char* when) {
    return reading_test::read({stated("no-home-anticoagulant", "y", "2026-03-02T10:00:00Z", "true"), stated(denied, "n", when, "false")}).record.statements.size();
  };
  EXPECT_EQ(left("no-home-anticoagulant", "2026-03-02T10:30:00Z"), 0u);
  EXPECT_EQ(left("no-home-anticoagulant", "2026-03-02T10:00:00Z"), 0u) << "at once: the denial";
  EXPECT_EQ(left("no-home-anticoagulant", ""), 0u) << "nobody knows when";
  EXPECT_EQ(left("no-home-anticoagulant", "2026-03-02T09:30:00Z"), 1u);
  EXPECT_EQ(left("no-anticoagulant-given", "2026-03-02T10:30:00Z"), 1u);
}

TEST(Task, a_step_of_the_pull_that_is_given_back_with_a_reason_is_a_no) {
  const auto no = [](const char* step, const char* status, const char* reason = R"("statusReason":{"text":"wrong groin on the order"},)") {
    return reading_test::read({task(step, std::string(reason) + R"("owner":{"display":"Invented nurse"},"lastModified":"2026-03-02T10:30:00Z")", status)}).record.decisions;
  };
  for (const char* step : {"confirm-readiness", "remove-sheath"})
    for (const char* status : {"rejected", "failed", "on-hold"}) {
      const auto found = no(step, status);
      ASSERT_EQ(found.size(), 1u) << step << status;
      EXPECT_TRUE(found[0].refused);
      EXPECT_EQ(found[0].subject, step);
      EXPECT_EQ(found[0].value_seen, "wrong groin on the order");
      EXPECT_EQ(found[0].at->latest, reading_test::instant("2026-03-02T10:30:00Z"));
    }
  EXPECT_TRUE(no("remove-sheath", "rejected", "").empty()) << "no reason";
  EXPECT_TRUE(no("remove-sheath", "cancelled").empty()) << "ours: we cancel our own";
  EXPECT_TRUE(no("remove-sheath", "accepted").empty());
  EXPECT_TRUE(no("sit-up", "rejected").empty());
}

// meta.lastUpdated: when the record changed the resource (FHIR R4, Resource.meta).
TEST(Statement, what_the_record_changed_after_a_decision_is_known) {
  const auto changed = [](const std::string& decided, const std::string& dosed) {
    const auto meta = [](const std::string& at) { return at.empty() ? std::string() : R"(,"meta":{"lastUpdated":")" + at + "\"}"; };
    const auto result = reading_test::read({statement("gate-decision", R"X("performer":[{"display":"Duty physician (invented)"}],"component":[
      {"code":{"coding":[{"system":"https://aftersheath.example/fhir/CodeSystem/access-statement","code":"gate"}]},"valueString":"bivalirudin"}])X" + meta(decided)),
      R"({"resourceType":"MedicationAdministration","id":"m","status":"completed","subject":{"reference":"Patient/a"},"medicationCodeableConcept":{"text":"bivalirudin"},"effectiveDateTime":"2026-03-02T09:00:00Z")" + meta(dosed) + "}"});
    return result.record.decisions.at(0).changed_since;
  };
  EXPECT_TRUE(changed("2026-03-02T10:01:00Z", "2026-03-02T09:05:00Z").empty());
  EXPECT_TRUE(changed("2026-03-02T10:01:00Z", "").empty());
  const auto after = changed("", "2026-03-02T10:10:00Z");
  ASSERT_EQ(after.size(), 1u);
  EXPECT_EQ(after[0].reference, "MedicationAdministration/m");
  EXPECT_EQ(after[0].at, reading_test::instant("2026-03-02T10:10:00Z"));
  const auto rehearsed = changed("2026-11-20T08:00:00Z", "2026-11-20T08:03:00Z");
  ASSERT_EQ(rehearsed.size(), 1u);
  EXPECT_EQ(rehearsed[0].at, reading_test::instant("2026-03-02T10:03:00Z")) << "by the clock of the decision";
}

TEST(Statement, a_decision_names_gate_value_and_performer) {
  const auto result = reading_test::read({statement("gate-decision", R"X("performer":[{"display":"Duty physician (invented)"}],"component":[
    {"code":{"coding":[{"system":"https://aftersheath.example/fhir/CodeSystem/access-statement","code":"gate"}]},"valueString":"blood-pressure"},
    {"code":{"coding":[{"system":"https://aftersheath.example/fhir/CodeSystem/access-statement","code":"value-seen"}]},"valueQuantity":{"value":154,"unit":"mmHg"}}])X")});
  const auto& d = result.record.decisions.at(0);
  EXPECT_EQ(d.subject, "blood-pressure");
  EXPECT_EQ(d.value_seen, "154 mmHg");
  EXPECT_EQ(d.performer, "Duty physician (invented)");
}

TEST(HomeDrugs, statements_lists_and_last_doses) {
  const auto result = reading_test::read({
    R"({"resourceType":"MedicationStatement","id":"s","status":"active","subject":{"reference":"Patient/a"},"medicationCodeableConcept":{"text":"apixaban"},"effectiveDateTime":"2026-03-01T08:00:00Z",
       "extension":[{"url":"https://aftersheath.example/fhir/StructureDefinition/last-dose","valueDateTime":"2026-03-01T20:00:00Z"}]})",
    R"({"resourceType":"MedicationStatement","id":"n","status":"not-taken","subject":{"reference":"Patient/a"},"medicationCodeableConcept":{"text":"warfarin"}})",
    R"({"resourceType":"MedicationRequest","id":"ward","status":"active","intent":"order","subject":{"reference":"Patient/a"},"medicationCodeableConcept":{"text":"enoxaparin"}})",
    R"({"resourceType":"MedicationRequest","id":"home","status":"active","intent":"order","subject":{"reference":"Patient/a"},"reportedBoolean":true,"medicationCodeableConcept":{"text":"rivaroxaban"}})",
    R"({"resourceType":"List","id":"l","status":"current","mode":"snapshot","subject":{"reference":"Patient/a"},"date":"2026-03-02T07:00:00Z","code":{"coding":[{"system":"http://loinc.org","code":"10160-0"}]},
       "emptyReason":{"coding":[{"system":"http://terminology.hl7.org/CodeSystem/list-empty-reason","code":"nilknown"}]}})",
    R"({"resourceType":"List","id":"w","status":"current","mode":"snapshot","subject":{"reference":"Patient/a"},"code":{"coding":[{"system":"http://loinc.org","code":"10160-0"}]},
       "emptyReason":{"coding":[{"system":"http://terminology.hl7.org/CodeSystem/list-empty-reason","code":"withheld"}]}})",
    R"({"resourceType":"List","id":"allergies","status":"current","mode":"snapshot","subject":{"reference":"Patient/a"},"code":{"text":"Allergies"},
       "emptyReason":{"coding":[{"system":"http://terminology.hl7.org/CodeSystem/list-empty-reason","code":"nilknown"}]}})"});
  ASSERT_EQ(result.record.home_drugs.size(), 3u);
  EXPECT_EQ(result.record.home_drugs[0].last_dose->earliest, reading_test::instant("2026-03-01T20:00:00Z"));
  EXPECT_FALSE(result.record.home_drugs[1].taken);
  EXPECT_EQ(result.record.home_drugs[2].agent, clinical::Agent::rivaroxaban);
  EXPECT_TRUE(result.record.home_drugs[2].told_by_request);
  ASSERT_EQ(result.record.home_lists.size(), 1u);
  EXPECT_TRUE(result.record.home_lists[0].nil_known);
}

// What was taken was taken, whatever the request or dispense is for (clinical model: "a request or dispense with a last dose" tells).
TEST(HomeDrugs, a_last_dose_counts_whatever_the_request_or_dispense_is_for) {
  const auto with = [](const char* type, std::string_view members, std::string_view dose = R"("valueDateTime":"2026-03-01T20:00:00Z")") {
    return reading_test::read({fmt::format(R"({{"resourceType":"{}","id":"m","intent":"order","subject":{{"reference":"Patient/a"}},"medicationCodeableConcept":{{"text":"apixaban"}},
      "extension":[{{"url":"https://aftersheath.example/fhir/StructureDefinition/last-dose",{}}}],{}}})", type, dose, members)}).record;
  };
  for (const char* members : {R"("status":"active")", R"("status":"active","category":[{"coding":[{"code":"inpatient"}]}])", R"("status":"cancelled")", R"("status":"stopped","doNotPerform":true)"}) {
    const auto record = with("MedicationRequest", members);
    ASSERT_EQ(record.home_drugs.size(), 1u) << members;
    EXPECT_EQ(record.home_drugs[0].last_dose->earliest, reading_test::instant("2026-03-01T20:00:00Z"));
  }
  EXPECT_EQ(with("MedicationRequest", R"("status":"active","category":[{"coding":[{"code":"inpatient"}]}])").orders.size(), 1u) << "it is an order as well";
  EXPECT_EQ(with("MedicationDispense", R"("status":"completed","category":{"coding":[{"code":"inpatient"}]})").home_drugs.size(), 1u);
  const auto unread = with("MedicationRequest", R"("status":"active")", R"("valueDateTime":"yesterday evening")");
  ASSERT_EQ(unread.home_drugs.size(), 1u);
  EXPECT_FALSE(unread.home_drugs[0].last_dose);
  EXPECT_FALSE(unread.home_drugs[0].told_by_request) << "a dose at an unknown time, no mere request";
}

TEST(Risks, by_name_with_negation) {
  const auto risk = [](std::string_view members) { return reading_test::read({fmt::format(R"({{"resourceType":"Condition","id":"c","subject":{{"reference":"Patient/a"}},{}}})", members)}).record.risks; };
  EXPECT_EQ(risk(R"("code":{"text":"Heparin-induced thrombocytopenia"})").at(0).kind, clinical::RiskKind::heparin_induced_thrombocytopenia);
  EXPECT_EQ(risk(R"("code":{"text":"Chronic hemodialysis"})").at(0).kind, clinical::RiskKind::dialysis);
  EXPECT_TRUE(risk(R"("code":{"text":"Not pregnant"})").empty());
  EXPECT_FALSE(risk(R"("code":{"text":"liver cirrhosis"},"verificationStatus":{"coding":[{"code":"refuted"}]})").at(0).present);
  EXPECT_EQ(risk(R"("code":{"text":"Critical limb ischemia"},"bodySite":[{"text":"right groin"}])").at(0).side, clinical::Side::right);
  EXPECT_TRUE(risk(R"("code":{"text":"Hypertension"})").empty());
}

}  // namespace
