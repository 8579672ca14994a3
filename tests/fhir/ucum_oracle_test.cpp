// Every factor between UCUM units, held against a general UCUM library (@lhncbc/ucum-lhc, installed by tests/peer/install).
#include "fhir/ucum.h"
#include "fhir/units.h"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <memory>
#include <set>
#include <sstream>
#include <string>
#include <vector>

namespace {

using K = fhir::QuantityKind;

struct Pair {
  K kind;
  const char* from;
  const char* to;
};

// Leaves out what is no conversion of UCUM: French sizes as diameters, molar units of creatinine and bilirubin, INR,
// arbitrary units ([iU]), which the library does not convert even into multiples of themselves.
constexpr Pair kPairs[] = {
    {K::seconds, "ms", "s"},          {K::seconds, "min", "s"},        {K::seconds, "h", "s"},           {K::seconds, "d", "s"},
    {K::kilograms, "g", "kg"},        {K::kilograms, "[lb_av]", "kg"}, {K::centimetres, "m", "cm"},      {K::centimetres, "mm", "cm"},
    {K::centimetres, "[in_i]", "cm"}, {K::millimetres_mercury, "kPa", "mm[Hg]"}, {K::millimetres_mercury, "Pa", "mm[Hg]"},
    {K::haemoglobin, "g/L", "g/dL"},  {K::haemoglobin, "mg/dL", "g/dL"}, {K::fibrinogen, "mg/dL", "g/L"}, {K::fibrinogen, "g/dL", "g/L"},
    {K::creatinine, "mg/L", "mg/dL"}, {K::cells, "10*3/uL", "10*9/L"}, {K::cells, "/uL", "10*9/L"},      {K::cells, "10*6/L", "10*9/L"},
    {K::enzyme, "ukat/L", "U/L"},
    {K::milligrams, "g", "mg"},       {K::milligrams, "ug", "mg"},     {K::milligrams, "ng", "mg"}};

std::string output_of(const std::string& command) {
  const std::unique_ptr<FILE, int (*)(FILE*)> pipe(popen(command.c_str(), "r"), pclose);
  std::string all;
  std::array<char, 256> chunk{};
  while (pipe && std::fgets(chunk.data(), chunk.size(), pipe.get())) all += chunk.data();
  return all;
}

TEST(UcumOracle, agrees_on_every_factor) {
  const std::string peer = SOURCE_DIR "/tests/peer";
  if (!std::filesystem::exists(peer + "/node_modules/@lhncbc/ucum-lhc")) GTEST_SKIP() << "the UCUM library is not installed (tests/peer/install)";
  std::string script = "import('@lhncbc/ucum-lhc').then(m=>{const u=(m.UcumLhcUtils||m.default.UcumLhcUtils).getInstance();for(const [f,t] of [";
  for (const auto& pair : kPairs) script += "['" + std::string(pair.from) + "','" + pair.to + "'],";
  script += "])console.log(u.convertUnitTo(f,1,t).toVal)})";
  const auto output = output_of("cd " + peer + " && ./node --input-type=module -e \"" + script + "\" 2>&1");

  std::size_t at = 0;
  for (const auto& pair : kPairs) {
    const auto end = output.find('\n', at);
    ASSERT_NE(end, std::string::npos) << output;
    const double theirs = std::strtod(output.c_str() + at, nullptr);
    at = end + 1;
    const auto ours = fhir::find_unit(pair.from, pair.kind);
    ASSERT_TRUE(ours) << pair.from;
    const double factor = static_cast<double>(ours->factor.num) / static_cast<double>(ours->factor.den);
    EXPECT_NEAR(theirs / factor, 1.0, 1e-9) << pair.from << " in " << pair.to;
  }
}

// ---- Thousands of terms, made of every atom and prefix in the ways that feeds write them

const std::vector<std::string> kPrefixes{"", "k", "h", "da", "d", "c", "m", "u", "n", "p", "f"};
const std::vector<std::string> kMetric{"m", "s", "g", "mol", "L", "l", "Pa", "bar", "m[Hg]", "m[H2O]", "kat", "U", "eq", "t", "Hz", "N", "g%"};
const std::vector<std::string> kOthers{"min", "h", "d", "wk", "[in_i]", "[ft_i]", "[lb_av]", "[oz_av]", "[gr]", "atm", "%"};

// The units of clinical work that are checked by name: those of the code lists and of the reference ranges.
const std::vector<std::string> kNamed{
    "ug/kg/min", "ug/kg/h", "ug/kg", "mg/kg/h", "mg/kg", "mg", "ug", "mg/h", "mL", "mL/h", "s", "min", "h", "d", "kg", "g", "[lb_av]", "cm", "[in_i]", "kg/m2", "1", "10*3/uL", "10*9/L",
    "g/dL", "g/L", "mg/dL", "umol/L", "mm[Hg]", "kPa", "mm", "%", "/min", "U/h", "U/kg/h", "U/mL", "ug/mL", "ng/mL", "/uL", "10*6/mL", "10*12/L", "{cells}/uL", "{beats}/min", "1/min",
    "mmol/L", "ukat/L", "mg/L", "L/min", "cm[H2O]", "hPa", "mbar", "g.L-1", "10*9.L-1", "mg/(dL)", "kg.m-1.s-2", "/(10*3.uL)", "mg/(24.h)", "U/(kg.h)", "mg{creatinine}/dL", "{INR}"};
const std::vector<std::string> kNoTerms{"", "/", "mg/", "mg//L", "MG", "Mg/DL", "sec", "hrs", "K/uL", "mcg", "lbs", "mmHg", "IU", "mg/dL ", " mg", "mg dL", "10^", "{", "}", "{a}{b", "mg{", "(mg", "mg)",
                                        "()", "5", "mg+", "mg-", "2.5.mg", "µg", "kmin", "k[in_i]", "kd", "mg.", ".mg", "g/0"};

std::vector<std::string> generated() {
  std::set<std::string> terms(kNamed.begin(), kNamed.end());
  std::vector<std::string> scaled(kOthers);
  for (const auto& prefix : kPrefixes)
    for (const auto& atom : kMetric) scaled.push_back(prefix + atom);
  for (const auto& unit : scaled) {
    terms.insert({unit, "/" + unit, unit + "2", unit + "-1", "10*3." + unit, unit + "{something}", "(" + unit + ")", "24." + unit});
    for (const char* volume : {"L", "dL", "mL", "uL", "fL", "m3", "cm3", "l"}) terms.insert(unit + "/" + volume);
    for (const char* time : {"s", "min", "h", "d"}) terms.insert({unit + "/" + time, unit + "/(24." + time + ")", unit + "." + time + "-1"});
    for (const char* weight : {"kg", "g", "[lb_av]"}) terms.insert({unit + "/" + weight + "/h", unit + "/(" + weight + ".min)"});
  }
  for (int power = -6; power <= 12; ++power)
    for (const char* volume : {"L", "mL", "uL", "nL", "mm3", "m3"}) terms.insert("10*" + std::to_string(power) + "/" + volume);
  return {terms.begin(), terms.end()};
}

constexpr const char* kTargets[] = {"s", "kg", "cm", "mm[Hg]", "g/dL", "umol/L", "10*9/L", "U/L", "/min", "mL", "mg", "mL/h", "mg/h", "1"};

// In UCUM a mole is a number; here it is a dimension of its own.
bool in_moles(const std::string& term) {
  for (const char* sign : {"mol", "kat", "U", "eq"})
    if (term.find(sign) != std::string::npos && term.find("[iU]") == std::string::npos) return true;
  return false;
}

// What does not fit the factors here is no quantity of a patient.
bool beyond_reach(double value) { return value > 1e12 || value < 1e-12; }

std::vector<std::string> answers(const std::string& script, const std::string& input) {
  const std::string peer = SOURCE_DIR "/tests/peer", name = testing::TempDir() + "ucum_terms.txt";
  std::ofstream(name) << input;
  std::istringstream lines(output_of("cd " + peer + " && ./node --input-type=module -e \"" + script + "\" < " + name + " 2>&1"));
  std::vector<std::string> all;
  for (std::string line; std::getline(lines, line);)
    if (line.starts_with('=')) all.push_back(line.substr(1));  // the library has remarks of its own
  return all;
}

constexpr const char* kAsk =
    "const m=await import('@lhncbc/ucum-lhc');const u=(m.UcumLhcUtils||m.default.UcumLhcUtils).getInstance();const fs=await import('node:fs');"
    "for(const line of fs.readFileSync(0,'utf8').split('\\n').slice(0,-1)){const [f,t]=line.split('\\t');"
    "if(t===undefined){console.log('='+(u.validateUnitString(f).status==='valid'?'valid':'-'));continue;}"
    "const r=u.convertUnitTo(f,1,t);console.log('='+(r.status==='succeeded'&&r.toVal!==null?String(r.toVal):'-'));}";

TEST(UcumOracle, agrees_on_thousands_of_generated_terms) {
  if (!std::filesystem::exists(SOURCE_DIR "/tests/peer/node_modules/@lhncbc/ucum-lhc")) GTEST_SKIP() << "the UCUM library is not installed (tests/peer/install)";
  const auto terms = generated();
  std::string input;
  for (const auto& term : terms)
    for (const char* target : kTargets) input += term + "\t" + target + "\n";
  const auto theirs = answers(kAsk, input);
  ASSERT_EQ(theirs.size(), terms.size() * std::size(kTargets)) << (theirs.empty() ? "" : theirs.back());
  std::size_t at = 0, converted = 0, disagree = 0;
  for (const auto& term : terms) {
    const auto ours = fhir::parse_ucum(term);
    for (const char* target : kTargets) {
      const auto& said = theirs[at++];
      if (in_moles(term) != in_moles(target)) continue;
      const auto own = fhir::parse_ucum(target);
      ASSERT_TRUE(own) << target;
      const auto factor = ours ? fhir::factor_between(*ours, *own) : std::nullopt;
      bool same = factor.has_value() == (said != "-");
      if (factor && said != "-") {
        const double value = static_cast<double>(factor->num) / static_cast<double>(factor->den), other = std::strtod(said.c_str(), nullptr);
        same = std::abs(other / value - 1.0) < 1e-9;
        ++converted;
      }
      if (!factor && said != "-") same = beyond_reach(std::strtod(said.c_str(), nullptr));
      if (!same && ++disagree <= 40) ADD_FAILURE() << term << " in " << target << ": ours " << (factor ? std::to_string(factor->num) + "/" + std::to_string(factor->den) : "-") << ", theirs " << said;
    }
  }
  EXPECT_EQ(disagree, 0u);
  EXPECT_GT(terms.size(), 4000u);
  EXPECT_GT(converted, 1000u);
  RecordProperty("terms", static_cast<int>(terms.size()));
  RecordProperty("converted", static_cast<int>(converted));
}

TEST(UcumOracle, takes_no_term_for_one_that_the_library_refuses) {
  if (!std::filesystem::exists(SOURCE_DIR "/tests/peer/node_modules/@lhncbc/ucum-lhc")) GTEST_SKIP() << "the UCUM library is not installed (tests/peer/install)";
  std::string input;
  for (const auto& term : kNoTerms) input += term + "\n";
  const auto theirs = answers(kAsk, input);
  ASSERT_EQ(theirs.size(), kNoTerms.size());
  for (std::size_t i = 0; i < kNoTerms.size(); ++i)
    EXPECT_FALSE(theirs[i] != "valid" && fhir::parse_ucum(kNoTerms[i])) << "\"" << kNoTerms[i] << "\"";
}

// An international unit is arbitrary: it converts into its own multiples and into nothing else, least of all the enzyme unit U.
TEST(Ucum, an_international_unit_is_no_enzyme_unit) {
  const auto iu = fhir::parse_ucum("[iU]/mL"), enzyme = fhir::parse_ucum("U/mL");
  ASSERT_TRUE(iu && enzyme);
  EXPECT_FALSE(iu->of == enzyme->of);
  EXPECT_EQ(fhir::factor_between(*fhir::parse_ucum("k[iU]/L"), *iu), (fhir::Ratio{1, 1}));
  EXPECT_EQ(fhir::parse_ucum("[IU]")->of, fhir::parse_ucum("[iU]")->of);
  EXPECT_FALSE(fhir::find_unit("U", K::international_units));
  EXPECT_FALSE(fhir::find_unit("kat/L", K::anti_xa));
  EXPECT_TRUE(fhir::find_unit("[iU]/L", K::enzyme)->alias) << "met for enzymes, said, and never a conversion";
  EXPECT_FALSE(fhir::find_drug_unit("U", false));
}

TEST(Ucum, mixtures_that_would_misread_a_value_are_none) {
  for (const auto& [unit, kind] : std::vector<std::pair<const char*, K>>{{"%", K::inr}, {"mol/L", K::cells}, {"K/uL", K::seconds}, {"Mg", K::milligrams}, {"Ms", K::seconds},
                                                                         {"1", K::percent}, {"mg/dL", K::cells}, {"mg/kg", K::milligrams}, {"[degF]", K::seconds}, {"g/dL", K::anti_xa}})
    EXPECT_FALSE(fhir::find_unit(unit, kind)) << unit;
}

TEST(Ucum, factors_that_do_not_fit_are_none_and_nothing_overflows) {
  for (const char* term : {"m-9.m-9.m-9.m-9.m-9.m-9.m-9.m-9", "t9.t9", "99999999999999999999.g", "10*99", "((((((((((g))))))))))", "um9.um9.um9"}) EXPECT_FALSE(fhir::parse_ucum(term)) << term;
}

TEST(Ucum, fahrenheit_is_converted_with_its_offset) {
  const auto warm = fhir::convert(*json::parse(R"({"value":100.4,"system":"http://unitsofmeasure.org","code":"[degF]"})"), K::celsius);
  ASSERT_TRUE(warm);
  EXPECT_EQ(warm->amount, (fhir::Millionths{38'000'000, false}));
  EXPECT_EQ(fhir::convert(*json::parse(R"({"value":98.6,"unit":"degF"})"), K::celsius)->amount.value, 37'000'000);
  EXPECT_EQ(fhir::convert(*json::parse(R"({"value":0,"system":"http://unitsofmeasure.org","code":"[degF]"})"), K::celsius)->amount.value, -17'777'778);
}

}  // namespace
