#include "fhir_write/task_outputs.h"

#include "fhir/codes.h"

namespace fhir_write {
namespace {

using clinical::Step;
using fhir::system_uri::access_statement;
using fhir::system_uri::check_finding;

constexpr std::string_view kOutput = AFTERSHEATH_BASE "/CodeSystem/task-output";

void add(std::vector<TaskOutput>& to, std::initializer_list<TaskOutput> more) { to.insert(to.end(), more); }

void add_check(std::vector<TaskOutput>& all) {
  add(all, {{check_finding, "bleeding", "valueCodeableConcept"}, {check_finding, "swelling", "valueQuantity"},      {check_finding, "growth", "valueBoolean"},
            {check_finding, "foot-pulse", "valueCodeableConcept"}, {check_finding, "pulses", "valueString"},        {check_finding, "pulse-scale", "valueString"},
            {check_finding, "colour", "valueCodeableConcept"},     {check_finding, "warmth", "valueCodeableConcept"}, {check_finding, "feeling", "valueCodeableConcept"},
            {check_finding, "movement", "valueCodeableConcept"},   {check_finding, "pain", "valueInteger"},         {check_finding, "back-pain", "valueBoolean"},
            {check_finding, "wet-dressing", "valueBoolean"},       {check_finding, "skin-damage", "valueBoolean"},  {check_finding, "mass-or-bruit", "valueBoolean"},
            {check_finding, "voided", "valueBoolean"}});
}

/// While something presses: how hard, and what it does to foot and skin.
void add_pressing(std::vector<TaskOutput>& all) {
  add(all, {{kOutput, "pressure", "valueQuantity"}, {check_finding, "foot-pulse", "valueCodeableConcept"}, {check_finding, "bleeding", "valueCodeableConcept"}, {check_finding, "skin-damage", "valueBoolean"}});
}

void add_of_step(std::vector<TaskOutput>& all, Step step) {
  switch (step) {
    case Step::check_site: case Step::check_after_walk: case Step::discharge_check: return add_check(all);
    case Step::firm_compression: case Step::partial_compression: case Step::light_compression: case Step::reduce_pressure: case Step::low_pressure_hold: return add_pressing(all);
    case Step::remove_sheath: return add(all, {{check_finding, "bleeding", "valueCodeableConcept"}});
    case Step::end_compression: case Step::dress_site:
      return add(all, {{check_finding, "bleeding", "valueCodeableConcept"}, {check_finding, "swelling", "valueQuantity"}, {check_finding, "foot-pulse", "valueCodeableConcept"}, {check_finding, "skin-damage", "valueBoolean"}});
    case Step::raise_head: case Step::sit_up: case Step::stand_and_walk:
      return add(all, {{check_finding, "bleeding", "valueCodeableConcept"}, {check_finding, "swelling", "valueQuantity"}, {check_finding, "dizziness", "valueBoolean"}});
    case Step::call_clinician: return add(all, {{access_statement, "gate", "valueCodeableConcept"}, {access_statement, "value-seen", "valueString"}});
    default: return;
  }
}

}  // namespace

std::vector<TaskOutput> outputs_of(Step step) {
  std::vector<TaskOutput> all{{kOutput, "time", "valueDateTime"}, {kOutput, "access-site", "valueCodeableConcept"}, {kOutput, "note", "valueString"}};
  add_of_step(all, step);
  return all;
}

}  // namespace fhir_write
