#include "fhir_read/reading.h"

#include "fhir/codes.h"

namespace fhir_read {
namespace {

constexpr std::string_view kUnusable[] = {"String", "Age", "Range", "Timing"};

void tell_fault(fhir::TimeFault fault, std::string_view text, const Resource& r, std::string_view path, Reading& reading) {
  const std::string quoted = "\"" + std::string(text) + "\"";
  switch (fault) {
    case fhir::TimeFault::not_a_time: reading.error(r, path, "not-a-time", quoted + " is no date or time."); break;
    case fhir::TimeFault::no_zone: reading.error(r, path, "no-zone", quoted + " has no time zone; the time is not used."); break;
    case fhir::TimeFault::skipped_hour: reading.error(r, path, "skipped-hour", quoted + " does not exist in the site's time zone."); break;
  }
}

void tell_absent(const json::Value& body, const std::string& member, const Resource& r, Reading& reading) {
  for (const auto& extension : body["_" + member]["extension"].items()) {
    if (extension["url"].text() != fhir::extension_url::data_absent_reason) continue;
    reading.warn(r, member, "absent", "The time is absent: " + std::string(extension["valueCode"].text()) + ".");
  }
}

}  // namespace

std::optional<clinical::Moment> moment_of(const json::Value& text, const Resource& r, std::string_view path, Reading& reading) {
  if (!text.is_string()) return std::nullopt;
  const auto span = fhir::read_time(text.text(), reading.site.zone);
  if (!span) {
    tell_fault(span.error(), text.text(), r, path, reading);
    return std::nullopt;
  }
  const bool clock = span->precision >= fhir::Precision::minute;
  if (clock && span->zone_assumed) reading.warn(r, path, "zone-assumed", "\"" + std::string(text.text()) + "\" has no time zone; the site's was assumed.");
  if (span->ambiguous) reading.warn(r, path, "doubled-hour", "\"" + std::string(text.text()) + "\" occurs twice in the site's time zone.");
  if (span->irregular) reading.warn(r, path, "irregular-time", "\"" + std::string(text.text()) + "\" is not written as FHIR asks.");
  return clinical::Moment{span->earliest, span->latest};
}

Times period_of(const json::Value& period, const Resource& r, std::string_view path, Reading& reading) {
  Times times;
  times.start = moment_of(period["start"], r, std::string(path) + ".start", reading);
  times.end = moment_of(period["end"], r, std::string(path) + ".end", reading);
  if (times.start && times.end && times.end->latest < times.start->earliest) {
    reading.error(r, path, "period-reversed", "The period ends before it starts.");
  }
  return times;
}

Times spanning(const Times& a, const Times& b) {
  const auto both = [](const auto& x, const auto& y) -> std::optional<clinical::Moment> {
    if (!x || !y) return std::nullopt;
    return clinical::Moment{std::min(x->earliest, y->earliest), std::max(x->latest, y->latest)};
  };
  return {both(a.start, b.start), both(a.end, b.end), a.single && b.single};
}

Times times_of(const json::Value& body, std::initializer_list<std::string_view> stems, const Resource& r, Reading& reading) {
  std::vector<Times> said;
  std::string last;
  for (const auto stem : stems) {
    const std::string base(stem);
    for (const std::string& member : {base + "DateTime", base + "Instant"}) {
      tell_absent(body, member, r, reading);
      if (!body.has(member)) continue;
      const auto moment = moment_of(body[member], r, member, reading);
      said.push_back({moment, moment, true});
      last = member;
    }
    if (body.has(base + "Period")) said.push_back(period_of(body[last = base + "Period"], r, base + "Period", reading));
    for (const auto form : kUnusable) {
      const auto member = base + std::string(form);
      if (body.has(member)) reading.warn(r, member, "no-clock-time", "Says when in a form that gives no clock time.");
    }
  }
  if (said.empty()) return {};
  Times all = said.front();
  for (const auto& one : said) {
    if (one == all) continue;
    reading.warn(r, last, "times-disagree", "The time is said more than once, and differently; it counts as uncertain between them.");
    all = spanning(all, one);
  }
  return all;
}

std::optional<clinical::Moment> moment_of(const Times& times) {
  if (times.start && times.end) return clinical::Moment{times.start->earliest, std::max(times.end->latest, times.start->earliest)};
  return times.start ? times.start : times.end;
}

}  // namespace fhir_read
