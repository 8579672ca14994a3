// Deterministic identity of everything written (UUIDv5).
#pragma once

#include <string>

#include "clinical/change.h"
#include "fhir_write/context.h"

namespace fhir_write {

/// "system|value" of the index Procedure's business identifier, else "Procedure/id". Store it with the case and give it back in
/// WriterContext::case_identity, so that an identifier recorded later does not make a second plan.
std::string case_identity_of(const clinical::CasePlan&);

/// UUIDv5 over record key, case, and text_of(key): intent, step, site, generation, ordinal, cause. No due time, version or patient.
std::string identity(const WriterContext&, const clinical::CasePlan&, const clinical::ItemKey&);
/// The same from its parts alone: to know an item of ours again where no plan is at hand.
std::string identity_of(const std::string& record_key, const std::string& case_identity, const clinical::ItemKey&);
/// Of what belongs to an item but is none itself: "binary" of a sheet, "provenance" of a transaction.
std::string identity(const WriterContext&, const clinical::CasePlan&, const std::string& kind, const std::string& of);

/// "Task", "CarePlan", "DocumentReference", "GuidanceResponse", "DetectedIssue".
const char* type_of(clinical::ItemKind);
/// The CarePlan of the case under that intent.
clinical::ItemKey care_plan_key(clinical::Intent);
/// The one that others are to refer to: a case that was withdrawn and stands again has a later one.
clinical::ItemKey current_care_plan(const WriterContext&, clinical::Intent);
/// How other resources of the same transaction refer to it: Type/UUID in files; Type/server-id or urn:uuid in the record form.
std::string reference_to(const WriterContext&, const clinical::CasePlan&, const clinical::ItemKey&);

}  // namespace fhir_write
