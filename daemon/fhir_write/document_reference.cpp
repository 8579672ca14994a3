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
constexpr const char* kPage = "application/xhtml+xml";

std::string sheet_title(const WriterContext& context, const clinical::CasePlan& plan, const clinical::ItemKey& key) {
  return say(context, "record.sheet-title", {{"plan", plan_title(context, plan)}, {"number", std::int64_t{key.ordinal}}});
}

/// The same plan for a record that takes no PDF: the timetable as a page that stands on its own.
std::string page(const WriterContext& context, const clinical::CasePlan& plan, const clinical::ItemKey& key) {
  const std::string language = escaped(context.language), title = escaped(sheet_title(context, plan, key));
  return "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<html xmlns=\"http://www.w3.org/1999/xhtml\" lang=\"" + language + "\" xml:lang=\"" + language + "\"" +
         (context.words.right_to_left() ? " dir=\"rtl\"" : "") + "><head><title>" + title + "</title></head><body><h1>" + title + "</h1>" + timetable(context, plan) + "</body></html>\n";
}

Value attachment(const WriterContext& context, const clinical::CasePlan& plan, const clinical::ItemKey& key, const Sheet& sheet) {
  const std::string content = context.page ? page(context, plan, key) : sheet.pdf;
  Value one = Value::object();
  one.set("contentType", context.page ? kPage : kPdf);
  one.set_present("language", context.language);
  const std::string uuid = binary_identity(context, plan, key);
  if (context.inline_pdf || context.page) one.set("data", fhir::base64(content));
  else one.set("url", (context.form == Form::file ? "Binary/" : "urn:uuid:") + uuid);
  one.set("size", content.size()).set("hash", fhir::sha1_base64(content));
  one.set("title", sheet_title(context, plan, key));
  one.set("creation", fhir::format_utc(context.now));
  return one;
}

Value circumstances(const WriterContext& context, const clinical::CasePlan& plan, const clinical::ItemKey& key) {
  Value one = Value::object();
  if (!plan.encounter.empty()) one.set("encounter", Value::array({reference(plan.encounter)}));
  one.set_present("period", period(context.now, plan.valid_until));
  const auto care_plan = current_care_plan(context, key.intent);
  Value named = context.tasks_elsewhere ? Value::object({{"type", "CarePlan"}, {"identifier", identifiers(identity(context, plan, care_plan)).at(0)}})
                                        : reference(reference_to(context, plan, care_plan));
  one.set("related", Value::array({std::move(named), reference(plan.procedure.reference, plan.title)}));
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
  r.set("type", !context.document_type.empty() ? concept_from(context.document_type)
                                               : concept_of({coding(fhir::system_uri::loinc, "64295-9", "Nurse Plan of care note")}, say(context, "record.sheet")));
  r.set("category", Value::array({!context.document_category.empty()
                                      ? concept_from(context.document_category)
                                      : concept_of({coding("http://hl7.org/fhir/us/core/CodeSystem/us-core-documentreference-category", "clinical-note", "Clinical Note")})}));
  r.set("subject", patient(plan));
  r.set("date", fhir::format_utc(context.now));
  const Value author = reference(context.author);
  r.set("author", Value::array({author.is_null() ? device(context) : author}));
  r.set_present("custodian", reference(context.organization));
  if (replaces)
    r.set("relatesTo", Value::array({Value::object({{"code", "replaces"}, {"target", reference(reference_to(context, plan, *replaces))}})}));
  r.set("description", description);
  Value labels = Value::array();
  for (const Value& label : r["meta"]["security"].items()) labels.push(concept_of({label}));
  r.set_present("securityLabel", std::move(labels));
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
