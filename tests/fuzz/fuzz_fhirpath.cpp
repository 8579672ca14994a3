// Any bytes as an expression of a site: it is refused with a column inside of it, or it selects the same things each time it is asked, no more than
// the resource and the expression hold. The resource: the official example Procedure/biopsy (hl7.fhir.r4.examples 4.0.1, CC0).
#include "fhir/fhirpath.h"

#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <fstream>
#include <sstream>
#include <string_view>

namespace {

json::Value official_example() {
  std::ifstream in(SOURCE_DIR "/tests/fuzz/official-procedure.json", std::ios::binary);
  std::stringstream bytes;
  bytes << in.rdbuf();
  auto parsed = json::parse(bytes.str());
  if (!parsed) std::abort();
  return std::move(*parsed);
}

std::size_t values_in(const json::Value& value) {
  std::size_t count = 1;
  for (const auto& item : value.items()) count += values_in(item);
  for (const auto& member : value.members()) count += values_in(member.value);
  return count;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const json::Value resource = official_example();
  static const std::size_t most = values_in(resource);
  const std::string_view text(reinterpret_cast<const char*>(data), size);  // NOLINT: bytes as they come
  const auto path = fhir::FhirPath::parse(text);
  if (!path) {
    if (path.error().column < 1 || path.error().column > size + 1 || path.error().text.empty()) std::abort();
    return 0;
  }
  // A reference leads back to the resource itself: the longest way round that there is.
  const fhir::FhirPath::Resolve back = [](const json::Value& reference) { return reference.has("reference") ? &resource : nullptr; };
  const auto selected = path->evaluate(resource, back);
  if (selected.size() > most + size) std::abort();
  if (path->evaluate(resource, back) != selected) std::abort();
  (void)path->evaluate(resource);
  return 0;
}
