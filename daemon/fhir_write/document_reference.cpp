#include "fhir_write/document_reference.h"

#include "fhir/codes.h"
#include "fhir/date_time.h"
#include "fhir/digest.h"
#include "fhir_write/elements.h"
#include "fhir_write/identity.h"
#include "fhir_write/narrative.h"

namespace fhir_write {
namespace {

using json::Value;

constexpr const char* kPdf = "application/pdf";

std::string sheet_title(const WriterContext& context, const clinical::CasePlan& plan, const clinical::ItemKey& key) {
  return say(context, "record.sheet-title", {{"plan", plan_title(context, plan)}, {"number", std::int64_t{key.ordinal}}});
}

Value attachment(const WriterContext& context, const clinical::CasePlan& plan, const clinical::ItemKey& key, const Sheet& sheet) {
  Value one = Value::object({{"contentType", kPdf}});
  one.set_present("language", context.language);
  const std::string uuid = binary_identity(context, plan, key);
  if (context.inline_pdf) one.set("data", fhir::base64(sheet.pdf));
  else one.set("url", (context.form == Form::file ? "Binary/" : "urn:uuid:") + uuid);
  one.set("size", sheet.pdf.size()).set("hash", fhir::sha1_base64(sheet.pdf));
  one.set("title", sheet_title(context, plan, key));
  one.set("creation", fhir::format_utc(context.now));
  return one;
}

Value circumstances(const WriterContext& context, const clinical::CasePlan& plan, const clinical::ItemKey& key) {
  Value one = Value::object();
  if (!plan.encounter.empty()) one.set("encounter", Value::array({reference(plan.encounter)}));
  one.set_present("period", period(context.now, plan.valid_until));
  one.set("related", Value::array({reference(reference_to(context, plan, current_care_plan(context, key.intent))), reference(plan.procedure.reference, plan.title)}));
  return one;
}

}  // namespace

std::string binary_identity(const WriterContext& context, const clinical::CasePlan& plan, const clinical::ItemKey& sheet) {
  return identity(context, plan, "binary", text_of(sheet));
}

Value binary(const WriterContext& context, const clinical::CasePlan& plan, const Sheet& sheet) {
  Value r = begin(context, "Binary");
  r.set("contentType", kPdf).set("securityContext", reference(plan.patient.source.reference));
  r.set("data", fhir::base64(sheet.pdf));
  return r;
}

Value document_reference(const WriterContext& context, const clinical::CasePlan& plan, const clinical::ItemKey& key, const Sheet& sheet,
                         const std::optional<clinical::ItemKey>& replaces) {
  const std::string uuid = identity(context, plan, key);
  Value r = begin(context, "DocumentReference");
  const std::string standing = standing_words(context);
  std::string description = sheet_title(context, plan, key);
  if (plan.valid_until) description += ". " + say(context, "record.valid-until", {{"at", *plan.valid_until}});
  if (!standing.empty()) description += " " + standing;
  narrate(r, context, paragraph(description));
  r.set("masterIdentifier", Value::object({{"system", "urn:ietf:rfc:3986"}, {"value", "urn:uuid:" + uuid}}));
  r.set("identifier", identifiers(uuid));
  r.set("status", "current").set("docStatus", context.protocol.approved ? "final" : "preliminary");
  r.set("type", concept_of({coding(fhir::system_uri::loinc, "64295-9", "Nurse Plan of care note")}, say(context, "record.sheet")));
  r.set("category", Value::array({concept_of({coding("http://hl7.org/fhir/us/core/CodeSystem/us-core-documentreference-category", "clinical-note", "Clinical Note")})}));
  r.set("subject", patient(plan));
  r.set("date", fhir::format_utc(context.now));
  r.set("author", Value::array({device(context)}));
  r.set_present("custodian", reference(context.organization));
  if (replaces)
    r.set("relatesTo", Value::array({Value::object({{"code", "replaces"}, {"target", reference(reference_to(context, plan, *replaces))}})}));
  r.set("description", description);
  if (context.test_data) r.set("securityLabel", Value::array({concept_of({coding(fhir::system_uri::act_reason, "HTEST", "test health data")})}));
  r.set("content", Value::array({Value::object({{"attachment", attachment(context, plan, key, sheet)}})}));
  r.set("context", circumstances(context, plan, key));
  return r;
}

Value ended_document(const WriterContext& context, const clinical::ItemKey& key, bool newer_sheet) {
  Value r = body_on_server(context, key);
  r.set("status", newer_sheet ? "superseded" : "entered-in-error");
  narrate(r, context, paragraph(say(context, newer_sheet ? "record.sheet-superseded" : "record.sheet-void"), true) + paragraph(r["description"].text()));
  return r;
}

}  // namespace fhir_write
