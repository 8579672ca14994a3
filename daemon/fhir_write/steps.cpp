#include "fhir_write/steps.h"

#include <algorithm>

#include "fhir/codes.h"
#include "fhir_write/lookup.h"

namespace fhir_write {
namespace {

using json::Value;

bool is_new(const Value& entry) { return entry["request"]["method"].text() == "POST"; }
std::string_view type_in(const Value& entry) { return entry["resource"]["resourceType"].text(); }
bool takes_back(const Value& entry) { return type_in(entry) == "Task" && !is_new(entry) && entry["resource"]["status"].text() == "cancelled"; }

SingleWrite write_of(const Value& entry, std::size_t at) {
  SingleWrite one;
  one.entry = at;
  one.method = entry["request"]["method"].text();
  one.path = entry["request"]["url"].text();
  one.if_match = entry["request"]["ifMatch"].text();
  one.identity = identity_in(entry);
  one.resource = entry["resource"];
  if (is_new(entry) && own_identity(one.resource)) one.if_none_exist = "identifier=" + std::string(fhir::item_identifier_system) + "%7C" + one.identity;
  for (const Value& tag : one.resource["meta"]["tag"].items())
    if (is_new(entry) && one.if_none_exist.empty() && tag["system"].text() == fhir::item_identifier_system)
      one.tagged = std::string(fhir::item_identifier_system) + "%7C" + std::string(tag["code"].text());
  return one;
}

/// The same plan without what does not stand yet.
Value as_draft(Value care_plan) {
  Value activities = Value::array();
  for (const Value& activity : care_plan["activity"].items())
    if (!activity["reference"]["reference"].text().starts_with("urn:uuid:")) activities.push(activity);
  care_plan.erase("activity");
  care_plan.set_present("activity", std::move(activities));
  care_plan.set("status", "draft");
  return care_plan;
}

}  // namespace

std::vector<SingleWrite> single_writes(const Value& bundle) {
  const auto entries = bundle["entry"].items();
  const bool new_tasks = std::ranges::any_of(entries, [](const Value& entry) { return is_new(entry) && type_in(entry) == "Task"; });
  std::vector<SingleWrite> writes;
  const auto add = [&](const auto& wanted) {
    for (std::size_t at = 0; at < entries.size(); ++at)
      if (wanted(entries[at])) writes.push_back(write_of(entries[at], at));
  };
  const auto is_plan = [](const Value& entry) { return type_in(entry) == "CarePlan"; };
  const auto is_task = [](const Value& entry) { return type_in(entry) == "Task"; };
  add(takes_back);
  if (new_tasks) {
    const std::size_t first = writes.size();
    add([&](const Value& entry) { return is_plan(entry) && entry["resource"]["status"].text() == "active"; });
    for (std::size_t i = first; i < writes.size(); ++i) writes[i].resource = as_draft(std::move(writes[i].resource));
  }
  add([&](const Value& entry) { return is_task(entry) && !takes_back(entry); });
  const std::size_t plans = writes.size();
  add(is_plan);
  for (std::size_t i = plans; i < writes.size(); ++i)
    if (std::ranges::any_of(writes.begin(), writes.begin() + static_cast<std::ptrdiff_t>(plans), [&](const SingleWrite& one) { return one.entry == writes[i].entry; }))
      writes[i].if_match.clear();
  add([&](const Value& entry) { return !is_plan(entry) && !is_task(entry); });
  return writes;
}

}  // namespace fhir_write
