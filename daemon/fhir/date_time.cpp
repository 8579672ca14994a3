#include "fhir/date_time.h"

#include <date/tz.h>
#include <fmt/format.h>

#include <stdexcept>

namespace fhir {
namespace {

using namespace std::chrono;

// Widest offsets in use: a day starts first at UTC+14 and ends last at UTC-12 (tz database: Pacific/Kiritimati, Etc/GMT+12).
constexpr hours kEasternmost{14};
constexpr hours kWesternmost{12};

// Takes fixed-width fields off the front of a text; ok() turns false at the first misfit and stays so.
class Scanner {
 public:
  explicit Scanner(std::string_view rest) : rest_(rest) {}
  bool ok() const { return ok_; }
  bool done() const { return rest_.empty(); }
  char peek() const { return rest_.empty() ? '\0' : rest_.front(); }

  int number(std::size_t width) {
    int value = 0;
    if (rest_.size() < width) ok_ = false;
    for (std::size_t i = 0; ok_ && i < width; ++i) {
      const char c = rest_[i];
      if (c < '0' || c > '9') ok_ = false;
      value = value * 10 + (c - '0');
    }
    if (ok_) rest_.remove_prefix(width);
    return ok_ ? value : 0;
  }

  bool accept(char c) {
    if (!ok_ || peek() != c) return false;
    rest_.remove_prefix(1);
    return true;
  }
  void expect(char c) {
    if (!accept(c)) ok_ = false;
  }
  void fraction() {
    if (!accept('.')) return;
    const auto end = std::min(rest_.find_first_not_of("0123456789"), rest_.size());
    if (end == 0) ok_ = false;
    rest_.remove_prefix(end);
  }

 private:
  std::string_view rest_;
  bool ok_ = true;
};

struct Fields {
  year_month_day day{};  // month or day 1 where not given
  Precision precision = Precision::year;
  seconds of_day{};
  std::optional<seconds> offset;
  bool irregular = false;
};

bool scan_clock(Scanner& scan, Fields& f) {
  f.irregular = scan.peek() == ' ';
  if (!scan.accept('T')) scan.expect(' ');
  const int h = scan.number(2);
  scan.expect(':');
  const int m = scan.number(2);
  int s = 0;
  f.precision = Precision::minute;
  if (scan.accept(':')) {
    f.precision = Precision::second;
    s = scan.number(2);
    scan.fraction();
  } else {
    f.irregular = true;
  }
  f.of_day = hours{h} + minutes{m} + seconds{s};
  return scan.ok() && h < 24 && m < 60 && s <= 60;
}

bool scan_offset(Scanner& scan, Fields& f) {
  if (scan.accept('Z')) {
    f.offset = seconds{0};
  } else if (scan.peek() == '+' || scan.peek() == '-') {
    const int sign = scan.accept('-') ? -1 : 1;
    if (sign > 0) scan.expect('+');
    const int h = scan.number(2);
    scan.expect(':');
    const int m = scan.number(2);
    if (h > 14 || m > 59) return false;
    f.offset = sign * (hours{h} + minutes{m});
  }
  return scan.ok() && scan.done();
}

std::optional<Fields> scan_fields(std::string_view text) {
  Scanner scan(text);
  Fields f;
  const int y = scan.number(4);
  int m = 1;
  int d = 1;
  if (scan.accept('-')) {
    f.precision = Precision::month;
    m = scan.number(2);
    if (scan.accept('-')) {
      f.precision = Precision::day;
      d = scan.number(2);
    }
  }
  f.day = year{y} / month{static_cast<unsigned>(m)} / day{static_cast<unsigned>(d)};
  if (!scan.ok() || y == 0 || !f.day.ok()) return std::nullopt;
  if (scan.done()) return f;
  if (f.precision != Precision::day || !scan_clock(scan, f) || !scan_offset(scan, f)) return std::nullopt;
  return f;
}

// First day after the year, month or day.
sys_days end_of(const Fields& f) {
  switch (f.precision) {
    case Precision::year: return sys_days{(f.day.year() + years{1}) / f.day.month() / f.day.day()};
    case Precision::month: return sys_days{year_month_day{(year_month{f.day.year(), f.day.month()} + months{1}) / day{1}}};
    default: return sys_days{f.day} + days{1};
  }
}

// The reading of a local time in a zone: `first` and `second` differ in the doubled hour of autumn.
date::local_info info_at(seconds local, const date::time_zone& zone) { return zone.get_info(date::local_seconds{local}); }

Instant day_start(sys_days day, const date::time_zone& zone) {
  const auto local = day.time_since_epoch();
  return Instant{seconds{local} - info_at(local, zone).first.offset};
}

TimeSpan span_of_date(const Fields& f, const ZoneRule& rule) {
  const sys_days from = f.day;
  const sys_days to = end_of(f);
  TimeSpan span{.earliest = from - kEasternmost, .latest = to + kWesternmost - seconds{1}, .precision = f.precision};
  if (rule.zone) {
    span.earliest = day_start(from, *rule.zone);
    span.latest = day_start(to, *rule.zone) - seconds{1};
    span.zone_assumed = true;
  }
  return span;
}

boost::system::result<TimeSpan, TimeFault> span_of_time(const Fields& f, const ZoneRule& rule) {
  const auto local = sys_days{f.day}.time_since_epoch() + f.of_day;
  const seconds width = f.precision == Precision::minute ? seconds{59} : seconds{0};
  TimeSpan span{.precision = f.precision, .irregular = f.irregular};
  if (f.offset) {
    span.earliest = Instant{local - *f.offset};
    span.latest = span.earliest + width;
    return span;
  }
  if (!rule.zone || !rule.assume_for_times) return TimeFault::no_zone;
  const auto info = info_at(local, *rule.zone);
  if (info.result == date::local_info::nonexistent) return TimeFault::skipped_hour;
  span.zone_assumed = true;
  span.ambiguous = info.result == date::local_info::ambiguous;
  span.earliest = Instant{local - info.first.offset};
  span.latest = (span.ambiguous ? Instant{local - info.second.offset} : span.earliest) + width;
  return span;
}

}  // namespace

const date::time_zone* find_zone(const std::string& name) {
  try {
    return date::locate_zone(name);
  } catch (const std::runtime_error&) {
    return nullptr;
  }
}

boost::system::result<TimeSpan, TimeFault> read_time(std::string_view text, const ZoneRule& rule) {
  const auto fields = scan_fields(text);
  if (!fields) return TimeFault::not_a_time;
  if (fields->precision <= Precision::day) return span_of_date(*fields, rule);
  return span_of_time(*fields, rule);
}

std::optional<TimeSpan> read_utc_date(std::string_view text) {
  const auto fields = scan_fields(text);
  if (!fields || fields->precision > Precision::day) return std::nullopt;
  return TimeSpan{.earliest = sys_days{fields->day}, .latest = end_of(*fields) - seconds{1}, .precision = fields->precision};
}

std::string format_utc(Instant at) { return date::format("%FT%TZ", at); }

std::string format_in(Instant at, const date::time_zone& zone) {
  const auto info = zone.get_info(at);
  const auto offset = duration_cast<minutes>(info.offset);
  const auto size = offset < minutes{0} ? -offset : offset;
  return fmt::format("{}{}{:02}:{:02}", date::format("%FT%T", at + info.offset), offset < minutes{0} ? '-' : '+', size.count() / 60,
                     size.count() % 60);
}

std::string format_local(Instant at, const date::time_zone& zone) { return date::format("%F %H:%M", at + zone.get_info(at).offset); }

}  // namespace fhir
