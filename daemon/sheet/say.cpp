#include "sheet/say.h"

#include <date/date.h>
#include <fmt/format.h>

#include <algorithm>

#include "clinical/names.h"
#include "clinical/phrases.h"

namespace sheet {

std::string Say::text(std::string_view key, const words::Arguments& arguments) const { return in_.words.text("sheet." + std::string(key), arguments, in_.where); }
std::string Say::label(std::string_view key) const { return in_.words.label("sheet." + std::string(key)); }
std::string Say::reason(clinical::Reason reason) const {
  for (auto& [name, value] : reason.arguments)
    if (auto* key = std::get_if<std::string>(&value))
      if (const auto* site = clinical::site_of(in_.plan, *key)) *key = where(*site);
  return in_.words.render(reason, in_.where);
}

std::string Say::value(const clinical::Value& value, std::string_view per) const {
  std::string said = value.written;
  if (const auto space = said.rfind(' '); space != std::string::npos)
    if (const std::string unit = said.substr(space + 1); in_.words.has_term("unit." + unit)) said.replace(space + 1, std::string::npos, term("unit", unit));
  return in_.words.apart(said.append(per));
}

std::string Say::title(std::string_view key, const clinical::SitePlan& site) const {
  const std::string text = label(key);
  return joined(text, text.ends_with('?') || text.ends_with("؟") ? " " : ": ", which(site));
}

std::string Say::term(std::string_view group, std::string_view name) const { return in_.words.term(std::string(group) + "." + std::string(name)); }

std::string Say::side(clinical::Side side) const { return label("side." + std::string(name_of(side))); }

std::string Say::which(const clinical::SitePlan& site) const { return in_.plan.sites.size() < 2 ? std::string{} : where(site); }

std::string Say::where(const clinical::SitePlan& site) const {
  const std::string side_word = label("short-side." + std::string(name_of(site.side)));
  return in_.plan.sites.size() < 2 ? side_word : text("site", {{"side", side_word}, {"vessel", term("vessel", name_of(site.vessel))}});
}

namespace {

// The minute that is printed decides the day: 23:59:30 rounded up is on the next one.
date::local_days printed_day(Instant at, words::Format format, const words::Context& where) {
  return words::local_day(format == words::Format::up ? std::chrono::ceil<clinical::minutes>(at) : at, where.zone);
}

}  // namespace

std::string Say::hour(Instant at, words::Format format) const {
  words::Context where = in_.where;
  where.day = printed_day(at, format, where);
  return in_.words.time(at, where, format);
}

std::string Say::day(Instant at, words::Format format) const {
  const auto day = printed_day(at, format, in_.where);
  return in_.where.day == day ? std::string{} : date_text(in_.words, day, false);
}

std::string date_text(const words::Words& words, date::local_days day, bool with_year) {
  const date::year_month_day date{day};
  words::Arguments arguments{{"day", std::int64_t{static_cast<unsigned>(date.day())}},
                             {"month", words.label(fmt::format("month.{}", static_cast<unsigned>(date.month())))}};
  if (with_year) arguments.emplace_back("year", std::int64_t{static_cast<int>(date.year())});
  return words.text(with_year ? "sheet.date-year" : "sheet.date", arguments, {});
}

std::string Say::size(const clinical::SitePlan& site) const {
  const std::string vessel = site.vessel == clinical::Vessel::unknown ? label("vessel-unknown") : term("vessel", name_of(site.vessel));
  return listed(site.french ? text("size", {{"french", std::int64_t{*site.french}}}) : label("size-unknown"), vessel);
}

std::string Say::step(const clinical::Milestone& m) const { return capital(term("step", name_of(m.step))); }

std::string Say::listed(std::string a, const std::string& b) const { return joined(std::move(a), in_.words.label("list.comma"), b); }

std::string joined(std::string a, std::string_view between, const std::string& b) {
  if (!a.empty() && !b.empty()) a += between;
  return a + b;
}

const clinical::Milestone* find_step(const clinical::SitePlan& site, clinical::Step step) {
  const auto found = std::ranges::find(site.milestones, step, &clinical::Milestone::step);
  return found == site.milestones.end() ? nullptr : &*found;
}

}  // namespace sheet
