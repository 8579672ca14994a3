// Twenty messy shapes that senders are known to write, each by its name, read as far as what it must never do to the plan. Finer rows of the
// same shapes stand in the tests of their types. Everything invented.
#include "fhir_read/intake.h"
#include "fhir_read/planned_support.h"

#include <gtest/gtest.h>

#include <algorithm>

namespace {

using namespace reading_test;
using clinical::Agent;
using clinical::GateName;
using clinical::GateState;

constexpr const char* kDuring = "2026-03-02T12:00:00Z";

std::string given(const std::string& members, const char* id = "m", const char* status = "completed") {
  return std::string(R"({"resourceType":"MedicationAdministration","id":")") + id + R"(","status":")" + status + R"(","subject":{"reference":"Patient/a"},)" + members + "}";
}
std::string act(const std::string& members, const char* id = "o", const char* status = "final") {
  return std::string(R"({"resourceType":"Observation","id":")") + id + R"(","status":")" + status + R"(","subject":{"reference":"Patient/a"},"code":{"coding":[{"system":"http://loinc.org","code":"3184-9"}]},)" +
         members + "}";
}
const std::string kTen = R"("effectiveDateTime":"2026-03-02T10:00:00Z")";
const std::string kHeparin = R"("medicationCodeableConcept":{"coding":[{"system":"http://www.whocc.no/atc","code":"B01AB01"}]})";
const std::string kNow = R"("effectiveDateTime":"2026-03-02T11:55:00Z")";
const std::string kLow = R"("valueQuantity":{"value":121,"system":"http://unitsofmeasure.org","code":"s"})";

const clinical::Administration& only_dose(const fhir_read::ReadResult& result) {
  static const clinical::Administration none;
  EXPECT_EQ(result.record.administrations.size(), 1u) << all_issues(result.issues);
  return result.record.administrations.empty() ? none : result.record.administrations.front();
}
GateState act_gate(const std::vector<std::string>& more) { return gate(planned(base_case() + more, kDuring), GateName::act)->state; }

TEST(MessyShape, n01_contained_medication) {
  EXPECT_EQ(only_dose(read({given(kTen + R"(,"medicationReference":{"reference":"#x"},"contained":[{"resourceType":"Medication","id":"x","code":{"text":"heparin"}}])")})).agent, Agent::heparin);
  EXPECT_EQ(only_dose(read({given(kTen + R"(,"medicationReference":{"reference":"#y"},"contained":[{"resourceType":"Medication","id":"x","code":{"text":"heparin"}}])")})).agent, Agent::unidentified)
      << "a broken # is an unknown drug, never none";
}

TEST(MessyShape, n02_medication_elsewhere) {
  EXPECT_EQ(only_dose(read({given(kTen + R"(,"medicationReference":{"reference":"Medication/gone","display":"bivalirudin"})")})).agent, Agent::bivalirudin);
  for (const char* reference : {R"({"reference":"Medication/gone"})", R"({"identifier":{"value":"4711"}})", R"({"display":"Study drug"})", R"({})"}) {
    const auto result = read({given(kTen + R"(,"medicationReference":)" + reference)});
    EXPECT_EQ(only_dose(result).agent, Agent::unidentified) << reference;
    EXPECT_TRUE(has_issue(result, "unresolved")) << reference;
  }
}

TEST(MessyShape, n03_code_as_text_alone) {
  EXPECT_TRUE(only_dose(read({given(kTen + R"(,"medicationCodeableConcept":{"text":"Heparin flush 10 units/mL"})")})).flush);
  EXPECT_EQ(only_dose(read({given(kTen + R"(,"medicationCodeableConcept":{"text":"Insulin isophane protamine"})")})).agent, Agent::other);
  EXPECT_TRUE(only_dose(read({given(kTen + R"(,"medicationCodeableConcept":{"text":"heparin"})")})).source.low_confidence);
}

TEST(MessyShape, n04_systems_written_otherwise) {
  const auto agent = [](const char* system) {
    return only_dose(read({given(kTen + R"(,"medicationCodeableConcept":{"coding":[{)" + system + R"("code":"B01AE06"}]})")})).agent;
  };
  for (const char* system : {R"("system":"http://www.whocc.no/atc",)", R"("system":"https://www.whocc.no/atc/",)", R"("system":"urn:oid:2.16.840.1.113883.6.73",)"}) EXPECT_EQ(agent(system), Agent::bivalirudin) << system;
  for (const char* system : {"", R"("system":"http://snomed.info/sct",)", R"("system":"urn:oid:1.2.3",)"}) EXPECT_EQ(agent(system), Agent::unidentified) << system;
}

TEST(MessyShape, n05_periods_with_one_end_or_reversed) {
  const auto dose = [](const char* period, const char* status) { return only_dose(read({given(kHeparin + R"(,"effectivePeriod":)" + period, "m", status)})); };
  EXPECT_FALSE(dose(R"({"start":"2026-03-02T10:00:00Z"})", "completed").end) << "completed without an end: when it stopped is unknown";
  const auto end_only = dose(R"({"end":"2026-03-02T10:30:00Z"})", "completed");
  EXPECT_FALSE(end_only.start);
  EXPECT_EQ(end_only.end->latest, instant("2026-03-02T10:30:00Z")) << "an administration with an end alone is not dropped";
  EXPECT_TRUE(has_issue(read({given(kHeparin + R"(,"effectivePeriod":{"start":"2026-03-02T11:00:00Z","end":"2026-03-02T10:00:00Z"})")}), "period-reversed"));
  EXPECT_EQ(planned(base_case() + std::vector{given(kHeparin + R"(,"effectivePeriod":{"start":"2026-03-02T11:00:00Z"})", "m", "in-progress"), act(kNow + "," + kLow)}, kDuring).plan.sites.front().gates.empty(), false);
}

TEST(MessyShape, n06_entered_in_error_as_an_update_withdraws) {
  EXPECT_EQ(act_gate({act(kNow + "," + kLow)}), GateState::open);
  EXPECT_EQ(act_gate({act(kNow + "," + kLow), act(kNow + "," + kLow, "o", "entered-in-error")}), GateState::needs) << "the same id, a later version";
  EXPECT_TRUE(read({given(kTen + "," + kHeparin, "m", "entered-in-error")}).record.administrations.empty());
}

TEST(MessyShape, n07_units) {
  const auto value = [](const char* quantity) { return read({act(kNow + R"(,"valueQuantity":)" + quantity)}).record.measurements.front().value; };
  EXPECT_TRUE(value(R"({"value":121,"unit":"sec"})"));
  EXPECT_FALSE(value(R"({"value":121,"unit":"s","system":"http://snomed.info/sct","code":"258701004"})") == std::nullopt) << "the unit's text counts where the code is of another system";
  EXPECT_FALSE(value(R"({"value":121})"));
  EXPECT_FALSE(value(R"({"value":121,"system":"http://unitsofmeasure.org","code":"S"})")) << "siemens";
  const auto rate = only_dose(read({given(kTen + "," + kHeparin + R"(,"dosage":{"rateQuantity":{"value":20,"system":"http://unitsofmeasure.org","code":"min"}})")}));
  EXPECT_FALSE(rate.rate) << "a duration sent as a rate";
  const auto insulin = only_dose(read({given(kTen + R"(,"medicationCodeableConcept":{"coding":[{"system":"http://snomed.info/sct","code":"67866001","display":"Insulin"}]},"dosage":{"dose":{"value":8,"system":"http://unitsofmeasure.org","code":"U"}})")}));
  EXPECT_FALSE(insulin.dose) << "U is no international unit";
}

TEST(MessyShape, n08_comparators) {
  EXPECT_EQ(act_gate({act(kNow + R"(,"valueQuantity":{"value":400,"comparator":">","system":"http://unitsofmeasure.org","code":"s"})")}), GateState::closed);
  EXPECT_NE(act_gate({act(kNow + R"(,"valueQuantity":{"value":160,"comparator":"<","system":"http://unitsofmeasure.org","code":"s"})")}), GateState::open);
  EXPECT_EQ(act_gate({act(kNow + R"(,"valueString":">400")")}), GateState::needs);
  EXPECT_EQ(act_gate({act(kNow + R"(,"interpretation":[{"text":"HIGH"}])")}), GateState::needs);
  const auto dose = only_dose(read({given(kTen + "," + kHeparin + R"(,"dosage":{"dose":{"value":5000,"comparator":"<","system":"http://unitsofmeasure.org","code":"[iU]"}})")}));
  EXPECT_FALSE(dose.dose) << "the number is refused, the administration stays";
}

TEST(MessyShape, n09_absent_is_neither_zero_nor_normal) {
  EXPECT_EQ(act_gate({act(kNow + R"(,"dataAbsentReason":{"coding":[{"code":"unknown"}]})")}), GateState::needs);
  EXPECT_EQ(act_gate({act(kNow)}), GateState::needs);
  EXPECT_EQ(act_gate({act(R"("effectiveDateTime":"2026-03-02T11:40:00Z",)" + kLow, "older"), act(kNow + R"(,"dataAbsentReason":{"coding":[{"code":"error"}]})", "newer")}), GateState::needs)
      << "an older value does not stand in for a newer one that is absent";
  const auto event = read({R"({"resourceType":"Procedure","id":"e","status":"completed","subject":{"reference":"Patient/a"},"code":{"coding":[{"system":"https://aftersheath.example/fhir/CodeSystem/access-event",
    "code":"sheath-removed"}]},"_performedDateTime":{"extension":[{"url":"http://hl7.org/fhir/StructureDefinition/data-absent-reason","valueCode":"unknown"}]}})"});
  ASSERT_EQ(event.record.access_events.size(), 1u);
  EXPECT_FALSE(event.record.access_events[0].at);
  EXPECT_TRUE(has_issue(event, "absent"));
}

TEST(MessyShape, n10_an_infusion_with_changes_of_rate) {
  const auto part = [](const char* id, const char* status, const char* period, const char* rate) {
    return given(kHeparin + R"(,"effectivePeriod":)" + period + R"(,"dosage":{"rateQuantity":{"value":)" + rate + R"(,"system":"http://unitsofmeasure.org","code":"[iU]/h"}})", id, status);
  };
  const std::string first = part("m1", "completed", R"({"start":"2026-03-02T10:00:00Z","end":"2026-03-02T10:40:00Z"})", "1000"),
                    running = part("m2", "in-progress", R"({"start":"2026-03-02T10:40:00Z"})", "500"), paused = part("m2", "on-hold", R"({"start":"2026-03-02T10:40:00Z"})", "500"),
                    stopped = part("m2", "stopped", R"({"start":"2026-03-02T10:40:00Z","end":"2026-03-02T11:00:00Z"})", "500");
  const auto result = read({first, running});
  ASSERT_EQ(result.record.administrations.size(), 2u) << "each rate is its own";
  for (const auto& last : {running, paused}) EXPECT_NE(act_gate({first, last, act(kNow + "," + kLow)}), GateState::open) << "may still be running";
  EXPECT_EQ(act_gate({first, stopped, act(kNow + "," + kLow)}), GateState::open);
}

TEST(MessyShape, n11_times_without_a_zone_or_seconds) {
  for (const char* time : {"2026-03-02T11:55:00", "2026-03-02 11:55:00", "2026-03-02T11:55"}) EXPECT_EQ(act_gate({act(R"("effectiveDateTime":")" + std::string(time) + "\"," + kLow)}), GateState::needs) << time;
  auto site = default_site();
  site.zone.zone = fhir::find_zone("Europe/Berlin");
  site.zone.assume_for_times = true;
  const auto assumed = read({act(R"("effectiveDateTime":"2026-03-02T12:55:00",)" + kLow)}, site);
  EXPECT_EQ(assumed.record.measurements.front().at->latest, instant("2026-03-02T11:55:00Z"));
  EXPECT_TRUE(has_issue(assumed, "zone-assumed"));
  const auto twice = read({act(R"("effectiveDateTime":"2026-10-25T02:30:00",)" + kLow)}, site);
  EXPECT_FALSE(twice.record.measurements.front().at->exact()) << "the hour that occurs twice";
  EXPECT_FALSE(read({act(R"("effectiveDateTime":"2026-03-29T02:30:00",)" + kLow)}, site).record.measurements.front().at) << "the hour that does not exist";
}

TEST(MessyShape, n12_partial_dates) {
  EXPECT_EQ(act_gate({act(R"("effectiveDateTime":"2026-03-02",)" + kLow)}), GateState::needs) << "a day is no draw of five minutes ago";
  const auto dose = only_dose(read({given(kHeparin + R"(,"effectiveDateTime":"2026-03")")}));
  ASSERT_TRUE(dose.start);
  EXPECT_FALSE(dose.start->exact());
  auto dated = base_case();
  const std::string period = R"("performedPeriod":{"start":"2026-03-02T10:00:00Z","end":"2026-03-02T11:00:00Z"})";
  dated[2].replace(dated[2].find(period), period.size(), R"("performedDateTime":"2026-03-02")");
  const auto p = planned(dated + pressed(), "2026-03-02T15:00:00Z");
  EXPECT_FALSE(p.plan.started) << "no hour can be told from a day";
}

TEST(MessyShape, n13_modifier_extensions_and_implicit_rules) {
  for (const char* modifier : {R"("modifierExtension":[{"url":"urn:invented","valueBoolean":true}],)", R"("implicitRules":"urn:invented",)"}) {
    const auto result = read({given(modifier + kTen + "," + kHeparin)});
    EXPECT_EQ(only_dose(result).agent, Agent::unidentified) << "kept visible, its meaning unknown: " << modifier;
    EXPECT_EQ(act_gate({act(modifier + kNow + "," + kLow)}), GateState::needs) << modifier;
  }
  EXPECT_EQ(act_gate({act(R"("modifierExtension":[],)" + kNow + "," + kLow)}), GateState::open) << "an empty list says nothing";
}

TEST(MessyShape, n14_denial_in_ordinary_elements) {
  EXPECT_TRUE(read({given(kTen + "," + kHeparin + R"(,"dosage":{"dose":{"value":5000,"system":"http://unitsofmeasure.org","code":"[iU]"}})", "m", "not-done")}).record.administrations.empty());
  const auto statement = [](const char* value) {
    return std::string(R"({"resourceType":"Observation","id":"s","status":"final","subject":{"reference":"Patient/a"},"effectiveDateTime":"2026-03-02T11:00:00Z","code":{"coding":[
      {"system":"https://aftersheath.example/fhir/CodeSystem/access-statement","code":"no-home-anticoagulant"}]})") + value + "}";
  };
  const auto home = [](const std::string& said) { return gate(planned(base_case() + std::vector{said}, kDuring), GateName::home_anticoagulants)->state; };
  EXPECT_EQ(home(statement(R"(,"valueBoolean":true)")), GateState::open);
  for (const char* denied : {R"(,"valueBoolean":false)", R"(,"valueCodeableConcept":{"text":"No"})", R"(,"valueString":"no")", R"(,"dataAbsentReason":{"text":"not asked"})"}) EXPECT_EQ(home(statement(denied)), GateState::needs) << denied;
}

TEST(MessyShape, n15_references_of_every_kind) {
  const auto measured = [](const char* subject) {
    auto body = resource(act(kNow + "," + kLow));
    body.set("subject", resource(subject));
    fhir_read::ResourceSet set("Patient/a");
    set.add({"", "https://record.example/fhir", "Observation", "o", "1", body});
    return fhir_read::read_record(set, default_site(), terminology()).record.measurements.size();
  };
  EXPECT_EQ(measured(R"({"reference":"Patient/a"})"), 1u);
  EXPECT_EQ(measured(R"({"reference":"https://record.example/fhir/Patient/a"})"), 1u);
  EXPECT_EQ(measured(R"({"reference":"Patient/a/_history/3"})"), 1u);
  EXPECT_EQ(measured(R"({"reference":"https://other.example/fhir/Patient/a"})"), 0u) << "the same id on two servers is not the same patient";
  for (const char* nobody : {R"({"identifier":{"value":"a"}})", R"({"display":"Patient/a"})", R"({"reference":"urn:uuid:0a0b0c0d-0000-4000-8000-000000000001"})"}) EXPECT_EQ(measured(nobody), 0u) << nobody;
}

TEST(MessyShape, n16_the_same_fact_twice_changes_nothing) {
  const auto once = planned(base_case() + std::vector{act(kNow + "," + kLow, "lab")}, kDuring), twice = planned(base_case() + std::vector{act(kNow + "," + kLow, "lab"), act(kNow + "," + kLow, "monitor")}, kDuring);
  EXPECT_EQ(gate(once, GateName::act)->state, gate(twice, GateName::act)->state);
  EXPECT_EQ(step(once, clinical::Step::remove_sheath).earliest, step(twice, clinical::Step::remove_sheath).earliest);
  EXPECT_EQ(twice.read.record.measurements.size(), 2u) << "both sources stay listed";
  const auto bolus = kTen + "," + kHeparin;
  const auto pump = planned(base_case() + std::vector{given(bolus, "chart"), given(bolus, "pump")}, kDuring);
  EXPECT_EQ(gate(pump, GateName::anticoagulant_history)->state, GateState::open);
}

TEST(MessyShape, n17_codings_that_disagree) {
  const auto dose = only_dose(read({given(kTen + R"(,"medicationCodeableConcept":{"coding":[{"system":"http://www.whocc.no/atc","code":"B01AB01"},{"system":"http://www.nlm.nih.gov/research/umls/rxnorm","code":"60819"}]})")}));
  EXPECT_EQ(dose.agent, Agent::unidentified);
  const auto value = read({R"({"resourceType":"Observation","id":"o","status":"final","subject":{"reference":"Patient/a"},"code":{"coding":[{"system":"http://loinc.org","code":"3184-9"},{"system":"http://loinc.org","code":"777-3"}]},
    "effectiveDateTime":"2026-03-02T11:55:00Z","valueQuantity":{"value":121,"system":"http://unitsofmeasure.org","code":"s"}})"});
  EXPECT_TRUE(value.record.measurements.empty());
  EXPECT_TRUE(has_issue(value, "codes-disagree"));
}

TEST(MessyShape, n18_another_patient) {
  for (const char* other : {R"("Patient/b")", R"("Group/a")", R"("Patient/A")"}) {
    auto text = act(kNow + "," + kLow);
    text.replace(text.find(R"("Patient/a")"), 11, other);
    const auto result = read({text});
    EXPECT_TRUE(result.record.measurements.empty()) << other;
    EXPECT_TRUE(has_issue(result, "other-patient")) << other;
  }
  const auto contained = read({act(kNow + "," + kLow + R"(,"contained":[{"resourceType":"Observation","id":"c","status":"final","subject":{"reference":"Patient/b"},"code":{"coding":[{"system":"http://loinc.org","code":"777-3"}]}}])")});
  EXPECT_EQ(contained.record.measurements.size(), 1u) << "what is contained is never read as a fact of its own";
}

TEST(MessyShape, n19_numbers_out_of_every_range) {
  for (const char* number : {"1E-22", "1.000000000000000000E-245", "1.0E+245", "-121", "0", "1E+999999", "121.0000000000000000000000000000001"}) {
    const auto parsed = json::parse(act(kNow + R"(,"valueQuantity":{"value":)" + number + R"(,"system":"http://unitsofmeasure.org","code":"s"})"));
    if (!parsed) continue;  // over 1.8E308: no JSON number of this world
    const auto state = act_gate({json::write(*parsed)});
    EXPECT_EQ(state, std::string_view(number).starts_with("121.") ? GateState::open : GateState::needs) << number;
  }
}

TEST(MessyShape, n20_null_empty_extra_and_repeated_members) {
  EXPECT_EQ(act_gate({"\xEF\xBB\xBF" + act(kNow + "," + kLow)}), GateState::open) << "a byte order mark";
  EXPECT_EQ(act_gate({act(kNow + "," + kLow + R"(,"bodySite":null,"component":[],"method":{},"unknownMember":{"x":[null]},"note":[{"text":""}])")}), GateState::open);
  EXPECT_EQ(act_gate({act(kNow + "," + kLow + "," + R"("status":"final")")}), GateState::needs) << "which of two is meant is unclear";
  EXPECT_EQ(act_gate({act(kNow + R"(,"valueQuantity":{"value":null,"system":"http://unitsofmeasure.org","code":"s"})")}), GateState::needs);
  EXPECT_TRUE(fhir_read::shape_fault(resource(R"({"resourceType":"","id":"x"})"), "").has_value());
}

// ---- A Patient that was merged into another

// ---- Seven ways in which a side arrives; rows 1 to 5 also stand in procedure_test.cpp (BodySite). Only where the site of access is coded is a side certain.

clinical::Procedure access(const std::string& code, const std::string& more) {
  const auto result = read({R"({"resourceType":"Procedure","id":"p","status":"completed","subject":{"reference":"Patient/a"},"performedDateTime":"2026-03-02T10:00:00Z","code":)" + code + more + "}"});
  EXPECT_EQ(result.record.procedures.size(), 1u) << all_issues(result.issues);
  return result.record.procedures.empty() ? clinical::Procedure{} : result.record.procedures.front();
}
const std::string kAngiography = R"({"text":"coronary angiography"})";
std::string site(const std::string& codings, const std::string& text = "") {
  return R"(,"bodySite":[{"coding":[)" + codings + "]" + (text.empty() ? "" : R"(,"text":")" + text + R"(")") + "}]";
}
std::string snomed(const char* code) { return std::string(R"({"system":"http://snomed.info/sct","code":")") + code + R"("})"; }
bool certain_right(const clinical::Procedure& p) { return p.sides.size() == 1 && p.sides[0].value == clinical::Side::right && !p.sides[0].source.low_confidence; }
bool no_certain_side(const clinical::Procedure& p) {
  return std::ranges::all_of(p.sides, [](const auto& s) { return s.source.low_confidence; });
}

TEST(Laterality, n1_precoordinated_code) { EXPECT_TRUE(certain_right(access(kAngiography, site(snomed("69833005"))))); }
TEST(Laterality, n2_generic_code_with_text) {
  const auto p = access(kAngiography, site(snomed("7657000"), "R CFA"));
  ASSERT_EQ(p.sides.size(), 1u);
  EXPECT_EQ(p.sides[0].value, clinical::Side::right);
}
TEST(Laterality, n3_two_codings_or_two_entries) {
  EXPECT_TRUE(certain_right(access(kAngiography, site(snomed("7657000") + "," + snomed("24028007")))));
  EXPECT_TRUE(certain_right(access(kAngiography, R"(,"bodySite":[{"coding":[)" + snomed("7657000") + R"(]},{"coding":[)" + snomed("24028007") + "]}]")));
}
TEST(Laterality, n4_route_without_a_side) {
  const auto p = access(kAngiography, site(snomed("260590008")));
  EXPECT_TRUE(p.femoral);
  EXPECT_TRUE(p.sides.empty());
}
TEST(Laterality, n5_body_structure_of_the_approach_not_of_the_target) {
  const auto structure = [](const char* which) {
    return R"(,"contained":[{"resourceType":"BodyStructure","id":"b","location":{"coding":[)" + snomed("7657000") + R"(]},"locationQualifier":[{"coding":[)" + snomed("24028007") +
           R"(]}]}],"extension":[{"url":"http://hl7.org/fhir/StructureDefinition/procedure-)" + which + R"(BodyStructure","valueReference":{"reference":"#b"}}])";
  };
  EXPECT_TRUE(certain_right(access(kAngiography, structure("approach"))));
  const auto target = access(kAngiography, R"(,"contained":[{"resourceType":"BodyStructure","id":"b","location":{"text":"left coronary artery"}}],"extension":[{"url":"http://hl7.org/fhir/StructureDefinition/procedure-targetBodyStructure","valueReference":{"reference":"#b"}}])");
  EXPECT_FALSE(target.femoral);
  EXPECT_TRUE(target.sides.empty());
}
TEST(Laterality, n6_only_in_the_title_or_a_note) {
  EXPECT_TRUE(no_certain_side(access(R"({"text":"femoral angioplasty right"})", "")));
  EXPECT_TRUE(no_certain_side(access(kAngiography, R"(,"note":[{"text":"access right groin, 6F"}])")));
}
// That -LT and -RT are modifiers of the code on charges: from memory of CPT.
TEST(Laterality, n7_a_modifier_of_a_charge_is_no_side) {
  EXPECT_TRUE(no_certain_side(access(R"({"coding":[{"system":"http://www.ama-assn.org/go/cpt","code":"93454-RT"}],"text":"coronary angiography"})", "")));
}

TEST(MergedPatient, the_facts_of_both_are_the_survivors) {
  fhir_read::ResourceSet set("Patient/a", {"Patient/old"});
  auto moved = resource(act(kNow + "," + kLow));
  moved.set("subject", resource(R"({"reference":"Patient/old"})"));
  set.add({"", "", "Observation", "o", "1", moved});
  auto stranger = moved;
  stranger.set("subject", resource(R"({"reference":"Patient/older"})"));
  set.add({"", "", "Observation", "x", "1", stranger});
  const auto result = fhir_read::read_record(set, default_site(), terminology());
  EXPECT_EQ(result.record.measurements.size(), 1u);
  EXPECT_TRUE(has_issue(result, "other-patient"));
}

TEST(MergedPatient, only_replaced_by_is_a_merge) {
  const auto state = [](const char* link) { return fhir_read::patient_state(resource(std::string(R"({"resourceType":"Patient","id":"old","link":[)") + link + "]}"), "https://record.example/fhir"); };
  EXPECT_EQ(state(R"({"type":"replaced-by","other":{"reference":"Patient/a"}})").replaced_by, "Patient/a");
  EXPECT_EQ(state(R"({"type":"replaced-by","other":{"reference":"https://record.example/fhir/Patient/a"}})").replaced_by, "Patient/a");
  const auto elsewhere = state(R"({"type":"replaced-by","other":{"reference":"https://other.example/fhir/Patient/a"}})");
  EXPECT_TRUE(elsewhere.replaced) << "merged away, into somebody who is not here";
  EXPECT_TRUE(elsewhere.replaced_by.empty());
  EXPECT_TRUE(state(R"({"type":"replaced-by","other":{"display":"A, Anna"}})").replaced);
  for (const char* link : {R"({"type":"replaces","other":{"reference":"Patient/a"}})", R"({"type":"seealso","other":{"reference":"Patient/a"}})", R"({"type":"refer","other":{"reference":"Patient/a"}})", R"({"other":{"reference":"Patient/a"}})"})
    EXPECT_FALSE(state(link).replaced) << link;
}

TEST(MergedPatient, one_who_is_replaced_or_inactive_or_dead_stops_the_plan) {
  for (const char* change : {R"("active":false,)", R"("deceasedBoolean":true,)", R"("deceasedDateTime":"2026-03-02T11:00:00Z",)", R"("link":[{"type":"replaced-by","other":{"reference":"Patient/b"}}],)"}) {
    auto texts = base_case();
    texts[0].insert(1, change);
    EXPECT_TRUE(planned(texts, kDuring).plan.stopped) << change;
  }
  auto texts = base_case();
  texts[0].insert(1, R"("deceasedBoolean":false,"active":true,)");
  EXPECT_FALSE(planned(texts, kDuring).plan.stopped);
}

}  // namespace
