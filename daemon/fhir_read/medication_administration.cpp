#include "fhir_read/drug.h"
#include "fhir_read/readers.h"
#include "fhir_read/values.h"

#include <algorithm>

namespace fhir_read {
namespace {

using clinical::AdministrationStatus;

std::optional<AdministrationStatus> status_named(std::string_view word) {
  using S = AdministrationStatus;
  if (word == "in-progress") return S::in_progress;
  if (word == "on-hold") return S::on_hold;
  if (word == "completed") return S::completed;
  if (word == "stopped") return S::stopped;
  return std::nullopt;
}

clinical::Route route_of(const json::Value& route, const Reading& reading) {
  if (const auto* coded = meaning_by_code(codes_of(route, reading), reading.terms.routes)) return *coded;
  for (const auto& text : texts_of(route)) {
    if (const auto* named = meaning_by_name(text, reading.terms.routes)) return *named;
  }
  return route.is_null() ? clinical::Route::unknown : texts_of(route).empty() ? clinical::Route::unknown : clinical::Route::other;
}

clinical::DoseUnit unit_of(const fhir::DrugUnit& unit) {
  switch (unit.amount) {
    case fhir::DrugUnit::Amount::international_units: return clinical::DoseUnit::international_unit;
    case fhir::DrugUnit::Amount::milligrams: return clinical::DoseUnit::milligram;
    case fhir::DrugUnit::Amount::millilitres: return clinical::DoseUnit::other;
  }
  return clinical::DoseUnit::other;
}

struct Amount {
  clinical::Value value;
  fhir::DrugUnit unit;
};

// A number with a drug unit, times `per`; nullopt with an issue.
std::optional<Amount> amount_of(const json::Value& quantity, fhir::Ratio per, clinical::Agent agent, const Resource& r, std::string_view path, Reading& reading) {
  if (!quantity.is_object()) return std::nullopt;
  const auto number = fhir::Decimal::parse(quantity["value"].digits());
  if (quantity.has("comparator") || !number || number->negative()) {
    reading.error(r, path, "bad-amount", "\"" + written(quantity) + "\" is no amount; the number is not used.");
    return std::nullopt;
  }
  const auto unit = fhir::find_drug_unit(fhir::unit_of(quantity), is_heparin(agent));
  if (!unit) {
    reading.warn(r, path, fhir::word(unit.error()), "\"" + written(quantity) + "\": the unit is not understood; the number is not used.");
    return std::nullopt;
  }
  if (unit->alias) reading.inform(r, path, "unit-alias", "\"" + written(quantity) + "\": the unit is no UCUM code; it was taken for what it is meant to be.");
  const auto micro = number->millionths({unit->factor.num * per.num, unit->factor.den * per.den});
  if (!micro) {
    reading.error(r, path, "out-of-range", "\"" + written(quantity) + "\" is no usable number.");
    return std::nullopt;
  }
  return Amount{{micro->value, clinical::Comparator::none, written(quantity)}, *unit};
}

void read_dose(const json::Value& dosage, const Resource& r, Reading& reading, clinical::Administration& out) {
  const auto amount = amount_of(dosage["dose"], {}, out.agent, r, "dosage.dose", reading);
  if (!amount) return;
  if (amount->unit.per_time) return reading.error(r, "dosage.dose", "wrong-unit", "\"" + amount->value.written + "\" is a rate, not a dose; it is not used.");
  out.dose = clinical::Dose{amount->value, unit_of(amount->unit), amount->unit.per_kg};
}

void set_rate(const Amount& amount, clinical::Administration& out) {
  out.rate = clinical::Rate{amount.value, unit_of(amount.unit), amount.unit.per_kg};
}

void read_rate_quantity(const json::Value& rate, const Resource& r, Reading& reading, clinical::Administration& out) {
  const auto amount = amount_of(rate, {}, out.agent, r, "dosage.rateQuantity", reading);
  if (!amount) return;
  if (!amount->unit.per_time) return reading.error(r, "dosage.rateQuantity", "wrong-unit", "\"" + amount->value.written + "\" is no rate; it is not used.");
  set_rate(*amount, out);
}

// "100 mL per 2 h": the denominator's number counts.
void read_rate_ratio(const json::Value& ratio, const Resource& r, Reading& reading, clinical::Administration& out) {
  const auto time = fhir::convert(ratio["denominator"], fhir::QuantityKind::seconds);
  if (!time || time->amount.value <= 0 || time->amount.rounded) {
    return reading.error(r, "dosage.rateRatio.denominator", "wrong-unit", "\"" + written(ratio["denominator"]) + "\" is no time; the rate is not used.");
  }
  constexpr std::int64_t micros_an_hour = 3'600'000'000;
  auto amount = amount_of(ratio["numerator"], {micros_an_hour, time->amount.value}, out.agent, r, "dosage.rateRatio.numerator", reading);
  if (!amount || amount->unit.per_time) return;
  amount->value.written += " / " + written(ratio["denominator"]);
  set_rate(*amount, out);
}

void read_times(const Resource& r, Reading& reading, clinical::Administration& out) {
  const auto times = times_of(r.body, {"effective", "occurence", "occurrence"}, r, reading);
  out.start = times.start;
  out.end = times.end;
  out.bolus = times.single && times.start.has_value();
  if (!out.start && !out.end) reading.warn(r, "effective", "no-time", "The administration has no usable time.");
  if (!out.bolus && out.start && !out.end && out.status == AdministrationStatus::completed) {
    reading.warn(r, "effectivePeriod.end", "no-end", "Completed, and no end is recorded: when it stopped is unknown.");
  }
}

// A rate runs for a time: one dateTime is then the start, and when it stopped is unknown.
void one_time_with_rate(const json::Value& dosage, const Resource& r, Reading& reading, clinical::Administration& out) {
  const auto dose = amount_of(dosage["dose"], {}, out.agent, r, "dosage.dose", reading);
  const bool rated = dosage.has("rateQuantity") || dosage.has("rateRatio") || (dose && dose->unit.per_time);
  if (!out.bolus || !rated) return;
  out.bolus = false;
  out.end.reset();
  reading.warn(r, "effectiveDateTime", "rate-without-end", "A rate with a single time: when it stopped is unknown.");
}

bool given(const Resource& r, Reading& reading) {
  if (r.body["status"].text() != "not-done") return true;
  reading.inform(r, "status", "not-done", "Recorded as not given.");
  return false;
}

}  // namespace

void read_medication_administration(const Resource& r, Reading& reading) {
  if (!given(r, reading)) return;
  clinical::Administration out;
  const auto drug = drug_of(r.body, r, reading);
  out.source = r.fact_source(drug.by_text);
  out.agent = drug.agent;
  out.name = drug.name;
  out.flush = drug.flush;
  const auto status = status_named(r.body["status"].text());
  if (!status && r.body["status"].text() != "unknown") {
    reading.error(r, "status", "unknown-status", "\"" + std::string(r.body["status"].text()) + "\" is no status of an administration.");
  }
  out.status = status.value_or(AdministrationStatus::unknown);
  read_times(r, reading, out);
  const auto dosages = list_of(r.body["dosage"]);
  const auto& dosage = dosages.empty() ? r.body["dosage"] : *dosages.front();
  out.route = route_of(dosage["route"], reading);
  read_dose(dosage, r, reading, out);
  if (dosage.has("rateQuantity")) read_rate_quantity(dosage["rateQuantity"], r, reading, out);
  if (dosage.has("rateRatio")) read_rate_ratio(dosage["rateRatio"], r, reading, out);
  one_time_with_rate(dosage, r, reading, out);
  out.encounter = key_of(first_of(r.body, {"context", "encounter"}), r);
  reading.record.administrations.push_back(std::move(out));
}

void keep_doubtful_administration(const Resource& r, Reading& reading) {
  clinical::Administration out;
  out.source = r.fact_source();
  out.name = drug_of(r.body, r, reading).name;
  out.agent = clinical::Agent::unidentified;
  read_times(r, reading, out);
  reading.record.administrations.push_back(std::move(out));
}

}  // namespace fhir_read
