#include "fhir_read/kidney.h"

#include "fhir/decimal.h"
#include "fhir_read/observation.h"
#include "fhir_read/readers.h"
#include "fhir_read/values.h"

#include <algorithm>

namespace fhir_read {
namespace {

using clinical::Analyte;

constexpr const char* kByName = "egfr";  // in place of a code

// Under 60 mL/min: the kidneys are moderately or severely impaired (KDIGO chronic kidney disease guideline 2012, categories G3a to G5, from memory). "> 60" is no low one.
bool surely_not_low(const json::Value& quantity) {
  const auto number = fhir::Decimal::parse(quantity["value"].is_number() ? quantity["value"].digits() : quantity["value"].text());
  const auto micro = number ? number->millionths() : std::nullopt;
  const auto comparator = quantity["comparator"].text();
  return micro && comparator != "<" && comparator != "<=" && micro->value >= clinical::whole(60);
}

std::string code_of_rate(const Resource& r, const Reading& reading) {
  for (const auto& one : codes_of(r.body["code"], reading))
    if (reading.terms.filtration_rates.find(one.key)) return one.key.code;
  for (const auto& text : texts_of(r.body["code"]))
    if (meaning_by_name(text, reading.terms.filtration_rates)) return kByName;
  return {};
}

bool is_rate(const clinical::Measurement& m, const Reading& reading) {
  const auto& codes = reading.terms.filtration_rates.codes;
  return m.analyte == Analyte::creatinine && (m.test_code == kByName || std::ranges::any_of(codes, [&](const auto& entry) { return entry.first.code == m.test_code; }));
}

}  // namespace

bool read_filtration_rate(const Resource& r, Reading& reading) {
  const auto code = code_of_rate(r, reading);
  if (code.empty()) return false;
  if (r.body.has("dataAbsentReason") || result_status(r, reading) == ResultStatus::none) return true;
  const bool text = !r.body["valueQuantity"].is_object();
  const auto quantity = text ? quantity_in(r.body["valueString"].text()) : r.body["valueQuantity"];
  const std::string recorded = text ? std::string(r.body["valueString"].text()) : written(quantity);
  if (recorded.empty() || surely_not_low(quantity)) return true;
  clinical::Measurement out;
  out.source = r.fact_source(code == kByName);
  out.analyte = Analyte::creatinine;
  out.test_code = code;
  out.unread = "eGFR " + recorded;
  out.at = moment_of(times_of(r.body, {"effective"}, r, reading));
  if (!out.at) out.at = written_down(r, reading);
  reading.record.measurements.push_back(std::move(out));
  return true;
}

void read_kidney_failure(const Resource& r, Reading& reading) {
  const auto& table = reading.terms.kidney_failure;
  const auto codes = codes_of(r.body["code"], reading);
  const bool coded = std::ranges::any_of(codes, [&](const Code& one) {
    const auto wider = CodeKey{one.key.system, one.key.code.substr(0, one.key.code.find('.'))};
    return table.find(one.key) || table.find(wider);
  });
  const auto texts = texts_of(r.body["code"]);
  const bool named = std::ranges::any_of(texts, [&](const std::string& text) { return meaning_by_name(text, table) != nullptr; });
  if (!coded && !named) return;
  clinical::Measurement out;
  out.source = r.fact_source(!coded);
  out.analyte = Analyte::creatinine;
  out.unread = title_of(r.body["code"]);
  for (const auto& said : {moment_of(r.body["recordedDate"], r, "recordedDate", reading), times_of(r.body, {"onset"}, r, reading).start})
    if (said && (!out.at || said->latest > out.at->latest)) out.at = said;
  reading.record.measurements.push_back(std::move(out));
}

void drop_answered_rates(Reading& reading) {
  auto& all = reading.record.measurements;
  const auto answered = [&](const clinical::Measurement& rate) {
    return rate.at && std::ranges::any_of(all, [&](const clinical::Measurement& m) {
             return m.analyte == Analyte::creatinine && m.value && m.at && m.at->latest + std::chrono::minutes(5) >= rate.at->earliest;
           });
  };
  std::vector<clinical::Source> dropped;
  for (const auto& m : all)
    if (is_rate(m, reading) && answered(m)) dropped.push_back(m.source);
  std::erase_if(all, [&](const clinical::Measurement& m) { return is_rate(m, reading) && std::ranges::find(dropped, m.source) != dropped.end(); });
}

}  // namespace fhir_read
