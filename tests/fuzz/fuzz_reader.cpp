// Any JSON as the members of a resource of one type (READER_TYPE) about one patient: it must end, twice the same, each fact must say where it comes
// from, and what a sender is told must name a place in this resource. One target a reader, so that none lives on what the others find.
#include "fhir_read/intake.h"
#include "fhir_read/load_terminology.h"
#include "fhir_read/read_record.h"
#include "fhir_read/reading_issues.h"

#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string_view>

namespace {

constexpr const char* kType = READER_TYPE;

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

void look_at(const clinical::Record& record) {
  have_sources(record.procedures);
  have_sources(record.administrations);
  have_sources(record.measurements);
  have_sources(record.access_events);
  have_sources(record.home_drugs);
  have_sources(record.risks);
  have_sources(record.orders);
  have_sources(record.withheld);
  have_sources(record.remarks);
}

// The resource as of one type and one patient, whatever the bytes say.
json::Value resource_of(const json::Value& parsed) {
  auto resource = json::Value::object({{"resourceType", kType}, {"id", "x"}});
  for (const auto& [name, value] : parsed.members())
    if (name != "resourceType" && name != "id" && name != "subject" && name != "patient" && name != "for") resource.set(name, value);
  const std::string_view type = kType;
  const auto patient = json::Value::object({{"reference", "Patient/a"}});
  if (type == "Task") resource.set("for", patient);
  else if (type == "Patient") resource.set("id", "a");
  else resource.set(type == "AllergyIntolerance" || type == "Consent" ? "patient" : "subject", patient);
  return resource;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const auto parsed = json::parse({reinterpret_cast<const char*>(data), size});  // NOLINT: bytes as they come
  if (!parsed || !parsed->is_object()) return 0;
  const auto resource = resource_of(*parsed);
  static const auto site = fhir_read::default_site_map();
  fhir_read::ResourceSet set("Patient/a");
  set.add({"", "", kType, std::string(resource["id"].text()), "1", resource});
  (void)fhir_read::wanted_targets(set);
  const auto result = fhir_read::read_record(set, site, terminology());
  look_at(result.record);
  if (fhir_read::read_record(set, site, terminology()).issues != result.issues) std::abort();
  for (const auto& issue : fhir_read::reading_issues(resource, site, terminology()))
    if (!issue.at.starts_with(kType)) std::abort();
  (void)fhir_read::element_faults(resource);
  return 0;
}
