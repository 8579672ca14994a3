// The official examples whose traps are known (hl7.fhir.r4.examples 4.0.1, CC0; the names stand in tests/fhir_read/examples/names): the facts and the issues
// that come of each are kept in tests/fhir_read/examples/, a file a type. What is kept was read by a person; to change it on purpose:
// AFTERSHEATH_GOLDEN=write build/bin/fhir_read_test --gtest_filter='OfficialGolden*', and read what differs.
#include "fhir_read/facts_text_support.h"
#include "fhir_read/intake.h"
#include "fhir_read/reading_support.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <map>
#include <set>
#include <sstream>

namespace {

namespace fs = std::filesystem;

const fs::path kExamples = fs::path(SOURCE_DIR) / "tests/peer/node_modules/hl7.fhir.r4.examples";
const fs::path kKept = fs::path(SOURCE_DIR) / "tests/fhir_read/examples";

std::string bytes_of(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  std::stringstream all;
  all << in.rdbuf();
  return all.str();
}

std::string line_of(const fhir::Issue& issue) {
  const char* severity = issue.severity == fhir::Severity::error ? "error" : issue.severity == fhir::Severity::warning ? "warning" : "information";
  return std::string("  ") + severity + " " + issue.code + " at " + issue.at + ": " + issue.text + "\n";
}

// Taken apart, grouped by patient, read: as the intake and the evaluation would.
std::string reading_of(const std::string& name) {
  const auto root = json::parse(bytes_of(kExamples / (name + ".json")));
  if (!root) return "  no JSON\n";
  std::string text;
  std::vector<fhir_read::ResourceEvent> events;
  if ((*root)["resourceType"].text() == "Bundle") {
    auto entries = fhir_read::entries_of(*root);
    if (entries.refused) text += line_of(*entries.refused);
    for (const auto& issue : entries.issues) text += line_of(issue);
    events = std::move(entries.events);
  } else {
    events.push_back({"PUT", std::string((*root)["resourceType"].text()), std::string((*root)["id"].text()), "", *root, ""});
  }
  std::set<std::string> patients;
  std::size_t matter = 0;
  for (const auto& e : events) {
    if (!fhir_read::relevant(e.type)) continue;
    ++matter;
    for (const auto& fault : fhir_read::element_faults(e.body)) text += line_of(fault);
    patients.insert(fhir_read::subject_of(e.body).patient);
  }
  text += "  " + std::to_string(events.size()) + " resources, " + std::to_string(matter) + " of types that matter\n";
  for (const auto& patient : patients) {
    fhir_read::ResourceSet set(patient);
    for (const auto& e : events) {
      const auto owner = fhir_read::subject_of(e.body).patient;
      if (owner == patient || owner.empty()) set.add({"", "", e.type, e.id, e.version, e.body});
    }
    const auto result = fhir_read::read_record(set, reading_test::default_site(), reading_test::terminology());
    for (auto fact : reading_test::facts_as_text(result.record)) {
      fact.erase(fact.find_last_not_of(' ') + 1);
      text += "  fact " + fact + "\n";
    }
    for (const auto& issue : result.issues) text += line_of(issue);
  }
  return text;
}

TEST(OfficialGolden, facts_and_issues_are_as_kept) {
  if (!fs::exists(kExamples)) GTEST_SKIP() << "the package hl7.fhir.r4.examples is not installed (tests/peer/install)";
  std::map<std::string, std::string> by_type;
  std::ifstream names(kKept / "names");
  int count = 0;
  for (std::string name; std::getline(names, name);) {
    by_type[name.substr(0, name.find('-'))] += name + "\n" + reading_of(name);
    ++count;
  }
  EXPECT_GE(count, 80);
  const char* write = std::getenv("AFTERSHEATH_GOLDEN");
  for (const auto& [type, text] : by_type) {
    const auto kept = kKept / (type + ".txt");
    if (write && std::string(write) == "write") std::ofstream(kept, std::ios::binary) << text;
    else EXPECT_EQ(text, bytes_of(kept)) << kept;
  }
}

}  // namespace
