#include "fhir_read/facts_text_support.h"

#include "fhir/date_time.h"

#include <type_traits>

namespace reading_test {
namespace {

std::string text(const std::string& value) { return value; }
std::string text(bool value) { return value ? "yes" : "no"; }
std::string text(int value) { return std::to_string(value); }
std::string text(const clinical::Moment& m) { return fhir::format_utc(m.earliest) + (m.exact() ? "" : ".." + fhir::format_utc(m.latest)); }
std::string text(const clinical::Value& v) { return std::to_string(static_cast<int>(v.comparator)) + "|" + std::to_string(v.micro) + "|" + v.written; }
std::string text(const clinical::Source& s) { return s.reference + (s.low_confidence ? "?" : ""); }
std::string text(const clinical::Dose& d) { return text(d.amount) + "|" + std::to_string(static_cast<int>(d.unit)) + (d.per_kg ? "/kg" : ""); }
std::string text(const clinical::Rate& d) { return text(d.amount) + "|" + std::to_string(static_cast<int>(d.unit)) + (d.per_kg ? "/kg/h" : "/h"); }
std::string text(const clinical::Identifier& i) { return i.system + "|" + i.value; }
template <class T>
std::string text(const T& value)
  requires std::is_enum_v<T>
{
  return std::to_string(static_cast<int>(value));
}
template <class T>
std::string text(const std::optional<T>& value) {
  return value ? text(*value) : "-";
}
template <class T>
std::string text(const clinical::Recorded<T>& value) {
  if constexpr (std::is_same_v<T, clinical::Micro>) return std::to_string(value.value) + "@" + text(value.source);
  else return text(value.value) + "@" + text(value.source);
}
template <class T>
std::string text(const std::vector<T>& values) {
  std::string all = "[";
  for (const auto& value : values) all += text(value) + ",";
  return all + "]";
}

template <class... T>
std::string line(const char* what, const T&... values) {
  std::string all = what;
  ((all += " " + text(values)), ...);
  return all;
}

}  // namespace

std::vector<std::string> facts_as_text(const clinical::Record& record) {
  std::vector<std::string> lines;
  const auto& p = record.patient;
  lines.push_back(line("patient", p.source, p.identifiers, p.name, p.record_number, p.birth, p.birth_written, p.sex, p.active, p.deceased, p.merged_into, p.test_data));
  for (const auto& e : record.encounters) lines.push_back(line("encounter", e.source, e.in_progress, e.start, e.end, e.place, e.place_reference));
  for (const auto& e : record.procedures) {
    lines.push_back(line("procedure", e.source, e.identifiers, e.status, e.title, e.start, e.end, e.part_of, e.encounter, e.catheter, e.femoral, e.femoral_denied, e.femoral_stated,
                         e.intervention, e.sides, e.vessels, e.french, e.closures, e.punctures, e.difficult, e.high_stick, e.low_stick, e.uncomplicated, e.direction,
                         e.operator_name, e.place));
  }
  for (const auto& e : record.access_events)
    lines.push_back(line("event", e.source, e.kind, e.at, e.recording_time_only, e.procedure, e.side, e.vessel, e.method, e.pressure, e.from_task, e.time_conflict));
  for (const auto& e : record.administrations)
    lines.push_back(line("dose", e.source, e.agent, e.name, e.status, e.route, e.flush, e.start, e.end, e.bolus, e.dose, e.rate, e.encounter));
  for (const auto& e : record.home_drugs) lines.push_back(line("home", e.source, e.agent, e.name, e.taken, e.told_by_request, e.last_dose, e.recorded));
  for (const auto& e : record.home_lists) lines.push_back(line("list", e.source, e.nil_known, e.at));
  for (const auto& e : record.statements) lines.push_back(line("statement", e.source, e.kind, e.at, e.procedure));
  for (const auto& e : record.decisions) lines.push_back(line("decision", e.source, e.subject, e.value_seen, e.performer, e.at));
  for (const auto& e : record.measurements)
    lines.push_back(line("value", e.source, e.analyte, e.value, e.at, e.preliminary, e.analyser, e.sampling_site, e.test_code));
  for (const auto& e : record.checks) {
    lines.push_back(line("check", e.source, e.at, e.procedure, e.side, e.bleeding, e.swelling, e.growth, e.foot_pulse, e.back_pain, e.baseline_pulses, e.pulses, e.pulse_scale,
                         e.colour, e.warmth, e.feeling, e.movement, e.pain, e.chest_pain, e.neurological_sign, e.mass_or_bruit, e.skin_damage, e.dizziness, e.voided, e.bladder,
                         e.wet_dressing));
  }
  for (const auto& e : record.risks) lines.push_back(line("risk", e.source, e.kind, e.present, e.side, e.from, e.to));
  for (const auto& e : record.tasks) lines.push_back(line("task", e.source, e.identity, e.step, e.state, e.owner, e.changed, e.procedure, e.side, e.vessel));
  for (const auto& e : record.orders) lines.push_back(line("order", e.source, e.kind, e.title, e.written, e.procedure, e.side, e.forbids, e.until, e.not_before, e.agent));
  for (const auto& e : record.withheld) lines.push_back(line("withheld", e.source, e.kind, e.until));
  for (const auto& e : record.remarks) lines.push_back(line("remark", e.source, e.agent, e.text));
  for (const auto& e : record.contacts) lines.push_back(line("contact", e.source, e.who, e.role, e.phone, e.phone_source, e.from, e.until));
  return lines;
}

}  // namespace reading_test
