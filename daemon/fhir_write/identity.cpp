#include "fhir_write/identity.h"

#include "fhir/codes.h"
#include "fhir/uuid.h"

namespace fhir_write {
namespace {

const fhir::Uuid& item_namespace() {
  static const fhir::Uuid uuid = fhir::uuid5(fhir::kUrlNamespace, fhir::item_identifier_system);
  return uuid;
}

std::string named(const std::string& record_key, const std::string& case_identity, const std::string& rest) {
  return fhir::to_string(fhir::uuid5(item_namespace(), record_key + '\n' + case_identity + '\n' + rest));
}

std::string named(const WriterContext& context, const clinical::CasePlan& plan, const std::string& rest) {
  return named(context.record_key, context.case_identity.empty() ? case_identity_of(plan) : context.case_identity, rest);
}

}  // namespace

std::string case_identity_of(const clinical::CasePlan& plan) {
  return plan.procedure_identifier.empty() ? plan.procedure.reference : plan.procedure_identifier;
}

std::string identity_of(const std::string& record_key, const std::string& case_identity, const clinical::ItemKey& key) {
  return named(record_key, case_identity, text_of(key));
}

std::string identity(const WriterContext& context, const clinical::CasePlan& plan, const clinical::ItemKey& key) {
  return named(context, plan, text_of(key));
}

std::string identity(const WriterContext& context, const clinical::CasePlan& plan, const std::string& kind, const std::string& of) {
  return named(context, plan, kind + '|' + of);
}

const char* type_of(clinical::ItemKind kind) {
  switch (kind) {
    case clinical::ItemKind::care_plan: return "CarePlan";
    case clinical::ItemKind::document: return "DocumentReference";
    case clinical::ItemKind::guidance: return "GuidanceResponse";
    case clinical::ItemKind::order_clash: return "DetectedIssue";
    default: return "Task";
  }
}

clinical::ItemKey care_plan_key(clinical::Intent intent) {
  clinical::ItemKey key;
  key.kind = clinical::ItemKind::care_plan;
  key.intent = intent;
  return key;
}

clinical::ItemKey current_care_plan(const WriterContext& context, clinical::Intent intent) {
  return context.care_plan && context.care_plan->intent == intent ? *context.care_plan : care_plan_key(intent);
}

std::string reference_to(const WriterContext& context, const clinical::CasePlan& plan, const clinical::ItemKey& key) {
  const std::string type = type_of(key.kind);
  const std::string uuid = identity(context, plan, key);
  if (context.form == Form::file) return type + "/" + uuid;
  const OnServer* standing = context.standing(key);
  return standing && !standing->id.empty() ? type + "/" + standing->id : "urn:uuid:" + uuid;
}

}  // namespace fhir_write
