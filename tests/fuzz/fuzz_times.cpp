// Any bytes as a FHIR time: it is refused, or it spans something, and an exact one reads as itself again.
#include "fhir/date_time.h"

#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string_view>

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);  // NOLINT: bytes as they come
  static const fhir::ZoneRule berlin{fhir::find_zone("Europe/Berlin"), true};
  for (const auto& rule : {fhir::ZoneRule{}, berlin}) {
    const auto span = fhir::read_time(text, rule);
    if (!span) continue;
    if (span->latest < span->earliest) std::abort();
    if (!span->exact()) continue;
    const auto again = fhir::read_time(fhir::format_utc(span->earliest));
    if (!again || again->earliest != span->earliest || !again->exact()) std::abort();
  }
  (void)fhir::read_utc_date(text);
  return 0;
}
