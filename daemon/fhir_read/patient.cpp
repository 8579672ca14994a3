#include "fhir_read/intake.h"
#include "fhir_read/readers.h"

#include "fhir/date_time.h"

#include <algorithm>

namespace fhir_read {
namespace {

clinical::Sex sex_named(std::string_view word) {
  if (word == "female") return clinical::Sex::female;
  if (word == "male") return clinical::Sex::male;
  if (word == "other") return clinical::Sex::other;
  return clinical::Sex::unknown;
}

// "Family, Given Given"; text only where the parts are missing.
std::string printed(const json::Value& name) {
  std::string given;
  for (const auto& part : name["given"].items()) given += (given.empty() ? "" : " ") + std::string(part.text());
  const std::string family(name["family"].text());
  if (family.empty() && given.empty()) return std::string(name["text"].text());
  return family + (family.empty() || given.empty() ? "" : ", ") + given;
}

// Official before usual before any other; old, nick and maiden names never.
std::string name_of(const json::Value& patient) {
  const auto names = patient["name"].items();
  for (const std::string_view use : {"official", "usual", "", "temp"}) {
    for (const auto& name : names) {
      if (name["use"].text() == use && !name["period"].has("end")) return printed(name);
    }
  }
  return {};
}

bool is_record_number(const json::Value& identifier, const SiteMap& site) {
  if (!site.record_number_system.empty()) return identifier["system"].text() == site.record_number_system;
  const auto codings = identifier["type"]["coding"].items();
  return std::ranges::any_of(codings, [](const json::Value& c) { return c["code"].text() == "MR"; });
}

std::string record_number(const json::Value& patient, const SiteMap& site) {
  const auto identifiers = patient["identifier"].items();
  const auto it = std::ranges::find_if(identifiers, [&](const json::Value& i) { return is_record_number(i, site); });
  if (it != identifiers.end()) return std::string((*it)["value"].text());
  return identifiers.empty() ? std::string() : std::string(identifiers.front()["value"].text());
}

void read_birth(const Resource& r, Reading& reading, clinical::Patient& out) {
  const auto written = r.body["birthDate"].text();
  if (written.empty()) return;
  const auto span = fhir::read_utc_date(written);
  if (!span) return reading.error(r, "birthDate", "not-a-time", "\"" + std::string(written) + "\" is no date.");
  out.birth = clinical::Moment{span->earliest, span->latest};
  out.birth_written = written;
}

}  // namespace

void read_patient(const Resource& r, Reading& reading) {
  clinical::Patient out;
  const auto state = patient_state(r.body);
  out.source = r.fact_source();
  out.identifiers.assign(state.identifiers.begin(), state.identifiers.end());
  out.name = name_of(r.body);
  out.record_number = record_number(r.body, reading.site);
  read_birth(r, reading, out);
  out.sex = sex_named(r.body["gender"].text());
  out.active = state.active;
  out.deceased = state.deceased;
  for (const auto& link : r.body["link"].items()) {
    if (link["type"].text() == "replaced-by") out.merged_into = shown(link["other"], r, reading);
    if (link["type"].text() == "replaced-by" && link["other"].has("reference")) out.merged_into = link["other"]["reference"].text();
  }
  out.test_data = state.test_data;
  reading.record.patient = std::move(out);
}

}  // namespace fhir_read
