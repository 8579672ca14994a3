// Codes of the site from ConceptMap and ValueSet files: what is taken, what is left out and said, what is refused with its place. How codes are related:
// https://hl7.org/fhir/R4/valueset-concept-map-equivalence.html and https://hl7.org/fhir/R5/valueset-concept-map-relationship.html
#include "fhir_read/site_codes.h"

#include "fhir_read/reading_support.h"
#include "fhir_read/site_map.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <sstream>

namespace {

using fhir_read::CodeKey;
using fhir_read::SiteCodes;

constexpr const char* kLab = "https://hospital.example/lab";
constexpr const char* kAct = "3184-9";    // of profiles/terminology/measurements.toml
constexpr const char* kAptt = "3173-2";

std::string map_of(const std::string& elements, const std::string& more = "") {
  return R"({"resourceType":"ConceptMap","status":"active",)" + more + R"("group":[{"source":"https://hospital.example/lab","target":"http://loinc.org|2.74","element":[)" + elements + "]}]}";
}
std::string to(const std::string& local, const std::string& relation, const std::string& code = kAct, const std::string& member = "equivalence") {
  return R"({"code":")" + local + R"(","target":[{"code":")" + code + R"(",")" + member + R"(":")" + relation + R"("}]})";
}
std::string faults(const SiteCodes& codes) {
  std::string all;
  for (const auto& fault : codes.faults) all += tables::to_string(fault) + "\n";
  return all;
}
std::string notes(const SiteCodes& codes) {
  std::string all;
  for (const auto& note : fhir_read::notes_on(codes.left_out)) all += tables::to_string(note) + "\n";
  return all;
}
std::map<CodeKey, CodeKey> settled(SiteCodes& codes) { return fhir_read::settle(codes, reading_test::terminology()); }
std::string meaning(const std::map<CodeKey, CodeKey>& map, const std::string& local) {
  const auto found = map.find({kLab, local});
  return found == map.end() ? "" : found->second.code;
}

TEST(SiteCodes, of_a_concept_map_that_says_the_same_or_more_than_the_source_are_taken) {
  for (const auto& [member, relation] : {std::pair{"equivalence", "equal"}, std::pair{"equivalence", "equivalent"},
                                         std::pair{"relationship", "equivalent"}, std::pair{"relationship", "source-is-narrower-than-target"}}) {
    SiteCodes codes;
    fhir_read::read_concept_map("lab.json", map_of(to("K17", relation, kAct, member)), codes);
    EXPECT_EQ(meaning(settled(codes), "K17"), kAct) << relation;
    EXPECT_EQ(faults(codes) + notes(codes), "") << relation;
  }
}

TEST(SiteCodes, that_say_less_are_left_out_and_said) {
  for (const auto& [member, relation] : {std::pair{"equivalence", "wider"}, std::pair{"equivalence", "subsumes"}, std::pair{"equivalence", "narrower"}, std::pair{"equivalence", "specializes"}, std::pair{"equivalence", "inexact"}, std::pair{"equivalence", "relatedto"},
                                         std::pair{"equivalence", "unmatched"}, std::pair{"relationship", "related-to"}, std::pair{"relationship", "source-is-broader-than-target"}}) {
    SiteCodes codes;
    fhir_read::read_concept_map("lab.json", map_of(to("K17", relation, kAct, member) + "," + to("K18", relation, kAct, member)), codes);
    EXPECT_EQ(meaning(settled(codes), "K17"), "") << relation;
    EXPECT_EQ(faults(codes), "") << relation;
    EXPECT_THAT(notes(codes), testing::HasSubstr("lab.json: group[0].element[0].target[0]." + std::string(member) + ": https://hospital.example/lab|K17 is left out, and 1 more: " + relation)) << relation;
  }
  SiteCodes codes;
  fhir_read::read_concept_map("lab.json", map_of(R"({"code":"A","noMap":true},{"code":"B"},{"valueSet":"urn:x"},{"code":"C","target":[{"code":"3184-9","equivalence":"equal","dependsOn":[{"property":"x","value":"y"}]}]})"), codes);
  EXPECT_TRUE(settled(codes).empty());
  EXPECT_EQ(faults(codes), "");
  EXPECT_EQ(std::ranges::count(notes(codes), '\n'), 3) << notes(codes);
}

TEST(SiteCodes, that_are_faulty_are_refused_with_file_and_place) {
  struct Row { std::string text; const char* place; };
  for (const auto& row : {Row{"{\n  \"resourceType\": 7,", "lab.json:2:"}, Row{R"({"resourceType":"ValueSet"})", "lab.json: resourceType: this is no ConceptMap"},
                          Row{R"({"resourceType":"ConceptMap","status":"retired"})", "lab.json: status"}, Row{R"({"resourceType":"ConceptMap","status":"active"})", "lab.json: group: it maps nothing"},
                          Row{R"({"resourceType":"ConceptMap","group":[{"source":"x","element":[]}]})", "lab.json: group[0]"}, Row{map_of(to("K17", "same")), "lab.json: group[0].element[0].target[0].equivalence"},
                          Row{map_of(to("K17", "equal", "")), "lab.json: group[0].element[0].target[0].code"}, Row{map_of(to("", "equal")), "lab.json: group[0].element[0].code"},
                          Row{map_of(R"({"code":"K17","target":[{"code":"3184-9","equivalence":"equal","modifierExtension":[{"url":"urn:not"}]}]})"), "lab.json: modifierExtension"}}) {
    SiteCodes codes;
    fhir_read::read_concept_map("lab.json", row.text, codes);
    EXPECT_THAT(faults(codes), testing::HasSubstr(row.place)) << row.text;
    EXPECT_TRUE(settled(codes).empty()) << row.text;
  }
}

TEST(SiteCodes, that_contradict_are_refused) {
  const auto after = [](const std::vector<std::string>& maps) {
    SiteCodes codes;
    for (std::size_t i = 0; i < maps.size(); ++i) fhir_read::read_concept_map(std::to_string(i) + ".json", maps[i], codes);
    const auto map = settled(codes);
    return std::pair(faults(codes), map);
  };
  const auto two = after({map_of(to("K17", "equal", kAct)), map_of(to("K17", "equal", kAptt))});
  EXPECT_THAT(two.first, testing::HasSubstr("1.json: group[0].element[0].target[0]: https://hospital.example/lab|K17 means http://loinc.org|3173-2 here and http://loinc.org|3184-9 in 0.json"));
  const auto both = after({map_of(to("K17", "equal", kAct)), map_of(to("K17", "disjoint", kAct))});
  EXPECT_THAT(both.first, testing::HasSubstr("unrelated"));
  EXPECT_TRUE(both.second.empty());
  EXPECT_THAT(after({map_of(to("K17", "equivalent", kAct, "relationship")), map_of(to("K17", "not-related-to", kAct, "relationship"))}).first, testing::HasSubstr("unrelated"));
  EXPECT_EQ(after({map_of(to("K17", "equal", kAct)), map_of(to("K17", "disjoint", kAptt))}).first, "") << "unrelated to something else";
  EXPECT_EQ(after({map_of(to("K17", "equal", "3184-9")), map_of(to("K17", "equal", "80658-8"))}).first, "") << "two codes of one quantity";
  const std::string own = R"({"resourceType":"ConceptMap","group":[{"source":"http://loinc.org","target":"http://loinc.org","element":[)" + to("3173-2", "equal", "3184-9") + "]}]}";
  EXPECT_THAT(after({own}).first, testing::HasSubstr("knows it as something else"));
}

TEST(SiteCodes, whose_meaning_is_not_looked_for_are_left_out_and_the_one_that_is_counts) {
  SiteCodes codes;
  fhir_read::read_concept_map("lab.json", map_of(R"({"code":"K17","target":[{"code":"2345-7","equivalence":"equal"},{"code":"3184-9","equivalence":"equal"}]})"), codes);
  EXPECT_EQ(meaning(settled(codes), "K17"), kAct);
  EXPECT_THAT(notes(codes), testing::HasSubstr("http://loinc.org|2345-7 is left out: what it means is not looked for here"));
}

// ---- ValueSet

const CodeKey kHeparin{"http://www.whocc.no/atc", "B01AB01"};

TEST(SiteCodes, of_a_value_set_all_mean_what_the_site_file_says) {
  for (const char* text : {R"({"resourceType":"ValueSet","compose":{"include":[{"system":"https://hospital.example/lab","concept":[{"code":"H1"},{"code":"H2"},{"code":"X"}]}],"exclude":[{"system":"https://hospital.example/lab","concept":[{"code":"X"}]}]}})",
                           R"({"resourceType":"ValueSet","compose":{"include":[{"system":"https://hospital.example/lab","filter":[{"property":"concept","op":"is-a","value":"H"}]}]},
                               "expansion":{"total":3,"contains":[{"system":"https://hospital.example/lab","abstract":true,"code":"H","contains":[{"system":"https://hospital.example/lab","code":"H1"}]},{"system":"https://hospital.example/lab","code":"H2"}]}})"}) {
    SiteCodes codes;
    fhir_read::read_value_set("heparins.json", text, kHeparin, codes);
    const auto map = settled(codes);
    EXPECT_EQ(faults(codes), "");
    EXPECT_EQ(meaning(map, "H1") + meaning(map, "H2"), "B01AB01B01AB01");
    EXPECT_EQ(map.size(), 2u);
  }
}

TEST(SiteCodes, of_a_value_set_that_only_a_server_could_work_out_are_refused) {
  for (const auto& [text, place] : {std::pair{R"({"resourceType":"ValueSet","compose":{"include":[{"system":"http://loinc.org"}]}})", "compose.include[0]"},
                                    std::pair{R"({"resourceType":"ValueSet","compose":{"include":[{"system":"x","concept":[{"code":"a"}]},{"valueSet":["urn:y"]}]}})", "compose.include[1]"},
                                    std::pair{R"({"resourceType":"ValueSet","compose":{"include":[{"system":"x","concept":[{"code":"a"}]}],"exclude":[{"system":"x"}]}})", "compose.exclude[0]"},
                                    std::pair{R"({"resourceType":"ValueSet","expansion":{"total":9,"contains":[{"system":"x","code":"a"}]}})", "expansion.total"},
                                    std::pair{R"({"resourceType":"ValueSet"})", "compose.include"}}) {
    SiteCodes codes;
    fhir_read::read_value_set("v.json", text, kHeparin, codes);
    EXPECT_THAT(faults(codes), testing::HasSubstr(std::string("v.json: ") + place)) << text;
  }
}

// ---- From the site file to a fact

namespace fs = std::filesystem;

TEST(SiteCodes, of_files_beside_the_site_file_give_facts) {
  const fs::path folder = fs::temp_directory_path() / "aftersheath-site-codes";
  fs::create_directories(folder / "maps");
  const auto put = [&](const char* name, const std::string& text) { std::ofstream(folder / name) << text; };
  put("maps/lab.json", map_of(to("K17", "equal")));
  put("heparins.json", R"({"resourceType":"ValueSet","compose":{"include":[{"system":"https://hospital.example/drugs","concept":[{"code":"4711"}]}]}})");
  put("site.toml", "concept_maps = [\"maps/lab.json\"]\n[[value_set]]\nfile = \"heparins.json\"\nmeans_system = \"http://www.whocc.no/atc\"\nmeans_code = \"B01AB01\"\n");
  auto site = fhir_read::load_site_map((folder / "site.toml").string());
  ASSERT_TRUE(site) << tables::to_string(site.error().front());
  EXPECT_EQ(faults(site->codes), "");
  site->local_codes = settled(site->codes);
  fhir_read::ResourceSet set("Patient/a");
  const auto add = [&](const char* text) {
    auto body = reading_test::resource(text);
    const std::string type(body["resourceType"].text()), id(body["id"].text());
    set.add({"", "", type, id, "", std::move(body)});
  };
  add(R"({"resourceType":"Observation","id":"o","status":"final","subject":{"reference":"Patient/a"},"code":{"coding":[{"system":"https://hospital.example/lab","code":"K17"}]},"effectiveDateTime":"2026-03-02T12:00:00Z","valueQuantity":{"value":141,"code":"s"}})");
  add(R"({"resourceType":"MedicationAdministration","id":"m","status":"completed","subject":{"reference":"Patient/a"},"medicationCodeableConcept":{"coding":[{"system":"https://hospital.example/drugs","code":"4711"}]},"effectiveDateTime":"2026-03-02T10:00:00Z"})");
  const auto result = fhir_read::read_record(set, *site, reading_test::terminology());
  ASSERT_EQ(result.record.measurements.size(), 1u);
  EXPECT_EQ(result.record.measurements[0].analyte, clinical::Analyte::act);
  ASSERT_EQ(result.record.administrations.size(), 1u);
  EXPECT_EQ(result.record.administrations[0].agent, clinical::Agent::heparin);

  put("maps/lab.json", map_of(to("K17", "same")));
  const auto faulty = fhir_read::load_site_map((folder / "site.toml").string());
  ASSERT_FALSE(faulty);
  EXPECT_THAT(tables::to_string(faulty.error().front()), testing::HasSubstr("maps/lab.json: group[0].element[0].target[0].equivalence"));
  put("site.toml", "concept_maps = [\"maps/none.json\"]\n");
  const auto missing = fhir_read::load_site_map((folder / "site.toml").string());
  ASSERT_FALSE(missing);
  EXPECT_EQ(missing.error().front().line, 1);
  fs::remove_all(folder);
}

// Official ConceptMaps of both versions (hl7.fhir.r4.examples 4.0.1, hl7.fhir.r5.examples 5.0.0, CC0): each is read to its end, none crashes, none maps to anything that is
// looked for here but what it says.
TEST(SiteCodes, of_the_official_examples_are_read) {
  int read = 0, sayings = 0;
  for (const char* package : {"hl7.fhir.r4.examples", "hl7.fhir.r5.examples"}) {
    const fs::path folder = fs::path(SOURCE_DIR) / "tests/peer/node_modules" / package;
    if (!fs::exists(folder)) GTEST_SKIP() << "the packages of examples are not installed (tests/peer/install)";
    for (const auto& entry : fs::directory_iterator(folder)) {
      const auto name = entry.path().filename().string();
      if (!name.starts_with("ConceptMap-") && !(name.starts_with("ValueSet-") && ++read % 10 == 0)) continue;
      std::ifstream in(entry.path(), std::ios::binary);
      std::stringstream bytes;
      bytes << in.rdbuf();
      SiteCodes codes;
      if (name.starts_with("ConceptMap-")) fhir_read::read_concept_map(name, bytes.str(), codes);
      else fhir_read::read_value_set(name, bytes.str(), kHeparin, codes);
      ++read;
      sayings += static_cast<int>(codes.sayings.size());
      const auto map = settled(codes);
      EXPECT_LE(map.size(), codes.sayings.size()) << name;
    }
  }
  EXPECT_GT(read, 100);
  EXPECT_GT(sayings, 500);
}

}  // namespace
