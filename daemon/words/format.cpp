#include <fmt/format.h>

#include <optional>
#include <utility>

#include "words/offset.h"
#include "words/words.h"

namespace words {
namespace {

using clinical::Instant;
using clinical::seconds;

// First and last day of a time of which only days are known: from midnight to midnight in the zone, or, where the reader knew none, from the first
// midnight anywhere (UTC+14) to the last one (UTC-12). None: it is known more finely.
std::optional<std::pair<date::local_days, date::local_days>> whole_days(const clinical::Moment& at, const date::time_zone* zone) {
  const auto day_begins = [](Instant t, const date::time_zone* where) { return local_day(t - seconds{1}, where) != local_day(t, where); };
  const Instant after = at.latest + seconds{1};
  if (day_begins(at.earliest, zone) && day_begins(after, zone)) return std::pair(local_day(at.earliest, zone), local_day(at.latest, zone));
  constexpr clinical::hours ahead{14}, behind{12};
  if (day_begins(at.earliest + ahead, nullptr) && day_begins(after - behind, nullptr) && after - at.earliest > ahead + behind)
    return std::pair(local_day(at.earliest + ahead, nullptr), local_day(at.latest - behind, nullptr));
  return std::nullopt;
}

}  // namespace

seconds offset_at(Instant at, const date::time_zone* zone) { return zone ? zone->get_info(at).offset : seconds{0}; }

bool offset_changes(date::local_days day, const date::time_zone* zone) {
  if (!zone) return false;
  const auto start = zone->to_sys(date::local_seconds{day}, date::choose::earliest);
  const auto end = zone->to_sys(date::local_seconds{day + date::days{1}}, date::choose::latest);
  return offset_at(start, zone) != offset_at(end - seconds{1}, zone);
}

std::string offset_text(seconds offset) {
  const auto minutes = std::abs(offset.count()) / 60;
  if (minutes == 0) return "UTC";
  const std::string_view sign = offset.count() < 0 ? "-" : "+";
  return minutes % 60 == 0 ? fmt::format("UTC{}{}", sign, minutes / 60) : fmt::format("UTC{}{}:{:02}", sign, minutes / 60, minutes % 60);
}

std::string Words::time(Instant at, const Context& context, Format format) const {
  const auto rounded = format == Format::up ? date::ceil<clinical::minutes>(at) : date::floor<clinical::minutes>(at);
  const auto day = local_day(rounded, context.zone);
  const auto of_day = Instant{rounded}.time_since_epoch() + offset_at(rounded, context.zone) - seconds{day.time_since_epoch()};
  std::string out = fmt::format("{:02}:{:02}", of_day / clinical::hours{1}, of_day % clinical::hours{1} / clinical::minutes{1});
  if (offset_changes(day, context.zone)) out += fmt::format(" ({})", offset_text(offset_at(rounded, context.zone)));
  if (format != Format::date && context.day == day) return out;
  const date::year_month_day date{day};
  return text("format.date-time",
              {{"day", std::int64_t{static_cast<unsigned>(date.day())}},
               {"month", label(fmt::format("month.{}", static_cast<unsigned>(date.month())))},
               {"year", std::int64_t{static_cast<int>(date.year())}},
               {"time", out}},
              context);
}

std::string Words::date(date::local_days day) const {
  const date::year_month_day date{day};
  return text("format.date", {{"day", std::int64_t{static_cast<unsigned>(date.day())}},
                              {"month", label(fmt::format("month.{}", static_cast<unsigned>(date.month())))},
                              {"year", std::int64_t{static_cast<int>(date.year())}}}, {});
}

std::string Words::moment(const clinical::Moment& at, const Context& context, Format format) const {
  if (at.latest - at.earliest < clinical::minutes{1}) return time(at.latest, context, format);
  const auto days = whole_days(at, context.zone);
  if (!days) return text("format.between", {{"from", at.earliest}, {"to", at.latest}}, context);
  if (days->first == days->second) return text("format.day-only", {{"date", date(days->first)}}, context);
  return text("format.days-only", {{"from", date(days->first)}, {"to", date(days->second)}}, context);
}

std::string Words::duration(seconds length, Format format) const {
  const auto size = std::abs(length.count());
  const auto hours = format == Format::min ? 0 : size / 3600;
  const auto minutes = (size - hours * 3600) / 60;
  const auto rest = size % 60;
  std::string out;
  const auto part = [&](auto number, std::string_view unit) {
    if (number != 0 || (size == 0 && unit == "unit.min")) out += fmt::format("{}{} {}", out.empty() ? "" : " ", number, label(unit));
  };
  part(hours, "unit.h");
  part(minutes, "unit.min");
  part(rest, "unit.s");
  return length.count() < 0 ? "-" + out : out;
}

std::string Words::argument(const clinical::Argument& argument, const Context& context, Format format) const {
  struct Printer {
    const Words& words;
    const Context& where;
    Format how;
    std::string operator()(const std::string& text) const { return text.starts_with('@') ? terms(std::string_view(text).substr(1)) : text; }
    std::string terms(std::string_view names) const {
      std::string out;
      for (auto end = names.find(','); end != std::string_view::npos; end = names.find(',')) {
        out += words.term(names.substr(0, end)) + words.label("list.comma");
        names.remove_prefix(end + 1);
      }
      return out + words.term(names);
    }
    std::string operator()(Instant at) const { return words.time(at, where, how); }
    std::string operator()(seconds length) const { return words.duration(length, how); }
    std::string operator()(const clinical::Value& value) const { return value.written; }
    std::string operator()(std::int64_t number) const { return std::to_string(number); }
    std::string operator()(const clinical::Moment& at) const { return words.moment(at, where, how); }
  };
  return std::visit(Printer{*this, context, format}, argument);
}

}  // namespace words
