// What the record showed, and what of it is journalled: what is held already is left out, and so is what is somebody else's.
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "app/looking.h"
#include "app/take_event.h"
#include "fhir_read/intake.h"
#include "json/tree.h"

namespace app {

bool Looking::held(const Found& found) {
  const store::NewEvent& event = found.event;
  if (event.method == "DELETE" && event.resource_type == "OperationOutcome") {  // nothing is kept back, and nothing was
    const auto fact = parts_.store.current(event.source, event.resource_type, event.resource_id);
    return fact.has_value() && (!*fact || (*fact)->deleted);
  }
  if (event.method == "DELETE") return false;
  if (!found.identity.empty()) {
    const auto item = parts_.store.item(found.identity);
    const std::string etag = "W/\"" + event.version_id + "\"";
    if (item.has_value() && *item && ((*item)->etag == etag || (*item)->window.find(etag) != std::string::npos)) return true;
  }
  const auto fact = parts_.store.current(event.source, event.resource_type, event.resource_id);
  if (fact.has_error() || !*fact || (*fact)->deleted) return false;
  if ((*fact)->version_id != event.version_id && !(event.version_id.empty() && (*fact)->version_id.empty())) return false;
  if ((*fact)->content_hash == event.content_hash) return true;
  // The same version in other words is another spelling, or a record that amends without a new version.
  const auto here = json::parse((*fact)->body), there = json::parse(event.body);
  return here.has_value() && there.has_value() && *here == *there;
}

/// Two Patients, one of whom names the other (Patient.link): one chart, or one person.
bool Looking::are_one(const std::string& patient, const std::string& other) const {
  const auto names = [this](const std::string& one, const std::string& another) {
    const auto held = parts_.store.current("", "Patient", one.substr(one.find('/') + 1));
    if (held.has_error() || !*held) return false;
    const auto body = json::parse((*held)->body);
    if (body.has_error()) return false;
    return std::ranges::any_of((*body)["link"].items(), [&](const json::Value& link) { return link["other"]["reference"].text().ends_with(another); });
  };
  return names(patient, other) || names(other, patient);
}

/// A chart that was merged is shown under both its names. A record that answers with the facts of others overlooks whom it was asked about, and what is theirs is no
/// business of ours. Of one other alone the link may not have been read yet: that Patient is asked for once. Returns the types that this leaves in doubt.
std::set<std::string> Looking::leave_out_strangers(std::vector<Found>& found) {
  std::map<std::string, std::set<std::string>> others;  // by type
  for (const Found& one : found)
    if (!one.about.empty() && !are_one(one.asked_for, one.about)) others[one.event.resource_type].insert(one.about);
  if (others.empty()) return {};
  std::erase_if(found, [&](const Found& one) { return !one.about.empty() && others.contains(one.event.resource_type) && others[one.event.resource_type].contains(one.about); });
  std::set<std::string> in_doubt;
  for (const auto& [type, patients] : others) {
    if (patients.size() == 1 && others_read_.emplace(*patients.begin(), rounds_).first->second == rounds_) {
      in_doubt.insert(type);
      owe(*patients.begin());
      continue;
    }
    strangers_.insert(type);
    parts_.alarms.raise("look strangers", fmt::format("the record answers a search for {} of one patient with those of others: what is theirs is left out; look whether it takes the search parameter patient", fmt::join(strangers_, ", ")));
  }
  return in_doubt;
}

void Looking::journal(std::vector<Found> found, std::vector<Found> notes, const std::string& name, std::function<void(bool durable, std::size_t fresh)> then) {
  std::vector<store::NewEvent> events;
  for (Found& note : notes)
    if (!held(note)) note.event.request_id = kReadByUs, events.push_back(std::move(note.event));
  const std::size_t noted = events.size();
  for (Found& one : found)
    if (!held(one)) {
      const auto asked = held_when_asked_.find(one.event.resource_type + "/" + one.event.resource_id);
      one.event.request_id = !one.alone ? kReadByUs : asked == held_when_asked_.end() ? kReadAlone : read_alone_after(asked->second);
      if (one.event.resource_type == "Patient" && one.event.method == "PUT") follow_merger(one.event.body);
      events.push_back(std::move(one.event));
    }
  const std::size_t fresh = events.size() - noted;
  if (events.empty()) return then(true, 0);
  parts_.log.info(fmt::format("looked at {}: {} new", name, fresh));
  parts_.submit(std::move(events), [alive = std::weak_ptr<int>(alive_), fresh, then = std::move(then)](bool durable) {
    if (alive.lock()) then(durable, fresh);
  });
}

/// The chart goes on under another Patient: that one is read as well.
void Looking::follow_merger(const std::string& body) {
  const auto patient = json::parse(body);
  if (patient.has_error()) return;
  const auto state = fhir_read::patient_state(*patient, parts_.rules.configuration.record->base_url);
  if (!state.replaced_by.empty() && asked_.insert(state.replaced_by).second) single_.insert(state.replaced_by);
}

}  // namespace app
