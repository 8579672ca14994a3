#include "app/make_sheet.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "sheet/sheet.h"

namespace app {
namespace {

clinical::Instant instant_of(Millis at) { return clinical::Instant{std::chrono::seconds{at / 1000}}; }

/// Read once, for the life of the program; only read from then on.
const std::variant<sheet::Fonts, std::string>& fonts() {
  static const auto loaded = sheet::Fonts::load(sheet::distribution_fonts());
  return loaded;
}

}  // namespace

std::string unprintable_in(const std::string& name) {
  const auto* loaded = std::get_if<sheet::Fonts>(&fonts());
  return loaded ? fmt::format("{}", fmt::join(loaded->uncovered(name), ", ")) : std::string{};
}

MadeSheet make_sheet(const SheetWish& wish) {
  const auto* zone = words::zone_named(wish.rules.configuration.site.time_zone);
  sheet::SheetInput input{wish.plan, wish.rules.protocol, wish.rules.words, wish.rules.layout, words::context_at(wish.plan.started.value_or(instant_of(wish.now)), zone)};
  input.as_of = instant_of(wish.now);
  input.patient_code = sheet::code_named(wish.rules.configuration.site.patient_code);
  input.number = wish.number;
  if (wish.supersedes) input.supersedes = sheet::SheetInput::Earlier{*wish.supersedes, instant_of(wish.superseded_at.value_or(wish.now))};
  input.installation = wish.rules.installation;
  input.plan_hash = wish.plan_hash;
  input.rehearsal = wish.rules.rehearsal;
  const auto& why = wish.plan.stopped ? wish.plan.stopped : wish.plan.gone;
  if (wish.is_void) input.void_reason = why ? wish.rules.words.render(*why, input.where) : wish.rules.words.text("sheet.void-withdrawn");
  if (const auto* missing = std::get_if<std::string>(&fonts())) return {"", "no sheet could be made: " + *missing};
  const auto drawn = sheet::render(input, std::get<sheet::Fonts>(fonts()));
  if (const auto* refusal = std::get_if<sheet::Refusal>(&drawn)) return {"", "no sheet could be made: " + refusal->text};
  const auto& pdf = std::get<sheet::Pdf>(drawn);
  return {pdf.bytes, fmt::format("{}", fmt::join(pdf.warnings, "; "))};
}

}  // namespace app
