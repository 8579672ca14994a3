// From JSON to plan: an invented case of Patient/a under the shipped protocol `cautious`.
#pragma once

#include "clinical/compute_plan.h"
#include "fhir_read/reading_support.h"

#include <string>
#include <vector>

namespace reading_test {

// Patient, encounter, a right femoral 6 F diagnostic procedure of 10:00 to 11:00 UTC on 2026-03-02 with heparin at 10:05.
std::vector<std::string> base_case();
// Sheath out at 14:00, pressed until 14:20, haemostasis confirmed then.
std::vector<std::string> pressed();

struct Planned {
  fhir_read::ReadResult read;
  clinical::CasePlan plan;
};
// Everything of `texts` at `now` (an instant). Fails the test where there is not one case.
Planned planned(std::vector<std::string> texts, std::string_view now);

const clinical::Milestone& step(const Planned&, clinical::Step);
// nullptr: the gate does not apply.
const clinical::Gate* gate(const Planned&, clinical::GateName);
bool has_caution(const Planned&, std::string_view code);
bool has_conflict(const Planned&, std::string_view about);
std::vector<std::string> operator+(std::vector<std::string> a, const std::vector<std::string>& b);

}  // namespace reading_test
