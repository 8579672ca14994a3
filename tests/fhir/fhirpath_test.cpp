// The part of FHIRPath that sites may write, held against the reference implementation in JavaScript (fhirpath with its model of R4, installed by
// tests/peer/install) over the official examples; and what is refused, with its column.
#include "fhir/fhirpath.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <memory>
#include <sstream>
#include <vector>

namespace {

namespace fs = std::filesystem;
const fs::path kPeer = fs::path(SOURCE_DIR) / "tests/peer";

json::Value parsed(std::string_view text) {
  const auto value = json::parse(text);
  if (!value) ADD_FAILURE() << text;
  return value ? *value : json::Value();
}
std::string all(const std::vector<json::Value>& values) {
  std::string text;
  for (const auto& value : values) text += json::write(value) + ";";
  return text;
}
std::string selected(const char* expression, const char* resource) {
  const auto path = fhir::FhirPath::parse(expression);
  if (!path) return "fault at " + std::to_string(path.error().column) + ": " + path.error().text;
  return all(path->evaluate(parsed(resource)));
}

constexpr const char* kProcedure = R"({"resourceType":"Procedure","status":"completed","note":[{"text":"6F sheath"},{"text":"right groin"}],"performedPeriod":{"start":"2026-03-02T10:00:00Z"},
  "bodySite":[{"coding":[{"system":"http://snomed.info/sct","code":"69833005"}],"text":"RFA"},{"text":"Right"}],"extension":[{"url":"urn:size","valueQuantity":{"value":6.0,"code":"[Ch]"}},{"url":"urn:hole","valueString":"two"}],
  "partOf":[{"reference":"Procedure/q"}]})";

TEST(FhirPath, selects) {
  EXPECT_EQ(selected("Procedure.status", kProcedure), R"("completed";)");
  EXPECT_EQ(selected("status", kProcedure), R"("completed";)");
  EXPECT_EQ(selected("Observation.status", kProcedure), "");
  EXPECT_EQ(selected("note.text", kProcedure), R"("6F sheath";"right groin";)");
  EXPECT_EQ(selected("note[1].text", kProcedure), R"("right groin";)");
  EXPECT_EQ(selected("note[7]", kProcedure), "");
  EXPECT_EQ(selected("performed.start", kProcedure), R"("2026-03-02T10:00:00Z";)");
  EXPECT_EQ(selected("extension('urn:size').value.value", kProcedure), "6.0;") << "digits as written";
  EXPECT_EQ(selected("extension.where(url = 'urn:size').value.ofType(Quantity).code", kProcedure), R"("[Ch]";)");
  EXPECT_EQ(selected("extension.value.ofType(string)", kProcedure), R"("two";)");
  EXPECT_EQ(selected("bodySite.where(coding.where(system = 'http://snomed.info/sct' and code = '69833005').exists()).text", kProcedure), R"("RFA";)");
  EXPECT_EQ(selected("bodySite.where(coding.empty()).text | note.first().text", kProcedure), R"("Right";"6F sheath";)");
  EXPECT_EQ(selected("note.text.where($this.contains('groin') or $this.startsWith('left'))", kProcedure), R"("right groin";)");
  EXPECT_EQ(selected("extension('urn:size').value.value = 6", kProcedure), "true;");
  EXPECT_EQ(selected("(status = 'completed').not()", kProcedure), "false;");
  EXPECT_EQ(selected("missing = 1", kProcedure), "") << "nothing is neither equal nor different";
  EXPECT_EQ(selected("`status`", kProcedure), R"("completed";)");
}

TEST(FhirPath, follows_references_that_are_held) {
  const auto path = fhir::FhirPath::parse("partOf.resolve().status");
  ASSERT_TRUE(path);
  const auto other = parsed(R"({"resourceType":"Procedure","id":"q","status":"stopped"})");
  const auto held = [&](const json::Value& reference) { return reference["reference"].text() == "Procedure/q" ? &other : nullptr; };
  EXPECT_EQ(all(path->evaluate(parsed(kProcedure), held)), R"("stopped";)");
  EXPECT_EQ(all(path->evaluate(parsed(kProcedure))), "");
}

TEST(FhirPath, refuses_with_the_column) {
  const std::vector<std::pair<const char*, std::size_t>> bad{{"", 1}, {"note.", 6}, {"note..text", 6}, {"note[", 6}, {"note[x]", 6}, {"note.text)", 10}, {"(note", 6}, {"note.where(", 12}, {"note.where()", 6},
                                                             {"note.select(text)", 6}, {"note.text = 'open", 13}, {"a + b", 3}, {"note.first(1)", 6}, {"'a\\nb'", 3}, {"`open", 2}, {"note.exists(1, 2)", 6}, {"%resource", 1},
                                                             {"note > 1", 6}, {"1.", 3}};
  for (const auto& [expression, column] : bad) {
    const auto path = fhir::FhirPath::parse(expression);
    ASSERT_TRUE(path.has_error()) << expression;
    EXPECT_EQ(path.error().column, column) << expression << ": " << path.error().text;
    EXPECT_FALSE(path.error().text.empty());
  }
  EXPECT_TRUE(fhir::FhirPath::parse(std::string(5000, '(')).has_error());
  EXPECT_TRUE(fhir::FhirPath::parse(std::string(500, '(')).has_error());
}

// ---- Against the reference implementation

constexpr const char* kExpressions[] = {
    "status", "code", "code.coding.code", "code.coding.where(system = 'http://loinc.org').code", "code.coding.where(system = 'http://snomed.info/sct' or system = 'http://loinc.org').display", "code.text",
    "subject.reference", "subject.reference.startsWith('Patient/')", "value", "value.ofType(Quantity).value", "value.ofType(Quantity).unit", "value.ofType(CodeableConcept).text", "value.ofType(string)",
    "effective", "effective.ofType(Period).start", "effective.ofType(dateTime)", "performed.ofType(Period).end", "performed", "component.value.ofType(Quantity).where(unit.exists()).value", "component.code.coding.first().code",
    "component.where(value.exists().not()).code.coding.code", "component[0].code.text", "component.last().value.value", "note.text", "note.first().text", "note.text.first().contains('a')", "bodySite.coding.code",
    "bodySite.text | code.text", "category.coding.code | category.coding.display", "identifier.where(use = 'official').value", "identifier.exists(system = 'http://example.org')", "extension('http://example.org/x').value",
    "contained.code.coding.display", "contained.where(status = 'active')", "contained.ingredient.item.ofType(CodeableConcept).coding.code", "dosage.dose.value", "dosage.rate.ofType(Ratio).numerator.value", "dosage.rate.ofType(Quantity).unit",
    "dosage.route.coding.display.first()", "medication.ofType(CodeableConcept).coding.display", "medication.ofType(Reference).reference", "performer.actor.display", "name.where(use = 'official').family", "name.given", "name.given[1]",
    "birthDate", "deceased", "link.type", "meta.profile", "status = 'completed'", "status != 'final'", "(status = 'final') and code.exists()", "status = 'final' or missing = 1", "missing.exists()", "missing.empty()",
    "missing = 'x' and status = 'never'", "value.value = 6.3", "value.ofType(Quantity).value = 185", "interpretation.coding.code", "referenceRange.low.value", "Observation.value.ofType(Quantity).code", "Procedure.code.text", "Patient.name.family",
    "component.code.where(coding.code = '8480-6').text", "related.exists()", "reasonCode.text.first()", "location.location.display", "period.start", "class.code", "input.type.text", "output.value.ofType(Reference).reference", "`code`.`coding`.`code`",
    "code.coding.where($this.code = '27113001').display", "identifier[0].value.endsWith('1')", "text.status", "code.coding.exists(code.exists() and system.exists())", "(code | category).coding.code", "true", "1 = 1.0", "'a' != 'b'"};

std::vector<fs::path> examples() {
  std::vector<fs::path> files;
  const auto folder = kPeer / "node_modules/hl7.fhir.r4.examples";
  if (!fs::exists(folder)) return files;
  for (const auto& entry : fs::directory_iterator(folder)) {
    const auto name = entry.path().filename().string();
    for (const char* type : {"Procedure-", "Observation-", "MedicationAdministration-", "MedicationStatement-", "Patient-", "Encounter-", "Task-", "Medication-"})
      if (name.starts_with(type) && name.ends_with(".json")) files.push_back(entry.path());
  }
  std::ranges::sort(files);
  return files;
}

// Numbers by value: the reference implementation is JavaScript and drops zeros at the end.
std::string without_zeros(const json::Value& value) {
  if (value.is_number()) {
    std::ostringstream text;
    text.precision(12);
    text << std::strtod(std::string(value.digits()).c_str(), nullptr);
    return text.str();
  }
  if (value.is_array() || value.is_object()) {
    std::string text = value.is_array() ? "[" : "{";
    for (const auto& item : value.items()) text += without_zeros(item) + ",";
    for (const auto& member : value.members()) text += member.name + ":" + without_zeros(member.value) + ",";
    return text + (value.is_array() ? "]" : "}");
  }
  return json::write(value);
}

constexpr const char* kScript =
    "const fp=(await import('fhirpath')).default;const model=(await import('fhirpath/fhir-context/r4/index.js')).default;const fs=await import('node:fs');"
    "const [files,expressions]=fs.readFileSync(0,'utf8').split('\\n\\n').map(s=>s.split('\\n').filter(Boolean));const compiled=expressions.map(e=>fp.compile(e,model));"
    "for(const f of files){const r=JSON.parse(fs.readFileSync(f,'utf8'));for(const c of compiled){let o;try{o=JSON.stringify(c(r));}catch(e){o='!'+e.message.split('\\n')[0];}console.log('='+o);}}";

TEST(FhirPathOracle, agrees_over_the_official_examples) {
  const auto files = examples();
  if (files.empty() || !fs::exists(kPeer / "node_modules/fhirpath")) GTEST_SKIP() << "the reference implementation or the examples are not installed (tests/peer/install)";
  std::string input;
  for (const auto& file : files) input += file.string() + "\n";
  input += "\n";
  for (const char* expression : kExpressions) input += std::string(expression) + "\n";
  const std::string name = testing::TempDir() + "fhirpath_input.txt";
  std::ofstream(name) << input;
  const std::string command = "cd " + kPeer.string() + " && ./node --input-type=module -e \"" + kScript + "\" < " + name + " 2>&1";
  const std::unique_ptr<FILE, int (*)(FILE*)> pipe(popen(command.c_str(), "r"), pclose);
  std::string output;
  std::array<char, 4096> chunk{};
  for (std::size_t n = 0; pipe && (n = std::fread(chunk.data(), 1, chunk.size(), pipe.get())) > 0;) output.append(chunk.data(), n);
  std::istringstream lines(output);
  std::size_t compared = 0, with_result = 0, refused = 0, disagree = 0;
  for (const auto& file : files) {
    std::ifstream in(file, std::ios::binary);
    std::stringstream text;
    text << in.rdbuf();
    const auto resource = parsed(text.str());
    for (const char* expression : kExpressions) {
      std::string line;
      while (std::getline(lines, line) && !line.starts_with('=')) {}
      ASSERT_FALSE(line.empty()) << output.substr(0, 600);
      if (line.starts_with("=!")) {
        ++refused;
        continue;
      }
      const auto path = fhir::FhirPath::parse(expression);
      ASSERT_TRUE(path) << expression << ": " << path.error().text;
      const auto ours = without_zeros(json::Value::array(path->evaluate(resource))), theirs = without_zeros(parsed(std::string_view(line).substr(1)));
      ++compared;
      with_result += theirs != "[]";
      if (ours != theirs && ++disagree <= 20) ADD_FAILURE() << file.filename() << " " << expression << "\n ours   " << ours.substr(0, 300) << "\n theirs " << theirs.substr(0, 300);
    }
  }
  EXPECT_EQ(disagree, 0u);
  EXPECT_GT(compared, 8000u);
  EXPECT_GT(with_result, 1500u);
  EXPECT_LT(refused, compared / 20) << "expressions that the reference implementation refuses on single files";
  RecordProperty("compared", static_cast<int>(compared));
  RecordProperty("with_result", static_cast<int>(with_result));
  RecordProperty("refused", static_cast<int>(refused));
}

}  // namespace
