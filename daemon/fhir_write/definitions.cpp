#include "fhir_write/definitions.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <map>

#include "clinical/names.h"
#include "fhir/codes.h"
#include "fhir_write/elements.h"
#include "fhir_write/task_outputs.h"

namespace fhir_write {
namespace {

using clinical::Rule;
using json::Value;

/// The step whose reader looks for a value; the first prefix that fits.
constexpr std::array<std::pair<std::string_view, std::string_view>, 11> kStepOfValue{{{"gate.draw-before", "draw-coagulation"},
                                                                                    {"gate.", "remove-sheath"},
                                                                                    {"fresh.", "confirm-readiness"},
                                                                                    {"projection.", "draw-coagulation"},
                                                                                    {"hold.mechanical.", "reduce-pressure"},
                                                                                    {"hold.", "firm-compression"},
                                                                                    {"rest.head.", "raise-head"},
                                                                                    {"rest.sit", "sit-up"},
                                                                                    {"rest.", "stand-and-walk"},
                                                                                    {"watch.", "check-site"},
                                                                                    {"alert.", "call-clinician"}}};

std::string_view step_of(std::string_view key) {
  const auto found = std::ranges::find_if(kStepOfValue, [&](const auto& one) { return key.starts_with(one.first); });
  return found == kStepOfValue.end() ? std::string_view() : found->second;
}

std::map<std::string, std::string, std::less<>> values_in(std::string_view lines) {
  std::map<std::string, std::string, std::less<>> values;
  while (!lines.empty()) {
    const auto end = std::min(lines.find('\n'), lines.size()), equals = lines.find('=');
    if (equals < end) values.emplace(lines.substr(0, equals), lines.substr(equals + 1, end - equals - 1));
    lines.remove_prefix(std::min(end + 1, lines.size()));
  }
  return values;
}

std::vector<Rule> rules_of(const clinical::Protocol& protocol) {
  std::vector<Rule> rules;
  const auto one = [&](const auto& setting, auto...) { rules.push_back(setting.rule); };
  clinical::each_setting(protocol, one, one);
  clinical::each_optional(protocol, [&](const std::optional<clinical::Setting>& setting, auto...) {
    if (setting) rules.push_back(setting->rule);
  });
  if (protocol.early_walk) clinical::each_early(*protocol.early_walk, one, one);
  return rules;
}

class Publisher {
 public:
  explicit Publisher(const Publication& from) : from_(from), protocol_(from.protocol), values_(values_in(from.values)), rules_(rules_of(from.protocol)) {
    for (const Rule& rule : rules_) date_ = std::max(date_, rule.date);
  }

  std::vector<Value> publish() const {
    std::vector<Value> all{plan()};
    for (const StepWords& step : from_.steps) all.push_back(activity(step));
    return all;
  }

 private:
  /// What canonical resources have in common.
  Value head(const char* type, const std::string& id, const std::string& title, const std::string& description) const {
    std::string name = "Aftersheath";
    bool up = true;
    for (const char c : id) {
      const bool word = std::isalnum(static_cast<unsigned char>(c)) != 0;
      if (word) name += up ? static_cast<char>(std::toupper(static_cast<unsigned char>(c))) : c;
      up = !word;
    }
    const std::string div = "<div xmlns=\"http://www.w3.org/1999/xhtml\">" + paragraph(title, true) + paragraph(description) + "</div>";
    Value r = Value::object({{"resourceType", type}, {"id", id}, {"language", "en"}, {"text", Value::object({{"status", "generated"}, {"div", div}})}});
    r.set("url", AFTERSHEATH_BASE "/" + std::string(type) + "/" + id).set("version", protocol_.version).set("name", name);
    r.set("title", title).set("status", protocol_.approved ? "active" : "draft").set("experimental", !protocol_.approved);
    return r;
  }

  Value finish(Value r, const std::string& description) const {
    r.set("date", date_).set("publisher", "Aftersheath").set("description", description);
    if (protocol_.approved) r.set_present("approvalDate", from_.approved_on);
    r.set("lastReviewDate", date_);
    if (!protocol_.approved) return r;
    Value endorsers = Value::array();
    for (const std::string& who : from_.approved_by) endorsers.push(Value::object({{"name", who}}));
    r.set_present("endorser", std::move(endorsers));
    return r;
  }

  Value citation(const Rule& rule) const {
    Value one = Value::object({{"type", "citation"}, {"label", rule.key}});
    if (const auto value = values_.find(rule.key); value != values_.end()) one.set("display", value->second);
    return one.set("citation", rule.source + " (grade " + rule.grade + ", check " + rule.check + ", looked at " + rule.date + ")");
  }

  Value citations(std::string_view step) const {
    Value all = Value::array();
    for (const Rule& rule : rules_)
      if (step_of(rule.key) == step) all.push(citation(rule));
    return all;
  }

  static Value code(const StepWords& step) { return concept_of({coding(fhir::system_uri::aftercare_step, step.code, step.display)}); }

  /// What a completed Task of the step may record, as it stands in Task.output.
  static Value outputs(const std::string& step) {
    const auto named = clinical::step_named(step);
    if (!named) return {};
    Value codes = Value::array();
    for (const TaskOutput& one : outputs_of(*named)) codes.push(coding(one.system, one.code));
    return Value::array({Value::object({{"type", "Task"}, {"codeFilter", Value::array({Value::object({{"path", std::string("output") + ".type"}, {"code", std::move(codes)}})})}})});
  }

  Value plan() const {
    const std::string description = "The steps of the protocol \"" + protocol_.id + "\": when a femoral sheath may come out, how long to press, rest and watch. " +
                                    (protocol_.approved ? "Approved. " : "Not approved: values for local sign-off. ") +
                                    "Every value stands here with its source; supports licensed clinicians, the local protocol decides.";
    Value r = finish(head("PlanDefinition", protocol_.id, protocol_.title, description), description);
    Value artifacts = citations("");
    artifacts.push(Value::object({{"type", "documentation"}, {"label", "values"}, {"display", "urn:sha256:" + protocol_.sha256}}));
    r.set("relatedArtifact", std::move(artifacts));
    r.set("type", concept_of({coding("http://terminology.hl7.org/CodeSystem/plan-definition-type", "clinical-protocol")}));
    r.set("subjectCodeableConcept", concept_of({coding("http://hl7.org/fhir/resource-types", "Patient")}));
    Value actions = Value::array();
    for (const StepWords& step : from_.steps) {
      Value action = Value::object({{"id", step.code}, {"title", step.display}, {"code", Value::array({code(step)})}});
      action.set_present("documentation", citations(step.code));
      action.set_present("output", outputs(step.code));
      actions.push(action.set("definitionCanonical", AFTERSHEATH_BASE "/ActivityDefinition/" + step.code + "|" + protocol_.version));
    }
    return r.set("action", std::move(actions));
  }

  Value activity(const StepWords& step) const {
    const std::string description = step.definition + " When it may be done is said by the Task and its protocol, not here.";
    Value r = finish(head("ActivityDefinition", step.code, step.display, description), description);
    r.set("kind", "Task").set("profile", AFTERSHEATH_BASE "/StructureDefinition/aftercare-task").set("code", code(step));
    return r.set("intent", protocol_.approved ? "plan" : "proposal");
  }

  const Publication& from_;
  const clinical::Protocol& protocol_;
  std::map<std::string, std::string, std::less<>> values_;
  std::vector<Rule> rules_;
  std::string date_;
};

}  // namespace

std::vector<Value> definitions(const Publication& from) { return Publisher(from).publish(); }

}  // namespace fhir_write
