#include "fhir_read/reading_support.h"

#include "fhir/date_time.h"

#include <gtest/gtest.h>

#include <algorithm>

namespace reading_test {

const fhir_read::Terminology& terminology() {
  static const auto loaded = fhir_read::load_terminology(SOURCE_DIR "/profiles/terminology");
  if (!loaded) ADD_FAILURE() << tables::to_string(loaded.error().front());
  return *loaded;
}

fhir_read::SiteMap default_site() {
  auto loaded = fhir_read::load_site_map(SOURCE_DIR "/profiles/site/default.toml");
  if (!loaded) ADD_FAILURE() << tables::to_string(loaded.error().front());
  return *loaded;
}

json::Value resource(std::string_view text) {
  auto parsed = json::parse(text);
  if (!parsed) {
    ADD_FAILURE() << parsed.error().text << " at line " << parsed.error().line << " of " << text;
    return {};
  }
  return *parsed;
}

fhir_read::ReadResult read(std::initializer_list<std::string_view> texts) { return read(texts, default_site()); }

fhir_read::ReadResult read(std::initializer_list<std::string_view> texts, const fhir_read::SiteMap& site) {
  fhir_read::ResourceSet set("Patient/a");
  for (const auto text : texts) {
    auto body = resource(text);
    const std::string type(body["resourceType"].text());
    const std::string id(body["id"].text());
    const std::string version(body["meta"]["versionId"].text());
    set.add({"", "", type, id, version, std::move(body)});
  }
  return fhir_read::read_record(set, site, terminology());
}

bool has_issue(const fhir_read::ReadResult& result, std::string_view code) {
  return std::ranges::any_of(result.issues, [&](const fhir::Issue& i) { return i.code == code; });
}

std::string all_issues(const fhir::Issues& issues) {
  std::string all;
  for (const auto& issue : issues) all += std::string(fhir::word(issue.severity)) + " " + issue.code + " " + issue.at + ": " + issue.text + "\n";
  return all;
}

clinical::Instant instant(std::string_view text) {
  const auto span = fhir::read_time(text);
  if (!span) ADD_FAILURE() << text;
  return span->earliest;
}

}  // namespace reading_test
