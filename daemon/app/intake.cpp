#include "app/intake.h"

#include <fmt/format.h>

#include <algorithm>

#include "app/hooks.h"
#include "app/intake_media.h"
#include "app/intake_path.h"
#include "app/journal_event.h"
#include "app/lanes.h"
#include "app/subscription_hearing.h"
#include "fhir/reference.h"
#include "fhir_read/intake.h"
#include "fhir_read/reading_issues.h"
#include "fhir_read/search_query.h"
#include "fhir_read/versions.h"
#include "fhir_write/operation_outcome.h"
#include "json/outline.h"

namespace app {
namespace {

using transport::Reply;
using transport::Request;
using transport::Response;

Response json_response(int status, const json::Value& body) {
  return {status, {{"Content-Type", "application/fhir+json; charset=utf-8"}}, json::write(body)};
}

/// Everything about one request on its way to the journal.
class Intake {
 public:
  Intake(Engine& engine, const Rules& rules, Request request, Reply reply)
      : engine_(engine), rules_(rules), request_(std::move(request)), reply_(std::move(reply)), path_(intake_path(request_.method, request_.target)) {
    hook_ = engine_.hooks().judge(path_, request_.headers);
    if (hook_ == Hooks::Verdict::genuine) heard_.name = own_ = path_.hook;
    if (rules_.configuration.record && path_.source == rules_.configuration.record->source) path_.source.clear();
    request_id_ = std::string(request_.headers.get("X-Request-Id").value_or(""));
  }

  void take(const std::string& started) {
    switch (path_.kind) {
      case IntakeKind::metadata: return reply_(capability(started));
      case IntakeKind::not_found:
        return reply_(outcome_response(404, "not-found", "nothing is served here; the FHIR base is /fhir", request_.target));
      case IntakeKind::bad_method:
        return reply_(outcome_response(405, "not-supported", fmt::format("{} is not served here; resources are taken by PUT, POST and DELETE", request_.method)));
      default: break;
    }
    if (hook_ == Hooks::Verdict::unknown) return reply_(outcome_response(404, "not-found", "there is no Subscription of that name here", request_.target));
    if (hook_ == Hooks::Verdict::forged) return reply_(outcome_response(401, "security", "the secret of this Subscription is missing or wrong"));
    if (const std::string why = engine_.crowded(); !why.empty()) return reply_(busy(why + "; try again"));
    if (path_.odd) return keep_unread({fhir::Severity::error, "not-supported", "", "a hook is called by PUT, POST or DELETE, and below it stand a type and an id"});
    if (request_.method == "DELETE") return take_deletion();
    if (request_.body.empty()) return take_empty();
    version_ = fhir_read::version_named(stated_version(request_.headers));
    const auto versions = own_.empty() ? fhir_versions() : engine_.hooks().versions(own_);
    if (const auto fault = media_fault(request_.headers, versions); !fault.empty()) return refuse_media(fault);
    take_body();
  }

 private:
  Response capability(const std::string& started) const {
    auto types = fhir_read::relevant_types();
    std::erase_if(types, [](const std::string& type) { return type == "DeviceUsage" || type == "MedicationUsage"; });  // taken, but no types of the version that this is said in
    std::vector<fhir_write::Searchable> searchable;
    for (const auto& one : fhir_read::search_parameters())
      if (is_served(rules_, one.type)) searchable.push_back({one.type, one.name, one.kind, one.definition});
    return json_response(200, fhir_write::capability_statement({AFTERSHEATH_VERSION, started, "installation " + rules_.installation}, types, searchable));
  }

  static Response busy(std::string_view why) {
    Response response = outcome_response(503, "throttled", why);
    response.headers.set("Retry-After", "5");
    return response;
  }

  void take_deletion() {
    Submission submission;
    if (path_.type.empty() || path_.id.empty()) return reply_(outcome_response(400, "required", "a deletion names type and id"));
    submission.events.push_back(event("DELETE", path_.type, path_.id));
    submit(std::move(submission), Response{204, {}, ""});
  }

  /// On a hook: "look again". Elsewhere there must be a resource.
  void take_empty() {
    if (path_.kind != IntakeKind::hook) return reply_(outcome_response(400, "required", "the body is empty: a resource is needed"));
    Submission submission;
    submission.events.push_back(event("POST", path_.type, path_.id));
    submit(std::move(submission), Response{200, {}, ""});
  }

  /// What a hook calls with has happened, whatever it is written in: it is kept, and the record asked. The sender hears that it is to be plain JSON.
  void refuse_media(const std::string& fault) {
    if (path_.kind == IntakeKind::hook) return keep_unread({fhir::Severity::error, "not-supported", "Content-Type, Content-Encoding", fault});
    Response refusal = outcome_response(415, "not-supported", fault);
    refusal.headers.set("Accept-Encoding", "identity");  // RFC 9110, 15.5.16
    reply_(std::move(refusal));
  }

  void take_body() {
    const json::Limits limits{.bytes = static_cast<std::size_t>(rules_.configuration.limits.body_bytes)};
    // Most of a firehose is of types that do not matter: those are judged without building their tree. What begins as one that matters is read at once.
    const auto first = json::leading_type(request_.body);
    if (!fhir_read::relevant(first) && first != "Bundle") {
      const auto outline = json::outline(request_.body, limits);
      if (outline.has_error()) return refuse_text(outline.error());
      if (!fhir_read::relevant(outline->resource_type) && outline->resource_type != "Bundle") return take_checked(outline->resource_type, outline->id, outline->version_id, {});
    }
    const auto parsed = first == "Bundle" ? json::parse_sparing(request_.body, fhir_read::matters_in_bundle, limits) : json::parse(request_.body, limits);
    if (parsed.has_error()) return refuse_text(parsed.error());
    const auto& body = *parsed;
    if (body["resourceType"].text() == "Bundle") return take_bundle(body);
    take_checked(std::string(body["resourceType"].text()), std::string(body["id"].text()), std::string(body["meta"]["versionId"].text()), body);
  }

  void refuse_text(const json::Fault& fault) {
    const int status = fault.too_large ? 413 : 400;
    refuse(status, fault.too_large ? "too-long" : "structure", fmt::format("not JSON: {}", fault.text), fmt::format("line {}, column {}", fault.line, fault.column));
  }

  void take_checked(const std::string& type, const std::string& id, const std::string& version, const json::Value& resource) {
    if (type.empty()) return refuse(400, "required", "no resource: a JSON object with resourceType is needed", "resourceType");
    if (!fhir::is_type_name(type)) return refuse(400, "value", "no resource type: " + type, "resourceType");
    if (path_.kind == IntakeKind::bundle) return refuse(400, "invalid", "a Bundle is needed here; a single " + type + " goes to /fhir/" + type, "resourceType");
    take_resource(resource, type, id, version);
  }

  /// `resource`: null where its type does not matter.
  void take_resource(const json::Value& resource, const std::string& type, const std::string& id, const std::string& version) {
    if (!path_.type.empty() && path_.type != type)
      return refuse(422, "invariant", fmt::format("the address says {} and the resource {}", path_.type, type), "resourceType");
    if (!path_.id.empty() && !id.empty() && path_.id != id)
      return refuse(422, "invariant", fmt::format("the address says id {} and the resource {}", path_.id, id), type + ".id");
    if (path_.kind == IntakeKind::hook && tells_of_others(type)) return keep_unread({fhir::Severity::error, "structure", type, "a notification is a Bundle; what it tells of is looked for"});
    const bool keeps_id = path_.kind == IntakeKind::hook || request_.method == "PUT";
    const std::string used = !path_.id.empty() ? path_.id : keeps_id ? id : "";
    Submission submission;
    submission.events.push_back(journal_event(path_.source, request_.method, type, used, version, std::move(request_.body), request_id_));
    Response response{200, {}, ""};
    if (request_.method == "POST" && path_.kind == IntakeKind::resource) {
      response.status = 201;
      response.headers.add("Location", "/fhir/" + type + "/" + submission.events.back().resource_id);
    }
    if (resource.is_null()) return submit(std::move(submission), std::move(response));
    fhir::Issues faults = fhir_read::element_faults(resource);
    fhir::Issues issues = fhir_read::reading_issues(resource, rules_.site, rules_.terminology);
    if (auto other = fhir_read::other_version(resource, version_, type)) issues.push_back(std::move(*other));
    if (faults.empty()) tell(issues, submission, response);
    report_faults(faults, submission, response);
    submit(std::move(submission), std::move(response));
  }

  /// Taken as it is; the sender is told what could not be made use of, and what is an error is kept aside as it came.
  void tell(const fhir::Issues& issues, Submission& submission, Response& response) const {
    if (issues.empty()) return;
    const auto error = std::ranges::find(issues, fhir::Severity::error, &fhir::Issue::severity);
    if (error != issues.end())
      submission.aside.push_back({0, 0, 0, path_.source, fmt::format("{} {}: {}: {}", request_.method, request_.target, error->at, error->text), submission.events.back().body});
    response.headers.set("Content-Type", "application/fhir+json; charset=utf-8");
    response.body = json::write(fhir_write::operation_outcome("processing", issues));
  }

  /// An authentic resource that cannot be read in parts is taken, kept aside as it came, and the sender told with the path.
  void report_faults(const fhir::Issues& faults, Submission& submission, Response& response) {
    if (faults.empty()) return;
    submission.aside.push_back({0, 0, 0, path_.source, fmt::format("{} {}: {}", request_.method, request_.target, faults.front().text), submission.events.back().body});
    response.headers.set("Content-Type", "application/fhir+json; charset=utf-8");
    response.body = json::write(fhir_write::operation_outcome("value", faults));
  }

  void take_bundle(const json::Value& bundle) {
    auto entries = fhir_read::entries_of(bundle);
    if (entries.refused && path_.kind == IntakeKind::hook) return keep_unread(*entries.refused);
    if (entries.refused) return refuse(422, "invalid", entries.refused->text, entries.refused->at);
    if (path_.kind == IntakeKind::hook && !entries.notice && std::ranges::all_of(entries.events, [](const auto& one) { return tells_of_others(one.type); }) && entries.answers.empty())
      return keep_unread({fhir::Severity::error, "structure", "Bundle", "nothing in it says what has happened"});
    Submission submission;
    const bool untold = path_.kind == IntakeKind::hook && std::ranges::any_of(entries.issues, [](const fhir::Issue& issue) { return issue.severity == fhir::Severity::error && issue.code != "version-mixed"; });
    if (names_nothing(entries) || is_part(entries) || untold) submission.events.push_back(event("POST", "", ""));
    for (const auto& entry : entries.events) submission.events.push_back(journal_event(path_.source, entry, request_id_));
    if (entries.notice && !own_.empty()) heard_ = heard_of(own_, *entries.notice);
    for (const auto& event : entries.events)
      if (auto other = fhir_read::other_version(event.body, version_, event.type + "/" + event.id)) entries.issues.push_back(std::move(*other));
    fhir::Issues faults;
    for (const auto& event : entries.events)
      for (auto& fault : fhir_read::element_faults(event.body)) faults.push_back(std::move(fault));
    if (!faults.empty()) submission.aside.push_back(aside("parts of a Bundle cannot be read: " + faults.front().text));
    const auto untaken = std::ranges::count(entries.issues, fhir::Severity::error, &fhir::Issue::severity);
    entries.issues.insert(entries.issues.end(), faults.begin(), faults.end());
    if (faults.empty())
      for (const auto& event : entries.events)
        if (!event.body.is_null())
          for (auto& issue : fhir_read::reading_issues(event.body, rules_.site, rules_.terminology)) entries.issues.push_back(std::move(issue));
    const auto error = std::ranges::find(entries.issues, fhir::Severity::error, &fhir::Issue::severity);
    if (faults.empty() && untaken == 0 && error != entries.issues.end()) submission.aside.push_back(aside("parts of a Bundle cannot be used: " + error->at + ": " + error->text));
    const std::string_view kind = bundle["type"].text();
    Response response{200, {}, ""};
    if (kind == "batch" || kind == "transaction") {
      std::vector<fhir_write::EntryAnswer> answers;
      for (const auto& answer : entries.answers) answers.push_back({answer.accepted ? "200 OK" : "400 Bad Request", answer.location, outcome_of(answer.issues)});
      response = json_response(200, fhir_write::response_bundle(kind == "transaction", answers));
    } else if (!entries.issues.empty()) {
      response = json_response(200, fhir_write::operation_outcome("processing", entries.issues));
    }
    if (untaken > 0) submission.aside.push_back(aside("parts of a Bundle cannot be taken: " + entries.issues.front().text));
    submit(std::move(submission), std::move(response));
  }

  /// Outside a notification it says nothing of what it stands for.
  static bool tells_of_others(std::string_view type) { return type == "Parameters" || type == "SubscriptionStatus" || type == "OperationOutcome"; }

  /// Something has happened and the notification does not say to what: an empty payload, or counts that cannot be read.
  static bool names_nothing(const fhir_read::Entries& entries) {
    if (!entries.notice || entries.notice->type == "handshake" || entries.notice->type == "heartbeat" || entries.notice->type == "query-status") return false;
    return entries.events.empty();
  }

  /// A searchset that says that it is not all of what was searched for: the record is asked for the whole.
  static bool is_part(const fhir_read::Entries& entries) { return std::ranges::find(entries.issues, "partial", &fhir::Issue::code) != entries.issues.end(); }

  /// From a sender that is let in at its hook, and not to be made sense of: kept aside, and the record is asked what has changed. A refusal would drive the
  /// sender's Subscription into error.
  void keep_unread(const fhir::Issue& why) {
    Submission submission;
    submission.events.push_back(event("POST", "", ""));
    submission.aside.push_back(aside(fmt::format("{} {}: {} ({})", request_.method, request_.target, why.text, why.at)));
    submit(std::move(submission), json_response(200, fhir_write::operation_outcome("processing", fhir::Issues{why})));
  }

  static json::Value outcome_of(const fhir::Issues& issues) { return issues.empty() ? json::Value() : fhir_write::operation_outcome("processing", issues); }

  store::Quarantined aside(std::string reason) const { return {0, 0, 0, path_.source, std::move(reason), request_.body}; }

  /// Kept aside for inspection, then refused; at a hook it is taken, and the record is asked.
  void refuse(int status, std::string_view type, const std::string& text, const std::string& at) {
    if (path_.kind == IntakeKind::hook) return keep_unread({fhir::Severity::error, std::string(type), at, text});
    Submission submission;
    submission.aside.push_back(aside(fmt::format("{} {}: {} ({})", request_.method, request_.target, text, at)));
    submit(std::move(submission), outcome_response(status, type, text, at));
  }

  store::NewEvent event(const char* method, const std::string& type, const std::string& id) const { return journal_event(path_.source, method, type, id, "", "", request_id_); }

  void submit(Submission submission, Response response) {
    if (!own_.empty() && response.status < 400) submission.heard.push_back(heard_);
    submission.done = [reply = reply_, response = std::move(response)](bool durable, bool full) {
      if (durable) return reply(response);
      if (full) return reply(busy("no room to keep the event; nothing was taken"));
      reply(outcome_response(500, "exception", "the event could not be kept; nothing was taken"));
    };
    engine_.submit(std::move(submission));
  }

  Engine& engine_;
  const Rules& rules_;
  Request request_;
  Reply reply_;
  IntakePath path_;
  std::string request_id_;
  Hooks::Verdict hook_ = Hooks::Verdict::not_ours;
  fhir_read::FhirVersion version_ = fhir_read::FhirVersion::unknown;  ///< that the sender names for its body
  std::string own_;  ///< name of the Subscription of ours that calls; empty: another sender
  Heard heard_;      ///< what it says beside the resources
};

}  // namespace

Response outcome_response(int status, std::string_view type, std::string_view text, std::string_view at) {
  return json_response(status, fhir_write::operation_outcome(type, text, at));
}

std::function<void(const transport::Request&)> look_for_what_is_too_large(Engine& engine, const Rules& rules, Log& log) {
  return [&engine, &rules, &log](const Request& head) {
    IntakePath path = intake_path(head.method, head.target);
    log.warn(fmt::format("intake: {} {} from {}: the body was not taken, being larger than {} bytes (413) or in a transfer coding other than chunked (501){}", head.method, head.target, head.peer, rules.configuration.limits.body_bytes,
                         path.kind == IntakeKind::hook ? "; the record is asked what has changed" : ""));
    if (path.kind != IntakeKind::hook) return;
    if (rules.configuration.record && path.source == rules.configuration.record->source) path.source.clear();
    Submission submission;
    submission.events.push_back(journal_event(path.source, "POST", "", "", "", "", std::string(head.headers.get("X-Request-Id").value_or(""))));
    submission.done = [](bool, bool) {};
    engine.submit(std::move(submission));
  };
}

transport::Handler intake_handler(Engine& engine, const Rules& rules, std::string started) {
  return [&engine, &rules, started = std::move(started)](Request request, Reply reply) { Intake(engine, rules, std::move(request), std::move(reply)).take(started); };
}

}  // namespace app
