#include "fhir_read/intake.h"

#include "fhir/date_time.h"

#include <algorithm>
#include <array>

namespace fhir_read {
namespace {

using json::Value;

enum class Shape { text, object, list, either, time };

struct Expected {
  std::string_view element;
  Shape shape;
};
// Elements from which facts are read, whatever the type. `either`: one in some types, a list in others.
constexpr auto kElements = std::to_array<Expected>({
    {"status", Shape::text}, {"subject", Shape::either}, {"patient", Shape::object}, {"for", Shape::object}, {"encounter", Shape::object},
    {"code", Shape::object}, {"bodySite", Shape::either}, {"component", Shape::list}, {"note", Shape::either}, {"identifier", Shape::either},
    {"valueQuantity", Shape::object}, {"valueCodeableConcept", Shape::object}, {"medicationReference", Shape::object},
    {"medicationCodeableConcept", Shape::object}, {"performedPeriod", Shape::object}, {"effectivePeriod", Shape::object},
    {"executionPeriod", Shape::object}, {"occurrencePeriod", Shape::object}, {"occurencePeriod", Shape::object}, {"actualPeriod", Shape::object},
    {"occurrenceDateTime", Shape::time}, {"occurenceDateTime", Shape::time}, {"performedDateTime", Shape::time}, {"effectiveDateTime", Shape::time}, {"birthDate", Shape::time},
    {"issued", Shape::time}, {"authoredOn", Shape::time}, {"lastModified", Shape::time}});

class Judge {
 public:
  explicit Judge(const Value& resource) : type_(resource["resourceType"].text()) {
    for (const auto& [element, shape] : kElements)
      if (resource.has(element)) check(resource[element], type_ + "." + std::string(element), shape);
    check_quantity(resource["valueQuantity"], type_ + ".valueQuantity");
    for (const char* period : {"performedPeriod", "effectivePeriod", "executionPeriod", "occurrencePeriod", "occurencePeriod", "actualPeriod"})
      for (const char* end : {"start", "end"})
        if (resource[period].has(end)) check(resource[period][end], type_ + "." + period + "." + end, Shape::time);
    for (const char* concept_name : {"code", "valueCodeableConcept", "medicationCodeableConcept"})
      if (resource[concept_name].is_object() && resource[concept_name].has("coding")) check(resource[concept_name]["coding"], type_ + "." + concept_name + ".coding", Shape::list);
    std::size_t n = 0;
    for (const auto& one : resource["component"].items()) check_quantity(one["valueQuantity"], type_ + ".component[" + std::to_string(n++) + "].valueQuantity");
  }
  fhir::Issues take() { return std::move(issues_); }

 private:
  void check(const Value& value, const std::string& at, Shape shape) {
    if (shape == Shape::text && !value.is_string()) add(at, "is not a text");
    if (shape == Shape::object && !value.is_object()) add(at, "is not an object");
    if (shape == Shape::list && !value.is_array()) add(at, "is not a list");
    if (shape == Shape::either && !value.is_array() && !value.is_object()) add(at, "is neither an object nor a list");
    if (shape == Shape::time && (!value.is_string() || fhir::read_time(value.text()).has_error())) add(at, "is no date or time of FHIR");
  }
  void check_quantity(const Value& quantity, const std::string& at) {
    if (quantity.is_object() && quantity.has("value") && !quantity["value"].is_number()) add(at + ".value", "is not a number");
  }
  void add(const std::string& at, const char* what) {
    issues_.push_back({fhir::Severity::error, "value", at, at + " " + what + "; the resource is kept, and nothing is concluded from this element"});
  }

  std::string type_;
  fhir::Issues issues_;
};

}  // namespace

fhir::Issues element_faults(const Value& resource) {
  if (!relevant(resource["resourceType"].text())) return {};
  return Judge(resource).take();
}

}  // namespace fhir_read
