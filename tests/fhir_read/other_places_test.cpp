// Where the truth lies beside the usual places, each from JSON to what it changes in the plan. Everything invented.
#include "fhir_read/planned_support.h"
#include "fhir_read/searchset.h"

#include <gtest/gtest.h>

namespace {

using namespace reading_test;
using clinical::GateName;
using clinical::GateState;
using clinical::Step;
using clinical::StepStatus;

constexpr const char* kDuring = "2026-03-02T12:00:00Z";  // sheath in
constexpr const char* kAfter = "2026-03-02T15:00:00Z";   // T0 was at 14:20

// ---- Specimen: what the laboratory says of the sample

std::string act(const std::string& more) {
  return R"({"resourceType":"Observation","id":"act","status":"final","subject":{"reference":"Patient/a"},"effectiveDateTime":"2026-03-02T11:55:00Z",
    "code":{"coding":[{"system":"http://loinc.org","code":"3184-9"}]},"valueQuantity":{"value":121,"system":"http://unitsofmeasure.org","code":"s"},
    "device":{"display":"bench 2"})" + more + "}";
}
std::string sampled(const std::string& specimen) {
  return act(R"(,"specimen":{"reference":"#s"},"contained":[{"resourceType":"Specimen","id":"s")" + specimen + "}]");
}

TEST(SpecimenPlan, a_sound_sample_opens_the_gate) {
  const auto p = planned(base_case() + std::vector{sampled("")}, kDuring);
  ASSERT_TRUE(gate(p, GateName::act));
  EXPECT_EQ(gate(p, GateName::act)->state, GateState::open) << all_issues(p.read.issues);
}

TEST(SpecimenPlan, an_unfit_sample_opens_nothing) {
  for (const char* unfit : {R"(,"condition":[{"coding":[{"system":"http://terminology.hl7.org/CodeSystem/v2-0493","code":"CLOT"}]}])", R"(,"condition":[{"text":"sample clotted"}])",
                            R"(,"status":"unsatisfactory")", R"(,"condition":[{"coding":[{"code":"HEM","display":"Hemolyzed"}]}])", R"(,"condition":[{"text":"Probe geronnen"}])",
                            R"(,"condition":[{"text":"not received"}])"}) {
    const auto p = planned(base_case() + std::vector{sampled(unfit)}, kDuring);
    ASSERT_TRUE(gate(p, GateName::act)) << unfit;
    EXPECT_EQ(gate(p, GateName::act)->state, GateState::needs) << unfit;
    EXPECT_TRUE(has_issue(p.read, "unfit-sample")) << unfit;
    EXPECT_NE(step(p, Step::remove_sheath).status, StepStatus::due);
  }
}

TEST(SpecimenPlan, what_is_denied_of_a_sample_is_no_fault) {
  for (const char* fit : {R"(,"condition":[{"text":"no clots seen"}])", R"(,"condition":[{"coding":[{"code":"ROOM","display":"Room temperature"}]}])", R"(,"status":"unavailable")"}) {
    const auto p = planned(base_case() + std::vector{sampled(fit)}, kDuring);
    EXPECT_EQ(gate(p, GateName::act)->state, GateState::open) << fit;
  }
}

TEST(SpecimenPlan, the_true_time_of_the_draw_counts) {
  const auto p = planned(base_case() + std::vector{sampled(R"(,"collection":{"collectedDateTime":"2026-03-02T11:20:00Z"})")}, kDuring);
  EXPECT_EQ(gate(p, GateName::act)->state, GateState::needs) << "drawn 40 min ago, resulted 5 min ago";
}

TEST(SpecimenPlan, a_sample_that_is_not_here_is_said) {
  const auto p = planned(base_case() + std::vector{act(R"(,"specimen":{"reference":"Specimen/none"})")}, kDuring);
  EXPECT_TRUE(has_issue(p.read, "unresolved"));
}

TEST(AnalyserPlan, two_devices_called_alike_stay_two) {
  const auto value = [](const char* id, const char* device, const char* at) {
    return std::string(R"({"resourceType":"Observation","status":"final","subject":{"reference":"Patient/a"},"code":{"coding":[{"system":"http://loinc.org","code":"3184-9"}]},"id":")") + id +
           R"(","effectiveDateTime":")" + at + R"(","valueQuantity":{"value":250,"system":"http://unitsofmeasure.org","code":"s"},"device":{"reference":"Device/)" + device + R"(","display":"ACT meter"}})";
  };
  const auto p = planned(base_case() + std::vector<std::string>{value("x", "d1", "2026-03-02T11:00:00Z"), value("y", "d2", "2026-03-02T11:30:00Z"), value("z", "d1", "2026-03-02T11:40:00Z")}, kDuring);
  ASSERT_EQ(p.read.record.measurements.size(), 3u);
  EXPECT_EQ(p.read.record.measurements[0].analyser, "ACT meter (d1)");
  EXPECT_NE(p.read.record.measurements[0].analyser, p.read.record.measurements[1].analyser);
  EXPECT_EQ(p.read.record.measurements[0].analyser, p.read.record.measurements[2].analyser);
}

// ---- MedicationRequest of the ward

std::string drug_order(const std::string& more, const char* status = "active", const char* atc = "B01AB05", const char* name = "enoxaparin") {
  return std::string(R"({"resourceType":"MedicationRequest","id":"mr","intent":"order","subject":{"reference":"Patient/a"},"authoredOn":"2026-03-02T09:00:00Z","status":")") + status +
         R"(","medicationCodeableConcept":{"coding":[{"system":"http://www.whocc.no/atc","code":")" + atc + R"(","display":")" + name + R"("}]})" + more + "}";
}

TEST(DrugOrderPlan, an_anticoagulant_ordered_while_the_sheath_is_in_is_said_with_its_next_dose) {
  const auto timed = drug_order(R"(,"dosageInstruction":[{"timing":{"event":["2026-03-02T08:00:00Z","2026-03-02T20:00:00Z"]}}])");
  const auto p = planned(base_case() + std::vector{timed}, kDuring);
  EXPECT_TRUE(has_caution(p, "caution.ordered-drug-at")) << all_issues(p.read.issues);
  EXPECT_TRUE(p.read.record.home_drugs.empty()) << "an order of the ward is no home drug";
  EXPECT_TRUE(has_caution(planned(base_case() + std::vector{drug_order("")}, kDuring), "caution.ordered-drug"));
}

TEST(DrugOrderPlan, it_opens_no_gate_and_is_no_dose) {
  auto bare = base_case();
  bare.pop_back();  // no heparin recorded
  const auto without = planned(bare, kDuring), with = planned(bare + std::vector{drug_order("")}, kDuring);
  ASSERT_TRUE(gate(with, GateName::anticoagulant_history));
  EXPECT_EQ(gate(with, GateName::anticoagulant_history)->state, GateState::needs);
  EXPECT_EQ(gate(with, GateName::home_anticoagulants)->state, gate(without, GateName::home_anticoagulants)->state);
  EXPECT_TRUE(with.read.record.administrations.empty());
}

TEST(DrugOrderPlan, what_binds_nobody_or_comes_later_is_not_said) {
  for (const auto& order : {drug_order("", "draft"), drug_order("", "completed"), drug_order("", "stopped"), drug_order("", "ended"), drug_order("", "on-hold"),
                            drug_order(R"(,"doNotPerform":true)"), drug_order(R"(,"category":[{"coding":[{"code":"discharge"}]}])"),
                            drug_order(R"(,"dosageInstruction":[{"timing":{"repeat":{"boundsPeriod":{"end":"2026-03-02T11:00:00Z"}}}}])"),
                            drug_order("", "active", "C10AA05", "atorvastatin"), drug_order("", "active", "B01AC06", "aspirin")}) {
    const auto p = planned(base_case() + std::vector{order}, kDuring);
    EXPECT_FALSE(has_caution(p, "caution.ordered-drug") || has_caution(p, "caution.ordered-drug-at")) << order;
  }
  EXPECT_FALSE(has_caution(planned(base_case() + pressed() + std::vector{drug_order("")}, kAfter), "caution.ordered-drug")) << "haemostasis is confirmed";
}

// ---- DeviceUseStatement, DeviceUsage, line observations

std::string use(const char* type, const char* status, const std::string& more) {
  const bool r4 = std::string_view(type) == "DeviceUseStatement";
  return std::string(R"({"resourceType":")") + type + R"(","id":"du","status":")" + status + R"(",)" + (r4 ? R"("subject")" : R"("patient")") + R"(:{"reference":"Patient/a"},)" +
         (r4 ? R"("device":{"display":"femoral introducer sheath"},"bodySite":{"text":"right groin"})" : R"("device":{"concept":{"text":"femoral introducer sheath"}},"bodySite":{"concept":{"text":"right groin"}})") +
         more + "}";
}

TEST(DeviceUsePlan, a_sheath_seen_in_after_its_removal_withholds_the_times) {
  for (const auto& seen : {use("DeviceUseStatement", "active", R"(,"timingPeriod":{"start":"2026-03-02T10:10:00Z"},"recordedOn":"2026-03-02T14:50:00Z")"),
                           use("DeviceUsage", "active", R"(,"timingPeriod":{"start":"2026-03-02T10:10:00Z"},"dateAsserted":"2026-03-02T14:50:00Z")")}) {
    const auto p = planned(base_case() + pressed() + std::vector{seen}, kAfter);
    EXPECT_TRUE(has_conflict(p, "sheath-seen-after-removal")) << seen << all_issues(p.read.issues);
    EXPECT_FALSE(step(p, Step::stand_and_walk).earliest);
  }
}

TEST(DeviceUsePlan, one_not_told_of_since_contradicts_nothing) {
  const auto p = planned(base_case() + pressed() + std::vector{use("DeviceUsage", "active", R"(,"timingPeriod":{"start":"2026-03-02T10:10:00Z"},"dateAsserted":"2026-03-02T10:15:00Z")")}, kAfter);
  EXPECT_FALSE(has_conflict(p, "sheath-seen-after-removal"));
  EXPECT_TRUE(step(p, Step::stand_and_walk).earliest);
}

TEST(DeviceUsePlan, it_says_that_the_sheath_is_in) {
  auto running = base_case();
  running[2].replace(running[2].find("\"completed\""), 11, "\"in-progress\"");
  const auto p = planned(base_case() + std::vector{use("DeviceUsage", "active", R"(,"timingDateTime":"2026-03-02T10:10:00Z")")}, kDuring);
  EXPECT_EQ(p.plan.state, clinical::CaseState::sheath_in);
}

TEST(DeviceUsePlan, the_end_of_its_use_is_a_removal_only_where_none_is_recorded) {
  const auto over = use("DeviceUsage", "completed", R"(,"timingPeriod":{"start":"2026-03-02T10:10:00Z","end":"2026-03-02T14:30:00Z"})");
  const auto alone = planned(base_case() + std::vector{over}, kAfter);
  EXPECT_EQ(alone.plan.sites.front().sheath_out, instant("2026-03-02T14:30:00Z"));
  const auto beside = planned(base_case() + pressed() + std::vector{over}, kAfter);
  EXPECT_EQ(beside.plan.sites.front().sheath_out, instant("2026-03-02T14:00:00Z"));
  EXPECT_TRUE(beside.plan.conflicts.empty());
}

TEST(DeviceUsePlan, other_devices_and_places_are_not_read) {
  for (const auto& other : {use("DeviceUsage", "not-done", ""), use("DeviceUsage", "intended", ""), use("DeviceUseStatement", "entered-in-error", "")})
    EXPECT_TRUE(planned(base_case() + std::vector{other}, kDuring).read.record.access_events.empty()) << other;
  const char* radial = R"({"resourceType":"DeviceUsage","id":"du","status":"active","patient":{"reference":"Patient/a"},"device":{"concept":{"text":"introducer sheath"}},"bodySite":{"concept":{"text":"right radial artery"}}})";
  EXPECT_TRUE(planned(base_case() + std::vector<std::string>{radial}, kDuring).read.record.access_events.empty());
  const char* urinary = R"({"resourceType":"DeviceUsage","id":"du","status":"active","patient":{"reference":"Patient/a"},"device":{"concept":{"text":"urinary catheter"}}})";
  EXPECT_TRUE(planned(base_case() + std::vector<std::string>{urinary}, kDuring).read.record.access_events.empty());
}

std::string line_seen(const char* at, const char* value) {
  return std::string(R"({"resourceType":"Observation","id":"line","status":"final","subject":{"reference":"Patient/a"},"code":{"coding":[{"system":"https://aftersheath.example/fhir/CodeSystem/access-event",
    "code":"sheath-in-place"}]},"effectiveDateTime":")") + at + R"(","valueBoolean":)" + value + "}";
}

TEST(LineObservationPlan, in_place_after_a_removal_is_a_conflict_and_out_is_a_removal_without_a_time) {
  EXPECT_TRUE(has_conflict(planned(base_case() + pressed() + std::vector{line_seen("2026-03-02T14:40:00Z", "true")}, kAfter), "sheath-seen-after-removal"));
  EXPECT_FALSE(has_conflict(planned(base_case() + pressed() + std::vector{line_seen("2026-03-02T13:40:00Z", "true")}, kAfter), "sheath-seen-after-removal"));
  const auto out = planned(base_case() + std::vector{line_seen("2026-03-02T14:40:00Z", "false")}, kAfter);
  EXPECT_FALSE(out.plan.sites.front().sheath_out);
  EXPECT_EQ(out.plan.state, clinical::CaseState::compressing);
  EXPECT_FALSE(step(out, Step::stand_and_walk).earliest);
}

// ---- What is kept back

const char* const kNilList = R"({"resourceType":"List","id":"l","status":"current","mode":"snapshot","subject":{"reference":"Patient/a"},"code":{"coding":[{"system":"http://loinc.org","code":"10160-0"}]},
  "date":"2026-03-02T09:00:00Z","emptyReason":{"coding":[{"system":"http://terminology.hl7.org/CodeSystem/list-empty-reason","code":"nilknown"}]}})";

TEST(WithheldPlan, an_empty_list_tells_nothing_where_drugs_are_kept_back) {
  EXPECT_EQ(gate(planned(base_case() + std::vector<std::string>{kNilList}, kDuring), GateName::home_anticoagulants)->state, GateState::open);
  for (const char* consent : {
           R"({"resourceType":"Consent","id":"c","status":"active","scope":{"coding":[{"code":"patient-privacy"}]},"patient":{"reference":"Patient/a"},"provision":{"type":"deny","class":[{"code":"MedicationStatement"}]}})",
           R"({"resourceType":"Consent","id":"c","status":"active","scope":{"coding":[{"code":"patient-privacy"}]},"patient":{"reference":"Patient/a"},"provision":{"type":"permit","provision":[{"type":"deny","securityLabel":[{"code":"PSY"}]}]}})",
           R"({"resourceType":"Consent","id":"c","status":"active","subject":{"reference":"Patient/a"},"decision":"permit","provision":[{"resourceType":[{"code":"MedicationRequest"}]}]})",
           R"({"resourceType":"Consent","id":"c","status":"active","subject":{"reference":"Patient/a"},"decision":"deny"})"}) {
    const auto p = planned(base_case() + std::vector<std::string>{kNilList, consent}, kDuring);
    EXPECT_EQ(gate(p, GateName::home_anticoagulants)->state, GateState::needs) << consent;
    EXPECT_TRUE(has_caution(p, "caution.withheld")) << consent;
    EXPECT_TRUE(has_issue(p.read, "withheld")) << consent;
  }
}

TEST(WithheldPlan, consents_about_something_else_keep_nothing_back) {
  for (const char* consent : {
           R"({"resourceType":"Consent","id":"c","status":"inactive","scope":{"coding":[{"code":"patient-privacy"}]},"patient":{"reference":"Patient/a"},"provision":{"type":"deny"}})",
           R"({"resourceType":"Consent","id":"c","status":"active","scope":{"coding":[{"code":"research"}]},"patient":{"reference":"Patient/a"},"provision":{"type":"deny"}})",
           R"({"resourceType":"Consent","id":"c","status":"active","scope":{"coding":[{"code":"patient-privacy"}]},"patient":{"reference":"Patient/a"},"provision":{"type":"permit"}})",
           R"({"resourceType":"Consent","id":"c","status":"active","scope":{"coding":[{"code":"patient-privacy"}]},"patient":{"reference":"Patient/a"},"provision":{"type":"deny","period":{"end":"2026-02-01T00:00:00Z"}}})"}) {
    const auto p = planned(base_case() + std::vector<std::string>{kNilList, consent}, kDuring);
    EXPECT_EQ(gate(p, GateName::home_anticoagulants)->state, GateState::open) << consent;
    EXPECT_FALSE(has_caution(p, "caution.withheld")) << consent;
  }
}

TEST(WithheldPlan, a_redacted_resource_says_that_it_is_not_whole) {
  std::string list = kNilList;
  list.insert(1, R"("meta":{"security":[{"system":"http://terminology.hl7.org/CodeSystem/v3-ObservationValue","code":"REDACTED"}]},)");
  const auto p = planned(base_case() + std::vector{list}, kDuring);
  EXPECT_EQ(gate(p, GateName::home_anticoagulants)->state, GateState::needs);
  EXPECT_TRUE(has_caution(p, "caution.withheld"));
}

TEST(WithheldPlan, a_record_that_keeps_drugs_back_leaves_no_list_to_be_believed) {
  for (const auto& [type, needs] : {std::pair{"MedicationStatement", true}, std::pair{"", true}, std::pair{"Observation", false}}) {
    const auto note = fhir_read::kept_back({type, "Patient/a", false}, true);
    const auto p = planned(base_case() + std::vector<std::string>{kNilList, json::write(note.body)}, kDuring);
    EXPECT_EQ(gate(p, GateName::home_anticoagulants)->state, needs ? GateState::needs : GateState::open) << type;
    EXPECT_TRUE(has_caution(p, "caution.withheld")) << type;
  }
}

TEST(WithheldPlan, a_medication_from_which_something_was_taken_out_is_not_taken_for_harmless) {
  for (const bool redacted : {false, true}) {
    const std::string bag = std::string(R"({"resourceType":"Medication","id":"x",)") + (redacted ? R"("meta":{"security":[{"code":"REDACTED"}]},)" : "") +
                            R"("code":{"coding":[{"system":"http://www.whocc.no/atc","code":"B05BB01","display":"sodium chloride"}]}})";
    const auto p = planned(base_case() + std::vector<std::string>{kNilList, R"({"resourceType":"MedicationAdministration","id":"mx","status":"completed","subject":{"reference":"Patient/a"},"medicationReference":{"reference":"Medication/x"},"effectiveDateTime":"2026-03-02T10:10:00Z"})", bag}, kDuring);
    EXPECT_EQ(has_issue(p.read, "ingredient-unread"), redacted);
  }
}

// ---- Allergies and bleeding disorders

std::string allergy(const std::string& code, const std::string& more = "") {
  return R"({"resourceType":"AllergyIntolerance","id":"al","patient":{"reference":"Patient/a"},"clinicalStatus":{"coding":[{"code":"active"}]},"code":)" + code + more + "}";
}
std::string text(const char* words) { return std::string(R"({"text":")") + words + R"("})"; }

TEST(AllergyPlan, each_substance_that_is_met_at_the_bed_is_said) {
  struct Row { std::string code; const char* caution; };
  for (const auto& row : {Row{text("Heparin"), "caution.allergy-heparin"}, Row{text("Enoxaparin sodium"), "caution.allergy-heparin"}, Row{text("protamine sulfate"), "caution.allergy-protamine"},
                          Row{text("Latex"), "caution.allergy-latex"}, Row{text("Natural rubber"), "caution.allergy-latex"}, Row{text("Adhesive tape"), "caution.allergy-adhesive"},
                          Row{text("Lidocaine 1 %"), "caution.allergy-local-anaesthetic"}, Row{text("local anaesthetics"), "caution.allergy-local-anaesthetic"},
                          // RxNorm and ATC as in profiles/terminology/drugs.toml
                          Row{R"({"coding":[{"system":"http://www.nlm.nih.gov/research/umls/rxnorm","code":"5224"}]})", "caution.allergy-heparin"}}) {
    const auto p = planned(base_case() + std::vector{allergy(row.code)}, kDuring);
    EXPECT_TRUE(has_caution(p, row.caution)) << row.code;
  }
  const auto by_reaction = planned(base_case() + std::vector{allergy(text("rash after procedure"), R"(,"reaction":[{"substance":{"text":"plaster"},"manifestation":[{"text":"blisters"}]}])")}, kDuring);
  EXPECT_TRUE(has_caution(by_reaction, "caution.allergy-adhesive"));
}

TEST(AllergyPlan, what_is_over_refuted_or_something_else_is_not) {
  std::string resolved = allergy(text("Latex")), refuted = allergy(text("Latex"), R"(,"verificationStatus":{"coding":[{"code":"refuted"}]})");
  resolved.replace(resolved.find("active"), 6, "resolved");
  for (const auto& none : {resolved, refuted, allergy(text("No known latex allergy")), allergy(text("insulin protamine")), allergy(text("Penicillin")), allergy(text("plaster of Paris"))}) {
    const auto p = planned(base_case() + std::vector{none}, kDuring);
    for (const char* caution : {"caution.allergy-latex", "caution.allergy-protamine", "caution.allergy-adhesive"}) EXPECT_FALSE(has_caution(p, caution)) << none;
  }
}

TEST(AllergyPlan, an_allergy_recorded_as_a_condition_counts_and_so_does_a_bleeding_disorder) {
  const auto condition = [](const char* words) { return std::string(R"({"resourceType":"Condition","id":"c","subject":{"reference":"Patient/a"},"clinicalStatus":{"coding":[{"code":"active"}]},"code":{"text":")") + words + R"("}})"; };
  EXPECT_TRUE(has_caution(planned(base_case() + std::vector{condition("Latex allergy")}, kDuring), "caution.allergy-latex"));
  EXPECT_TRUE(has_caution(planned(base_case() + std::vector{condition("Von Willebrand disease")}, kDuring), "caution.bleeding-disorder"));
  EXPECT_TRUE(has_caution(planned(base_case() + std::vector{condition("Haemophilia A")}, kDuring), "caution.bleeding-disorder"));
  EXPECT_FALSE(has_caution(planned(base_case() + std::vector{condition("Family history of haemophilia")}, kDuring), "caution.bleeding-disorder"));
}

// ---- Whom to call

const std::string kRole = R"({"resourceType":"PractitionerRole","id":"pr","practitioner":{"reference":"Practitioner/p1"},"code":[{"text":"cardiologist"}],"telecom":[{"system":"email","value":"x@hospital.example"},
  {"system":"phone","value":"old","use":"old"},{"system":"phone","value":"+49 30 5550-2","rank":2},{"system":"pager","value":"5550-1","rank":1}]})";
const std::string kDoctor = R"({"resourceType":"Practitioner","id":"p1","name":[{"given":["Alba"],"family":"Invented"}],"telecom":[{"system":"phone","value":"5550-9"}]})";

std::string care_team(const std::string& more) { return R"({"resourceType":"CareTeam","id":"ct","subject":{"reference":"Patient/a"})" + more + "}"; }
std::string member(const std::string& reference, const std::string& more = "") { return R"({"role":[{"text":"attending"}],"member":)" + reference + more + "}"; }

std::vector<std::string> said(const Planned& p) {
  std::vector<std::string> all;
  for (const auto& caution : p.plan.cautions) {
    if (!caution.code.starts_with("caution.contact")) continue;
    std::string one = caution.code.substr(8);
    for (const auto& [name, argument] : caution.arguments) one += " | " + (std::holds_alternative<std::string>(argument) ? std::get<std::string>(argument) : "?");
    all.push_back(one);
  }
  return all;
}

TEST(ContactPlan, the_number_of_a_team_member_is_said_as_recorded_with_its_source) {
  const auto p = planned(base_case() + std::vector{care_team(R"(,"status":"active","participant":[)" + member(R"({"reference":"PractitionerRole/pr"})") + "]"), kRole, kDoctor}, kDuring);
  EXPECT_EQ(said(p), (std::vector<std::string>{"contact | Alba Invented (attending) | 5550-1 | PractitionerRole/pr"}));
  const auto direct = planned(base_case() + std::vector{care_team(R"(,"participant":[)" + member(R"({"reference":"Practitioner/p1","display":"Dr A. Invented"})") + "]"), kDoctor}, kDuring);
  EXPECT_EQ(said(direct), (std::vector<std::string>{"contact | Dr A. Invented (attending) | 5550-9 | Practitioner/p1"}));
}

TEST(ContactPlan, no_number_is_made_up) {
  const auto p = planned(base_case() + std::vector{care_team(R"(,"participant":[)" + member(R"({"display":"Dr A. Invented"})") + "]"), kRole}, kDuring);
  EXPECT_EQ(said(p), (std::vector<std::string>{"contact-no-number | Dr A. Invented (attending) | CareTeam/ct"}));
  for (const auto& nobody : {care_team(R"(,"status":"inactive","participant":[)" + member(R"({"reference":"PractitionerRole/pr"})") + "]"),
                             care_team(R"(,"period":{"end":"2026-03-01T00:00:00Z"},"participant":[)" + member(R"({"reference":"PractitionerRole/pr"})") + "]"),
                             care_team(R"(,"participant":[)" + member(R"({"reference":"PractitionerRole/pr"})", R"(,"period":{"start":"2026-03-09T00:00:00Z"})") + "]"),
                             care_team(R"(,"participant":[)" + member(R"({"reference":"Patient/a"})") + "]")}) {
    EXPECT_TRUE(said(planned(base_case() + std::vector{nobody, kRole, kDoctor}, kDuring)).empty()) << nobody;
  }
}

TEST(ContactPlan, the_team_and_whoever_answers_for_the_stay_are_said_in_both_versions) {
  const auto team = planned(base_case() + std::vector{care_team(R"(,"name":"Night team","telecom":[{"system":"phone","value":"5550-7"}])")}, kDuring);
  EXPECT_EQ(said(team), (std::vector<std::string>{"contact | Night team | 5550-7 | CareTeam/ct"}));
  for (const char* who : {R"("individual":{"reference":"PractitionerRole/pr"})", R"("actor":{"reference":"PractitionerRole/pr"})"}) {
    const std::string stay = std::string(R"({"resourceType":"Encounter","id":"stay","status":"in-progress","subject":{"reference":"Patient/a"},"class":{"code":"IMP"},"participant":[{"type":[{"coding":[{"code":"ATND","display":"attender"}]}],)") + who + "}]}";
    EXPECT_EQ(said(planned(base_case() + std::vector{stay, kRole, kDoctor}, kDuring)), (std::vector<std::string>{"contact | Alba Invented (attender) | 5550-1 | PractitionerRole/pr"}));
  }
}

// ---- Forms and reports: low confidence

std::string form(const std::string& item) {
  return R"({"resourceType":"QuestionnaireResponse","id":"q","status":"completed","subject":{"reference":"Patient/a"},"item":[)" + item + "]}";
}

TEST(TextPlan, a_drug_that_a_form_names_is_asked_for_and_opens_or_closes_nothing) {
  const auto without = planned(base_case() + std::vector<std::string>{kNilList}, kDuring);
  for (const auto& source : {form(R"({"text":"Which medicines do you take?","answer":[{"valueString":"apixaban in the morning"}]})"), form(R"({"text":"Do you take apixaban?","answer":[{"valueBoolean":true}]})"),
                             form(R"({"item":[{"item":[{"answer":[{"valueCoding":{"display":"Apixaban 5 mg"}}]}]}]})"),
                             std::string(R"({"resourceType":"DiagnosticReport","id":"dr","status":"final","subject":{"reference":"Patient/a"},"conclusion":"On apixaban until the day before."})")}) {
    const auto p = planned(base_case() + std::vector<std::string>{kNilList, source}, kDuring);
    const auto* home = gate(p, GateName::home_anticoagulants);
    EXPECT_EQ(home->state, gate(without, GateName::home_anticoagulants)->state) << source;
    EXPECT_EQ(home->needs, std::vector{clinical::Fact::home_anticoagulants}) << source;
    EXPECT_TRUE(has_caution(p, "caution.named-in-text")) << source;
    EXPECT_TRUE(p.read.record.home_drugs.empty()) << source;
  }
}

TEST(TextPlan, what_is_denied_names_nothing) {
  for (const auto& source : {form(R"({"text":"Do you take apixaban?","answer":[{"valueBoolean":false}]})"), form(R"({"text":"Do you take apixaban?"})"), form(R"({"text":"Insulin?","answer":[{"valueString":"insulin isophane protamine"}]})")}) {
    const auto p = planned(base_case() + std::vector<std::string>{kNilList, source}, kDuring);
    EXPECT_FALSE(has_caution(p, "caution.named-in-text")) << source;
  }
}

TEST(TextPlan, a_drug_that_is_recorded_anyway_is_not_said_again) {
  const auto p = planned(base_case() + std::vector{form(R"({"answer":[{"valueString":"heparin in the laboratory"}]})")}, kDuring);
  EXPECT_FALSE(has_caution(p, "caution.named-in-text"));
}

}  // namespace
