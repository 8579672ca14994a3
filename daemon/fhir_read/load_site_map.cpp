#include "fhir/codes.h"
#include "fhir_read/profile_file.h"
#include "fhir_read/site_map.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <sstream>

namespace fhir_read {
namespace {

// Every fact whose places a site may order or leave out, with the words of its places in the default order.
const std::map<std::string, std::vector<std::string>>& known_places() {
  static const std::map<std::string, std::vector<std::string>> places{
      {"femoral", {"extension", "body-site", "approach", "text"}},
      {"side", {"body-site", "approach", "text"}},
      {"vessel", {"body-site", "approach", "text"}},
      {"sheath-size", {"extension", "device", "used-code", "note"}},
      {"closure", {"extension", "device", "used-code"}},
      {"drug", {"code", "text"}},
      {"drawn", {"specimen", "effective"}},
  };
  return places;
}

void read_places(ProfileFile& file, SiteMap& site) {
  const auto* table = file.root().find("places");
  if (!table) return;
  for (const auto& item : table->items) {
    const auto known = known_places().find(item.key);
    if (known == known_places().end()) {
      file.fail(item, "no fact '" + item.key + "' has places", "remove it");
      continue;
    }
    auto wanted = file.texts(*table, item.key);
    for (const auto& place : wanted) {
      if (std::ranges::find(known->second, place) != known->second.end()) continue;
      const std::string words = fmt::format("{}", fmt::join(known->second, ", "));
      if (place.find_first_of(".(`") == std::string::npos) {
        file.fail(item, "unknown place '" + place + "'", "known: " + words + "; or a FHIRPath expression");
        continue;
      }
      if (item.key == "drug") {
        file.fail(item, "the drug is read from no expression", "known: " + words);
        continue;
      }
      auto path = fhir::FhirPath::parse(place);
      if (path) site.paths.insert_or_assign(place, std::move(*path));
      else file.fail(item, fmt::format("the expression {} is faulty at its column {}: {}", place, path.error().column, path.error().text), "correct it; what is understood stands in profiles/site/default.toml");
    }
    site.places[item.key] = std::move(wanted);
  }
}

void read_local_codes(ProfileFile& file, const std::string& path, SiteMap& site) {
  for (const auto* row : file.rows("local_code")) {
    file.only(*row, {"system", "code", "means_system", "means_code", "note"});
    const CodeKey local{fhir::canonical_system(file.text(*row, "system")), file.text(*row, "code")};
    const CodeKey means{fhir::canonical_system(file.text(*row, "means_system")), file.text(*row, "means_code")};
    if (local.code.empty() || means.code.empty()) file.fail(*row, "a local_code without code or means_code", "add code = ..., means_system = ..., means_code = ...");
    if (!site.local_codes.emplace(local, means).second) file.fail(*row, "local code " + local.code + " stands twice", "keep one");
    else site.codes.sayings.push_back({local, means, true, {path, row->at.line, row->at.column, "", ""}});
  }
}

// A file that the site file names, beside it. Empty after a fault.
std::optional<std::string> named_file(ProfileFile& file, const tables::Item& where, const std::string& folder, const std::string& name, std::string& path) {
  path = (std::filesystem::path(folder) / name).string();
  std::ifstream in(path, std::ios::binary);
  std::stringstream bytes;
  bytes << in.rdbuf();
  if (in) return bytes.str();
  file.fail(where, "the file " + path + " cannot be read", "name a file beside this one, or remove it");
  return std::nullopt;
}

// FHIR ConceptMap and ValueSet files of the site.
void read_fhir_files(ProfileFile& file, const std::string& folder, SiteMap& site) {
  std::string path;
  if (const auto* maps = file.root().find("concept_maps"))
    for (const auto& name : file.texts(file.root(), "concept_maps"))
      if (const auto text = named_file(file, *maps, folder, name, path)) read_concept_map(path, *text, site.codes);
  for (const auto* row : file.rows("value_set")) {
    file.only(*row, {"file", "means_system", "means_code", "note"});
    const CodeKey means{fhir::canonical_system(file.text(*row, "means_system")), file.text(*row, "means_code")};
    if (means.code.empty()) file.fail(*row, "a value_set without means_code", "add means_system = ... and means_code = ...");
    else if (const auto text = named_file(file, *row, folder, file.text(*row, "file"), path)) read_value_set(path, *text, means, site.codes);
  }
}

void read_zone(ProfileFile& file, SiteMap& site) {
  site.time_zone = file.text(file.root(), "time_zone");
  site.zone.assume_for_times = file.boolean(file.root(), "assume_zone").value_or(false);
  if (site.time_zone.empty()) {
    if (site.zone.assume_for_times) file.fail(file.root(), "assume_zone without time_zone", "add time_zone = \"...\"");
    return;
  }
  site.zone.zone = fhir::find_zone(site.time_zone);
  if (!site.zone.zone) file.fail(*file.root().find("time_zone"), "unknown time zone '" + site.time_zone + "'", "write a name of the tz database");
}

}  // namespace

const std::vector<std::string>& SiteMap::places_of(const std::string& fact) const {
  const auto own = places.find(fact);
  return own != places.end() ? own->second : known_places().at(fact);
}

const fhir::FhirPath* SiteMap::path(const std::string& place) const {
  const auto it = paths.find(place);
  return it == paths.end() ? nullptr : &it->second;
}

SiteMap default_site_map() {
  SiteMap site;
  site.home_request_categories = {"community"};
  return site;
}

boost::system::result<SiteMap, std::vector<tables::Fault>> load_site_map(const std::string& path) {
  ProfileFile file(path);
  SiteMap site = default_site_map();
  const auto& root = file.root();
  file.only(root, {"time_zone", "assume_zone", "record_number_system", "home_request_categories", "places", "local_code", "concept_maps", "value_set", "extensions",
                   "other_drugs", "writing", "printing", "record"});
  read_zone(file, site);
  read_places(file, site);
  read_local_codes(file, path, site);
  read_fhir_files(file, std::filesystem::path(path).parent_path().string(), site);
  site.record_number_system = file.text(root, "record_number_system");
  if (root.find("home_request_categories")) site.home_request_categories = file.texts(root, "home_request_categories");
  if (const auto* extensions = root.find("extensions")) {
    for (const auto& item : extensions->items) site.extension_urls[item.key] = file.texts(*extensions, item.key);
  }
  for (const auto& name : file.texts(root, "other_drugs")) site.other_drugs.push_back(words_of(name));
  auto faults = file.take_faults();
  faults.insert(faults.end(), site.codes.faults.begin(), site.codes.faults.end());
  if (!faults.empty()) return faults;
  return site;
}

}  // namespace fhir_read
