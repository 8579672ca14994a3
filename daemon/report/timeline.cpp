#include "report/timeline.h"

#include <algorithm>

#include "clinical/names.h"
#include "fhir/date_time.h"
#include "fhir/digest.h"
#include "report/timeline_parts.h"

namespace report {
namespace {

using clinical::name_of;
using json::Value;

Value texts(const std::vector<std::string>& values) { return Value::array({values.begin(), values.end()}); }

Value reference_or_null(const std::string& reference) { return reference.empty() ? Value() : Value(reference); }

Value agents_json(const std::vector<clinical::AgentRow>& rows, const words::Voice& voice, bool with_fraction) {
  Value all = Value::array();
  for (const auto& row : rows) {
    Value one = Value::object({{"agent", name_of(row.agent)}, {"lastGiven", instant_or_null(row.last_given)}});
    if (with_fraction) one.set("fractionLeft", row.fraction_left ? Value::decimal(rounded(*row.fraction_left, 3)) : Value());
    one.set("halfLifeMinutes", minutes_or_null(row.half_life));
    one.set("basis", bases_json(row.basis, voice));
    one.set("running", row.running);
    one.set("total", row.total ? Value(row.total->written) : Value());
    one.set("totalPerKg", row.total_per_kg ? Value(row.total_per_kg->written) : Value());
    all.push(std::move(one));
  }
  return all;
}

Value clearance_json(const std::optional<clinical::Clearance>& clearance, const words::Voice& voice) {
  if (!clearance) return {};
  return Value::object({{"value", Value::decimal(rounded(clearance->millilitres_per_minute, 1))},
                        {"unit", "mL/min"},
                        {"basis", bases_json(clearance->basis, voice)}});
}

Value missing_json(const std::vector<clinical::Missing>& missing) {
  Value all = Value::array();
  for (const auto& one : missing) {
    Value blocks = Value::array();
    for (const auto& step : one.blocks) blocks.push(name_of(step));
    all.push(Value::object({{"fact", name_of(one.fact)}, {"askedOf", name_of(one.asked_of)}, {"blocks", std::move(blocks)}, {"site", reference_or_null(one.site)}}));
  }
  return all;
}

Value conflicts_json(const std::vector<clinical::Conflict>& conflicts) {
  Value all = Value::array();
  for (const auto& one : conflicts)
    all.push(Value::object({{"fact", name_of(one.fact)},
                            {"values", texts(one.values)},
                            {"inputs", inputs_json(one.inputs)},
                            {"about", reference_or_null(one.about)},
                            {"site", reference_or_null(one.site)}}));
  return all;
}

Value alerts_json(const std::vector<clinical::Alert>& alerts, const words::Voice& voice) {
  Value all = Value::array();
  for (const auto& one : alerts)
    all.push(Value::object({{"trigger", one.trigger},
                            {"level", name_of(one.level)},
                            {"episode", one.episode},
                            {"why", voice.say(one.why)},
                            {"inputs", inputs_json(one.inputs)},
                            {"site", reference_or_null(one.site)},
                            {"since", instant_or_null(one.since)},
                            {"raisedAgain", instant_or_null(one.raised_again)}}));
  return all;
}

// Times inside sentences carry their date unless they lie on the day on which the case began: nothing here moves at midnight.
words::Voice on_first_day(const clinical::CasePlan& plan, const words::Voice& voice) {
  const auto* zone = voice.context.zone;
  return {voice.words, plan.started ? words::context_at(*plan.started, zone) : words::Context{zone, {}}};
}

// `hash` empty: the written view.
Value case_json(const clinical::CasePlan& plan, const words::Voice& given, const std::string& hash) {
  const words::Voice voice = on_first_day(plan, given);
  const bool view = hash.empty();
  Value one = Value::object({{"procedure", plan.procedure.reference},
                             {"patient", plan.patient.source.reference},
                             {"encounter", reference_or_null(plan.encounter)},
                             {"state", name_of(plan.state)}});
  if (!view) one.set("planHash", hash).set("nextChange", instant_or_null(plan.next_change));
  one.set("validUntil", instant_or_null(plan.valid_until));
  one.set("upAt", instant_or_null(plan.up_at));
  Value sites = Value::array();
  for (const auto& site : plan.sites) sites.push(site_json(site, voice));
  one.set("sites", std::move(sites));
  one.set("agents", agents_json(plan.agents, voice, !view));
  one.set("creatinineClearance", clearance_json(plan.clearance, voice));
  one.set("missing", missing_json(plan.missing));
  one.set("conflicts", conflicts_json(plan.conflicts));
  one.set("alerts", alerts_json(plan.alerts, voice));
  Value cautions = Value::array();
  for (const auto& caution : plan.cautions) cautions.push(voice.say(caution));
  one.set("cautions", std::move(cautions));
  one.set("provisional", plan.provisional);
  one.set("upSite", reference_or_null(plan.up_site));
  if (!view) return one;
  // Written as well, though no part of the timeline: who and where.
  const auto& patient = plan.patient;
  one.set("person", texts({patient.name, patient.birth_written, patient.record_number, plan.place, plan.title, plan.operator_name}));
  return one;
}

Value protocol_json(const clinical::Protocol& protocol) {
  return Value::object({{"id", protocol.id}, {"version", protocol.version}, {"sha256", protocol.sha256}, {"approved", protocol.approved}});
}

Value issues_json(fhir::Issues issues) {
  std::ranges::sort(issues);
  const auto repeated = std::ranges::unique(issues);
  issues.erase(repeated.begin(), repeated.end());
  Value all = Value::array();
  for (const auto& issue : issues)
    all.push(Value::object({{"severity", fhir::word(issue.severity)}, {"code", issue.code}, {"at", issue.at}, {"text", issue.text}}));
  return all;
}

Value earliest(const std::vector<clinical::CasePlan>& plans, std::optional<clinical::Instant> clinical::CasePlan::*member) {
  std::optional<clinical::Instant> first;
  for (const auto& plan : plans)
    if (const auto& at = plan.*member; at && (!first || *at < *first)) first = at;
  return instant_or_null(first);
}

}  // namespace

Value written_view(const clinical::CasePlan& plan, const clinical::Protocol& protocol, const words::Voice& voice) {
  Value view = case_json(plan, voice, {});
  view.set("protocol", protocol_json(protocol));
  return view;
}

std::string plan_hash(const Value& view) { return fhir::sha256_hex(json::write(view)); }

std::string plan_hash(const std::vector<std::string>& case_hashes) {
  std::string all;
  for (const auto& hash : case_hashes) all += hash + '\n';
  return fhir::sha256_hex(all);
}

Value timeline(const std::vector<clinical::CasePlan>& plans, const clinical::Protocol& protocol, clinical::Instant as_of, const words::Voice& voice,
               fhir::Issues issues) {
  std::vector<std::string> hashes;
  Value cases = Value::array();
  for (const auto& plan : plans) {
    hashes.push_back(plan_hash(written_view(plan, protocol, voice)));
    cases.push(case_json(plan, voice, hashes.back()));
  }
  return Value::object({{"schema", 1},
                        {"asOf", fhir::format_utc(as_of)},
                        {"planHash", plan_hash(hashes)},
                        {"nextChange", earliest(plans, &clinical::CasePlan::next_change)},
                        {"validUntil", earliest(plans, &clinical::CasePlan::valid_until)},
                        {"protocol", protocol_json(protocol)},
                        {"cases", std::move(cases)},
                        {"issues", issues_json(std::move(issues))}});
}

}  // namespace report
