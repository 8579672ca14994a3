#include "fhir_read/reading_issues.h"

#include <algorithm>

#include "fhir_read/intake.h"
#include "fhir_read/read_record.h"
#include "fhir_read/resource_set.h"

namespace fhir_read {

fhir::Issues reading_issues(const json::Value& resource, const SiteMap& site, const Terminology& terms) {
  const std::string type(resource["resourceType"].text());
  if (!relevant(type)) return {};
  const std::string patient = subject_of(resource, "").patient;
  if (patient.empty()) return {};
  ResourceSet set(patient);
  const std::string id(resource["id"].text().empty() ? std::string_view("new") : resource["id"].text());
  set.add({"", "", type, id, "", resource});
  fhir::Issues issues = read_record(set, site, terms).issues;
  const bool refers = resource.has("medicationReference");
  std::erase_if(issues, [&](const fhir::Issue& issue) {
    return issue.severity == fhir::Severity::information || issue.code == "no-case" || (refers && issue.at.find(".medication") != std::string::npos) || !issue.at.starts_with(type + "/" + id);
  });
  return issues;
}

}  // namespace fhir_read
