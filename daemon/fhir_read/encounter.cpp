#include "fhir_read/readers.h"

namespace fhir_read {
namespace {

// Unit and bed as they are called: the Location's own name, with that of the place it is part of.
std::string place_name(const json::Value& reference, const Resource& r, const Reading& reading) {
  const auto* location = reading.set.resolve(reference, r);
  if (!location || (*location)["name"].text().empty()) return shown(reference, r, reading);
  std::string name((*location)["name"].text());
  if (const auto* whole = reading.set.resolve((*location)["partOf"], r); whole && !(*whole)["name"].text().empty()) {
    name = std::string((*whole)["name"].text()) + ", " + name;
  }
  return name;
}

// The last location that is neither planned nor left.
const json::Value* current_location(const json::Value& encounter) {
  const json::Value* current = nullptr;
  for (const auto& one : encounter["location"].items()) {
    const auto status = one["status"].text();
    if (status != "planned" && status != "completed" && status != "reserved" && !one["period"].has("end")) current = &one["location"];
  }
  return current;
}

}  // namespace

void read_encounter(const Resource& r, Reading& reading) {
  const auto status = r.body["status"].text();
  if (status == "cancelled" || status == "planned") return;
  clinical::Encounter out;
  out.source = r.fact_source();
  if (status == "discontinued") reading.inform(r, "status", "discontinued", "The encounter was broken off; that is not taken for a discharge.");
  const bool finished = status == "finished" || status == "completed" || status == "discharged";
  out.in_progress = status == "in-progress" || status == "arrived" || status == "triaged" || status == "onleave" || status == "on-hold";
  const auto* period = r.body.has("actualPeriod") ? "actualPeriod" : "period";
  auto times = period_of(r.body[period], r, period, reading);
  if (r.body.has("actualPeriod") && r.body.has("period")) times = spanning(times, period_of(r.body["period"], r, "period", reading));
  out.start = times.start;
  if (finished) out.end = times.end;
  if (out.in_progress) read_responsible(r, reading);
  if (finished && !times.end) reading.warn(r, period, "no-end", "The encounter is finished and does not say when.");
  if (const auto* location = current_location(r.body)) {
    out.place = place_name(*location, r, reading);
    out.place_reference = key_of(*location, r);
  }
  reading.record.encounters.push_back(std::move(out));
}

}  // namespace fhir_read
