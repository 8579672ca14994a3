// Invented resources for the reader's tests: one patient "Patient/a", everything marked HTEST.
#pragma once

#include "fhir_read/load_terminology.h"
#include "fhir_read/read_record.h"

#include <initializer_list>
#include <string>
#include <string_view>

namespace reading_test {

const fhir_read::Terminology& terminology();  // the shipped one
fhir_read::SiteMap default_site();            // the shipped one

// Parses a resource; fails the test when it is no JSON.
json::Value resource(std::string_view text);

// Reads these resources as those of Patient/a, source and base address empty.
fhir_read::ReadResult read(std::initializer_list<std::string_view> texts);
fhir_read::ReadResult read(std::initializer_list<std::string_view> texts, const fhir_read::SiteMap& site);

bool has_issue(const fhir_read::ReadResult& result, std::string_view code);
// "code at" of every issue, for messages.
std::string all_issues(const fhir::Issues& issues);

clinical::Instant instant(std::string_view text);

}  // namespace reading_test
