// Any bytes as a resource or a Bundle, read as somebody would: taken apart, grouped by patient, read for facts. It must end, and a fact must say
// where it comes from.
#include "fhir_read/intake.h"
#include "fhir_read/load_terminology.h"
#include "fhir_read/read_record.h"

#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <set>
#include <string_view>

namespace {

const fhir_read::Terminology& terminology() {
  static const auto loaded = fhir_read::load_terminology(SOURCE_DIR "/profiles/terminology");
  if (!loaded) std::abort();
  return *loaded;
}

template <class Facts>
void have_sources(const Facts& facts) {
  for (const auto& fact : facts)
    if (fact.source.reference.empty()) std::abort();
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const auto parsed = json::parse({reinterpret_cast<const char*>(data), size});  // NOLINT: bytes as they come
  if (!parsed) return 0;
  std::vector<fhir_read::ResourceEvent> events;
  if ((*parsed)["resourceType"].text() == "Bundle") events = fhir_read::entries_of(*parsed).events;
  else if (!fhir_read::shape_fault(*parsed, "")) events.push_back({"PUT", std::string((*parsed)["resourceType"].text()), std::string((*parsed)["id"].text()), "", *parsed, ""});
  std::set<std::string> patients;
  for (const auto& e : events) patients.insert(fhir_read::subject_of(e.body).patient);
  const auto site = fhir_read::default_site_map();
  for (const auto& patient : patients) {
    fhir_read::ResourceSet set(patient);
    for (const auto& e : events) set.add({"", "", e.type, e.id, e.version, e.body});
    (void)fhir_read::wanted_targets(set);
    const auto result = fhir_read::read_record(set, site, terminology());
    have_sources(result.record.administrations);
    have_sources(result.record.measurements);
    have_sources(result.record.access_events);
    have_sources(result.record.orders);
  }
  for (const auto& e : events) (void)fhir_read::element_faults(e.body);
  return 0;
}
