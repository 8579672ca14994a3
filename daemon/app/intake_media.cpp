#include "app/intake_media.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>

namespace app {
namespace {

constexpr std::array<std::string_view, 3> kVersions{"4.0", "4.3", "5.0"};

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) text.remove_prefix(1);
  while (!text.empty() && (text.back() == ' ' || text.back() == '\t')) text.remove_suffix(1);
  return text;
}

/// The value of a parameter, without its quotes; empty: not there.
std::string_view parameter(std::string_view media, std::string_view name) {
  for (auto rest = media; rest.find(';') != std::string_view::npos;) {
    rest.remove_prefix(rest.find(';') + 1);
    const auto one = trimmed(rest.substr(0, rest.find(';')));
    const auto equals = one.find('=');
    if (equals == std::string_view::npos || !transport::equal_ignoring_case(trimmed(one.substr(0, equals)), name)) continue;
    auto value = trimmed(one.substr(equals + 1));
    if (value.size() >= 2 && value.front() == '"' && value.back() == '"') value = value.substr(1, value.size() - 2);
    return value;
  }
  return {};
}

/// "4.0.1" is 4.0.
bool is_version(std::string_view written, std::string_view version) {
  return written == version || (written.starts_with(version) && written[version.size()] == '.');
}

}  // namespace

std::span<const std::string_view> fhir_versions() { return kVersions; }

std::string stated_version(const transport::Headers& headers) {
  const auto media = headers.get("Content-Type");
  return media ? std::string(parameter(*media, "fhirVersion")) : std::string();
}

std::string media_fault(const transport::Headers& headers, std::span<const std::string_view> versions) {
  if (const auto coding = headers.get("Content-Encoding"); coding && !trimmed(*coding).empty() && !transport::equal_ignoring_case(trimmed(*coding), "identity"))
    return fmt::format("bodies are read without content coding only, not as {}", *coding);
  const auto media = headers.get("Content-Type");
  if (!media) return {};
  const auto type = trimmed(media->substr(0, media->find(';')));
  if (!transport::equal_ignoring_case(type, "application/fhir+json") && !transport::equal_ignoring_case(type, "application/json"))
    return "only application/fhir+json and application/json are read";
  const auto written = parameter(*media, "fhirVersion");
  if (written.empty() || std::ranges::any_of(versions, [&](std::string_view version) { return is_version(written, version); })) return {};
  return fmt::format("fhirVersion {} is not read here, only {}", written, fmt::join(versions, ", "));
}

}  // namespace app
