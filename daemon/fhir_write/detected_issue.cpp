#include "fhir_write/detected_issue.h"

#include <array>

#include "fhir/codes.h"
#include "fhir/date_time.h"
#include "fhir_write/elements.h"
#include "fhir_write/identity.h"
#include "fhir_write/others.h"
#include "fhir_write/verify.h"

namespace fhir_write {
namespace {

using json::Value;

/// HL7's code for all of them: "Proposed therapy may be inappropriate or ineffective based on the proposed start or end time" (v3 ActCode, TIME).
Value kind(const WriterContext& context, const std::string& name) {
  return concept_of({coding(fhir::system_uri::act_code, "TIME", "timing detected issue"), coding(fhir::system_uri::order_clash, name)}, term(context, "order-clash", name));
}

/// A drug into a groin that has not closed may cost a life (detectedissue-severity: "may be life-threatening"); two times of which the later counts do not.
const char* severity(const std::string& name) { return name == "drug" ? "high" : "moderate"; }

Value implicated(const WriterContext& context, const clinical::CasePlan& plan, const clinical::Item& item) {
  Value all = Value::array();
  for (const auto& order : item.inputs) all.push(reference(order.reference, item.value_seen));
  all.push(reference(reference_to(context, plan, current_care_plan(context, item.key.intent))));
  all.push(reference(plan.procedure.reference, plan.title));
  return all;
}

}  // namespace

Value detected_issue(const WriterContext& context, const clinical::CasePlan& plan, const clinical::Item& item) {
  Value r = begin(context, "DetectedIssue");
  const std::string said = item.why ? say(context, *item.why) : std::string();
  narrate(r, context, paragraph(term(context, "order-clash", item.subject), true) + paragraph(said) + paragraph(say(context, "record.clash-settle")) + paragraph(standing_words(context)));
  r.set("identifier", identifiers(identity(context, plan, item.key)));
  r.set("status", "final").set("code", kind(context, item.subject)).set("severity", severity(item.subject));
  r.set("patient", patient(plan));
  r.set("identifiedDateTime", first_written(context, item.key, "identifiedDateTime")).set("author", device(context));
  r.set("implicated", implicated(context, plan, item));
  r.set("detail", said);
  if (const OnServer* standing = context.standing(item.key); standing && context.form == Form::record) {
    static constexpr std::array<std::string_view, 3> own{"text", "language", "id"};
    keep_elements_of_others(r, standing->body, own);
  }
  return r;
}

Value ended_issue(const WriterContext& context, const clinical::CasePlan& plan, const clinical::ItemKey& key, const clinical::Reason& why) {
  Value r = body_on_server(context, key);
  const bool closed = plan.state == clinical::CaseState::withdrawn;
  const bool never_true = closed && (!plan.stopped || plan.stopped->code == "case.stopped.subject");
  if (closed) r.set("status", never_true ? "entered-in-error" : "cancelled");
  const std::string words = say(context, why);
  Value over = Value::object({{"action", concept_of({coding(fhir::system_uri::order_clash, "over", "No longer a clash")}, words)}, {"date", fhir::format_utc(context.now)}});
  if (Value* all = r.find("mitigation")) all->push(std::move(over));
  else r.set("mitigation", Value::array({std::move(over)}));
  narrate(r, context, paragraph(say(context, "record.cancelled", {{"why", words}}), true) + paragraph(r["detail"].text()));
  return r;
}

Value issue_served(const WriterContext& context, const clinical::CasePlan& plan, const clinical::Change& change) {
  Value r = change.kind == clinical::ChangeKind::withdraw ? ended_issue(context, plan, change.key, *change.reason) : detected_issue(context, plan, *change.item);
  set_own_key(r, change.key);
  return with_id(std::move(r), identity(context, plan, change.key));
}

}  // namespace fhir_write
