#include "app/looking.h"

#include "app/take_event.h"

#include <fmt/format.h>

#include <array>
#include <ctime>

#include "fhir/date_time.h"

namespace app {
namespace {

constexpr int kHorizon = 300;            // s: what the record committed late, or on a node whose clock lags, is seen by the next round
constexpr int kFirst = 72 * 3600;        // s: how far back a new installation looks for procedures
constexpr std::int64_t kClinical = 31;   // days: labs and vital signs of a patient who is looked at for the first time; a weight counts for 30
constexpr int kForgive = 15;              // rounds after which what was refused is tried again
constexpr const char* kMark = "looked at Procedure";

/// Searched for by patient, with the parameter of the clinical date where there can be very many.
constexpr std::array<std::pair<const char*, const char*>, 13> kAbout{{{"Encounter", ""}, {"Procedure", ""}, {"MedicationAdministration", "effective-time"},
    {"MedicationStatement", ""}, {"MedicationRequest", ""}, {"MedicationDispense", ""}, {"Observation", "date"}, {"Condition", ""},
    {"AllergyIntolerance", ""}, {"List", ""}, {"Device", ""}, {"Specimen", ""}, {"Task", ""}}};

std::string id_of(const std::string& reference) { return reference.substr(reference.find('/') + 1); }
std::string type_of(const std::string& path) { return path.substr(0, path.find_first_of("/?")); }

}  // namespace

std::string instant_of_date_header(const std::string& date, int seconds) {
  std::tm parts{};
  const char* end = ::strptime(date.c_str(), "%a, %d %b %Y %H:%M:%S GMT", &parts);
  if (!end || *end != '\0') return {};
  return fhir::format_utc(fhir::Instant{std::chrono::seconds{static_cast<std::int64_t>(::timegm(&parts)) + seconds}});
}

Looking::Looking(LookParts parts) : parts_(std::move(parts)) {}
Looking::~Looking() { parts_.timers.cancel(timer_); }

void Looking::round() {
  round_wanted_ = true;
  next();
}

void Looking::look_at(const std::string& patient) {
  patients_.insert(patient);
  next();
}

void Looking::fetch(const std::vector<std::string>& references, bool told) {
  for (const std::string& reference : references)
    if (asked_.insert(reference).second || told) single_.insert(reference);
  next();
}

/// One thing at a time: single resources, patients, then a round.
void Looking::next() {
  if (running_ || !busy()) return;
  running_ = true;
  if (!single_.empty()) return fetch_singles();
  if (!patients_.empty()) return look_at_next_patient();
  begin_round();
}

void Looking::begin_round() {
  round_wanted_ = false;
  in_round_ = round_whole_ = true;
  parts_.timers.cancel(timer_);
  asked_.clear();
  if (++rounds_ % kForgive == 0) {  // a refusal may have been a mistake of the day
    for (const std::string& type : refused_) parts_.alarms.calm("look " + type);
    refused_.clear();
    no_last_updated_.clear();
  }
  const auto keys = parts_.store.open_case_keys();
  if (keys.has_value())
    for (const std::string& key : *keys)
      if (const auto row = parts_.store.case_of(key); row.has_value() && *row && (*row)->source.empty()) patients_.insert((*row)->patient);
  const auto mark = parts_.store.meta(kMark);
  if (mark.has_value() && *mark) return look_at_procedures(**mark);
  first_mark();
}

void Looking::first_mark() {
  parts_.get("metadata", [this, alive = std::weak_ptr<int>(alive_)](const transport::Response* response) {
    if (!alive.lock()) return;
    const std::string from = response ? instant_of_date_header(std::string(response->headers.get("Date").value_or("")), -kFirst) : "";
    if (from.empty()) {
      parts_.log.warn("the record did not say what time it is (Date header of its metadata): procedures cannot be looked for yet");
      return ended(false);
    }
    look_at_procedures(from);
  });
}

void Looking::look_at_procedures(const std::string& since) {
  if (refused_.contains("changed Procedures")) return ended(true);
  RecordSearch what{{"Procedure?_lastUpdated=ge" + since + "&_sort=_lastUpdated&_count=100"}, parts_.rules.configuration.record->base_url};
  search(parts_.get, std::move(what), [this, alive = std::weak_ptr<int>(alive_)](SearchResult result) {
    if (!alive.lock()) return;
    const std::string mark = instant_of_date_header(result.date, -kHorizon);
    if (!result.refused.empty()) {
      refused_.insert("changed Procedures");
      parts_.alarms.raise("look changed Procedures", fmt::format("the record does not let us look for changed Procedures ({}): a case opens only when its Procedure is sent", result.refused.front().second));
      return ended(true);
    }
    parts_.alarms.calm("look changed Procedures");
    take(std::move(result), "procedures", [this, mark](bool whole) {
      if (whole && !mark.empty()) (void)parts_.store.set_meta(kMark, mark);
      ended(whole && !mark.empty());
    });
  });
}

RecordSearch Looking::search_about(const std::string& patient) const {
  RecordSearch what{{patient}, parts_.rules.configuration.record->base_url};
  const auto mark = marks_.find(patient);
  const auto since = fhir::Instant{std::chrono::seconds{parts_.clock.now() / 1000}} - std::chrono::days{kClinical};
  for (const auto& [type, date] : kAbout) {
    if (refused_.contains(type)) continue;
    std::string path = fmt::format("{}?patient={}&_count=100", type, id_of(patient));
    if (mark != marks_.end() && !no_last_updated_.contains(type)) path += "&_lastUpdated=ge" + mark->second;
    else if (*date) path += fmt::format("&{}=ge{}", date, fhir::format_utc(since).substr(0, 10));
    what.paths.push_back(std::move(path));
  }
  return what;
}

void Looking::look_at_next_patient() {
  const std::string patient = *patients_.begin();
  patients_.erase(patients_.begin());
  search(parts_.get, search_about(patient), [this, patient, alive = std::weak_ptr<int>(alive_)](SearchResult result) {
    if (!alive.lock()) return;
    const std::string mark = instant_of_date_header(result.date, -kHorizon);
    const bool again = !result.refused.empty();
    take_refusals(result);
    if (again) patients_.insert(patient);  // without what was refused
    take(std::move(result), patient.c_str(), [this, patient, mark, again](bool whole) {
      if (whole && !again && !mark.empty()) marks_[patient] = mark;
      ended(whole);
    });
  });
}

/// First without _lastUpdated, then not at all.
void Looking::take_refusals(const SearchResult& result) {
  for (const auto& [path, status] : result.refused) {
    const std::string type = type_of(path);
    if (path.find("_lastUpdated") != std::string::npos && no_last_updated_.insert(type).second) continue;
    refused_.insert(type);
    parts_.log.warn(fmt::format("the record does not let us search {} by patient ({}): such facts count only when they are sent", type, status));
    if (type == "Observation" || type == "MedicationAdministration" || type == "Procedure")
      parts_.alarms.raise("look " + type, fmt::format("the record does not let us search {} by patient ({}): such facts count only when they are sent", type, status));
  }
}

void Looking::fetch_singles() {
  RecordSearch what{{single_.begin(), single_.end()}, parts_.rules.configuration.record->base_url};
  single_.clear();
  search(parts_.get, std::move(what), [this, alive = std::weak_ptr<int>(alive_)](SearchResult result) {
    if (!alive.lock()) return;
    take(std::move(result), "single resources", [this](bool) { ended(true); });
  });
}

bool Looking::held(const Found& found) {
  const store::NewEvent& event = found.event;
  if (event.method == "DELETE") return false;
  if (!found.identity.empty()) {
    const auto item = parts_.store.item(found.identity);
    const std::string etag = "W/\"" + event.version_id + "\"";
    if (item.has_value() && *item && ((*item)->etag == etag || (*item)->window.find(etag) != std::string::npos)) return true;
  }
  const auto fact = parts_.store.current(event.source, event.resource_type, event.resource_id);
  if (fact.has_error() || !*fact || (*fact)->deleted) return false;
  return event.version_id.empty() ? (*fact)->content_hash == event.content_hash : (*fact)->version_id == event.version_id;
}

void Looking::take(SearchResult result, const char* what, std::function<void(bool whole)> then) {
  std::vector<store::NewEvent> events;
  for (Found& one : result.found)
    if (!held(one)) {
      one.event.request_id = kReadByUs;
      events.push_back(std::move(one.event));
    }
  if (events.empty()) return then(result.whole);
  parts_.log.info(fmt::format("looked at {}: {} new", what, events.size()));
  parts_.submit(std::move(events), [alive = std::weak_ptr<int>(alive_), whole = result.whole, then = std::move(then)](bool durable) {
    if (alive.lock()) then(whole && durable);
  });
}

void Looking::ended(bool whole) {
  running_ = false;
  round_whole_ = round_whole_ && whole;
  if (!whole) parts_.alarms.raise("look", "the record could not be asked for all that may have changed; asked again");
  if (in_round_ && patients_.empty() && single_.empty()) {
    in_round_ = false;
    if (round_whole_) parts_.alarms.calm("look");
    rest_until_next();
  }
  parts_.executor.post([this, alive = std::weak_ptr<int>(alive_)] {
    if (!alive.lock()) return;
    if (busy()) return next();
    parts_.rested();
  });
}

void Looking::rest_until_next() {
  const auto seconds = parts_.rules.configuration.record->look_seconds;
  if (seconds == 0) return;
  parts_.timers.cancel(timer_);
  timer_ = parts_.timers.after(std::chrono::seconds{seconds}, [this, alive = std::weak_ptr<int>(alive_)] {
    if (!alive.lock()) return;
    parts_.executor.post([this, alive] {
      if (alive.lock()) round();
    });
  });
}

}  // namespace app
