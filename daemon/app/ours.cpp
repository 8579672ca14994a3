#include "app/ours.h"

#include <algorithm>
#include <charconv>

#include "app/case_notes.h"
#include "app/lanes.h"
#include "app/owners.h"
#include "app/served.h"
#include "app/standing_items.h"
#include "fhir_read/intake.h"
#include "fhir_write/identity.h"
#include "fhir_write/verify.h"

namespace app {
namespace {

using store::Item;
using store::Result;

std::string etag_of(const json::Value& resource) {
  const std::string version = fhir_read::subject_of(resource).version;
  return version.empty() ? "" : "W/\"" + version + "\"";
}

/// W/"3" before W/"12"; false where the two are no plain numbers.
bool is_before(std::string_view a, std::string_view b) {
  const auto number = [](std::string_view etag) -> std::optional<std::int64_t> {
    const auto first = etag.find('"');
    if (first == std::string_view::npos || etag.size() < first + 2) return std::nullopt;
    const auto digits = etag.substr(first + 1, etag.size() - first - 2);
    std::int64_t value = 0;
    const auto read = std::from_chars(digits.data(), digits.data() + digits.size(), value);
    return read.ec == std::errc{} && read.ptr == digits.data() + digits.size() ? std::optional(value) : std::nullopt;
  };
  const auto first = number(a), second = number(b);
  return first && second && *first < *second;
}

clinical::Standing standing_from(const clinical::ItemKey& key, const json::Value& resource, const std::vector<std::string>& owners) {
  clinical::Standing standing{key, "", fhir_write::stands_by_content(resource, owners), "", std::nullopt};
  if (resource["resourceType"].text() != "Task") return standing;
  const auto brief = fhir_read::task_brief(resource);
  if (standing.state == clinical::Stands::open || standing.state == clinical::Stands::withdrawn) return standing;
  standing.claimed_by = brief.owner;
  if (standing.state != clinical::Stands::claimed) standing.ended = brief.changed;
  return standing;
}

}  // namespace

void Ours::note_writer(store::Case& row, const json::Value& care_plan) const {
  CaseNotes notes = notes_of(row);
  const std::string writer = fhir_write::written_by(care_plan);
  const auto status = care_plan["status"].text();
  notes.foreign.clear();
  if (row.state != "withdrawn" && row.state != "finished" && (status == "on-hold" || status == "revoked" || status == "entered-in-error" || status == "completed"))
    notes.foreign = "was set to " + std::string(status) + " by somebody: settle it with them, and set it to active to go on";
  if (!writer.empty() && writer != rules_.installation)
    notes.foreign = "carries the tag of installation " + writer + ": stop the other one, or take its tag off, or, if its store is lost, start anew with record.takes_over";
  row.extra = text_of(notes);
}

/// The case's CarePlan: its version, and who writes it. `resource` null: the version only.
Result<void> Ours::care_plan_at(store::Store& store, const Item& item, const json::Value* resource) {
  auto row = store.case_of(item.case_key);
  if (row.has_error()) return row.error();
  if (!*row) return {};
  if (resource) note_writer(**row, *resource);
  const bool current = (*row)->care_plan_id == item.server_id;
  const bool forgotten = (*row)->care_plan_etag.empty();  // which one it was is looked for
  if (!current && ((!(*row)->care_plan_id.empty() && !forgotten) || item.status != "open")) return store.put_case(**row);
  (*row)->care_plan_id = item.server_id;
  (*row)->care_plan_etag = item.etag;
  return store.put_case(**row);
}

Result<void> Ours::moves(store::Store& store, const std::string& case_key, const store::Event& event, Taken& taken, const char* why) {
  const auto row = store.case_of(case_key);
  if (row.has_error()) return row.error();
  if (*row) taken.patients.insert({(*row)->source, (*row)->patient});
  if (taken.ending.state == store::EventState::irrelevant) taken.ending = {event.id, store::EventState::applied, store::Mark::none, why};
  return {};
}

Result<void> Ours::touched(store::Store& store, Item item, const json::Value& resource) {
  item.etag = etag_of(resource);
  if (item.type == "Task") {
    const fhir_read::TaskBrief brief = fhir_read::task_brief(resource);
    mark_touched(item, brief.status, brief.owner, brief.changed ? std::optional(brief.changed->time_since_epoch().count() * 1000) : std::nullopt);
  } else {
    item.body = json::write(resource);  // what is ended later is ended in their words
    if (fhir_write::is_ended_issue(resource)) mark_touched(item, "rejected", "", std::nullopt);
  }
  if (item.type == "CarePlan")
    if (auto kept = care_plan_at(store, item, &resource); kept.has_error()) return kept;
  return store.put_item(item);
}

Result<void> Ours::remembered(store::Store& store, Item item, const json::Value& resource) {
  item.etag = etag_of(resource);
  item.body = json::write(resource);
  if (item.type == "CarePlan")
    if (auto kept = care_plan_at(store, item, &resource); kept.has_error()) return kept;
  return store.put_item(item);
}

Result<void> Ours::adopt(store::Store& store, const store::Event& event, const json::Value& resource, const std::string& identity, Taken& taken) {
  const auto key = fhir_write::own_key(resource);
  if (!key) return {};
  const auto rows = store.cases_of_patient("", fhir_read::subject_of(resource, rules_.configuration.record ? rules_.configuration.record->base_url : "").patient);
  if (rows.has_error()) return rows.error();
  for (const store::Case& row : *rows) {
    if (fhir_write::identity_of(rules_.record_key, notes_of(row).identity, *key) != identity) continue;
    auto standing = standing_from(*key, resource, owners_of(rules_.configuration.site));
    const std::string writer = fhir_write::written_by(resource);
    if (event.resource_type == "Task" && standing.state == clinical::Stands::open && writer != rules_.installation) standing.state = clinical::Stands::claimed;
    Item item = row_of(standing, row.key, identity, event.resource_type);
    item.server_id = event.resource_id;
    if (auto kept = remembered(store, std::move(item), resource); kept.has_error()) return kept;
    return moves(store, row.key, event, taken, "ours, not known here any more: taken over as it stands");
  }
  return {};
}

Result<void> Ours::deleted(store::Store& store, const store::Event& event, Taken& taken) {
  auto item = store.item_by_server_id(event.resource_type, event.resource_id);
  if (item.has_error()) return item.error();
  if (!*item) return {};
  auto row = store.case_of((*item)->case_key);
  if (row.has_error()) return row.error();
  if (!*row) return {};
  if (event.resource_type == "Task") {
    mark_touched(**item, "rejected", "", event.received_at);
  } else {
    (*item)->status = (*item)->intended_status = "withdrawn";
  }
  if (auto put = store.put_item(**item); put.has_error()) return put;
  if (event.resource_type == "CarePlan" && (*row)->care_plan_id == event.resource_id) {
    (*row)->care_plan_id.clear();
    (*row)->care_plan_etag.clear();
    if (auto put = store.put_case(**row); put.has_error()) return put;
    auto items = store.items_of_case((*row)->key);
    if (items.has_error()) return items.error();
    for (Item& one : *items) {  // they name the deleted one: written anew, for the next
      if (one.status != "open") continue;
      one.intended_hash.clear();
      if (auto put = store.put_item(one); put.has_error()) return put;
    }
  }
  return moves(store, (*row)->key, event, taken, "ours, deleted by somebody");
}

/// Something about a resource that is served here, and not the version that is: a copy that somebody sends on. Whoever means to change it does so by PUT
/// under If-Match; what is overtaken by a later change has nothing to say either.
bool Ours::not_the_one_served(store::Store& store, const store::Event& event) const {
  if (!is_served(rules_, event.resource_type) || !event.source.empty()) return false;
  const auto held = store.current(kServedSource, event.resource_type, event.resource_id);
  return held.has_value() && *held && (*held)->content_hash != event.content_hash;
}

Result<void> Ours::recognise(store::Store& store, const store::Event& event, Taken& taken) {
  if (not_the_one_served(store, event)) {
    taken.ending = {event.id, store::EventState::irrelevant, store::Mark::none, "served here, in another version: changed by PUT under If-Match only"};
    taken.fact.reset();
    taken.patients.clear();
    return {};
  }
  if (event.method == "DELETE") return deleted(store, event, taken);
  if (event.body.empty()) return {};
  const auto body = json::parse(event.body);
  if (body.has_error()) return {};
  const auto identity = fhir_write::own_identity(*body);
  if (!identity) return {};
  auto held = store.item(*identity);
  if (held.has_error()) return held.error();
  if (!*held) return adopt(store, event, *body, *identity, taken);
  Item& item = **held;
  const std::string etag = etag_of(*body);
  if (item.etag.empty() && !item.server_id.empty()) {  // an older copy of the store was put back: it cannot tell its own writes
    const auto key = key_of(item);
    if (!key) return {};
    Item as_it_stands = row_of(standing_from(*key, *body, owners_of(rules_.configuration.site)), item.case_key, *identity, item.type);
    as_it_stands.server_id = event.resource_id;  // where it is seen: a record may have told another place when it was made
    if (auto kept = remembered(store, std::move(as_it_stands), *body); kept.has_error()) return kept;
    return moves(store, item.case_key, event, taken, "ours: taken over as it stands");
  }
  const bool older = fhir_read::relevant(event.resource_type) ? taken.ending.state == store::EventState::irrelevant : is_before(etag, item.etag);
  const bool echo = event.request_id != kStandsNow && item.window.find(etag) != std::string::npos;
  if (older || (!etag.empty() && (item.etag == etag || echo))) {
    taken.ending = {event.id, store::EventState::irrelevant, store::Mark::none, "our own write"};
    taken.fact.reset();
    taken.patients.clear();
    return item.type == "CarePlan" && item.etag == etag ? care_plan_at(store, item, nullptr) : Result<void>{};
  }
  if (auto kept = touched(store, item, *body); kept.has_error()) return kept;
  return moves(store, item.case_key, event, taken, "ours, written by somebody else");
}

Result<void> Ours::recognise_paper(store::Store& store, const store::Event& event, Taken& taken) {
  if (event.resource_type != "Task" || event.body.empty()) return {};
  const auto body = json::parse(event.body);
  if (body.has_error() || fhir_read::task_brief(*body).status != "completed") return {};
  const auto identity = fhir_write::own_identity(*body);
  auto held = identity ? store.item(*identity) : Result<std::optional<Item>>(std::optional<Item>());
  if (held.has_error()) return held.error();
  if (!*held || (*held)->step != "print-sheet") return {};
  if (auto kept = touched(store, **held, *body); kept.has_error()) return kept;
  return moves(store, (*held)->case_key, event, taken, "ours, completed by somebody");
}

}  // namespace app
