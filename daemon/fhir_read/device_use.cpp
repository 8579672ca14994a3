#include "clinical/names.h"
#include "fhir_read/access_site.h"
#include "fhir_read/readers.h"
#include "fhir_read/sheath.h"

#include <algorithm>

namespace fhir_read {
namespace {

using clinical::AccessEventKind;

// When somebody last said that it is in: the day it was asserted, else since when it is used.
std::optional<clinical::Moment> seen_at(const Resource& r, const Times& used, Reading& reading) {
  for (const auto* asserted : {"recordedOn", "dateAsserted"})
    if (r.body.has(asserted)) return moment_of(r.body[asserted], r, asserted, reading);
  return used.start;
}

}  // namespace

void read_device_use(const Resource& r, Reading& reading) {
  const auto status = r.body["status"].text();
  const bool in = status == "active" || status == "on-hold", over = status == "completed" || status == "stopped";
  if (!in && !over) return;
  const auto device = named_device(r.body["device"], r, reading);
  if (!device.sheath) return;
  AccessSite site;
  add_body_sites(concept_in(r.body["bodySite"]), r, reading, site);
  if (const auto& structure = r.body["bodySite"]["reference"]; structure.is_object()) add_sites_of(json::Value::object({{"bodyStructure", structure}}), r, reading, site);
  const bool elsewhere = !site.femoral && !r.body["bodySite"].is_null();
  if (elsewhere) return reading.inform(r, "bodySite", "not-femoral", "A sheath at another place than a femoral vessel.");
  const auto used = times_of(r.body, {"timing"}, r, reading);
  clinical::AccessEvent event;
  event.source = r.fact_source(device.by_name);
  event.side = only_side(site);
  event.vessel = only_vessel(site);
  for (const auto* reasons : {"derivedFrom", "reasonReference"})
    if (event.procedure.empty()) event.procedure = first_key(r.body[reasons], "Procedure", r);
  if (!device.french.empty()) event.french = *std::ranges::max_element(device.french);
  if (over) {
    event.kind = AccessEventKind::sheath_removed;
    event.at = used.single ? std::nullopt : used.end;
    event.recording_time_only = event.from_task = true;  // closed like a Task: it adds nothing where the removal itself is recorded
    if (!event.at) return reading.warn(r, "timing", "no-end", "The use of the sheath is over and does not say since when; it does not count as a removal.");
  } else {
    event.kind = AccessEventKind::sheath_in_place;
    event.at = seen_at(r, used, reading);
    if (!event.at) reading.warn(r, "timing", "no-time", "Says that the sheath is in and not when that was so.");
  }
  reading.record.access_events.push_back(std::move(event));
}

}  // namespace fhir_read
