// Every factor between UCUM units, held against a general UCUM library (@lhncbc/ucum-lhc, installed by tests/peer/install).
#include "fhir/units.h"

#include <gtest/gtest.h>

#include <array>
#include <cstdio>
#include <filesystem>
#include <memory>
#include <string>

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

}  // namespace
