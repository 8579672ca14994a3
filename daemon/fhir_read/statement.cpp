#include "fhir/codes.h"
#include "fhir_read/observation.h"
#include "fhir_read/phrase.h"
#include "fhir_read/values.h"

#include <algorithm>

namespace fhir_read {
namespace {

using clinical::StatementKind;

std::optional<StatementKind> statement_named(std::string_view code) {
  if (code == "no-anticoagulant-given") return StatementKind::no_anticoagulant_given;
  if (code == "no-home-anticoagulant") return StatementKind::no_home_anticoagulant;
  if (code == "coagulation-test-unavailable") return StatementKind::coagulation_test_unavailable;
  return std::nullopt;
}

std::string procedure_of(const Resource& r) {
  const auto part_of = first_key(r.body["partOf"], "Procedure", r);
  return part_of.empty() ? first_key(r.body["focus"], "Procedure", r) : part_of;
}

bool any_word(std::string_view text, std::string_view kind, const Reading& reading) {
  const auto list = reading.terms.order_words.find(std::string(kind));
  return list != reading.terms.order_words.end() && std::ranges::any_of(words_of(text), [&](const std::string& w) { return list->second.contains(w); });
}
bool only_words(std::string_view text, std::string_view kind, const Reading& reading) {
  const auto list = reading.terms.order_words.find(std::string(kind));
  const auto words = words_of(text);
  return list != reading.terms.order_words.end() && !words.empty() && std::ranges::all_of(words, [&](const std::string& w) { return list->second.contains(w); });
}

// Whoever can be a clinician: a practitioner, or somebody of whom there is a name alone. A patient, a device, an organisation or "unknown" decides nothing.
bool may_decide(const json::Value& performer, const Resource& r, const Reading& reading) {
  const auto clinician = [](std::string_view type) { return type == "Practitioner" || type == "PractitionerRole"; };
  if (const auto* found = reading.set.resolve(performer, r)) return clinician((*found)["resourceType"].text());
  if (!first_key(performer, "Practitioner", r).empty() || !first_key(performer, "PractitionerRole", r).empty()) return true;
  if (!performer["reference"].text().empty()) return false;
  return (performer["type"].text().empty() || clinician(performer["type"].text())) && !only_words(performer["display"].text(), "nobody", reading);
}

// Who decided: the performers, as they are called.
std::string performers(const Resource& r, const Reading& reading) {
  std::string names;
  for (const auto* performer : list_of(r.body["performer"])) {
    const auto name = may_decide(*performer, r, reading) ? shown(*performer, r, reading) : std::string();
    if (!name.empty()) names += (names.empty() ? "" : ", ") + name;
  }
  return names;
}

// What is said beside the value that was seen, unless it is an unmistakable yes: no value, true, or a word of agreement alone, and no note that takes it back.
std::optional<std::string> refusal(const Resource& r, const Reading& reading) {
  for (const auto& member : r.body.members()) {
    if (!member.name.starts_with("value") || (member.name == "valueBoolean" && r.body["valueBoolean"].boolean() == true)) continue;
    const auto& value = r.body[member.name];
    auto texts = value.is_object() ? texts_of(value) : std::vector<std::string>{std::string(value.text())};
    std::erase(texts, std::string());
    if (!texts.empty() && std::ranges::all_of(texts, [&](const std::string& text) { return only_words(text, "agree", reading); })) continue;
    return texts.empty() ? "-" : texts.front();
  }
  for (const auto* note : list_of(r.body["note"]))
    if (const auto text = (*note)["text"].text(); any_word(text, "refuse", reading)) return std::string(text);
  return std::nullopt;
}

void read_decision(const Resource& r, Reading& reading) {
  clinical::Decision out;
  out.source = r.fact_source();
  out.at = moment_of(times_of(r.body, {"effective"}, r, reading));
  out.performer = performers(r, reading);
  for (const auto& component : r.body["component"].items()) {
    const auto what = code_in(component["code"], fhir::system_uri::access_statement, reading);
    if (what == "gate") out.subject = code_value(component, "", reading);
    if (what == "value-seen") out.value_seen = seen_value(component, reading);
  }
  const auto said = refusal(r, reading);
  out.refused = said.has_value();
  if (out.subject.empty()) return reading.error(r, "component", "no-gate", "The decision does not say for which gate or step it is; it is not used.");
  if (out.refused) {
    reading.warn(r, "value", "refused", "\"" + *said + "\" is no plain yes: the decision opens nothing.");
    out.value_seen = *said;
  } else if (result_status(r, reading) != ResultStatus::final) {
    return reading.error(r, "status", "not-final", "The decision is not final; it is not used.");
  }
  if (out.performer.empty()) reading.error(r, "performer", "no-performer", "The decision does not say which clinician made it; it opens nothing.");
  reading.record.decisions.push_back(std::move(out));
}

}  // namespace

std::string seen_value(const json::Value& component, const Reading& reading) {
  if (component["valueQuantity"].is_object()) return written(component["valueQuantity"]);
  if (component["valueInteger"].is_number()) return std::string(component["valueInteger"].digits());
  return code_value(component, "", reading);
}

// What somebody later denies no longer stands: of two the later counts, and of two of one time the denial.
void withdraw_denied(Reading& reading) {
  auto& stated = reading.record.statements;
  for (const auto& r : reading.set.all()) {
    if (r.type != "Observation" || r.body["valueBoolean"].boolean() != false || r.body["status"].text() == "entered-in-error") continue;
    const auto kind = statement_named(code_in(r.body["code"], fhir::system_uri::access_statement, reading));
    if (!kind) continue;
    const auto at = moment_of(times_of(r.body, {"effective"}, r, reading));
    const auto procedure = procedure_of(r);
    std::erase_if(stated, [&](const clinical::Statement& s) {
      const bool same = s.kind == *kind && (s.procedure.empty() || procedure.empty() || s.procedure == procedure);
      return same && (!at || !s.at || s.at->earliest <= at->latest);
    });
  }
}

void read_statement(const Resource& r, const std::string& code, Reading& reading) {
  if (result_status(r, reading) == ResultStatus::none) return;
  if (r.body.has("dataAbsentReason")) return reading.warn(r, "dataAbsentReason", "absent", "The statement is absent, not made.");
  if (code == "gate-decision") return read_decision(r, reading);
  const auto kind = statement_named(code);
  if (!kind) return reading.error(r, "code", "unknown-code", "\"" + code + "\" is no statement.");
  if (r.body["valueBoolean"].boolean() == false) return reading.warn(r, "valueBoolean", "denied", "The statement \"" + code + "\" is denied; it does not count.");
  if (r.body["valueBoolean"].boolean() != true && std::ranges::none_of(r.body.members(), [](const auto& m) { return m.name.starts_with("value"); }))
    return reading.error(r, "valueBoolean", "statement-value", "The statement \"" + code + "\" does not say true; it does not count.");
  for (const auto& member : r.body.members())  // a value other than true is not understood
    if (member.name.starts_with("value") && member.name != "valueBoolean")
      return reading.error(r, member.name, "statement-value", "The statement \"" + code + "\" carries a value other than true; it does not count.");
  clinical::Statement out;
  out.source = r.fact_source();
  out.kind = *kind;
  out.at = moment_of(times_of(r.body, {"effective"}, r, reading));
  if (!out.at) reading.warn(r, "effective", "no-time", "The statement has no usable time.");
  out.procedure = procedure_of(r);
  reading.record.statements.push_back(std::move(out));
}

}  // namespace fhir_read
