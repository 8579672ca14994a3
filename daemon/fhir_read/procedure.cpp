#include "clinical/names.h"
#include "fhir/codes.h"
#include "fhir_read/access_site.h"
#include "fhir_read/readers.h"
#include "fhir_read/risk.h"
#include "fhir_read/sheath.h"
#include "fhir_read/unmapped.h"
#include "fhir_read/values.h"
#include "fhir_read/word_names.h"

#include <algorithm>

namespace fhir_read {
namespace {

using clinical::ProcedureStatus;
using clinical::Tristate;

std::optional<ProcedureStatus> status_named(std::string_view word) {
  using S = ProcedureStatus;
  if (word == "preparation") return S::preparation;
  if (word == "in-progress") return S::in_progress;
  if (word == "on-hold") return S::on_hold;
  if (word == "stopped") return S::stopped;
  if (word == "completed") return S::completed;
  if (word == "not-done") return S::not_done;
  if (word == "unknown") return S::unknown;
  return std::nullopt;
}

// Every meaning that the codes have, or where no code has one, the names: any intervention among them makes it one.
std::vector<Tristate> catheter_meanings(const json::Value& code, const Reading& reading) {
  std::vector<Tristate> found;
  for (const auto& one : codes_of(code, reading)) {
    if (const auto* meaning = reading.terms.catheters.find(one.key)) found.push_back(*meaning);
  }
  if (!found.empty()) return found;
  for (const auto& text : texts_of(code)) {
    const auto words = words_of(text);
    for (const auto& name : reading.terms.catheters.names) {
      if (name.phrase.match(words) == Phrase::Match::yes) found.push_back(name.meaning);
    }
  }
  return found;
}

void read_kind(const Resource& r, const Reading& reading, clinical::Procedure& out) {
  const auto meanings = catheter_meanings(r.body["code"], reading);
  out.catheter = !meanings.empty();
  for (const auto meaning : {Tristate::yes, Tristate::no}) {
    if (std::ranges::find(meanings, meaning) == meanings.end()) continue;
    out.intervention = meaning;
    break;
  }
}

void read_site(const Resource& r, Reading& reading, clinical::Procedure& out) {
  auto site = access_site_of(r.body, r, reading);
  out.femoral = site.femoral;
  out.sides = std::move(site.sides);
  out.vessels = std::move(site.vessels);
  const auto stated = extension_of(r.body, "femoral-access", reading)["valueBoolean"].boolean();
  out.femoral_stated = stated == true;
  out.femoral_denied = stated == false;
}

void read_puncture(const Resource& r, Reading& reading, clinical::Procedure& out) {
  if (const auto count = extension_of(r.body, "puncture-count", reading)["valueInteger"].integer(); count && *count > 0 && *count < 100) {
    out.punctures = static_cast<int>(*count);
  }
  for (const auto& extension : r.body["extension"].items()) {
    if (!extension["url"].text().ends_with("/puncture-quality")) continue;
    const auto quality = code_value(extension, "", reading);
    out.difficult = out.difficult || quality == "difficult";
    out.high_stick = out.high_stick || quality == "high-stick";
    out.low_stick = out.low_stick || quality == "low-stick";
    out.uncomplicated = out.uncomplicated || quality == "uncomplicated";
  }
  out.direction = direction_named(code_value(extension_of(r.body, "puncture-direction", reading), "", reading)).value_or(clinical::Direction::unknown);
}

void read_around(const Resource& r, Reading& reading, clinical::Procedure& out) {
  for (const auto& identifier : r.body["identifier"].items()) {
    out.identifiers.push_back({std::string(identifier["system"].text()), std::string(identifier["value"].text())});
  }
  out.title = title_of(r.body["code"]);
  out.part_of = first_key(r.body["partOf"], "Procedure", r);
  out.encounter = key_of(r.body["encounter"], r);
  const auto& performer = r.body["performer"].at(0)["actor"];
  if (performer.is_object()) out.operator_name = shown(performer, r, reading);
  if (r.body["location"].is_object()) out.place = shown(r.body["location"], r, reading);
}

}  // namespace

void read_procedure(const Resource& r, Reading& reading) {
  const auto& code = r.body["code"];
  for (const auto& one : codes_of(code, reading)) {
    const auto ours = one.key.system == fhir::system_uri::access_event ? clinical::access_event_named(one.key.code) : std::nullopt;
    const auto mapped = reading.terms.events.find(one.key);
    if (ours) return read_access_event(r, *ours, reading);
    if (mapped != reading.terms.events.end()) return read_access_event(r, mapped->second, reading);
    if (one.key.system == fhir::system_uri::access_event) {
      return reading.error(r, "code", "unknown-code", "\"" + one.key.code + "\" is no access event.");
    }
  }
  const auto done = r.body["status"].text();
  if (done != "not-done") read_dialysis(r, reading);
  if (done != "not-done" && done != "preparation") read_graft(r, reading);
  clinical::Procedure out;
  out.source = r.fact_source();
  const auto status = status_named(r.body["status"].text());
  if (!status) reading.error(r, "status", "unknown-status", "\"" + std::string(r.body["status"].text()) + "\" is no status of a Procedure.");
  out.status = status.value_or(ProcedureStatus::unknown);
  read_kind(r, reading, out);
  read_site(r, reading, out);
  read_sheath(r.body, r, reading, out);
  read_puncture(r, reading, out);
  read_around(r, reading, out);
  const bool site_of_a_case = !out.part_of.empty() && (!out.sides.empty() || !out.french.empty() || !out.vessels.empty());
  if (!out.catheter && !out.femoral && !out.femoral_stated && !out.femoral_denied && !site_of_a_case) return tell_unmapped_procedure(r, reading);
  const auto times = times_of(r.body, {"performed", "occurrence"}, r, reading);
  out.start = times.start;
  out.end = times.end;
  reading.record.procedures.push_back(std::move(out));
}

}  // namespace fhir_read
