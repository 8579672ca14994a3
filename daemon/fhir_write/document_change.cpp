#include "fhir_write/document_change.h"

#include <algorithm>
#include <stdexcept>

#include "fhir/codes.h"
#include "fhir/date_time.h"
#include "fhir_write/elements.h"
#include "fhir_write/identity.h"
#include "fhir_write/narrative.h"
#include "fhir_write/others.h"
#include "fhir_write/task.h"
#include "fhir_write/verify.h"

namespace fhir_write {
namespace {

using clinical::Change;
using clinical::ChangeKind;
using clinical::ItemKind;
using json::Value;

WriterContext dated(WriterContext context, const Work& work) {
  context.words_context.day.reset();  // what is written today is read tomorrow as well
  for (const auto& item : work.after)
    if (item.key.kind == ItemKind::care_plan && item.state != clinical::Stands::withdrawn) context.care_plan = item.key;
  return context;
}

void add_new(Transaction& into, const char* type, const std::string& uuid, Value resource, std::optional<clinical::ItemKey> key) {
  if (!own_identity(resource)) tag_with(resource, uuid);
  Value* entries = into.bundle.find("entry");
  entries->push(Value::object({{"fullUrl", "urn:uuid:" + uuid}, {"resource", resource}, {"request", Value::object({{"method", "POST"}, {"url", type}})}}));
  into.entries.push_back({std::move(key), uuid, std::move(resource)});
}

void add_ended(Transaction& into, const WriterContext& context, const clinical::CasePlan& plan, const Change& change) {
  const OnServer* standing = context.standing(change.key);
  if (!standing || standing->id.empty()) throw std::logic_error("not known on the server: " + text_of(change.key));
  Value resource = with_id(ended_document(context, change.key, change.reason->code == "change.withdrawn.newer-sheet"), standing->id);
  keep_labels_of_others(resource, standing->body);
  Value request = Value::object({{"method", "PUT"}, {"url", "DocumentReference/" + standing->id}, {"ifMatch", standing->etag}});
  into.bundle.find("entry")->push(Value::object({{"resource", resource}, {"request", std::move(request)}}));
  into.entries.push_back({change.key, identity(context, plan, change.key), std::move(resource)});
}

void add_sheet(Transaction& into, const WriterContext& context, const Work& work, const Change& change) {
  if (!work.sheet) throw std::logic_error("a sheet is wanted and none was given");
  if (!context.inline_pdf && !context.page) add_new(into, "Binary", binary_identity(context, work.plan, change.key), binary(context, work.plan, *work.sheet), std::nullopt);
  Value resource = document_reference(context, work.plan, change.key, *work.sheet, change.replaces);
  set_own_key(resource, change.key);
  add_new(into, "DocumentReference", identity(context, work.plan, change.key), std::move(resource), change.key);
}

Transaction empty() { return {Value::object({{"resourceType", "Bundle"}, {"type", "transaction"}, {"entry", Value::array()}}), {}}; }

bool is_call(const Change& change) {
  return change.kind == ChangeKind::create && (change.key.kind == ItemKind::cancellation || (change.key.kind == ItemKind::task && change.key.step == clinical::Step::call_clinician));
}
bool is_void(const Change& change) { return change.key.kind == ItemKind::document && change.kind == ChangeKind::withdraw && change.reason->code != "change.withdrawn.newer-sheet"; }

/// What one change tells; empty: nothing.
std::string told(const WriterContext& context, const Work& work, const Change& change) {
  if (is_call(change)) return std::string(task(context, work.plan, *change.item, change.replaces)["description"].text());
  if (is_void(change)) return say(context, "record.sheet-void");
  if (change.key.kind != ItemKind::document || change.kind != ChangeKind::create) return "";
  return say(context, "record.sheet-title", {{"plan", plan_title(context, work.plan)}, {"number", std::int64_t{change.key.ordinal}}}) + ". " + plan_summary(context, work.plan);
}

Value about(const WriterContext& context, const Work& work) {
  Value all = Value::array();
  for (const Change& change : work.difference.changes)
    if (change.key.kind == ItemKind::document && change.kind == ChangeKind::create)
      all.push(Value::object({{"type", "DocumentReference"}, {"identifier", identifiers(identity(context, work.plan, change.key)).at(0)}}));
  all.push(reference(work.plan.procedure.reference, work.plan.title));
  return all;
}

}  // namespace

Transaction document_change(const WriterContext& given, const Work& work) {
  const WriterContext context = dated(given, work);
  Transaction all = empty();
  for (const Change& change : work.difference.changes) {
    if (change.key.kind != ItemKind::document) continue;
    change.kind == ChangeKind::create ? add_sheet(all, context, work, change) : add_ended(all, context, work.plan, change);
  }
  return all;
}

std::optional<Transaction> communication(const WriterContext& given, const Work& work, Told what) {
  const WriterContext context = dated(given, work);
  Value payload = Value::array();
  std::string keys;
  for (const Change& change : work.difference.changes) {
    if ((what == Told::calls) != (is_call(change) || is_void(change))) continue;
    const std::string text = told(context, work, change);
    if (text.empty()) continue;
    payload.push(Value::object({{"contentString", text}}));
    keys += text_of(change.key) + "\n";
  }
  if (payload.size() == 0) return std::nullopt;
  const std::string uuid = identity(context, work.plan, "communication", keys);
  Value r = begin(context, "Communication");
  std::string shown;
  for (const Value& one : payload.items()) shown += paragraph(one["contentString"].text());
  narrate(r, context, shown);
  r.set("identifier", identifiers(uuid)).set("status", "completed");
  r.set("priority", what == Told::calls ? "urgent" : "routine").set("subject", patient(work.plan));
  r.set("about", about(context, work));
  if (!work.plan.encounter.empty()) r.set("encounter", reference(work.plan.encounter));
  r.set("sent", fhir::format_utc(context.now));
  if (const Value unit = reference(context.owner); !unit.is_null()) r.set("recipient", Value::array({unit}));
  r.set("sender", device(context));
  r.set("payload", std::move(payload));
  Transaction one = empty();
  add_new(one, "Communication", uuid, std::move(r), std::nullopt);
  return one;
}

}  // namespace fhir_write
