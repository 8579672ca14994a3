#include "fhir_read/observation.h"

#include "clinical/names.h"
#include "fhir/codes.h"
#include "fhir_read/access_site.h"
#include "fhir_read/kidney.h"
#include "fhir_read/readers.h"
#include "fhir_read/risk.h"
#include "fhir_read/unmapped.h"

namespace fhir_read {

ResultStatus result_status(const Resource& r, Reading& reading) {
  const auto status = r.body["status"].text();
  if (status == "final" || status == "amended" || status == "corrected" || status == "appended") return ResultStatus::final;
  if (status == "preliminary") return ResultStatus::preliminary;
  if (status == "registered" || status == "cancelled") {
    reading.inform(r, "status", "no-result", "Status \"" + std::string(status) + "\": there is no result.");
    return ResultStatus::none;
  }
  reading.warn(r, "status", "unknown-status", "Status \"" + std::string(status) + "\" is unclear; the value counts as preliminary.");
  return ResultStatus::preliminary;
}

std::optional<clinical::Moment> written_down(const Resource& r, Reading& reading) {
  if (const auto issued = moment_of(r.body["issued"], r, "issued", reading)) return issued;
  return moment_of(r.body["meta"]["lastUpdated"], r, "meta.lastUpdated", reading);
}

namespace {

void read_haemostasis(const Resource& r, clinical::AccessEventKind kind, Reading& reading) {
  const bool denied = r.body["valueBoolean"].boolean() == false;
  const bool out = denied && kind == clinical::AccessEventKind::sheath_in_place;  // not there any more: it came out, nobody says when
  if ((denied && !out) || r.body.has("dataAbsentReason") || result_status(r, reading) == ResultStatus::none) return;
  clinical::AccessEvent event;
  event.source = r.fact_source();
  event.kind = out ? clinical::AccessEventKind::sheath_removed : kind;
  if (!out) event.at = moment_of(times_of(r.body, {"effective"}, r, reading));
  event.procedure = named_procedure(r, reading);
  AccessSite site;
  add_sites_of(r.body, r, reading, site);
  event.side = only_side(site);
  event.vessel = only_vessel(site);
  if (kept_as_doubt(event, r, reading)) return;
  reading.record.access_events.push_back(std::move(event));
}

}  // namespace

void read_observation(const Resource& r, Reading& reading) {
  const auto& code = r.body["code"];
  if (const auto statement = code_in(code, fhir::system_uri::access_statement, reading); !statement.empty()) return read_statement(r, statement, reading);
  if (const auto finding = code_in(code, fhir::system_uri::check_finding, reading); finding == "site-check") return read_site_check(r, reading);
  else if (!finding.empty()) return read_single_finding(r, reading);
  if (const auto event = clinical::access_event_named(code_in(code, fhir::system_uri::access_event, reading)); event == clinical::AccessEventKind::sheath_in_place)
    return read_haemostasis(r, *event, reading);
  auto codes = codes_of(code, reading);
  for (auto& said : codes_of(r.body["valueCodeableConcept"], reading)) codes.push_back(std::move(said));
  for (const auto& one : codes) {
    if (const auto event = reading.terms.events.find(one.key); event != reading.terms.events.end()) return read_haemostasis(r, event->second, reading);
  }
  if (read_measurements(r, reading) || read_filtration_rate(r, reading)) return;
  const bool risk = risk_of(code, reading) || (r.body["valueCodeableConcept"].is_object() && risk_of(r.body["valueCodeableConcept"], reading));
  if (risk) read_risk_observation(r, reading);
  else tell_unmapped_result(r, reading);
}

void keep_doubtful_observation(const Resource& r, Reading& reading) { keep_absent_measurements(r, reading); }

}  // namespace fhir_read
