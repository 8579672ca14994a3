// Resources with which a record is tried: for a patient of test data, marked as such, saying what they are, and easy to tell from what we write in earnest.
#pragma once

#include <string>
#include <vector>

#include "json/tree.h"

namespace fhir_write {

struct ProbeSubject {
  std::string patient, encounter;                   ///< "Patient/x"; encounter may be empty
  std::string author, author_name;                  ///< of documents; both empty: this program as a Device
  std::string document_type, document_category;     ///< "system|code|display"; empty: our own
};

/// System of the identifiers of such resources; not that of our items, so that no daemon takes them for its own.
extern const char* const probe_identifier_system;

json::Value probe_care_plan(const ProbeSubject&, const std::string& identifier);
json::Value probe_task(const ProbeSubject&, const std::string& identifier, const std::string& care_plan);
/// `url`: of a Binary; else `content` goes along.
json::Value probe_document(const ProbeSubject&, const std::string& identifier, const std::string& url, const char* content_type, const std::string& content);
json::Value probe_binary(const ProbeSubject&, const std::string& content);
json::Value probe_communication(const ProbeSubject&, const std::string& identifier);
json::Value probe_provenance(const ProbeSubject&, const std::string& target, const std::string& recorded);
json::Value probe_guidance(const ProbeSubject&, const std::string& identifier);
json::Value probe_issue(const ProbeSubject&, const std::string& identifier);

/// A page of one line as PDF, filled up to at least that many bytes.
std::string probe_pdf(std::size_t bytes = 0);
std::string probe_page();

struct ProbeEntry {
  std::string method, url, full_url, if_match;      ///< full_url, if_match may be empty
  json::Value resource;
};
json::Value probe_transaction(const std::vector<ProbeEntry>&);
/// The same resource with that id and status, so that it can be put back or taken back.
json::Value probe_with(json::Value resource, const std::string& id, const std::string& status);

}  // namespace fhir_write
