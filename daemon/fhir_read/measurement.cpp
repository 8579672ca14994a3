#include "clinical/names.h"
#include "fhir/codes.h"
#include "fhir_read/observation.h"
#include "fhir_read/possible.h"
#include "fhir_read/values.h"

#include <algorithm>

namespace fhir_read {
namespace {

using clinical::Analyte;
using fhir::QuantityKind;

QuantityKind kind_of(Analyte analyte) {
  switch (analyte) {
    case Analyte::act: case Analyte::aptt: return QuantityKind::seconds;
    case Analyte::anti_xa: return QuantityKind::anti_xa;
    case Analyte::inr: return QuantityKind::inr;
    case Analyte::platelets: return QuantityKind::cells;
    case Analyte::haemoglobin: return QuantityKind::haemoglobin;
    case Analyte::fibrinogen: return QuantityKind::fibrinogen;
    case Analyte::creatinine: return QuantityKind::creatinine;
    case Analyte::weight: return QuantityKind::kilograms;
    case Analyte::height: return QuantityKind::centimetres;
    case Analyte::systolic: case Analyte::diastolic: case Analyte::mean_pressure: return QuantityKind::millimetres_mercury;
    case Analyte::heart_rate: return QuantityKind::per_minute;
    case Analyte::alanine_aminotransferase: case Analyte::aspartate_aminotransferase: return QuantityKind::enzyme;
    case Analyte::bilirubin: return QuantityKind::bilirubin;
    case Analyte::oxygen_saturation: return QuantityKind::percent;
    case Analyte::temperature: return QuantityKind::celsius;
  }
  return QuantityKind::percent;
}

struct Identified {
  Analyte analyte;
  std::string code;
};

// The quantity that the codes mean. Codes that mean different ones make it none.
std::optional<Identified> identify(const json::Value& code, const Resource& r, std::string_view path, Reading& reading) {
  std::optional<Identified> found;
  for (const auto& one : codes_of(code, reading)) {
    const auto* analyte = reading.terms.measurements.find(one.key);
    if (!analyte) continue;
    if (found && found->analyte != *analyte) {
      reading.error(r, path, "codes-disagree", "The codes mean different quantities; the value is not used.");
      return std::nullopt;
    }
    if (!found) found = Identified{*analyte, one.key.code};
  }
  return found;
}

// What makes a sample unfit. HL7 table 0493: CLOT, SNR (not received), HEM (haemolysed), CON (contaminated). That a clotted sample gives no
// coagulation test and no count, and a haemolysed one no coagulation test: from memory of the laboratory's rules for rejecting samples.
enum class Fitness { fit, not_for_clotting, unfit };

bool says(const std::vector<std::string>& words, std::initializer_list<std::string_view> any) {
  return std::ranges::any_of(words, [&](const std::string& w) { return std::ranges::find(any, w) != any.end(); });
}

Fitness fitness_said(std::string_view text) {
  const auto words = words_of(text);
  if (has_phrase(words, {"not", "received"})) return Fitness::unfit;
  if (says(words, {"no", "not", "without", "nicht", "kein"})) return Fitness::fit;
  if (says(words, {"clot", "clots", "clotted", "geronnen", "insufficient"})) return Fitness::unfit;
  const bool spoilt = says(words, {"hemolyzed", "hemolysed", "haemolysed", "haemolyzed", "hämolytisch", "contaminated", "diluted"});
  return spoilt ? Fitness::not_for_clotting : Fitness::fit;
}

Fitness fitness_coded(std::string_view code) {
  if (code == "CLOT" || code == "SNR") return Fitness::unfit;
  return code == "HEM" || code == "CON" ? Fitness::not_for_clotting : Fitness::fit;
}

Fitness fitness_of(const json::Value& specimen) {
  if (specimen["status"].text() == "unsatisfactory") return Fitness::unfit;
  auto fitness = Fitness::fit;
  for (const auto* condition : list_of(specimen["condition"])) {
    for (const auto& text : texts_of(*condition)) fitness = std::max(fitness, fitness_said(text));
    for (const auto& coding : (*condition)["coding"].items()) fitness = std::max(fitness, fitness_coded(coding["code"].text()));
  }
  return fitness;
}

bool of_clotting(Analyte analyte) {
  return analyte == Analyte::act || analyte == Analyte::aptt || analyte == Analyte::inr || analyte == Analyte::anti_xa || analyte == Analyte::fibrinogen;
}

Fitness fitness_of_sample(const Resource& r, const Reading& reading) {
  const auto* specimen = r.body["specimen"].is_object() ? reading.set.resolve(r.body["specimen"], r) : nullptr;
  return specimen ? fitness_of(*specimen) : Fitness::fit;
}

// Later than the other by more than clocks differ.
bool later(const clinical::Moment& a, const clinical::Moment& b) { return a.earliest > b.latest + std::chrono::minutes(5); }

clinical::Moment span_of(const clinical::Moment& a, const clinical::Moment& b) { return {std::min(a.earliest, b.earliest), std::max(a.latest, b.latest)}; }

// Of two times of drawing the sample's counts where it is the older: a result is often stamped when it comes. One that says it was drawn after the time in the result
// contradicts it, and then the draw lies somewhere between: as old as the older where freshness is asked, and never hidden by a value from between.
clinical::Moment draw_of(const std::optional<clinical::Moment>& said, const clinical::Moment& drawn, const Resource& r, Reading& reading) {
  if (!said || (!later(*said, drawn) && !later(drawn, *said))) return drawn;
  if (later(*said, drawn)) {
    reading.inform(r, "specimen", "draw-time", "The sample was drawn at another time than the result says; the sample's time counts.");
    return drawn;
  }
  reading.warn(r, "specimen", "draw-time", "The sample says that it was drawn after the time in the result; the draw counts as uncertain between them.");
  return span_of(*said, drawn);
}

// No result comes before the blood is drawn.
void take_issued(const Resource& r, Reading& reading, clinical::Measurement& common) {
  const auto issued = moment_of(r.body["issued"], r, "issued", reading);
  if (!issued || !common.at || !later(*common.at, *issued)) return;
  reading.warn(r, "issued", "draw-time", "The result was issued before the time at which it says it was drawn; the draw counts as uncertain between them.");
  common.at = span_of(*common.at, *issued);
}

// True draw time and site of sampling, where a Specimen tells them.
void take_specimen(const Resource& r, Reading& reading, clinical::Measurement& common) {
  if (!r.body["specimen"].is_object()) return;
  const auto* specimen = reading.set.resolve(r.body["specimen"], r);
  if (!specimen) return reading.inform(r, "specimen", "unresolved", "The Specimen is not here (" + shown(r.body["specimen"], r, reading) + "); when it was drawn is taken from the result.");
  if ((*specimen)["status"].text() == "entered-in-error") return reading.warn(r, "specimen", "entered-in-error", "The Specimen was entered in error; its times do not count.");
  const auto& collection = (*specimen)["collection"];
  if (const auto drawn = moment_of(times_of(collection, {"collected"}, r, reading))) {
    common.at = draw_of(common.at, *drawn, r, reading);
  }
  const auto& body_site = collection["bodySite"];
  if (auto site = title_of(concept_in(body_site)); !site.empty()) common.sampling_site = site;
  else if (body_site["reference"].is_object()) common.sampling_site = shown(body_site["reference"], r, reading);
}

// What all values of one Observation share.
clinical::Measurement common_of(const Resource& r, Reading& reading) {
  clinical::Measurement common;
  common.source = r.fact_source();
  common.at = moment_of(times_of(r.body, {"effective"}, r, reading));
  if (r.body["device"].is_object()) {
    common.analyser = shown(r.body["device"], r, reading);
    common.analyser_reference = key_of(r.body["device"], r);
  }
  if (common.analyser.empty()) common.analyser = title_of(r.body["method"]);
  common.sampling_site = title_of(r.body["bodySite"]);
  if (common.sampling_site.empty() && r.body["bodyStructure"].is_object()) common.sampling_site = shown(r.body["bodyStructure"], r, reading);
  const auto& places = reading.site.places_of("drawn");
  if (std::ranges::find(places, "specimen") != places.end()) take_specimen(r, reading, common);
  for (const auto& value : selected_by("drawn", r, reading))
    if (const auto at = moment_of(value, r, "drawn", reading)) common.at = at;
  take_issued(r, reading, common);
  if (!common.at) {
    const bool issued = r.body.has("issued");
    reading.warn(r, "effective", "no-time", issued ? "Only the time of the result is recorded, not when it was measured or drawn." : "There is no usable time.");
  }
  return common;
}

// What the measurement cannot be is no value.
void drop_impossible(clinical::Measurement& out, const Resource& r, std::string_view path, Reading& reading) {
  if (!out.value || possible(out.analyte, *out.value)) return;
  reading.error(r, path, "out-of-range", out.value->written + " cannot be the " + std::string(clinical::name_of(out.analyte)) + ": is the unit right? It is not used.");
  out.impossible = out.value->written;
  out.value.reset();
}

void tell_absent(const json::Value& element, const Resource& r, std::string_view path, Reading& reading) {
  if (const auto reason = title_of(element["dataAbsentReason"]); !reason.empty()) {
    reading.inform(r, std::string(path) + "dataAbsentReason", "absent", "The value is absent: " + reason + ".");
    return;
  }
  for (const auto* form : {"valueString", "valueCodeableConcept", "valueInteger", "valueRange", "valueRatio", "valueBoolean"}) {
    if (element.has(form)) return reading.error(r, std::string(path) + form, "no-quantity", "The value is no quantity with a unit; it is not used.");
  }
  if (!element.has("valueQuantity")) reading.warn(r, std::string(path) + "value", "absent", "There is no value.");
}

// As recorded, where it is recorded at all: digits, words or a code.
std::string as_recorded(const json::Value& element) {
  if (element["valueQuantity"].is_object()) return written(element["valueQuantity"]);
  if (const auto text = element["valueString"].text(); !text.empty()) return std::string(text.substr(0, 60));
  if (auto text = title_of(element["valueCodeableConcept"]); !text.empty()) return text;
  for (const auto* form : {"valueInteger", "valueDecimal"})
    if (const auto digits = element[form].digits(); !digits.empty()) return std::string(digits);
  for (const auto* end : {"low", "high"})
    if (const auto& range = element["valueRange"][end]; range.is_object()) return written(range);
  return {};
}

// mmol/L counts the single chain of haemoglobin or the whole molecule of four, and neither unit nor LOINC code says which. Over 4.35 mmol/L only the single chain can
// be meant: four of them would be over 28 g/dL (16.114 g/mmol of one chain: ICSH, J Clin Pathol 1996;49:271-4, from memory).
bool chain_or_molecule(const json::Value& quantity, const clinical::Value& value) {
  constexpr clinical::Micro four_cannot_be = 7'010'000;
  const auto unit = fhir::unit_of(quantity);
  if (unit.find("mol") == std::string_view::npos) return false;
  const bool over = value.comparator != clinical::Comparator::less && value.comparator != clinical::Comparator::at_most;
  return !over || value.micro < four_cannot_be;
}

void drop_ambiguous(clinical::Measurement& out, const json::Value& quantity, const Resource& r, std::string_view path, Reading& reading) {
  if (out.analyte != Analyte::haemoglobin || !out.value || !chain_or_molecule(quantity, *out.value)) return;
  reading.error(r, path, "ambiguous-unit", "\"" + out.value->written + "\" may count single chains or whole molecules of haemoglobin; it is not used.");
  out.value.reset();
}

// The quantity of `element`: valueQuantity, or a text that is nothing but comparator, number and unit.
json::Value quantity_of(const json::Value& element) {
  if (element["valueQuantity"].is_object() || !element["valueString"].is_string()) return element["valueQuantity"];
  return quantity_in(element["valueString"].text());
}

// A value of which nobody recorded when it was drawn stands at the time at which it was written down, and cannot be used there: what is older does not count in its
// place. One that has no time at all stands beside the newest that has one (clinical/case_window).
void place_by_writing(clinical::Measurement& out, const Resource& r, Reading& reading) {
  if (out.at) return;
  out.at = written_down(r, reading);
  if (!out.at || !out.value) return;
  out.unread = out.value->written;
  out.value.reset();
}

// `element`: the Observation or one of its components; `path`: "" or "component[2].".
bool add_measurement(const json::Value& element, const std::string& path, const clinical::Measurement& common, const Resource& r, Reading& reading) {
  const auto found = identify(element["code"], r, path + "code", reading);
  if (!found) return false;
  clinical::Measurement out = common;
  out.analyte = found->analyte;
  out.test_code = found->code;
  const auto value_path = path + (element.has("valueString") && !element.has("valueQuantity") ? "valueString" : "valueQuantity");
  const auto quantity = quantity_of(element);
  out.value = value_of(quantity, kind_of(found->analyte), r, value_path, reading);
  const bool recorded = out.value.has_value();
  drop_ambiguous(out, quantity, r, value_path, reading);
  if (!out.value) out.unread = as_recorded(element);
  drop_impossible(out, r, value_path, reading);
  if (!recorded) tell_absent(element, r, path, reading);
  const auto fitness = fitness_of_sample(r, reading);
  if (out.value && (fitness == Fitness::unfit || (fitness == Fitness::not_for_clotting && of_clotting(out.analyte)))) {
    reading.error(r, value_path, "unfit-sample", "\"" + out.value->written + "\" comes from a sample that the laboratory calls unfit; it is not used, a new one is needed.");
    out.value.reset();
  }
  place_by_writing(out, r, reading);
  reading.record.measurements.push_back(std::move(out));
  return true;
}

// LOINC's panels of a blood pressure, where the parts are neither in it nor results of their own.
bool is_pressure_without_parts(const json::Value& observation, const Reading& reading) {
  if (observation["component"].size() > 0 || observation.has("hasMember")) return false;
  return std::ranges::any_of(codes_of(observation["code"], reading), [](const Code& c) { return c.key.system == fhir::system_uri::loinc && (c.key.code == "85354-9" || c.key.code == "55284-4"); });
}

// "82/40" in one text, or a reason why there is none: a pressure was to be taken, and what it is nobody here can read. An older one does not stand in for it.
void keep_unread_pressure(const clinical::Measurement& common, std::string_view recorded, const Resource& r, Reading& reading) {
  for (const auto analyte : {Analyte::systolic, Analyte::diastolic}) {
    auto out = common;
    place_by_writing(out, r, reading);
    out.analyte = analyte;
    out.unread = recorded;
    reading.record.measurements.push_back(std::move(out));
  }
}

bool means_anything(const json::Value& code, const Reading& reading) { return meaning_by_code(codes_of(code, reading), reading.terms.measurements) != nullptr; }

bool holds_measurements(const json::Value& observation, const Reading& reading) {
  const auto components = observation["component"].items();
  return means_anything(observation["code"], reading) || is_pressure_without_parts(observation, reading) ||
         std::ranges::any_of(components, [&](const json::Value& c) { return means_anything(c["code"], reading); });
}

}  // namespace

bool read_measurements(const Resource& r, Reading& reading) {
  if (!holds_measurements(r.body, reading)) return false;
  const auto status = result_status(r, reading);
  if (status == ResultStatus::none) return true;
  auto common = common_of(r, reading);
  common.preliminary = status == ResultStatus::preliminary;
  const auto components = r.body["component"].items();
  if (is_pressure_without_parts(r.body, reading)) {
    tell_absent(r.body, r, "", reading);
    keep_unread_pressure(common, as_recorded(r.body), r, reading);
    return true;
  }
  for (std::size_t i = 0; i < components.size(); ++i) add_measurement(components[i], "component[" + std::to_string(i) + "].", common, r, reading);
  const bool panel = !components.empty() && !r.body.has("valueQuantity");
  if (!panel) add_measurement(r.body, "", common, r, reading);
  return true;
}

void keep_absent_measurements(const Resource& r, Reading& reading) {
  if (!holds_measurements(r.body, reading)) return;
  const auto common = common_of(r, reading);
  const auto add = [&](const json::Value& code) {
    if (const auto found = identify(code, r, "code", reading)) {
      auto out = common;
      out.analyte = found->analyte;
      out.test_code = found->code;
      place_by_writing(out, r, reading);
      reading.record.measurements.push_back(std::move(out));
    }
  };
  if (is_pressure_without_parts(r.body, reading)) return keep_unread_pressure(common, {}, r, reading);
  add(r.body["code"]);
  for (const auto& component : r.body["component"].items()) add(component["code"]);
}

}  // namespace fhir_read
