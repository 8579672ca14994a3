#include "fhir_read/planned_support.h"

#include "profile/protocol_file.h"

#include <gtest/gtest.h>

#include <algorithm>

namespace reading_test {
namespace {

const clinical::Protocol& cautious() {
  static const auto loaded = profile::load_protocol(SOURCE_DIR "/profiles/protocol/cautious.toml");
  if (!loaded.protocol) ADD_FAILURE() << "cautious.toml is faulty";
  return *loaded.protocol;
}

std::string event(const std::string& id, const std::string& code, const std::string& at) {
  return R"({"resourceType":"Procedure","id":")" + id + R"(","status":"completed","subject":{"reference":"Patient/a"},"partOf":[{"reference":"Procedure/p"}],"code":{"coding":[
    {"system":"https://aftersheath.example/fhir/CodeSystem/access-event","code":")" + code + R"("}]},"performedDateTime":")" + at + R"("})";
}

}  // namespace

std::vector<std::string> base_case() {
  return {R"({"resourceType":"Patient","id":"a","birthDate":"1958-04-11","gender":"male","identifier":[{"system":"urn:invented","value":"1"},{"system":"urn:invented:2","value":"2"}],
            "meta":{"security":[{"system":"http://terminology.hl7.org/CodeSystem/v3-ActReason","code":"HTEST"}]}})",
          R"({"resourceType":"Encounter","id":"e","status":"in-progress","subject":{"reference":"Patient/a"},"period":{"start":"2026-03-02T08:00:00Z"}})",
          R"({"resourceType":"Procedure","id":"p","status":"completed","subject":{"reference":"Patient/a"},"encounter":{"reference":"Encounter/e"},
            "code":{"coding":[{"system":"http://snomed.info/sct","code":"33367005"}]},"performedPeriod":{"start":"2026-03-02T10:00:00Z","end":"2026-03-02T11:00:00Z"},
            "bodySite":[{"coding":[{"system":"http://snomed.info/sct","code":"69833005"}]}],
            "extension":[{"url":"https://aftersheath.example/fhir/StructureDefinition/sheath-size","valueQuantity":{"value":6,"system":"http://unitsofmeasure.org","code":"[Ch]"}},
                         {"url":"https://aftersheath.example/fhir/StructureDefinition/closure-method","valueCode":"manual"}]})",
          R"({"resourceType":"MedicationAdministration","id":"h","status":"completed","subject":{"reference":"Patient/a"},"effectiveDateTime":"2026-03-02T10:05:00Z",
            "medicationCodeableConcept":{"coding":[{"system":"http://www.whocc.no/atc","code":"B01AB01","display":"heparin"}]},
            "dosage":{"dose":{"value":5000,"system":"http://unitsofmeasure.org","code":"[iU]"}}})"};
}

std::vector<std::string> pressed() {
  return {event("out", "sheath-removed", "2026-03-02T14:00:00Z"), event("on", "compression-started", "2026-03-02T14:00:00Z"),
          event("off", "compression-ended", "2026-03-02T14:20:00Z"), event("dry", "haemostasis-confirmed", "2026-03-02T14:20:00Z")};
}

Planned planned(std::vector<std::string> texts, std::string_view now) {
  fhir_read::ResourceSet set("Patient/a");
  for (const auto& text : texts) {
    auto body = resource(text);
    const std::string type(body["resourceType"].text()), id(body["id"].text());
    set.add({"", "", type, id, "", std::move(body)});
  }
  Planned result{fhir_read::read_record(set, default_site(), terminology()), {}};
  auto plans = clinical::compute_plans(result.read.record, cautious(), instant(now));
  if (plans.size() != 1) {
    ADD_FAILURE() << plans.size() << " cases\n" << all_issues(result.read.issues);
    return result;
  }
  result.plan = std::move(plans.front());
  return result;
}

const clinical::Milestone& step(const Planned& p, clinical::Step wanted) {
  static const clinical::Milestone none;
  if (p.plan.sites.empty()) return none;
  const auto& steps = p.plan.sites.front().milestones;
  const auto it = std::ranges::find(steps, wanted, &clinical::Milestone::step);
  if (it == steps.end()) ADD_FAILURE() << "the step is not there";
  return it == steps.end() ? none : *it;
}

const clinical::Gate* gate(const Planned& p, clinical::GateName wanted) {
  if (p.plan.sites.empty()) return nullptr;
  const auto& gates = p.plan.sites.front().gates;
  const auto it = std::ranges::find(gates, wanted, &clinical::Gate::name);
  return it == gates.end() ? nullptr : &*it;
}

bool has_caution(const Planned& p, std::string_view code) {
  return std::ranges::any_of(p.plan.cautions, [&](const clinical::Reason& c) { return c.code == code; });
}

bool has_conflict(const Planned& p, std::string_view about) {
  return std::ranges::any_of(p.plan.conflicts, [&](const clinical::Conflict& c) { return c.about == about; });
}

std::vector<std::string> operator+(std::vector<std::string> a, const std::vector<std::string>& b) {
  a.insert(a.end(), b.begin(), b.end());
  return a;
}

}  // namespace reading_test
