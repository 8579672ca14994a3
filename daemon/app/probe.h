// Tries what a record really does with our kind of writing, for a patient of test data, and takes back what it wrote.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "fhir_write/probe_resources.h"
#include "profile/configuration.h"
#include "transport/network.h"

namespace app {

struct ProbeFinding {
  std::string what;    ///< "transaction", "if-match", ...: one word a question, stable for programs
  std::string found;   ///< "yes", "no" (refused), "overlooked" (taken and not done), "unknown"
  std::string detail;  ///< for people; may be empty
};

struct ProbeReport {
  std::string refused;  ///< why nothing was tried: the patient is not found, or is not test data; empty: it was
  bool reached = true;  ///< the record answers as a FHIR server
  std::string software, fhir_version;
  std::vector<ProbeFinding> findings;
  std::string rung;     ///< "transactions", "single-writes", "documents", "none"
  std::string serve;    ///< the record takes the one and not the other: "care-plans" or "tasks" are to be served here; empty: neither
  std::vector<std::pair<std::string, std::string>> settings;  ///< what to configure: "record.writing", "documents"
  std::vector<std::string> left;    ///< what could not be removed: "Task/7: deletion answered 405, ..."
  const std::string& found(std::string_view what) const;  ///< empty: not asked
  /// It takes plans or Tasks, but no DetectedIssue.
  bool clashes_here() const { return rung != "documents" && rung != "none" && found("create-detected-issue") == "no"; }
};

/// What a rung costs, a sentence each; the first rung costs nothing.
std::vector<std::string> losses_of(std::string_view rung);
/// The same where CarePlans ("care-plans") or Tasks ("tasks") alone are served here and the rest goes to the record.
std::vector<std::string> losses_of_part(std::string_view serve);
/// Said of a record that takes no DetectedIssue.
std::string clashes_are_here();

class Probe {
 public:
  using Ask = std::function<transport::Outcome(transport::OutgoingRequest)>;  ///< blocking
  /// `unique`: of this run. `patient`: "Patient/x", or system|value of an identifier. `now`: RFC 3339.
  Probe(Ask ask, std::string base_url, const profile::Configuration::Documents& documents, std::string patient, std::string unique, std::string now);
  ProbeReport run();

 private:
  struct Stands {
    std::string type, id, etag, identifier;
    json::Value resource;
    std::string path() const { return type + "/" + id; }
  };
  struct Answer {
    int status = 0;  ///< 0: none
    json::Value body;
    transport::Headers headers;
    std::string why;
    bool ok() const { return status >= 200 && status < 300; }
  };
  Answer ask(const char* method, const std::string& path, const json::Value* body = nullptr, std::vector<transport::Header> headers = {});
  std::optional<Stands> create(json::Value resource, Answer& answer, std::vector<transport::Header> headers = {});
  void note(const char* what, const std::string& found, std::string detail = {});
  void note_taken(const char* what, const Answer&);
  std::string identifier() { return unique_ + "-" + std::to_string(++count_); }

  bool find_patient();
  void try_creation();
  void try_conditions();
  void try_transactions();
  void try_limits();
  void try_documents();
  void try_other_types();
  void try_reading();
  void remember(const json::Value& response, const json::Value& request);
  void clean_up();
  void recommend();

  Ask ask_;
  std::string base_url_;
  const profile::Configuration::Documents& documents_;
  std::string patient_, unique_, now_;
  int count_ = 0;
  fhir_write::ProbeSubject subject_;
  std::vector<Stands> made_;
  std::optional<Stands> plan_, task_;
  ProbeReport report_;
};

}  // namespace app
