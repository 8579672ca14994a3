#include "fhir_write/care_plan.h"

#include <algorithm>
#include <array>

#include "fhir/codes.h"
#include "fhir_write/elements.h"
#include "fhir_write/identity.h"
#include "fhir_write/narrative.h"
#include "fhir_write/others.h"

namespace fhir_write {
namespace {

using clinical::CaseState;
using json::Value;

const char* status_of(const clinical::CasePlan& plan) {
  if (plan.state == CaseState::finished) return "completed";
  if (plan.state == CaseState::withdrawn) return "revoked";
  return plan.provisional ? "draft" : "active";
}

// The index Procedure first, then the Procedures of further sites ("Procedure/p1#2" names a second site of one Procedure).
Value procedures(const clinical::CasePlan& plan) {
  Value all = Value::array({reference(plan.procedure.reference, plan.title)});
  for (const auto& site : plan.sites) {
    const std::string procedure = site.key.substr(0, site.key.find('#'));
    if (procedure != plan.procedure.reference && procedure == site.key) all.push(reference(procedure));
  }
  return all;
}

Value activities(const WriterContext& context, const clinical::CasePlan& plan, const std::vector<clinical::Standing>& after) {
  Value all = Value::array();
  std::vector<clinical::ItemKey> keys;
  for (const auto& item : after)
    if (item.key.kind == clinical::ItemKind::task && item.state != clinical::Stands::withdrawn) keys.push_back(item.key);
  std::ranges::sort(keys, {}, [](const clinical::ItemKey& key) { return text_of(key); });
  for (const auto& key : keys) all.push(Value::object({{"reference", reference(reference_to(context, plan, key))}}));
  return all;
}

Value frame(const WriterContext& context, const clinical::CasePlan& plan, const clinical::ItemKey& key, const char* status) {
  Value r = begin(context, "CarePlan");
  r.set("text", Value());  // keeps its place; filled in by the caller
  r.set("identifier", identifiers(identity(context, plan, key)));
  r.set("instantiatesCanonical", Value::array({plan_definition(context)}));
  if (const Value order = reference(context.order); !order.is_null() && context.order.reference.starts_with("CarePlan/")) r.set("basedOn", Value::array({order}));
  r.set("status", status).set("intent", word(key.intent));
  r.set("category", Value::array({concept_of({coding("http://hl7.org/fhir/us/core/CodeSystem/careplan-category", "assess-plan")}, say(context, "record.category"))}));
  r.set("title", plan_title(context, plan));
  r.set("subject", patient(plan));
  r.set_present("encounter", reference(plan.encounter));
  r.set_present("period", period(plan.started, plan.valid_until));
  r.set("created", first_written(context, key, "created")).set("author", device(context));
  r.set("supportingInfo", procedures(plan));
  return r;
}

bool names_a_task_of_ours(const WriterContext& context, const Value& activity) {
  const auto to = activity["reference"]["reference"].text();
  if (to.empty()) return activity["reference"]["identifier"]["system"].text() == fhir::item_identifier_system;
  return std::ranges::any_of(context.on_server, [&](const auto& one) { return !one.second.id.empty() && to == type_of(one.first.kind) + ("/" + one.second.id); });
}

// Elements that we never write and activities of somebody else: as they stand on the server.
void keep_what_others_added(Value& r, const WriterContext& context, const clinical::ItemKey& key) {
  const OnServer* standing = context.standing(key);
  if (!standing || context.form != Form::record) return;
  const Value& there = standing->body;
  // Written at times: what is missing of these was taken away.
  static constexpr std::array<std::string_view, 8> own{"basedOn", "encounter", "period", "activity", "description", "text", "language", "id"};
  keep_elements_of_others(r, there, own);
  const auto add_to = [&r](const char* element, const Value& one) {
    if (Value* all = r.find(element)) all->push(one);
    else r.set(element, Value::array({one}));
  };
  for (const auto& activity : there["activity"].items())
    if (!names_a_task_of_ours(context, activity) && !activity["reference"]["reference"].text().starts_with("urn:")) add_to("activity", activity);
}

}  // namespace

Value care_plan(const WriterContext& context, const clinical::CasePlan& plan, const clinical::ItemKey& key, const std::vector<clinical::Standing>& after) {
  Value r = frame(context, plan, key, status_of(plan));
  narrate(r, context, timetable(context, plan));
  r.set("description", plan_summary(context, plan));
  r.set_present("activity", activities(context, plan, after));
  keep_what_others_added(r, context, key);
  return r;
}

Value care_plan_shell(const WriterContext& context, const clinical::CasePlan& plan, const clinical::ItemKey& key) {
  Value r = frame(context, plan, key, "draft");
  narrate(r, context, paragraph(say(context, "record.shell"), true) + paragraph(standing_words(context)));
  return r;
}

Value revoked_care_plan(const WriterContext& context, const clinical::ItemKey& key, const clinical::Reason& why) {
  Value r = body_on_server(context, key);
  r.set("status", "revoked");
  r.erase("activity");
  narrate(r, context, paragraph(say(context, "record.plan-revoked", {{"why", say(context, why)}}), true));
  return r;
}

}  // namespace fhir_write
