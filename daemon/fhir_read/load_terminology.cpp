#include "fhir_read/load_terminology.h"

#include "clinical/names.h"
#include "fhir/codes.h"
#include "fhir_read/profile_file.h"
#include "fhir_read/word_names.h"

#include <algorithm>
#include <utility>

namespace fhir_read {
namespace {

constexpr std::pair<std::string_view, std::string_view> kSystems[] = {
    {"rxnorm", fhir::system_uri::rxnorm}, {"atc", fhir::system_uri::atc},           {"snomed", fhir::system_uri::snomed},
    {"loinc", fhir::system_uri::loinc},   {"icd10pcs", fhir::system_uri::icd10pcs}, {"dicom", fhir::system_uri::dicom},
    {"icd10", "http://hl7.org/fhir/sid/icd-10"}, {"icd10cm", "http://hl7.org/fhir/sid/icd-10-cm"}, {"icd10gm", "http://fhir.de/CodeSystem/bfarm/icd-10-gm"},
    {"ops", "http://fhir.de/CodeSystem/bfarm/ops"},
    {"hl7_list_use", "http://terminology.hl7.org/CodeSystem/list-example-use-codes"}};

std::optional<clinical::Route> route_named(std::string_view name) {
  if (name == "intravenous") return clinical::Route::intravenous;
  if (name == "subcutaneous") return clinical::Route::subcutaneous;
  if (name == "intra-arterial") return clinical::Route::intra_arterial;
  if (name == "oral") return clinical::Route::oral;
  if (name == "other") return clinical::Route::other;
  return std::nullopt;
}

std::optional<clinical::Side> side_named(std::string_view name) {
  if (name.empty()) return clinical::Side::unknown;
  if (name == "left") return clinical::Side::left;
  if (name == "right") return clinical::Side::right;
  return std::nullopt;
}

std::optional<clinical::Vessel> vessel_named(std::string_view name) {
  if (name.empty()) return clinical::Vessel::unknown;
  if (name == "artery") return clinical::Vessel::artery;
  if (name == "vein") return clinical::Vessel::vein;
  return std::nullopt;
}

std::optional<Laterality> laterality_named(std::string_view name) {
  if (name == "left") return Laterality::left;
  if (name == "right") return Laterality::right;
  if (name == "both") return Laterality::both;
  return std::nullopt;
}

// Reads the tables [[kind]] of one file into a CodeTable; `meaning_of` reads what is particular to a row.
class TableReader {
 public:
  explicit TableReader(ProfileFile& file) : file_(file) {}

  std::vector<CodeKey> codes(const tables::Item& row) {
    std::vector<CodeKey> keys;
    for (const auto& [key, system] : kSystems) {
      for (auto& code : file_.texts(row, key)) keys.push_back({std::string(system), std::move(code)});
    }
    return keys;
  }

  template <class Meaning, class MeaningOf>
  void read(std::string_view kind, CodeTable<Meaning>& table, MeaningOf meaning_of) {
    for (const auto* row : file_.rows(kind)) {
      file_.only(*row, {"rxnorm", "atc", "snomed", "loinc", "icd10pcs", "dicom", "icd10", "icd10cm", "icd10gm", "ops", "names", "not_with", "not_near", "not_behind", kind, "what", "agent", "flush", "route",
                        "analyte", "intervention", "femoral", "vessel", "side"});
      const Meaning meaning = meaning_of(*row);
      for (auto& key : codes(*row)) {
        if (!table.codes.emplace(key, meaning).second) file_.fail(*row, "code " + key.code + " stands twice", "keep one");
      }
      const auto not_with = file_.texts(*row, "not_with");
      const auto not_near = file_.texts(*row, "not_near"), not_behind = file_.texts(*row, "not_behind");
      for (const auto& name : file_.texts(*row, "names")) table.names.push_back({{words_of(name), not_with, not_near, not_behind}, meaning});
    }
    std::ranges::stable_sort(table.names, [](const auto& a, const auto& b) { return a.phrase.words.size() > b.phrase.words.size(); });
  }

 private:
  ProfileFile& file_;
};

// Rows with names alone.
void read_watched(ProfileFile& file, std::vector<Phrase>& phrases) {
  for (const auto* row : file.rows("watch")) {
    file.only(*row, {"names", "not_with"});
    const auto not_with = file.texts(*row, "not_with");
    for (const auto& name : file.texts(*row, "names")) phrases.push_back({words_of(name), not_with});
  }
}

void read_drugs(ProfileFile& file, Terminology& t) {
  file.only(file.root(), {"drug", "group", "other_drugs", "route", "home_list"});
  TableReader reader(file);
  reader.read("drug", t.drugs, [&](const tables::Item& row) {
    return DrugMeaning{file.word(row, "agent", clinical::agent_named), file.boolean(row, "flush").value_or(false)};
  });
  reader.read("route", t.routes, [&](const tables::Item& row) { return file.word(row, "route", route_named); });
  for (const auto* row : file.rows("group")) {
    t.atc_groups.push_back({file.text(*row, "atc_prefix"), file.word(*row, "agent", clinical::agent_named)});
  }
  for (const auto* row : file.rows("home_list")) {
    for (auto& key : reader.codes(*row)) t.home_lists.insert(std::move(key));
  }
  if (const auto* other = file.root().find("other_drugs")) {
    for (const auto& name : file.texts(*other, "names")) t.other_drugs.push_back(words_of(name));
  }
}

void read_order_words(ProfileFile& file, Terminology& t) {
  static const std::initializer_list<std::string_view> kinds{"sheath", "sheath_removal", "remove", "touch", "not",        "leave", "stay", "around", "until",     "when",
                                                                 "night",  "hours",          "under",  "press", "press_with", "filler", "plain", "part", "binds", "elsewhere", "groin",
                                                                 "line",   "arterial",       "out",    "pull",  "up",         "not_before", "clock_before", "bed_rest_short", "shortened",
                                                                 "agree",  "refuse",         "nobody"};
  const auto* words = file.root().find("order_words");
  if (!words) return;
  file.only(*words, kinds);
  for (const auto kind : kinds) {
    auto& list = t.order_words[std::string(kind)];
    for (const auto& word : file.texts(*words, kind))
      for (auto& one : words_of(word)) list.insert(std::move(one));
  }
}

void read_note_words(ProfileFile& file, Terminology& t) {
  const auto* words = file.root().find("note_words");
  if (!words) return;
  file.only(*words, {"calm", "trouble", "denials"});
  for (const auto& phrase : file.texts(*words, "calm")) t.calm_notes.push_back(words_of(phrase));
  std::ranges::stable_sort(t.calm_notes, [](const auto& a, const auto& b) { return a.size() > b.size(); });
  for (const auto& word : file.texts(*words, "trouble"))
    for (auto& one : words_of(word)) t.trouble_notes.push_back(std::move(one));
  for (const auto& word : file.texts(*words, "denials"))
    for (auto& one : words_of(word)) t.denying_notes.insert(std::move(one));
}

void read_procedures(ProfileFile& file, Terminology& t) {
  file.only(file.root(), {"catheter", "event", "order", "order_words", "note_words", "watch"});
  read_order_words(file, t);
  read_note_words(file, t);
  read_watched(file, t.watched_procedures);
  TableReader reader(file);
  reader.read("order", t.orders, [&](const tables::Item& row) { return file.word(row, "order", order_named); });
  reader.read("catheter", t.catheters, [&](const tables::Item& row) {
    const auto intervention = file.boolean(row, "intervention");
    if (!intervention) return clinical::Tristate::unknown;
    return *intervention ? clinical::Tristate::yes : clinical::Tristate::no;
  });
  for (const auto* row : file.rows("event")) {
    const auto event = file.word(*row, "event", clinical::access_event_named);
    for (auto& key : reader.codes(*row)) t.events.emplace(std::move(key), event);
  }
}

void read_sites(ProfileFile& file, Terminology& t) {
  file.only(file.root(), {"site", "laterality"});
  TableReader reader(file);
  reader.read("site", t.sites, [&](const tables::Item& row) {
    return SiteMeaning{file.boolean(row, "femoral").value_or(false), file.word(row, "side", side_named), file.word(row, "vessel", vessel_named)};
  });
  reader.read("laterality", t.laterality, [&](const tables::Item& row) { return file.word(row, "side", laterality_named); });
}

void read_devices(ProfileFile& file, Terminology& t) {
  file.only(file.root(), {"sheath", "closure"});
  TableReader reader(file);
  reader.read("sheath", t.sheaths, [](const tables::Item&) { return true; });
  reader.read("closure", t.closures, [&](const tables::Item& row) { return file.word(row, "closure", closure_named); });
}

void read_measurements(ProfileFile& file, Terminology& t) {
  file.only(file.root(), {"measurement", "filtration_rate", "watch"});
  read_watched(file, t.watched_results);
  TableReader(file).read("measurement", t.measurements,
                         [&](const tables::Item& row) { return file.word(row, "analyte", clinical::analyte_named); });
  TableReader(file).read("filtration_rate", t.filtration_rates, [](const tables::Item&) { return true; });
}

void read_risks(ProfileFile& file, Terminology& t) {
  file.only(file.root(), {"risk", "kidney_failure", "allergy"});
  TableReader reader(file);
  reader.read("risk", t.risks, [&](const tables::Item& row) { return file.word(row, "risk", risk_named); });
  reader.read("kidney_failure", t.kidney_failure, [](const tables::Item&) { return true; });
  reader.read("allergy", t.allergies, [&](const tables::Item& row) { return file.word(row, "allergy", risk_named); });
}

}  // namespace

boost::system::result<Terminology, Faults> load_terminology(const std::string& folder) {
  constexpr std::pair<const char*, void (*)(ProfileFile&, Terminology&)> files[] = {
      {"drugs.toml", read_drugs},           {"measurements.toml", read_measurements}, {"procedures.toml", read_procedures},
      {"body-sites.toml", read_sites},      {"devices.toml", read_devices},           {"risks.toml", read_risks}};
  Terminology t;
  Faults faults;
  for (const auto& [name, read] : files) {
    ProfileFile file(folder + "/" + name);
    read(file, t);
    for (auto& fault : file.take_faults()) faults.push_back(std::move(fault));
  }
  if (!faults.empty()) return faults;
  return t;
}

}  // namespace fhir_read
