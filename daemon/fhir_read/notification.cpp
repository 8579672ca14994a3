#include "fhir_read/notification.h"

#include <algorithm>
#include <array>
#include <charconv>

namespace fhir_read {
namespace {

constexpr std::array<std::string_view, 5> kTypes{"handshake", "heartbeat", "event-notification", "query-status", "query-event"};

// The value of a parameter, whatever type it was given: R4 says valueString where R5 says integer64.
const json::Value& value_of(const json::Value& parameter) {
  for (const auto& [name, value] : parameter.members())
    if (name.starts_with("value") && name.size() > 5) return value;
  return parameter["value"];
}

std::string error_text(const json::Value& concept_) {
  for (const auto& coding : concept_["coding"].items())
    if (const auto code = coding["code"].text(); !code.empty()) return std::string(code);
  return std::string(concept_["text"].text());
}

class Reader {
 public:
  Reader(std::string_view at, fhir::Issues& issues) : at_(at), issues_(issues) {}

  Notice of_status(const json::Value& status) {
    Notice notice;
    notice.type = status["type"].text();
    notice.status = status["status"].text();
    notice.topic = status["topic"].text();
    notice.subscription_id = fhir::read_reference(status["subscription"]).id;
    notice.events_since_start = count(status["eventsSinceSubscriptionStart"], ".eventsSinceSubscriptionStart");
    for (const auto& event : status["notificationEvent"].items())
      notice.events.push_back({count(event["eventNumber"], ".notificationEvent.eventNumber"), std::string(event["timestamp"].text()), fhir::read_reference(event["focus"])});
    for (const auto& error : status["error"].items()) notice.errors.push_back(error_text(error));
    return checked(std::move(notice));
  }

  Notice of_parameters(const json::Value& parameters) {
    Notice notice;
    for (const auto& parameter : parameters["parameter"].items()) {
      const auto name = parameter["name"].text();
      const json::Value& value = value_of(parameter);
      if (name == "type") notice.type = value.text();
      else if (name == "status") notice.status = value.text();
      else if (name == "topic") notice.topic = value.text();
      else if (name == "subscription") notice.subscription_id = fhir::read_reference(value).id;
      else if (name == "events-since-subscription-start") notice.events_since_start = count(value, ".events-since-subscription-start");
      else if (name == "error") notice.errors.push_back(error_text(value));
      else if (name == "notification-event") notice.events.push_back(event_of(parameter));
    }
    return checked(std::move(notice));
  }

 private:
  NoticeEvent event_of(const json::Value& parameter) {
    NoticeEvent event;
    for (const auto& part : parameter["part"].items()) {
      const auto name = part["name"].text();
      if (name == "event-number") event.number = count(value_of(part), ".event-number");
      else if (name == "timestamp") event.timestamp = value_of(part).text();
      else if (name == "focus") event.focus = fhir::read_reference(value_of(part));
    }
    return event;
  }

  std::optional<std::int64_t> count(const json::Value& value, std::string_view where) {
    const auto number = count_of(value);
    if (!number && !value.is_null()) tell("event-number", where, "No count of events: digits from 0 to 9223372036854775807 are needed.");
    return number;
  }

  Notice checked(Notice notice) {
    if (std::ranges::find(kTypes, notice.type) == kTypes.end()) tell("notification-type", ".type", "\"" + notice.type + "\" is no type of notification.");
    return notice;
  }

  void tell(std::string code, std::string_view where, std::string text) {
    issues_.push_back({fhir::Severity::error, std::move(code), std::string(at_) + std::string(where), std::move(text)});
  }

  std::string_view at_;
  fhir::Issues& issues_;
};

}  // namespace

std::optional<std::int64_t> count_of(const json::Value& value) {
  const auto digits = value.is_number() ? value.digits() : value.text();
  std::int64_t number = 0;
  const auto [end, fault] = std::from_chars(digits.data(), digits.data() + digits.size(), number);
  const bool whole = !digits.empty() && digits.front() != '-' && fault == std::errc{} && end == digits.data() + digits.size();
  return whole ? std::optional(number) : std::nullopt;
}

bool is_notice(const json::Value& resource) {
  const auto type = resource["resourceType"].text();
  if (type == "SubscriptionStatus") return true;
  if (type != "Parameters") return false;
  const auto has = [parameters = resource["parameter"].items()](std::string_view name) {
    return std::ranges::any_of(parameters, [&](const json::Value& parameter) { return parameter["name"].text() == name; });
  };
  return has("subscription") && has("type");
}

std::optional<Notice> notice_of(const json::Value& resource, std::string_view at, fhir::Issues& issues) {
  if (!is_notice(resource)) return std::nullopt;
  Reader reader(at, issues);
  return resource["resourceType"].text() == "Parameters" ? reader.of_parameters(resource) : reader.of_status(resource);
}

std::vector<Notice> notices_in(const json::Value& bundle, fhir::Issues& issues) {
  std::vector<Notice> notices;
  const auto entries = bundle["entry"].items();
  for (std::size_t i = 0; i < entries.size(); ++i)
    if (auto notice = notice_of(entries[i]["resource"], "Bundle.entry[" + std::to_string(i) + "].resource", issues)) notices.push_back(std::move(*notice));
  return notices;
}

}  // namespace fhir_read
