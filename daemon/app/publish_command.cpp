// `publish`: a protocol file as FHIR definitions, for a record system, a knowledge repository or a reader.
#include <fmt/format.h>

#include <cstdio>
#include <filesystem>
#include <fstream>
#include <iterator>

#include "app/commands.h"
#include "app/load_rules.h"
#include "fhir_write/definitions.h"
#include "json/tree.h"
#include "profile/protocol_file.h"

namespace app {
namespace {

namespace fs = std::filesystem;

std::vector<fhir_write::StepWords> steps_in(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  const auto system = json::parse(std::string{std::istreambuf_iterator<char>(in), {}});
  std::vector<fhir_write::StepWords> steps;
  if (system.has_error()) return steps;
  for (const json::Value& one : (*system)["concept"].items()) steps.push_back({std::string(one["code"].text()), std::string(one["display"].text()), std::string(one["definition"].text())});
  return steps;
}

bool write_to(const fs::path& folder, const json::Value& resource) {
  const fs::path file = folder / fmt::format("{}-{}.json", resource["resourceType"].text(), resource["id"].text());
  std::ofstream out(file, std::ios::binary);
  out << json::write_pretty(resource) << "\n";
  if (out.flush()) return true;
  fmt::print(stderr, "{} cannot be written\n", file.string());
  return false;
}

}  // namespace

int publish(const PublishOptions& options) {
  const fs::path data = data_folder(options.data);
  const auto loaded = profile::load_protocol(options.protocol.empty() ? data / "profiles/protocol/cautious.toml" : fs::path(options.protocol));
  print_faults(loaded.faults);
  print_faults(loaded.notes);
  if (!loaded.protocol) return 2;
  const auto steps = steps_in(data / "profiles/fhir/CodeSystem-aftercare-step.json");
  if (steps.empty()) return fmt::print(stderr, "{} holds no profiles/fhir/CodeSystem-aftercare-step.json: name the data folder with --data\n", data.string()), 2;
  std::error_code failed;
  fs::create_directories(options.out, failed);
  const auto all = fhir_write::definitions({*loaded.protocol, steps, profile::canonical_values(*loaded.protocol), loaded.approved_by, loaded.approved_on});
  for (const json::Value& one : all)
    if (!write_to(options.out, one)) return 1;
  fmt::print("{} definitions of {} {} ({}) in {}\n", all.size(), loaded.protocol->id, loaded.protocol->version, loaded.protocol->approved ? "approved" : "not approved", options.out);
  return 0;
}

}  // namespace app
