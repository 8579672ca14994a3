// `plan`: the whole computation offline, by the same readers, core, writer and sheet as the daemon.
#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <map>
#include <set>
#include <sstream>

#include "app/commands.h"
#include "app/load_rules.h"
#include "app/make_sheet.h"
#include "app/take_event.h"
#include "clinical/change.h"
#include "clinical/compute_plan.h"
#include "fhir/date_time.h"
#include "fhir/digest.h"
#include "fhir/reference.h"
#include "fhir_read/intake.h"
#include "fhir_read/read_record.h"
#include "fhir_read/resource_set.h"
#include "fhir_write/identity.h"
#include "fhir_write/transaction.h"
#include "json/tree.h"
#include "report/table.h"
#include "report/timeline.h"

namespace app {
namespace {

namespace fs = std::filesystem;
using clinical::CasePlan;

struct Held {
  fhir_read::Resource resource;
  fhir_read::Subject subject;
};

/// Every resource of the files, by key. Of several versions of one the newest counts, in whatever order they come, and where nothing tells, the last;
/// a deletion removes it, what was entered in error comes back only by a version that is provably newer: as the daemon takes them.
class Collected {
  static constexpr std::uintmax_t kAll = std::uintmax_t{1} << 30;  ///< bytes of all files
  static constexpr std::size_t kWhole = std::size_t{64} << 20;     ///< bytes of a text that is read at once, as at the intake
  static constexpr std::size_t kLine = std::size_t{32} << 20;      ///< bytes of a line of NDJSON

 public:
  void take_file(const std::string& file) {
    std::ifstream in(file, std::ios::binary);
    if (!in) return fault("cannot-read", file, "the file cannot be read");
    std::error_code unknown;
    const auto stated = fs::file_size(file, unknown);
    const std::uintmax_t size = unknown ? kWhole : stated;  // a pipe has none
    if ((bytes_ += size) > kAll) return fault("too-large", file, fmt::format("with this file more than {} MiB are named: name fewer", kAll >> 20));
    if (size > kWhole) return take_lines(file, in);
    std::string text(size, '\0');
    in.read(text.data(), static_cast<std::streamsize>(size));
    text.resize(static_cast<std::size_t>(in.gcount()));
    take_text(file, text);
  }

  std::map<std::string, Held> held;
  fhir::Issues issues;
  bool unusable = false;

 private:
  std::uintmax_t bytes_ = 0;

  void fault(std::string code, const std::string& at, std::string text) {
    issues.push_back({fhir::Severity::error, std::move(code), at, std::move(text)});
    unusable = true;
  }

  void take_text(const std::string& file, const std::string& text) {
    auto whole = json::parse(text, {.bytes = kWhole});
    if (whole.has_value()) return take(file, std::move(*whole));
    std::istringstream lines(text);  // NDJSON: one resource a line
    std::string line;
    for (int number = 1; std::getline(lines, line); ++number) {
      if (line.find_first_not_of(" \t\r") == std::string::npos) continue;
      auto one = json::parse(line);
      if (one.has_error())
        return fault("not-json", number == 1 ? fmt::format("{}:{}:{}", file, whole.error().line, whole.error().column) : fmt::format("{}:{}", file, number),
                     number == 1 ? whole.error().text : one.error().text);
      take(fmt::format("{}:{}", file, number), std::move(*one));
    }
  }

  /// A file that is too large for one text: NDJSON, line by line.
  void take_lines(const std::string& file, std::istream& in) {
    std::vector<char> line(kLine + 1);
    for (int number = 1; !unusable && in.peek() != std::istream::traits_type::eof(); ++number) {
      in.getline(line.data(), static_cast<std::streamsize>(line.size()));
      const std::string_view text(line.data(), static_cast<std::size_t>(std::max<std::streamsize>(0, in.gcount() - (in.eof() ? 0 : 1))));
      const bool cut = in.fail() && !in.eof();
      if (cut && number == 1) return fault("too-large", file, fmt::format("larger than {} MiB and no NDJSON: split the Bundle, or name its resources as NDJSON, one a line", kWhole >> 20));
      if (cut) return fault("too-large", fmt::format("{}:{}", file, number), fmt::format("a line of more than {} MiB", kLine >> 20));
      if (text.find_first_not_of(" \t\r") == std::string_view::npos) continue;
      auto one = json::parse(text);
      if (one.has_error()) return fault("not-json", fmt::format("{}:{}", file, number), one.error().text);
      take(fmt::format("{}:{}", file, number), std::move(*one));
    }
  }

  void take(const std::string& at, json::Value resource) {
    const std::string type(resource["resourceType"].text());
    if (type.empty()) return fault("no-resource", at, "a JSON object with resourceType is needed");
    const std::string id(resource["id"].text());
    if (type != "Bundle") return put(type, id, std::move(resource));
    auto entries = fhir_read::entries_of(resource);
    if (entries.refused) return fault("bundle", at, entries.refused->text);
    issues.insert(issues.end(), entries.issues.begin(), entries.issues.end());
    for (auto& entry : entries.events) {
      if (entry.method == "DELETE") remove(entry.type + "/" + entry.id, entry.version);
      else if (!entry.body.is_null()) put(entry.type, entry.id, std::move(entry.body));
    }
  }

  void put(const std::string& type, std::string id, json::Value body) {
    if (id.empty()) id = "h-" + fhir::sha256_hex(json::write(body)).substr(0, 40);
    fhir_read::Subject subject = fhir_read::subject_of(body);
    const std::string version = subject.version, key = type + "/" + id;
    if (const auto gone = gone_.find(key); gone != gone_.end() && compare_versions(said(subject), said(gone->second)).value_or(1) <= 0)
      return left_out(key, version, "it was deleted meanwhile");
    if (const auto old = held.find(key); old != held.end()) {
      const auto order = compare_versions(said(subject), said(old->second.subject));
      if (order && *order < 0) return left_out(key, version, "another file holds a newer version of it");
      if (order.value_or(0) <= 0 && withdrawn(json::write(old->second.resource.body)) && !withdrawn(json::write(body)))
        return left_out(key, version, "it was entered in error, and this is not provably newer");
    }
    gone_.erase(key);
    held.insert_or_assign(key, Held{{"", "", type, id, version, std::move(body)}, std::move(subject)});
  }

  void remove(const std::string& key, const std::string& version) {
    fhir_read::Subject& last = gone_[key];
    if (const auto old = held.find(key); old != held.end()) last = std::move(old->second.subject);
    if (!version.empty()) last.version = version;
    held.erase(key);
  }

  static VersionSaid said(const fhir_read::Subject& subject) { return {subject.version, subject.last_updated}; }
  void left_out(const std::string& key, const std::string& version, const char* why) {
    issues.push_back({fhir::Severity::information, "older-version", key, fmt::format("version {} is left out: {}", version.empty() ? "without a number" : version, why)});
  }

  std::map<std::string, fhir_read::Subject> gone_;  // what was deleted, with the last that was said of its version
};

struct Computed {
  std::vector<CasePlan> plans;
  fhir::Issues issues;
  bool place_unknown = false;  ///< a catheter procedure does not say where it went in: nobody knows whether there is a case
};

bool stands_in(const std::vector<CasePlan>& plans, const std::string& procedure) {
  return std::ranges::any_of(plans, [&](const CasePlan& plan) {
    return plan.procedure.reference == procedure || std::ranges::any_of(plan.sites, [&](const auto& site) { return site.key.substr(0, site.key.find('#')) == procedure; });
  });
}

/// Why a Procedure opens no case; empty: it belongs to one that is there.
std::string why_no_case(const clinical::Procedure& p, const std::vector<CasePlan>& plans) {
  using clinical::ProcedureStatus;
  if (stands_in(plans, p.source.reference) || stands_in(plans, p.part_of)) return {};
  if (p.status == ProcedureStatus::not_done) return "it is recorded as not done";
  if (p.status == ProcedureStatus::preparation) return "it has not begun";
  if (p.femoral_denied) return "it is recorded as not through the groin";
  if (!p.femoral && !p.femoral_stated)
    return p.catheter ? "it does not say where the catheter went in: bodySite (femoral artery or vein) or the extension femoral-access is needed"
                      : "nothing says that it went through the groin, and its code is on no list of catheter procedures";
  if (!p.catheter && !p.femoral_stated) return "its code is on no list of catheter procedures; the extension femoral-access would make it one";
  return "it lies outside the time that is planned for, or is taken for a part of another";
}

void tell_left_out(const clinical::Record& record, const std::vector<CasePlan>& plans, Computed& out) {
  for (const auto& p : record.procedures) {
    const std::string why = why_no_case(p, plans);
    if (why.empty()) continue;
    out.place_unknown |= p.catheter && !p.femoral && !p.femoral_denied && p.status != clinical::ProcedureStatus::not_done && p.status != clinical::ProcedureStatus::preparation;
    out.issues.push_back({fhir::Severity::warning, "procedure-without-case", p.source.reference, "no plan is made for this Procedure: " + why});
  }
}

/// The address of the server of a resource whose patient is named by full address, where the files hold that patient: they do not say which server they are from.
/// Empty: it names none so.
std::string server_of_patient(const json::Value& body, const std::map<std::string, Held>& held) {
  const auto subject = fhir::read_reference(fhir_read::subject_element(body));
  const bool whole = subject.kind == fhir::ReferenceKind::absolute && subject.type == "Patient";
  return whole && held.contains("Patient/" + subject.id) ? subject.base : std::string();
}

/// Full addresses of one server are those of the files; of several nobody knows which.
void find_patients_by_address(Collected& collected) {
  std::set<std::string> servers;
  for (const auto& [key, held] : collected.held)
    if (auto server = server_of_patient(held.resource.body, collected.held); !server.empty()) servers.insert(std::move(server));
  for (auto& [key, held] : collected.held) {
    const auto server = server_of_patient(held.resource.body, collected.held);
    if (server.empty()) continue;
    if (servers.size() > 1) {
      collected.issues.push_back({fhir::Severity::error, "other-server", key, "names its patient by the full address of a server (" + server + "), and others name another one; it is not used"});
      continue;
    }
    held.resource.base_url = server;
    held.subject = fhir_read::subject_of(held.resource.body, server);
  }
}

Computed compute(Collected& collected, const Rules& rules, clinical::Instant as_of) {
  find_patients_by_address(collected);
  std::map<std::string, std::vector<const Held*>> patients;
  for (const auto& [key, held] : collected.held)
    if (!held.subject.patient.empty()) patients[held.subject.patient].push_back(&held);
  Computed out{{}, collected.issues, false};
  for (const auto& [patient, resources] : patients) {
    fhir_read::ResourceSet set(patient);
    for (const Held* held : resources) set.add(held->resource);
    for (const std::string& target : fhir_read::wanted_targets(set))
      if (const auto found = collected.held.find(target); found != collected.held.end()) set.add(found->second.resource);
    auto read = fhir_read::read_record(set, rules.site, rules.terminology);
    auto plans = clinical::compute_plans(read.record, rules.protocol, as_of);
    tell_left_out(read.record, plans, out);
    out.plans.insert(out.plans.end(), std::make_move_iterator(plans.begin()), std::make_move_iterator(plans.end()));
    out.issues.insert(out.issues.end(), read.issues.begin(), read.issues.end());
  }
  return out;
}

bool put_file(const fs::path& path, const std::string& content) {
  std::ofstream out(path, std::ios::binary);
  out << content;
  out.flush();
  if (!out) fmt::print(stderr, "cannot write {}\n", path.string());
  return static_cast<bool>(out);
}

class Output {
 public:
  Output(const Rules& rules, clinical::Instant as_of, fs::path folder)
      : rules_(rules), as_of_(as_of), folder_(std::move(folder)), zone_(words::zone_named(rules.configuration.site.time_zone)) {}

  bool write(const Computed& computed) {
    const words::Voice wording{rules_.words, words::context_at(as_of_, zone_)};
    const auto document = report::timeline(computed.plans, rules_.protocol, as_of_, wording, computed.issues);
    bool good = put_file(folder_ / "timeline.json", json::write_pretty(document) + "\n");
    json::Value bundle = json::Value::object({{"resourceType", "Bundle"}, {"type", "transaction"}});
    json::Value entries = json::Value::array();
    for (std::size_t i = 0; i < computed.plans.size(); ++i) good = write_case(computed.plans, i, entries) && good;
    bundle.set_present("entry", std::move(entries));
    return put_file(folder_ / "transaction.json", json::write_pretty(bundle) + "\n") && good;
  }

 private:
  bool write_case(const std::vector<CasePlan>& plans, std::size_t index, json::Value& entries) {
    const CasePlan& plan = plans[index];
    const words::Voice wording{rules_.words, words::context_at(plan.started.value_or(as_of_), zone_)};
    const std::string hash = report::plan_hash(report::written_view(plan, rules_.protocol, wording));
    SheetWish wish{rules_, plan, hash, 1};
    wish.now = as_of_.time_since_epoch().count() * 1000;
    wish.test_data = plan.patient.test_data;
    const auto drawn = make_sheet(wish);
    if (!drawn.warning.empty()) fmt::print(stderr, "{}: sheet: {}\n", plan.procedure.reference, drawn.warning);
    const fhir_write::Sheet sheet{drawn.pdf};

    const auto intent = clinical::intent_for(rules_.protocol);
    const auto wanted = clinical::wanted(plan, rules_.protocol, {intent, clinical::patient_steps_elsewhere(plans, index)});
    const auto difference = clinical::difference(wanted, {}, as_of_);
    const auto after = clinical::applied(difference, {});
    fhir_write::WriterContext context{rules_.protocol, rules_.words, wording.context, rules_.words.language(), AFTERSHEATH_VERSION, "offline", "offline",
                                      fhir_write::case_identity_of(plan), hash, fhir_write::Form::file};
    context.test_data = plan.patient.test_data;
    context.now = as_of_;
    const auto transaction = fhir_write::transaction(context, {plan, difference, after, &sheet});
    for (const auto& entry : transaction.bundle["entry"].items()) entries.push(entry);
    return put_file(folder_ / fmt::format("sheet-{}.pdf", index + 1), drawn.pdf);
  }

  const Rules& rules_;
  clinical::Instant as_of_;
  fs::path folder_;
  const date::time_zone* zone_;
};

}  // namespace

int plan(const PlanOptions& options) {
  const auto as_of = fhir::read_time(options.as_of);
  if (as_of.has_error() || !as_of->exact()) {
    fmt::print(stderr, "--as-of: an instant with a zone is needed, for example 2026-03-02T14:00:00Z, not {}\n", options.as_of);
    return 2;
  }
  const auto loaded = load_offline_rules({options.protocol, options.site, options.language, options.paper}, data_folder(options.data));
  print_faults(loaded.faults);
  if (!loaded.rules) return 2;
  Collected collected;
  for (const std::string& file : options.files) collected.take_file(file);
  if (collected.unusable) {
    for (const auto& issue : collected.issues) fmt::print(stderr, "{}: {}\n", issue.at, issue.text);
    return 2;
  }
  std::error_code failed;
  fs::create_directories(options.out, failed);
  const Computed computed = compute(collected, *loaded.rules, as_of->earliest);
  if (failed || !Output(*loaded.rules, as_of->earliest, options.out).write(computed)) return 1;
  const auto* zone = words::zone_named(loaded.rules->configuration.site.time_zone);
  fmt::print("{}", report::table(computed.plans, loaded.rules->protocol, as_of->earliest, {loaded.rules->words, words::context_at(as_of->earliest, zone)}));
  for (const auto& issue : computed.issues)
    if (issue.severity == fhir::Severity::error || issue.code == "procedure-without-case" || issue.code == "older-version") fmt::print(stderr, "{}: {} ({})\n", issue.at, issue.text, issue.code);
  for (const CasePlan& one : computed.plans)
    if (!one.missing.empty()) return 3;
  return computed.place_unknown ? 3 : 0;
}

}  // namespace app
