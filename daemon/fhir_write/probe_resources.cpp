#include "fhir_write/probe_resources.h"

#include "fhir/codes.h"
#include "fhir/digest.h"
#include "fhir_write/elements.h"

namespace fhir_write {

using json::Value;

const char* const probe_identifier_system = AFTERSHEATH_BASE "/NamingSystem/probe";

namespace {

constexpr const char* kSaid = "Trial by Aftersheath whether this record can be written to. Test data: may be deleted.";

Value start(const char* type) {
  Value meta = Value::object({{"security", Value::array({coding(fhir::system_uri::act_reason, "HTEST", "test health data")})},
                              {"tag", Value::array({coding(AFTERSHEATH_BASE "/CodeSystem/writer-mode", "probe", "Written to try a record")})}});
  Value r = Value::object({{"resourceType", type}, {"meta", std::move(meta)}});
  return r;
}

Value named(const std::string& identifier) { return Value::array({Value::object({{"system", probe_identifier_system}, {"value", identifier}})}); }
Value to(const std::string& target) { return Value::object({{"reference", target}}); }
Value said(Value r) {
  Value with_text = Value::object({{"status", "generated"}, {"div", std::string("<div xmlns=\"http://www.w3.org/1999/xhtml\"><p>") + kSaid + "</p></div>"}});
  return r.set("text", std::move(with_text));
}
Value program() { return Value::object({{"type", "Device"}, {"identifier", Value::object({{"system", AFTERSHEATH_BASE "/NamingSystem/installation"}, {"value", "probe"}})}, {"display", "Aftersheath, trial"}}); }

}  // namespace

Value probe_care_plan(const ProbeSubject& s, const std::string& identifier) {
  Value r = said(start("CarePlan"));
  r.set("identifier", named(identifier)).set("status", "draft").set("intent", "proposal").set("title", kSaid).set("subject", to(s.patient));
  return r;
}

Value probe_task(const ProbeSubject& s, const std::string& identifier, const std::string& care_plan) {
  Value r = said(start("Task"));
  r.set("identifier", named(identifier)).set("status", "draft").set("intent", "proposal");
  r.set("code", Value::object({{"coding", Value::array({coding(fhir::system_uri::task_code, "fulfill")})}, {"text", "Trial"}}));
  r.set("description", kSaid).set("focus", to(care_plan)).set("for", to(s.patient));
  return r;
}

Value probe_document(const ProbeSubject& s, const std::string& identifier, const std::string& url, const char* content_type, const std::string& content) {
  Value r = said(start("DocumentReference"));
  r.set("identifier", named(identifier)).set("status", "current").set("docStatus", "preliminary");
  r.set("type", s.document_type.empty() ? concept_of({coding(fhir::system_uri::loinc, "64295-9", "Nurse Plan of care note")}) : concept_from(s.document_type));
  r.set("category", Value::array({s.document_category.empty() ? concept_of({coding("http://hl7.org/fhir/us/core/CodeSystem/us-core-documentreference-category", "clinical-note", "Clinical Note")})
                                                              : concept_from(s.document_category)}));
  r.set("subject", to(s.patient));
  const Value author = reference(s.author, s.author_name);
  r.set("author", Value::array({author.is_null() ? program() : author})).set("description", kSaid);
  Value attachment = Value::object({{"contentType", content_type}});
  if (url.empty()) attachment.set("data", fhir::base64(content));
  else attachment.set("url", url);
  attachment.set("title", "Trial");
  r.set("content", Value::array({Value::object({{"attachment", std::move(attachment)}})}));
  if (!s.encounter.empty()) r.set("context", Value::object({{"encounter", Value::array({to(s.encounter)})}}));
  return r;
}

Value probe_binary(const ProbeSubject& s, const std::string& content) {
  return start("Binary").set("contentType", "application/pdf").set("securityContext", to(s.patient)).set("data", fhir::base64(content));
}

Value probe_communication(const ProbeSubject& s, const std::string& identifier) {
  Value r = said(start("Communication"));
  r.set("identifier", named(identifier)).set("status", "completed").set("subject", to(s.patient));
  if (!s.encounter.empty()) r.set("encounter", to(s.encounter));
  return r.set("sender", program()).set("payload", Value::array({Value::object({{"contentString", kSaid}})}));
}

Value probe_provenance(const ProbeSubject&, const std::string& target, const std::string& recorded) {
  Value r = said(start("Provenance"));
  r.set("target", Value::array({to(target)})).set("recorded", recorded);
  return r.set("agent", Value::array({Value::object({{"who", program()}})}));
}

Value probe_guidance(const ProbeSubject& s, const std::string& identifier) {
  Value r = said(start("GuidanceResponse"));
  r.set("identifier", named(identifier)).set("moduleUri", AFTERSHEATH_BASE "/PlanDefinition/probe").set("status", "data-required").set("subject", to(s.patient));
  return r;
}

Value probe_issue(const ProbeSubject& s, const std::string& identifier) {
  Value r = said(start("DetectedIssue"));
  r.set("identifier", named(identifier)).set("status", "preliminary").set("patient", to(s.patient));
  return r.set("detail", kSaid);
}

std::string probe_pdf(std::size_t bytes) {
  // ISO 32000-1, 7.5: header, body, cross-reference table, trailer. The filling is a comment.
  std::string pdf = "%PDF-1.4\n";
  if (bytes > 700) pdf += "%" + std::string(bytes - 700, '.') + "\n";
  std::string offsets;
  const auto object = [&](const std::string& text) {
    std::string at = std::to_string(pdf.size());
    at.insert(0, 10 - at.size(), '0');
    offsets += at + " 00000 n \n";
    pdf += text + "\nendobj\n";
  };
  const std::string drawing = "BT /F1 12 Tf 72 720 Td (Trial by Aftersheath. Test data.) Tj ET";
  object("1 0 obj\n<</Type/Catalog/Pages 2 0 R>>");
  object("2 0 obj\n<</Type/Pages/Kids[3 0 R]/Count 1>>");
  object("3 0 obj\n<</Type/Page/Parent 2 0 R/MediaBox[0 0 595 842]/Resources<</Font<</F1 4 0 R>>>>/Contents 5 0 R>>");
  object("4 0 obj\n<</Type/Font/Subtype/Type1/BaseFont/Helvetica>>");
  object("5 0 obj\n<</Length " + std::to_string(drawing.size()) + ">>\nstream\n" + drawing + "\nendstream");
  const std::string table = std::to_string(pdf.size());
  return pdf + "xref\n0 6\n0000000000 65535 f \n" + offsets + "trailer\n<</Size 6/Root 1 0 R>>\nstartxref\n" + table + "\n%%EOF\n";
}

std::string probe_page() {
  return std::string("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<html xmlns=\"http://www.w3.org/1999/xhtml\"><head><title>Trial</title></head><body><p>") + kSaid + "</p></body></html>\n";
}

Value probe_transaction(const std::vector<ProbeEntry>& all) {
  Value entries = Value::array();
  for (const ProbeEntry& one : all) {
    Value request = Value::object({{"method", one.method}, {"url", one.url}});
    request.set_present("ifMatch", one.if_match);
    Value entry = Value::object();
    entry.set_present("fullUrl", one.full_url);
    entries.push(entry.set("resource", one.resource).set("request", std::move(request)));
  }
  return Value::object({{"resourceType", "Bundle"}, {"type", "transaction"}, {"entry", std::move(entries)}});
}

Value probe_with(Value resource, const std::string& id, const std::string& status) {
  resource = with_id(std::move(resource), id);
  if (!status.empty()) resource.set("status", status);
  return resource;
}

}  // namespace fhir_write
