#include <algorithm>

#include "fhir_read/access_site.h"
#include "fhir_read/observation.h"
#include "fhir_read/readers.h"
#include "fhir_read/sheath.h"
#include "fhir_read/values.h"
#include "fhir_read/word_names.h"

namespace fhir_read {
namespace {

using clinical::AccessEventKind;

bool is_start(AccessEventKind kind) {
  return kind == AccessEventKind::sheath_inserted || kind == AccessEventKind::compression_started || kind == AccessEventKind::pressure_changed ||
         kind == AccessEventKind::rebleed || kind == AccessEventKind::sheath_upsized || kind == AccessEventKind::sheath_in_place;
}

// What must not be lost for want of a status.
bool is_trouble(AccessEventKind kind) { return kind == AccessEventKind::rebleed || kind == AccessEventKind::closure_failed; }

// A start may be under way; everything else must be over to have happened.
bool happened(const Resource& r, AccessEventKind kind, Reading& reading) {
  const auto status = r.body["status"].text();
  if (is_trouble(kind) && (status == "unknown" || status.empty())) {
    reading.warn(r, "status", "unknown-status", "Whether it happened is not said; trouble counts as having happened.");
    return true;
  }
  if (status == "completed" || (is_start(kind) && (status == "in-progress" || status == "stopped"))) return true;
  const std::string text = "Status \"" + std::string(status) + "\": it is not taken to have happened.";
  if (status == "not-done" || status == "preparation") {
    reading.inform(r, "status", "not-done", text);
  } else {
    reading.warn(r, "status", "not-done", text);
  }
  return false;
}

// Start of what starts, end of what ends. Something that takes no time may give either.
std::optional<clinical::Moment> time_of_event(const Times& times, AccessEventKind kind) {
  if (kind == AccessEventKind::compression_ended) return times.end;
  if (is_start(kind)) return times.start;
  return times.end ? times.end : times.start;
}

}  // namespace

void read_access_event(const Resource& r, AccessEventKind kind, Reading& reading) {
  if (!happened(r, kind, reading)) return;
  clinical::AccessEvent event;
  event.source = r.fact_source();
  event.kind = kind;
  event.at = time_of_event(times_of(r.body, {"performed", "occurrence", "effective"}, r, reading), kind);
  if (!event.at) reading.warn(r, "performed", "no-time", "The event has no usable time.");
  event.procedure = named_procedure(r, reading);
  AccessSite site = access_site_of(r.body, r, reading);
  event.side = only_side(site);
  event.vessel = only_vessel(site);
  if (const auto sizes = french_of_extensions(r.body, r, reading); !sizes.empty()) event.french = *std::ranges::max_element(sizes);
  event.method = closure_named(code_value(extension_of(r.body, "closure-method", reading), "", reading)).value_or(clinical::Closure::unknown);
  event.pressure = value_of(extension_of(r.body, "pressure", reading)["valueQuantity"], fhir::QuantityKind::millimetres_mercury, r,
                            "extension[pressure].valueQuantity", reading);
  if (kept_as_doubt(event, r, reading)) return;
  reading.record.access_events.push_back(std::move(event));
}

}  // namespace fhir_read
