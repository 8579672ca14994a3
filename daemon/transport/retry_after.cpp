#include "transport/retry_after.h"

#include <algorithm>
#include <array>
#include <charconv>

namespace transport {
namespace {

constexpr std::int64_t day = 86'400;

std::optional<std::int64_t> number(std::string_view text) {
  std::int64_t value = 0;
  auto const [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (text.empty() || error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
  return value;
}

}  // namespace

std::optional<std::int64_t> seconds_of_http_date(std::string_view text) {
  constexpr std::array<std::string_view, 12> months{"Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
  if (text.size() != 29 || text.substr(25) != " GMT" || text[3] != ',' || text[19] != ':' || text[22] != ':') return std::nullopt;
  auto const month = std::find(months.begin(), months.end(), text.substr(8, 3));
  auto const d = number(text.substr(5, 2)), y = number(text.substr(12, 4)), h = number(text.substr(17, 2)), m = number(text.substr(20, 2)), s = number(text.substr(23, 2));
  if (month == months.end() || !d || !y || !h || !m || !s || *h > 23 || *m > 59 || *s > 60) return std::nullopt;
  std::chrono::year_month_day const date{std::chrono::year{static_cast<int>(*y)}, std::chrono::month{static_cast<unsigned>(month - months.begin()) + 1},
                                         std::chrono::day{static_cast<unsigned>(*d)}};
  if (!date.ok()) return std::nullopt;
  return std::chrono::sys_days{date}.time_since_epoch().count() * day + *h * 3600 + *m * 60 + *s;
}

std::chrono::seconds retry_after(Response const& response) {
  auto const value = response.headers.get("Retry-After");
  if (!value || value->empty()) return std::chrono::seconds{0};
  if (std::all_of(value->begin(), value->end(), [](char c) { return c >= '0' && c <= '9'; })) return std::chrono::seconds{std::min(day, number(*value).value_or(day))};
  auto const until = seconds_of_http_date(*value);
  auto const now = response.headers.get("Date") ? seconds_of_http_date(*response.headers.get("Date")) : std::nullopt;
  if (!until || !now) return std::chrono::seconds{60};
  return std::chrono::seconds{std::clamp<std::int64_t>(*until - *now, 0, day)};
}

}  // namespace transport
