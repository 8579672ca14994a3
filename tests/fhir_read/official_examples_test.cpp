// The official FHIR examples of R4 4.0.1 and R5 5.0.0 (packages hl7.fhir.r4.examples and hl7.fhir.r5.examples, CC0) as outside input: nothing in them is a femoral access, so no case
// may come out; and whatever is done to them, the reader must end in good time.
#include "fhir_read/intake.h"
#include "fhir_read/facts_text_support.h"
#include "fhir_read/reading_support.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <chrono>
#include <filesystem>
#include <fstream>
#include <map>
#include <random>
#include <sstream>

namespace {

namespace fs = std::filesystem;

const fs::path kExamples = fs::path(SOURCE_DIR) / "tests/peer/node_modules/hl7.fhir.r4.examples";
const fs::path kExamples5 = fs::path(SOURCE_DIR) / "tests/peer/node_modules/hl7.fhir.r5.examples";

std::string bytes_of(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  std::stringstream all;
  all << in.rdbuf();
  return all.str();
}

// Clinical files only: the package is mostly definitions.
std::vector<fs::path> clinical_files(const fs::path& folder = kExamples) {
  std::vector<fs::path> files;
  if (!fs::exists(folder)) return files;
  for (const auto& entry : fs::directory_iterator(folder)) {
    const auto name = entry.path().filename().string();
    if (!name.ends_with(".json")) continue;
    const auto type = name.substr(0, name.find('-'));
    if (fhir_read::relevant(type) || (type == "Bundle" && entry.file_size() < 400'000)) files.push_back(entry.path());
  }
  std::ranges::sort(files);
  return files;
}

// Reads one resource or Bundle as somebody would: split, grouped by patient, with everything at hand.
fhir_read::ReadResult read_all(const json::Value& root) {
  std::vector<fhir_read::ResourceEvent> events;
  if (root["resourceType"].text() == "Bundle") {
    events = fhir_read::entries_of(root).events;
  } else if (!fhir_read::shape_fault(root, "")) {
    events.push_back({"PUT", std::string(root["resourceType"].text()), std::string(root["id"].text()), "", root, ""});
  }
  std::set<std::string> patients;
  for (const auto& e : events) patients.insert(fhir_read::subject_of(e.body).patient);
  fhir_read::ReadResult sum;
  for (const auto& patient : patients) {
    fhir_read::ResourceSet set(patient);
    for (const auto& e : events) {
      const auto owner = fhir_read::subject_of(e.body).patient;
      if (owner == patient || owner.empty()) set.add({"", "", e.type, e.id, e.version, e.body});
    }
    const auto wanted = fhir_read::wanted_targets(set);
    auto result = fhir_read::read_record(set, reading_test::default_site(), reading_test::terminology());
    auto& record = result.record;
    std::ranges::move(record.procedures, std::back_inserter(sum.record.procedures));
    std::ranges::move(record.administrations, std::back_inserter(sum.record.administrations));
    std::ranges::move(record.measurements, std::back_inserter(sum.record.measurements));
    std::ranges::move(record.access_events, std::back_inserter(sum.record.access_events));
    std::ranges::move(record.tasks, std::back_inserter(sum.record.tasks));
    std::ranges::move(record.encounters, std::back_inserter(sum.record.encounters));
    std::ranges::move(record.home_drugs, std::back_inserter(sum.record.home_drugs));
    std::ranges::move(record.home_lists, std::back_inserter(sum.record.home_lists));
    std::ranges::move(record.risks, std::back_inserter(sum.record.risks));
    std::ranges::move(result.issues, std::back_inserter(sum.issues));
  }
  return sum;
}

fhir_read::ReadResult read_example(const std::string& name) {
  const auto parsed = json::parse(bytes_of(kExamples / (name + ".json")));
  if (!parsed) {
    ADD_FAILURE() << name << ": " << parsed.error().text;
    return {};
  }
  return read_all(*parsed);
}

class OfficialExamples : public testing::Test {
 protected:
  void SetUp() override {
    if (!fs::exists(kExamples)) GTEST_SKIP() << "the package hl7.fhir.r4.examples is not installed (tests/peer/install)";
  }
};

TEST_F(OfficialExamples, give_no_femoral_case_and_round_trip) {
  const auto files = clinical_files();
  EXPECT_GT(files.size(), 200u);
  for (const auto& file : files) {
    const auto text = bytes_of(file);
    const auto parsed = json::parse(text);
    ASSERT_TRUE(parsed) << file << parsed.error().text;
    EXPECT_EQ(*json::parse(json::write(*parsed)), *parsed) << file;
    const auto result = read_all(*parsed);
    for (const auto& p : result.record.procedures) EXPECT_FALSE(p.femoral || p.femoral_stated) << file << " " << p.source.reference;
    EXPECT_TRUE(result.record.access_events.empty()) << file;
    EXPECT_TRUE(result.record.tasks.empty()) << file;
  }
}

TEST_F(OfficialExamples, of_r5_give_no_femoral_case_and_mix_no_versions) {
  if (!fs::exists(kExamples5)) GTEST_SKIP() << "the package hl7.fhir.r5.examples is not installed (tests/peer/install)";
  const auto files = clinical_files(kExamples5);
  EXPECT_GT(files.size(), 200u);
  for (const auto& file : files) {
    const auto parsed = json::parse(bytes_of(file));
    ASSERT_TRUE(parsed) << file << parsed.error().text;
    const auto result = read_all(*parsed);
    for (const auto& p : result.record.procedures) EXPECT_FALSE(p.femoral || p.femoral_stated) << file << " " << p.source.reference;
    EXPECT_TRUE(result.record.access_events.empty()) << file;
    EXPECT_TRUE(result.record.tasks.empty()) << file;
    EXPECT_FALSE(reading_test::has_issue(result, "version-mixed")) << file << "\n" << reading_test::all_issues(result.issues);
  }
}

// The same id in both packages is the same story. Where HL7 changed the story itself between the versions, the pair is named with what changed.
TEST_F(OfficialExamples, twins_of_r4_and_r5_give_the_same_facts) {
  if (!fs::exists(kExamples5)) GTEST_SKIP() << "the package hl7.fhir.r5.examples is not installed (tests/peer/install)";
  const std::map<std::string, std::string> changed{
      {"MedicationAdministration-medadmin0305.json", "the rate, a duration in R4, became an amount per time"},
      {"MedicationStatement-example002.json", "active in R4; adherence not-taking in R5"},
      {"MedicationStatement-example004.json", "active in R4; adherence not-taking in R5, with the note that a dose is missed now and then"}};
  int compared = 0, with_facts = 0;
  for (const auto& file : clinical_files()) {
    const auto name = file.filename().string();
    if (name.starts_with("Bundle-") || !fs::exists(kExamples5 / name)) continue;
    const auto r4 = json::parse(bytes_of(file)), r5 = json::parse(bytes_of(kExamples5 / name));
    ASSERT_TRUE(r4 && r5) << name;
    const auto facts = reading_test::facts_as_text(read_all(*r4).record), twin = reading_test::facts_as_text(read_all(*r5).record);
    ++compared;
    with_facts += facts.size() > 1;
    if (changed.contains(name)) EXPECT_NE(facts, twin) << name << " is no longer different: " << changed.at(name);
    else EXPECT_EQ(facts, twin) << name;
  }
  EXPECT_GT(compared, 150);
  EXPECT_GT(with_facts, 40);
}

// Every file of both packages, definitions and all: what is within the limits is read to its end and gives no case, what is beyond them is refused as too large.
TEST_F(OfficialExamples, all_of_both_packages_are_read_or_refused_politely) {
  for (const auto& [folder, least] : {std::pair{kExamples, 5'300}, std::pair{kExamples5, 2'500}}) {
    if (!fs::exists(folder)) continue;
    int files = 0, refused = 0;
    for (const auto& entry : fs::directory_iterator(folder)) {
      const auto name = entry.path().filename().string();
      if (!name.ends_with(".json") || name == "package.json" || name.starts_with(".")) continue;
      ++files;
      const auto parsed = json::parse(bytes_of(entry.path()));
      if (!parsed) {
        EXPECT_TRUE(parsed.error().too_large) << name << " " << parsed.error().text;
        ++refused;
        continue;
      }
      EXPECT_TRUE(read_all(*parsed).record.access_events.empty()) << name;
    }
    std::printf("%s: %d files, %d beyond the limits\n", folder.filename().c_str(), files, refused);
    EXPECT_GE(files, least) << folder;
    EXPECT_LE(refused, 3);
  }
}

// Traps of single files.
TEST_F(OfficialExamples, traps_by_name) {
  EXPECT_TRUE(read_example("MedicationAdministration-medadmin0303").record.administrations.empty()) << "entered in error";
  const auto running = read_example("MedicationAdministration-medadmin0301");
  ASSERT_EQ(running.record.administrations.size(), 1u);
  EXPECT_FALSE(running.record.administrations[0].end) << "in progress without end";
  const auto ingredients = read_example("MedicationAdministration-medadmin0302");
  ASSERT_EQ(ingredients.record.administrations.size(), 1u) << "no code, only ingredients: never left out";
  const auto per_kg = read_example("MedicationAdministration-medadmin0305");
  ASSERT_EQ(per_kg.record.administrations.size(), 1u);
  EXPECT_TRUE(per_kg.record.administrations[0].dose && per_kg.record.administrations[0].dose->per_kg);
  EXPECT_FALSE(per_kg.record.administrations[0].rate) << "a duration in minutes was sent as the rate";
  const auto insulin = read_example("MedicationAdministration-medadmin0308");
  ASSERT_EQ(insulin.record.administrations.size(), 1u);
  EXPECT_FALSE(insulin.record.administrations[0].dose) << "U is no international unit here";
  const auto bare = read_example("MedicationAdministration-medadminexample03");
  ASSERT_EQ(bare.record.administrations.size(), 1u);
  EXPECT_FALSE(bare.record.administrations[0].dose) << "no dosage at all";

  EXPECT_TRUE(read_example("Procedure-ob").record.procedures.empty()) << "subject is display only";
  EXPECT_TRUE(read_example("Procedure-ambulation").record.procedures.empty());
  EXPECT_TRUE(read_example("Procedure-appendectomy-narrative").record.procedures.empty());

  const auto weight = read_example("Observation-example");
  ASSERT_EQ(weight.record.measurements.size(), 1u);
  EXPECT_EQ(weight.record.measurements[0].value->micro, 83'914'588) << "185 [lb_av] in kg";
  EXPECT_TRUE(read_example("Observation-unsat").record.measurements.empty());
  const auto half = read_example("Observation-blood-pressure-dar");
  ASSERT_EQ(half.record.measurements.size(), 2u);
  EXPECT_NE(half.record.measurements[0].value.has_value(), half.record.measurements[1].value.has_value());
  EXPECT_TRUE(read_example("Observation-blood-pressure-cancel").record.measurements.empty());
  EXPECT_TRUE(read_example("Observation-decimal").record.measurements.empty());
}

TEST_F(OfficialExamples, decimals_survive_byte_for_byte) {
  const auto text = bytes_of(kExamples / "Observation-decimal.json");
  const auto written = json::write(*json::parse(text));
  for (const auto* digits : {"1.00", "1E-22", "1.000000000000000000E-245", "-1.000000000000000000E+245"}) {
    EXPECT_NE(text.find(digits), std::string::npos) << digits;
    EXPECT_NE(written.find(digits), std::string::npos) << digits;
  }
}

TEST_F(OfficialExamples, the_reference_torture_test_keeps_servers_apart) {
  const auto parsed = json::parse(bytes_of(kExamples / "Bundle-bundle-references.json"));
  ASSERT_TRUE(parsed);
  const auto entries = fhir_read::entries_of(*parsed);
  EXPECT_FALSE(entries.refused);
  std::map<std::string, int> bases;
  for (const auto& e : entries.events) ++bases[e.base_url];
  EXPECT_GE(bases.size(), 2u);
}

// Damage at random places: a changed byte, a cut, a doubled stretch. A fixed seed, so that a failure can be repeated.
TEST_F(OfficialExamples, damaged_input_never_crashes_and_ends_in_time) {
  std::mt19937 random(20260302);
  const auto files = clinical_files();
  const auto started = std::chrono::steady_clock::now();
  int parsed_still = 0;
  for (int round = 0; round < 4000; ++round) {
    auto text = bytes_of(files[random() % files.size()]);
    if (text.size() > 30'000 || text.empty()) continue;
    for (unsigned hits = 1 + random() % 4; hits > 0; --hits) {
      const auto at = random() % text.size();
      switch (random() % 4) {
        case 0: text[at] = static_cast<char>(random() % 256); break;
        case 1: text.erase(at, 1 + random() % 20); break;
        case 2: text.insert(at, text.substr(random() % text.size(), random() % 30)); break;
        default: std::swap(text[at], text[random() % text.size()]); break;
      }
      if (text.empty()) text = "{}";
    }
    if (const auto parsed = json::parse(text)) {
      ++parsed_still;
      read_all(*parsed);
    }
  }
  EXPECT_GT(parsed_still, 100);
  EXPECT_LT(std::chrono::steady_clock::now() - started, std::chrono::minutes(3));
}

// Values of other types in the place of each member: what a careless sender does.
TEST_F(OfficialExamples, values_of_other_types_never_crash) {
  std::mt19937 random(7);
  const auto replace = [&](auto&& self, json::Value& value, double chance) -> void {
    if (std::uniform_real_distribution<>(0, 1)(random) < chance) {
      const json::Value others[] = {json::Value(), json::Value(true), json::Value(""), json::Value(-1), json::Value::decimal("1E-300"), json::Value::array(),
                                    json::Value::object(), json::Value::array({json::Value(), json::Value("x")})};
      value = others[random() % std::size(others)];
      return;
    }
    for (auto& item : value.items()) self(self, item, chance);
    for (auto& member : value.members()) self(self, member.value, chance);
  };
  for (const auto& file : clinical_files()) {
    const auto parsed = json::parse(bytes_of(file));
    for (int round = 0; round < 3; ++round) {
      auto changed = *parsed;
      for (auto& member : changed.members()) {
        if (member.name != "resourceType" && member.name != "type") replace(replace, member.value, 0.08);
      }
      read_all(changed);
    }
  }
}

}  // namespace
