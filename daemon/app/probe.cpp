#include "app/probe.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <thread>

#include "app/answer_text.h"
#include "fhir/reference.h"
#include "fhir_read/intake.h"
#include "fhir_read/search_query.h"
#include "fhir_read/server_brief.h"
#include "fhir_write/verify.h"

namespace app {

using json::Value;
using transport::Header;

namespace {

constexpr std::size_t kSheetBytes = 256 * 1024;  // larger than our sheets are
constexpr int kEntries = 20;                     // more than one change of ours has, but for the first

std::string etag_of(const Value& body, const transport::Headers& headers) {
  if (const auto etag = headers.get("ETag")) return std::string(*etag);
  const auto version = body["meta"]["versionId"].text();
  return version.empty() ? "" : "W/\"" + std::string(version) + "\"";
}

/// A version that cannot be: hexadecimal digits become 0, and where there are none but zeros the last a one.
std::string other_version(std::string etag) {
  const std::string before = etag;
  for (char& c : etag)
    if ((c >= '0' && c <= '9') || (c >= 'a' && c <= 'f')) c = '0';
  if (const auto last = etag.rfind('0'); etag == before && last != std::string::npos) etag[last] = '1';
  return etag.empty() ? "W/\"0\"" : etag;
}

std::string named(const std::string& identifier) { return "identifier=" + std::string(fhir_write::probe_identifier_system) + "%7C" + identifier; }

std::size_t matches_in(const Value& bundle) {
  return static_cast<std::size_t>(std::ranges::count_if(bundle["entry"].items(), [](const Value& one) { return one["resource"]["resourceType"].text() != "OperationOutcome"; }));
}

bool refuses_version(int status) { return status == 409 || status == 412; }

}  // namespace

const std::string& ProbeReport::found(std::string_view what) const {
  static const std::string none;
  const auto one = std::ranges::find(findings, what, &ProbeFinding::what);
  return one == findings.end() ? none : one->found;
}

std::vector<std::string> losses_of(std::string_view rung) {
  if (rung == "transactions") return {};
  if (rung == "single-writes")
    return {"a change is not there at one instant: for moments a reader may see the plan as a draft", "a change that is cut off is finished, or taken up again, after a look at what stands"};
  if (rung == "documents")
    return {"the record's own lists of work show nothing of ours: Tasks and CarePlans are read and changed here, on /fhir", "readers of the record see the plan as a document alone",
            "a sheet and the Tasks do not change at one instant"};
  return {"nothing is written to this record: use the chart folder, or record.mode = shadow"};
}

std::vector<std::string> losses_of_part(std::string_view serve) {
  if (serve == "care-plans") return {"readers of the record see Tasks and sheet without the plan's timetable: CarePlans are read here, on /fhir", "nothing in the record fences a change: each Task is under its own version alone"};
  if (serve == "tasks") return {"the record's own lists of work show nothing of ours: Tasks are read and changed here, on /fhir", "the CarePlan in the record names them by identifier"};
  return {};
}

std::string clashes_are_here() { return "clashes of orders (DetectedIssue) are read here, on /fhir: the record takes none"; }

Probe::Probe(Ask ask, std::string base_url, const profile::Configuration::Documents& documents, std::string patient, std::string unique, std::string now)
    : ask_(std::move(ask)), base_url_(std::move(base_url)), documents_(documents), patient_(std::move(patient)), unique_(std::move(unique)), now_(std::move(now)) {
  subject_.author = documents_.author, subject_.author_name = documents_.author_name;
  subject_.document_type = documents_.type, subject_.document_category = documents_.category;
}

Probe::Answer Probe::ask(const char* method, const std::string& path, const Value* body, std::vector<Header> headers) {
  transport::OutgoingRequest request;
  request.method = method;
  request.url = base_url_ + (path.empty() ? "" : "/" + path);
  request.headers.add("Accept", "application/fhir+json");
  if (body) {
    request.headers.add("Content-Type", "application/fhir+json");
    request.headers.add("Prefer", "return=representation");
    request.body = json::write(*body);
  } else {
    request.headers.add("Cache-Control", "no-cache");
  }
  for (auto& header : headers) request.headers.add(std::move(header.name), std::move(header.value));
  const auto outcome = ask_(std::move(request));
  Answer answer;
  if (const auto* failure = std::get_if<transport::Failure>(&outcome)) {
    answer.why = failure->text;
    return answer;
  }
  const auto& response = std::get<transport::Response>(outcome);
  answer.status = response.status;
  answer.headers = response.headers;
  if (auto read = json::parse(response.body); read.has_value()) answer.body = std::move(*read);
  answer.why = for_log(said_by_record(response));
  return answer;
}

std::optional<Probe::Stands> Probe::create(Value resource, Answer& answer, std::vector<Header> headers) {
  const std::string type(resource["resourceType"].text());
  answer = ask("POST", type, &resource, std::move(headers));
  if (!answer.ok()) return std::nullopt;
  Stands one{type, "", etag_of(answer.body, answer.headers), std::string(resource["identifier"].at(0)["value"].text()), resource};
  if (answer.body["resourceType"].text() == type) one.id = answer.body["id"].text();
  if (const auto location = answer.headers.get("Location"); one.id.empty() && location) one.id = fhir::parse_reference(*location).id;
  if (one.id.empty()) {
    report_.left.push_back(fmt::format("{} with the identifier {}: the record did not say where it put it", type, one.identifier));
    return std::nullopt;
  }
  const bool known = std::ranges::any_of(made_, [&](const Stands& other) { return other.path() == one.path(); });
  if (!known) made_.push_back(one);
  return one;
}

void Probe::note(const char* what, const std::string& found, std::string detail) { report_.findings.push_back({what, found, std::move(detail)}); }

void Probe::note_taken(const char* what, const Answer& answer) { note(what, answer.ok() ? "yes" : answer.status == 0 ? "unknown" : "no", answer.ok() ? "" : answer.why); }

bool Probe::find_patient() {
  const bool reference = patient_.starts_with("Patient/");
  const Answer answer = ask("GET", reference ? patient_ : "Patient?identifier=" + fhir_read::percent_encoded(patient_));
  const Value& patient = reference ? answer.body : answer.body["entry"].at(0)["resource"];
  if (!answer.ok() || patient["resourceType"].text() != "Patient" || (!reference && matches_in(answer.body) != 1)) {
    report_.refused = fmt::format("the test patient {} is not found: {}", patient_, answer.ok() ? "the search does not find exactly one" : answer.why);
    return false;
  }
  if (!fhir_read::patient_state(patient).test_data) {
    report_.refused = fmt::format("{} does not carry the label HTEST in meta.security: nothing is tried on a person's record", patient_);
    return false;
  }
  subject_.patient = "Patient/" + std::string(patient["id"].text());
  const Answer stays = ask("GET", "Encounter?patient=" + std::string(patient["id"].text()));
  for (const Value& one : stays.body["entry"].items())
    if (one["resource"]["resourceType"].text() == "Encounter" && subject_.encounter.empty()) subject_.encounter = "Encounter/" + std::string(one["resource"]["id"].text());
  return true;
}

void Probe::try_creation() {
  Answer answer;
  plan_ = create(fhir_write::probe_care_plan(subject_, identifier()), answer);
  note_taken("create-care-plan", answer);
  task_ = create(fhir_write::probe_task(subject_, identifier(), plan_ ? plan_->path() : "CarePlan/none"), answer);
  note_taken("create-task", answer);
  if (!task_) return;
  const auto begun = std::chrono::steady_clock::now();
  const auto waited = [&] { return std::chrono::duration_cast<std::chrono::milliseconds>(std::chrono::steady_clock::now() - begun).count(); };
  for (int round = 0;; ++round) {
    const Answer found = ask("GET", "Task?" + named(task_->identifier));
    if (!found.ok()) return note("search-by-identifier", "no", found.why);
    if (matches_in(found.body) > 0) {
      note("search-by-identifier", "yes");
      return note("search-fresh", round == 0 ? "yes" : "no", round == 0 ? "" : fmt::format("a new Task is found after {} ms", waited()));
    }
    if (waited() > 10'000) return note("search-fresh", "no", "a new Task is not found within 10 s: searches are not believed in a hurry");
    std::this_thread::sleep_for(std::chrono::milliseconds{500});
  }
}

void Probe::try_conditions() {
  if (!plan_) return;
  Answer answer;
  const auto again = create(plan_->resource, answer, {{"If-None-Exist", named(plan_->identifier)}});
  if (!answer.ok()) note("if-none-exist", "no", answer.why);
  else note("if-none-exist", again && again->id == plan_->id ? "yes" : "overlooked", again && again->id == plan_->id ? "" : "a second resource was made");
  Value body = fhir_write::probe_with(plan_->resource, plan_->id, "");
  answer = ask("PUT", plan_->path(), &body, {{"If-Match", other_version(plan_->etag)}});
  note("if-match", refuses_version(answer.status) ? "yes" : answer.ok() ? "overlooked" : "no", answer.ok() ? "somebody could be written over" : refuses_version(answer.status) ? "" : answer.why);
  if (const Answer now = ask("GET", plan_->path()); now.ok()) plan_->etag = etag_of(now.body, now.headers);
  answer = ask("PUT", plan_->path(), &body, {{"If-Match", plan_->etag}});
  note_taken("update", answer);
  answer = ask("PUT", "CarePlan?" + named(plan_->identifier), &plan_->resource);
  note_taken("conditional-update", answer);
  const std::string id = unique_ + "-own";
  Value own = fhir_write::probe_with(fhir_write::probe_care_plan(subject_, identifier()), id, "");
  answer = ask("PUT", "CarePlan/" + id, &own);
  note_taken("client-ids", answer);
  if (answer.ok()) made_.push_back({"CarePlan", id, "", "", own});
  if (const Answer now = ask("GET", plan_->path()); now.ok()) plan_->etag = etag_of(now.body, now.headers);
  answer = ask("GET", plan_->path() + "/_history");
  note("history", answer.ok() && matches_in(answer.body) > 1 ? "yes" : "no", answer.ok() ? "" : answer.why);
}

/// What a transaction made is taken back with the rest.
void Probe::remember(const Value& response, const Value& request) {
  const auto placed = fhir_write::placed(request, response);
  if (placed.has_error()) return;
  for (std::size_t at = 0; at < placed->size(); ++at) {
    const auto& one = (*placed)[at];
    const bool known = std::ranges::any_of(made_, [&](const Stands& other) { return other.type == one.type && other.id == one.id; });
    if (!known) made_.push_back({one.type, one.id, one.etag, "", request["entry"].at(at)["resource"]});
  }
}

void Probe::try_transactions() {
  if (!plan_ || !task_) return;
  const auto bundle_of = [&](const std::string& if_match, const std::string& task) {
    std::vector<fhir_write::ProbeEntry> entries;
    entries.push_back({"PUT", plan_->path(), "", if_match, fhir_write::probe_with(plan_->resource, plan_->id, "")});
    entries.push_back({"POST", "Task", "urn:uuid:7b1f7c52-6f0e-4d8c-9d54-2f5c1d6f0a11", "", fhir_write::probe_task(subject_, task, plan_->path())});
    return fhir_write::probe_transaction(entries);
  };
  const std::string kept = identifier();
  const Value good = bundle_of(plan_->etag, kept);
  Answer answer = ask("POST", "", &good);
  const auto placed = answer.ok() ? fhir_write::placed(good, answer.body) : boost::system::result<std::vector<fhir_write::Placed>, std::string>(boost::system::in_place_error, "");
  note("transaction", placed.has_value() ? "yes" : answer.status == 0 ? "unknown" : "no", placed.has_value() ? "" : answer.ok() ? placed.error() : answer.why);
  if (answer.ok()) remember(answer.body, good);
  if (placed.has_error()) return;
  const std::string lost = identifier();
  const Value stale = bundle_of(other_version((*placed)[0].etag), lost);
  answer = ask("POST", "", &stale);
  if (answer.ok()) remember(answer.body, stale);
  if (!refuses_version(answer.status)) return note("if-match-in-transaction", answer.ok() ? "overlooked" : "no", answer.ok() ? "somebody could be written over" : answer.why);
  const Answer found = ask("GET", "Task?" + named(lost));
  const bool half = found.ok() && matches_in(found.body) > 0;
  if (half) made_.push_back({"Task", std::string(found.body["entry"].at(0)["resource"]["id"].text()), "", "", found.body["entry"].at(0)["resource"]});
  note("if-match-in-transaction", half ? "overlooked" : "yes", half ? "a transaction that was refused is there in part" : "");
}

void Probe::try_limits() {
  if (report_.found("transaction") != "yes") return;
  std::vector<fhir_write::ProbeEntry> entries;
  for (int i = 0; i < kEntries; ++i)
    entries.push_back({"POST", "Task", fmt::format("urn:uuid:7b1f7c52-6f0e-4d8c-9d54-2f5c1d6f1{:03}", i), "", fhir_write::probe_task(subject_, identifier(), plan_->path())});
  const Value bundle = fhir_write::probe_transaction(entries);
  const Answer answer = ask("POST", "", &bundle);
  if (answer.ok()) remember(answer.body, bundle);
  note("twenty-entries", answer.ok() ? "yes" : answer.status == 0 ? "unknown" : "no", answer.ok() ? "" : answer.why);
}

void Probe::try_documents() {
  Answer answer;
  const auto binary = create(fhir_write::probe_binary(subject_, fhir_write::probe_pdf()), answer);
  note_taken("create-binary", answer);
  std::optional<Stands> document;
  if (binary) {
    document = create(fhir_write::probe_document(subject_, identifier(), binary->path(), "application/pdf", ""), answer);
    note_taken("document-with-binary", answer);
  }
  const auto inlined = create(fhir_write::probe_document(subject_, identifier(), "", "application/pdf", fhir_write::probe_pdf()), answer);
  note_taken("document-inline", answer);
  const auto page = create(fhir_write::probe_document(subject_, identifier(), "", "application/xhtml+xml", fhir_write::probe_page()), answer);
  note_taken("document-page", answer);
  if (!document) document = inlined ? inlined : page;
  if (binary) {
    create(fhir_write::probe_binary(subject_, fhir_write::probe_pdf(kSheetBytes)), answer);
    note("large-binary", answer.ok() ? "yes" : "no", answer.ok() ? "" : fmt::format("{} KiB: {}", kSheetBytes / 1024, answer.why));
  }
  if (!document) return;
  Value replaced = fhir_write::probe_with(document->resource, document->id, "superseded");
  answer = ask("PUT", document->path(), &replaced, {{"If-Match", document->etag}});
  note("document-if-match", answer.ok() ? "yes" : "no", answer.ok() ? "" : answer.why);
  if (!answer.ok()) {
    answer = ask("PUT", document->path(), &replaced);
    note_taken("document-update", answer);
  } else {
    note("document-update", "yes");
  }
  create(fhir_write::probe_document(subject_, identifier(), "", document->resource["content"].at(0)["attachment"]["contentType"].text() == "application/pdf" ? "application/pdf" : "application/xhtml+xml",
                                    fhir_write::probe_page()),
         answer, {{"If-None-Exist", named("none-" + unique_)}});
  note("document-if-none-exist", answer.ok() ? "yes" : "no", answer.ok() ? "" : answer.why);
  answer = ask("GET", "DocumentReference?" + named(document->identifier));
  note("document-by-identifier", answer.ok() && matches_in(answer.body) > 0 ? "yes" : "no", answer.ok() ? "" : answer.why);
  if (report_.found("transaction") != "yes") return;
  std::vector<fhir_write::ProbeEntry> entries;
  constexpr const char* kUrn = "urn:uuid:7b1f7c52-6f0e-4d8c-9d54-2f5c1d6f0a12";
  entries.push_back({"POST", "Binary", kUrn, "", fhir_write::probe_binary(subject_, fhir_write::probe_pdf())});
  entries.push_back({"POST", "DocumentReference", "urn:uuid:7b1f7c52-6f0e-4d8c-9d54-2f5c1d6f0a13", "", fhir_write::probe_document(subject_, identifier(), kUrn, "application/pdf", "")});
  const Value bundle = fhir_write::probe_transaction(entries);
  answer = ask("POST", "", &bundle);
  if (!answer.ok()) return note("urn-in-attachment", "no", answer.why);
  remember(answer.body, bundle);
  const auto placed = fhir_write::placed(bundle, answer.body);
  const Answer stands = placed.has_value() ? ask("GET", "DocumentReference/" + (*placed)[1].id) : Answer{};
  const std::string url(stands.body["content"].at(0)["attachment"]["url"].text());
  const bool resolved = url.find("Binary/") != std::string::npos;
  note("urn-in-attachment", resolved ? "yes" : "overlooked", resolved ? "" : "the address is not that of the Binary");
}

void Probe::try_other_types() {
  Answer answer;
  create(fhir_write::probe_communication(subject_, identifier()), answer);
  note_taken("create-communication", answer);
  create(fhir_write::probe_provenance(subject_, task_ ? task_->path() : subject_.patient, now_), answer);
  note_taken("create-provenance", answer);
  create(fhir_write::probe_guidance(subject_, identifier()), answer);
  note_taken("create-guidance-response", answer);
  create(fhir_write::probe_issue(subject_, identifier()), answer);
  note_taken("create-detected-issue", answer);
}

void Probe::try_reading() {
  std::string not_read;
  const std::string id = subject_.patient.substr(subject_.patient.find('/') + 1);
  for (const char* type : {"Encounter", "Procedure", "Observation", "MedicationAdministration", "MedicationStatement", "Task", "CarePlan", "DocumentReference"}) {
    const Answer answer = ask("GET", fmt::format("{}?patient={}&_count=1", type, id));
    if (!answer.ok()) not_read += fmt::format("{}{} ({})", not_read.empty() ? "" : ", ", type, answer.status);
  }
  note("search-by-patient", not_read.empty() ? "yes" : "no", not_read);
  const Answer changed = ask("GET", "Procedure?_lastUpdated=ge" + now_ + "&_count=1", nullptr, {{"Prefer", "handling=strict"}});
  note("search-by-last-updated", changed.ok() ? "yes" : "no", changed.ok() ? "" : changed.why);
}

/// Deleted; where that is refused, marked as entered in error; where that is refused as well, said.
void Probe::clean_up() {
  for (auto one = made_.rbegin(); one != made_.rend(); ++one) {
    const Answer gone = ask("DELETE", one->path());
    if (gone.ok() || gone.status == 404 || gone.status == 410) continue;
    const Answer now = ask("GET", one->path());
    const bool has_status = one->resource.has("status");
    Value marked = fhir_write::probe_with(now.ok() ? now.body : one->resource, one->id, has_status ? "entered-in-error" : "");
    std::vector<Header> version;
    if (const std::string etag = etag_of(now.body, now.headers); !etag.empty()) version.push_back({"If-Match", etag});
    Answer taken = has_status ? ask("PUT", one->path(), &marked, version) : Answer{};
    if (has_status && !taken.ok()) taken = ask("PUT", one->path(), &marked);
    if (has_status && taken.ok()) report_.left.push_back(one->path() + ": not deleted, marked as entered in error");
    else report_.left.push_back(fmt::format("{}: it still stands as it was written: {}", one->path(), gone.why));
  }
}

void Probe::recommend() {
  const auto yes = [&](const char* what) { return report_.found(what) == "yes"; };
  const bool work = yes("create-care-plan") && yes("create-task");
  const bool documents = yes("document-with-binary") || yes("document-inline") || yes("document-page");
  if (work && yes("transaction") && yes("if-match-in-transaction") && yes("urn-in-attachment")) report_.rung = "transactions";
  else if (work && yes("if-match") && yes("update")) report_.rung = "single-writes";
  else if (yes("create-care-plan") != yes("create-task") && yes("document-if-match")) report_.rung = "single-writes", report_.serve = yes("create-task") ? "care-plans" : "tasks";
  else report_.rung = documents ? "documents" : "none";
  auto& set = report_.settings;
  if (report_.rung == "none") return;
  set.emplace_back("record.writing", report_.rung);
  if (!report_.serve.empty()) set.emplace_back("record.serve", report_.serve);
  if (documents) set.emplace_back("documents.attachment", yes("document-with-binary") ? "binary" : yes("document-inline") ? "inline" : "xhtml");
  if (report_.rung != "documents") return;
  const bool conditions = yes("document-if-match") && yes("document-if-none-exist");
  set.emplace_back("documents.found_by", yes("document-by-identifier") ? "identifier" : "patient");
  set.emplace_back("documents.conditions", conditions ? "yes" : "no");
  set.emplace_back("documents.updates", yes("document-update") ? "yes" : "no");
  set.emplace_back("documents.communication", yes("create-communication") ? "yes" : "no");
}

ProbeReport Probe::run() {
  const Answer metadata = ask("GET", "metadata");
  const auto brief = fhir_read::server_brief(metadata.body);
  if (!metadata.ok() || !brief) {
    report_.reached = false;
    report_.refused = fmt::format("{}/metadata is no CapabilityStatement: {}", base_url_, metadata.ok() ? "another resource, or none" : metadata.why);
    return std::move(report_);
  }
  report_.software = brief->software, report_.fhir_version = brief->fhir_version;
  if (!find_patient()) return std::move(report_);
  try_creation();
  try_conditions();
  try_transactions();
  try_limits();
  try_documents();
  try_other_types();
  try_reading();
  clean_up();
  recommend();
  return std::move(report_);
}

}  // namespace app
