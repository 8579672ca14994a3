#include "report/timeline_parts.h"

#include <fmt/format.h>

#include <cmath>
#include <set>

#include "clinical/names.h"
#include "fhir/date_time.h"
#include "fhir/decimal.h"

namespace report {
namespace {

using clinical::name_of;
using json::Value;

Value gate_json(const clinical::Gate& gate, const words::Voice& voice) {
  return Value::object({{"gate", name_of(gate.name)},
                        {"state", name_of(gate.state)},
                        {"opensAt", instant_or_null(gate.opens_at)},
                        {"expiresAt", instant_or_null(gate.expires_at)},
                        {"why", voice.say(gate.why)},
                        {"rule", gate.rule},
                        {"source", gate.source},
                        {"inputs", inputs_json(gate.inputs)},
                        {"valueSeen", gate.value_seen.empty() ? Value() : Value(gate.value_seen)}});
}

Value milestone_json(const clinical::Milestone& m, const words::Voice& voice) {
  return Value::object({{"step", name_of(m.step)},
                        {"status", name_of(m.status)},
                        {"earliest", instant_or_null(m.earliest)},
                        {"expected", instant_or_null(m.expected)},
                        {"latest", instant_or_null(m.latest)},
                        {"actual", instant_or_null(m.actual)},
                        {"minutes", minutes_or_null(m.planned)},
                        {"afterT0Minutes", minutes_or_null(m.after_t0)},
                        {"basis", bases_json(m.basis, voice)},
                        {"ordinal", m.ordinal == 0 ? Value() : Value(m.ordinal)},
                        {"released", m.released},
                        {"late", m.late},
                        {"why", m.why ? Value(voice.say(*m.why)) : Value()}});
}

Value projection_json(const std::optional<clinical::Projection>& projection) {
  if (!projection || (!projection->computed && !projection->next_draw)) return {};
  return Value::object({{"analyte", "act"},
                        {"limit", Value::decimal(fhir::shortest(projection->limit))},
                        {"p10", instant_or_null(projection->p10)},
                        {"p50", instant_or_null(projection->p50)},
                        {"p90", instant_or_null(projection->p90)},
                        {"nextDraw", instant_or_null(projection->next_draw)}});
}

}  // namespace

Value instant_or_null(const std::optional<clinical::Instant>& at) { return at ? Value(fhir::format_utc(*at)) : Value(); }

Value minutes_or_null(const std::optional<clinical::minutes>& length) { return length ? Value(std::int64_t{length->count()}) : Value(); }

Value inputs_json(const std::vector<clinical::Source>& inputs) {
  std::set<std::string> references;
  for (const auto& input : inputs)
    if (!input.reference.empty()) references.insert(input.reference);
  return Value::array({references.begin(), references.end()});
}

Value bases_json(const std::vector<clinical::Basis>& bases, const words::Voice& voice) {
  Value all = Value::array();
  for (const auto& basis : bases)
    all.push(Value::object({{"rule", basis.rule},
                            {"source", basis.source},
                            {"inputs", inputs_json(basis.inputs)},
                            {"arithmetic", voice.say(basis.arithmetic)}}));
  return all;
}

Value site_json(const clinical::SitePlan& site, const words::Voice& voice) {
  Value gates = Value::array(), milestones = Value::array();
  for (const auto& gate : site.gates) gates.push(gate_json(gate, voice));
  for (const auto& milestone : site.milestones) milestones.push(milestone_json(milestone, voice));
  return Value::object({{"side", name_of(site.side)},
                        {"vessel", name_of(site.vessel)},
                        {"french", site.french ? Value(*site.french) : Value()},
                        {"closure", name_of(site.closure)},
                        {"t0", instant_or_null(site.t0)},
                        {"gates", std::move(gates)},
                        {"milestones", std::move(milestones)},
                        {"projection", projection_json(site.projection)},
                        {"key", site.key},
                        {"sheathOut", instant_or_null(site.sheath_out)},
                        {"compressionStarted", instant_or_null(site.compression_started)},
                        {"haemostases", site.haemostases},
                        {"highWatch", site.high_watch}});
}

// The small addend undoes the error of numbers that end in 5 and have no exact binary form; both figures are shown, never compared.
std::string rounded(double value, int decimals) {
  const double scale = std::pow(10.0, decimals);
  return fmt::format("{:.{}f}", std::floor(value * scale + 0.5 + 1e-9) / scale, decimals);
}

}  // namespace report
