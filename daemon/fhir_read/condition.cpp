#include "fhir_read/access_site.h"
#include "fhir_read/kidney.h"
#include "fhir_read/observation.h"
#include "fhir_read/readers.h"
#include "fhir_read/risk.h"

#include <algorithm>
#include <set>

namespace fhir_read {
namespace {

using clinical::RiskKind;

std::string status_code(const json::Value& concept_element) { return std::string(concept_element["coding"].at(0)["code"].text()); }

// Side words count in the title of a condition of the groin or leg.
clinical::Side side_of(const Resource& r, Reading& reading) {
  AccessSite site;
  add_sites_of(r.body, r, reading, site);
  return only_side(site);
}

// R5 may name an Observation in the place of a manifestation: what it says, in words.
json::Value observed(const json::Value& manifestation, const Resource& r, const Reading& reading) {
  const auto* observation = reading.set.resolve(manifestation["reference"], r);
  if (observation && (*observation)["valueCodeableConcept"].is_object()) return (*observation)["valueCodeableConcept"];
  if (observation) return (*observation)["code"];
  return json::Value::object({{"text", manifestation["reference"]["display"]}});
}

bool says_one_of(const json::Value& value, const std::set<std::string>& words) {
  return std::ranges::any_of(texts_of(value), [&](const std::string& text) { return std::ranges::any_of(words_of(text), [&](const std::string& w) { return words.contains(w); }); });
}

// SNOMED CT 260385009 and 10828004, LOINC answers LA6577-6 and LA6576-8: negative and positive (the LOINC answers from memory).
bool has_code(const json::Value& value, std::initializer_list<std::string_view> codes) {
  return std::ranges::any_of(value["coding"].items(), [&](const json::Value& c) { return std::ranges::find(codes, c["code"].text()) != codes.end(); });
}

bool negative(const json::Value& value) {
  static const std::set<std::string> words{"not", "no", "absent", "negative", "none", "neg", "negativ", "negatif", "négatif", "négative", "negativo", "negativa", "ujemny", "ujemna", "nein", "kein", "keine", "nicht", "non", "nie", "سلبي", "سلبية", "لا"};
  return says_one_of(value, words) || has_code(value, {"260385009", "LA6577-6"});
}

bool positive(const json::Value& value) {
  static const std::set<std::string> words{"positive", "pos", "positiv", "positif", "positivo", "positiva", "dodatni", "dodatnia", "present", "detected", "yes", "ja", "oui", "si", "sí", "tak", "إيجابي", "إيجابية", "نعم"};
  return !negative(value) && (says_one_of(value, words) || has_code(value, {"10828004", "LA6576-8"}));
}

}  // namespace

namespace {

// In ICD-10 and OPS a longer code is a kind of the shorter: Z49.31 is one of Z49.
bool of_a_hierarchy(std::string_view system) { return system.find("/icd-10") != std::string_view::npos || system.ends_with("/ops"); }

const RiskKind* risk_coded(const std::vector<Code>& codes, const CodeTable<RiskKind>& table) {
  if (const auto* exactly = meaning_by_code(codes, table)) return exactly;
  for (const auto& one : codes) {
    if (!of_a_hierarchy(one.key.system)) continue;
    for (auto wider = one.key; wider.code.size() > 3;) {
      wider.code.pop_back();
      if (const auto* found = table.find(wider)) return found;
    }
  }
  return nullptr;
}

}  // namespace

std::optional<RiskKind> risk_of(const json::Value& concept_element, const Reading& reading) {
  if (const auto* coded = risk_coded(codes_of(concept_element, reading), reading.terms.risks)) return *coded;
  for (const auto& text : texts_of(concept_element)) {
    if (const auto* named = meaning_by_name(text, reading.terms.risks)) return *named;
  }
  return std::nullopt;
}

namespace {

// Everything that a concept says: one text may name several, and what it denies hides nothing else.
std::set<RiskKind> risks_of(const json::Value& concept_element, const Reading& reading) {
  std::set<RiskKind> kinds;
  if (const auto* coded = risk_coded(codes_of(concept_element, reading), reading.terms.risks)) kinds.insert(*coded);
  for (const auto& text : texts_of(concept_element)) {
    const auto words = words_of(text);
    for (const auto& name : reading.terms.risks.names)
      if (name.phrase.match(words) == Phrase::Match::yes) kinds.insert(name.meaning);
  }
  if (kinds.contains(RiskKind::severe_arterial_disease)) kinds.erase(RiskKind::arterial_disease);
  return kinds;
}

}  // namespace

// Whoever has it done, or has it ordered, is counted as living on it: since when, and whether it goes on, is not asked. Nothing gets shorter by that.
void read_dialysis(const Resource& r, Reading& reading) {
  for (const auto* what : list_of(r.body["code"])) {
    if (risk_of(concept_in(*what), reading) != RiskKind::dialysis) continue;
    clinical::Risk out;
    out.source = r.fact_source(!risk_coded(codes_of(concept_in(*what), reading), reading.terms.risks));
    out.kind = RiskKind::dialysis;
    reading.record.risks.push_back(std::move(out));
    return;
  }
}

void read_graft(const Resource& r, Reading& reading) {
  if (const auto kinds = risks_of(r.body["code"], reading); !kinds.contains(RiskKind::graft)) return;
  clinical::Risk out;
  out.source = r.fact_source(true);
  out.kind = RiskKind::graft;
  out.side = side_of(r, reading);
  reading.record.risks.push_back(std::move(out));
}

namespace {

// The German coding of diagnoses says beside the code how sure it is; "A" is ruled out (extension icd-10-gm-diagnosesicherheit of the German base profiles, from memory).
bool ruled_out(const json::Value& code) {
  return std::ranges::any_of(code["coding"].items(), [](const json::Value& coding) {
    return std::ranges::any_of(coding["extension"].items(), [](const json::Value& e) { return e["url"].text().ends_with("/icd-10-gm-diagnosesicherheit") && e["valueCoding"]["code"].text() == "A"; });
  });
}

}  // namespace

void read_condition(const Resource& r, Reading& reading) {
  const auto verification = status_code(r.body["verificationStatus"]);
  if (verification == "entered-in-error") return;
  const auto clinical_status = status_code(r.body["clinicalStatus"]);
  const bool refuted = verification == "refuted" || ruled_out(r.body["code"]);
  const bool over = clinical_status == "inactive" || clinical_status == "remission" || clinical_status == "resolved";
  const auto onset = times_of(r.body, {"onset"}, r, reading);
  const auto abatement = times_of(r.body, {"abatement"}, r, reading);
  if (!refuted && !over && !abatement.start && !abatement.end) read_kidney_failure(r, reading);
  for (const auto kind : risks_of(r.body["code"], reading)) {
    clinical::Risk out;
    out.source = r.fact_source();
    out.kind = kind;
    // Antibodies outlast the illness: heparin-induced thrombocytopenia stays a risk when it is over.
    out.present = !refuted && (!over || kind == RiskKind::heparin_induced_thrombocytopenia);
    out.side = side_of(r, reading);
    out.from = onset.start;
    if (kind != RiskKind::heparin_induced_thrombocytopenia) out.to = abatement.end ? abatement.end : abatement.start;
    reading.record.risks.push_back(std::move(out));
  }
}

namespace {

// The codes of drugs are those of the drugs themselves.
std::optional<RiskKind> substance_of(const json::Value& concept_element, const Reading& reading) {
  const auto codes = codes_of(concept_element, reading);
  if (const auto* coded = meaning_by_code(codes, reading.terms.allergies)) return *coded;
  if (const auto* drug = meaning_by_code(codes, reading.terms.drugs)) {
    if (drug->agent == clinical::Agent::heparin) return RiskKind::allergy_heparin;
    if (drug->agent == clinical::Agent::protamine) return RiskKind::allergy_protamine;
  }
  for (const auto& text : texts_of(concept_element))
    if (const auto* named = meaning_by_name(text, reading.terms.allergies)) return *named;
  return std::nullopt;
}

void add_substance(const json::Value& concept_element, const Resource& r, Reading& reading) {
  const auto kind = substance_of(concept_element, reading);
  if (!kind) return;
  clinical::Risk out;
  out.source = r.fact_source();
  out.kind = *kind;
  reading.record.risks.push_back(std::move(out));
}

// Heparin, protamine, latex, adhesives and local anaesthetics, as what it is an allergy to or what a reaction came from. One that is resolved or refuted is
// none; "unconfirmed" counts.
void read_substances(const Resource& r, Reading& reading) {
  const auto clinical_status = status_code(r.body["clinicalStatus"]);
  if (status_code(r.body["verificationStatus"]) == "refuted" || clinical_status == "inactive" || clinical_status == "resolved") return;
  add_substance(r.body["code"], r, reading);
  for (const auto& reaction : r.body["reaction"].items()) add_substance(reaction["substance"], r, reading);
}

}  // namespace

void read_allergy(const Resource& r, Reading& reading) {
  if (status_code(r.body["verificationStatus"]) == "entered-in-error") return;
  read_substances(r, reading);
  auto kind = risk_of(r.body["code"], reading);
  for (const auto& reaction : r.body["reaction"].items()) {
    for (const auto* manifestation : list_of(reaction["manifestation"])) {
      if (!kind) kind = risk_of(concept_in(*manifestation), reading);
      if (!kind && manifestation->has("reference")) kind = risk_of(observed(*manifestation, r, reading), reading);
    }
  }
  if (kind != RiskKind::heparin_induced_thrombocytopenia) return;  // any other is one of the substances
  clinical::Risk out;
  out.source = r.fact_source();
  out.kind = *kind;
  out.present = status_code(r.body["verificationStatus"]) != "refuted";
  reading.record.risks.push_back(std::move(out));
}

void read_risk_observation(const Resource& r, Reading& reading) {
  auto value = r.body["valueCodeableConcept"];
  if (!value.is_object() && r.body["valueString"].is_string()) value = json::Value::object({{"text", r.body["valueString"]}});
  const auto by_value = value.is_object() ? risk_of(value, reading) : std::nullopt;
  const auto by_code = risk_of(r.body["code"], reading);
  const auto kind = by_value ? by_value : by_code;
  if (!kind || r.body.has("dataAbsentReason") || result_status(r, reading) == ResultStatus::none) return;
  const auto boolean = r.body["valueBoolean"].boolean();
  // A code alone says what was looked for; only a value says what was found.
  if (!by_value && !boolean && !negative(value) && !positive(value)) {
    return reading.inform(r, "value", "no-finding", "\"" + title_of(r.body["code"]) + "\" has no value that says whether it is so.");
  }
  clinical::Risk out;
  out.source = r.fact_source();
  out.kind = *kind;
  out.present = boolean.value_or(by_value.has_value() || positive(value));
  const auto times = times_of(r.body, {"effective"}, r, reading);
  out.from = times.start;
  reading.record.risks.push_back(std::move(out));
}

}  // namespace fhir_read
