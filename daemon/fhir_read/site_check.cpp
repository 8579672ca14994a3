#include "fhir/codes.h"
#include "fhir_read/access_site.h"
#include "fhir_read/note_text.h"
#include "fhir_read/observation.h"
#include "fhir_read/values.h"

namespace fhir_read {
namespace {

using clinical::Bleeding;
using clinical::FootPulse;

std::optional<Bleeding> bleeding_named(std::string_view word) {
  if (word == "none") return Bleeding::none;
  if (word == "ooze") return Bleeding::ooze;
  if (word == "bleeding") return Bleeding::bleeding;
  return std::nullopt;
}

std::optional<FootPulse> pulse_named(std::string_view word) {
  if (word == "as-baseline") return FootPulse::as_baseline;
  if (word == "weaker") return FootPulse::weaker;
  if (word == "absent") return FootPulse::absent;
  return std::nullopt;
}

// What a pulse finding says for people: text, number with its unit, or code.
std::string said(const json::Value& element, const Reading& reading) {
  if (const auto text = element["valueString"].text(); !text.empty()) return std::string(text);
  if (element["valueQuantity"].is_object()) return written(element["valueQuantity"]);
  if (const auto title = title_of(element["valueCodeableConcept"]); !title.empty()) return title;
  return code_value(element, "", reading);
}

/// What stands in a value[x], whatever its type: never empty where there is one.
std::string words_of(const json::Value& element, const Reading& reading) {
  if (auto words = said(element, reading); !words.empty()) return words;
  if (const auto flag = element["valueBoolean"].boolean()) return *flag ? "true" : "false";
  if (const auto digits = element["valueInteger"].digits(); !digits.empty()) return std::string(digits);
  for (const char* type : {"valueQuantity", "valueCodeableConcept", "valueRange", "valueRatio", "valueSampledData", "valueTime", "valueDateTime", "valuePeriod", "valueCoding", "valueAttachment"})
    if (element.has(type)) return type;
  return {};
}

std::optional<FootPulse>* compared_finding(std::string_view what, clinical::SiteCheck& check) {
  if (what == "colour") return &check.colour;
  if (what == "warmth") return &check.warmth;
  if (what == "feeling") return &check.feeling;
  return what == "movement" ? &check.movement : nullptr;
}

std::optional<bool>* flag_finding(std::string_view what, clinical::SiteCheck& check) {
  if (what == "chest-pain") return &check.chest_pain;
  if (what == "neurological-sign") return &check.neurological_sign;
  if (what == "mass-or-bruit") return &check.mass_or_bruit;
  if (what == "skin-damage") return &check.skin_damage;
  if (what == "dizziness") return &check.dizziness;
  return what == "voided" ? &check.voided : nullptr;
}

// A yes or no as it is said: valueBoolean, SNOMED CT 373066001 (yes) and 373067005 (no), HL7 table 0136 Y and N, or the text "true" or "false".
// Codes that say both, and every other word, say neither.
std::optional<bool> yes_or_no(const json::Value& element, const Reading& reading) {
  if (const auto flag = element["valueBoolean"].boolean()) return flag;
  if (const auto text = element["valueString"].text(); text == "true" || text == "false") return text == "true";
  bool yes = false, no = false;
  for (const auto& [key, display, mapped] : codes_of(element["valueCodeableConcept"], reading)) {
    const bool snomed = key.system == fhir::system_uri::snomed;
    const bool table = key.system == "http://terminology.hl7.org/CodeSystem/v2-0136" || key.system == "http://hl7.org/fhir/v2/0136";
    yes = yes || (snomed && key.code == "373066001") || (table && key.code == "Y");
    no = no || (snomed && key.code == "373067005") || (table && key.code == "N");
  }
  return yes == no ? std::nullopt : std::optional(yes);
}

// 0 to 10, as an integer or a quantity without a unit that measures anything.
std::optional<clinical::Value> score_of(const json::Value& element) {
  const auto& quantity = element["valueQuantity"];
  const std::string digits(quantity.is_object() ? quantity["value"].digits() : element["valueInteger"].digits());
  const auto number = fhir::Decimal::parse(digits);
  const auto micro = number ? number->millionths() : std::nullopt;
  if (!micro || micro->value < 0 || micro->value > clinical::whole(10)) return std::nullopt;
  return clinical::Value{micro->value, clinical::Comparator::none, digits};
}

}  // namespace

bool take_finding(const json::Value& element, const json::Value& code, const Resource& r, std::string_view path, clinical::SiteCheck& check, Reading& reading) {
  const auto what = code_in(code, fhir::system_uri::check_finding, reading);
  if (what.empty()) return false;
  const std::string at(path), quantity = at.empty() ? "valueQuantity" : at + ".valueQuantity";
  // Recorded and not readable is not the same as not recorded: an older look does not stand in for it.
  const auto keep = [&] {
    if (auto words = words_of(element, reading); !words.empty()) check.unread.push_back({std::string(what), std::move(words)});
  };
  const auto unknown = [&](const std::string& word) {
    if (element.has("dataAbsentReason")) return reading.inform(r, at, "absent", "Not recorded: " + title_of(element["dataAbsentReason"]) + ".");
    reading.error(r, at, "unknown-code", "\"" + word + "\" is no value of " + what + "; it is not used.");
  };
  if (what == "bleeding") {
    const auto word = code_value(element, fhir::system_uri::check_finding, reading);
    check.bleeding = bleeding_named(word);
    if (!check.bleeding) unknown(word), keep();
  } else if (what == "foot-pulse") {
    const auto word = code_value(element, fhir::system_uri::check_finding, reading);
    check.foot_pulse = pulse_named(word);
    if (!check.foot_pulse) unknown(word), keep();
  } else if (what == "swelling") {
    check.swelling = value_of(element["valueQuantity"], fhir::QuantityKind::centimetres, r, quantity, reading);
    if (!check.swelling && !element.has("valueQuantity")) unknown(said(element, reading));
    if (!check.swelling) keep();
  } else if (what == "growth") {
    check.growth = yes_or_no(element, reading);
    if (!check.growth) unknown(said(element, reading)), keep();
  } else if (auto* compared = compared_finding(what, check)) {
    *compared = pulse_named(code_value(element, fhir::system_uri::check_finding, reading));
    if (!*compared) reading.inform(r, at, "not-judged", "\"" + said(element, reading) + "\" is kept as text: only as-baseline, weaker and absent are judged."), keep();
  } else if (auto* flag = flag_finding(what, check)) {
    *flag = yes_or_no(element, reading);
    if (!*flag) unknown(said(element, reading)), keep();
  } else if (what == "wet-dressing") {
    const auto wet = yes_or_no(element, reading);
    check.wet_dressing = wet.value_or(false);
    if (!wet) unknown(said(element, reading)), keep();
  } else if (what == "pain") {
    check.pain = score_of(element);
    if (!check.pain) unknown(said(element, reading)), keep();
  } else if (what == "bladder-volume") {
    check.bladder = value_of(element["valueQuantity"], fhir::QuantityKind::millilitres, r, quantity, reading);
    if (!check.bladder) keep();
  } else if (what == "back-pain") {
    const auto pain = yes_or_no(element, reading);
    check.back_pain = pain.value_or(false);
    if (!pain) unknown(said(element, reading)), keep();
  } else if (what == "pulse-scale") {
    check.pulse_scale = said(element, reading);
  } else if (what == "baseline-pulses" || what == "pulses") {
    auto& pulses = what == "pulses" ? check.pulses : check.baseline_pulses;
    pulses += (pulses.empty() ? "" : "; ") + said(element, reading);
  } else {
    reading.error(r, at, "unknown-code", "\"" + std::string(what) + "\" is no finding of a check; it is not used.");
    keep();
  }
  return true;
}

void time_unknown(clinical::SiteCheck& check, const Resource& r, std::string said, Reading& reading) {
  check.at = written_down(r, reading);
  check.unread.push_back({"time", std::move(said)});
}

namespace {

/// A check that went on for a time says how it was at its end; one whose end is not recorded, how it was at its start.
std::optional<clinical::Moment> made_at(const Resource& r, Reading& reading) {
  const auto times = times_of(r.body, {"effective"}, r, reading);
  return times.end ? times.end : times.start;
}

/// What stands in the record instead of a time; else which record it is.
std::string said_of_time(const Resource& r) {
  for (const auto* form : {"effectiveDateTime", "effectiveInstant"})
    if (const auto text = r.body[form].text(); !text.empty()) return std::string(text);
  for (const auto* end : {"end", "start"})
    if (const auto text = r.body["effectivePeriod"][end].text(); !text.empty()) return std::string(text);
  return r.key();
}

/// Everything but the findings; none where the Observation has no result.
std::optional<clinical::SiteCheck> begin_check(const Resource& r, Reading& reading) {
  if (result_status(r, reading) == ResultStatus::none) return std::nullopt;
  clinical::SiteCheck check;
  check.source = r.fact_source();
  check.at = made_at(r, reading);
  check.procedure = named_procedure(r, reading);
  AccessSite site;
  add_sites_of(r.body, r, reading, site);
  check.side = only_side(site);
  return check;
}

void keep_check(clinical::SiteCheck check, const Resource& r, Reading& reading) {
  if (!check.at) {
    reading.warn(r, "effective", "no-time", "The check has no usable time; nothing good is concluded from it.");
    time_unknown(check, r, said_of_time(r), reading);
  }
  reading.record.checks.push_back(std::move(check));
}

}  // namespace

bool kept_as_doubt(const clinical::AccessEvent& event, const Resource& r, Reading& reading) {
  if (event.kind != clinical::AccessEventKind::haemostasis_confirmed) return false;
  const auto note = notes_of(r.body);
  auto doubt = failed_outcome(r.body);
  const bool denied = !doubt.empty() || note_says(note, reading.terms) == NoteSays::trouble;
  if (note_says(note, reading.terms) != NoteSays::nothing_bad) doubt += (doubt.empty() ? "" : "; ") + note;
  if (doubt.empty()) return false;
  clinical::SiteCheck check;
  check.source = event.source;
  check.at = event.at;
  check.procedure = event.procedure;
  check.side = event.side;
  check.unread.push_back({"note", doubt});
  if (denied) reading.warn(r, "outcome", "haemostasis-doubted", "\"" + doubt + "\": it does not count as haemostasis.");
  keep_check(std::move(check), r, reading);
  return denied;
}

void read_site_check(const Resource& r, Reading& reading) {
  auto check = begin_check(r, reading);
  if (!check) return;
  const auto components = r.body["component"].items();
  for (std::size_t i = 0; i < components.size(); ++i) {
    take_finding(components[i], components[i]["code"], r, "component[" + std::to_string(i) + "]", *check, reading);
  }
  add_note(*check, notes_of(r.body), false, reading);
  keep_check(std::move(*check), r, reading);
}

void read_single_finding(const Resource& r, Reading& reading) {
  auto check = begin_check(r, reading);
  if (!check) return;
  take_finding(r.body, r.body["code"], r, "", *check, reading);
  add_note(*check, notes_of(r.body), true, reading);
  keep_check(std::move(*check), r, reading);
}

}  // namespace fhir_read
