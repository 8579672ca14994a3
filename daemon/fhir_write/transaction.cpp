#include "fhir_write/transaction.h"

#include <algorithm>
#include <stdexcept>

#include "fhir/codes.h"
#include "fhir/date_time.h"
#include "fhir/digest.h"
#include "fhir_write/care_plan.h"
#include "fhir_write/detected_issue.h"
#include "fhir_write/elements.h"
#include "fhir_write/guidance_response.h"
#include "fhir_write/identity.h"
#include "fhir_write/others.h"
#include "fhir_write/provenance.h"
#include "fhir_write/task.h"
#include "fhir_write/verify.h"

namespace fhir_write {
namespace {

using clinical::Change;
using clinical::ChangeKind;
using clinical::ItemKind;
using json::Value;

// What is written today is read tomorrow as well.
WriterContext with_dates(WriterContext context) {
  context.words_context.day.reset();
  return context;
}

class Builder {
 public:
  Builder(const WriterContext& context, const Work& work) : context_(context), work_(work) {}

  Transaction build() {
    const auto fence = fence_key();
    if (fence) add(*fence, care_plan_as_it_stands(*fence));
    for (const auto& change : work_.difference.changes)
      if (!fence || change.key != *fence) add_change(change);
    add_provenance();
    return {Value::object({{"resourceType", "Bundle"}, {"type", "transaction"}, {"entry", std::move(bundle_entries_)}}), std::move(entries_)};
  }

 private:
  // The CarePlan that stands after the change; where none does, the one that is being revoked. In files only a changed one is written.
  std::optional<clinical::ItemKey> fence_key() const {
    const auto changed = std::ranges::find_if(work_.difference.changes, [](const Change& c) { return c.key.kind == ItemKind::care_plan && c.kind != ChangeKind::withdraw; });
    if (changed != work_.difference.changes.end()) return changed->key;
    if (context_.form == Form::record)
      for (const auto& item : work_.after)
        if (item.key.kind == ItemKind::care_plan && item.state != clinical::Stands::withdrawn) return item.key;
    const auto ended = std::ranges::find_if(work_.difference.changes, [](const Change& c) { return c.key.kind == ItemKind::care_plan; });
    if (ended != work_.difference.changes.end()) return ended->key;
    if (const auto* revoked = revoked_before(); revoked && context_.form == Form::record) return revoked->key;
    if (context_.form == Form::record) throw std::logic_error("no CarePlan to fence the transaction with");
    return std::nullopt;
  }

  // Of a case that was closed earlier: what is still to be said is fenced by the CarePlan that was revoked then.
  const clinical::Standing* revoked_before() const {
    const clinical::Standing* newest = nullptr;
    for (const auto& item : work_.after)
      if (item.key.kind == ItemKind::care_plan && (!newest || newest->key.replacement < item.key.replacement)) newest = &item;
    return newest;
  }

  Value care_plan_as_it_stands(const clinical::ItemKey& key) const {
    for (const auto& change : work_.difference.changes)
      if (change.key == key && change.kind == ChangeKind::withdraw) return revoked_care_plan(context_, key, *change.reason);
    if (const auto* one = revoked_before(); one && one->key == key && one->state == clinical::Stands::withdrawn) return body_on_server(context_, key);
    return care_plan(context_, work_.plan, key, work_.after);
  }

  void add_change(const Change& change) {
    const OnServer* standing = context_.standing(change.key);
    if (context_.form == Form::record && change.kind != ChangeKind::create && (!standing || standing->id.empty()))
      throw std::logic_error("not known on the server: " + text_of(change.key));
    if (change.key.kind == ItemKind::document && change.kind == ChangeKind::create) return add_sheet(change);
    add(change.key, change.kind == ChangeKind::withdraw ? ended(change) : written(change));
  }

  Value written(const Change& change) const {
    switch (change.key.kind) {
      case ItemKind::care_plan: return care_plan(context_, work_.plan, change.key, work_.after);
      case ItemKind::guidance: return guidance_response(context_, work_.plan, change.key);
      case ItemKind::order_clash: return detected_issue(context_, work_.plan, *change.item);
      default: return task(context_, work_.plan, *change.item, change.replaces);
    }
  }

  Value ended(const Change& change) const {
    switch (change.key.kind) {
      case ItemKind::care_plan: return revoked_care_plan(context_, change.key, *change.reason);
      case ItemKind::guidance: return void_guidance(context_, change.key);
      case ItemKind::document: return ended_document(context_, change.key, change.reason->code == "change.withdrawn.newer-sheet");
      case ItemKind::order_clash: return ended_issue(context_, work_.plan, change.key, *change.reason);
      default: return cancelled_task(context_, change.key, *change.reason);
    }
  }

  void add_sheet(const Change& change) {
    if (!work_.sheet) throw std::logic_error("a sheet is wanted and none was given");
    if (!context_.inline_pdf && !context_.page) add_new("Binary", binary_identity(context_, work_.plan, change.key), binary(context_, work_.plan, *work_.sheet), std::nullopt);
    add(change.key, document_reference(context_, work_.plan, change.key, *work_.sheet, change.replaces));
  }

  // Its identity covers what was written and when: the same plan may come back.
  void add_provenance() {
    std::string content = fhir::format_utc(context_.now);
    for (const auto& entry : entries_) content += '\n' + entry.identity + json::write(entry.resource);
    if (targets_.empty()) return;
    // The CarePlan may stand already, as the shell.
    const auto others = [](const auto& one) { return one.key.kind != ItemKind::care_plan; };
    const auto created = std::ranges::count_if(work_.difference.changes, [&](const Change& c) { return others(c) && c.kind == ChangeKind::create; });
    const bool first = std::ranges::count_if(work_.after, others) == created;
    add_new("Provenance", identity(context_, work_.plan, "provenance", fhir::sha256_hex(content)), provenance(context_, work_.plan, targets_, first), std::nullopt);
  }

  void add(const clinical::ItemKey& key, Value resource) {
    const std::string type = type_of(key.kind), uuid = identity(context_, work_.plan, key);
    targets_.push_back(reference_to(context_, work_.plan, key));
    set_own_key(resource, key);
    // Which Task is to be stopped is said once, when the request is made.
    if (const OnServer* before = context_.standing(key); before && key.kind == ItemKind::cancellation && before->body.has("focus")) resource.set("focus", before->body["focus"]);
    if (context_.form == Form::file) return add_new(type.c_str(), uuid, std::move(resource), key);
    const OnServer* standing = context_.standing(key);
    if (!standing || standing->id.empty()) {
      if (key.kind == ItemKind::care_plan && entries_.empty()) throw std::logic_error("the CarePlan shell does not stand on the server");
      return add_new(type.c_str(), uuid, std::move(resource), key);
    }
    resource = with_id(std::move(resource), standing->id);
    keep_labels_of_others(resource, standing->body);
    Value request = Value::object({{"method", "PUT"}, {"url", type + "/" + standing->id}, {"ifMatch", standing->etag}});
    push(Value::object({{"resource", resource}, {"request", std::move(request)}}), {key, uuid, resource});
  }

  void add_new(const char* type, const std::string& uuid, Value resource, std::optional<clinical::ItemKey> key) {
    Value entry = Value::object();
    if (context_.form == Form::file) {
      resource = with_id(std::move(resource), uuid);
      entry.set("resource", resource).set("request", Value::object({{"method", "PUT"}, {"url", std::string(type) + "/" + uuid}}));
    } else {
      if (!own_identity(resource)) tag_with(resource, uuid);
      entry.set("fullUrl", "urn:uuid:" + uuid).set("resource", resource);
      entry.set("request", Value::object({{"method", "POST"}, {"url", type}}));
    }
    push(std::move(entry), {std::move(key), uuid, std::move(resource)});
  }

  void push(Value bundle_entry, Entry entry) {
    bundle_entries_.push(std::move(bundle_entry));
    entries_.push_back(std::move(entry));
  }

  const WriterContext& context_;
  const Work& work_;
  Value bundle_entries_ = Value::array();
  std::vector<Entry> entries_;
  std::vector<std::string> targets_;
};

}  // namespace

Transaction transaction(const WriterContext& context, const Work& work) {
  WriterContext dated = with_dates(context);
  for (const auto& item : work.after)
    if (item.key.kind == ItemKind::care_plan && item.state != clinical::Stands::withdrawn) dated.care_plan = item.key;
  return Builder(dated, work).build();
}

Shell shell(const WriterContext& context, const clinical::CasePlan& plan, const clinical::ItemKey& care_plan) {
  const std::string uuid = identity(context, plan, care_plan);
  // '|' is no character of a query; the rest of system and value is.
  Value resource = care_plan_shell(with_dates(context), plan, care_plan);
  set_own_key(resource, care_plan);
  return {std::move(resource), uuid, "identifier=" + std::string(fhir::item_identifier_system) + "%7C" + uuid};
}

}  // namespace fhir_write
