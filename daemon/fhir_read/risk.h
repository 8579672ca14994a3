// Findings that change aftercare. Inside fhir_read only.
#pragma once

#include "fhir_read/reading.h"

namespace fhir_read {

// The risk that a concept means, by code, else by the names in its texts.
std::optional<clinical::RiskKind> risk_of(const json::Value& concept_element, const Reading& reading);

// Dialysis told as what is done or ordered (Procedure, ServiceRequest), whatever else the resource is.
void read_dialysis(const Resource& r, Reading& reading);
// A graft in the groin that a Procedure put in.
void read_graft(const Resource& r, Reading& reading);

// An Observation whose code, or whose value, means a risk.
void read_risk_observation(const Resource& r, Reading& reading);

}  // namespace fhir_read
