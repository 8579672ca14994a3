#include "clinical/clearance.h"

#include <algorithm>
#include <cmath>

#include "clinical/age.h"
#include "clinical/newest.h"
#include "clinical/quantity.h"

namespace clinical {
namespace {

double number(Micro micro) { return static_cast<double>(micro) / kMicro; }

/// Rising by 0.3 mg/dL in 48 h or by half in 7 d, up to the newest: KDIGO acute kidney injury guideline 2012, from memory.
bool rising(const Evidence& evidence, const Measurement& last) {
  for (const auto* m : evidence.measurements(Analyte::creatinine)) {
    if (!m->value || m == &last) continue;
    const auto apart = last.at->earliest - m->at->latest;
    const Micro rise = last.value->micro - m->value->micro;
    if (apart <= hours{48} && rise >= evidence.protocol.creatinine_rise_48h.micro) return true;
    if (apart <= hours{24 * 7} && number(rise) * 100 >= number(m->value->micro) * number(evidence.protocol.creatinine_rise_7d.micro)) return true;
  }
  return false;
}

bool of_this_stay(const Evidence& evidence, Instant drawn) {
  const auto& encounter = evidence.facts.encounter;
  return encounter && encounter->start && drawn >= encounter->start->latest;
}

const Measurement* usable_weight(const Evidence& evidence) {
  const auto last = newest(evidence, Analyte::weight, Worse::lower);
  if (!last || !last->has_value() || !last->value().exact() || last->value().micro <= 0) return nullptr;
  return of_this_stay(evidence, last->drawn) || evidence.fresh(last->drawn, evidence.protocol.fresh_weight) ? last->shown : nullptr;
}

const Measurement* adult_height(const Evidence& evidence, const Moment& birth) {
  std::vector<const Measurement*> adult;
  for (const auto* m : evidence.measurements(Analyte::height))
    if (m->value && m->value->exact() && m->value->micro > 0 &&
        youngest_age(birth, m->at->earliest) >= evidence.protocol.adult_age.whole_number())
      adult.push_back(m);
  const auto last = newest_of(adult, Worse::lower);
  return last ? last->shown : nullptr;
}

/// Without words it has its inputs and no arithmetic: most of those who ask want the number.
void reckon(const Evidence& evidence, ClearanceResult& result, const Measurement& creatinine, const Measurement& weight, bool words) {
  const Patient& patient = evidence.facts.patient;
  const int age = oldest_age(*patient.birth, evidence.facts.start);
  const Measurement* height = adult_height(evidence, *patient.birth);
  double used = number(weight.value->micro);
  Clearance clearance;
  Basis basis{{}, {}, {patient.source, creatinine.source, weight.source}, {}};
  if (height) {
    used = std::min(used, adjusted_weight(used, number(height->value->micro), patient.sex));
    add_source(basis.inputs, height->source);
  } else {
    result.band_worse = true;
    result.missing.push_back(Fact::height);
  }
  clearance.millilitres_per_minute = cockcroft_gault(age, used, number(creatinine.value->micro), patient.sex);
  if (words) {
    const auto tenths = static_cast<Micro>(std::lround(used * 10)) * (kMicro / 10);
    basis.rule = "clearance.cockcroft-gault";
    basis.source = "Cockcroft and Gault, Nephron 1976;16:31";
    basis.arithmetic = {height ? "clearance.reckoned" : "clearance.reckoned-without-height",
                        {{"age", std::int64_t{age}}, {"weight", computed(tenths, "kg")}, {"creatinine", *creatinine.value}, {"drawn", when(*creatinine.at)}}};
  }
  clearance.basis.push_back(std::move(basis));
  result.clearance = std::move(clearance);
}

}  // namespace

double cockcroft_gault(int age, double weight_kg, double creatinine_mg_dl, Sex sex) {
  return (140 - age) * weight_kg / (72 * creatinine_mg_dl) * (sex == Sex::female ? 0.85 : 1.0);
}

double adjusted_weight(double weight_kg, double height_cm, Sex sex) {
  const double ideal = (sex == Sex::female ? 45.5 : 50.0) + 2.3 * (height_cm / 2.54 - 60);
  return ideal + 0.4 * (weight_kg - ideal);
}

std::optional<Instant> clearance_until(const Evidence& evidence) {
  if (!clearance_of(evidence).clearance) return std::nullopt;
  const Instant creatinine = newest(evidence, Analyte::creatinine, Worse::higher)->drawn + evidence.protocol.fresh_creatinine.span();
  const Instant weighed = newest(evidence, Analyte::weight, Worse::lower)->drawn;
  return of_this_stay(evidence, weighed) ? creatinine : std::min(creatinine, weighed + evidence.protocol.fresh_weight.span());
}

std::optional<double> weight_of(const Evidence& evidence) {
  const auto* weight = usable_weight(evidence);
  return weight ? std::optional(number(weight->value->micro)) : std::nullopt;
}

ClearanceResult clearance_of(const Evidence& evidence, bool words) {
  ClearanceResult result;
  const Patient& patient = evidence.facts.patient;
  result.dialysis = evidence.risk(RiskKind::dialysis) != nullptr;
  const auto last = newest(evidence, Analyte::creatinine, Worse::higher);
  const Measurement* creatinine = nullptr;
  if (last && last->has_value() && last->value().exact() && last->value().micro > 0 && evidence.fresh(last->drawn, evidence.protocol.fresh_creatinine))
    creatinine = last->shown;
  const Measurement* weight = usable_weight(evidence);
  if (!creatinine) result.missing.push_back(Fact::creatinine);
  if (!weight) result.missing.push_back(Fact::weight);
  if (!patient.birth) result.missing.push_back(Fact::birth_date);
  result.unstable = creatinine && rising(evidence, *creatinine);
  const bool sex_known = patient.sex == Sex::female || patient.sex == Sex::male;
  if (creatinine && weight && patient.birth && sex_known && !result.unstable && !result.dialysis) reckon(evidence, result, *creatinine, *weight, words);
  return result;
}

ClearanceResult clearance_at(const CaseFacts& facts, const Protocol& protocol, const Clock& clock) {
  return clearance_of(Evidence(facts, protocol, clock), true);
}

std::optional<std::size_t> clearance_row(const ClearanceResult& result, std::initializer_list<Micro> edges) {
  if (!result.clearance || result.dialysis || result.unstable) return std::nullopt;
  constexpr double kRounding = 1e-9;  // so that 30 mL/min reckoned in binary is still 30
  const double value = result.clearance->millilitres_per_minute;
  auto row = static_cast<std::size_t>(std::count_if(edges.begin(), edges.end(), [&](Micro edge) { return value <= number(edge) + kRounding; }));
  if (result.band_worse) row = std::min(row + 1, edges.size());
  return row;
}

void say_clearance(Gate& gate, const ClearanceResult& result, std::initializer_list<Micro> edges) {
  const auto row = clearance_row(result, edges);
  if (!row || gate.why.code != "gate.drug.run-out") return;
  std::string limits;
  if (*row < edges.size()) limits = "> " + digits_of(edges.begin()[*row]);
  if (*row > 0) limits += (limits.empty() ? "<= " : ", <= ") + digits_of(edges.begin()[*row - 1]);
  gate.why.code = result.band_worse ? "gate.drug.run-out-kidneys-no-height" : "gate.drug.run-out-kidneys";
  const auto tenths = static_cast<Micro>(std::lround(result.clearance->millilitres_per_minute * 10)) * (kMicro / 10);
  gate.why.arguments.emplace_back("clearance", computed(tenths, "mL/min"));
  gate.why.arguments.emplace_back("row", limits);
}

std::vector<Source> clearance_sources(const ClearanceResult& result) {
  return result.clearance ? result.clearance->basis.front().inputs : std::vector<Source>{};
}

}  // namespace clinical
