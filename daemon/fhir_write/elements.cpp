#include "fhir_write/elements.h"

#include <algorithm>
#include <array>
#include <stdexcept>

#include "fhir/codes.h"
#include "fhir/date_time.h"
#include "fhir/decimal.h"
#include "fhir/labels.h"

namespace fhir_write {
namespace {

using json::Value;

Value test_label() { return coding(fhir::system_uri::act_reason, "HTEST", "test health data"); }

/// Displays: HL7 v3 code system Confidentiality, as published with FHIR R4.
Value confidentiality(std::string_view code) {
  constexpr std::array<std::pair<std::string_view, std::string_view>, 6> kDisplays{{{"U", "unrestricted"}, {"L", "low"}, {"M", "moderate"}, {"N", "normal"}, {"R", "restricted"}, {"V", "very restricted"}}};
  const auto named = std::ranges::find(kDisplays, code, [](const auto& one) { return one.first; });
  return coding(fhir::confidentiality_system, code, named == kDisplays.end() ? std::string_view() : named->second);
}

}  // namespace

Value coding(std::string_view system, std::string_view code, std::string_view display) {
  Value one = Value::object({{"system", system}, {"code", code}});
  one.set_present("display", display);
  return one;
}

Value concept_of(std::vector<Value> codings, std::string_view text) {
  Value one = Value::object();
  one.set_present("coding", Value::array(std::move(codings)));
  one.set_present("text", text);
  return one;
}

Value concept_from(std::string_view written) {
  std::array<std::string_view, 3> parts;
  for (auto& part : parts) {
    const auto end = std::min(written.find('|'), written.size());
    part = written.substr(0, end);
    written.remove_prefix(std::min(end + 1, written.size()));
  }
  return concept_of({coding(parts[0], parts[1], parts[2])}, parts[2]);
}

Value with_id(Value resource, const std::string& id) {
  if (Value* old = resource.find("id")) {
    *old = id;
    return resource;
  }
  std::vector<json::Member> members(resource.members().begin(), resource.members().end());
  members.insert(members.begin() + 1, {"id", id});
  return Value::object_of(std::move(members));
}

Value reference(const std::string& to, const std::string& display, const char* type) {
  if (to.empty() && display.empty()) return {};
  Value one = Value::object();
  one.set_present("reference", to);
  if (type) one.set("type", type);
  one.set_present("display", display);
  return one;
}

Value reference(const Named& named) { return reference(named.reference, named.display); }

Value period(const std::optional<clinical::Instant>& start, const std::optional<clinical::Instant>& end) {
  Value one;
  if (start) one.set("start", fhir::format_utc(*start));
  if (end && (!start || *start <= *end)) one.set("end", fhir::format_utc(*end));
  return one;
}

Value quantity(clinical::Micro value, std::string_view unit, std::string_view ucum, const char* comparator) {
  Value one = Value::object({{"value", Value::decimal(fhir::shortest(value))}});
  if (comparator) one.set("comparator", comparator);
  one.set("unit", unit).set("system", fhir::system_uri::ucum);
  one.set("code", ucum);
  return one;
}

Value device(const WriterContext& context) {
  return Value::object({{"type", "Device"},
                        {"identifier", Value::object({{"system", AFTERSHEATH_BASE "/NamingSystem/installation"}, {"value", context.installation}})},
                        {"display", "Aftersheath " + context.version + ", installation " + context.installation}});
}

Value patient(const clinical::CasePlan& plan) {
  const auto& p = plan.patient;
  std::string display = p.name;
  if (!p.birth_written.empty()) display += (display.empty() ? "" : ", ") + p.birth_written;
  return reference(p.source.reference, display, "Patient");
}

Value identifiers(const std::string& uuid) {
  return Value::array({Value::object({{"use", "official"}, {"system", fhir::item_identifier_system}, {"value", uuid}})});
}

std::string plan_definition(const WriterContext& context) {
  return AFTERSHEATH_BASE "/PlanDefinition/" + context.protocol.id + "|" + context.protocol.version;
}

Value begin(const WriterContext& context, const char* type) {
  Value meta = Value::object();
  Value labels = Value::array();
  if (context.test_data) labels.push(test_label());
  if (!context.confidentiality.empty()) labels.push(confidentiality(context.confidentiality));
  for (const auto& label : context.sensitivity) labels.push(coding(label.system, label.code, label.display));
  meta.set_present("security", std::move(labels));
  Value tags = Value::array({coding(AFTERSHEATH_BASE "/CodeSystem/writer", context.installation)});
  if (context.rehearsal) tags.push(coding(AFTERSHEATH_BASE "/CodeSystem/writer-mode", "rehearsal", "Written under a simulated clock"));
  meta.set("tag", std::move(tags));
  Value resource = Value::object({{"resourceType", type}, {"meta", std::move(meta)}});
  resource.set_present("language", context.language);
  return resource;
}

void tag_with(Value& resource, const std::string& uuid) {
  Value meta = resource["meta"];
  Value tags = meta["tag"];
  tags.push(coding(fhir::item_identifier_system, uuid));
  meta.set("tag", std::move(tags));
  resource.set("meta", std::move(meta));
}

void narrate(Value& resource, const WriterContext& context, const std::string& xhtml) {
  std::string div = "<div xmlns=\"http://www.w3.org/1999/xhtml\"";
  if (!context.language.empty()) div += " lang=\"" + escaped(context.language) + "\" xml:lang=\"" + escaped(context.language) + "\"";
  if (context.words.right_to_left()) div += " dir=\"rtl\"";
  resource.set("text", Value::object({{"status", "generated"}, {"div", div + ">" + xhtml + "</div>"}}));
}

std::string escaped(std::string_view text) {
  std::string out;
  out.reserve(text.size());
  for (const char c : text) {
    switch (c) {
      case '&': out += "&amp;"; break;
      case '<': out += "&lt;"; break;
      case '>': out += "&gt;"; break;
      case '"': out += "&quot;"; break;
      default: out += static_cast<unsigned char>(c) < 0x20 ? ' ' : c;
    }
  }
  return out;
}

std::string paragraph(std::string_view text, bool bold) {
  if (text.empty()) return {};
  return bold ? "<p><b>" + escaped(text) + "</b></p>" : "<p>" + escaped(text) + "</p>";
}

Value body_on_server(const WriterContext& context, const clinical::ItemKey& key) {
  const OnServer* standing = context.standing(key);
  if (!standing || standing->body.is_null()) throw std::logic_error("no body on the server for " + text_of(key));
  return standing->body;
}

std::string first_written(const WriterContext& context, const clinical::ItemKey& key, const char* element) {
  const OnServer* standing = context.standing(key);
  const std::string_view before = standing ? standing->body[element].text() : std::string_view();
  return before.empty() ? fhir::format_utc(context.now) : std::string(before);
}

std::string word(clinical::Intent intent) {
  return intent == clinical::Intent::order ? "order" : intent == clinical::Intent::plan ? "plan" : "proposal";
}

words::Voice voice(const WriterContext& context) { return {context.words, context.words_context}; }
std::string say(const WriterContext& context, const clinical::Reason& reason) { return voice(context).say(reason); }
std::string say(const WriterContext& context, std::string_view key, const words::Arguments& arguments) { return voice(context).say(key, arguments); }
std::string term(const WriterContext& context, std::string_view group, std::string_view name) { return voice(context).term(group, name); }

std::string standing_words(const WriterContext& context) {
  std::string text;
  const auto add = [&](bool applies, const char* code) {
    if (applies) text += (text.empty() ? "" : " ") + say(context, code);
  };
  add(!context.protocol.approved, "record.not-approved");
  add(context.test_data, "record.test-data");
  add(context.rehearsal, "record.rehearsal");
  return text;
}

std::string in_other_hands(const WriterContext& context) {
  std::string text;
  for (const auto& one : context.in_other_hands)
    text += (text.empty() ? "" : " ") + say(context, one.who.empty() ? "record.in-other-hands" : "record.in-hands-of", {{"task", one.title}, {"who", one.who}});
  return text;
}

std::string more_follow(const WriterContext& context) {
  if (context.held_back.empty()) return {};
  return say(context, "record.more-follow", {{"at", context.held_back.front().start.value_or(context.now)}, {"limit", context.tasks_per_hour}});
}

}  // namespace fhir_write
