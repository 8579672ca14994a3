// One function for each resource type, each in a file of its own. `r` has been admitted. Inside fhir_read only.
#pragma once

#include "fhir_read/reading.h"

namespace fhir_read {

void read_patient(const Resource& r, Reading& reading);
void read_encounter(const Resource& r, Reading& reading);
void read_procedure(const Resource& r, Reading& reading);
void read_access_event(const Resource& r, clinical::AccessEventKind kind, Reading& reading);
void read_medication_administration(const Resource& r, Reading& reading);
void read_medication_statement(const Resource& r, Reading& reading);  // MedicationUsage of R5 as well
void read_medication_request(const Resource& r, Reading& reading);
void read_medication_dispense(const Resource& r, Reading& reading);
void read_list(const Resource& r, Reading& reading);
void read_observation(const Resource& r, Reading& reading);
void read_condition(const Resource& r, Reading& reading);
void read_allergy(const Resource& r, Reading& reading);
void read_task(const Resource& r, Reading& reading);
void read_service_request(const Resource& r, Reading& reading);
void read_drug_order(const Resource& r, Reading& reading);  // a MedicationRequest that is no home drug
void read_device_use(const Resource& r, Reading& reading);  // DeviceUseStatement of R4, DeviceUsage of R5
void read_consent(const Resource& r, Reading& reading);
void read_care_team(const Resource& r, Reading& reading);
void read_responsible(const Resource& r, Reading& reading);  // of an Encounter that goes on: who answers for the stay
void read_questionnaire_response(const Resource& r, Reading& reading);
void read_diagnostic_report(const Resource& r, Reading& reading);
// Security labels that say that something of the resource was taken out.
void read_redaction(const Resource& r, Reading& reading);
std::string redaction_of(const json::Value& resource);  // the label; empty: none
// What fhir_read/searchset.h keeps of a record that keeps something back.
void read_kept_back(const Resource& r, Reading& reading);
const json::Value& kept_back_about(const json::Value& outcome, std::string_view what);  // "patient": its reference, "type"; null: none

// What stays of a resource that was refused for what it might mean: a dose of an unidentified drug, a value that is absent.
void keep_doubtful_administration(const Resource& r, Reading& reading);
void keep_doubtful_observation(const Resource& r, Reading& reading);

}  // namespace fhir_read
