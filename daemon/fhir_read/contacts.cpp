// Whom to call, as the record names them: members of the care team, and who answers for the stay. A number is shown as it is written, with the resource
// it stands in; none is made up, completed or looked for elsewhere.
#include "fhir_read/readers.h"

#include <algorithm>

namespace fhir_read {
namespace {

constexpr std::size_t kLongest = 40;  // bytes of a number

bool is_number_to_call(const json::Value& point) {
  const auto system = point["system"].text(), use = point["use"].text();
  const auto value = point["value"].text();
  return (system == "phone" || system == "pager" || system == "sms") && use != "old" && !point["period"].has("end") && !value.empty() && value.size() <= kLongest;
}

// The one of the best rank; the first of those that are equal. R5 puts them below `contact`.
std::string number_in(const json::Value& resource) {
  std::vector<const json::Value*> points;
  for (const auto& point : resource["telecom"].items()) points.push_back(&point);
  for (const auto& contact : resource["contact"].items())
    for (const auto& point : contact["telecom"].items()) points.push_back(&point);
  const json::Value* best = nullptr;
  const auto rank = [](const json::Value& point) { return point["rank"].integer().value_or(1'000); };
  for (const auto* point : points)
    if (is_number_to_call(*point) && (!best || rank(*point) < rank(*best))) best = point;
  return best ? std::string((*best)["value"].text()) : std::string();
}

// A PractitionerRole leads to its Practitioner and its Organization.
void take_number(const json::Value& reference, const Resource& r, const Reading& reading, clinical::Contact& out, int depth = 0) {
  const auto* target = reading.set.resolve(reference, r);
  if (!target || !out.phone.empty() || depth > 2 || (*target)["active"].boolean() == false) return;
  if (auto number = number_in(*target); !number.empty()) {
    out.phone = std::move(number);
    out.phone_source = std::string((*target)["resourceType"].text()) + "/" + std::string((*target)["id"].text());
    return;
  }
  for (const auto* next : {"practitioner", "organization"})
    if ((*target)[next].is_object()) take_number((*target)[next], r, reading, out, depth + 1);
}

// "Dr A. Invented" of a display, else of the Practitioner behind a PractitionerRole.
std::string name_of(const json::Value& reference, const Resource& r, const Reading& reading) {
  const auto* target = reading.set.resolve(reference, r);
  if (reference["display"].text().empty() && target && (*target)["practitioner"].is_object()) return shown((*target)["practitioner"], r, reading);
  return shown(reference, r, reading);
}

bool inactive(const json::Value& reference, const Resource& r, const Reading& reading) {
  const auto* target = reading.set.resolve(reference, r);
  return target && (*target)["active"].boolean() == false;
}

bool somebody(const json::Value& reference) {
  const auto target = fhir::read_reference(reference);
  return reference.is_object() && target.type != "Patient" && target.type != "RelatedPerson" && target.type != "Device";
}

void add(const json::Value& reference, std::string role, const Times& times, const Resource& r, Reading& reading) {
  if (!somebody(reference) || inactive(reference, r, reading)) return;
  clinical::Contact out;
  out.source = r.fact_source();
  out.who = name_of(reference, r, reading);
  out.role = std::move(role);
  out.from = times.start;
  out.until = times.end;
  take_number(reference, r, reading, out);
  if (!out.who.empty()) reading.record.contacts.push_back(std::move(out));
}

Times period_in(const json::Value& element, const Resource& r, std::string_view path, Reading& reading) {
  return element["period"].is_object() ? period_of(element["period"], r, path, reading) : Times{};
}

}  // namespace

void read_care_team(const Resource& r, Reading& reading) {
  const auto status = r.body["status"].text();
  if (!status.empty() && status != "active") return;
  const auto times = period_in(r.body, r, "period", reading);
  if (auto number = number_in(r.body); !number.empty()) {
    const auto name = r.body["name"].text();
    reading.record.contacts.push_back({r.fact_source(), name.empty() ? r.key() : std::string(name), "", std::move(number), r.key(), times.start, times.end});
  }
  for (const auto& participant : r.body["participant"].items()) {
    const auto roles = list_of(participant["role"]);
    auto own = period_in(participant, r, "participant.period", reading);
    if (!own.start) own.start = times.start;
    if (!own.end) own.end = times.end;
    add(participant["member"], roles.empty() ? "" : title_of(*roles.front()), own, r, reading);
  }
}

// Attending, admitting and primary performers of v3-ParticipationType, of a stay that goes on.
void read_responsible(const Resource& r, Reading& reading) {
  for (const auto& participant : r.body["participant"].items()) {
    for (const auto* type : list_of(participant["type"])) {
      const bool answers = std::ranges::any_of((*type)["coding"].items(), [](const json::Value& c) { return c["code"].text() == "ATND" || c["code"].text() == "PPRF"; });
      if (!answers) continue;
      auto role = title_of(*type);
      if (role == "ATND" || role == "PPRF") role.clear();
      add(first_of(participant, {"individual", "actor"}), std::move(role), period_in(participant, r, "participant.period", reading), r, reading);
      break;
    }
  }
}

}  // namespace fhir_read
