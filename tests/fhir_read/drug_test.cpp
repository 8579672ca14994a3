#include "fhir_read/reading_support.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

namespace {

using clinical::Agent;

struct DrugRow {
  const char* name;
  const char* medication;  // members of the MedicationAdministration
  Agent agent;
  bool flush = false;
};
void PrintTo(const DrugRow& row, std::ostream* os) { *os << row.name; }

class DrugIdentity : public testing::TestWithParam<DrugRow> {};

TEST_P(DrugIdentity, is_certain_or_unidentified) {
  const auto text = fmt::format(R"({{"resourceType":"MedicationAdministration","id":"m","status":"completed","subject":{{"reference":"Patient/a"}},
    "effectiveDateTime":"2026-03-02T10:00:00Z",{}}})", GetParam().medication);
  const auto result = reading_test::read({text});
  ASSERT_EQ(result.record.administrations.size(), 1u);
  EXPECT_EQ(result.record.administrations[0].agent, GetParam().agent) << reading_test::all_issues(result.issues);
  EXPECT_EQ(result.record.administrations[0].flush, GetParam().flush);
}

#define CONCEPT(content) R"("medicationCodeableConcept":{)" content "}"
#define CODING(system, code, display) R"({"system":")" system R"(","code":")" code R"(","display":")" display R"("})"

// Codes: RxNorm, WHO ATC and SNOMED CT Global Patient Set as in profiles/terminology/drugs.toml. The trap rows are shapes met in feeds;
// their names are generic (insulin products with protamine: RxNorm; topical heparin: ATC C05BA03; combination analgesics: ATC N02BA51).
INSTANTIATE_TEST_SUITE_P(
    table, DrugIdentity,
    testing::Values(
        DrugRow{"rxnorm_ingredient", CONCEPT(R"("coding":[)" CODING("http://www.nlm.nih.gov/research/umls/rxnorm", "5224", "heparin") "]"), Agent::heparin},
        DrugRow{"rxnorm_with_https_and_slash", CONCEPT(R"("coding":[{"system":"https://www.nlm.nih.gov/research/umls/rxnorm/","code":"5224"}])"), Agent::heparin},
        DrugRow{"rxnorm_by_oid", CONCEPT(R"("coding":[{"system":"urn:oid:2.16.840.1.113883.6.88","code":"67108"}])"), Agent::enoxaparin},
        DrugRow{"rxnorm_clinical_drug", CONCEPT(R"("coding":[{"system":"http://www.nlm.nih.gov/research/umls/rxnorm","code":"308769"}])"), Agent::bivalirudin},
        DrugRow{"flush_bag_by_code", CONCEPT(R"("coding":[{"system":"http://www.nlm.nih.gov/research/umls/rxnorm","code":"1658690"}])"), Agent::heparin, true},
        DrugRow{"atc", CONCEPT(R"("coding":[{"system":"http://www.whocc.no/atc","code":"B01AF01"}])"), Agent::rivaroxaban},
        DrugRow{"atc_group_without_rule", CONCEPT(R"("coding":[{"system":"http://www.whocc.no/atc","code":"B01AA04"}])"), Agent::other_antithrombotic},
        DrugRow{"atc_topical_heparin", CONCEPT(R"("coding":[)" CODING("http://www.whocc.no/atc", "C05BA03", "heparin") "]"), Agent::unidentified},
        DrugRow{"snomed_of_the_global_patient_set", CONCEPT(R"("coding":[{"system":"http://snomed.info/sct","code":"372877000"}])"), Agent::heparin},
        DrugRow{"snomed_by_its_display", CONCEPT(R"("coding":[)" CODING("http://snomed.info/sct", "372562003", "Enoxaparin (substance)") "]"), Agent::enoxaparin},
        DrugRow{"recognised_code_of_another_drug", CONCEPT(R"("coding":[)" CODING("http://www.nlm.nih.gov/research/umls/rxnorm", "161", "acetaminophen") "]"), Agent::other},
        DrugRow{"recognised_code_without_display", CONCEPT(R"("coding":[{"system":"http://www.nlm.nih.gov/research/umls/rxnorm","code":"999999"}])"), Agent::unidentified},
        DrugRow{"local_code_without_map", CONCEPT(R"("coding":[)" CODING("https://hospital.example/drugs", "77", "Special mixture") "]"), Agent::unidentified},
        DrugRow{"text_on_no_list", CONCEPT(R"("text":"Special mixture")"), Agent::unidentified},
        DrugRow{"text_on_the_list_of_other_drugs", CONCEPT(R"("text":"Midazolam 2 mg")"), Agent::other},
        DrugRow{"other_drug_with_more_words", CONCEPT(R"("text":"Saline with additive")"), Agent::unidentified},
        DrugRow{"text_heparin", CONCEPT(R"("text":"Heparin sodium 5000 units")"), Agent::heparin},
        DrugRow{"text_heparin_in_saline", CONCEPT(R"("text":"Sodium chloride 0.9 % with heparin 25000 units")"), Agent::heparin},
        DrugRow{"text_flush", CONCEPT(R"("text":"Heparin flush")"), Agent::heparin, true},
        DrugRow{"text_insulin_isophane_protamine", CONCEPT(R"("text":"Insulin isophane protamine suspension")"), Agent::other},
        DrugRow{"text_insulin_aspart_protamine", CONCEPT(R"("text":"insulin aspart protamine / insulin aspart")"), Agent::other},
        DrugRow{"text_protamine", CONCEPT(R"("text":"Protamine sulfate")"), Agent::protamine},
        DrugRow{"text_heparin_ointment", CONCEPT(R"("text":"Heparin ointment")"), Agent::other},
        DrugRow{"text_combination_analgesic", CONCEPT(R"("text":"aspirin / caffeine / paracetamol")"), Agent::other},
        DrugRow{"text_low_molecular_weight_heparin", CONCEPT(R"("text":"low molecular weight heparin")"), Agent::other_antithrombotic},
        // Heparin of low molecular weight in the six languages, in the orders and abbreviations of charts (common practice, no source).
        DrugRow{"text_lmwh_behind", CONCEPT(R"("text":"Heparin, low molecular weight 8000 IU")"), Agent::other_antithrombotic},
        DrugRow{"text_lmwh_short", CONCEPT(R"("text":"LMW-Heparin s.c.")"), Agent::other_antithrombotic},
        DrugRow{"text_lmwh_in_brackets", CONCEPT(R"("text":"Heparin (LMWH) 8000 IU")"), Agent::other_antithrombotic},
        DrugRow{"text_lmwh_german", CONCEPT(R"("text":"niedermolekulares Heparin 8000 IE")"), Agent::other_antithrombotic},
        DrugRow{"text_lmwh_german_behind", CONCEPT(R"("text":"Heparin, niedermolekular")"), Agent::other_antithrombotic},
        DrugRow{"text_lmwh_german_short", CONCEPT(R"("text":"Heparin NMH")"), Agent::other_antithrombotic},
        DrugRow{"text_lmwh_french", CONCEPT(R"("text":"héparine de bas poids moléculaire")"), Agent::other_antithrombotic},
        DrugRow{"text_lmwh_french_without_accents", CONCEPT(R"("text":"HEPARINE DE BAS POIDS MOLECULAIRE")"), Agent::other_antithrombotic},
        DrugRow{"text_lmwh_french_short", CONCEPT(R"("text":"Heparine HBPM")"), Agent::other_antithrombotic},
        DrugRow{"text_lmwh_spanish", CONCEPT(R"("text":"heparina de bajo peso molecular")"), Agent::other_antithrombotic},
        DrugRow{"text_lmwh_polish", CONCEPT(R"("text":"heparyna drobnocząsteczkowa")"), Agent::other_antithrombotic},
        DrugRow{"text_lmwh_polish_short", CONCEPT(R"("text":"Heparin HDCz")"), Agent::other_antithrombotic},
        DrugRow{"text_lmwh_arabic", CONCEPT(R"("text":"هيبارين منخفض الوزن الجزيئي")"), Agent::other_antithrombotic},
        DrugRow{"text_lmwh_beside_latin", CONCEPT(R"("text":"Heparin منخفض الوزن الجزيئي")"), Agent::other_antithrombotic},
        DrugRow{"code_of_heparin_words_of_lmwh", CONCEPT(R"("text":"NMH","coding":[{"system":"http://www.whocc.no/atc","code":"B01AB01"}])"), Agent::unidentified},
        DrugRow{"text_unfractionated_german", CONCEPT(R"("text":"unfraktioniertes Heparin 5000 IE")"), Agent::heparin},
        DrugRow{"text_two_drugs", CONCEPT(R"("text":"heparin or bivalirudin")"), Agent::unidentified},
        DrugRow{"text_no_substring", CONCEPT(R"("text":"Heparinoid")"), Agent::unidentified},
        DrugRow{"code_and_display_disagree", CONCEPT(R"("coding":[)" CODING("http://www.nlm.nih.gov/research/umls/rxnorm", "5224", "enoxaparin") "]"), Agent::unidentified},
        DrugRow{"codings_disagree", CONCEPT(R"("coding":[{"system":"http://www.nlm.nih.gov/research/umls/rxnorm","code":"5224"},{"system":"http://www.whocc.no/atc","code":"B01AB05"}])"), Agent::unidentified},
        DrugRow{"contained", R"("contained":[{"resourceType":"Medication","id":"x","code":{"coding":[{"system":"http://www.whocc.no/atc","code":"B01AB01"}]}}],"medicationReference":{"reference":"#x"})", Agent::heparin},
        DrugRow{"contained_ingredients_only", R"("contained":[{"resourceType":"Medication","id":"x","ingredient":[{"itemCodeableConcept":{"text":"sodium chloride"}},{"itemCodeableConcept":{"text":"heparin"}}]}],"medicationReference":{"reference":"#x"})", Agent::heparin},
        DrugRow{"contained_missing", R"("medicationReference":{"reference":"#x"})", Agent::unidentified},
        DrugRow{"external_with_display", R"("medicationReference":{"reference":"Medication/none","display":"Heparin 5000 units"})", Agent::heparin},
        DrugRow{"display_only_reference", R"("medicationReference":{"display":"Unknown mixture"})", Agent::unidentified},
        DrugRow{"r5_concept", R"("medication":{"concept":{"text":"bivalirudin"}})", Agent::bivalirudin},
        DrugRow{"no_drug_at_all", R"("note":[{"text":"heparin"}])", Agent::unidentified}),
    [](const auto& row) { return row.param.name; });

TEST(Drug, a_local_code_counts_by_the_sites_map) {
  auto site = reading_test::default_site();
  site.local_codes[{"https://hospital.example/drugs", "77"}] = {"http://www.whocc.no/atc", "B01AB01"};
  const auto result = reading_test::read({R"({"resourceType":"MedicationAdministration","id":"m","status":"completed","subject":{"reference":"Patient/a"},
    "effectiveDateTime":"2026-03-02T10:00:00Z","medicationCodeableConcept":{"coding":[{"system":"https://hospital.example/drugs","code":"77"}]}})"}, site);
  EXPECT_EQ(result.record.administrations.at(0).agent, Agent::heparin);
}

}  // namespace
