#include "fhir_read/entry_reader.h"
#include "fhir_read/intake.h"
#include "fhir_read/searchset.h"
#include "fhir_read/versions.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <map>
#include <optional>

namespace fhir_read {
namespace {

constexpr std::array<std::string_view, 11> kTypes{"batch",      "transaction",      "batch-response",       "transaction-response",
                                                  "collection", "history",          "searchset",            "message",
                                                  "document",   "subscription-notification", "subscription-event"};

fhir::Issue refusal(std::string code, std::string at, std::string text) {
  return {fhir::Severity::error, std::move(code), std::move(at), std::move(text)};
}

// Takes one Bundle apart; nested ones by itself again.
class Splitter {
 public:
  explicit Splitter(const BundleLimits& limits) : limits_(limits) {}

  void split(const json::Value& bundle, const std::string& at, int depth) {
    if (out_.refused) return;
    const std::string type(bundle["type"].text());
    if (bundle["resourceType"].text() != "Bundle") return refuse("no-bundle", at + ".resourceType", "This is no Bundle.");
    if (std::ranges::find(kTypes, type) == kTypes.end()) return refuse("bundle-type", at + ".type", "\"" + type + "\" is no type of Bundle.");
    if (bundle.has("entry") && !bundle["entry"].is_array()) return refuse("no-entries", at + ".entry", "entry must be a list.");
    if (depth > limits_.nested) return refuse("nested", at, "Bundles are nested deeper than " + std::to_string(limits_.nested) + ".");

    if (auto mixed = mixed_versions(bundle, at)) out_.issues.push_back(std::move(*mixed));
    if (type == "searchset") take_brief(searchset_brief(bundle, at));
    const auto entries = bundle["entry"].items();
    const auto keys = full_urls_of(bundle);
    const std::size_t first = out_.events.size();
    const bool answered = depth == 0 && (type == "batch" || type == "transaction");
    for (std::size_t i = 0; i < entries.size() && !out_.refused; ++i) {
      if (++seen_ > limits_.entries) return refuse("too-many", at, "More than " + std::to_string(limits_.entries) + " entries.");
      EntryAnswer answer;
      split_entry({entries[i], type, at + ".entry[" + std::to_string(i) + "]", keys}, depth, answer);
      out_.issues.insert(out_.issues.end(), answer.issues.begin(), answer.issues.end());
      if (answered) out_.answers.push_back(std::move(answer));
    }
    if (type == "history") oldest_first(first);
  }

  Entries take() {
    look_at_foci();
    if (out_.refused) {
      out_.events.clear();
      out_.answers.clear();
    }
    return std::move(out_);
  }

 private:
  void split_entry(const EntryPlace& place, int depth, EntryAnswer& answer) {
    const auto& resource = place.entry["resource"];
    if (is_notice(resource)) return take_notice(place, answer);
    if (resource["resourceType"].text() == "Bundle" && place.entry["request"].is_null()) {
      return split(resource, place.at + ".resource", depth + 1);
    }
    if (auto event = event_of_entry(place, answer)) {
      if (answer.location.empty() && !event->id.empty()) answer.location = event->type + "/" + event->id;
      out_.events.push_back(std::move(*event));
    }
  }

  /// A history is written newest first (FHIR R4, RESTful API, "history"), and what comes last counts. Several of one resource change places among themselves:
  /// by the numbers of their versions where all have one; else they are turned round, but in a notification, which tells its events in their order.
  void oldest_first(std::size_t from) {
    std::map<std::pair<std::string, std::string>, std::vector<std::size_t>> places;
    for (std::size_t i = from; i < out_.events.size(); ++i)
      if (!out_.events[i].id.empty()) places[{out_.events[i].type, out_.events[i].id}].push_back(i);
    for (const auto& [name, at] : places) {
      if (at.size() < 2) continue;
      std::vector<ResourceEvent> events;
      for (const std::size_t i : at) events.push_back(std::move(out_.events[i]));
      const bool numbered = std::ranges::all_of(events, [](const ResourceEvent& e) { return number_of(e).has_value(); });
      if (numbered) std::ranges::stable_sort(events, {}, [](const ResourceEvent& e) { return *number_of(e); });
      else if (!out_.notice) std::ranges::reverse(events);
      for (std::size_t i = 0; i < at.size(); ++i) out_.events[at[i]] = std::move(events[i]);
    }
  }

  static std::optional<std::int64_t> number_of(const ResourceEvent& event) {
    const std::string version = event.version.empty() ? std::string(event.body["meta"]["versionId"].text()) : event.version;
    std::int64_t number = 0;
    const auto [end, fault] = std::from_chars(version.data(), version.data() + version.size(), number);
    return fault == std::errc{} && end == version.data() + version.size() ? std::optional(number) : std::nullopt;
  }

  void take_brief(SearchsetBrief brief) {
    out_.issues.insert(out_.issues.end(), brief.issues.begin(), brief.issues.end());
    out_.events.insert(out_.events.end(), std::make_move_iterator(brief.events.begin()), std::make_move_iterator(brief.events.end()));
  }

  // The first one speaks for the Bundle.
  void take_notice(const EntryPlace& place, EntryAnswer& answer) {
    auto notice = notice_of(place.entry["resource"], place.at + ".resource", answer.issues);
    for (const auto& event : notice->events) foci_.push_back(event.focus);
    if (!out_.notice) out_.notice = std::move(notice);
  }

  // A notification that names a resource without carrying it: look again.
  void look_at_foci() {
    for (const auto& focus : foci_) {
      const bool carried = focus.type.empty() || focus.id.empty() || std::ranges::any_of(out_.events, [&](const ResourceEvent& e) { return e.type == focus.type && e.id == focus.id; });
      if (!carried) out_.events.push_back({"POST", focus.type, focus.id, "", {}, focus.base});
    }
  }

  void refuse(std::string code, std::string at, std::string text) { out_.refused = refusal(std::move(code), std::move(at), std::move(text)); }

  BundleLimits limits_;
  Entries out_;
  std::vector<fhir::Reference> foci_;
  std::size_t seen_ = 0;
};

}  // namespace

Entries entries_of(const json::Value& bundle, const BundleLimits& limits) {
  Splitter splitter(limits);
  splitter.split(bundle, "Bundle", 0);
  return splitter.take();
}

}  // namespace fhir_read
