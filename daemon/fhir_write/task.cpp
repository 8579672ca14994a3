#include "fhir_write/task.h"

#include <algorithm>

#include "clinical/names.h"
#include "fhir/codes.h"
#include "fhir/date_time.h"
#include "fhir_write/elements.h"
#include "fhir_write/identity.h"
#include "fhir_write/task_inputs.h"
#include "fhir_write/task_words.h"

namespace fhir_write {
namespace {

using clinical::ItemKind;
using clinical::Step;
using json::Value;

const char* word(clinical::Priority priority) {
  return priority == clinical::Priority::stat ? "stat" : priority == clinical::Priority::urgent ? "urgent" : "routine";
}

Value code(const WriterContext& context, const clinical::CasePlan& plan, const clinical::Item& item) {
  const bool stop = item.key.kind == ItemKind::cancellation;
  std::vector<Value> codings;
  if (!stop) codings.push_back(coding(fhir::system_uri::aftercare_step, name_of(*item.key.step)));
  codings.push_back(coding(fhir::system_uri::task_code, stop ? "abort" : "fulfill"));
  return concept_of(std::move(codings), task_title(context, plan, item));
}

// The nurse's code is in the official value set performer-role; of the others only the words are sure.
Value performer_types(const WriterContext& context, const clinical::CasePlan& plan, const clinical::Item& item) {
  Value all = Value::array();
  const auto add = [&](const char* who, std::vector<Value> codings) { all.push(concept_of(std::move(codings), say(context, std::string("record.who.") + who))); };
  const auto asked = [&](clinical::AskedOf who) {
    return std::any_of(plan.missing.begin(), plan.missing.end(), [who](const clinical::Missing& m) { return m.asked_of == who; });
  };
  if (item.key.step == Step::call_clinician || item.key.step == Step::ask_anticoagulant_plan) {
    add("clinician", {});
    return all;
  }
  add("nurse", {coding(fhir::system_uri::snomed, "224535009", "Registered nurse")});
  if (item.key.step != Step::provide_missing) return all;
  if (asked(clinical::AskedOf::operator_)) add("operator", {});
  if (asked(clinical::AskedOf::pharmacy)) add("pharmacy", {});
  if (asked(clinical::AskedOf::laboratory)) add("laboratory", {});
  return all;
}

// A call that nobody answers is a call again; a request for facts ends with the validity.
std::optional<clinical::Instant> end_of(const WriterContext& context, const clinical::CasePlan& plan, const clinical::Item& item) {
  if (item.end && item.end > item.start) return item.end;  // an instant to meet is no window
  if (item.key.step == Step::provide_missing) return plan.valid_until;
  if (item.key.step == Step::call_clinician && item.priority != clinical::Priority::routine) return context.now + context.protocol.alert_repeat.span();
  return std::nullopt;
}

std::string focus_of(const WriterContext& context, const clinical::CasePlan& plan, const clinical::Item& item, const std::optional<clinical::ItemKey>& replaces) {
  if (item.key.kind == ItemKind::cancellation && replaces) return reference_to(context, plan, *replaces);
  return reference_to(context, plan, current_care_plan(context, item.key.intent));
}

// A request to stop goes into the list in which the Task was put, wherever the patient lies now.
Value owner_of(const WriterContext& context, const clinical::Item& item, const std::optional<clinical::ItemKey>& replaces) {
  const OnServer* target = item.key.kind == ItemKind::cancellation && replaces ? context.standing(*replaces) : nullptr;
  return target && target->body.has("owner") ? target->body["owner"] : reference(context.owner);
}

// restriction goes with the coding fulfill and a focus only (invariant tsk-1 of R5), so a request to stop has none.
void add_window(Value& resource, const WriterContext& context, const clinical::CasePlan& plan, const clinical::Item& item) {
  if (item.key.kind == ItemKind::cancellation) return;
  const auto start = item.start.value_or(context.now);
  resource.set("restriction", Value::object({{"repetitions", 1}, {"period", period(start, end_of(context, plan, item))}}));
}

}  // namespace

Value task(const WriterContext& context, const clinical::CasePlan& plan, const clinical::Item& item, const std::optional<clinical::ItemKey>& replaces) {
  Value r = begin(context, "Task");
  const std::string title = task_title(context, plan, item), description = task_description(context, plan, item);
  narrate(r, context, paragraph(title, true) + paragraph(description));
  if (replaces && item.key.kind == ItemKind::task)
    r.set("extension", Value::array({Value::object({{"url", "http://hl7.org/fhir/StructureDefinition/task-replaces"},
                                                    {"valueReference", reference(reference_to(context, plan, *replaces))}})}));
  r.set("identifier", identifiers(identity(context, plan, item.key)));
  if (item.key.kind == ItemKind::task)
    r.set("instantiatesCanonical", AFTERSHEATH_BASE "/ActivityDefinition/" + std::string(name_of(*item.key.step)) + "|" + context.protocol.version);
  if (const Value order = reference(context.order); !order.is_null()) r.set("basedOn", Value::array({order}));
  r.set("groupIdentifier", Value::object({{"system", fhir::item_identifier_system}, {"value", identity(context, plan, current_care_plan(context, item.key.intent))}}));
  r.set("status", context.ready_tasks ? "ready" : "requested").set("intent", word(item.key.intent));
  r.set("priority", word(item.priority)).set("code", code(context, plan, item));
  r.set("description", description);
  r.set("focus", reference(focus_of(context, plan, item, replaces)));
  r.set("for", patient(plan));
  r.set_present("encounter", reference(plan.encounter));
  r.set("authoredOn", first_written(context, item.key, "authoredOn")).set("lastModified", fhir::format_utc(context.now));
  r.set("requester", device(context)).set("performerType", performer_types(context, plan, item));
  r.set_present("owner", owner_of(context, item, replaces));
  r.set_present("location", context.bed.reference.empty() ? reference("", plan.place) : reference(context.bed));
  if (const std::string why = task_reason(context, plan, item); !why.empty()) r.set("reasonCode", concept_of({}, why));
  r.set("reasonReference", reference(plan.procedure.reference, plan.title));
  add_window(r, context, plan, item);
  r.set_present("input", task_inputs(context, plan, item));
  return r;
}

Value cancelled_task(const WriterContext& context, const clinical::ItemKey& key, const clinical::Reason& why) {
  Value r = body_on_server(context, key);
  const std::string words = say(context, why);
  r.set("status", "cancelled").set("statusReason", concept_of({}, words));
  r.set("lastModified", fhir::format_utc(context.now));
  narrate(r, context, paragraph(say(context, "record.cancelled", {{"why", words}}), true) + paragraph(r["code"]["text"].text()));
  return r;
}

}  // namespace fhir_write
